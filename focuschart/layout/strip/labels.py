"""The labels of a marker strip: their size, number of lines, and which ones are left out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from focuschart.layout.page import Face, Shape, line
from focuschart.layout.strip.band import RingBand, Stretch
from focuschart.layout.text.typeset import SMALLEST_CAP_MM, widest

LARGEST_CAP_MM = 4.0
_STEP_MM = 0.2
_WORTH = (1.0, 0.75, 0.6)
"""Weight of the letter size in one, two and three lines: one line reads faster; judgement."""
_EDGE_MM = 0.4
_OFF_CUT_MM = 1.5
"""Of a label's end from the cut: scissors stray by a millimetre; judgement, no source."""
_LEAST_GAP_MM = 0.8
_GAP, _GAP_OF_PAIRS = 0.35, 1.2
"""Gap between labels, in heights of capitals; wider for pairs, which contain spaces of 0.44."""
_LEADER_STROKE_MM = 0.13
_LEADER_CLEAR_MM = 0.5
_ZERO_CLEAR_MM = 1.2


class Mark(NamedTuple):
    """One distance on the ring. Arcs in mm; labels of low `rank` are placed first.

    One that is not `sure` gets a hollow tick.
    """

    label: str
    arc_mm: float
    low_arc_mm: float
    high_arc_mm: float
    sure_mm: float
    rank: int
    sure: bool = True


@dataclass(frozen=True, slots=True)
class Lettering:
    """Height of capitals; baseline of each line and top of all labels, mm above a row's base."""

    cap_mm: float
    lines_mm: tuple[float, ...]
    top_mm: float
    pairs: bool = False
    """Whether labels have two parts side by side, in metres and feet."""

    @property
    def gap_mm(self) -> float:
        """Least gap between two labels of a line."""
        return max(_LEAST_GAP_MM, (_GAP_OF_PAIRS if self.pairs else _GAP) * self.cap_mm)


@dataclass(frozen=True, slots=True)
class Label:
    """A placed label: the number of its mark, the x of its middle and tick, its line and span."""

    number: int
    text: str
    x: float
    tick_x: float
    height_mm: float
    line: int
    span: Stretch

    @property
    def leader(self) -> Stretch:
        """The span that a leader from an upper line to the tick takes in the lines below."""
        low, high = self.tick_x - _LEADER_CLEAR_MM, self.tick_x + _LEADER_CLEAR_MM
        return Stretch(self.span.turn, low, high)


def letterings(
    band: RingBand, tick_mm: float, labels: Sequence[str], *, face: Face
) -> list[Lettering]:
    """Return the possible letterings above ticks `tick_mm` high, the most readable first.

    Empty where not even the smallest legible size fits. Labels for a reader at the side run across
    the strip, toward the cut: they keep `_OFF_CUT_MM` from it where the smallest size allows.
    """
    caps = np.arange(SMALLEST_CAP_MM, LARGEST_CAP_MM + 0.01, _STEP_MM).round(2).tolist()
    behind = band.reader == "behind"
    edges = (_EDGE_MM,) if behind else (max(_OFF_CUT_MM - band.scale_mm, _EDGE_MM), _EDGE_MM)
    ways: list[Lettering] = []
    for edge in edges:
        every = (
            _lettering(band, tick_mm, lines, cap, edge, labels=labels, face=face)
            for lines in ((1, 2, 3) if behind else (1,))
            for cap in caps
        )
        ways = ways or [way for way in every if way]
    return sorted(ways, key=lambda way: way.cap_mm * _WORTH[len(way.lines_mm) - 1], reverse=True)


def _lettering(
    band: RingBand, tick: float, lines: int, cap: float, edge: float, *, labels: Sequence[str],
    face: Face,
) -> Lettering | None:  # fmt: skip
    """Return labels whose far end is `edge` from the row's edge, None where they do not fit."""
    height = cap if band.reader == "behind" else widest(labels, face=face, cap_mm=cap)
    between = max(0.7, 0.3 * cap)
    spare = band.room_mm - tick - lines * height - (lines - 1) * between
    if spare < _EDGE_MM + edge - 1e-9:
        return None
    foot = tick + min(max(_EDGE_MM, 0.4 * cap), spare - edge)
    feet = tuple(foot + row * (height + between) for row in range(lines))
    pairs = band.reader == "behind" and any(" " in label for label in labels)
    return Lettering(cap, feet, feet[-1] + height, pairs)


