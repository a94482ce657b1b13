"""The bench index: the strip beside a ruler, with the line its figure is read at, and tags."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from focuschart.layout.page import BLACK, Face, Path, Shape, Text, line
from focuschart.layout.sheet.beside import Note
from focuschart.layout.sheet.block import Block, Limit, cut_box
from focuschart.layout.strip.band import Side
from focuschart.layout.strip.index import WITNESS_STROKE_MM
from focuschart.layout.strip.ruler_tags import INDEX_HALF_MM, INDEX_HEIGHT_MM, index_tags
from focuschart.layout.tag.tag import tag_shapes
from focuschart.layout.text.typeset import SMALLEST_CAP_MM, shortened

_WORDS_MM = 5.8
"""Height of the words at the edge away from the ring."""
_TIP_MM = 1.1


@dataclass(frozen=True, slots=True)
class BenchIndex:
    """What a bench index shows: its ring's name, its code, and the ids of its tags."""

    index_side: Side
    name: str
    code: str
    ids: tuple[int, ...]


def bench_index(index: BenchIndex, *, face: Face) -> Block:
    """Return a bench index, its line from the edge at the ring; it is never split."""
    width, height = 2.0 * INDEX_HALF_MM, INDEX_HEIGHT_MM
    at_ring, away = (height, 0.0) if index.index_side == "camera" else (0.0, height)
    inward = -1.0 if at_ring else 1.0
    foot = at_ring + inward * (height - _WORDS_MM)
    tip = ((INDEX_HALF_MM, at_ring), (INDEX_HALF_MM - _TIP_MM, at_ring + inward * 2.0 * _TIP_MM),
           (INDEX_HALF_MM + _TIP_MM, at_ring + inward * 2.0 * _TIP_MM))  # fmt: skip
    shapes: list[Shape] = [
        Path(tip, closed=True, stroke_mm=None, fill=BLACK, key="index-tip"),
        line((INDEX_HALF_MM, at_ring), (INDEX_HALF_MM, foot), stroke_mm=WITNESS_STROKE_MM,
             key="witness"),
    ]  # fmt: skip
    for tag in index_tags(index.index_side, index.ids):
        shapes += tag_shapes(tag)
    shapes += _words(index, min(away, away + _WORDS_MM * inward * -1.0), face)
    ring = ((width, height), (0.0, height)) if at_ring else ((0.0, 0.0), (width, 0.0))
    limit = Limit(Path(ring, stroke_mm=None), 0.0)
    outline = cut_box(width, height)
    return Block(width, height, tuple(shapes), outline, keep=((0.0, width),), limits=(limit,),
                 notes=(Note("this edge to the ring", index.index_side == "camera"),))  # fmt: skip


def _words(index: BenchIndex, foot: float, face: Face) -> Iterator[Shape]:
    width = 2.0 * INDEX_HALF_MM - 1.6
    for number, text in enumerate((index.code, index.name)):
        shown = shortened(text, face=face, cap_mm=SMALLEST_CAP_MM, width_mm=width)
        y = foot + 0.9 + number * 2.4
        yield Text(shown, INDEX_HALF_MM, y, SMALLEST_CAP_MM, "middle", key=f"index-word:{number}")
