"""The parts of a kit: facts as they were measured, nothing derived."""

from __future__ import annotations

import math
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from focuschart.kit.fields import (
    Ask,
    Id,
    Key,
    Length,
    Name,
    Pixels,
    Stop,
    Table,
    Thread,
    ThreadText,
    magnification,
    mass,
    moment,
    number,
    offset,
    time,
)
from focuschart.kit.ring import Ring

PRINTED = "As printed on strips and card"

_SENSOR_HELP = (
    "Of the sensor mode in use, from the camera's data sheet: 36 mm x 24 mm is full frame, "
    "24.9 mm x 18.7 mm Super 35, 17.3 mm x 13 mm Four Thirds."
)
_WIDTH = Key("Of the sensor mode in use", '"36 mm"')
_HEIGHT = Key("Of the sensor mode in use", '"24 mm"')
_FOCUSING_HELP = (
    "extends: the whole lens moves forward for near subjects. internal: glass moves inside "
    "and the front stays where it is. cam: a cam moves the glass by a rule of its own, or you "
    "do not know; read it at six distances or more."
)
_FOCUSING_NOTE = (
    'or "internal": glass moves inside, the front stands still\n'
    'or "cam": neither, or not known; needs six distances read'
)
ASK_NAME = Ask("name", "As it shall be printed on strips and card.")
NEAREST = "Nearest subject, from the sensor mark"

_LENGTH_HELP = (
    "With the ring at infinity, from the mount's bearing face to the rim the step ring screws "
    'into. Answer "skip" to measure each rig as a whole instead, later in these questions.'
)
NO_LENGTH = "Not needed if every rig with it has front_vertex."
_MOUNT = Key("Any name, written alike for camera and lens", '"bayonet"')
FRONT_APERTURE = "Diameter of front glass that light passes"
_APERTURE = "Diameter that light passes"
_BEHIND = "Male, into what is behind it"
READY = "Of the part, ready for use"

Side = Length(2.0, 120.0)
Columns = Annotated[
    list[int] | None, Pixels(), Key("Columns and rows of the same mode", "[6000, 4000]")
]
Readout = Annotated[
    float | None, time(0.0, 200.0), Key("From the first row read to the last", '"18 ms"')
]
CircleText = Length(0.001, 0.2)
Circle = Annotated[
    float | None,
    CircleText,
    Key(
        "Of this mode; wins over the kit's",
        '"0.028 mm"',
        more="A named mode without one takes its diagonal divided by 1500, never the kit's.",
    ),
]
Nearest = Annotated[
    float,
    Length(100.0, 20000.0),
    Ask(
        "nearest subject",
        "The shortest subject distance its ring can be set to, measured from the sensor mark on "
        "the camera body, not from the front glass.",
    ),
]
Mass = Annotated[float | None, mass(0.0, 50_000.0)]
ClearAperture = Annotated[float | None, Length(5.0, 250.0)]
OptionalThread = Annotated[Thread | None, ThreadText()]
OptionalThickness = Annotated[
    float | None, Length(0.0, 100.0), Key("Rim to rim, screwed home", '"5 mm"')
]
FilterThread = Annotated[OptionalThread, Key("Male behind, female before", '"77 mm x 0.75"')]


class Mode(Table):
    """One sensor mode of a camera; nothing in it is taken over from another or from the body."""

    sensor_width: Annotated[float, Side, _WIDTH, Ask("sensor width", _SENSOR_HELP, offered=True)]
    sensor_height: Annotated[
        float, Side, _HEIGHT, Ask("sensor height", "As for the width: of the mode in use.")
    ]
    pixels: Columns = None
    readout_time: Readout = None
    circle_of_confusion: Circle = None

    @property
    def diagonal_mm(self) -> float:
        """Diagonal of the area that the mode records."""
        return math.hypot(self.sensor_width, self.sensor_height)


