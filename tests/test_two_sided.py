"""Cards on both sides of a sheet: each back behind its front, the same way up."""

from __future__ import annotations

import math
from pathlib import Path as FilePath
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from focuschart.errors import PageError
from focuschart.layout.card.card import Words, card_run
from focuschart.layout.page import Page, Path, Text, box, line, rounded_box
from focuschart.layout.printer.correct import behind
from focuschart.layout.sheet.block import Block
from focuschart.layout.sheet.finish import Finish
from focuschart.layout.sheet.look import LOOKS, contrast, with_look
from focuschart.layout.sheet.pieces import Item
from focuschart.layout.sheet.sheets import Imposition, imposed
from focuschart.renderers.pdf import render_pdf
from tests import readback
from tests.command import run
from tests.kits import kit_text, plain_kit
from tests.sheets import FACE

LABELS = "labels 99.1 x 60 mm, 2 x 4 on A4, left 4.65 mm, top 15.15 mm, pitch 101.6 x 62 mm"
LONG, HIGH = (230.0, 40.0), (40.0, 195.0)
"""On A4 and Letter lying, the second is turned."""


def side(width: float, height: float, name: str) -> Block:
    """Return a block with a frame on its edge, and an arrow that leads its reader right."""
    edge = box(0.0, 0.0, width, height, key=f"{name}:edge")
    arrow = line((0.2 * width, 0.3 * height), (0.7 * width, 0.3 * height), key=f"{name}:ahead")
    rise = line((0.2 * width, 0.3 * height), (0.2 * width, 0.9 * height), key=f"{name}:up")
    word = Text(name, 0.3 * width, 0.4 * height, 2.0, key=f"{name}:word")
    outline = rounded_box(0.0, 0.0, width, height, radius=3.0, group="cut", key="outline")
    return Block(width, height, (edge, arrow, rise, word), (outline,), ((0.0, width),))


def items_of(*sizes: tuple[float, float], blank: tuple[int, ...] = ()) -> list[Item]:
    return [
        Item(f"card/{n}", f"Card {n}", side(*size, "front"),
             back=None if n in blank else side(*size, "back"))
        for n, size in enumerate(sizes)
    ]  # fmt: skip


def laid(items: list[Item], paper: str = "A4", **finish: Any) -> Imposition:
    return imposed(items, paper=paper, title="Cards", face=FACE, finish=Finish(**finish))


def keyed(page: Page, ending: str) -> dict[str, Path]:
    return {
        shape.key.removesuffix(ending): shape
        for shape in page.shapes
        if isinstance(shape, Path) and shape.key.endswith(ending)
    }


def box_of(path: Path) -> np.ndarray:
    found: np.ndarray = np.concatenate((np.min(path.points, axis=0), np.max(path.points, axis=0)))
    return found


SIZES = st.sampled_from([(85.6, 53.98), (105.0, 74.0), (54.0, 85.6), LONG, HIGH, (90.0, 60.0)])


@given(
    st.lists(SIZES, min_size=1, max_size=9),
    st.integers(1, 3),
    st.sampled_from([0.0, 2.0]),
    st.sampled_from([0.0, 3.0]),
    st.sampled_from(["A4", "A3", "Letter", "320 x 250 mm"]),
)
@settings(deadline=None, max_examples=40)
def test_every_back_lies_behind_its_front_the_same_way_up(
    sizes: list[tuple[float, float]], copies: int, bleed: float, film: float, paper: str
) -> None:
    """A sheet turned over its long edge keeps every direction along it: so must what is read.

    Where a front's reader looks along (dx, dy), the back's looks along (dx, dy) on the back page.
    """
    found = laid(items_of(*sizes), paper, copies=copies, bleed_mm=bleed, film_mm=film)
    seen = 0
    for front, back in zip(found.pages[::2], found.pages[1::2], strict=True):
        fronts, backs = keyed(front, "/outline"), keyed(back, "/back:edge")
        assert fronts.keys() == backs.keys()
        seen += len(fronts)
        for key, path in backs.items():
            (left, low, right, top) = box_of(fronts[key])
            corners = [behind(p, height_mm=front.height_mm) for p in ((left, top), (right, low))]
            assert box_of(path) == pytest.approx(np.array(corners).ravel(), abs=1e-9)
            for way in ("ahead", "up"):
                one = keyed(front, f"/front:{way}")[key].points
                other = keyed(back, f"/back:{way}")[key].points
                step, behind_step = np.diff(one, axis=0), np.diff(other, axis=0)
                assert behind_step == pytest.approx(step, abs=1e-9)
    assert seen == copies * len(sizes)


