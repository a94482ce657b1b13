"""The distance card: clipped beside the rig, it tells a photograph how far the target was."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from focuschart.layout.page import Face, Shape, Text
from focuschart.layout.sheet.block import Block, cut_box
from focuschart.layout.tag.tag import Tag, tag_shapes
from focuschart.layout.text.typeset import SMALLEST_CAP_MM, shortened

_SIDE_MM, _APART_MM, _EDGE_MM = 15.0, 3.0, 2.5
_FIGURE_MM = 6.0
_WIDTH_MM = 2.0 * _EDGE_MM + 3.0 * _SIDE_MM + 2.0 * _APART_MM
_HEIGHT_MM = 2.0 * _EDGE_MM + _SIDE_MM + 14.0


@dataclass(frozen=True, slots=True)
class DistanceCard:
    """A distance in words, the ids of its three tags, and the rig whose bench it belongs to."""

    distance: str
    ids: tuple[int, ...]
    rig: str


def distance_card(card: DistanceCard, *, face: Face) -> Block:
    """Return a card with the tags above the distance in large figures."""
    whole = (0.0, _WIDTH_MM)
    return Block(
        _WIDTH_MM, _HEIGHT_MM, tuple(_shapes(card, face)), cut_box(_WIDTH_MM, _HEIGHT_MM),
        keep=(whole,),
    )  # fmt: skip


def _shapes(card: DistanceCard, face: Face) -> Iterator[Shape]:
    foot = _HEIGHT_MM - _EDGE_MM - _SIDE_MM
    for place, number in enumerate(card.ids):
        left = _EDGE_MM + place * (_SIDE_MM + _APART_MM)
        yield from tag_shapes(Tag(number, left, foot, _SIDE_MM))
    middle, width = _WIDTH_MM / 2.0, _WIDTH_MM - 2.0 * _EDGE_MM
    cap = min(_FIGURE_MM, width / face.width_mm(card.distance, cap_mm=1.0))
    yield Text(card.distance, middle, 7.6, cap, "middle", key="distance")
    words = shortened(card.rig, face=face, cap_mm=SMALLEST_CAP_MM, width_mm=width)
    yield Text(words, middle, 4.4, SMALLEST_CAP_MM, "middle", key="rig")
    note = "beside the rings, in the photograph"
    yield Text(note, middle, 1.6, SMALLEST_CAP_MM, "middle", key="note")
