"""The band: what marker and ruler strips have in common: length, zero line, seam and tab.

Along the strip x = lead-in + arc, from left to right for a reader behind the camera; y rises
toward the subject. An arc is a ruler figure, in millimetres of the ruler strip, which are longer
or shorter here where this strip is thicker or thinner than the ruler. `length_mm` is once round
the ring; the tab beyond it goes underneath. A ring that turns past one revolution has a row for
each turn, the first next to the index.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, NamedTuple

from focuschart.layout.page import PAPER, Anchor, Path, Shape, Span, Text, line
from focuschart.layout.sheet.beside import Note
from focuschart.layout.sheet.block import Limit

Reader = Literal["behind", "left", "right"]
Side = Literal["camera", "subject"]

LEAD_IN_MM = 8.0
TAB_MM = 10.0
LEAST_ROW_MM = 4.0

_ROTATION = {"behind": 0.0, "left": -math.pi / 2, "right": math.pi / 2}


class Stretch(NamedTuple):
    """A span along the row of one turn; `badge` marks that of the turn's number."""

    turn: int
    low: float
    high: float
    badge: bool = False

    def meets(self, other: Stretch) -> bool:
        """Return whether both overlap."""
        return self.turn == other.turn and self.low < other.high and other.low < self.high


@dataclass(frozen=True, slots=True)
class RingBand:
    """The strip of one ring: its size, its reader, and the side of the ring where the index is.

    `length_mm` is taken at the edge next to the index; `far_mm` is once round at the other edge
    of a ring that tapers, None for a cylinder.
    """

    length_mm: float
    width_mm: float
    reader: Reader
    index_side: Side
    turns: int = 1
    far_mm: float | None = None
    spare_mm: float = math.inf
    """Width of the ring left free beside the strip, infinity where it is not known."""
    ruler_mm: float = 1.0
    """Length on this strip of one millimetre of the ruler."""
    scale_mm: float = 0.0
    """Height kept free for the ruler's millimetres, at the edge of each row off the index."""

    @property
    def limits(self) -> tuple[Limit, ...]:
        """How far film may pass the strip: not at the index edge, elsewhere to the ring's edge."""
        total, high = self.total_mm, self.width_mm
        low_mm, high_mm = (0.0, self.spare_mm) if self.index_side == "camera" else (
            self.spare_mm, 0.0
        )  # fmt: skip
        return (
            Limit(Path(((0.0, 0.0), (total, 0.0)), stroke_mm=None), low_mm),
            Limit(Path(((total, high), (0.0, high)), stroke_mm=None), high_mm),
        )

    def edge_notes(self, infinity_mm: float | None = None) -> tuple[Note, ...]:
        """Return the words outside the cut at the index's edge, from the ring's arc at infinity."""
        upper = self.index_side == "subject"
        edge = Note("this edge to the fixed index", upper)
        if infinity_mm is None:
            return (edge,)
        return edge, Note("∞ about here, with the ring at infinity", upper, self.x(infinity_mm))

    @property
    def total_mm(self) -> float:
        """Length of the paper, tab included."""
        return self.length_mm + TAB_MM

    @property
    def row_mm(self) -> float:
        """Height of each turn's row."""
        return self.width_mm / self.turns

    @property
    def room_mm(self) -> float:
        """Height of each row for marks, labels and captions."""
        return self.row_mm - self.scale_mm

    def whole_mm(self, turn: int) -> range:
        """Return the whole ruler millimetres of a turn, those left of the zero line too."""
        start = turn * self.length_mm - LEAD_IN_MM
        first, following = start / self.ruler_mm, (start + self.length_mm) / self.ruler_mm
        return range(math.ceil(first), math.ceil(following))

    def x(self, arc_mm: float) -> float:
        """Return the x of an arc (mm on the ruler); arcs one turn apart have the same x."""
        return (arc_mm * self.ruler_mm + LEAD_IN_MM) % self.length_mm

    def turn(self, arc_mm: float) -> int:
        """Return the number of the turn in which an arc lies, from 0; always 0 if `turns` is 1."""
        if self.turns == 1:
            return 0
        return math.floor((arc_mm * self.ruler_mm + LEAD_IN_MM) / self.length_mm)

    def y(self, from_index_mm: float) -> float:
        """Return the y on the strip at a distance from the edge next to the index."""
        return from_index_mm if self.index_side == "camera" else self.width_mm - from_index_mm

    def row_y(self, turn: int, from_base_mm: float) -> float:
        """Return the y on the strip at a distance from the base of a turn's row."""
        return self.y(turn * self.row_mm + from_base_mm)

    @property
    def zero_span(self) -> Span:
        """The span along the strip that the zero line's mark takes."""
        return self.x(0.0) - 1.0, self.x(0.0) + 1.0

    @property
    def seam_span(self) -> Span:
        """The span along the strip of the seam and the tab."""
        return self.length_mm - 0.5, self.total_mm

    def along(self, low_arc: float, high_arc: float) -> list[Stretch]:
        """Return the span between two arcs along the strip, in two parts if it crosses the seam."""
        turn, start = self.turn(low_arc), self.x(low_arc)
        end = start + min((high_arc - low_arc) * self.ruler_mm, self.length_mm)
        if end <= self.length_mm:
            return [Stretch(turn, start, end)]
        following = 0 if self.turns == 1 else turn + 1
        parts = (
            Stretch(turn, start, self.length_mm), Stretch(following, 0.0, end - self.length_mm)
        )  # fmt: skip
        return [part for part in parts if 0 <= part.turn < self.turns]

    def text(self, text: str, x: float, y: float, *, cap_mm: float, key: str = "") -> Text:
        """Return a label centred on (x, y), upright for the strip's reader."""
        rotation = _ROTATION[self.reader]
        drop = cap_mm / 2.0
        baseline = (x + drop * math.sin(rotation), y - drop * math.cos(rotation))
        anchor: Anchor = "middle"
        return Text(text, *baseline, cap_mm, anchor, rotation, key=key)

    def frame(self) -> list[Shape]:
        """Return the zero line, the seam, the lines between rows and the tab's hatching."""
        zero = self.x(0.0)
        middle = self.width_mm / 2.0
        diamond = ((zero - 0.9, middle), (zero, middle - 1.3), (zero + 0.9, middle),
                   (zero, middle + 1.3))  # fmt: skip
        hatch = [
            line((x, 0.8), (x + 1.6, self.width_mm - 0.8), stroke_mm=0.1, key=f"tab:{number}")
            for number, x in enumerate(self.length_mm + 1.5 + 2.0 * step for step in range(4))
        ]
        rows = [
            line((0.0, self.row_y(turn, 0.0)), (self.length_mm, self.row_y(turn, 0.0)),
                 stroke_mm=0.15, key=f"row:{turn}")
            for turn in range(1, self.turns)
        ]  # fmt: skip
        return [
            *rows,
            line((zero, 0.0), (zero, self.width_mm), stroke_mm=0.15, key="zero"),
            Path(diamond, closed=True, stroke_mm=0.15, fill=PAPER, key="zero-mark"),
            line((self.length_mm, 0.0), (self.length_mm, self.width_mm), stroke_mm=0.15,
                 key="seam"),
            *hatch,
        ]  # fmt: skip