def test_some_backs_are_turned_with_their_fronts() -> None:
    found = laid(items_of(LONG, LONG, HIGH, HIGH))
    turns = [
        sorted(
            round(math.degrees(shape.rotation))
            for shape in page.shapes
            if isinstance(shape, Text) and shape.key.endswith(":word")
        )
        for page in found.pages
    ]
    assert turns[::2] == turns[1::2]
    assert {0, 90} == {turn for page in turns for turn in page}


def test_fronts_lie_as_they_do_without_backs_on_lying_sheets() -> None:
    sizes = [(85.6, 53.98)] * 9
    plain = laid(items_of(*sizes, blank=tuple(range(9))), way="landscape")
    found = laid(items_of(*sizes))
    assert [page.in_group("cut") for page in found.fronts] == [
        page.in_group("cut") for page in plain.pages
    ]
    assert found.least == plain.least
    assert found.summary() == plain.summary().replace("A4", "A4 on both sides")


def test_cuts_marks_and_film_are_on_the_front_alone_and_backs_say_what_they_are() -> None:
    found = laid(items_of(*[(105.0, 74.0)] * 9), film_mm=3.0, bleed_mm=1.0)
    assert len(found.pages) == 2 * len(found.fronts) > 2
    for number, (front, back) in enumerate(zip(found.pages[::2], found.pages[1::2], strict=True)):
        for group in ("cut", "crop", "film"):
            assert front.in_group(group)
            assert not back.in_group(group)
        words = [shape.text for shape in back.shapes if isinstance(shape, Text)]
        says = f"Back of page {2 * number + 1}, turn over the long edge. Cards"
        assert says in words
        assert f"{2 * number + 2} / {len(found.pages)}" in words


def test_a_page_without_backs_among_others_has_a_blank_one() -> None:
    sizes = [(180.0, 120.0), (180.0, 120.0)]
    found = laid(items_of(*sizes, blank=(0,)))
    assert [len(keyed(page, ":edge")) for page in found.pages] == [1, 0, 1, 1]


def test_keys_are_unique_on_every_page() -> None:
    for page in laid(items_of(*[(85.6, 53.98)] * 4), copies=3).pages:
        keys = [shape.key for shape in page.shapes if shape.key]
        assert len(keys) == len(set(keys))


@pytest.mark.parametrize(
    ("paper", "way", "said"),
    [
        ("roll 100 mm", "auto", "roll 100 mm is not printed on both sides: choose A4, A3, Letter"),
        (LABELS, "auto", "labels 99.1 x 60 mm is not printed on both sides: choose A4"),
        ("A4", "portrait", "needs landscape sheets: leave --way at auto or landscape, or choose"),
    ],
)
def test_what_cannot_be_turned_over_its_long_edge_is_refused(
    paper: str, way: Any, said: str
) -> None:
    with pytest.raises(PageError, match=said):
        laid(items_of((54.0, 40.0)), paper, way=way)


# --- pictures -------------------------------------------------------------------------------------


def test_the_back_seen_through_the_sheet_has_its_edges_on_the_fronts() -> None:
    """Turned over its long edge, a back is seen upside down from the front."""
    found = laid(items_of((85.6, 53.98), LONG, HIGH, (105.0, 74.0)))
    edges = [
        Page(page.width_mm, page.height_mm, "edges",
             tuple(s for s in page.shapes if s.key.endswith(":edge")))
        for page in found.pages
    ]  # fmt: skip
    data = render_pdf(edges, face=FACE, title="t")
    for number in range(0, len(edges), 2):
        front, back = (readback.raster_pdf(data, n, 100) for n in (number, number + 1))
        assert front.sum() > 500
        assert readback.ink_differs_by(front, back[::-1], 1) == 0


