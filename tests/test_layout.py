"""Strips, cards and sheets as pages of shapes: true lengths, nothing lost, nothing touching."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from focuschart.chart.as_set import COMB_MM
from focuschart.errors import PageError
from focuschart.layout.card.card import CardBlocks, Side, Table, Words, card_run, dealt_columns
from focuschart.layout.card.size import CARD_SIZES, CORNER_MM, card_size
from focuschart.layout.page import Path, Shape, Text
from focuschart.layout.sheet.block import Block, split
from focuschart.layout.strip.band import LEAD_IN_MM, TAB_MM, Reader, RingBand
from focuschart.layout.strip.cone import mirrored
from focuschart.layout.strip.index import Bracket, IndexStrip, index_strip
from focuschart.layout.strip.labels import Mark
from focuschart.layout.strip.marker import MarkerStrip, marker_strip
from focuschart.layout.strip.ruler import ruler_strip
from focuschart.layout.strip.ticks import LEAST_APART_MM
from focuschart.layout.text.caption import Caption
from focuschart.layout.text.typeset import SMALLEST_CAP_MM
from tests.lettering import closest_line_mm, closest_words_mm, texts
from tests.sheets import FACE

CAPTIONS = (Caption("K7QF3-S"), Caption("turn nearer", "left"), Caption("subject side", "up"))


def band(length: float = 220.0, width: float = 12.0, reader: Reader = "behind") -> RingBand:
    return RingBand(length, width, reader, "camera")


def marks(*arcs: float) -> tuple[Mark, ...]:
    return tuple(
        Mark(f"{i + 1}.{i}", arc, arc - 0.8, arc + 0.9, 0.4, i - 2) for i, arc in enumerate(arcs)
    )


def strip(*arcs: float, on: RingBand | None = None) -> Block:
    return marker_strip(MarkerStrip("s", on or band(), marks(*arcs), CAPTIONS), face=FACE)


def keyed(shapes: Iterable[Shape], start: str) -> dict[str, Shape]:
    return {shape.key: shape for shape in shapes if shape.key.startswith(start)}


def x_of(shape: Shape) -> float:
    assert isinstance(shape, Path)
    return shape.points[0][0]


def label_box(text: Text) -> tuple[float, float, float, float]:
    """Return left, right, bottom and top of a label's capitals, for its rotation."""
    width = FACE.width_mm(text.text, cap_mm=text.cap_mm)
    along = (-width / 2, width / 2) if text.anchor == "middle" else (0.0, width)
    corners = [
        (text.x + u * math.cos(text.rotation) - w * math.sin(text.rotation),
         text.y + u * math.sin(text.rotation) + w * math.cos(text.rotation))
        for u in along for w in (0.0, text.cap_mm)
    ]  # fmt: skip
    xs, ys = zip(*corners, strict=True)
    return min(xs), max(xs), min(ys), max(ys)


def apart(one: Sequence[float], other: Sequence[float]) -> bool:
    gap = 1e-9
    return (
        one[1] <= other[0] + gap or other[1] <= one[0] + gap
        or one[3] <= other[2] + gap or other[3] <= one[2] + gap
    )  # fmt: skip


ARCS = st.lists(st.floats(-7.0, 200.0), min_size=1, max_size=25, unique=True)
READERS: st.SearchStrategy[Reader] = st.sampled_from(["behind", "left", "right"])


@given(ARCS, READERS)
@settings(deadline=None)
def test_every_mark_stands_at_its_arc_from_the_zero_line(arcs: list[float], reader: Reader) -> None:
    block = strip(*arcs, on=band(300.0, 14.0, reader))
    zero = x_of(keyed(block.shapes, "zero")["zero"])
    assert zero == pytest.approx(LEAD_IN_MM, abs=1e-12)
    ticks = keyed(block.shapes, "mark:")
    for i, arc in enumerate(arcs):
        if f"mark:{i}" in ticks:
            assert x_of(ticks[f"mark:{i}"]) - zero == pytest.approx(arc, abs=1e-9)
        else:  # it would have run into another
            least = min(abs(x_of(tick) - zero - arc) for tick in ticks.values())
            assert least < LEAST_APART_MM + 1e-9


