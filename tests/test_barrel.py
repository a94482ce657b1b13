"""The page of barrels: what stands at the index, which way the ring turns, what fits."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from focuschart.errors import PageError
from focuschart.layout.extent import ink_boxes
from focuschart.layout.page import Page, Path, Text, line
from focuschart.layout.rig.barrel import (
    SCALES,
    Barrel,
    BarrelSheet,
    Setting,
    barrel_page,
    barrel_paths,
)
from focuschart.layout.rig.cylinder import Cylinder
from focuschart.layout.strip.band import Reader
from tests.shapes import keyed
from tests.sheets import FACE

LENGTH = 240.0
READERS = ("behind", "left", "right")
ARCS = (15.0, 40.0, 62.0, 90.0, 121.0)


def barrel(**facts: Any) -> Barrel:
    """A ring with a tick and a figure at each arc, the first infinity, its figures rising."""
    ticks = [line((x, 0.0), (x, 4.0), key=f"mark:{n}") for n, x in enumerate(ARCS)]
    figures = [Text(f"{n}", x, 6.0, 2.0, "middle", key=f"label:{n}") for n, x in enumerate(ARCS)]
    plain = Barrel(
        key="rig/taking",
        heading="85 mm, seen from behind the camera",
        note="Turns anticlockwise for nearer.",
        shapes=(*ticks, *figures),
        length_mm=LENGTH,
        width_mm=12.0,
        reader="behind",
        index_side="camera",
        nearer_clockwise=False,
        settings=(Setting("far", ARCS[0]), Setting("middle", ARCS[2]), Setting("near", ARCS[4])),
    )
    return replace(plain, **facts)


def sheet(*barrels: Barrel) -> BarrelSheet:
    return BarrelSheet("Bag: Strips on the barrel", "Portrait", ("Compare.",), barrels)


def points(shape: Path | Text) -> np.ndarray[Any, np.dtype[np.float64]]:
    assert isinstance(shape, Path)
    return np.array(shape.points)


def around(found: Path | Text, reader: Reader) -> float:
    """Return where the middle of a shape lies across the picture, the way the strip's x runs."""
    return float(points(found).mean(axis=0) @ np.array(Cylinder(1.0, reader).turned(1.0, 0.0)))


@pytest.mark.parametrize("reader", READERS)
@pytest.mark.parametrize("side", ["camera", "subject"])
def test_the_mark_that_is_set_carries_on_the_index(reader: Reader, side: Any) -> None:
    drawn = barrel(reader=reader, index_side=side)
    along = np.array(Cylinder(1.0, reader).turned(0.0, 1.0))
    for number, setting in zip((0, 2, 4), drawn.settings, strict=True):
        seen = keyed(barrel_paths(drawn, setting, face=FACE))
        mark, index = seen[f"mark:{number}"], seen["index"]
        assert around(mark, reader) == pytest.approx(0.0, abs=1e-9)
        assert around(index, reader) == pytest.approx(0.0, abs=1e-9)
        heights = [float((points(shape) @ along).mean()) for shape in (index, mark)]
        assert (heights[0] < heights[1]) == (side == "camera")


@pytest.mark.parametrize("reader", READERS)
@pytest.mark.parametrize("clockwise", [True, False])
def test_turned_as_the_arrow_says_the_ring_brings_nearer_marks(
    reader: Reader, clockwise: bool
) -> None:
    """A ring whose top moves right as it turns brings what lies left of the index to it."""
    marks = barrel(reader=reader, nearer_clockwise=clockwise)
    order = list(range(len(ARCS)))
    if clockwise:  # then figures fall as it turns nearer: the same ticks, infinity last
        order.reverse()
        marks = replace(marks, settings=marks.settings[::-1])
    far = keyed(barrel_paths(marks, marks.settings[0], face=FACE))
    page = keyed(barrel_page(sheet(marks), paper="A4", face=FACE).shapes)
    shaft, head = (points(page[f"rig/taking/0/{key}"]) for key in ("turn", "turn-head"))
    way = np.sign(around(page["rig/taking/0/turn-head"], reader)
                  - around(page["rig/taking/0/turn"], reader))  # fmt: skip
    # Told of the top of the barrel, of its left side and of its right side.
    told: dict[str, tuple[int, float]] = {"behind": (0, 1.0), "left": (1, 1.0), "right": (1, -1.0)}
    axis, sign = told[reader]
    assert np.sign(head[2, axis] - shaft[:, axis].mean()) == sign * (1 if clockwise else -1)
    here, following = order[0], order[1]
    before = around(far[f"mark:{following}"], reader) - around(far[f"mark:{here}"], reader)
    assert np.sign(-before) == way  # it must travel against its offset to reach the index


