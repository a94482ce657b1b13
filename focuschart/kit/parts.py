"""What is in the bag, part by part: facts as they were measured, nothing derived."""

from __future__ import annotations

import math
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from focuschart.kit.fields import Id, Length, Name, Stop, Table, number
from focuschart.kit.quantities import (
    Pixels,
    Thread,
    ThreadText,
    magnification,
    mass,
    moment,
    offset,
    time,
)
from focuschart.kit.ring import Ring

Thickness = Annotated[float, Length(0.0, 500.0, "What the part adds to the length of the chain")]
Glass = Annotated[float, Length(0.5, 80.0, "Thickness of the group's glass on the axis")]
Mass = Annotated[float | None, mass(0.0, 50_000.0, "Mass of the part, ready for use")]
ClearAperture = Annotated[float | None, Length(5.0, 250.0, "Diameter through which light passes")]

OptionalThickness = Annotated[float | None, Length(0.0, 100.0, "Rim to rim, screwed home")]
PlateOffset = Annotated[float, offset(500.0, "From the tripod thread, toward the subject positive")]


Side = Length(2.0, 120.0, "Of what the sensor mode records")
Columns = Annotated[list[int] | None, Pixels("Columns and rows of the sensor mode")]
Readout = Annotated[float | None, time(0.0, 200.0, "From the first row read to the last")]
Circle = Annotated[
    float | None, Length(0.001, 0.2, "On the finished frame; else the mode's diagonal / 1500")
]


class Mode(Table):
    """One sensor mode of a camera; nothing in it is taken over from another or from the body."""

    sensor_width: Annotated[float, Side]
    sensor_height: Annotated[float, Side]
    pixels: Columns = None
    readout_time: Readout = None
    circle_of_confusion: Circle = None

    @property
    def diagonal_mm(self) -> float:
        """Across what the mode records."""
        return math.hypot(self.sensor_width, self.sensor_height)


