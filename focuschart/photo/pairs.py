"""The strip on a ring and the index beside it, as the tags in a picture tell them."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product
from typing import NamedTuple

import numpy as np

from focuschart.layout.tag.dictionary import SIDE_MODULES
from focuschart.photo.recognise import MOST_CHANCE, Match, chance, in_pool, matches, nearest_part
from focuschart.photo.refusal import AGAIN, FLAT, PRINT, Unread
from focuschart.photo.strips import Ring, TaggedStrip
from focuschart.photo.tags import Seen

LEAST_RING_TAGS, LEAST_INDEX_TAGS = 3, 2
LEAST_MODULE_PX = 4.0
_LEAST_ALONE = 1e-3
"""Most that the ring's strip alone may be chance, where its index is seen too."""
_LEAST_STRANGE = {True: 3, False: 2}
"""Tags on no strip that is known, by which one on a ring, or an index, is called unknown."""
_BESIDE = {"ruler": "bench index", "marker": "index"}


class Pair(NamedTuple):
    """What is seen of a ring's strip and of its index, and the tags seen on strips elsewhere."""

    ring: Match
    beside: Match
    elsewhere: tuple[int, ...] = ()

    @property
    def strip(self) -> TaggedStrip:
        """The strip on the ring."""
        return self.ring.strip


def pair_of(seen: Seen, ring: Ring, strips: Sequence[TaggedStrip]) -> Pair:
    """Return the strips of one ring that are seen; `strips` are all known of that ring.

    Raises Unread where too little is seen, and for strips that are not known, are of a former
    print, or do not belong together.
    """
    ring_tags, index_tags = in_pool(seen, ring), in_pool(seen, f"{ring}/index")
    _require_resolution(seen.only(np.concatenate((ring_tags, index_tags))))
    for count, least, what in ((len(ring_tags), LEAST_RING_TAGS, "strip"),
                               (len(index_tags), LEAST_INDEX_TAGS, "index")):  # fmt: skip
        if count < least:
            raise _too_few(count, f"of the {ring} ring's {what}")
    on_rings = _on_rings(seen, ring, strips)
    indexes = _indexes(seen, on_rings[0].strip, strips)
    pair = _together(on_rings, indexes)
    _require_together(pair)
    if chance(pair.ring, seen, strips) * chance(pair.beside, seen, strips) > MOST_CHANCE:
        raise _too_few(len(pair.ring) + len(pair.beside), f"on and beside {pair.strip.code}")
    if len(pair.beside) < len(index_tags) and len(indexes) == 1:
        why = f"the index's tags do not lie as they were printed: {FLAT}"
        raise Unread("inconsistent", why, strip=pair.strip.code)
    near = nearest_part(seen, pair.ring, pair.beside, least=LEAST_RING_TAGS)
    others = [match.seen for match in on_rings if match.strip.code != pair.strip.code]
    return pair._replace(
        ring=near, elsewhere=tuple(sorted({n for one in others for n in one.tolist()}))
    )


def _on_rings(seen: Seen, ring: Ring, strips: Sequence[TaggedStrip]) -> list[Match]:
    """Return the strips of a ring that are surely seen, that with most tags first."""
    found = matches(seen, [strip for strip in strips if strip.on_ring])
    sure = [
        match for match in found
        if len(match) >= LEAST_RING_TAGS and chance(match, seen, strips) < _LEAST_ALONE
    ]  # fmt: skip
    if sure:
        return sure
    known = len(found[0]) if found else 0
    if len(in_pool(seen, ring)) - known < _LEAST_STRANGE[True]:
        raise _too_few(known, f"on the {ring} ring's strip")
    why = f"the strip on the {ring} ring is no print of this kit that is known: {PRINT}"
    raise Unread("unknown-strip", why)


def _indexes(seen: Seen, strip: TaggedStrip, strips: Sequence[TaggedStrip]) -> list[Match]:
    """Return the indexes that are seen, that with most tags first."""
    beside = [each for each in strips if not each.on_ring]
    found = matches(seen, beside)
    if found:
        return found
    tags = seen.numbers[in_pool(seen, f"{strip.ring}/index")]
    own = [int(np.isin(tags, each.numbers).sum()) for each in beside if _belong(strip, each)]
    known = max(own, default=0)
    if known and len(tags) - known < _LEAST_STRANGE[False]:
        raise _too_few(known, f"of the index beside {strip.code}")
    why = f"the index beside {strip.code} is no print of this kit that is known: {PRINT}"
    raise Unread("unknown-strip", why, strip=strip.code)


def _together(on_rings: Sequence[Match], indexes: Sequence[Match]) -> Pair:
    """Return the strip and the index that belong together, else those with most tags.

    So another ring's strip that lies in the picture does no harm.
    """
    pairs = [
        Pair(strip, index) for strip, index in product(on_rings, indexes)
        if _belong(strip.strip, index.strip)
    ]  # fmt: skip
    rings = {pair.strip.code for pair in pairs}
    if len(rings) > 1:
        why = (
            f"{' and '.join(sorted(rings))} are seen, each beside its index: photograph one rig "
            "at a time"
        )
        raise Unread("wrong-strip", why, strip=pairs[0].strip.code)
    return pairs[0] if pairs else Pair(on_rings[0], indexes[0])


def _belong(strip: TaggedStrip, index: TaggedStrip) -> bool:
    beside = (_BESIDE[strip.kind], strip.part, strip.rig)
    return (index.kind, index.part, index.rig) == beside


def _too_few(count: int, where: str) -> Unread:
    seen = {0: "no tag", 1: "only 1 tag"}.get(count, f"only {count} tags")
    return Unread("few-tags", f"{seen} {where} can be read: {AGAIN}")


def _require_together(pair: Pair) -> None:
    """Refuse a strip of a former print, and one beside another's index."""
    strip, index = pair.strip, pair.beside.strip
    for each in (strip, index):
        if each.former:
            why = f"{each.code} is a former print of {each.name}: tape on the present one"
            raise Unread("wrong-strip", why, strip=strip.code)
    if not _belong(strip, index):
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
