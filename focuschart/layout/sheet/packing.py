"""Packing of rectangles, upright or turned by a quarter, into as few equal rooms as possible.

Free space is kept as all its largest rectangles; the greedy rules and their orders are those of
J. Jylänki, A Thousand Ways to Pack the Bin (2010). The best of several runs is taken.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from focuschart.errors import PageError
from focuschart.layout.arrays import Floats
from focuschart.layout.page import Room

Size = tuple[float, float]
Rule = Literal["snug", "low"]
Order = Literal["long", "short", "area", "round"]

UPRIGHT_OR_TURNED = (False, True)
"""The ways in which a rectangle may lie, unless it has fewer."""

_SLACK_MM = 1e-7
_TRIES: tuple[tuple[bool, Rule, Order], ...] = (
    (False, "snug", "long"),
    (True, "snug", "long"),
    (True, "low", "area"),
    (True, "low", "long"),
    (False, "low", "round"),
    (False, "low", "long"),
    (True, "snug", "area"),
    (True, "snug", "round"),
    (False, "snug", "area"),
    (False, "low", "area"),
    (True, "low", "short"),
    (True, "snug", "short"),
)
"""Tries: whether to turn, placing rule, order. Those that were best most often come first."""
_LEAST_TRIES = 3
_LEAST_SPARED_MM = 10.0
_WORK = 1200
"""Rectangles times tries: limits the tries, so that time grows in proportion to the rectangles."""


class Spot(NamedTuple):
    """The place of a rectangle: number of its room, its corner from the room's, whether turned."""

    room: int
    x: float
    y: float
    turned: bool


def least_rooms(sizes: Sequence[Size], room: Size) -> int:
    """Return the number of rooms with the area of the rectangles: no packing needs fewer."""
    area = math.fsum(width * height for width, height in sizes)
    return math.ceil(area / (room[0] * room[1]) - 1e-9)


def fits(size: Size, room: Size, ways: Sequence[bool] = UPRIGHT_OR_TURNED) -> bool:
    """Return whether a rectangle has room in one of its ways, `True` being turned."""
    return bool(_fitting(size, room, ways))


def _fitting(size: Size, room: Size, ways: Sequence[bool]) -> list[bool]:
    """Return the ways in which a rectangle has room."""
    lying = ((turned, size[::-1] if turned else size) for turned in ways)
    return [turned for turned, (w, h) in lying
            if w <= room[0] + _SLACK_MM and h <= room[1] + _SLACK_MM]  # fmt: skip


def pack(
    sizes: Sequence[Size], room: Size, *, shortest: bool = False,
    ways: Sequence[Sequence[bool]] | None = None,
) -> list[Spot]:  # fmt: skip
    """Return a spot for each rectangle; they lie in their room and do not overlap.

    Rectangles are turned only if they do not fit upright, or where that saves a room; `ways` says
    how each may lie. With `shortest`, rooms are filled from y = 0 and the height used is minimised
    too. Raises PageError for a rectangle that does not fit a room.
    """
    ways = [UPRIGHT_OR_TURNED] * len(sizes) if ways is None else ways
    fitting = [_fitting(size, room, way) for size, way in zip(sizes, ways, strict=True)]
    if not all(fitting):
        raise PageError(f"a rectangle is larger than the room of {room[0]:g} x {room[1]:g} mm")
    if not sizes:
        return []
    least = least_rooms(sizes, room)
    best: tuple[tuple[float, float], list[Spot]] | None = None
    for spots in _tries(sizes, room, fitting, shortest=shortest):
        taken = _taken(spots, sizes) if shortest else 0.0
        rooms = max(spot.room for spot in spots) + 1
        if best is None or (rooms, taken) < best[0]:
            best = ((rooms, taken), spots)
        if best[0][0] <= least and not shortest:
            break
    return _in_order(best[1]) if best else []


def spared(taken: Sequence[Room], within: Room) -> list[Room]:
    """Return the largest free rectangles of a room beside those taken, which may overlap."""
    space = _Space((within.width, within.height), least=_LEAST_SPARED_MM)
    return [part._replace(x=part.x + within.x, y=part.y + within.y)
            for part in space.left_by(taken, within)]  # fmt: skip


