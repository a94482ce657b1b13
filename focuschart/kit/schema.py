"""The kit: its keys and sections, its rigs and its readings.

Lengths are read into mm, masses into g. Every description is also the documentation an editor
shows through the JSON schema.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from typing import Annotated, Any, Literal, NamedTuple, Self

from pydantic import Field, PrivateAttr, model_validator

from focuschart.errors import InputError, Problem, shown
from focuschart.kit.fields import Distance, Id, Length, Name, RulerFigure, Stop, Table, number
from focuschart.kit.origins import Origins
from focuschart.kit.parts import (
    Attachment,
    Camera,
    Carrier,
    ChainPart,
    Circle,
    Clamp,
    CloseUpLens,
    Filter,
    Mode,
    StepRing,
    Support,
    TakingLens,
)
from focuschart.kit.quantities import Delivery, angle, mass

FORMAT = 1
MAX_MARKS = 40
MAX_STOPS = 8
DIAGONAL_PER_CIRCLE = 1500
"""Common practice: the circle of confusion is the format's diagonal over 1500."""


LOOSE_PARTS = {
    "step_rings": "step ring",
    "clamps": "clamp",
    "filters": "filter",
    "close_up_lenses": "close-up lens",
}
"""Sections of what stands between lens and attachment and before it → what to call a part."""


class Part(NamedTuple):
    """A part of chain or front: its section of the kit, what to call it, and its table."""

    section: str
    kind: str
    table: ChainPart | Filter | CloseUpLens


class Rig(Table):
    """One camera, one taking lens and one attachment, with the chain that joins them."""

    name: Name
    camera: Id
    mode: Id | None = Field(
        default=None, description="The camera's sensor mode; else that of the camera's own keys"
    )
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
    desqueeze: Annotated[
        float | None, number(1.05, 3.0, "One factor for all that post desqueezes; else each S(D)")
    ] = None
    front_unit: Annotated[
        float | None, mass(1.0, 10_000.0, "A unit on the front, with which the load is told too")
    ] = None
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
_AT_LEAST_ONE: Any = Field(default={}, json_schema_extra={"minProperties": 1})
_MAYBE_NONE: Any = Field(default={})


class Kit(Table):
    """A whole kit file."""

    format: Literal[1] = Field(description="The version of this file's format")
    include: list[str] = Field(
        default=[],
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
    circle_of_confusion: Circle = None
    deliveries: list[Delivery] = Field(default=[], description="Ratios of the finished picture")
    lean_limit: Annotated[
        float | None, angle(0.01, 45.0, "How far a pan may make upright edges lean")
    ] = None
    cameras: dict[Id, Camera] = _AT_LEAST_ONE
    taking_lenses: dict[Id, TakingLens] = _AT_LEAST_ONE
    attachments: dict[Id, Attachment] = _AT_LEAST_ONE
    step_rings: dict[Id, StepRing] = _MAYBE_NONE
    clamps: dict[Id, Clamp] = _MAYBE_NONE
    filters: dict[Id, Filter] = _MAYBE_NONE
    close_up_lenses: dict[Id, CloseUpLens] = _MAYBE_NONE
    supports: dict[Id, Support] = _MAYBE_NONE
    carriers: dict[Id, Carrier] = _MAYBE_NONE
    rigs: dict[Id, Rig] = _AT_LEAST_ONE
    readings: list[Reading] = Field(default=[])
    _broken: Mapping[str, tuple[Problem, ...]] = PrivateAttr(default_factory=dict)
    _origins: Origins = PrivateAttr(default_factory=Origins)
    _source: str = PrivateAttr(default="")

    def __eq__(self, other: object) -> bool:
        """Return whether two kits say the same, whatever files they stand in."""
        return isinstance(other, Kit) and self.__dict__ == other.__dict__

    __hash__ = None  # type: ignore[assignment]

    @property
    def source(self) -> str:
        """The file that it was read from, as it was named."""
        return self._source

    @property
    def broken(self) -> Mapping[str, tuple[Problem, ...]]:
        """Rigs of the file that cannot be put together, and so are not among `rigs`, and why."""
        return self._broken

    def placed(self, problem: Problem) -> Problem:
        """Return a problem with the file, of all that the kit includes, in which its key stands."""
        return self._origins.placed(problem)

    def require_rigs(self, rigs: Collection[str], *, option: str = "rigs") -> None:
        """Raise InputError, naming file and option, for rigs that are not in the kit."""
        unknown = [rig for rig in rigs if rig not in self.rigs and rig not in self.broken]
        if unknown:
            known = ", ".join(list(self.rigs)[:8])
            lines = (
                f"{self.source}: {option} is {shown(rig)}: no such rig; the kit has {known}"
                for rig in unknown
            )
            raise InputError("\n".join(lines))

    def read_from(
        self, source: str, origins: Origins, broken: Mapping[str, tuple[Problem, ...]]
    ) -> Self:
        """Return the kit without its broken rigs, with what is wrong with them and its files."""
        sound = {rig_id: rig for rig_id, rig in self.rigs.items() if rig_id not in broken}
        kit = self.model_copy(update={"rigs": sound})
        kit._source, kit._origins, kit._broken = source, origins, dict(broken)
        return kit

    def part(self, part_id: str) -> Part:
        """Return a part of chain or front by its id, which is unique among them; else KeyError."""
        for section, kind in LOOSE_PARTS.items():
            table = getattr(self, section).get(part_id)
            if table is not None:
                return Part(section, kind, table)
        raise KeyError(part_id)

    @property
    def links(self) -> dict[str, ChainPart]:
        """What can stand between lens and attachment, by id."""
        return {**self.step_rings, **self.clamps}

    def mode(self, rig: Rig) -> Mode:
        """Return a rig's sensor mode; raises KeyError where the camera has none such."""
        found = self.cameras[rig.camera].mode(rig.mode)
        if found is None:
            raise KeyError(rig.mode)
        return found

    def circle_mm(self, rig: Rig) -> float:
        """Return a rig's circle of confusion, by the diagonal where none is given.

        A named sensor mode has its own and no other: the kit's is meant for one size of sensor.
        """
        mode = self.mode(rig)
        kits = self.circle_of_confusion if rig.mode is None else None
        return mode.circle_of_confusion or kits or mode.diagonal_mm / DIAGONAL_PER_CIRCLE

    def parts_differ_mm(self, rig: Rig) -> float | None:
        """Return by how much a rig's parts add up to more than its whole, None if not known."""
        summed = self.front_vertex_mm(rig.model_copy(update={"front_vertex": None}))
        if summed is None or rig.front_vertex is None:
            return None
        return summed - rig.front_vertex

    def front_vertex_mm(self, rig: Rig) -> float | None:
        """Return sensor to foremost glass at infinity, measured or summed, if known."""
        lens, attachment = self.taking_lenses[rig.taking_lens], self.attachments[rig.attachment]
        if rig.front_vertex is not None or lens.length is None or attachment.length is None:
            return rig.front_vertex
        links = self.links
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
