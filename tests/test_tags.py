"""Tags: the stored table against OpenCV, ids, places on strips, printed pages."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import combinations

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from focuschart.layout.page import Page, Path, Shape, Text
from focuschart.layout.sheet.block import split
from focuschart.layout.strip.band import LEAD_IN_MM, RingBand, Side
from focuschart.layout.strip.ruler import ruler_strip
from focuschart.layout.strip.ruler_tags import (
    INDEX_HALF_MM,
    INDEX_HEIGHT_MM,
    index_tags,
    ruler_tag_count,
    ruler_tags,
)
from focuschart.layout.tag.dictionary import COUNT, SIDE_MODULES, WHITE
from focuschart.layout.tag.distance import DISTANCES_MM, card_distance_mm, card_ids
from focuschart.layout.tag.ids import POOLS, strip_ids
from focuschart.layout.tag.tag import MARGIN_MM, Tag, tag_shapes
from focuschart.renderers.preview import render_preview
from tests.sheets import FACE, pdf_of

CODES = st.text("23456789ABCDEFGHJKMNPQRSTUVWXYZ", min_size=5, max_size=5)


# --- the table ------------------------------------------------------------------------------------


def test_the_stored_table_is_opencvs_dictionary_of_250_tags() -> None:
    """OpenCV's DICT_4X4_250, as the installed OpenCV draws it."""
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_250)
    for number in range(COUNT):
        drawn = cv2.aruco.generateImageMarker(dictionary, number, SIDE_MODULES)
        assert np.array_equal(drawn[1:-1, 1:-1] > 0, WHITE[number])
        assert not drawn[[0, -1]].any()
        assert not drawn[:, [0, -1]].any()


def test_no_tag_is_another_one_turned_within_two_modules() -> None:
    """Least distance 3 over all turns, as OpenCV states it for this dictionary (from memory)."""
    every = np.stack([np.rot90(WHITE, turn, axes=(1, 2)) for turn in range(4)]).reshape(
        4, COUNT, 16
    )
    apart = np.sum(every[:, :, np.newaxis] != every[0], axis=-1)
    for turn in range(4):
        np.fill_diagonal(apart[turn], 16 if turn == 0 else apart[turn].max())
    assert apart.min() == 3


# --- ids ------------------------------------------------------------------------------------------


def test_ids_that_may_be_seen_together_are_apart_and_all_are_given_out() -> None:
    assert sorted(number for pool in POOLS.values() for number in pool) == list(range(COUNT))


@given(code=CODES, pool=st.sampled_from(sorted(POOLS)))
def test_the_ids_of_a_strip_are_its_pool_in_an_order_of_its_own(code: str, pool: str) -> None:
    once = strip_ids(code, pool, length=len(POOLS[pool]))
    assert sorted(once) == list(POOLS[pool])
    assert strip_ids(code, pool, length=7) == once[:7]


@given(code=CODES)
def test_an_id_does_not_come_again_within_half_its_pool(code: str) -> None:
    ids = np.array(strip_ids(code, "taking", length=400))
    same = ids == ids[:, np.newaxis]
    apart = np.abs(np.arange(400) - np.arange(400)[:, np.newaxis])
    assert apart[same & (apart > 0)].min() > len(POOLS["taking"]) // 2


def test_two_codes_hardly_ever_share_a_run_of_ids() -> None:
    """By chance 1.7e-4 of all pairs share a run of four of 74 ids, 3e-8 a run of six."""
    rng = np.random.default_rng(3)
    codes = ["".join(rng.choice(list("23456789ABCDEFGHJKMNPQRSTUVWXYZ"), 5)) for _ in range(200)]
    for length, most in ((4, 12), (6, 0)):
        runs = [
            {ids[k : k + length] for k in range(len(ids) - length + 1)}
            for ids in (strip_ids(code, "attachment", length=74) for code in codes)
        ]
        assert sum(bool(one & two) for one, two in combinations(runs, 2)) <= most


# --- places ---------------------------------------------------------------------------------------


def boxes(shapes: tuple[Shape, ...]) -> Iterator[np.ndarray]:
    for shape in shapes:
        if isinstance(shape, Path) and not shape.key.startswith("tag:") and shape.group == "print":
            points = np.array(shape.points)
            yield np.concatenate((points.min(axis=0), points.max(axis=0)))
        elif isinstance(shape, Text) and not shape.rotation:
            width = FACE.width_mm(shape.text, cap_mm=shape.cap_mm)
            left = shape.x - width * {"start": 0.0, "middle": 0.5, "end": 1.0}[shape.anchor]
            yield np.array([left, shape.y, left + width, shape.y + shape.cap_mm])


