"""The side view on paper: places true to scale, words clear of words, lines and edges."""

from __future__ import annotations

import math
from itertools import combinations, pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from focuschart.errors import PageError
from focuschart.layout.page import Path, Shape, Text
from focuschart.layout.rig.footprint import Figure, Panel, scale_words
from focuschart.layout.rig.rig_sheet import RigSheet, rig_page
from focuschart.layout.rig.sideview import SCALES, Measure, Piece, SideView, side_view_block
from focuschart.layout.sheet.papers import PAPERS
from focuschart.layout.text.typeset import SMALLEST_CAP_MM
from tests.shapes import apart, by_key, corners
from tests.sheets import FACE
from tests.test_render_ink import assert_same_ink

NAMES = st.sampled_from(
    ["a", "Step-up ring", "A very long name for a thing on the front of a lens"]
)
SIZES = st.floats(0.0, 120.0)


@st.composite
def views(draw: st.DrawFn) -> SideView:
    """Pieces one after another, the first open to the rear, and places among them."""
    sizes = draw(st.lists(SIZES, min_size=1, max_size=7))
    edges = np.cumsum([0.0, *sizes]).tolist()
    place = st.floats(-60.0, edges[-1] + 30.0)
    pieces = tuple(
        Piece(draw(NAMES), start, end, draw(st.floats(10.0, 150.0)), draw(place), "95 g",
              draw(st.booleans()), number == 0)
        for number, (start, end) in enumerate(pairwise(edges))
    )  # fmt: skip
    places = draw(st.lists(place, max_size=8))
    measures = tuple(Measure(f"Place {n}", at) for n, at in enumerate(places))
    maybe = st.one_of(place, st.just(math.nan))
    return SideView(pieces, measures, draw(place), draw(maybe), draw(maybe))


def middle_mm(shape: Shape, plane: float, scale: float) -> float:
    """Return how far a shape's middle is from the sensor plane, true mm."""
    xs = corners(shape)[:, 0]
    return float((xs.min() + xs.max()) / 2.0 - plane) / scale


@given(view=views(), scale=st.sampled_from(SCALES))
def test_every_place_is_true_to_scale(view: SideView, scale: float) -> None:
    found = by_key(side_view_block(view, scale=scale, face=FACE))
    plane = float(corners(found["plane"])[0, 0])
    axis = float(corners(found["axis"])[0, 1])
    close = 1e-9 / scale
    for number, piece in enumerate(view.pieces):
        box = corners(found[f"piece:{number}"])
        assert (box[:, 0].min() - plane) / scale == pytest.approx(piece.start_mm, abs=close)
        assert (box[:, 0].max() - plane) / scale == pytest.approx(piece.end_mm, abs=close)
        assert np.ptp(box[:, 1]) / scale == pytest.approx(piece.height_mm, abs=close)
        assert (box[:, 1].min() + box[:, 1].max()) / 2.0 == pytest.approx(axis, abs=1e-9)
        dot = found[f"centre:{number}"]
        assert middle_mm(dot, plane, scale) == pytest.approx(piece.centre_mm, abs=close)
    for key in ("gravity", "balance"):
        assert middle_mm(found[key], plane, scale) == pytest.approx(view.centre_mm, abs=close)
    for key, at in (("thread", view.thread_mm), ("support", view.support_mm)):
        assert (key in found) == (not math.isnan(at))
        if key in found:
            assert middle_mm(found[key], plane, scale) == pytest.approx(at, abs=close)
    for number, measure in enumerate(sorted(view.measures, key=lambda m: abs(m.at_mm))):
        start, end = corners(found[f"distance:{number}"])[:, 0]
        assert start == pytest.approx(plane, abs=1e-9)
        assert (end - plane) / scale == pytest.approx(measure.at_mm, abs=close)
        assert (corners(found[f"drop:{number}"])[:, 0] == end).all()
        name, figure = found[f"to:{number}"], found[f"mm:{number}"]
        assert isinstance(name, Text)
        assert isinstance(figure, Text)
        assert (name.text, figure.text) == (measure.label, f"{measure.at_mm:.1f}")


@given(view=views(), scale=st.sampled_from(SCALES))
def test_words_are_legible_inside_and_clear_of_all(view: SideView, scale: float) -> None:
    block = side_view_block(view, scale=scale, face=FACE)
    found = by_key(block)
    boxes = {key: corners(shape) for key, shape in found.items()}
    for key, box in boxes.items():
        assert np.all(box >= 0.5), key
        assert np.all(box <= np.array([block.width_mm, block.height_mm]) - 0.5), key
    texts = [key for key, shape in found.items() if isinstance(shape, Text)]
    for one, two in combinations(texts, 2):
        assert apart(boxes[one], boxes[two]), (one, two)
    for text in texts:
        shape = found[text]
        assert isinstance(shape, Text)
        assert shape.cap_mm >= SMALLEST_CAP_MM
        for other in boxes.keys() - set(texts):
            assert apart(boxes[text], boxes[other]), (text, other)


def example(**changes: object) -> SideView:
    pieces = (
        Piece("Body", 0.0, 18.0, 70.0, -5.0, "700 g", known=False, open_behind=True),
        Piece("85 mm", 18.0, 92.0, 72.0, 58.0, "400 g"),
        Piece("2x", 92.0, 187.0, 82.0, 142.0, "800 g"),
    )
    measures = (Measure("Support", 140.0), Measure("Lens mount", 18.0))
    fields = {"pieces": pieces, "measures": measures, "centre_mm": 80.0, "thread_mm": 10.0,
              "support_mm": 140.0} | changes  # fmt: skip
    return SideView(**fields)  # type: ignore[arg-type]


