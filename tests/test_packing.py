"""Packing: nothing overlaps or leaves its room, and few rooms are taken."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from itertools import combinations, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from focuschart.errors import PageError
from focuschart.layout.sheet.packing import Size, Spot, fits, least_rooms, pack

A4_ROOM = (281.0, 184.0)
STRIP = st.tuples(st.floats(30.0, 280.0), st.floats(15.0, 30.0))
CARD = st.tuples(st.floats(60.0, 180.0), st.floats(50.0, 110.0))


def box_of(spot: Spot, size: Size) -> tuple[float, float, float, float]:
    wide, high = size[::-1] if spot.turned else size
    return spot.x, spot.y, spot.x + wide, spot.y + high


def assert_packed(spots: Sequence[Spot], sizes: Sequence[Size], room: Size) -> None:
    assert len(spots) == len(sizes)
    boxes = np.array([box_of(*pair) for pair in zip(spots, sizes, strict=True)])
    assert np.all(boxes[:, :2] >= 0.0)
    assert np.all(boxes[:, 2:] <= np.array(room) + 1e-6)
    for one, other in combinations(range(len(spots)), 2):
        if spots[one].room == spots[other].room:
            a, b = boxes[one], boxes[other]
            assert max(*(a[:2] - b[2:]), *(b[:2] - a[2:])) >= -1e-6


@given(st.lists(STRIP | CARD, max_size=40), st.booleans())
@settings(deadline=None, max_examples=80)
def test_nothing_overlaps_or_leaves_its_room(sizes: list[Size], shortest: bool) -> None:
    spots = pack(sizes, A4_ROOM, shortest=shortest)
    if not sizes:
        assert not spots
        return
    assert_packed(spots, sizes, A4_ROOM)
    rooms = {spot.room for spot in spots}
    assert rooms == set(range(len(rooms)))
    assert len(rooms) >= least_rooms(sizes, A4_ROOM)
    seen = list(dict.fromkeys(spot.room for spot in spots))
    assert seen == sorted(seen)


@given(st.lists(STRIP, min_size=20, max_size=60))
@settings(deadline=None, max_examples=40)
def test_strips_take_at_most_half_as_many_rooms_again_as_their_area(sizes: list[Size]) -> None:
    taken = 1 + max(spot.room for spot in pack(sizes, A4_ROOM))
    assert taken <= 1.5 * least_rooms(sizes, A4_ROOM) + 1


def test_equal_strips_lie_as_close_as_a_hand_would_lay_them() -> None:
    """By hand: 9 rows of 20 mm in 184 mm; a tenth strip lies in no room that is left."""
    for count in (9, 10, 90, 91):
        spots = pack([(270.0, 20.0)] * count, A4_ROOM)
        assert 1 + max(spot.room for spot in spots) == -(-count // 9)


def test_rectangles_that_tile_a_room_exactly_need_one() -> None:
    sizes = [(60.0, 100.0), (40.0, 60.0), (20.0, 40.0), (20.0, 40.0)]
    assert least_rooms(sizes, (100.0, 100.0)) == 1
    assert {spot.room for spot in pack(sizes, (100.0, 100.0))} == {0}


def test_little_is_turned_where_turning_saves_no_room() -> None:
    spots = pack([(150.0, 20.0)] * 8 + [(20.0, 183.0)], A4_ROOM)
    assert not any(spot.turned for spot in spots)
    spots = pack([(184.0, 20.0)] * 14, A4_ROOM)  # 14 upright columns, only 9 level rows
    assert {spot.room for spot in spots} == {0}


def test_what_fits_only_turned_is_turned() -> None:
    (spot,) = pack([(20.0, 250.0)], A4_ROOM)
    assert spot.turned
    assert fits((20.0, 250.0), A4_ROOM)
    assert not fits((282.0, 20.0), A4_ROOM)


def test_what_fits_no_way_is_refused() -> None:
    with pytest.raises(PageError, match="larger than the room of 281 x 184 mm"):
        pack([(282.0, 20.0)], A4_ROOM)


# --- against every packing there is ---------------------------------------------------------------


def one_room(sizes: Sequence[Size], room: Size) -> bool:
    """Whether all fit one room: everything slid left and down, each edge stands at sums of sides.

    Herz, Recursive computational procedure for two-dimensional stock cutting (1972).
    """
    sides = [side for size in sizes for side in size]
    sums = {0.0}
    for side in sides:
        sums |= {total + side for total in sums if total + side <= max(room)}
    grid = sorted(sums)

    def place(left: Sequence[Size], boxes: list[tuple[float, float, float, float]]) -> bool:
        if not left:
            return True
        for (w, h), x, y in product({left[0], left[0][::-1]}, grid, grid):
            if x + w > room[0] or y + h > room[1]:
                continue
            if all(x >= b[2] or x + w <= b[0] or y >= b[3] or y + h <= b[1] for b in boxes) and (
                place(left[1:], [*boxes, (x, y, x + w, y + h)])
            ):
                return True
        return False

    return place(sorted(sizes, key=max, reverse=True), [])


def partitions(items: Sequence[int]) -> Iterator[list[list[int]]]:
    if not items:
        yield []
        return
    for rest in partitions(items[1:]):
        yield [[items[0]], *rest]
        for at in range(len(rest)):
            yield [*rest[:at], [items[0], *rest[at]], *rest[at + 1 :]]


def fewest(sizes: Sequence[Size], room: Size) -> int:
    for groups in sorted(partitions(range(len(sizes))), key=len):
        areas = [sum(sizes[i][0] * sizes[i][1] for i in group) for group in groups]
        if max(areas) <= room[0] * room[1] and all(
            one_room([sizes[i] for i in group], room) for group in groups
        ):
            return len(groups)
    raise AssertionError


def test_tiny_cases_take_as_few_rooms_as_any_packing() -> None:
    rng = random.Random(7)
    worse = 0
    for _ in range(60):
        room = (10.0, 7.0)
        sizes = [(float(rng.randint(2, 9)), float(rng.randint(1, 5))) for _ in range(4)]
        spots = pack(sizes, room)
        assert_packed(spots, sizes, room)
        taken, best = 1 + max(spot.room for spot in spots), fewest(sizes, room)
        assert best <= taken <= best + 1
        worse += taken > best
    assert worse <= 2
