"""A side view of the rig: its parts along the axis to scale, its supports, and distances.

Names are above, each beside a leader. Below, each distance from the sensor plane has a row of its
own, the shortest nearest the drawing, so that no line crosses a word.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from focuschart.errors import PageError
from focuschart.layout.page import BLACK, PAPER, Face, Path, Point, Shape, Text, box, circle, line
from focuschart.layout.rig.footprint import scale_words
from focuschart.layout.sheet.block import Block
from focuschart.layout.text.typeset import LEADING, SMALLEST_CAP_MM, shortened, widest
from focuschart.units import MM_PER_INCH

SCALES = tuple(1.0 / number for number in (1, 2, 3, 4, 5, 6, 8, 10, 15, 20, 30, 50))
"""Scales to choose from, mm on paper per true mm."""
LEGEND = (
    "Side view. Thin outline: height not known, drawn plain. Dots: where each mass acts. Quartered "
    "circle and triangle: where the whole balances. Plate, screw and support are drawn plain."
)
"""The legend of a view's symbols, for the words beside it."""

_TITLE = "Side view, both rings at infinity"
_HEADINGS = {False: "From the sensor mark, mm", True: "From the sensor mark, inches"}
_TITLE_CAP_MM = 2.2
_CAP_MM = SMALLEST_CAP_MM + 0.1
_ROW_MM = 3.2
_LABEL_ROW_MM = 3.4
_LONGEST_LABEL_MM = 62.0
_EDGE_MM = 1.0
_BEHIND_MM = 12.0
_THIN_MM, _FIRM_MM = 0.12, 0.35
_GREY, _PALE = "#808080", "#d4d4d4"
_ARROW_MM = (1.8, 0.5)
_BAR_MM, _OVERHANG_MM, _POST_MM, _SCREW_MM = 1.0, 6.0, 3.0, 1.8
_CLEAR_MM = 4.0
_FOOT_MM = 3.2
_MARK_MM = 1.2
_AHEAD_MM = 9.0
_CIRCLE = 48


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece from `start_mm` to `end_mm` along the axis, its mass centred at `centre_mm`.

    `note` follows the label and is never shortened. `known` is False where `height_mm` is assumed,
    `open_behind` True where it is unknown how far the piece reaches behind its start.
    """

    label: str
    start_mm: float
    end_mm: float
    height_mm: float
    centre_mm: float
    note: str = ""
    known: bool = True
    open_behind: bool = False


@dataclass(frozen=True, slots=True)
class Measure:
    """A distance along the axis from the sensor plane, and the name of its end point."""

    label: str
    at_mm: float


@dataclass(frozen=True, slots=True)
class SideView:
    """Pieces from the sensor plane to the front; positions in mm, nan where there is none.

    `centre_mm` is the centre of gravity of the whole, under which it balances. With
    `inches` the figures are printed so.
    """

    pieces: tuple[Piece, ...]
    measures: tuple[Measure, ...]
    centre_mm: float
    thread_mm: float = math.nan
    support_mm: float = math.nan
    inches: bool = False

    def __post_init__(self) -> None:
        """Raise PageError for a view that cannot be drawn."""
        if not self.pieces:
            raise PageError("a side view needs one piece or more")
        for piece in self.pieces:
            sizes = (piece.start_mm, piece.end_mm, piece.height_mm, piece.centre_mm)
            if not all(map(math.isfinite, sizes)) or piece.height_mm <= 0.0:
                raise PageError(f"{piece.label}: a piece needs finite places and a height")
            if piece.end_mm < piece.start_mm:
                raise PageError(f"{piece.label}: a piece ends before it starts")
        if not all(map(math.isfinite, (self.centre_mm, *(m.at_mm for m in self.measures)))):
            raise PageError("a side view needs finite distances and a centre of gravity")


def side_view_block(view: SideView, *, scale: float, face: Face) -> Block:
    """Return the side view at a scale, mm on paper per true mm, length and height alike.

    It has no cut outline and cannot be split. Raises PageError for a scale that is not above zero.
    """
    if not 0.0 < scale < math.inf:
        raise PageError("a side view needs a scale above zero")
    return _Drawing(view, scale, face).block()


class _Drawing:
    """A view at its scale: where its axis, sensor plane and rows lie on paper."""

    def __init__(self, view: SideView, scale: float, face: Face) -> None:
        self.view, self.scale, self.face = view, scale, face
        self.rows = sorted(view.measures, key=lambda measure: abs(measure.at_mm))
        names = [measure.label for measure in self.rows]
        self.heading = _HEADINGS[view.inches]
        figures = [self._figure(measure) for measure in self.rows]
        names_and_figures = self._widest(names) + 3.0 + self._widest(figures)
        self.column = _EDGE_MM + max(names_and_figures, self._widest([self.heading]))
        places = [view.centre_mm, *_known(view.thread_mm), *_known(view.support_mm)]
        places += [measure.at_mm for measure in view.measures]
        back = min([0.0, *places, *(piece.centre_mm for piece in view.pieces)])
        self.behind = max(_BEHIND_MM, 3.0 - scale * back)
        self.x0 = max(self.column + 3.0 - scale * min([0.0, *places]), self.behind + _EDGE_MM + 1.0)
        self.half = scale * max(piece.height_mm for piece in view.pieces) / 2.0
        self.labels = [self._label(piece) for piece in view.pieces]
        self.leaders = [self._leader(piece) for piece in view.pieces]
        self.levels = _levels(self.leaders, [self._widest([label]) for label in self.labels])
        ahead = [edge for piece in view.pieces for edge in (piece.end_mm, piece.centre_mm)]
        self.front = self.x(max([*places, *ahead]))
        self.right = _EDGE_MM + max(
            self.front + _AHEAD_MM + self._widest(["subject"]) + 2.0,
            _EDGE_MM + face.width_mm(_TITLE, cap_mm=_TITLE_CAP_MM),
            *(x + 0.8 + self._widest([text])
              for x, text in zip(self.leaders, self.labels, strict=True)),
        )  # fmt: skip
        self.foot = _EDGE_MM + 1.0
        self.base = self.foot + _ROW_MM * (len(self.rows) + 1) + _FOOT_MM + 1.0
        self.axis = self.base + _BAR_MM + _CLEAR_MM + self.half
        self.over = self.axis + self.half + 2.0 * _MARK_MM + 3.0

    def x(self, at_mm: float) -> float:
        """Return a place along the axis on paper."""
        return self.x0 + self.scale * at_mm

    def block(self) -> Block:
        """Return the drawing as a block; filled shapes come after those they may cover."""
        top = self.over + _LABEL_ROW_MM * (max(self.levels) + 1) + 3.0
        shapes: list[Shape] = [
            *self._drops(), *self._rest(), *self._pieces(), *self._names(), *self._plane(),
            *self._distances(), *self._centres(), *self._titles(top),
        ]  # fmt: skip
        height = top + LEADING * _TITLE_CAP_MM + _TITLE_CAP_MM + _EDGE_MM
        return Block(self.right, height, tuple(shapes), (), keep=((0.0, self.right),))

    def _widest(self, texts: Sequence[str]) -> float:
        return widest(texts, face=self.face, cap_mm=_CAP_MM)

    def _label(self, piece: Piece) -> str:
        note = f", {piece.note}" if piece.note else ""
        room = _LONGEST_LABEL_MM - self._widest([note])
        return shortened(piece.label, face=self.face, cap_mm=_CAP_MM, width_mm=room) + note

    def _leader(self, piece: Piece) -> float:
        """Return the x of a piece's leader: behind the sensor plane, or in its middle."""
        if piece.open_behind:
            return self.x(piece.start_mm) - self.behind / 2.0
        return self.x((piece.start_mm + piece.end_mm) / 2.0)

    def _under(self, at_mm: float) -> float:
        """Return the y of the lowest piece edge at a position, else that of the axis."""
        halves = [p.height_mm for p in self.view.pieces if p.start_mm <= at_mm <= p.end_mm]
        if at_mm < 0.0 and self.view.pieces[0].open_behind:
            halves.append(self.view.pieces[0].height_mm)
        return self.axis - self.scale * max(halves, default=0.0) / 2.0

    def _row(self, number: int) -> float:
        return self.foot + _ROW_MM * (len(self.rows) - number - 0.5)

    # --- the rig ------------------------------------------------------------------------------

    def _pieces(self) -> Iterator[Path]:
        for number, piece in enumerate(self.view.pieces):
            low, high = (self.axis + way * self.scale * piece.height_mm / 2.0 for way in (-1, 1))
            start, end = self.x(piece.start_mm), self.x(piece.end_mm)
            stroke = _FIRM_MM if piece.known else _THIN_MM
            if piece.open_behind:
                yield self._broken(start, low, high, stroke, f"piece:{number}:behind")
            yield box(start, low, end - start, high - low, stroke_mm=stroke, fill=PAPER,
                      key=f"piece:{number}")  # fmt: skip
        back, ahead = self.x0 - self.behind + 2.0, self.front + _AHEAD_MM - 2.0
        yield line((back, self.axis), (ahead, self.axis), stroke_mm=_THIN_MM, key="axis",
                   colour=_GREY)  # fmt: skip
        yield self._arrow((ahead + 1.5, self.axis), 1.0, "axis:arrow")

    def _broken(self, start: float, low: float, high: float, stroke: float, key: str) -> Path:
        """Return an outline open to the rear that ends in a break line (ISO 128, from memory)."""
        back, middle = start - self.behind, (low + high) / 2.0
        return Path(
            ((start, high), (back, high), (back, middle + 2.0), (back + 1.4, middle + 0.7),
             (back - 0.6, middle - 0.7), (back, middle - 2.0), (back, low), (start, low)),
            closed=True, stroke_mm=stroke, fill=PAPER, key=key,
        )  # fmt: skip

    def _rest(self) -> Iterator[Path]:
        """Yield plate and screw, lens support, and the wedge under the balance point."""
        view, top = self.view, self.base + _BAR_MM
        ends = [self.x(p) for p in (view.centre_mm, *_known(view.thread_mm),
                                    *_known(view.support_mm))]  # fmt: skip
        left, right = max(_EDGE_MM, min(ends) - _OVERHANG_MM), max(ends) + _OVERHANG_MM
        right = min(right, self.right - _EDGE_MM)
        for name, at, wide, fill in (("thread", view.thread_mm, _SCREW_MM, BLACK),
                                     ("support", view.support_mm, _POST_MM, _PALE)):  # fmt: skip
            for place in _known(at):
                foot = self._under(place)
                yield box(self.x(place) - wide / 2.0, top, wide, foot - top, fill=fill,
                          stroke_mm=0.2, key=name)  # fmt: skip
        yield box(left, self.base, right - left, _BAR_MM, fill=_PALE, key="plate")
        x = self.x(view.centre_mm)
        corners = ((x, self.base), (x - 2.0, self.base - _FOOT_MM), (x + 2.0, self.base - _FOOT_MM))
        yield Path(corners, True, 0.2, BLACK, BLACK, key="balance")

    def _centres(self) -> Iterator[Path]:
        for number, piece in enumerate(self.view.pieces):
            dot = circle((self.x(piece.centre_mm), self.axis), 0.55, chords=_CIRCLE)
            yield Path(dot, True, None, fill=BLACK, key=f"centre:{number}")
        at = (self.x(self.view.centre_mm), self.axis)
        ring = circle(at, 2.0, chords=_CIRCLE)
        yield Path(ring, True, 0.25, BLACK, PAPER, key="gravity")
        for quarter in (0, 2):
            arc = ring[quarter * _CIRCLE // 4 : (quarter + 1) * _CIRCLE // 4 + 1]
            yield Path((at, *arc), True, None, fill=BLACK, key=f"gravity:{quarter}")

    # --- words and distances ------------------------------------------------------------------

    def _names(self) -> Iterator[Shape]:
        """Yield the label of each piece at the end of its leader."""
        rows = zip(self.view.pieces, self.labels, self.leaders, self.levels, strict=True)
        for number, (piece, text, x, level) in enumerate(rows):
            y = self.over + _LABEL_ROW_MM * level
            top = self.axis + self.scale * piece.height_mm / 2.0
            yield line((x, top), (x, y + _CAP_MM), stroke_mm=_THIN_MM, key=f"leader:{number}")
            yield Text(text, x + 0.8, y, _CAP_MM, key=f"label:{number}")
        yield Text("subject", self.front + _AHEAD_MM + 1.0, self.axis - _CAP_MM / 2.0, _CAP_MM,
                   key="subject")  # fmt: skip

    def _plane(self) -> Iterator[Path]:
        """Yield the sensor plane, through the mark that a camera body bears."""
        middle = self.axis + self.scale * self.view.pieces[0].height_mm / 2.0 + 1.5 + _MARK_MM
        foot = self._row(len(self.rows) - 1) if self.rows else self.base
        ends = (self.x0, foot - 1.0), (self.x0, middle + 1.7 * _MARK_MM)
        yield line(*ends, stroke_mm=0.25, key="plane")
        mark = circle((self.x0, middle), _MARK_MM, chords=_CIRCLE)
        yield Path(mark, True, 0.25, key="plane:mark")

    def _drops(self) -> Iterator[Path]:
        for number, measure in enumerate(self.rows):
            x = self.x(measure.at_mm)
            yield line((x, self._under(measure.at_mm)), (x, self._row(number) - 0.8),
                       stroke_mm=_THIN_MM, colour=_GREY, key=f"drop:{number}")  # fmt: skip

    def _distances(self) -> Iterator[Shape]:
        """Yield a row for each distance: its name, its figure, and the length to scale."""
        head = self._row(-1) - _CAP_MM / 2.0
        yield Text(self.heading, self.column, head, _CAP_MM, "end", key="from")
        for number, measure in enumerate(self.rows):
            y, end = self._row(number), self.x(measure.at_mm)
            yield Text(measure.label, _EDGE_MM, y - _CAP_MM / 2.0, _CAP_MM, key=f"to:{number}")
            yield Text(self._figure(measure), self.column, y - _CAP_MM / 2.0, _CAP_MM, "end",
                       key=f"mm:{number}")  # fmt: skip
            yield line((self.x0, y), (end, y), stroke_mm=0.15, key=f"distance:{number}")
            if abs(end - self.x0) > _ARROW_MM[0]:
                way = math.copysign(1.0, measure.at_mm)
                yield self._arrow((end, y), way, f"distance:{number}:arrow")

    def _figure(self, measure: Measure) -> str:
        if self.view.inches:
            return f"{measure.at_mm / MM_PER_INCH:.2f}"
        return f"{measure.at_mm:.1f}"

    def _arrow(self, tip: Point, way: float, key: str) -> Path:
        (x, y), (long, half) = tip, _ARROW_MM
        tail = x - way * long
        return Path((tip, (tail, y + half), (tail, y - half)), True, None, fill=BLACK, key=key)

    def _titles(self, top: float) -> Iterator[Text]:
        yield Text(_TITLE, _EDGE_MM, top + LEADING * _TITLE_CAP_MM,
                   _TITLE_CAP_MM, key="view:title")  # fmt: skip
        yield Text(scale_words(self.scale), _EDGE_MM, top, 1.8, key="view:scale")


def _levels(leaders: Sequence[float], widths: Sequence[float]) -> list[int]:
    """Return the row of each label, 0 the lowest, so that no leader or label meets another.

    A label runs right from its leader, so it goes above every label it would reach.
    """
    levels: list[int] = []
    for x, width in zip(reversed(leaders), reversed(widths), strict=True):
        right = leaders[len(leaders) - len(levels) :]
        met = [level for level, other in zip(reversed(levels), right, strict=True)
               if other < x + width + 3.0]  # fmt: skip
        levels.append(1 + max(met, default=-1))
    return levels[::-1]


def _known(value: float) -> tuple[float, ...]:
    return () if math.isnan(value) else (value,)