def place_labels(
    marks: Sequence[Mark], band: RingBand, lettering: Lettering, *, face: Face
) -> list[Label]:
    """Return the labels that fit, placed in order of rank, each on the lowest free line.

    A leader runs from a label on an upper line to its tick; lower labels keep clear of it. A label
    of a rank below zero is moved along the strip before it is left out.
    """
    lines: list[list[Stretch]] = [[] for _ in lettering.lines_mm]
    placed: list[Label] = []
    for number, mark in sorted(enumerate(marks), key=lambda pair: pair[1].rank):
        label = _label(number, mark, band, lettering, face)
        row = _free_line(label, lines)
        if row is None and mark.rank < 0:
            label = _moved_aside(label, lines[0], band)
            row = _free_line(label, lines[:1])
        if row is not None:
            lines[row].append(label.span)
            for lower in lines[:row]:
                lower.append(label.leader)
            placed.append(replace(label, line=row))
    return placed


def _free_line(label: Label, lines: Sequence[Sequence[Stretch]]) -> int | None:
    """Return the lowest line where a label and its leader are free, None if there is none."""
    for row, taken in enumerate(lines):
        if not any(label.span.meets(span) for span in taken):
            return row
        if any(label.leader.meets(span) for span in taken):
            return None
    return None


def _moved_aside(label: Label, taken: Sequence[Stretch], band: RingBand) -> Label:
    """Return a label moved to the nearest free place, or unchanged where there is none."""
    reach = (label.span.high - label.span.low) / 2.0
    zero, off = band.x(0.0), reach + _ZERO_CLEAR_MM + 1e-9
    edges = [zero - off, zero + off] + [
        x for span in taken if span.turn == label.span.turn
        for x in (span.low - reach, span.high + reach)
    ]  # fmt: skip
    places = [
        _moved(label, x)
        for x in sorted(edges, key=lambda x: abs(x - label.tick_x))
        if reach <= x <= band.length_mm - reach and _clear_of_zero(x, reach, band) == x
    ]
    free = (p for p in places if not any(p.span.meets(span) for span in taken))
    return next(free, label)


def _moved(label: Label, x: float) -> Label:
    off = x - label.x
    span = Stretch(label.span.turn, label.span.low + off, label.span.high + off)
    return replace(label, x=x, span=span)


def _label(
    number: int, mark: Mark, band: RingBand, lettering: Lettering, face: Face
) -> Label:  # fmt: skip
    x, cap = band.x(mark.arc_mm), lettering.cap_mm
    along, across = face.width_mm(mark.label, cap_mm=cap), cap
    if band.reader != "behind":
        along, across = across, along
    half = along / 2.0
    centre = _clear_of_zero(min(max(x, half + 0.3), band.length_mm - half - 0.3), half, band)
    reach = half + lettering.gap_mm / 2.0
    span = Stretch(band.turn(mark.arc_mm), centre - reach, centre + reach)
    return Label(number, mark.label, centre, x, across, 0, span)


def _clear_of_zero(x: float, half: float, band: RingBand) -> float:
    """Return the x of a label, moved aside where the zero line would cross it."""
    zero, off = band.x(0.0), half + _ZERO_CLEAR_MM
    if abs(x - zero) >= off:
        return x
    left = zero - off
    return left if x < zero and left >= half + 0.3 else zero + off


def label_shapes(
    labels: Sequence[Label], band: RingBand, lettering: Lettering, tick_mm: float
) -> Iterator[Shape]:
    """Yield labels, upright for the reader, and the leaders of those on upper lines."""
    for label in labels:
        turn = label.span.turn
        foot = lettering.lines_mm[label.line]
        middle = foot + label.height_mm / 2.0
        yield band.text(label.text, label.x, band.row_y(turn, middle), cap_mm=lettering.cap_mm,
                        key=f"label:{label.number}")  # fmt: skip
        x, aside = label.tick_x, (label.span.high - label.span.low - lettering.gap_mm) / 2.0
        if label.line or abs(label.x - x) > aside + _EDGE_MM:
            end = min(max(x, label.x - aside), label.x + aside)
            yield line((x, band.row_y(turn, tick_mm)), (end, band.row_y(turn, foot - 0.3)),
                       stroke_mm=_LEADER_STROKE_MM, key=f"leader:{label.number}")  # fmt: skip
