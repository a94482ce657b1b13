"""Footprints on paper: ellipses true to scale, nothing outside the block, words clear of all."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from focuschart.errors import PageError
from focuschart.layout.page import Path, Point, Shape, Text
from focuschart.layout.rig.footprint import CHORDS, Figure, Panel, footprint_block, scale_words
from focuschart.layout.sheet.pieces import Item
from focuschart.layout.text.typeset import SMALLEST_CAP_MM
from focuschart.optics.arrays import Floats
from tests.shapes import apart, by_key, corners
from tests.sheets import FACE, sheets
from tests.test_render_ink import assert_same_ink

REAR = Panel(
    "rear", "Rear group", 0.5,
    (Figure("Clear aperture 44 mm", 0.0, 0.0, 22.0, 22.0, "heavy"),
     Figure("Beam of the centre", 0.0, 0.0, 15.2, 15.2, "grey"),
     Figure("Beam of the corner: 93 % passes", 8.5, 5.6, 15.2, 15.2, "hatched")),
)  # fmt: skip
FRONT = Panel(
    "front", "Front rim", 0.5,
    (Figure("Clear aperture 62 mm", 0.0, 0.0, 31.0, 31.0, "heavy"),
     Figure("Beam of the centre", 0.0, 0.0, 7.6, 15.2, "grey"),
     Figure("Beam of the corner: 20 % passes", 28.8, 20.9, 7.6, 15.2, "hatched")),
)  # fmt: skip
SENSOR = Panel(
    "sensor", "Sensor", 2.0,
    (Figure("Sensor 36 × 24 mm", 0.0, 0.0, 18.0, 12.0, "heavy", "rectangular"),
     Figure("Delivery crop 2.39 : 1", 0.0, 0.0, 14.3, 12.0, "outline", "rectangular"),
     Figure("Clear field, full beam", 0.0, 0.0, 11.0, 7.3, "grey", "rectangular")),
)  # fmt: skip
NOTES = ("Limits leave 6 % for real glass.", "Seen from behind the camera, the picture upright.")
SIZE = st.floats(0.5, 40.0)
PLACE = st.floats(-40.0, 40.0)
FIGURES = st.lists(
    st.builds(
        Figure, st.sampled_from(["a", "Beam of the corner at f/2.8 and 1.2 m"]), PLACE, PLACE, SIZE,
        SIZE, st.sampled_from(["grey", "hatched", "outline", "heavy"]),
        st.sampled_from(["round", "rectangular"]),
    ), min_size=1, max_size=4,
)  # fmt: skip
PANELS = st.lists(st.tuples(FIGURES, st.floats(0.2, 2.0)), min_size=1, max_size=3).map(
    lambda many: [Panel(f"p{n}", f"Panel {n}", scale, tuple(figures))
                  for n, (figures, scale) in enumerate(many)]
)  # fmt: skip


def axis_of(found: dict[str, Shape], panel: str) -> Floats:
    """Return where both strokes of a panel's cross have their middle."""
    middles = [corners(found[f"{panel}:axis:{way}"]).mean(axis=0) for way in ("across", "up")]
    np.testing.assert_allclose(middles[0], middles[1], atol=1e-9)
    return middles[0]  # type: ignore[no-any-return]


@given(panels=PANELS)
def test_figures_are_true_to_scale(panels: Sequence[Panel]) -> None:
    found = by_key(footprint_block(panels, face=FACE))
    for panel in panels:
        axis = axis_of(found, panel.key)
        for number, figure in enumerate(panel.figures):
            path = found[f"{panel.key}:figure:{number}"]
            assert isinstance(path, Path)
            assert path.closed
            off = (corners(path) - axis) / panel.scale - (figure.x_mm, figure.y_mm)
            unit = off / (figure.half_width_mm, figure.half_height_mm)
            # Extremes are the semi-axes; an ellipse's points lie on it, its chords nearly.
            np.testing.assert_allclose(np.abs(unit).max(axis=0), 1.0, rtol=1e-9)
            if figure.shape == "round":
                assert len(unit) == CHORDS
                np.testing.assert_allclose(np.hypot(*unit.T), 1.0, rtol=1e-9)
                assert math.cos(math.pi / CHORDS) > 1.0 - 6e-4
            else:
                np.testing.assert_allclose(np.abs(unit), 1.0, rtol=1e-9)


@given(panels=PANELS, notes=st.sampled_from([(), NOTES]))
def test_everything_stays_inside_and_words_clear_of_all(
    panels: Sequence[Panel], notes: tuple[str, ...]
) -> None:
    """Beams may lie on openings, that is their meaning; words, samples and panels lie apart."""
    block = footprint_block(panels, notes=notes, face=FACE)
    boxes = {key: corners(shape) for key, shape in by_key(block).items()}
    for box in boxes.values():
        assert np.all(box >= 1.0)
        assert np.all(box <= np.array([block.width_mm, block.height_mm]) - 1.0)
    # Hatching ends on its outline, as the next test holds.
    for one, two in combinations([key for key in boxes if ":hatch:" not in key], 2):
        if not may_touch(one, two):
            assert apart(boxes[one], boxes[two]), (one, two)


def may_touch(one: str, two: str) -> bool:
    """Figures and cross of one panel may touch."""
    names = [key.split(":") for key in (one, two)]
    return names[0][0] == names[1][0] and all(name[1] in ("figure", "axis") for name in names)