class Camera(Table):
    """A camera, with one sensor mode in its own keys, several by name in `modes`, or both."""

    name: Annotated[
        Name,
        Key(PRINTED, '"Main camera"', ""),
        Ask("name", "Any name; to tell your cameras apart.", offered=True),
    ]
    sensor_width: Annotated[float | None, Side, _WIDTH] = None
    sensor_height: Annotated[float | None, Side, _HEIGHT] = None
    flange_focal_distance: Annotated[
        float | None,
        Length(2.0, 150.0),
        Key("Lens mount to sensor", '"18 mm"', more=NO_LENGTH),
        Ask(
            "flange focal distance",
            "From the lens mount to the sensor, a fixed figure of the mount (with an adapter: "
            "that of the lens's own mount).",
        ),
    ] = None
    pixels: Columns = None
    readout_time: Readout = None
    circle_of_confusion: Circle = None
    modes: Annotated[
        dict[Id, Mode],
        Key(
            'More sensor modes, each with keys of its own. A rig names its mode: mode = "crop".',
            '{ crop = { sensor_width = "24 mm", sensor_height = "16 mm", '
            'readout_time = "12 ms" } }',
            more="Readings belong to the body, whatever the mode.",
        ),
    ] = Field(default={})
    mount: Annotated[Name | None, _MOUNT] = None
    mass: Annotated[Mass, Key("With battery and card", '"740 g"')] = None
    centre_of_gravity: Annotated[
        float | None,
        offset(500.0),
        Key("From the sensor plane; toward the subject is positive", '"-4 mm"'),
    ] = None
    tripod_thread: Annotated[
        float | None,
        offset(500.0),
        Key("From the sensor plane; toward the subject is positive", '"10 mm"', "likewise"),
    ] = None
    mount_moment_limit: Annotated[
        float | None,
        moment(0.1, 500.0),
        Key("Largest bending moment stated for the lens mount", '"3 N m"'),
    ] = None

    @model_validator(mode="after")
    def _size_with_its_mode(self) -> Self:
        given = [key for key in Mode.model_fields if getattr(self, key) is not None]
        sizes = [key for key in ("sensor_width", "sensor_height") if key not in given]
        if sizes and (given or not self.modes):
            why = f"for {' and '.join(given)}, which describe one sensor mode" if given else (
                "unless the camera has modes")  # fmt: skip
            raise ValueError(f"give {' and '.join(sizes)} too, {why}")
        return self

    def mode(self, name: str | None) -> Mode | None:
        """Return a mode by its name, the one in the body's own keys for None; None if not known."""
        if name is not None:
            return self.modes.get(name)
        if self.sensor_width is None:
            return None
        return Mode.model_construct(**{key: getattr(self, key) for key in Mode.model_fields})


class TakingLens(Table):
    """A spherical taking lens."""

    name: Annotated[Name, Key(PRINTED, '"85 mm f/1.8"', ""), ASK_NAME]
    focal_length: Annotated[
        float,
        Length(8.0, 600.0),
        Key("As engraved", '"85 mm"'),
        Ask("focal length", "As engraved on the taking lens."),
    ]
    widest_stop: Annotated[
        Stop,
        Key("F-number as engraved", "1.8", ""),
        Ask("widest stop", "The smallest f-number engraved."),
    ]
    nearest: Annotated[Nearest, Key(NEAREST, '"0.9 m"')]
    largest_magnification: Annotated[
        float | None,
        magnification(0.001, 1.0),
        Key(
            "At its nearest, as its maker prints it",
            '"1:8.2"',
            more="With it the depth of field is right to the nearest mark, also of a lens that "
            "focuses inside or nearer than five focal lengths.",
        ),
    ] = None
    focusing: Annotated[
        Literal["extends", "internal", "cam"],
        Key(
            "Whether the lens moves forward, focuses inside, or follows a cam of its own",
            '"extends"',
            _FOCUSING_NOTE,
            more='"extends": it moves forward as a whole. "internal": glass moves inside, the '
            'front stands still. "cam": neither, or not known; it asks for readings at six '
            "distances.",
        ),
        Ask("how it focuses, extends, internal or cam", _FOCUSING_HELP, offered=True),
    ] = "extends"
    front_moves: Annotated[
        bool,
        Key("False if the front stands still while you focus", "true"),
        Ask(
            "focusing moves its front, yes or no",
            "Yes if turning the focus ring carries the front rim, and so the attachment, forward.",
            offered=True,
        ),
    ] = True
    length: Annotated[
        float | None,
        Length(5.0, 600.0),
        Key("Mount to front rim, at infinity", '"74 mm"', more=NO_LENGTH),
        Ask("length from mount to front rim", _LENGTH_HELP),
    ] = None
    mount: Annotated[Name | None, _MOUNT] = None
    front_thread: Annotated[
        OptionalThread, Key("Filter thread at the front rim", '"67 mm x 0.75"')
    ] = None
    front_rotates: Annotated[
        bool | None, Key("True if focusing turns the front, and so the squeeze", "false")
    ] = None
    front_clear_aperture: Annotated[ClearAperture, Key(FRONT_APERTURE, '"54 mm"')] = None
    barrel_diameter: Annotated[
        float | None, Length(15.0, 300.0), Key("Across the barrel behind the front rim", '"72 mm"')
    ] = None
    entrance_pupil: Annotated[
        float | None,
        Length(0.0, 1000.0),
        Key("From the sensor plane to the pupil, at infinity", '"62 mm"'),
    ] = None
    mass: Annotated[Mass, Key(READY, '"390 g"', "")] = None
    centre_of_gravity: Annotated[
        float | None, offset(600.0), Key("From its mount, at infinity", '"40 mm"')
    ] = None
    helicoid: Annotated[
        float | None,
        Length(0.0, 600.0),
        Key("From its mount to the middle of the helicoid", '"30 mm"'),
    ] = None
    helicoid_moment_limit: Annotated[
        float | None,
        moment(0.01, 500.0),
        Key("Largest bending moment stated for the helicoid", '"1 N m"'),
    ] = None
    ring: Ring

    @model_validator(mode="after")
    def _internal_front_stands(self) -> Self:
        if self.focusing == "internal" and self.front_moves:
            raise ValueError("a lens that focuses inside has front_moves = false")
        return self