def test_a_height_not_known_looks_thin_and_no_ink_is_coloured() -> None:
    found = by_key(side_view_block(example(), scale=0.5, face=FACE))
    body, lens = found["piece:0"], found["piece:1"]
    assert isinstance(body, Path)
    assert isinstance(lens, Path)
    assert (body.stroke_mm or 0.0) < 0.5 * (lens.stroke_mm or 0.0)
    assert "piece:0:behind" in found
    assert "piece:1:behind" not in found
    for shape in found.values():
        inks = [shape.colour, (shape.fill if isinstance(shape, Path) else None) or "#000000"]
        assert all(ink[1:3] == ink[3:5] == ink[5:7] for ink in inks)


def test_a_long_name_is_cut_but_its_mass_is_not() -> None:
    pieces = (Piece("x" * 60, 0.0, 18.0, 70.0, 5.0, "700 g"),)
    label = by_key(side_view_block(example(pieces=pieces), scale=0.5, face=FACE))["label:0"]
    assert isinstance(label, Text)
    assert label.text.endswith("…, 700 g")


def test_what_cannot_be_drawn_is_refused() -> None:
    with pytest.raises(PageError, match="one piece or more"):
        example(pieces=())
    with pytest.raises(PageError, match="2x: a piece needs finite places and a height"):
        example(pieces=(Piece("2x", 0.0, math.nan, 70.0, 5.0),))
    with pytest.raises(PageError, match="2x: a piece ends before it starts"):
        example(pieces=(Piece("2x", 10.0, 9.0, 70.0, 5.0),))
    with pytest.raises(PageError, match="finite distances and a centre of gravity"):
        example(centre_mm=math.nan)
    with pytest.raises(PageError, match="a scale above zero"):
        side_view_block(example(), scale=0.0, face=FACE)


# --- the sheet --------------------------------------------------------------------------------


FACTS = tuple(
    (f"Fact {n}", "Something to set up, in a dozen words or so, 12 mm.") for n in range(8)
)
BEAMS = (
    Panel("rear", "Rear group", 1.0, (Figure("Opening", 0.0, 0.0, 22.0, 22.0, "heavy"),
                                      Figure("Beam", 5.0, 5.0, 15.0, 15.0, "hatched"))),
)  # fmt: skip


def sheet(**changes: object) -> RigSheet:
    fields = {"title": "Bag: Rigs", "heading": "Portrait", "view": example(), "facts": FACTS,
              "cautions": ("Tether it.",), "beams": BEAMS, "notes": ("At f/2.8.",)}  # fmt: skip
    return RigSheet(**fields | changes)  # type: ignore[arg-type]


def texts_on(found: RigSheet, paper: str = "A4") -> dict[str, Text]:
    page = rig_page(found, paper=paper, face=FACE)
    return {shape.key: shape for shape in page.shapes if isinstance(shape, Text)}


@pytest.mark.parametrize("paper", list(PAPERS))
@pytest.mark.parametrize("beams", [(), BEAMS])
def test_nothing_leaves_the_page_and_words_lie_apart(paper: str, beams: tuple[Panel, ...]) -> None:
    page = rig_page(sheet(beams=beams), paper=paper, face=FACE)
    texts = [shape for shape in page.shapes if isinstance(shape, Text)]
    for shape in page.shapes:
        box = corners(shape)
        assert np.all(box >= 3.0), shape.key
        assert np.all(box <= np.array([page.width_mm, page.height_mm]) - 3.0), shape.key
    for one, two in combinations(texts, 2):
        assert apart(corners(one), corners(two)), (one.text, two.text)


def test_pdf_and_svg_print_alike() -> None:
    assert_same_ink(rig_page(sheet(), paper="A4", face=FACE))


def test_the_scale_is_stated_and_grows_with_the_paper() -> None:
    stated = [texts_on(sheet(), paper)["view:scale"].text for paper in ("A4", "A3")]
    assert stated == [scale_words(1.0 / 2.0), scale_words(1.0)]


def test_facts_without_room_are_left_out_from_the_end_cautions_never() -> None:
    many = tuple((f"Fact {n}", "word " * 40) for n in range(60))
    found = texts_on(sheet(facts=many, cautions=("Tether it.",)))
    labels = [key for key in found if key.startswith("fact:") and key.count(":") == 1]
    assert 0 < len(labels) < 60
    assert labels == [f"fact:{n}" for n in range(len(labels))]
    assert found["caution:1:0"].text == "Tether it."


def test_a_word_wider_than_its_room_is_cut() -> None:
    found = texts_on(sheet(facts=(("Chain", "x" * 200),), notes=("y" * 200,)))
    assert found["fact:0:0"].text.endswith("…")


def test_a_rig_too_high_for_footprints_goes_without() -> None:
    pieces = tuple(Piece("A name of a piece", n, n + 1.0, 70.0, n) for n in range(36))
    page = rig_page(sheet(view=example(pieces=pieces)), paper="A4", face=FACE)
    assert not any(shape.key.startswith("rear:") for shape in page.shapes)
    with pytest.raises(PageError, match="Portrait: no scale fits this paper"):
        rig_page(sheet(view=example(pieces=pieces * 3)), paper="A4", face=FACE)
