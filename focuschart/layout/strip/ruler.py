"""The ruler strip: blank millimetres round a ring, to take readings with."""

from __future__ import annotations

import math
from collections.abc import Iterator

from focuschart.errors import PageError
from focuschart.layout.page import PAPER, Face, Path, Shape, Text, box, line
from focuschart.layout.sheet.block import Block, Loose, cut_box
from focuschart.layout.strip.band import LEAST_ROW_MM, TAB_MM, RingBand
from focuschart.layout.text.caption import Caption, Captions, Field, gaps, set_captions
from focuschart.layout.text.typeset import LEADING, SMALLEST_CAP_MM, cut_words, wrapped

_LONGEST_MM = 4.2
_LENGTHS = {10: 1.0, 5: 3.2 / _LONGEST_MM, 1: 2.2 / _LONGEST_MM}
_FIGURE_MM = 2.4
"""Height of a figure above its tick, its clearance included."""
_CLEAR_MM = 2.5
_HALF_MM = 2.2
"""Half the length of a three-digit figure along the strip."""
_LINE_MM = 2.5
_ASIDE_MM = 0.4
"""Least gap between a figure and the seam or an end."""
_OFF_ZERO_MM = 1.1
"""Least gap between a figure and the zero line, whose mark reaches 0.9 mm to either side."""
_TAB_LINES = 3
_TAB_EDGE_MM = 0.8


def ruler_strip(
    band: RingBand, captions: tuple[Caption, ...], *, face: Face, infinity_mm: float | None = None
) -> Block:
    """Return a ruler strip: a tick each millimetre from the zero line, a figure every ten.

    Left of zero they are negative, so that a ring may pass its zero. The row of a second turn
    counts on from the first, so that a figure is always the whole arc from zero. A note outside the
    cut tells where the index stands at infinity, `infinity_mm` from zero. Raises PageError for rows
    too low for figures.
    """
    if band.row_mm < LEAST_ROW_MM:
        raise PageError(
            f"a ruler {band.width_mm:g} mm wide has no room for {band.turns} turns: raise the "
            f"ring's strip_width to {LEAST_ROW_MM * band.turns:g} mm"
        )
    shapes = [shape for turn in range(band.turns) for shape in _row(band, turn, face)]
    written = set_captions(captions, _fields(band), face=face)
    on_tab = [
        text
        for caption in captions
        if caption in written.missing and not caption.arrow
        for text in _on_tab(band, caption.text, face)
    ]
    if any(caption.arrow == "up" for caption in written.missing):
        bare = set_captions((Caption("", "up"),), [_between_figures(band, face)], face=face)
        written = Captions(written.shapes + bare.shapes, written.spans + bare.spans, bare.missing)
    places = [_figure_x(band, arc, face) for arc in _figures(band, 0)]
    keep = [(x - _CLEAR_MM, x + _CLEAR_MM) for x in places]
    keep += [*written.spans, band.zero_span, band.seam_span]
    loose = tuple(
        Loose(_figure_key(arc), _half_mm(arc, face))
        for turn in range(1, band.turns)
        for arc in _figures(band, turn)
    )
    return Block(
        band.total_mm,
        band.width_mm,
        (*band.frame(), *shapes, *written.shapes, *on_tab),
        cut_box(band.total_mm, band.width_mm),
        tuple(keep),
        limits=band.limits,
        loose=loose,
        notes=band.edge_notes(infinity_mm),
    )


def _row(band: RingBand, turn: int, face: Face) -> Iterator[Shape]:
    """Yield the ticks and figures of one turn."""
    yield from (_tick(band, turn, arc) for arc in band.whole_mm(turn))
    middle = _longest(band) + min(1.7, (band.row_mm - _longest(band)) / 2.0)
    for arc in _figures(band, turn):
        x, y = _figure_x(band, arc, face), band.row_y(turn, middle)
        yield band.text(f"{arc}", x, y, cap_mm=SMALLEST_CAP_MM, key=_figure_key(arc))