class ChainPart(Table):
    """What stands between lens and attachment: a step ring or a clamp."""

    name: Annotated[
        Name, Key(PRINTED, '"Step-up ring"', ""), Ask("name", "To tell it from the others.")
    ]
    thickness: Annotated[
        float,
        Length(0.0, 500.0),
        Key("What it adds to the length", '"3 mm"'),
        Ask(
            "thickness",
            "What it adds to the length: from face to face with the threads screwed home; "
            "0 mm if it adds nothing.",
        ),
    ]
    clear_aperture: Annotated[ClearAperture, Key(_APERTURE, '"64 mm"')] = None
    mass: Annotated[Mass, Key(READY, '"25 g"', "")] = None


class StepRing(ChainPart):
    """A ring that joins two threads."""

    thread_to_lens: Annotated[OptionalThread, Key(_BEHIND, '"67 mm x 0.75"')] = None
    thread_to_front: Annotated[
        OptionalThread, Key("Female, for what is before it", '"72 mm x 0.75"')
    ] = None


class Clamp(ChainPart):
    """A clamp that holds a barrel."""

    thread: Annotated[OptionalThread, Key(_BEHIND, '"72 mm x 0.75"')] = None
    bore: Annotated[
        float | None, Length(15.0, 300.0), Key("The largest barrel it takes", '"64.5 mm"')
    ] = None


class Filter(Table):
    """A filter in front of the attachment, with the same thread behind and before."""

    name: Annotated[Name, Key(PRINTED, '"Clear filter"', "")]
    thread: FilterThread = None
    thickness: OptionalThickness = None
    clear_aperture: Annotated[ClearAperture, Key(_APERTURE, '"72 mm"', "")] = None
    mass: Annotated[Mass, Key(READY, '"35 g"', "")] = None


class CloseUpLens(Table):
    """A close-up lens in front of the attachment. Marks hold without it."""

    name: Annotated[Name, Key(PRINTED, '"Close-up +1"', "")]
    power: Annotated[float, number(0.05, 20.0), Key("Dioptres; marks hold without it", "1")]
    thread: FilterThread = None
    thickness: OptionalThickness = None
    clear_aperture: Annotated[ClearAperture, Key(_APERTURE, '"72 mm"', "")] = None
    mass: Annotated[Mass, Key(READY, '"35 g"', "")] = None


class Support(Table):
    """A lens support on rods, or a bracket, under the rig before the camera."""

    name: Annotated[Name, Key(PRINTED, '"Rod support"', "")]
    position: Annotated[
        float, Length(1.0, 2000.0), Key("From the sensor plane along the axis", '"150 mm"')
    ]
    mass: Annotated[Mass, Key(READY, '"160 g"', "")] = None


class Carrier(Table):
    """What carries the whole rig: a tripod head, a gimbal."""

    name: Annotated[Name, Key(PRINTED, '"Tripod head"', "")]
    payload: Annotated[
        float | None, mass(1.0, 500_000.0), Key("The largest mass stated for it", '"6 kg"')
    ] = None
    plate_range: Annotated[
        list[Annotated[float, offset(500.0)]] | None,
        Field(min_length=2, max_length=2),
        Key("Reach of its axis behind and before the tripod thread", '["-45 mm", "45 mm"]'),
    ] = None
