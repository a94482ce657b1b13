"""The bench form: a cell for everything that is noted, words where they belong, nothing lost."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from focuschart.errors import PageError
from focuschart.layout.bench.form import form_pages
from focuschart.layout.bench.form_table import LEAST_CELL_MM, LEAST_ROW_MM, BenchForm, FormRow
from focuschart.layout.page import Page, Path, Text
from focuschart.layout.sheet.papers import PAPERS
from focuschart.layout.text.typeset import SMALLEST_CAP_MM
from focuschart.renderers import RENDERERS
from tests import readback
from tests.sheets import FACE
from tests.test_target import Box, apart, box_of, texts, words

WHYS = (
    "nearest both rings reach",
    "between, in even steps of 1/distance",
    "far target beyond 30 m, its distance from a map",
)
PROCEDURE = (
    "Measure each distance from the sensor mark on the body, and note how far the tape may be off.",
    "Focus the taking lens on the horizontal lines, from both sides, and note what its ruler says.",
    "Then focus the attachment on the vertical lines, from both sides, and note its ruler.",
)
CAUTIONS = (
    "Never point the rig at the sun: glass this size burns eyes, sensors and tape in a moment.",
    "Support and tether a front-heavy rig; above people, qualified riggers decide.",
)


def form(rows: int = 6, repeats: int = 2, rings: int = 2) -> BenchForm:
    return BenchForm(
        title="Bench sheet",
        rig="Portrait 85, invented 2x",
        rings=("taking lens", "attachment")[:rings],
        rows=tuple(FormRow(f"{1.2 + 0.4 * n:.3g} m", WHYS[n % 3]) for n in range(rows)),
        repeats=repeats,
        stop="f/2.8",
        procedure=PROCEDURE,
        cautions=CAUTIONS,
        check="both rings at their infinity stops, before the first and after the last reading",
        blanks=("Check bars, mm", "Remarks", ""),
    )


def pages_of(asked: BenchForm, paper: str = "A4") -> list[Page]:
    return form_pages(asked, paper=paper, face=FACE)


def cells(page: Page, start: str = "cell:") -> dict[str, Box]:
    """Return the cells' edges, without their strokes."""
    return {
        s.key: (*s.points[0], *s.points[2])
        for s in page.shapes
        if isinstance(s, Path) and s.key.startswith(start)
    }


def body(page: Page) -> dict[str, Box]:
    """Return the cells below the headings, the check row's with them."""
    return cells(page) | cells(page, "check:")


WHEN = ("before", "after")
ROWS = st.integers(1, 45)
REPEATS = st.integers(1, 4)
RINGS = st.integers(1, 2)
PAPER = st.sampled_from(sorted(PAPERS))


@given(ROWS, REPEATS, RINGS, PAPER)
@settings(deadline=None, max_examples=50)
def test_there_is_a_cell_for_each_row_repeat_and_ring(
    rows: int, repeats: int, rings: int, paper: str
) -> None:
    pages = pages_of(form(rows, repeats, rings), paper)
    found = Counter(key for page in pages for key in cells(page))
    names = [str(n + 1) for n in range(repeats)]
    columns = ["setup", "distance", "error", "stop"]
    columns += [f"{ring}:{name}" for ring in range(rings) for name in names]
    assert found == Counter(f"cell:{row}:{column}" for row in range(rows) for column in columns)
    for page in pages:
        heads = {key.removeprefix("head:") for key in cells(page, "head:")}
        assert heads == (set(columns) if body(page) else set())
    checks = {"check:label", *(f"check:{n}:{when}" for n in range(rings) for when in WHEN)}
    assert cells(pages[-1], "check:").keys() == checks
    assert not [page for page in pages[:-1] if cells(page, "check:")]


@given(ROWS, REPEATS, RINGS, PAPER)
@settings(deadline=None, max_examples=50)
def test_cells_can_be_written_in_and_tile_the_table(
    rows: int, repeats: int, rings: int, paper: str
) -> None:
    for page in pages_of(form(rows, repeats, rings), paper):
        if not body(page):  # the notes have this page to themselves
            continue
        edges = np.array([*body(page).values(), *cells(page, "head:").values()])
        wide, high = edges[:, 2] - edges[:, 0], edges[:, 3] - edges[:, 1]
        assert wide.min() >= LEAST_CELL_MM - 1e-9
        assert high[: len(body(page))].min() >= LEAST_ROW_MM - 1e-9
        left, low, right, top = cells(page, "rule:frame")["rule:frame"]
        assert (left, right) == pytest.approx((16.0, page.width_mm - 8.0))
        assert low >= 18.0 - 1e-9
        # Cells and headings fill the frame but for the names of the rings above the numbers.
        named = sum(
            x1 - x0 for k, (x0, _, x1, _) in cells(page, "head:").items() if k.count(":") > 1
        )
        assert (wide * high).sum() + named * 6.5 == pytest.approx((right - left) * (top - low))
        for one, other in combinations(edges, 2):
            assert apart((one[0] + 1e-6, one[1] + 1e-6, one[2] - 1e-6, one[3] - 1e-6), tuple(other))