def inside(figure: Path, place: Point, *, round_one: bool) -> bool:
    outline = corners(figure)
    middle = (outline.max(axis=0) + outline.min(axis=0)) / 2.0
    unit = (np.array(place) - middle) / (np.ptp(outline, axis=0) / 2.0)
    reach = np.hypot(*unit) if round_one else np.abs(unit).max()
    return bool(reach <= 1.0 + 1e-9)


@given(panels=PANELS)
def test_hatching_ends_on_the_outline(panels: Sequence[Panel]) -> None:
    found = by_key(footprint_block(panels, face=FACE))
    for panel in panels:
        for number, figure in enumerate(panel.figures):
            key = f"{panel.key}:figure:{number}"
            outline, strokes = found[key], [s for k, s in found.items() if k.startswith(f"{key}:h")]
            assert isinstance(outline, Path)
            assert bool(strokes) <= (figure.pattern == "hatched")
            for stroke in strokes:
                (x0, y0), (x1, y1) = corners(stroke)
                assert y1 - y0 == pytest.approx(x1 - x0)
                for end in ((x0, y0), (x1, y1)):
                    assert inside(outline, end, round_one=figure.shape == "round")
                beyond = (x1 + 0.01, y1 + 0.01), (x0 - 0.01, y0 - 0.01)
                assert not any(
                    inside(outline, p, round_one=figure.shape == "round") for p in beyond
                )


def test_patterns_and_legends_tell_figures_apart() -> None:
    """No colour but greys; each label beside a sample in its figure's pattern; words legible."""
    block = footprint_block([REAR, FRONT, SENSOR], notes=NOTES, face=FACE)
    found = by_key(block)
    for shape in block.shapes:
        inks = (
            [shape.colour] if isinstance(shape, Text) else [shape.colour, shape.fill or "#000000"]
        )
        assert all(ink[1:3] == ink[3:5] == ink[5:7] for ink in inks)
        if isinstance(shape, Text):
            assert shape.cap_mm >= SMALLEST_CAP_MM
    looks = []
    for number, figure in enumerate(FRONT.figures):
        sample, drawn = found[f"front:sample:{number}"], found[f"front:figure:{number}"]
        label = found[f"front:label:{number}"]
        assert isinstance(sample, Path)
        assert isinstance(drawn, Path)
        assert isinstance(label, Text)
        assert label.text == figure.label
        assert corners(sample)[:, 1].mean() == pytest.approx(label.y + label.cap_mm / 2.0)
        assert (sample.stroke_mm, sample.fill) == (drawn.stroke_mm, drawn.fill)
        hatched = f"front:figure:{number}:hatch:0" in found
        assert hatched == (f"front:sample:{number}:hatch:0" in found)
        looks.append((sample.stroke_mm, sample.fill, hatched))
    assert len(set(looks)) == 3


def test_grey_hides_no_line() -> None:
    order = [shape.key for shape in footprint_block([SENSOR], face=FACE).shapes]
    drawn = [order.index(f"sensor:figure:{number}") for number in (2, 1, 0)]
    assert drawn == sorted(drawn)


@pytest.mark.parametrize(
    ("scale", "says"),
    [(0.5, "Scale 1 : 2"), (1.0, "Scale 1 : 1"), (2.0, "Scale 2 : 1"), (0.4, "Scale 1 : 2.5")],
)
def test_the_scale_is_stated(scale: float, says: str) -> None:
    assert scale_words(scale) == says
    panel = Panel("p", "P", scale, REAR.figures)
    stated = by_key(footprint_block([panel], face=FACE))["p:scale"]
    assert isinstance(stated, Text)
    assert stated.text == says


def test_three_panels_fit_a_sheet_and_print_alike() -> None:
    """On A4 with the ink of PDF and SVG compared; on paper too narrow, refused, not split."""
    block = footprint_block([REAR, FRONT, SENSOR], notes=NOTES, face=FACE)
    item = Item("coverage", "Coverage", block)
    pages = sheets([item], paper="A4", title="Coverage", face=FACE)
    assert len(pages) == 1
    assert_same_ink(pages[0])
    wide = footprint_block([REAR, FRONT, SENSOR, SENSOR, SENSOR], face=FACE)
    with pytest.raises(PageError, match="choose larger paper"):
        sheets([Item("coverage", "Coverage", wide)], paper="A4", title="Coverage", face=FACE)


def test_what_cannot_be_drawn_is_refused() -> None:
    good = REAR.figures[0]
    with pytest.raises(PageError, match="one panel or more"):
        footprint_block([], face=FACE)
    with pytest.raises(PageError, match="rear: a panel needs a figure and a scale above zero"):
        Panel("rear", "Rear", 0.0, (good,))
    with pytest.raises(PageError, match="a panel needs a figure"):
        Panel("rear", "Rear", 1.0, ())
    with pytest.raises(PageError, match="rear: a figure needs finite places and sizes above zero"):
        Panel("rear", "Rear", 1.0, (Figure("x", 0.0, 0.0, math.inf, 1.0, "grey"),))
    with pytest.raises(PageError, match="sizes above zero"):
        Panel("rear", "Rear", 1.0, (Figure("x", 0.0, 0.0, 0.0, 1.0, "grey"),))