class Camera(Table):
    """A camera, with one sensor mode in its own keys, several by name in `modes`, or both."""

    name: Name
    sensor_width: Annotated[float | None, Side] = None
    sensor_height: Annotated[float | None, Side] = None
    flange_focal_distance: Annotated[float, Length(2.0, 150.0, "Mount to sensor")]
    pixels: Columns = None
    readout_time: Readout = None
    circle_of_confusion: Circle = None
    modes: dict[Id, Mode] = Field(default={}, description="Sensor modes by name")
    mount: Name | None = Field(
        default=None, description="Name of the mount, written alike for camera and lens"
    )
    mass: Mass = None
    centre_of_gravity: Annotated[
        float | None,
        offset(500.0, "From the sensor plane along the axis, toward the subject positive"),
    ] = None
    tripod_thread: Annotated[
        float | None,
        offset(500.0, "Its tripod thread, from the sensor plane, toward the subject positive"),
    ] = None
    mount_moment_limit: Annotated[
        float | None, moment(0.1, 500.0, "Largest bending moment stated for its lens mount")
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

    name: Name
    focal_length: Annotated[float, Length(8.0, 600.0, "As engraved")]
    widest_stop: Stop
    nearest: Annotated[float, Length(100.0, 20000.0, "Nearest subject, from the sensor mark")]
    largest_magnification: Annotated[
        float | None,
        magnification(
            0.001, 1.0, "Of the bare lens at its nearest subject, as its maker prints it"
        ),
    ] = None
    focusing: Literal["extends", "internal", "cam"] = Field(
        default="extends",
        description="Whether the lens moves forward, focuses inside, or follows a cam of its own",
    )
    front_moves: bool = Field(
        default=True, description="Whether focusing carries the front, and so the attachment"
    )
    length: Annotated[
        float | None, Length(5.0, 600.0, "Mount to front rim, focused at infinity")
    ] = None
    mount: Name | None = Field(
        default=None, description="Name of the mount, written alike for camera and lens"
    )
    front_thread: Annotated[
        Thread | None, ThreadText("Filter thread, female, at its front rim")
    ] = None
    front_rotates: bool | None = Field(
        default=None, description="Whether focusing turns the front, and so the squeeze"
    )
    front_clear_aperture: ClearAperture = None
    barrel_diameter: Annotated[
        float | None, Length(15.0, 300.0, "Across the barrel behind the front rim")
    ] = None
    entrance_pupil: Annotated[
        float | None,
        Length(0.0, 1000.0, "Sensor to the entrance pupil along the axis, at infinity"),
    ] = None
    mass: Mass = None
    centre_of_gravity: Annotated[
        float | None, offset(600.0, "From its mount along the axis, at infinity")
    ] = None
    helicoid: Annotated[float | None, Length(0.0, 600.0, "Mount to the middle of its helicoid")] = (
        None
    )
    helicoid_moment_limit: Annotated[
        float | None, moment(0.01, 500.0, "Largest bending moment stated for its helicoid")
    ] = None
    ring: Ring

    @model_validator(mode="after")
    def _internal_front_stands(self) -> Self:
        if self.focusing == "internal" and self.front_moves:
            raise ValueError("a lens that focuses inside has front_moves = false")
        return self


class Attachment(Table):
    """An afocal anamorphic attachment with its own focus."""

    name: Name
    squeeze: Annotated[float, number(1.05, 3.0, "Nominal squeeze at infinity")]
    moving_group: Literal["front", "rear"] = Field(description="Which group the ring moves")
    ruler_separation: Annotated[
        float, Length(5.0, 500.0, "Middle of the front glass to middle of the rear, at infinity")
    ]
    front_glass: Glass
    rear_glass: Glass
    nearest: Annotated[float, Length(100.0, 20000.0, "Nearest subject, from the sensor mark")]
    length: Annotated[
        float | None,
        Length(5.0, 600.0, "Rear rim to the front glass's foremost point, at infinity"),
    ] = None
    rear_thread: Annotated[Thread | None, ThreadText("Thread, male, at its rear rim")] = None
    barrel_diameter: Annotated[
        float | None, Length(15.0, 300.0, "Across the rear barrel, where a clamp holds")
    ] = None
    front_thread: Annotated[
        Thread | None, ThreadText("Filter thread, female, at its front rim")
    ] = None
    rear_clear_aperture: ClearAperture = None
    front_clear_aperture: ClearAperture = None
    mass: Mass = None
    centre_of_gravity: Annotated[
        float | None, offset(600.0, "From its rear rim along the axis, at infinity")
    ] = None
    ring: Ring


class ChainPart(Table):
    """What stands between lens and attachment: a step ring or a clamp."""

    name: Name
    thickness: Thickness
    clear_aperture: ClearAperture = None
    mass: Mass = None


class StepRing(ChainPart):
    """A ring that joins two threads."""

    thread_to_lens: Annotated[
        Thread | None, ThreadText("Male thread, screwed into what is behind it")
    ] = None
    thread_to_front: Annotated[
        Thread | None, ThreadText("Female thread, for what is before it")
    ] = None


class Clamp(ChainPart):
    """A clamp that holds a barrel."""

    thread: Annotated[Thread | None, ThreadText("Male thread, screwed into what is behind it")] = (
        None
    )
    bore: Annotated[float | None, Length(15.0, 300.0, "Largest barrel that it takes")] = None


class Filter(Table):
    """A filter in front of the attachment, with the same thread behind and before."""

    name: Name
    thread: Annotated[Thread | None, ThreadText("Male behind, female before")] = None
    thickness: OptionalThickness = None
    clear_aperture: ClearAperture = None
    mass: Mass = None


class CloseUpLens(Table):
    """A close-up lens in front of the attachment. Marks hold without it."""

    name: Name
    power: Annotated[float, number(0.05, 20.0, "Power in dioptres, as engraved")]
    thread: Annotated[Thread | None, ThreadText("Male behind, female before")] = None
    thickness: OptionalThickness = None
    clear_aperture: ClearAperture = None
    mass: Mass = None


class Support(Table):
    """A lens support on rods, or a bracket, under the rig before the camera."""

    name: Name
    position: Annotated[float, Length(1.0, 2000.0, "From the sensor plane along the axis")]
    mass: Mass = None


class Carrier(Table):
    """What carries the whole rig: a tripod head, a gimbal."""

    name: Name
    payload: Annotated[float | None, mass(1.0, 500_000.0, "Largest mass stated for it")] = None
    plate_range: Annotated[
        list[PlateOffset] | None,
        Field(
            min_length=2,
            max_length=2,
            description="How far its axis can stand behind (negative) and before the tripod thread",
        ),
    ] = None
