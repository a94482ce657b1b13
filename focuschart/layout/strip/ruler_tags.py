"""Where a ruler and a bench index have their tags; printing and reading photographs ask here."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from focuschart.layout.strip.band import LEAD_IN_MM, RingBand, Side
from focuschart.layout.tag.tag import MARGIN_MM, Tag

TAGGED_TICK_MM = 3.0
"""The longest tick of a ruler with tags, below figures and tags."""
FIGURE_MIDDLE_MM = 4.25
_PITCH_MM = 10.0
_ASIDE_MM = 0.5
"""By which tags stand off the middle between two figures, so that a join may lie beside a tick."""
_WIDE_ROW_MM, _NARROW_ROW_MM = 12.0, 9.5
_WIDE, _NARROW = (6.0, 5.4), (5.7, 3.2)
"""From the edge at the index to a tag, and its side, mm."""


def tag_row(band: RingBand) -> tuple[float, float] | None:
    """Return how far tags are from the edge of their row, and their side; None without room."""
    if band.row_mm >= _WIDE_ROW_MM:
        return _WIDE
    return _NARROW if band.row_mm >= _NARROW_ROW_MM else None


def tags_top_mm(band: RingBand) -> float:
    """Return how much of a row's height tags take, their margin included."""
    high, side = tag_row(band) or (0.0, 0.0)
    return high + side + MARGIN_MM


def ruler_tags(band: RingBand, ids: tuple[int, ...]) -> Iterator[Tag]:
    """Yield the tags of a ruler, each turn's from left to right; none where a row is too low.

    Ids go round again where there are fewer than places.
    """
    row = tag_row(band)
    if row is None or not ids:
        return
    high, side = row
    lefts = _lefts_mm(band.length_mm, side)
    for turn in range(band.turns):
        y = band.row_y(turn, high)
        foot = min(y, band.row_y(turn, high + side))
        for place, left in enumerate(lefts):
            number = ids[(turn * len(lefts) + place) % len(ids)]
            yield Tag(number, left, foot, side)


def ruler_tag_count(band: RingBand) -> int:
    """Return how many tags a ruler has."""
    row = tag_row(band)
    return 0 if row is None else band.turns * len(_lefts_mm(band.length_mm, row[1]))


def _lefts_mm(length_mm: float, side_mm: float) -> list[float]:
    """Return the left edges of a row's tags, one between each two figures, clear of the seam."""
    first = LEAD_IN_MM - _PITCH_MM / 2.0 + _ASIDE_MM - side_mm / 2.0
    last = length_mm - side_mm - MARGIN_MM
    lefts = np.arange(first, last + 1e-9, _PITCH_MM).tolist()
    if last - lefts[-1] >= side_mm + MARGIN_MM:
        lefts.append(last)
    return [float(left) for left in lefts]


INDEX_HALF_MM, INDEX_HEIGHT_MM = 16.5, 12.5
_INDEX_EDGE_MM = 0.75
"""From the edge at the ring to a tag."""
_INDEX_SIDE_MM = 5.4
_INDEX_LEFTS_MM = (-15.7, -8.3, 2.9, 10.3)
INDEX_TAGS = len(_INDEX_LEFTS_MM)


def index_tags(index_side: Side, ids: tuple[int, ...]) -> Iterator[Tag]:
    """Yield the tags of a bench index from left to right, two on each side of its line."""
    foot = INDEX_HEIGHT_MM - _INDEX_EDGE_MM - _INDEX_SIDE_MM
    for number, left in zip(ids, _INDEX_LEFTS_MM, strict=False):
        y = foot if index_side == "camera" else _INDEX_EDGE_MM
        yield Tag(number, INDEX_HALF_MM + left, y, _INDEX_SIDE_MM)