@settings(max_examples=25)
@given(
    x=st.floats(0.0, LENGTH),
    reader=st.sampled_from(READERS),
    side=st.sampled_from(["camera", "subject"]),
)
def test_all_of_a_barrel_lies_within_its_silhouette(x: float, reader: Reader, side: Any) -> None:
    drawn = barrel(reader=reader, index_side=side)
    across = np.array(Cylinder(1.0, reader).turned(1.0, 0.0))
    radius = LENGTH / math.tau
    for path in barrel_paths(drawn, Setting("", x), face=FACE):
        assert np.abs(points(path) @ across).max() <= radius * (1 + 1e-9)


def test_a_mark_behind_the_barrel_is_not_drawn() -> None:
    drawn = barrel()
    seen = keyed(barrel_paths(drawn, drawn.settings[0], face=FACE))
    quarter = LENGTH / 4
    for number, arc in enumerate(ARCS):
        assert (f"mark:{number}" in seen) == (abs(arc - ARCS[0]) < quarter)


def drawn_scale(page: Page) -> float:
    (heading,) = (s.text for s in page.shapes if isinstance(s, Text) and s.key == "rig")
    return 1.0 / float(heading.split("1 : ")[1].split(",")[0])


@pytest.mark.parametrize("length", [65.0, 150.0, 260.0, 940.0])
@pytest.mark.parametrize("reader", READERS)
def test_a_page_is_drawn_to_the_scale_it_says_and_stays_on_its_sheet(
    length: float, reader: Reader
) -> None:
    ring = barrel(length_mm=length, reader=reader)
    page = barrel_page(sheet(ring, replace(ring, key="rig/attachment")), paper="A4", face=FACE)
    scale = drawn_scale(page)
    assert any(scale == pytest.approx(known) for known in SCALES)
    across = np.array(Cylinder(1.0, reader).turned(1.0, 0.0))
    for ring_key in ("rig/taking", "rig/attachment"):
        end = points(keyed(page.shapes)[f"{ring_key}/1/end"]) @ across
        assert np.ptp(end) == pytest.approx(scale * length / math.pi, rel=1e-3)
    boxes = ink_boxes(page.shapes, face=FACE)
    assert boxes[:, :2].min() > 3.0
    assert (boxes[:, 2:].max(axis=0) < (page.width_mm - 3.0, page.height_mm - 3.0)).all()


@pytest.mark.parametrize("readers", [("behind", "behind"), ("left", "right"), ("behind", "left")])
def test_the_words_of_a_page_keep_clear_of_each_other(readers: tuple[Reader, Reader]) -> None:
    rings = [barrel(reader=reader, key=f"rig/{n}") for n, reader in enumerate(readers)]
    page = barrel_page(sheet(*rings), paper="A4", face=FACE)
    boxes = ink_boxes((s for s in page.shapes if isinstance(s, Text)), face=FACE)
    for number, one in enumerate(boxes):
        rest = boxes[number + 1 :]
        apart = (rest[:, :2] >= one[2:] - 0.8).any(axis=1) | (rest[:, 2:] <= one[:2] + 0.8).any(
            axis=1
        )
        assert apart.all()


def test_keys_are_there_once() -> None:
    page = barrel_page(sheet(barrel(), barrel(key="rig/attachment")), paper="A4", face=FACE)
    keys = [shape.key for shape in page.shapes if shape.key]
    assert len(keys) == len(set(keys))


def test_every_view_says_what_stands_at_the_index() -> None:
    page = keyed(barrel_page(sheet(barrel()), paper="A4", face=FACE).shapes)
    found = [page[f"rig/taking/{number}/setting"] for number in range(3)]
    assert [s.text for s in found if isinstance(s, Text)] == [
        "far at the index", "middle at the index", "near at the index"
    ]  # fmt: skip


def test_a_page_says_where_it_does_not_fit() -> None:
    with pytest.raises(PageError, match="Portrait: no scale fits this paper"):
        barrel_page(sheet(barrel(width_mm=1200.0)), paper="A4", face=FACE)
    with pytest.raises(PageError, match="unknown paper"):
        barrel_page(sheet(barrel()), paper="napkin", face=FACE)