@given(ARCS, READERS)
@settings(deadline=None)
def test_words_never_touch_and_never_leave_the_strip(arcs: list[float], reader: Reader) -> None:
    block = strip(*arcs, on=band(300.0, 14.0, reader))
    boxes = [label_box(shape) for shape in block.shapes if isinstance(shape, Text)]
    for i, one in enumerate(boxes):
        assert min(one[0], 300 - one[1], one[2], 14 - one[3]) >= 0
        assert all(apart(one, other) for other in boxes[:i])


@given(ARCS)
@settings(deadline=None)
def test_the_first_ranks_keep_their_labels(arcs: list[float]) -> None:
    labels = keyed(strip(*arcs, on=band(300.0)).shapes, "label:")
    assert "label:0" in labels
    if len(arcs) > 1:
        assert "label:1" in labels


def test_a_mark_past_the_seam_is_the_same_place_one_turn_back() -> None:
    block = strip(215.0, 40.0)
    assert x_of(keyed(block.shapes, "mark:")["mark:0"]) == pytest.approx(215.0 + LEAD_IN_MM - 220)


def test_marks_over_one_turn_are_refused() -> None:
    with pytest.raises(PageError, match=r"s: the marks run over 230 mm, more than one turn of 220"):
        strip(-10.0, 220.0)


def test_a_strip_too_narrow_for_legible_labels_is_refused() -> None:
    with pytest.raises(PageError, match=r"3\.5 mm wide leaves no room .*strip_width"):
        strip(10.0, on=band(width=3.5))


def test_the_paper_is_once_round_and_the_tab() -> None:
    block = strip(10.0)
    assert block.width_mm == 220.0 + TAB_MM
    assert x_of(keyed(block.shapes, "seam")["seam"]) == 220.0


@pytest.mark.parametrize(
    ("reader", "up"), [("behind", (0, 1)), ("left", (1, 0)), ("right", (-1, 0))]
)
def test_labels_stand_upright_for_their_reader(reader: Reader, up: tuple[int, int]) -> None:
    label = next(iter(keyed(strip(60.0, on=band(reader=reader)).shapes, "label:").values()))
    assert isinstance(label, Text)
    assert -math.sin(label.rotation) == pytest.approx(up[0], abs=1e-12)
    assert math.cos(label.rotation) == pytest.approx(up[1], abs=1e-12)


def test_the_index_side_carries_the_ticks() -> None:
    for side, edge in (("camera", 0.0), ("subject", 12.0)):
        on = RingBand(220.0, 12.0, "behind", side)  # type: ignore[arg-type]
        tick = keyed(strip(60.0, on=on).shapes, "mark:")["mark:0"]
        assert isinstance(tick, Path)
        assert tick.points[0][1] == edge


# --- ruler -----------------------------------------------------------------------------------


def test_the_ruler_shares_the_zero_line_and_counts_millimetres() -> None:
    block = ruler_strip(band(), CAPTIONS, face=FACE)
    zero = x_of(keyed(block.shapes, "zero")["zero"])
    ticks = keyed(block.shapes, "mm:")
    assert zero == x_of(keyed(strip(10.0).shapes, "zero")["zero"])
    assert len(ticks) == 220
    for key, tick in ticks.items():
        assert x_of(tick) - zero == pytest.approx(float(key.removeprefix("mm:")), abs=1e-9)


# --- index -----------------------------------------------------------------------------------


@pytest.mark.parametrize("side", ["camera", "subject"])
def test_brackets_reach_as_far_as_the_depth_and_the_witness_meets_the_ring(side: str) -> None:
    brackets = (Bracket("f/2.8", 1.1, 1.3), Bracket("f/8", 3.4, 4.2))
    given_strip = IndexStrip(side, brackets, "index", "K7QF3-S")  # type: ignore[arg-type]
    block = index_strip(given_strip, face=FACE)
    witness = keyed(block.shapes, "witness")["witness"]
    assert isinstance(witness, Path)
    assert witness.points[0][1] == (block.height_mm if side == "camera" else 0.0)
    for bracket in brackets:
        path = keyed(block.shapes, "bracket:")[f"bracket:{bracket.label}"]
        assert isinstance(path, Path)
        xs = [x for x, _ in path.points]
        assert x_of(witness) - min(xs) == pytest.approx(bracket.left_mm)
        assert max(xs) - x_of(witness) == pytest.approx(bracket.right_mm)


