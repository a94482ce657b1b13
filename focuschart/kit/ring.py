"""A focus ring as measured on the barrel, and what follows from its size for its strip."""

from __future__ import annotations

import math
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from focuschart.kit.fields import Ask, Distance, Key, Length, Name, RulerFigure, Table

MAX_TURNS = 4
STEEPEST = 0.5
"""Sine of the steepest taper of a ring: beyond it a measure is wrong; judgement, no source."""


_ONE_SIZE = "Circumference or diameter, not both; of a ring that tapers, the sizes of both edges."
_TAPE, _CALIPER = Length(60.0, 950.0), Length(20.0, 300.0)


class EngravedMark(Table):
    """One figure engraved on a ring, and where it stands on the ruler strip."""

    distance: Annotated[Distance, Key("Subject distance as engraved", '"1 m"')]
    ruler: Annotated[RulerFigure, Key("Where it stands on the ruler strip, mm", "80")]


class Ring(Table):
    """A focus ring, as measured on the barrel: a cylinder by one size, a taper by two."""

    circumference: Annotated[
        float | None,
        _TAPE,
        Key("Tape round the bare ring", '"201 mm"', "", more=_ONE_SIZE),
        Ask(
            "circumference of the focus ring",
            "Wrap a strip of paper tightly round the bare ring, mark where it meets, measure it "
            "flat.",
        ),
    ] = None
    diameter: Annotated[
        float | None,
        _CALIPER,
        Key(
            "Across the bare ring",
            '"64 mm"',
            "across the bare ring; or, in its place, a tape round it:",
            more=_ONE_SIZE,
        ),
        Ask("diameter of the focus ring", "Across the bare ring, where the strip will lie."),
    ] = None
    front_circumference: Annotated[
        float | None, _TAPE, Key("Tape round the subject's edge of a ring that tapers", '"195 mm"')
    ] = None
    rear_circumference: Annotated[
        float | None, _TAPE, Key("Tape round the camera's edge of a ring that tapers", '"207 mm"')
    ] = None
    front_diameter: Annotated[
        float | None, _CALIPER, Key("Across the subject's edge of a ring that tapers", '"62 mm"')
    ] = None
    rear_diameter: Annotated[
        float | None, _CALIPER, Key("Across the camera's edge of a ring that tapers", '"66 mm"')
    ] = None
    width: Annotated[
        float | None,
        Length(4.0, 200.0),
        Key(
            "From edge to edge along the ring's surface; needed where it tapers",
            '"18 mm"',
            more="A wider strip is refused. Strips of a ring that tapers are cut as sectors.",
        ),
    ] = None
    turns: Annotated[
        int,
        Field(ge=1, le=MAX_TURNS),
        Key(
            "Where the ring turns past one revolution; a row for each",
            "2",
            more="How many turns its ruler counts.",
        ),
    ] = 1
    nearer_turns: Annotated[
        Literal["clockwise", "anticlockwise"],
        Key("To focus nearer, seen from behind the camera", '"anticlockwise"'),
        Ask(
            "ring turns nearer clockwise or anticlockwise, seen from behind the camera",
            "As you see it from behind the camera, looking toward the subject: turn the ring from "
            "infinity to near and watch its top; clockwise if the top goes to the right.",
        ),
    ]
    lead: Annotated[
        float | None,
        Length(1.0, 200.0),
        Key("Travel in one whole turn, if known; it saves a reading", '"32 mm"'),
        Ask(
            "lead of the ring, its travel in one whole turn",
            "How far the moving part would travel if the ring were turned once round. Turn it by a "
            "known part of a turn, measure the travel and scale it up; half a turn and 15 mm make "
            '30 mm. It saves a reading; answer "skip" if you do not know it.',
            offered=True,
        ),
    ] = None
    backlash: Annotated[
        float | None,
        Length(0.0, 10.0),
        Key("Its play, as arc on the ring; else 0.3 mm either way", '"0.8 mm"'),
    ] = None
    strip_width: Annotated[
        float,
        Length(4.0, 40.0),
        Key("Of the printed strip", '"12 mm"', more="At least 4 mm for each turn."),
    ] = 12.0
    strip_thickness: Annotated[
        float,
        Length(0.0, 2.0),
        Key(
            "Marker strip with all that goes round: both faces of laminate, tape",
            '"0.2 mm"',
            more="Figures are the ruler's: where the marker strip is thicker, its marks are "
            "printed that much farther apart.",
        ),
    ] = 0.2
    ruler_thickness: Annotated[
        float, Length(0.0, 2.0), Key("Ruler strip with all that goes round", '"0.2 mm"')
    ] = 0.2
    """Both strips are taken as equally thick unless the kit says otherwise: judgement."""
    read_from: Annotated[
        Literal["behind", "left", "right"],
        Key(
            "Where the reader of the strip stands",
            '"behind"',
            more="Rulers, index strips and captions are set for a reader behind.",
        ),
    ] = "behind"
    index_side: Annotated[
        Literal["camera", "subject"], Key("The side of the ring where the index lies", '"camera"')
    ] = "camera"
    engraved: Annotated[
        list[EngravedMark],
        Key(
            "The maker's figures, each with its place on the ruler strip in mm: then chart and "
            "card also say what the engraved scale reads. Take them once the ruler is on the ring.",
            '[{ distance = "1 m", ruler = 80 }, { distance = "2 m", ruler = 42.5 }]',
        ),
    ] = Field(default=[])
    stock: Annotated[
        Name | None, Key("The paper its strips go on; each sheet holds one stock", '"yellow"')
    ] = None
    mirrored: Annotated[
        bool,
        Key(
            "For the inside of clear tape",
            "true",
            more="Marker and index strip are printed mirrored; the ruler, for the bench, is not.",
        ),
    ] = False

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
        """Once round the marker strip, along the edge next to the index.

        A strip keeps its length in the middle of its thickness t, on a cylinder of diameter Ø at
        π·(Ø + t).
        """
        rear, front = self._edges_mm
        around = rear if self.index_side == "camera" else front
        slope = math.sqrt(1.0 - self._steepness**2)
        return around + math.pi * self.strip_thickness * slope

    @property
    def as_ruler(self) -> Ring:
        """The ring with its ruler strip in place of its marker strip."""
        return self.model_copy(update={"strip_thickness": self.ruler_thickness})

    @property
    def ruler_length_mm(self) -> float:
        """Once round the ruler strip, along the edge next to the index.

        Readings, and the arcs made from them, are millimetres on this strip.
        """
        return self.as_ruler.strip_length_mm

    @property
    def ruler_mm(self) -> float:
        """Length on the marker strip of one ruler millimetre: (Ø + t_marker)/(Ø + t_ruler)."""
        return self.strip_length_mm / self.ruler_length_mm

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
        return (1.0 if self.rises_nearer else -1.0) * self.ruler_length_mm / self.lead
