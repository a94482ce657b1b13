"""The strip on a ring and the index beside it, as the tags in a picture tell them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from focuschart.layout.tag.dictionary import SIDE_MODULES
from focuschart.photo.recognise import (
    MOST_CHANCE,
    Match,
    best_match,
    chance,
    in_pool,
    nearest_part,
)
from focuschart.photo.refusal import AGAIN, FLAT, PRINT, Unread
from focuschart.photo.strips import Ring, TaggedStrip
from focuschart.photo.tags import Seen

LEAST_RING_TAGS, LEAST_INDEX_TAGS = 3, 2
LEAST_MODULE_PX = 4.0
_LEAST_ALONE = 1e-3
"""Most that the ring's strip alone may be chance, where its index is seen too."""
_BESIDE = {"ruler": "bench index", "marker": "index"}


class Pair(NamedTuple):
    """What is seen of a ring's strip and of its index."""

    ring: Match
    beside: Match

    @property
    def strip(self) -> TaggedStrip:
        """The strip on the ring."""
        return self.ring.strip


def pair_of(seen: Seen, ring: Ring, strips: Sequence[TaggedStrip]) -> Pair:
    """Return the strips of one ring that are seen; `strips` are all known of that ring.

    Raises Unread where too little is seen, and for strips that are not known, are of a former
    print, or do not belong together.
    """
    on_rings = [strip for strip in strips if strip.on_ring]
    indexes = [strip for strip in strips if not strip.on_ring]
    ring_tags, index_tags = in_pool(seen, ring), in_pool(seen, f"{ring}/index")
    _require_resolution(seen.only(np.concatenate((ring_tags, index_tags))))
    _require_tags(len(ring_tags), len(index_tags), ring)
    on_ring, index = best_match(seen, on_rings), best_match(seen, indexes)
    if (
        on_ring is None
        or len(on_ring) < LEAST_RING_TAGS
        or chance(on_ring, seen, strips) > _LEAST_ALONE
    ):
        why = f"the strip on the {ring} ring is no print of this kit that is known: {PRINT}"
        raise Unread("unknown-strip", why)
    code = on_ring.strip.code
    if index is None:
        why = f"the index beside {code} is no print of this kit that is known: {PRINT}"
        raise Unread("unknown-strip", why, strip=code)
    if chance(on_ring, seen, strips) * chance(index, seen, strips) > MOST_CHANCE:
        why = f"too few tags are seen to be sure which strips they are on: {AGAIN}"
        raise Unread("few-tags", why, strip=code)
    _require_together(on_ring.strip, index.strip)
    on_ring = nearest_part(seen, on_ring, index, least=LEAST_RING_TAGS)
    if len(index) < len(index_tags):
        why = f"the index's tags do not lie as they were printed: {FLAT}"
        raise Unread("inconsistent", why, strip=code)
    return Pair(on_ring, index)


def _require_tags(ring_tags: int, index_tags: int, ring: Ring) -> None:
    for count, least, what in ((ring_tags, LEAST_RING_TAGS, "strip"),
                               (index_tags, LEAST_INDEX_TAGS, "index")):  # fmt: skip
        if count < least:
            seen = "no tag" if count == 0 else f"only {count} of the tags"
            raise Unread("few-tags", f"{seen} of the {ring} ring's {what} can be read: {AGAIN}")


def _require_together(strip: TaggedStrip, index: TaggedStrip) -> None:
    """Refuse a strip of a former print, and one beside another's index."""
    for each in (strip, index):
        if each.former:
            why = f"{each.code} is a former print of {each.name}: tape on the present one"
            raise Unread("wrong-strip", why, strip=strip.code)
    if (index.kind, index.part, index.rig) != (_BESIDE[strip.kind], strip.part, strip.rig):
        why = (
            f"{strip.code}, {strip.kind} of {strip.name}, is beside {index.code}, {index.kind} of "
            f"{index.name}: put the index there that belongs to it"
        )
        raise Unread("wrong-strip", why, strip=strip.code)


def _require_resolution(seen: Seen) -> None:
    """Raise Unread where the tags seen have too few pixels."""
    sides = np.linalg.norm(seen.corners - np.roll(seen.corners, 1, axis=1), axis=-1).max(axis=1)
    module = float(np.median(sides)) / SIDE_MODULES if len(sides) else np.inf
    if module < LEAST_MODULE_PX:
        why = (
            f"a module of the tags is only {module:.1f} pixels wide: go nearer, or hand over the "
            "photograph at its full size"
        )
        raise Unread("low-resolution", why)