@pytest.mark.parametrize("side", ["camera", "subject"])
@pytest.mark.parametrize(
    ("width", "turns", "tag_mm"), [(9.5, 1, 3.2), (12.0, 1, 5.4), (20.0, 2, 3.2), (24.0, 2, 5.4)]
)
@pytest.mark.parametrize("around", [188.7, 251.3, 289.7])
def test_tags_of_a_ruler_stand_clear_of_everything_on_it(
    side: Side, width: float, turns: int, tag_mm: float, around: float
) -> None:
    band = RingBand(around, width, "behind", side, turns)
    ids = strip_ids("K7QF3-S", "taking", length=ruler_tag_count(band))
    tags = list(ruler_tags(band, ids))
    block = ruler_strip(band, (), face=FACE, ids=ids)
    assert len(tags) == ruler_tag_count(band) == turns * (len(tags) // turns)
    assert {tag.side_mm for tag in tags} == {tag_mm}
    inked = np.array([box for box in boxes(block.shapes)
                      if not box[2] - box[0] > 100.0])  # fmt: skip
    for tag in tags:
        assert MARGIN_MM - 1e-9 <= tag.y <= width - MARGIN_MM - tag_mm + 1e-9
        assert 0.0 < tag.x < around - tag_mm - MARGIN_MM + 1e-9
        apart = np.maximum(
            np.maximum(inked[:, 0] - tag.x - tag_mm, tag.x - inked[:, 2]),
            np.maximum(inked[:, 1] - tag.y - tag_mm, tag.y - inked[:, 3]),
        )
        assert apart.min() > 0.2
    for piece in split(block, 83.0):
        keys = [shape.key for shape in piece.shapes]
        cut = [number for number in ids if 0 < keys.count(f"tag:{number}") != 1]
        assert not cut


def test_a_ruler_too_low_for_tags_has_none() -> None:
    assert ruler_tag_count(RingBand(200.0, 9.4, "behind", "camera")) == 0
    assert ruler_tag_count(RingBand(200.0, 18.0, "behind", "camera", 2)) == 0


def test_a_tag_is_at_every_centimetre_beside_the_zero_line_too() -> None:
    band = RingBand(250.0, 12.0, "behind", "camera")
    middles = [tag.middle[0] - LEAD_IN_MM for tag in ruler_tags(band, (1,))]
    assert middles[:3] == pytest.approx([-4.5, 5.5, 15.5])
    assert np.diff(middles)[:-1] == pytest.approx(10.0)


@pytest.mark.parametrize("side", ["camera", "subject"])
def test_a_bench_index_has_two_tags_on_each_side_near_the_ring(side: Side) -> None:
    tags = list(index_tags(side, (1, 2, 3, 4)))
    lefts = [tag.x - INDEX_HALF_MM for tag in tags]
    assert [left > 0.0 for left in lefts] == [False, False, True, True]
    assert max(abs(left + tag.side_mm) for left, tag in zip(lefts, tags, strict=True)) >= 15.0
    ring = INDEX_HEIGHT_MM if side == "camera" else 0.0
    assert {round(min(abs(ring - tag.y), abs(ring - tag.y - tag.side_mm)), 6) for tag in tags} == {
        0.75
    }


# --- distance cards -------------------------------------------------------------------------------


def test_every_distance_of_the_table_is_told_by_its_card() -> None:
    for distance in DISTANCES_MM.tolist():
        ids = card_ids(distance)
        assert ids is not None
        assert set(ids) <= set(POOLS["card"])
        told = card_distance_mm([*ids, 3, 100])
        assert told is not None
        assert told == distance if math.isinf(distance) else abs(told - distance) < 0.05


def test_a_card_is_told_only_whole_and_alone() -> None:
    ids = card_ids(1200.0)
    assert ids is not None
    assert card_distance_mm(ids[:2]) is None
    assert card_distance_mm([*ids, *(card_ids(1300.0) or ())]) is None
    assert card_ids(1234.0) is None


# --- on paper -------------------------------------------------------------------------------------


def test_every_tag_is_found_by_opencv_on_a_printed_page() -> None:
    spots = [(10.0 + 9.0 * (n % 20), 10.0 + 9.0 * (n // 20)) for n in range(COUNT)]
    tags = [Tag(number, x, y, 5.4) for number, (x, y) in enumerate(spots)]
    page = Page(210.0, 297.0, "tags", tuple(shape for tag in tags for shape in tag_shapes(tag)))
    ((_, picture),) = render_preview(pdf_of(page), dpi=300)
    grey = cv2.imdecode(np.frombuffer(picture, np.uint8), cv2.IMREAD_GRAYSCALE)
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_250)
    corners, numbers, _ = cv2.aruco.ArucoDetector(dictionary).detectMarkers(grey)
    assert sorted(numbers.ravel().tolist()) == list(range(COUNT))
    for square, number in zip(corners, numbers.ravel().tolist(), strict=True):
        x, y = square[0].mean(axis=0) / 300.0 * 25.4
        assert (x, 297.0 - y) == pytest.approx(tags[number].middle, abs=0.1)
