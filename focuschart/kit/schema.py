"""The kit's tables and keys. Lengths are read into mm, masses into g; nothing here is derived.

Every description is also the documentation an editor shows through the JSON schema.
"""

from __future__ import annotations

import math
from typing import Annotated, Any, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

from focuschart.kit.fields import Id, Length, Name, number
from focuschart.kit.quantities import (
    Delivery,
    Pixels,
    Thread,
    ThreadText,
    angle,
    mass,
    moment,
    offset,
    time,
)

FORMAT = 1
MAX_MARKS = 40
MAX_STOPS = 8
MAX_TURNS = 4
STEEPEST = 0.5
"""Sine of the steepest taper of a ring: beyond it a measure is wrong; judgement, no source."""
DIAGONAL_PER_CIRCLE = 1500
"""Common practice: the circle of confusion is the format's diagonal over 1500."""

Distance = Annotated[
    float, Length(100.0, math.inf, 'From the sensor mark: "1.2 m", "4 ft 6 in" or "inf"')
]
Thickness = Annotated[float, Length(0.0, 500.0, "What the part adds to the length of the chain")]
Glass = Annotated[float, Length(0.5, 80.0, "Thickness of the group's glass on the axis")]
Stop = Annotated[float, number(0.7, 64.0, "F-number as engraved")]
RulerFigure = Annotated[float, number(-1000.0, 2000.0, "Figure read on the ruler strip, mm")]

_Unmarked = Field(exclude=True)
"""A fact that moves no mark: it is left out of dumps, of which revision codes are made."""
Mass = Annotated[float | None, mass(0.0, 50_000.0, "Mass of the part, ready for use"), _Unmarked]
ClearAperture = Annotated[
    float | None, Length(5.0, 250.0, "Diameter through which light passes"), _Unmarked
]

OptionalThickness = Annotated[float | None, Length(0.0, 100.0, "Rim to rim, screwed home")]
PlateOffset = Annotated[float, offset(500.0, "From the tripod thread, toward the subject positive")]


class Table(BaseModel):
    """A strict, frozen table: no unknown key, no conversion between types."""

    model_config = ConfigDict(strict=True, frozen=True, extra="forbid")


class EngravedMark(Table):
    """One figure engraved on a ring, and where it stands on the ruler strip."""

    distance: Distance
    ruler: RulerFigure


