"""The ruler strip: blank millimetres round a ring, to take readings with."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from focuschart.errors import PageError
from focuschart.layout.page import BLACK, PAPER, Face, Path, Shape, Span, Text, box, line
from focuschart.layout.sheet.block import Block, Loose, cut_box
from focuschart.layout.strip.band import LEAST_ROW_MM, TAB_MM, RingBand
from focuschart.layout.strip.ruler_tags import (
    FIGURE_MIDDLE_MM,
    TAGGED_TICK_MM,
    ruler_tags,
    tag_row,
    tags_top_mm,
)
from focuschart.layout.tag.tag import Tag, tag_shapes
from focuschart.layout.text.caption import Caption, Captions, Field, gaps, set_captions
from focuschart.layout.text.typeset import LEADING, SMALLEST_CAP_MM, cut_words, wrapped

_LONGEST_MM = 4.2
_LENGTHS = {10: 1.0, 5: 3.2 / _LONGEST_MM, 1: 2.2 / _LONGEST_MM}
_IN_TAG_MM = 0.25
"""How far a join may come into the margin that it keeps from a tag."""
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
    band: RingBand,
    captions: tuple[Caption, ...],
    *,
    face: Face,
    ids: tuple[int, ...] = (),
    infinity_mm: float | None = None,
) -> Block:
    """Return a ruler strip: a tick each millimetre from the zero line, a figure every ten.

    Left of zero they are negative, so that a ring may pass its zero. The row of a second turn
    counts on from the first, so that a figure is always the whole arc from zero. Between the
    figures it has tags of the given ids, where its rows are high enough. A note outside the cut
    tells where the index stands at infinity, `infinity_mm` from zero. Raises PageError for rows
    too low for figures.
    """
    if band.row_mm < LEAST_ROW_MM:
        raise PageError(
            f"a ruler {band.width_mm:g} mm wide has no room for {band.turns} turns: raise the "
            f"ring's strip_width to {LEAST_ROW_MM * band.turns:g} mm"
        )
    tagged = bool(ids) and tag_row(band) is not None
    shapes = [shape for turn in range(band.turns) for shape in _row(band, turn, face, tagged)]
    written, on_tab = _written(band, captions, tagged, face)
    tags = list(ruler_tags(band, ids))
    shapes += [shape for tag in tags for shape in tag_shapes(tag)]
    keep = (*_kept(band, tags, face), *written.spans, band.zero_span, band.seam_span)
    loose = tuple(
        Loose(_figure_key(arc), _half_mm(arc, face))
        for turn in range(0 if tags else 1, band.turns)
        for arc in _figures(band, turn)
    )
    return Block(
        band.total_mm,
        band.width_mm,
        (*_beside_plate(band.frame(), on_tab), *shapes, *written.shapes, *on_tab),
        cut_box(band.total_mm, band.width_mm),
        keep,
        limits=band.limits,
        loose=loose,
        notes=band.edge_notes(infinity_mm),
    )


def _written(
    band: RingBand, captions: tuple[Caption, ...], tagged: bool, face: Face
) -> tuple[Captions, list[Shape]]:
    """Return the captions that have room, the way up in any case, and those that go on the tab."""
    written = set_captions(captions, _fields(band, tagged), face=face)
    on_tab = [
        text
        for caption in captions
        if caption in written.missing and not caption.arrow
        for text in _on_tab(band, caption.text, face)
    ]
    if not any(caption.arrow == "up" for caption in written.missing):
        return written, on_tab
    if tagged:
        shapes = [*written.shapes, _between_tags(band)]
        return Captions(shapes, written.spans, written.missing), on_tab
    bare = set_captions((Caption("", "up"),), [_between_figures(band, face)], face=face)
    both = Captions(written.shapes + bare.shapes, written.spans + bare.spans, bare.missing)
    return both, on_tab


def _kept(band: RingBand, tags: Sequence[Tag], face: Face) -> Iterator[Span]:
    """Yield the spans of tags, or of the first row's figures without tags, that no join crosses."""
    if tags:
        yield from ((tag.x + _IN_TAG_MM, tag.x + tag.side_mm - _IN_TAG_MM) for tag in tags)
        return
    for arc in _figures(band, 0):
        x = _figure_x(band, arc, face)
        yield x - _CLEAR_MM, x + _CLEAR_MM


def _beside_plate(frame: list[Shape], on_tab: list[Shape]) -> list[Shape]:
    """Return a frame without the hatching that the plate under the tab's words would cut."""
    plates = [shape for shape in on_tab if shape.key == "tab-plate" and isinstance(shape, Path)]
    reach = max((x for plate in plates for x, _ in plate.points), default=0.0)
    return [
        shape
        for shape in frame
        if not (shape.key.startswith("tab:") and isinstance(shape, Path)
                and min(x for x, _ in shape.points) < reach)
    ]  # fmt: skip


def _row(band: RingBand, turn: int, face: Face, tagged: bool) -> Iterator[Shape]:
    """Yield the ticks and figures of one turn."""
    longest = TAGGED_TICK_MM if tagged else _longest(band)
    yield from (_tick(band, turn, arc, longest) for arc in band.whole_mm(turn))
    middle = longest + min(1.7, (band.row_mm - longest) / 2.0)
    if tagged:
        middle = FIGURE_MIDDLE_MM
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


def _fields(band: RingBand, tagged: bool) -> list[Field]:
    """Return the free fields above figures and tags, if any."""
    taken = tags_top_mm(band) if tagged else _longest(band) + 3.0
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


def _between_tags(band: RingBand) -> Path:
    """Return the triangle that shows the way up, above the first figure and between two tags."""
    high, side = tag_row(band) or (0.0, 0.0)
    x, middle = band.x(10) + 0.5, band.row_y(0, high + side / 2.0)
    corners = ((x - 1.1, middle - 1.1), (x + 1.1, middle - 1.1), (x, middle + 1.1))
    return Path(corners, closed=True, stroke_mm=None, fill=BLACK, key="arrow:0")


def _tick(band: RingBand, turn: int, arc: int, longest: float) -> Path:
    share = next(share for step, share in _LENGTHS.items() if arc % step == 0)
    x, stroke = band.x(arc), 0.2 if arc % 10 == 0 else 0.13
    top = band.row_y(turn, share * longest)
    return line((x, band.row_y(turn, 0.0)), (x, top), stroke_mm=stroke, key=f"mm:{arc}")