def _figures(band: RingBand, turn: int) -> range:
    """Return the multiples of ten in a turn; in the first turn none left of zero."""
    whole = band.whole_mm(turn)
    return range(10 * math.ceil(max(whole.start, 1) / 10), whole.stop, 10)


def _figure_key(arc: int) -> str:
    return f"figure:{arc}"


def _half_mm(arc: int, face: Face) -> float:
    return face.width_mm(f"{arc}", cap_mm=SMALLEST_CAP_MM) / 2.0


def _figure_x(band: RingBand, arc: int, face: Face) -> float:
    """Return the x of a figure: at its tick, or just clear of a line it would cross."""
    x, half, zero = band.x(arc), _half_mm(arc, face), band.x(0.0)
    if abs(x - zero) < half + _OFF_ZERO_MM:
        x = zero + math.copysign(half + _OFF_ZERO_MM, x - zero)
    return min(max(x, half + _ASIDE_MM), band.length_mm - half - _ASIDE_MM)


def _on_tab(band: RingBand, words: str, face: Face) -> Iterator[Shape]:
    """Yield words on the tab, along its longer side, for a ruler with no other space for them.

    They identify a ruler once it is cut; on the ring the tab is underneath.
    """
    upright = band.width_mm >= TAB_MM
    sides = (band.width_mm, TAB_MM) if upright else (TAB_MM, band.width_mm)
    room, depth = (side - 2.0 * _TAB_EDGE_MM for side in sides)
    pitch = LEADING * SMALLEST_CAP_MM
    count = min(1 + int((depth - SMALLEST_CAP_MM) / pitch), _TAB_LINES)
    kept = cut_words(words, face=face, cap_mm=SMALLEST_CAP_MM, width_mm=room)
    lines = wrapped(kept, face=face, cap_mm=SMALLEST_CAP_MM, width_mm=room)[:count]
    left, taken = band.length_mm + 0.4, len(lines) * pitch + 0.6
    plate = (taken, band.width_mm - 0.6) if upright else (TAB_MM - 0.8, band.width_mm - 0.6)
    yield box(left, 0.3, *plate, stroke_mm=None, fill=PAPER, key="tab-plate")
    middle = (band.length_mm + TAB_MM / 2.0, band.width_mm / 2.0)
    for number, text in enumerate(lines):
        down = number * pitch + SMALLEST_CAP_MM + _TAB_EDGE_MM
        x = band.length_mm + down if upright else middle[0]
        y = middle[1] if upright else band.width_mm - down
        yield Text(text, x, y, SMALLEST_CAP_MM, "middle", math.pi / 2.0 if upright else 0.0,
                   key=f"tab-word:{number}")  # fmt: skip


def _longest(band: RingBand) -> float:
    return min(_LONGEST_MM, band.row_mm - _FIGURE_MM)


def _fields(band: RingBand) -> list[Field]:
    """Return the free fields above the figures, if any."""
    taken = _longest(band) + 3.0
    free = gaps([band.zero_span, band.seam_span], band.length_mm)
    return [
        Field(free, min(band.row_y(turn, taken), band.row_y(turn, band.row_mm)),
              max(band.row_mm - taken, 0.0))
        for turn in range(band.turns)
    ]  # fmt: skip


def _between_figures(band: RingBand, face: Face) -> Field:
    """Return the field between the first row's figures, for the triangle that shows the way up."""
    places = [_figure_x(band, arc, face) for arc in _figures(band, 0)]
    figures = [(x - _HALF_MM, x + _HALF_MM) for x in places]
    free = gaps([*figures, band.zero_span, band.seam_span], band.length_mm)
    foot, top = band.row_y(0, band.row_mm - _LINE_MM), band.row_y(0, band.row_mm)
    return Field(free, min(foot, top), _LINE_MM)


def _tick(band: RingBand, turn: int, arc: int) -> Path:
    share = next(share for step, share in _LENGTHS.items() if arc % step == 0)
    x, stroke = band.x(arc), 0.2 if arc % 10 == 0 else 0.13
    top = band.row_y(turn, share * _longest(band))
    return line((x, band.row_y(turn, 0.0)), (x, top), stroke_mm=stroke, key=f"mm:{arc}")
