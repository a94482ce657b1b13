"""The squeeze card as printed: its tags, two bars to measure, and what to do with it."""

from __future__ import annotations

from collections.abc import Iterator

from focuschart.layout.page import Face, Path, Shape, Text
from focuschart.layout.sheet.block import Block, cut_box
from focuschart.layout.tag import squeeze_card as card
from focuschart.layout.tag.tag import Tag, tag_shapes
from focuschart.layout.text.typeset import wrapped

_EDGE_MM = 8.0
_WORDS_MM, _CAP_MM, _LEADING_MM = 17.0, 2.2, 4.0
_TICK_MM = 2.0
_WIDTH_MM = (card.COLUMNS - 1) * card.PITCH_MM + card.SIDE_MM + 2.0 * _EDGE_MM
_GRID_MM = (card.ROWS - 1) * card.PITCH_MM + card.SIDE_MM
_HEIGHT_MM = _GRID_MM + 2.0 * _EDGE_MM + _WORDS_MM
_WORDS = (
    "Squeeze card. Glue it flat on a board. Stand it upright at the distance, square in front of "
    "the rig and in the middle of the picture, sharp, a third of the picture's height or more. "
    "Film a frame; measure both bars between their end ticks: across ........ mm, up ........ mm."
)


def squeeze_card(*, face: Face) -> Block:
    """Return the card; its tags are those of `layout/tag/squeeze_card.py`."""
    whole = (0.0, _WIDTH_MM)
    return Block(
        _WIDTH_MM, _HEIGHT_MM, tuple(_shapes(face)), cut_box(_WIDTH_MM, _HEIGHT_MM), keep=(whole,)
    )


def _shapes(face: Face) -> Iterator[Shape]:
    middle_x, middle_y = _WIDTH_MM / 2.0, _HEIGHT_MM - _EDGE_MM - _GRID_MM / 2.0
    half = card.SIDE_MM / 2.0
    for number, (x, y) in zip(card.IDS, card.tag_middles().tolist(), strict=True):
        left, foot = middle_x + x - half, middle_y + y - half
        yield from tag_shapes(Tag(number, left, foot, card.SIDE_MM))
    # The bars lie in the white between tags, beside each other's ends.
    beside = (card.COLUMNS / 2.0 - 1.0) * card.PITCH_MM
    yield from _bar((middle_x - beside + 10.0, middle_y + card.PITCH_MM), across=True)
    yield from _bar((middle_x - beside, middle_y - card.BAR_MM / 2.0), across=False)
    lines = wrapped(_WORDS, face=face, cap_mm=_CAP_MM, width_mm=_WIDTH_MM - 2.0 * _EDGE_MM)
    for row, line in enumerate(lines):
        yield Text(line, _EDGE_MM, _WORDS_MM - row * _LEADING_MM, _CAP_MM, key=f"words:{row}")


def _bar(start: tuple[float, float], *, across: bool) -> Iterator[Shape]:
    """Yield a bar from its start, with a tick at each end."""
    (x, y), name = start, "across" if across else "up"
    reach = (card.BAR_MM, 0.0) if across else (0.0, card.BAR_MM)
    tick = (0.0, _TICK_MM) if across else (_TICK_MM, 0.0)
    yield Path(((x, y), (x + reach[0], y + reach[1])), key=f"bar:{name}")
    for end, (along, up) in enumerate(((0.0, 0.0), reach)):
        at = (x + along, y + up)
        ends = ((at[0] - tick[0], at[1] - tick[1]), (at[0] + tick[0], at[1] + tick[1]))
        yield Path(ends, stroke_mm=0.15, key=f"bar:{name}:{end}")