class Ring(Table):
    """A focus ring, as measured on the barrel: a cylinder by one size, a taper by two."""

    circumference: Annotated[float | None, Length(60.0, 950.0, "Tape round the bare ring")] = None
    diameter: Annotated[float | None, Length(20.0, 300.0, "Across the bare ring")] = None
    front_circumference: Annotated[
        float | None, Length(60.0, 950.0, "Tape round the subject's edge of a ring that tapers")
    ] = None
    rear_circumference: Annotated[
        float | None, Length(60.0, 950.0, "Tape round the camera's edge of a ring that tapers")
    ] = None
    front_diameter: Annotated[
        float | None, Length(20.0, 300.0, "Across the subject's edge of a ring that tapers")
    ] = None
    rear_diameter: Annotated[
        float | None, Length(20.0, 300.0, "Across the camera's edge of a ring that tapers")
    ] = None
    width: Annotated[
        float | None,
        Length(4.0, 200.0, "From edge to edge along the ring's surface; needed where it tapers"),
    ] = None
    turns: int = Field(
        default=1,
        ge=1,
        le=MAX_TURNS,
        description="Turns that its ruler counts, a row each: 2 where it turns past one revolution",
    )
    nearer_turns: Literal["clockwise", "anticlockwise"] = Field(
        description="The way the ring turns to focus nearer, seen from behind the camera"
    )
    lead: Annotated[
        float | None, Length(1.0, 200.0, "Travel of the moving part in one whole turn, if known")
    ] = None
    strip_width: Annotated[float, Length(4.0, 40.0, "Width of the printed strip")] = 12.0
    strip_thickness: Annotated[float, Length(0.0, 2.0, "Paper with laminate and tape")] = 0.2
    read_from: Literal["behind", "left", "right"] = Field(
        default="behind", description="Where the reader of the strip stands"
    )
    index_side: Literal["camera", "subject"] = Field(
        default="camera", description="The side of the ring on which the fixed index lies"
    )
    engraved: list[EngravedMark] = Field(default=[], description="The maker's figures, if any")
    stock: Annotated[Name | None, _Unmarked] = Field(
        default=None, description='The paper its strips are printed on, such as "yellow"'
    )
    mirrored: Annotated[bool, _Unmarked] = Field(
        default=False, description="Whether its strips are printed for the inside of clear tape"
    )

    @model_validator(mode="after")
    def _one_size(self) -> Self:
        tapes = (self.front_circumference, self.rear_circumference)
        calipers = (self.front_diameter, self.rear_diameter)
        sizes = [(self.circumference,), (self.diameter,), tapes, calipers]
        given = [size for size in sizes if any(size)]
        if not given or (len(given) > 1 and not any((*tapes, *calipers))):
            raise ValueError("give either circumference or diameter")
        if len(given) > 1 or not all(given[0]):
            raise ValueError(
                "give one size: of a cylinder circumference or diameter; of a ring that tapers "
                "front_circumference and rear_circumference, or front_diameter and rear_diameter"
            )
        if len(given[0]) == 2 and self.width is None:
            raise ValueError("a ring that tapers needs its width, from edge to edge")
        if abs(self._steepness) > STEEPEST:
            raise ValueError("tapers by more than 30° to its axis: measure both edges and width")
        return self

    @property
    def _edges_mm(self) -> tuple[float, float]:
        """Circumferences of the bare ring at its camera's and its subject's edge."""
        if self.front_circumference and self.rear_circumference:
            return self.rear_circumference, self.front_circumference
        if self.front_diameter and self.rear_diameter:
            return math.pi * self.rear_diameter, math.pi * self.front_diameter
        around = self.circumference or math.pi * (self.diameter or 0.0)
        return around, around

    @property
    def _steepness(self) -> float:
        """Sine of the angle between surface and axis, positive where it narrows to the subject."""
        rear, front = self._edges_mm
        return 0.0 if rear == front else (rear - front) / (2.0 * math.pi * (self.width or 0.0))

    @property
    def tapers(self) -> bool:
        """Whether its strip is a sector of a ring instead of a rectangle."""
        return self._steepness != 0.0

    @property
    def largest_diameter_mm(self) -> float:
        """Across the bare ring, where it is thickest."""
        return max(self._edges_mm) / math.pi

    @property
    def strip_length_mm(self) -> float:
        """Once round, along the middle of the strip's thickness, at the edge next to the index.

        Ruler figures are millimetres along this edge.
        """
        rear, front = self._edges_mm
        around = rear if self.index_side == "camera" else front
        slope = math.sqrt(1.0 - self._steepness**2)
        return around + math.pi * self.strip_thickness * slope

    @property
    def far_edge_mm(self) -> float:
        """Once round at the strip's other edge, as wide off the index's edge as the strip is."""
        outward = -1.0 if self.index_side == "camera" else 1.0
        return self.strip_length_mm + outward * 2.0 * math.pi * self._steepness * self.strip_width

    @property
    def rises_nearer(self) -> bool:
        """Whether ruler figures rise as the ring turns nearer.

        The ruler rises from left to right for a reader behind the camera, and the ring's top
        moves right when it turns clockwise, so that the figure at the index falls.
        """
        return self.nearer_turns == "anticlockwise"

    @property
    def arc_per_travel(self) -> float | None:
        """g, signed mm of arc per mm of travel, where the lead is known."""
        if self.lead is None:
            return None
        return (1.0 if self.rises_nearer else -1.0) * self.strip_length_mm / self.lead


