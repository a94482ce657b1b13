"""The page model: what it refuses, and that moving keeps every length."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from focuschart.errors import PageError
from focuschart.layout.page import Page, Path, Point, Text, box, line, moved, rounded_box

LENGTH = st.floats(min_value=-500, max_value=500)
POINT = st.tuples(LENGTH, LENGTH)
POINTS = st.lists(POINT, min_size=2, max_size=6).map(tuple)

TRIANGLE = ((0.0, 0.0), (1.0, 0.0), (0.0, 1.0))


@pytest.mark.parametrize(
    ("build", "complaint"),
    [
        (lambda: line((0, 0), (math.nan, 1)), "not a finite number"),
        (lambda: line((0, 0), (0, math.inf)), "not a finite number"),
        (lambda: line((0, 0), (1, 1), stroke_mm=math.nan), "not a finite number"),
        (lambda: line((0, 0), (1, 1), stroke_mm=0), "width above zero"),
        (lambda: line((0, 0), (1, 1), stroke_mm=-0.1), "width above zero"),
        (lambda: line((0, 0), (1, 1), colour="red"), "'red', which is not written like"),
        (lambda: line((0, 0), (1, 1), colour="#abc"), "'#abc', which is not written like"),
        (lambda: line((0, 0), (1, 1), colour="#ff0000"), "kept for cutting and folding"),
        (lambda: line((0, 0), (1, 1), key="a\x00b"), "holds a control character"),
        (lambda: box(0, 0, 1, 1, fill="#0000ff"), "kept for cutting and folding"),
        (lambda: box(0, 0, 1, 1, fill="#00a000"), "kept for cutting and folding"),
        (lambda: Path(((0.0, 0.0),)), "two points or more"),
        (lambda: Path(TRIANGLE[:2], closed=True), "three if it is closed"),
        (lambda: Path(TRIANGLE, closed=True, group="cut", fill="#ffffff"), "cannot be filled"),
        (lambda: Path(TRIANGLE, group="cut"), "a cut path must be closed"),
        (lambda: Path(TRIANGLE, group="film"), "a film path must be closed"),
        (lambda: Text("a\nb", 0, 0, 2), "holds a control character"),
        (lambda: Text("a\u202eb", 0, 0, 2), "holds a control character"),
        (lambda: Text("a\ud800b", 0, 0, 2), "holds a control character"),
        (lambda: Text("a", 0, 0, 2, key="\x1b"), "holds a control character"),
        (lambda: Text("a", 0, 0, 2, colour="url(x)"), "which is not written like"),
        (lambda: Text("a", 0, 0, 0), "has no height"),
        (lambda: Text("a", math.nan, 0, 2), "not a finite number"),
        (lambda: Text("a", 0, 0, 2, rotation=math.inf), "not a finite number"),
        (lambda: Page(0, 10, "p", ()), "has no area"),
        (lambda: Page(10, -1, "p", ()), "has no area"),
        (lambda: Page(math.inf, 10, "p", ()), "not a finite number"),
        (lambda: Page(10, 10, "p\x07", ()), "holds a control character"),
    ],
)
def test_a_page_refuses_what_cannot_be_drawn(build: Callable[[], object], complaint: str) -> None:
    with pytest.raises(PageError, match=complaint):
        build()


@given(points=POINTS, dx_mm=LENGTH, dy_mm=LENGTH)
def test_moving_shifts_every_point(points: tuple[Point, ...], dx_mm: float, dy_mm: float) -> None:
    path = Path(points, key="k", stroke_mm=0.3).moved(dx_mm, dy_mm)
    assert np.subtract(path.points, points) == pytest.approx(
        np.tile((dx_mm, dy_mm), (len(points), 1)), abs=1e-9
    )
    assert (path.key, path.stroke_mm) == ("k", 0.3)


def test_groups_come_apart_in_drawing_order() -> None:
    cut, text = box(0, 0, 5, 5, group="cut"), Text("a", 1, 1, 2)
    first, last = line((0, 0), (1, 0)), line((0, 1), (1, 1))
    page = Page(10, 10, "p", (first, cut, text, last))
    assert page.in_group("print") == (first, text, last)
    assert page.in_group("cut") == (cut,)
    assert page.in_group("fold") == ()


def test_shapes_move_together() -> None:
    path, text = moved((line((0, 0), (1, 0)), Text("a", 1, 1, 2)), 10, 20)
    assert isinstance(path, Path)
    assert isinstance(text, Text)
    assert path.points == ((10, 20), (11, 20))
    assert (text.x, text.y) == (11, 21)


def test_a_round_corner_keeps_to_its_circle() -> None:
    # ID-1 card: 85.60 × 53.98 mm, corner radius 2.88 to 3.48 mm (ISO/IEC 7810).
    card = np.array(rounded_box(10, 20, 85.60, 53.98, radius=3.18, group="cut").points)
    assert card.min(axis=0) == pytest.approx((10, 20))
    assert card.max(axis=0) == pytest.approx((95.60, 73.98))
    corner = card[(card < np.array((13.18, 23.18)) + 1e-9).all(axis=1)]
    assert len(corner) == 17
    assert np.hypot(*(corner - (13.18, 23.18)).T) == pytest.approx(3.18)
    middles = (corner[1:] + corner[:-1]) / 2
    assert 3.18 - np.hypot(*(middles - (13.18, 23.18)).T).min() < 0.002 * 3.18