def _tries(
    sizes: Sequence[Size], room: Size, ways: Sequence[Sequence[bool]], *, shortest: bool
) -> Iterator[list[Spot]]:
    """Yield packings by several orders and rules; fewer tries for many rectangles."""
    table = np.array(sizes, dtype=float)
    long, short = table.max(axis=1), table.min(axis=1)
    first = {"long": long, "short": short, "area": long * short, "round": long + short}
    first_ways = [way[:1] for way in ways]
    tries = [each for each in _TRIES if each[1] == "low" or not shortest]
    for turn, rule, order in tries[: max(_LEAST_TRIES, _WORK // len(sizes))]:
        sequence = np.lexsort((-short, -long, -first[order]))
        yield _packed(table, room, sequence, rule=rule, ways=ways if turn else first_ways)


def _taken(spots: Sequence[Spot], sizes: Sequence[Size]) -> float:
    """Return the sum of the heights used in all rooms."""
    tops: dict[int, float] = {}
    for spot, size in zip(spots, sizes, strict=True):
        top = spot.y + size[0 if spot.turned else 1]
        tops[spot.room] = max(tops.get(spot.room, 0.0), top)
    return math.fsum(tops.values())


def _in_order(spots: Sequence[Spot]) -> list[Spot]:
    """Return the spots with rooms renumbered in the order of the rectangles."""
    number: dict[int, int] = {}
    for spot in spots:
        number.setdefault(spot.room, len(number))
    return [spot._replace(room=number[spot.room]) for spot in spots]


def _packed(
    table: Floats, room: Size, order: NDArray[np.intp], *, rule: Rule,
    ways: Sequence[Sequence[bool]],
) -> list[Spot]:  # fmt: skip
    space = _Space(room, least=float(table.min()))
    spots: dict[int, Spot] = {}
    for index in order.tolist():
        size = (float(table[index, 0]), float(table[index, 1]))
        spots[index] = space.put(size, ways[index], rule)
    return [spots[index] for index in range(len(table))]


class _Space:
    """The free space of all rooms: largest free rectangles as rows of x, y, width and height."""

    def __init__(self, room: Size, *, least: float) -> None:
        self._size = room
        self._least = least - _SLACK_MM
        self._free = np.empty((0, 4))
        self._room = np.empty(0, dtype=int)
        self._count = 0

    def put(self, size: Size, ways: Sequence[bool], rule: Rule) -> Spot:
        """Return the best spot by the rule, in a new room if needed, and mark its space as used."""
        spot = self._best(size, ways, rule)
        if spot is None:
            self._open()
            spot = self._best(size, ways, rule)
        assert spot is not None, "what fits a room fits a new one"
        wide, high = size[::-1] if spot.turned else size
        self._take(spot, wide, high)
        return spot

    def left_by(self, taken: Sequence[Room], within: Room) -> list[Room]:
        """Return what is free in one new room once some rectangles of `within` are taken."""
        self._open()
        for part in taken:
            spot = Spot(0, part.x - within.x, part.y - within.y, turned=False)
            self._take(spot, part.width, part.height)
        return [Room(*free) for free in self._free.tolist()]

    def _open(self) -> None:
        self._free = np.vstack((self._free, (0.0, 0.0, *self._size)))
        self._room = np.append(self._room, self._count)
        self._count += 1

    def _best(self, size: Size, ways: Sequence[bool], rule: Rule) -> Spot | None:
        best: tuple[float, Spot] | None = None
        for turned in ways:
            wide, high = size[::-1] if turned else size
            spare = self._free[:, 2:] - (wide, high)
            rows = np.flatnonzero(np.min(spare, axis=1) >= -_SLACK_MM)
            if not len(rows):
                continue
            if rule == "snug":
                scores = np.min(spare[rows], axis=1)
            else:
                low = self._free[rows, 1] + high + 1e-3 * self._free[rows, 0]
                scores = self._room[rows] * 1e5 + low
            at = rows[np.argmin(scores)]
            score = float(np.min(scores))
            if best is None or score < best[0] - _SLACK_MM:
                x, y = self._free[at, :2].tolist()
                best = (score, Spot(int(self._room[at]), x, y, turned))
        return best[1] if best else None

    def _take(self, spot: Spot, wide: float, high: float) -> None:
        """Remove a rectangle from the free ones of its room, and free ones inside another."""
        low, top = np.array((spot.x, spot.y)), np.array((spot.x + wide, spot.y + high))
        here = self._room == spot.room
        ends = self._free[:, :2] + self._free[:, 2:]
        hit = here & np.all(
            (self._free[:, :2] < top - _SLACK_MM) & (ends > low + _SLACK_MM), axis=1
        )
        start, end = self._free[hit, :2], ends[hit]
        parts: list[Floats] = []
        for axis in (0, 1):
            before, after = end.copy(), start.copy()
            before[:, axis], after[:, axis] = low[axis], top[axis]
            parts += [np.hstack((start, before - start)), np.hstack((after, end - after))]
        new = np.vstack(parts)
        new = new[np.min(new[:, 2:], axis=1) >= self._least]
        kept = self._free[here & ~hit]
        new = _not_within(new, kept)
        self._free = np.vstack((self._free[~hit], new))
        self._room = np.append(self._room[~hit], np.full(len(new), spot.room))


def _not_within(new: Floats, kept: Floats) -> Floats:
    """Return the new rectangles that lie inside no other; of equal ones, one."""
    every = np.vstack((kept, new))
    start, end = every[:, :2], every[:, :2] + every[:, 2:]
    inside = np.all(
        (new[:, None, :2] >= start - _SLACK_MM)
        & (new[:, None, :2] + new[:, None, 2:] <= end + _SLACK_MM),
        axis=2,
    )
    own = np.arange(len(new)) + len(kept)
    same = inside[:, len(kept) :] & inside[:, len(kept) :].T
    inside[np.arange(len(new)), own] = False
    inside[:, len(kept) :] &= ~(same & (np.arange(len(new))[:, None] < np.arange(len(new))))
    left: Floats = new[~inside.any(axis=1)]
    return left
