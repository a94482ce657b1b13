"""The ruler strip: blank millimetres round a ring, to take readings with."""

from __future__ import annotations

import math
from collections.abc import Iterator

from focuschart.errors import PageError
from focuschart.layout.block import JOIN_CLEARANCE_MM, Block, cut_box
from focuschart.layout.caption import Caption, Captions, Field, gaps, set_captions
from focuschart.layout.page import Face, Path, Shape, line
from focuschart.layout.ring import LEAD_IN_MM, LEAST_ROW_MM, RingBand
from focuschart.layout.typeset import SMALLEST_CAP_MM

_LONGEST_MM = 4.2
_LENGTHS = {10: 1.0, 5: 3.2 / _LONGEST_MM, 1: 2.2 / _LONGEST_MM}
_FIGURE_MM = 2.4
"""What a figure takes above a tick, its capitals and the room about them."""
_CLEAR_MM = 2.5
_HALF_MM = 2.2
"""Half of what three figures take along the strip."""
_LINE_MM = 2.5
_JOIN_EVERY_MM = 50.0
"""How often a ruler of several turns can be joined from pieces; a multiple of ten."""


def ruler_strip(band: RingBand, captions: tuple[Caption, ...], *, face: Face) -> Block:
    """Return a ruler strip: a tick each millimetre from the zero line, a figure every ten.

    Left of zero they count as negative, so that a ring may pass its zero. In the row of the second
    turn they count on, so that a figure always is the whole way from zero. Raises PageError for
    rows too low for figures.
    """
    if band.row_mm < LEAST_ROW_MM:
        raise PageError(
            f"a ruler {band.width_mm:g} mm wide has no room for {band.turns} turns: raise the "
            f"ring's strip_width to {LEAST_ROW_MM * band.turns:g} mm"
        )
    shapes = [shape for turn in range(band.turns) for shape in _row(band, turn)]
    written = set_captions(captions, _fields(band), face=face)
    if any(caption.arrow == "up" for caption in written.missing):
        bare = set_captions((Caption("", "up"),), [_between_figures(band)], face=face)
        written = Captions(written.shapes + bare.shapes, written.spans + bare.spans, bare.missing)
    keep = [
        (band.x(arc) - _CLEAR_MM, band.x(arc) + _CLEAR_MM)
        for turn in range(band.turns)
        for arc in _figures(band, turn)
    ]
    keep += [*written.spans, band.zero_span, band.seam_span]
    outline = cut_box(band.total_mm, band.width_mm)
    drawn = (*band.frame(), *shapes, *written.shapes)
    return Block(band.total_mm, band.width_mm, drawn, outline, tuple(keep))


def _row(band: RingBand, turn: int) -> Iterator[Shape]:
    """Yield the ticks and figures of one turn."""
    first, last = _range(band, turn)
    yield from (_tick(band, turn, arc) for arc in range(first, last + 1))
    middle = _longest(band) + min(1.7, (band.row_mm - _longest(band)) / 2.0)
    for arc in _figures(band, turn):
        yield band.text(f"{arc}", band.x(arc), band.row_y(turn, middle), cap_mm=SMALLEST_CAP_MM,
                        key=f"figure:{arc}")  # fmt: skip


def _range(band: RingBand, turn: int) -> tuple[int, int]:
    """Return the first and the last whole millimetre of a turn."""
    start = turn * band.length_mm - LEAD_IN_MM
    return math.ceil(start), math.ceil(start + band.length_mm) - 1


def _figures(band: RingBand, turn: int) -> Iterator[int]:
    """Yield the tens that stand clear of the row's ends and of the zero line.

    Later turns leave out those that would close every place where the strip can be joined.
    """
    first, last = _range(band, turn)
    for arc in range(10 * math.ceil(max(first, 1) / 10), last + 1, 10):
        x = band.x(arc)
        inside = _CLEAR_MM <= x <= band.length_mm - _CLEAR_MM
        joins = turn > 0 and _off_join(band, x) < _CLEAR_MM + JOIN_CLEARANCE_MM
        if inside and not joins and abs(x - band.x(0.0)) > 1.0 + _CLEAR_MM:
            yield arc


def _off_join(band: RingBand, x_mm: float) -> float:
    """Return how far a place is from the next one kept for a join, between the first figures."""
    first = band.x(_JOIN_EVERY_MM - 5.0)
    return abs((x_mm - first + _JOIN_EVERY_MM / 2.0) % _JOIN_EVERY_MM - _JOIN_EVERY_MM / 2.0)


def _longest(band: RingBand) -> float:
    return min(_LONGEST_MM, band.row_mm - _FIGURE_MM)


def _fields(band: RingBand) -> list[Field]:
    """Return the room above the figures, where there is any."""
    taken = _longest(band) + 3.0
    free = gaps([band.zero_span, band.seam_span], band.length_mm)
    return [
        Field(free, min(band.row_y(turn, taken), band.row_y(turn, band.row_mm)),
              max(band.row_mm - taken, 0.0))
        for turn in range(band.turns)
    ]  # fmt: skip


def _between_figures(band: RingBand) -> Field:
    """Return the room beside the first row's figures, where a bare triangle says the way round."""
    figures = [(band.x(arc) - _HALF_MM, band.x(arc) + _HALF_MM) for arc in _figures(band, 0)]
    free = gaps([*figures, band.zero_span, band.seam_span], band.length_mm)
    foot, top = band.row_y(0, band.row_mm - _LINE_MM), band.row_y(0, band.row_mm)
    return Field(free, min(foot, top), _LINE_MM)


def _tick(band: RingBand, turn: int, arc: int) -> Path:
    share = next(share for step, share in _LENGTHS.items() if arc % step == 0)
    x, stroke = band.x(arc), 0.2 if arc % 10 == 0 else 0.13
    top = band.row_y(turn, share * _longest(band))
    return line((x, band.row_y(turn, 0.0)), (x, top), stroke_mm=stroke, key=f"mm:{arc}")
