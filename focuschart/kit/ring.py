"""A focus ring as measured on the barrel, and what follows from its size for its strip."""

from __future__ import annotations

import math
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from focuschart.kit.fields import Distance, Length, Name, RulerFigure, Table

MAX_TURNS = 4
STEEPEST = 0.5
"""Sine of the steepest taper of a ring: beyond it a measure is wrong; judgement, no source."""


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
    stock: Name | None = Field(
        default=None, description='The paper its strips are printed on, such as "yellow"'
    )
    mirrored: bool = Field(
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
