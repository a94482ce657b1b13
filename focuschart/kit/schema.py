"""The kit: its keys and sections, its rigs and its readings.

Lengths are read into mm, masses into g.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from typing import Annotated, Any, Literal, NamedTuple, Self

from pydantic import Field, PrivateAttr

from focuschart.errors import InputError, Problem, shown
from focuschart.kit.attachment import Attachment
from focuschart.kit.bench import Bench
from focuschart.kit.fields import (
    Ask,
    Delivery,
    Distance,
    Id,
    Key,
    Length,
    Name,
    Stop,
    Table,
    angle,
    mass,
    number,
    tables_in,
)
from focuschart.kit.likely import likely
from focuschart.kit.origins import Origins
from focuschart.kit.parts import (
    Camera,
    Carrier,
    ChainPart,
    CircleText,
    Clamp,
    CloseUpLens,
    Filter,
    Mode,
    StepRing,
    Support,
    TakingLens,
)
from focuschart.kit.reading import MOST_HEIGHT_MM, IndexSetAt, Reading
from focuschart.kit.squeeze import MeasuredSqueeze
from focuschart.kit.unmoved import Unmoved

FORMAT = 1
MAX_MARKS = 40
MAX_STOPS = 8
DIAGONAL_PER_CIRCLE = 1500
"""Common practice: the circle of confusion is the format's diagonal over 1500."""

GAUGE_MM = 230.0
"""From chin (menton) to crown (vertex), between the means of men and of women.

Source: C. C. Gordon et al., 1988 Anthropometric Survey of U.S. Army Personnel, NATICK/TR-89/044,
menton to top of head, means 232 mm and 218 mm (from memory).
"""


FocusHeight = Annotated[float | None, Length(0.0, MOST_HEIGHT_MM)]

LOOSE_PARTS = {
    "step_rings": "step ring",
    "clamps": "clamp",
    "filters": "filter",
    "close_up_lenses": "close-up lens",
}
"""Sections of parts of chain and front → what to call such a part."""


class Part(NamedTuple):
    """A part of chain or front: its section of the kit, what to call it, and its table."""

    section: str
    kind: str
    table: StepRing | Clamp | Filter | CloseUpLens


_VERTEX_HELP = (
    "Mount the whole rig and set both rings to infinity. Hold a tape from the sensor mark on the "
    "body, parallel to the axis, to the foremost point of the front glass."
)
_DISTANCES_HELP = (
    "Every distance you want a mark for on both rings, from the sensor mark; inf is infinity. "
    "Only distances that every rig can focus are taken. A single rig can be given its own in the "
    "kit file."
)