@pytest.mark.parametrize("side", ["camera", "subject"])
@pytest.mark.parametrize("ruler_mm", [1.0, 1.004])
def test_the_comb_has_halves_of_the_rulers_millimetre_rising_to_the_right(
    side: str, ruler_mm: float
) -> None:
    brackets = (Bracket("f/2.8", 1.1, 1.3),)
    strip_of = IndexStrip(side, brackets, "index", "K7QF3-S", ruler_mm, COMB_MM)  # type: ignore[arg-type]
    block = index_strip(strip_of, face=FACE)
    witness, edge = keyed(block.shapes, "witness")["witness"], block.height_mm * (side == "camera")
    comb = keyed(block.shapes, "comb:")
    assert {float(key.removeprefix("comb:")) for key in comb} == {-1.5, -1, -0.5, 0.5, 1, 1.5}
    for key, tick in comb.items():
        assert isinstance(tick, Path)
        figure = float(key.removeprefix("comb:"))
        assert x_of(tick) - x_of(witness) == pytest.approx(figure * ruler_mm, abs=1e-9)
        assert tick.points[0][1] == edge
    figures = {t.text: t for t in texts(block.shapes) if t.key.startswith("comb-figure:")}
    assert figures.keys() == {"−1", "+1"}
    assert figures["−1"].x < x_of(comb["comb:-1"]) < x_of(comb["comb:+1"]) < figures["+1"].x
    assert closest_words_mm(block.shapes) > 0.3
    assert closest_line_mm(block.shapes, "comb:", "witness", "bracket:") > 0.1


# --- splitting --------------------------------------------------------------------------------


@given(st.floats(90.0, 260.0), st.lists(st.floats(-5.0, 380.0), min_size=2, max_size=12))
@settings(deadline=None)
def test_a_split_strip_loses_nothing_and_is_never_scaled(longest: float, arcs: list[float]) -> None:
    block = strip(*arcs, on=band(400.0))
    pieces = split(block, longest)
    assert math.fsum(piece.width_mm for piece in pieces) == pytest.approx(block.width_mm)
    assert all(piece.width_mm <= longest + 1e-9 for piece in pieces)
    words = Counter(s.text for piece in pieces for s in piece.shapes if isinstance(s, Text))
    before = Counter(s.text for s in block.shapes if isinstance(s, Text))
    code = CAPTIONS[0].text
    assert before - words == Counter()
    assert set(words - before) <= {code}
    offset = 0.0
    for piece in pieces:
        for key, tick in keyed(piece.shapes, "mark:").items():
            assert x_of(tick) + offset == pytest.approx(x_of(keyed(block.shapes, key)[key]))
        offset += piece.width_mm


@pytest.mark.parametrize("longest", [75.0, 90.0, 120.0, 180.0])
@pytest.mark.parametrize("flip", [False, True])
def test_every_piece_that_has_room_bears_the_code(longest: float, flip: bool) -> None:
    """Marks stand 25 mm apart: the code, 11 mm long, finds room between any two."""
    block = strip(*range(0, 375, 25), on=band(400.0))
    pieces = split(mirrored(block) if flip else block, longest)
    assert len(pieces) > 2
    code = CAPTIONS[0].text
    for piece in pieces:
        codes = [s for s in piece.shapes if isinstance(s, Text) and s.text == code]
        room = piece.width_mm - (TAB_MM if piece in (pieces[0], pieces[-1]) else 0.0)
        assert codes or room < 40.0
        for text in codes:
            wide = FACE.width_mm(code, cap_mm=text.cap_mm) * (-1.0 if text.mirrored else 1.0)
            assert text.mirrored == flip
            assert 0.0 < min(text.x, text.x + wide) < max(text.x, text.x + wide) < piece.width_mm
            boxes = [label_box(s) for s in piece.shapes if isinstance(s, Text) and s is not text]
            own = (min(text.x, text.x + wide), max(text.x, text.x + wide),
                   text.y, text.y + text.cap_mm)  # fmt: skip
            assert flip or all(apart(own, other) for other in boxes)