class Camera(Table):
    """A camera and the sensor mode in use."""

    name: Name
    sensor_width: Annotated[float, Length(2.0, 120.0, "Of the sensor mode in use")]
    sensor_height: Annotated[float, Length(2.0, 120.0, "Of the sensor mode in use")]
    flange_focal_distance: Annotated[float, Length(2.0, 150.0, "Mount to sensor")]
    pixels: Annotated[list[int] | None, Pixels("Columns and rows of the sensor mode in use")] = None
    readout_time: Annotated[
        float | None, time(0.0, 200.0, "From the first row read to the last, in the mode in use")
    ] = None
    mount: Annotated[Name | None, _Unmarked] = Field(
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


class TakingLens(Table):
    """A spherical taking lens."""

    name: Name
    focal_length: Annotated[float, Length(8.0, 600.0, "As engraved")]
    widest_stop: Stop
    nearest: Annotated[float, Length(100.0, 20000.0, "Nearest subject, from the sensor mark")]
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
    mount: Annotated[Name | None, _Unmarked] = Field(
        default=None, description="Name of the mount, written alike for camera and lens"
    )
    front_thread: Annotated[
        Thread | None, ThreadText("Filter thread, female, at its front rim"), _Unmarked
    ] = None
    front_rotates: Annotated[bool | None, _Unmarked] = Field(
        default=None, description="Whether focusing turns the front, and so the squeeze"
    )
    front_clear_aperture: ClearAperture = None
    barrel_diameter: Annotated[
        float | None, Length(15.0, 300.0, "Across the barrel behind the front rim"), _Unmarked
    ] = None
    entrance_pupil: Annotated[
        float | None,
        Length(0.0, 1000.0, "Sensor to the entrance pupil along the axis, at infinity"),
        _Unmarked,
    ] = None
    mass: Mass = None
    centre_of_gravity: Annotated[
        float | None, offset(600.0, "From its mount along the axis, at infinity"), _Unmarked
    ] = None
    helicoid: Annotated[
        float | None, Length(0.0, 600.0, "Mount to the middle of its helicoid"), _Unmarked
    ] = None
    helicoid_moment_limit: Annotated[
        float | None,
        moment(0.01, 500.0, "Largest bending moment stated for its helicoid"),
        _Unmarked,
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
    rear_thread: Annotated[
        Thread | None, ThreadText("Thread, male, at its rear rim"), _Unmarked
    ] = None
    barrel_diameter: Annotated[
        float | None, Length(15.0, 300.0, "Across the rear barrel, where a clamp holds"), _Unmarked
    ] = None
    front_thread: Annotated[
        Thread | None, ThreadText("Filter thread, female, at its front rim"), _Unmarked
    ] = None
    rear_clear_aperture: ClearAperture = None
    front_clear_aperture: ClearAperture = None
    mass: Mass = None
    centre_of_gravity: Annotated[
        float | None, offset(600.0, "From its rear rim along the axis, at infinity"), _Unmarked
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


class Rig(Table):
    """One camera, one taking lens and one attachment, with the chain that joins them."""

    name: Name
    camera: Id
    taking_lens: Id
    attachment: Id
    chain: list[Id] = Field(default=[], description="Step rings and clamps, from lens to front")
    front_vertex: Annotated[
        float | None,
        Length(20.0, 2000.0, "Sensor mark to the foremost point of glass, both rings at infinity"),
    ] = None
    distances: Annotated[list[Distance], Field(min_length=1, max_length=MAX_MARKS)] | None = None
    front: list[Id] = Field(
        default=[],
        description="Filters, close-up lenses and step rings before the attachment, outward",
    )
    support: Id | None = Field(default=None, description="The support under the front")
    carrier: Id | None = Field(default=None, description="What carries the whole rig")


class Reading(Table):
    """Both rings focused on one target, and what the ruler strips showed."""

    rig: Id
    distance: Distance
    distance_error: Annotated[
        float | None, Length(0.1, 1e6, "One standard deviation of the distance")
    ] = None
    stop: Stop
    taking: RulerFigure | None = None
    attachment: RulerFigure | None = None
    ignore: bool = Field(default=False, description="Whether to leave this reading out of the fit")

    @model_validator(mode="after")
    def _has_a_figure(self) -> Self:
        if self.taking is None and self.attachment is None:
            raise ValueError("give the ruler figure of taking, of attachment or of both")
        return self


# Left to `references.check_references`, so that a kit with a faulty part can still be checked.
_AtLeastOne = Field(json_schema_extra={"minProperties": 1})


class Kit(Table):
    """A whole kit file."""

    format: Literal[1] = Field(description="The version of this file's format")
    include: list[str] = Field(
        default=[],
        exclude=True,
        description="Files with more of the kit, by their paths from this file",
    )
    name: Name
    units: Literal["metric", "imperial", "both"] = Field(
        default="metric", description="Units on strips and card"
    )
    distances: list[Distance] = Field(
        min_length=1, max_length=MAX_MARKS, description="Subject distances to mark"
    )
    stops: list[Stop] = Field(
        min_length=1, max_length=MAX_STOPS, description="F-numbers, the working stop first"
    )
    circle_of_confusion: Annotated[
        float | None, Length(0.001, 0.2, "On the finished frame; else sensor diagonal / 1500")
    ] = None
    deliveries: list[Delivery] = Field(default=[], description="Ratios of the finished picture")
    lean_limit: Annotated[
        float | None, angle(0.01, 45.0, "How far a pan may make upright edges lean"), _Unmarked
    ] = None
    cameras: Annotated[dict[Id, Camera], _AtLeastOne] = {}
    taking_lenses: Annotated[dict[Id, TakingLens], _AtLeastOne] = {}
    attachments: Annotated[dict[Id, Attachment], _AtLeastOne] = {}
    step_rings: dict[Id, StepRing] = {}
    clamps: dict[Id, Clamp] = {}
    filters: dict[Id, Filter] = {}
    close_up_lenses: dict[Id, CloseUpLens] = {}
    supports: dict[Id, Support] = {}
    carriers: dict[Id, Carrier] = {}
    rigs: Annotated[dict[Id, Rig], _AtLeastOne] = {}
    readings: list[Reading] = []

    def front_vertex_mm(self, rig: Rig) -> float | None:
        """Return sensor to foremost glass at infinity, measured or summed, if known."""
        lens, attachment = self.taking_lenses[rig.taking_lens], self.attachments[rig.attachment]
        if rig.front_vertex is not None or lens.length is None or attachment.length is None:
            return rig.front_vertex
        links: dict[str, ChainPart] = {**self.step_rings, **self.clamps}
        chain = math.fsum(links[part].thickness for part in rig.chain)
        flange = self.cameras[rig.camera].flange_focal_distance
        return flange + lens.length + chain + attachment.length


def json_schema() -> dict[str, Any]:
    """Return the JSON schema of a kit file, for editors; `$defs/Included` is an included file's."""
    schema = Kit.model_json_schema()
    included = {
        **{key: schema[key] for key in ("type", "additionalProperties", "properties")},
        "description": "A file that a kit includes: any part of one.",
        "required": ["format"],
    }
    schema["$defs"] = {**schema["$defs"], "Included": included}
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}