@pytest.mark.parametrize("look", [name for name, one in LOOKS.items() if one and one.swap])
def test_a_dark_look_darkens_backs_where_their_fronts_are(look: str) -> None:
    found = laid(items_of((85.6, 53.98), (54.0, 85.6)))
    pages = [with_look(page, look) for page in found.pages]
    data = render_pdf(pages, face=FACE, title="t")
    front, back = (readback.raster_pdf(data, n, 100) for n in (0, 1))
    for path in keyed(found.pages[0], "/outline").values():
        left, low, right, top = (box_of(path) / 25.4 * 100).astype(int)
        rows, columns = slice(-top + 4, -low - 4), slice(left + 4, right - 4)
        assert front[rows, columns].mean() > 0.9
        assert back[::-1][rows, columns].mean() > 0.9
    inked = [s for s in pages[1].shapes if isinstance(s, Text) and s.key.endswith(":word")]
    assert all(contrast(text.colour, "#000000") > 4.5 for text in inked)


# --- the card -------------------------------------------------------------------------------------


def test_an_odd_last_side_has_a_blank_back() -> None:
    sides = [Words(f"Side {n}", "C", ("A word.",)) for n in range(3)]
    run = card_run("k", [sides], size=(85.6, 53.98), face=FACE, two_sided=True)
    backs = [back for _, back in run]
    assert all(back is not None and (back.width_mm, back.height_mm) == (85.6, 53.98)
               for back in backs)  # fmt: skip
    assert [len(back.shapes) > 0 for back in backs if back] == [True, False]
    folded = card_run("k", [sides], size=(85.6, 53.98), face=FACE)
    for (front, back), (both, _) in zip(run, folded, strict=True):
        assert back is not None
        moved = [shape.moved(85.6, 0.0) for shape in back.shapes]
        assert (*front.shapes, *moved) == tuple(s for s in both.shapes if s.group != "fold")


# --- the command ----------------------------------------------------------------------------------


@pytest.fixture
def kit(tmp_path: FilePath, monkeypatch: pytest.MonkeyPatch) -> FilePath:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    path = tmp_path / "bag.toml"
    path.write_text(kit_text(plain_kit()), encoding="utf-8")
    return path


def built(kit: FilePath, name: str, *more: str) -> dict[str, readback.SvgShape]:
    """Return the keyed shapes of the cards' back page."""
    out = kit.parent / name
    result = run("build", kit, "--out", out, "--card-sides", "two", *more)
    assert result.exit_code == 0, result.output
    assert "cards 1 sheet of A4 on both sides" in result.output
    return readback.svg_keyed((out / "bag" / "portrait" / "cards-2.svg").read_bytes())


def test_a_printers_offset_shifts_backs_and_backs_alone(kit: FilePath) -> None:
    bars = ("--long", "284 mm", "--short", "197 mm")
    offset = ("--back-right", "0.6 mm", "--back-up", "-0.3 mm")
    assert run("printer", "set", "p", *bars, *offset).exit_code == 0
    plain, shifted = built(kit, "plain"), built(kit, "shifted", "--printer", "p")
    lines = [key for key in plain if "/behind:" in key]
    assert lines
    for key in lines:
        step = shifted[key].points - plain[key].points
        assert step == pytest.approx(np.broadcast_to((-0.6, 0.3), step.shape), abs=2e-3)
    fronts = [
        readback.svg_keyed((kit.parent / name / "bag/portrait/cards-1.svg").read_bytes())
        for name in ("plain", "shifted")
    ]
    outline = next(key for key in fronts[0] if key.endswith("/outline"))
    assert fronts[0][outline].points == pytest.approx(fronts[1][outline].points, abs=2e-3)


def test_previews_show_both_sides_and_cut_files_the_front(kit: FilePath) -> None:
    built(kit, "out", "--preview", "--cut-files")
    names = {path.name for path in (kit.parent / "out" / "bag" / "portrait").glob("cards*")}
    assert names == {
        "cards.pdf", "cards-1.svg", "cards-2.svg", "cards-1.png", "cards-2.png",
        "cards-cut.pdf", "cards-cut-1.svg",
    }  # fmt: skip


def test_a_paper_without_backs_is_refused_before_anything_is_written(kit: FilePath) -> None:
    out = kit.parent / "out"
    result = run("build", kit, "--out", out, "--card-sides", "two", "--paper", "roll 100 mm")
    assert result.exit_code == 2
    assert "roll 100 mm is not printed on both sides: choose A4" in result.output
    assert not out.exists()
