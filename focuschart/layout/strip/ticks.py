"""The ticks of a marker strip, the zones in focus as bars below them, and fine ticks between."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from focuschart.layout.page import Path, box, line
from focuschart.layout.strip.band import RingBand, Stretch
from focuschart.layout.strip.labels import Mark

TICK_STROKE_MM = 0.3
FINE_STROKE_MM = 0.13
HOLLOW_MM = 0.8
"""Width of a hollow tick; with its stroke half a millimetre is left white inside: judgement."""
_HOLLOW_STROKE_MM = 0.2
_SURE_STROKE_MM = 0.12
LEAST_APART_MM = 0.6
"""Ticks nearer than this to a labelled one are left out."""
FINE_APART_MM = 1.0
"""Least distance of fine ticks from one another and from marks; judgement, no source."""
_UNLABELLED = 0.55
_FINE, _FINE_MIDDLE = 0.45, 0.65


@dataclass(frozen=True, slots=True)
class Between:
    """Arcs at even steps of distance between marks `after` and `before`; finest choice first."""

    after: int
    before: int
    ways_mm: tuple[tuple[float, ...], ...]


def tick_mm(band: RingBand) -> float:
    """Return the height of a labelled mark's tick; less where labels run across the strip.

    There a scale of millimetres takes its height from the ticks, not from the labels.
    """
    if band.reader != "behind":
        return max(1.4, 0.24 * band.row_mm - band.scale_mm)
    return max(min(2.4, band.row_mm - 2.8), 0.3 * band.row_mm)


def shown_marks(marks: Sequence[Mark], labelled: Collection[int], band: RingBand) -> list[int]:
    """Return the numbers of the marks with a tick: those labelled or clear of all ticks before."""
    shown = sorted(labelled)
    rest = [number for number in range(len(marks)) if number not in labelled]
    for number in sorted(rest, key=lambda number: marks[number].rank):
        if all(_apart(marks[number], marks[other], band) >= LEAST_APART_MM for other in shown):
            shown.append(number)
    return shown


def _apart(mark: Mark, other: Mark, band: RingBand) -> float:
    """Return the distance of two ticks, mm; a full turn if they are in different rows."""
    if band.turn(mark.arc_mm) != band.turn(other.arc_mm):
        return band.length_mm
    return abs(band.x(mark.arc_mm) - band.x(other.arc_mm))


def mark_shapes(
    marks: Sequence[Mark], labelled: Collection[int], band: RingBand
) -> Iterator[tuple[Stretch, Path]]:
    """Yield ticks; for labelled marks also the zone in focus as a bar and the error as a stroke.

    Each comes with the span it takes along the strip.
    """
    high = tick_mm(band)
    for number in shown_marks(marks, labelled, band):
        size = high if number in labelled else _UNLABELLED * high
        if marks[number].sure:
            yield _tick(marks[number].arc_mm, size, TICK_STROKE_MM, f"mark:{number}", band)
        else:
            yield _hollow(marks[number].arc_mm, size, f"mark:{number}", band)
    levels = _levels([marks[number] for number in sorted(labelled)], high)
    for number, level in zip(sorted(labelled), levels, strict=True):
        mark, unit = marks[number], _unit(high)
        zone = (mark.low_arc_mm, mark.high_arc_mm)
        yield from _bars(zone, (0.7 + 0.8 * level) * unit, 0.5 * unit, f"zone:{number}", band)
        sure = (mark.arc_mm - mark.sure_mm, mark.arc_mm + mark.sure_mm)
        yield from _bars(sure, high, _SURE_STROKE_MM, f"sure:{number}", band)


def _unit(high: float) -> float:
    """Return the scale of zone bars, smaller with short ticks."""
    return min(1.0, high / 2.4)


def _levels(marks: Sequence[Mark], high: float) -> list[int]:
    """Return the level of each zone bar: the lowest without overlap, else the least full."""
    count = min(3, 1 + int((high / _unit(high) - 1.4) / 0.8 + 1e-9))
    ends = [float("-inf")] * count
    levels = [0] * len(marks)
    for index in sorted(range(len(marks)), key=lambda index: marks[index].low_arc_mm):
        low, top = marks[index].low_arc_mm, marks[index].high_arc_mm
        free = [level for level in range(count) if ends[level] + 0.3 <= low]
        levels[index] = free[0] if free else min(range(count), key=lambda level: ends[level])
        ends[levels[index]] = max(ends[levels[index]], top)
    return levels


def _tick(
    arc: float, size: float, stroke: float, key: str, band: RingBand
) -> tuple[Stretch, Path]:  # fmt: skip
    turn, x = band.turn(arc), band.x(arc)
    ends = ((x, band.row_y(turn, 0.0)), (x, band.row_y(turn, size)))
    return Stretch(turn, x, x), line(*ends, stroke_mm=stroke, key=key)


def _hollow(arc: float, size: float, key: str, band: RingBand) -> tuple[Stretch, Path]:
    """Return the outline of a tick, its middle at the arc."""
    turn, left = band.turn(arc), band.x(arc) - HOLLOW_MM / 2.0
    foot = min(band.row_y(turn, 0.0), band.row_y(turn, size))
    outline = box(left, foot, HOLLOW_MM, size, stroke_mm=_HOLLOW_STROKE_MM, key=key)
    return Stretch(turn, left, left + HOLLOW_MM), outline


def _bars(
    arcs: tuple[float, float], height: float, stroke: float, key: str, band: RingBand
) -> Iterator[tuple[Stretch, Path]]:
    for number, part in enumerate(band.along(*arcs)):
        if part.high > part.low:
            y = band.row_y(part.turn, height)
            ends = ((part.low, y), (part.high, y))
            yield part, line(*ends, stroke_mm=stroke, key=f"{key}.{number}")


def fine_ticks(
    between: Sequence[Between], marks: Sequence[Mark], labelled: Collection[int], band: RingBand
) -> Iterator[tuple[Stretch, Path]]:
    """Yield the finest even ticks that fit between each two neighbouring labelled marks.

    The middle one of an odd number is longer. If not all of a choice fit, none of it is drawn.
    """
    high = tick_mm(band)
    blocked = [mark.arc_mm for mark in (marks[n] for n in shown_marks(marks, labelled, band))]
    for group in between:
        if group.after in labelled and group.before in labelled:
            way = next((way for way in group.ways_mm if _roomy(way, blocked, band)), ())
            for number, arc in enumerate(way):
                size = _FINE_MIDDLE if 2 * number + 1 == len(way) else _FINE
                key = f"fine:{group.after}.{number}"
                yield _tick(arc, size * high, FINE_STROKE_MM, key, band)


def _roomy(way: Sequence[float], blocked: Sequence[float], band: RingBand) -> bool:
    """Return whether ticks are clear of one another, of marks, zero line and seam."""
    own = all(abs(b - a) >= FINE_APART_MM for a, b in pairwise(way))
    clear = all(abs(arc - mark) >= FINE_APART_MM for arc in way for mark in blocked)
    xs = [band.x(arc) for arc in way]
    zero = all(abs(x - band.x(0.0)) >= FINE_APART_MM for x in xs)
    seam = all(FINE_APART_MM <= x <= band.length_mm - FINE_APART_MM for x in xs)
    turns = all(0 <= band.turn(arc) < band.turns for arc in way)
    return bool(way) and own and clear and zero and seam and turns