class Rig(Table):
    """One camera, one taking lens and one attachment, with the chain that joins them."""

    name: Annotated[
        Name,
        Key("As printed on strips and card", '"Portrait"', ""),
        Ask("name of the rig", "Printed on its strips and card."),
    ]
    camera: Annotated[Id, Key("Id of its camera", '"main-camera"', "")]
    mode: Annotated[
        Id | None,
        Key(
            "The camera's sensor mode; else that of the camera's own keys",
            '"crop"',
            "",
            more="Needed where the camera states no size of its own.",
        ),
    ] = None
    taking_lens: Annotated[Id, Key("Id of its taking lens", '"eighty-five"', "")]
    attachment: Annotated[Id, Key("Id of its attachment", '"double"', "")]
    chain: Annotated[
        list[Id],
        Key("From lens to front; [] if nothing stands between", '["step-up", "rear-clamp"]'),
        Ask(
            "its parts from lens to front, by number with commas between",
            "Which step rings and clamps this rig uses, in order from the lens; none if it "
            "uses none.",
        ),
    ] = Field(default=[])
    front_vertex: Annotated[
        float | None,
        Length(20.0, 2000.0),
        Key(
            "Sensor mark to the foremost point of glass, both rings at infinity. If you measure "
            "it, the lengths of lens and attachment above are not needed.",
            '"202 mm"',
        ),
        Ask("from the sensor mark to the foremost glass", _VERTEX_HELP),
    ] = None
    distances: Annotated[
        list[Distance] | None,
        Field(min_length=1, max_length=MAX_MARKS),
        Key(
            "This rig's own marks, in place of the distances above.",
            '["1.2 m", "2 m", "4 m", "inf"]',
        ),
    ] = None
    focus_height: Annotated[
        FocusHeight,
        Key("This rig's own height of the marks, in place of the one above.", '"3 mm"'),
    ] = None
    front: Annotated[
        list[Id], Key("Filters, close-up lenses and step rings, outward", '["clear"]')
    ] = Field(default=[])
    support: Annotated[Id | None, Key("The support under the front", '"rod-support"', "")] = None
    desqueeze: Annotated[
        float | None,
        number(1.05, 3.0),
        Key("Post widens all by this, not each shot by its own squeeze", "2"),
    ] = None
    front_unit: Annotated[
        float | None,
        mass(1.0, 10_000.0),
        Key(
            "Tell the load with so much more on the front, too",
            '"600 g"',
            more="Such as a variable close-up unit; what that overloads cannot work.",
        ),
    ] = None
    index_set_at: Annotated[
        IndexSetAt | None,
        Key(
            "If an index was taped where its ring showed a mark in best focus: that mark",
            '{ taking = "3 m", attachment = "3 m" }',
            more="It takes out what is off alike at all marks, on this rig.",
        ),
    ] = None
    carrier: Annotated[Id | None, Key("What carries the whole rig", '"tripod"', "")] = None

    @property
    def rings(self) -> dict[str, tuple[str, ...]]:
        """The key of each ring; the taking ring's has the camera, which shifts infinity."""
        return {
            "taking": ("taking", self.taking_lens, self.camera),
            "attachment": ("attachment", self.attachment),
        }


# Left to `references.check_references`, so that a kit with a faulty part can still be checked.
_AT_LEAST_ONE: Any = Field(default={}, json_schema_extra={"minProperties": 1})
_MAYBE_NONE: Any = Field(default={})