def test_pieces_meet_in_an_arrowhead_that_only_both_complete() -> None:
    pieces = split(strip(*range(0, 380, 40), on=band(400.0)), 200.0)
    left, right = (keyed(piece.shapes, "join:") for piece in pieces[:2])
    assert "join:1:left" in left
    assert "join:1:right" in right
    for piece in pieces:
        assert piece.outline[0].closed
        assert max(x for x, _ in piece.outline[0].points) == pytest.approx(piece.width_mm)


def test_a_strip_crowded_with_marks_cannot_be_split_in_the_dark() -> None:
    block = Block(400.0, 12.0, (), (), keep=((0.0, 400.0),))
    with pytest.raises(PageError, match="no place to join pieces of at most 250 mm: choose"):
        split(block, 250.0)


# --- card -------------------------------------------------------------------------------------


def table_of(rows: int, stops: int) -> Table:
    return Table(
        ("m", *(f"f/{2**i}" for i in range(stops))),
        tuple(("1.2", *["1.18–1.22"] * stops) for _ in range(rows)),
        foot=("from", *["45: to ∞"] * stops),
    )


def cards(rows: int, stops: int, size: tuple[float, float], least: float) -> list[CardBlocks]:
    sides = [
        Side("Portrait", "K7QF3-S", table, ("Nearest 0.9 m.",), least_cap_mm=least)
        for table in dealt_columns(
            table_of(rows, stops), most=3, cap_mm=least, size=size, face=FACE
        )
    ]
    care = Words("Portrait", "K7QF3-S", ("Never point the rig at the sun.",))
    return card_run("c", [sides, [*sides, care]], size=size, face=FACE)


@given(st.integers(1, 40), st.integers(1, 8), st.sampled_from(["ID-1", "A7", "A6"]))
@settings(deadline=None)
def test_a_card_is_legible_whole_and_of_its_standard_size(rows: int, stops: int, name: str) -> None:
    blocks = cards(rows, stops, card_size(name), 2.2)
    width, height = CARD_SIZES[name]
    shown = 0
    for block, back in blocks:
        assert back is None
        assert (block.width_mm, block.height_mm) == (2 * width, height)
        texts = [shape for shape in block.shapes if isinstance(shape, Text)]
        assert min(text.cap_mm for text in texts) >= SMALLEST_CAP_MM
        shown += sum(text.text == "1.18–1.22" for text in texts)
        for text in texts:
            text_width = FACE.width_mm(text.text, cap_mm=text.cap_mm)
            left = text.x - (text_width if text.anchor == "end" else 0.0)
            side = 0.0 if text.x <= width else width
            assert side <= left
            assert left + text_width <= side + width + 1e-9
            assert 0 <= text.y <= height - text.cap_mm
    assert shown == rows * stops


def test_standard_card_and_paper_sizes() -> None:
    """ISO/IEC 7810 (ID-1 85.60 × 53.98 mm, corner radius 2.88 to 3.48 mm); ISO 216 (A6, A7)."""
    assert card_size("ID-1") == (85.60, 53.98)
    assert 2.88 <= CORNER_MM <= 3.48
    assert card_size("A6") == (105.0, 148.0)
    assert card_size("A7") == (105.0, 74.0)


def test_card_sizes_in_millimetres() -> None:
    assert card_size("90 x 60 mm") == (90.0, 60.0)
    with pytest.raises(PageError, match='unknown card size "B9"'):
        card_size("B9")
    with pytest.raises(PageError, match="not between 40 mm and 200 mm"):
        card_size("nan x 60 mm")


def test_a_card_too_small_for_legible_text_is_refused() -> None:
    with pytest.raises(PageError, match=r"card of 20 × 20 mm is too small .*choose a larger card"):
        cards(1, 1, (20.0, 20.0), 2.2)


def test_columns_are_dealt_evenly_and_none_is_lost() -> None:
    size = card_size("ID-1")
    dealt = dealt_columns(table_of(8, 8), most=3, cap_mm=2.2, size=size, face=FACE)
    assert [len(table.headings) - 1 for table in dealt] == [2, 3, 3]
    assert [head for table in dealt for head in table.headings[1:]] == [
        f"f/{2**i}" for i in range(8)
    ]
    assert all(table.headings[0] == "m" and table.foot[0] == "from" for table in dealt)
