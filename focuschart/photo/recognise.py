"""Which strips the tags in a picture are on, by the order of their ids.

A tag's own square says how far off, and which way, its neighbours are; so each two tags near each
other either lie as they do on a strip, or not. The largest number of tags that lie so together is
what is seen of a strip. Where that could be chance, it is not recognised.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from focuschart.layout.tag.ids import POOLS
from focuschart.photo.strips import Floats, TaggedStrip
from focuschart.photo.tags import Seen

MOST_CHANCE = 1e-6
"""Probability, over all strips known, that other tags lie like those of some strip."""
_NEAR_MM = 26.0
_SHARE_SIDES, _OFF_MM = 1.08, 0.8
"""By how much a neighbour may seem off, on a surface that is bent away and by a tag that is small:
some mm, and as much for each side of the tag that it is away: a fifth of the way for 5.4 mm."""


@dataclass(frozen=True, slots=True)
class Match:
    """A strip, the numbers of the tags seen that are on it, and which of its tags they are.

    `together` is how many tags lie together as on it: round a ring these may be more than `seen`,
    which are those on one side of the strip's seam.
    """

    strip: TaggedStrip
    seen: NDArray[np.intp]
    places: NDArray[np.intp]
    together: int = 0

    def __len__(self) -> int:
        """The number of tags seen on it."""
        return len(self.seen)


def matches(seen: Seen, strips: Sequence[TaggedStrip]) -> list[Match]:
    """Return all parts of strips on which two tags or more lie, that with most tags first."""
    found = [match for strip in strips for match in _matches(seen, strip) if len(match) > 1]
    return sorted(found, key=lambda match: (match.together, len(match)), reverse=True)


def nearest_part(seen: Seen, match: Match, beside: Match, *, least: int) -> Match:
    """Return the part of a strip on that side of its seam where the index is, of `least` tags.

    The match as it is where that part is smaller, or where no seam is seen.
    """
    middles = seen.corners.mean(axis=1)
    line = middles[beside.seen].mean(axis=0)
    parts = [part for part in _matches(seen, match.strip) if part.together == match.together]
    near = min(parts, key=lambda part: np.linalg.norm(middles[part.seen] - line, axis=1).min())
    return near if len(near) >= least else match


def chance(match: Match, seen: Seen, strips: Sequence[TaggedStrip]) -> float:
    """Return how probable it is that as many tags lie like those of some strip by chance.

    Of the tags seen any may be those that fit, at any place of any strip known.
    """
    pool = pool_of(match.strip)
    known = sum(len(strip.tags) for strip in strips if pool_of(strip) == pool)
    count = max(match.together, len(match))
    ways = math.comb(max(len(in_pool(seen, pool)), count), count)
    return float(known * ways / len(POOLS[pool]) ** count)


def pool_of(strip: TaggedStrip) -> str:
    """Return the name of the ids that a strip's tags are from."""
    return strip.ring if strip.on_ring else f"{strip.ring}/index"


def in_pool(seen: Seen, pool: str) -> NDArray[np.intp]:
    """Return the places of the tags seen whose ids are of a pool."""
    ids = POOLS[pool]
    return np.flatnonzero((seen.numbers >= ids.start) & (seen.numbers < ids.stop))


def _matches(seen: Seen, strip: TaggedStrip) -> Iterator[Match]:
    """Yield the tags that lie together as on a strip, in parts where its seam is among them."""
    pairs = np.argwhere(seen.numbers[:, np.newaxis] == strip.numbers)
    if not len(pairs):
        return
    seen_at, places = pairs.T
    offset = _offsets(seen, seen_at, strip.sides[places])
    middles = strip.middles[places]
    meant = middles[np.newaxis] - middles[:, np.newaxis]
    if strip.on_ring:
        once = strip.barrel.once_mm
        meant[..., 0] = (meant[..., 0] + once / 2.0) % once - once / 2.0
    far = np.linalg.norm(meant, axis=-1)
    allowed = _OFF_MM + _SHARE_SIDES * far / strip.sides[places][:, np.newaxis]
    fits = (np.linalg.norm(offset - meant, axis=-1) < allowed) & (far < _NEAR_MM)
    fits &= fits.T & (seen_at[:, np.newaxis] != seen_at)
    left = set(range(len(pairs)))
    while left:
        group = _linked(fits, left.pop())
        left -= group
        chosen = sorted(group)
        if len(set(seen_at[chosen].tolist())) == len(chosen):
            for part in _parts(middles[chosen, 0], strip):
                own = np.array(chosen)[part]
                yield Match(strip, seen_at[own], places[own], len(chosen))


def _parts(along: Floats, strip: TaggedStrip) -> Iterator[NDArray[np.bool_]]:
    """Yield which of the tags at places along a strip are on each side of its seam.

    Less than half of a ring is seen; so tags farther apart have the seam between them.
    """
    low, high = along.min(), along.max()
    if not strip.on_ring or high - low < strip.barrel.once_mm / 2.0:
        yield np.ones(len(along), bool)
        return
    first = along < (low + high) / 2.0
    yield first
    yield ~first


def _linked(fits: NDArray[np.bool_], start: int) -> set[int]:
    group, waiting = {start}, [start]
    while waiting:
        for other in np.flatnonzero(fits[waiting.pop()]).tolist():
            if other not in group:
                group.add(other)
                waiting.append(other)
    return group


def _offsets(seen: Seen, chosen: NDArray[np.intp], sides: Floats) -> Floats:
    """Return how far each tag's centre is from each other's, in mm of the other's own plane."""
    corners = seen.corners[chosen]
    middles = np.array([_crossing(square) for square in corners])
    count = len(chosen)
    offsets = np.empty((count, count, 2))
    for number, (square, side) in enumerate(zip(corners, sides, strict=True)):
        offsets[number] = _in_plane(square, middles, float(side))
    return offsets


def _crossing(square: Floats) -> Floats:
    """Return where the diagonals of a tag cross, which is its centre in any perspective."""
    (a, b, c, d) = square
    first, second = c - a, d - b
    share = np.linalg.solve(np.column_stack((first, -second)), b - a)[0]
    return np.asarray(a + share * first)


def _in_plane(square: Floats, points: Floats, side: float) -> Floats:
    """Return image points (n × 2) in the plane of a tag, mm from its centre, y up."""
    half = side / 2.0
    flat = np.array([(-half, half), (half, half), (half, -half), (-half, -half)])
    rows = []
    for (x, y), (u, v) in zip(square, flat, strict=True):
        rows.append((x, y, 1.0, 0.0, 0.0, 0.0, -u * x, -u * y))
        rows.append((0.0, 0.0, 0.0, x, y, 1.0, -v * x, -v * y))
    try:
        entries = np.linalg.solve(np.array(rows), flat.ravel())
    except np.linalg.LinAlgError:
        return np.full(points.shape, np.inf)
    matrix = np.append(entries, 1.0).reshape(3, 3)
    mapped = np.column_stack((points, np.ones(len(points)))) @ matrix.T
    return np.asarray(mapped[:, :2] / mapped[:, 2:])