@given(ROWS, REPEATS, RINGS, PAPER)
@settings(deadline=None, max_examples=50)
def test_words_meet_neither_each_other_nor_a_rule_nor_the_edge(
    rows: int, repeats: int, rings: int, paper: str
) -> None:
    for page in pages_of(form(rows, repeats, rings), paper):
        boxes = {i: box_of(text) for i, text in enumerate(texts(page))}
        for one, other in combinations(boxes.values(), 2):
            assert apart(one, other)
        edges = [*body(page).values(), *cells(page, "head:").values()]
        lines = [box_of(shape) for shape in page.shapes if shape.key.startswith("blank:")
                 and isinstance(shape, Path)]  # fmt: skip
        rules = [
            side for x0, y0, x1, y1 in edges
            for side in ((x0, y0, x0, y1), (x1, y0, x1, y1), (x0, y0, x1, y0), (x0, y1, x1, y1))
        ]  # fmt: skip
        for text, box in zip(texts(page), boxes.values(), strict=True):
            assert text.cap_mm >= SMALLEST_CAP_MM
            assert all(apart(box, rule) for rule in rules)
            if not text.key.startswith("blank:"):
                assert all(apart(box, line) for line in lines)
            assert box[0] >= 16.0 - 1e-9
            assert box[2] <= page.width_mm - 8.0 + 1e-9
            assert box[3] <= page.height_mm - 7.0
            if text.key and text.key != "title":
                assert box[1] >= 17.5


def test_each_row_tells_its_distance_its_reason_and_the_stop() -> None:
    asked = form(30)
    pages = pages_of(asked)
    assert len(pages) > 1
    for number, row in enumerate(asked.rows):
        (page,) = [page for page in pages if f"cell:{number}:setup" in cells(page)]
        said: dict[str, list[Text]] = {"distance": [], "why": [], "stop": []}
        for text in texts(page):
            part, _, rest = text.key.partition(":")
            if part in said and rest.split(":")[0] == str(number):
                said[part].append(text)
        assert {part: " ".join(text.text for text in own) for part, own in said.items()} == {
            "distance": row.distance, "why": row.why, "stop": "f/2.8"
        }  # fmt: skip
        for part, own in said.items():
            column = "stop" if part == "stop" else "setup"
            left, low, right, top = cells(page)[f"cell:{number}:{column}"]
            for box in map(box_of, own):
                assert left < box[0] < box[2] < right
                assert low < box[1] < box[3] < top


def test_the_headings_name_what_is_noted_and_on_which_ring() -> None:
    (page,) = pages_of(form(5, 3))
    assert words(page, "heading:distance:") == "measured distance"
    assert words(page, "heading:error:") == "error ±"
    assert words(page, "heading:0:0") == "taking lens: ruler, mm"
    assert words(page, "heading:1:0") == "attachment: ruler, mm"
    assert [words(page, f"heading:1:{n}:") for n in "123"] == ["1", "2", "3"]


def test_procedure_and_cautions_stand_once_and_whole() -> None:
    for asked in (form(4), form(30)):
        first, *others = pages_of(asked)
        assert words(first, "blank:1:label") == "Check bars, mm"
        for number, step in enumerate(PROCEDURE, start=1):
            assert words(first, f"step:{number}:") == step
            assert words(first, f"number:{number}") == f"{number}."
        for number, caution in enumerate(CAUTIONS, start=1):
            assert words(first, f"caution:{number}:") == caution
        (bar,) = [s for s in first.shapes if s.key == "caution:bar"]
        assert all(apart(box_of(bar), box_of(text)) for text in texts(first))
        assert not [text for page in others for text in texts(page, "step:")]


def test_a_procedure_of_a_page_has_one_to_itself_and_a_longer_one_is_refused() -> None:
    asked = replace(form(3), procedure=PROCEDURE[:2] * 18)
    first, second = pages_of(asked)
    assert not body(first)
    assert len(cells(second)) == 3 * 8
    with pytest.raises(PageError, match="Bench sheet: the procedure is longer than a page"):
        pages_of(replace(asked, procedure=PROCEDURE * 30))


