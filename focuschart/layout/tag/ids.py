"""Which tags a strip bears: an order of ids made from its code, so that a photograph tells it.

The 250 ids are shared out by what can be seen in one photograph: the strips and the indexes of
both rings of a rig, and a distance card. What cannot be seen together may use the same ids: there
the order tells strips apart.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from functools import lru_cache
from itertools import count, islice

POOLS: dict[str, range] = {
    "taking/index": range(39),
    "attachment/index": range(39, 78),
    "taking": range(78, 152),
    "attachment": range(152, 226),
    "card": range(226, 250),
}
"""The ids that each may bear, by the ring it is for."""


def strip_ids(code: str, pool: str, *, length: int) -> tuple[int, ...]:
    """Return the ids of a strip's tags in the order of its places.

    They are the ids of its pool in an order made from its code. A strip with more places goes on
    with another order made from the code: then an id comes again, but never nearer than half of
    the pool's number.
    """
    return tuple(islice(_endless(code, pool), length))


def _endless(code: str, pool: str) -> Iterator[int]:
    last: tuple[int, ...] = ()
    half = len(POOLS[pool]) // 2
    for turn in count():
        late = set(last[-half:])
        order = _shuffled(code, pool, turn)
        # What came late in one order comes late in the next too.
        last = tuple(sorted(order, key=lambda number: number in late))
        yield from last


@lru_cache(maxsize=4096)
def _shuffled(code: str, pool: str, turn: int) -> tuple[int, ...]:
    """Return a pool's ids sorted by the SHA-256 of code and id: alike with every Python."""

    def place(number: int) -> bytes:
        return hashlib.sha256(f"{code}/{turn}/{number}".encode()).digest()

    return tuple(sorted(POOLS[pool], key=place))