class Kit(Table):
    """A whole kit file."""

    format: Annotated[Literal[1], Key("The version of this file's format, always 1", "1")]
    include: Annotated[
        list[str], Key('Files with more of the kit: ["lenses.toml", "rings.toml"]', "[]")
    ] = Field(default=[])
    name: Annotated[
        Name,
        Key("Printed on every sheet and card", '"My bag"'),
        Ask("Name of the kit", "Printed on every sheet and card.", offered=True),
    ]
    units: Annotated[
        Literal["metric", "imperial", "both"],
        Key("What is printed", '"metric"', 'what is printed: "metric", "imperial" or "both"'),
        Ask(
            "Units on the marks: metric, imperial or both",
            "What is printed on strips and card. Your answers may be in any unit.",
            offered=True,
        ),
    ] = "metric"
    distances: Annotated[
        list[Distance],
        Field(min_length=1, max_length=MAX_MARKS),
        Key(
            "Subject distances to mark, from the sensor mark. A rig leaves out those that it "
            "cannot reach.",
            '["1.2 m", "1.5 m", "2 m", "3 m", "5 m", "10 m", "inf"]',
        ),
        Ask("Subject distances to mark, with commas between", _DISTANCES_HELP),
    ]
    stops: Annotated[
        list[Stop],
        Field(min_length=1, max_length=MAX_STOPS),
        Key(
            "F-numbers for depth of field. The first is the working stop: the bars on the strips "
            "are for it.",
            "[2.8, 4, 5.6]",
        ),
        Ask(
            "Stops for depth of field, the working stop first",
            "F-numbers with commas between. Bars and tolerances on the strips are for the "
            "first one.",
        ),
    ]
    circle_of_confusion: Annotated[
        float | None,
        CircleText,
        Key(
            "Blur allowed on the finished frame; without it, the sensor's diagonal divided by "
            "1500.",
            '"0.029 mm"',
        ),
    ] = None
    focus_height: Annotated[
        FocusHeight,
        Key(
            "How far above the middle of the picture the marks are for, on the sensor; without "
            "it, a sixth of the sensor's height: the upper third, where eyes are.",
            '"4 mm"',
            more='"0 mm" is the middle.',
        ),
    ] = None
    gauge: Annotated[
        float,
        Length(10.0, 10_000.0),
        Key(
            "Height of what you frame by: card and phone tell how much of the picture's height it "
            "takes. Without it, 230 mm: a grown person's head, from chin to crown.",
            '"230 mm"',
        ),
    ] = GAUGE_MM
    deliveries: Annotated[
        list[Delivery],
        Key(
            'Ratios of the finished picture, width over height; "scope" and "flat" are digital '
            "cinema's.",
            '["2.39", "16:9"]',
        ),
    ] = Field(default=[])
    lean_limit: Annotated[
        float | None,
        angle(0.01, 45.0),
        Key("How far a fast pan may make upright edges lean.", '"1 deg"'),
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
    bench: Bench = Bench()
    readings: list[Reading] = Field(default=[])
    unmoved: list[Unmoved] = Field(default=[])
    squeezes: list[MeasuredSqueeze] = Field(default=[])
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
        """Return a problem with the included file that has its key, if it is not the kit itself."""
        return self._origins.placed(problem)

    def require_rigs(self, rigs: Collection[str], *, option: str = "rigs") -> None:
        """Raise InputError, naming file and option, for rigs that are not in the kit."""
        unknown = [rig for rig in dict.fromkeys(rigs) if rig not in {*self.rigs, *self.broken}]
        if unknown:
            where, having = f"{self.source}: {option} is", "the kit has"
            lines = (f"{where} {shown(rig)}: no such rig{likely(rig, self.rigs, having=having)}"
                     for rig in unknown)  # fmt: skip
            raise InputError("\n".join(lines))

    def read_from(
        self, source: str, origins: Origins, broken: Mapping[str, tuple[Problem, ...]]
    ) -> Self:
        """Return the kit without its broken rigs, with their problems and its files."""
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
        """Step rings and clamps by id."""
        return {**self.step_rings, **self.clamps}

    def mode(self, rig: Rig) -> Mode:
        """Return a rig's sensor mode; raises KeyError where the camera has none such."""
        found = self.cameras[rig.camera].mode(rig.mode)
        if found is None:
            raise KeyError(rig.mode)
        return found

    def circle_mm(self, rig: Rig) -> float:
        """Return a rig's circle of confusion, by the diagonal where none is given.

        A named mode never takes the kit's circle, which is meant for one size of sensor only.
        """
        mode = self.mode(rig)
        common = self.circle_of_confusion if rig.mode is None else None
        return mode.circle_of_confusion or common or mode.diagonal_mm / DIAGONAL_PER_CIRCLE

    def focus_height_mm(self, rig: Rig) -> float:
        """Return how far above the middle of the picture a rig's marks are for, on the sensor."""
        for stated in (rig.focus_height, self.focus_height):
            if stated is not None:
                return stated
        return self.mode(rig).sensor_height / 6.0

    def front_vertex_mm(self, rig: Rig) -> float | None:
        """Return sensor to foremost glass at infinity, measured or summed, if known."""
        return self.parts_mm(rig) if rig.front_vertex is None else rig.front_vertex

    def parts_mm(self, rig: Rig) -> float | None:
        """Return what a rig's parts add up to, sensor to foremost glass, None if not known."""
        lens, attachment = self.taking_lenses[rig.taking_lens], self.attachments[rig.attachment]
        flange = self.cameras[rig.camera].flange_focal_distance
        if flange is None or lens.length is None or attachment.length is None:
            return None
        chain = math.fsum(self.links[part].thickness for part in rig.chain)
        return flange + lens.length + chain + attachment.length

    def parts_differ_mm(self, rig: Rig) -> float | None:
        """Return by how much a rig's parts add up to more than its whole, None if not known."""
        summed = self.parts_mm(rig)
        if summed is None or rig.front_vertex is None:
            return None
        return summed - rig.front_vertex


def table_at(path: Sequence[str | int]) -> type[Table]:
    """Return the kind of table at a path of the file; where it leads no further, the last one."""
    table: type[Table] = Kit
    for part in path:
        field = table.model_fields.get(str(part))
        if field is not None:
            table = next(tables_in(field.annotation), table)
    return table