def test_the_check_row_asks_for_each_ring_before_and_after() -> None:
    asked = form(4)
    (page,) = pages_of(asked)
    assert words(page, "check:why:") == asked.check
    for ring in range(2):
        for when in WHEN:
            assert words(page, f"checked:{ring}:{when}") == when
            (cell,) = cells(page, f"check:{ring}:{when}").values()
            (text,) = texts(page, f"checked:{ring}:{when}")
            inside = box_of(text)
            assert cell[0] < inside[0] < inside[2] < cell[2]
            assert cell[1] < inside[1] < inside[3] < cell[3]
    (plain,) = pages_of(replace(asked, check="", blanks=()))
    assert not cells(plain, "check:")
    assert not texts(plain, "blank:")


def test_notes_are_as_large_as_the_fewest_pages_allow() -> None:
    def cap(page: Page) -> float:
        return texts(page, "step:1:")[0].cap_mm

    assert cap(pages_of(form(4), "A3")[0]) > 2.5
    first, *_ = pages_of(form(16))
    assert cap(first) >= 2.4
    _, low, _, _ = cells(first, "rule:frame")["rule:frame"]
    assert texts(first, "procedure")[0].y < low


def test_few_rows_are_opened_up_and_a_long_reason_gets_a_higher_row() -> None:
    def height(asked: BenchForm) -> float:
        _, low, _, top = cells(pages_of(asked)[0])["cell:0:setup"]
        return top - low

    assert height(form(3)) > height(form(30))
    long = FormRow("1.2 m", "a reason of many words " * 12)
    assert height(replace(form(30), rows=(long,) * 30)) > LEAST_ROW_MM
    with pytest.raises(PageError, match="a row is taller than A4 paper: shorten why"):
        pages_of(replace(form(), rows=(FormRow("1.2 m", "a reason of many words " * 150),)))


def test_what_cannot_be_filled_in_is_refused() -> None:
    with pytest.raises(PageError, match=r"9 readings of each ring are too many .* A4 paper: use l"):
        pages_of(form(4, 9))
    assert pages_of(form(4, 9), "A3")
    for empty in (form(0), form(4, 0), form(4, 2, 0)):
        with pytest.raises(PageError, match="needs a row, a ring and a reading"):
            pages_of(empty)
    with pytest.raises(PageError, match='unknown paper "A9": choose A4, A3, Letter'):
        pages_of(form(), "A9")


def test_long_names_keep_to_their_places_and_blanks_to_nothing() -> None:
    long = "a name of many words, " * 20
    asked = replace(form(), title=long, rig=long, rings=(long, long), stop="", procedure=("",))
    (page,) = pages_of(asked)
    for one, other in combinations(map(box_of, texts(page)), 2):
        assert apart(one, other)
    assert words(page, "heading:0:0").endswith("…: ruler, mm")
    assert not texts(page, "stop:")


@pytest.mark.parametrize("paper", sorted(PAPERS))
def test_the_pdf_and_the_svg_hold_every_cell_at_its_place(paper: str) -> None:
    pages = pages_of(form(20, 3), paper)
    ((_, pdf),) = RENDERERS["pdf"](pages, face=FACE, title="t")
    svgs = RENDERERS["svg"](pages, face=FACE, title="t")
    drawn = readback.pdf_paths(pdf)
    for page, found, (_, svg), read in zip(
        pages, drawn, svgs, readback.pdf_texts(pdf), strict=True
    ):
        boxes = np.array([[*p.points.min(axis=0), *p.points.max(axis=0)] for p in found])
        keyed = readback.svg_keyed(svg)
        for key, box in cells(page).items():
            assert np.abs(boxes - box).max(axis=1).min() < 0.01
            assert np.abs(keyed[key].points[[0, 2]].ravel() - box).max() < 1e-3
        assert any("taking lens: ruler, mm" in text for text in read)


def test_the_pages_are_numbered_and_carry_one_title() -> None:
    pages = pages_of(form(40))
    numbers = [text.text for page in pages for text in texts(page) if " / " in text.text]
    assert [n for n in numbers if n.endswith(f"/ {len(pages)}")] == [
        f"{n} / {len(pages)}" for n in range(1, len(pages) + 1)
    ]
    assert {page.title for page in pages} == {"Bench sheet"}
