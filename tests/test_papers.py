"""Papers as users name them: what is understood, and one sentence for what is not."""

from __future__ import annotations

import contextlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from focuschart.errors import PageError
from focuschart.layout.sheet.papers import PAPERS, paper_size, parse_paper, whole_sheet

LABELS = "labels 99.1 x 38.1 mm, 2 x 7 on A4, left 4.65 mm, top 15.15 mm, pitch 101.6 x 38.1 mm"


@pytest.mark.parametrize(
    ("name", "size"), [("A4", (297.0, 210.0)), ("a3", (420.0, 297.0)), ("letter", (279.4, 215.9))]
)
def test_named_papers_are_the_standards(name: str, size: tuple[float, float]) -> None:
    """ISO 216; ANSI/ASME Y14.1: 11 by 8.5 inches."""
    assert paper_size(name) == pytest.approx(size)
    assert parse_paper(name).sizes("portrait") == [pytest.approx(size[::-1])]
    assert parse_paper(name).sizes("auto") == [pytest.approx(size), pytest.approx(size[::-1])]


@given(st.floats(70.0, 2000.0), st.floats(70.0, 2000.0), st.sampled_from(["x", " x ", " × "]))
def test_a_free_sheet_lies_on_its_long_edge(width: float, height: float, between: str) -> None:
    assert paper_size(f"{width:.3f}{between}{height:.3f} mm") == pytest.approx(
        (max(width, height), min(width, height)), abs=6e-4
    )


def test_a_roll_has_its_width_and_an_end() -> None:
    roll, longer = parse_paper("roll 100 mm"), parse_paper("Roll 62.5 mm, up to 3000 mm")
    assert (roll.kind, roll.width_mm, roll.height_mm) == ("roll", 100.0, 2000.0)
    assert (longer.width_mm, longer.height_mm) == (62.5, 3000.0)


def test_labels_stand_on_an_upright_sheet() -> None:
    """By hand: 4.65 + 101.6 + 99.1 = 205.35 across, 15.15 + 7 × 38.1 = 281.85 down."""
    paper = parse_paper(LABELS)
    assert (paper.width_mm, paper.height_mm) == (210.0, 297.0)
    assert paper.labels is not None
    assert paper.labels.right_mm == pytest.approx(205.35)
    assert paper.labels.foot_mm == pytest.approx(281.85)


def test_labels_without_a_pitch_touch() -> None:
    labels = parse_paper("labels 60 x 40 mm, 3 x 5 on 200 x 210 mm, left 10 mm, top 5 mm").labels
    assert labels is not None
    assert (labels.pitch_x_mm, labels.pitch_y_mm) == (60.0, 40.0)


def labels(**changed: str) -> str:
    parts = {"size": "99.1 x 38.1", "count": "2 x 7", "sheet": "A4", "left": "4.65",
             "top": "15.15", "pitch": "101.6 x 38.1"} | changed  # fmt: skip
    return (
        "labels {size} mm, {count} on {sheet}, left {left} mm, top {top} mm, pitch {pitch} mm"
    ).format(**parts)


BAD = {
    "nothing": ("", 'unknown paper "": choose A4, A3, Letter, "210 x 330 mm", "roll 100 mm"'),
    "a name": ("A9", 'unknown paper "A9": choose A4'),
    "words": ("wide x high mm", "lengths are numbers of mm, such as 99.1"),
    "smaller than a card": ("60 x 90 mm", "each side is from 70 to 2000 mm"),
    "no number": ("nan x 300 mm", "each side is from 70 to 2000 mm"),
    "no end": ("inf x 300 mm", "each side is from 70 to 2000 mm"),
    "overflow": ("1e999 x 300 mm", "each side is from 70 to 2000 mm"),
    "below zero": ("-210 x 300 mm", "each side is from 70 to 2000 mm"),
    "a narrow roll": ("roll 20 mm", "each width is from 62 to 2000 mm"),
    "a roll of nan": ("roll nan mm", "each width is from 62 to 2000 mm"),
    "an endless roll": ("roll 100 mm, up to inf mm", "each length is from 150 to 5000 mm"),
    "a bare roll": ("roll", 'write a roll as "roll 100 mm"'),
    "bare labels": ("labels", 'write labels as "labels 99.1 x 38.1 mm'),
    "overlapping across": (labels(pitch="90 x 38.1"), "the labels overlap: a pitch is at least"),
    "overlapping down": (labels(pitch="101.6 x 30"), "the labels overlap: a pitch is at least"),
    "leaving the sheet": (labels(count="2 x 8"), r"reach 205.35 x 319.95 mm .* 210 x 297 mm"),
    "left of the sheet": (labels(left="-5"), "measure margins and pitches"),
    "no labels": (labels(count="0 x 7"), "counted across and down from 1 to 1000"),
    "half a label": (labels(count="1.5 x 7"), "counted across and down from 1 to 1000"),
    "countless": (labels(count="99999999999999999999 x 7"), "from 1 to 1000"),
    "labels of nan": (labels(size="nan x 38.1"), "must be finite numbers of mm"),
    "tiny labels": (labels(size="20 x 10"), "labels under 25 x 18 mm hold neither strip nor"),
    "labels on nothing": (labels(sheet="B9"), 'unknown paper "b9": choose A4'),
    "labels on labels": (labels(sheet="roll 100 mm"), "is no whole sheet"),
}  # fmt: skip


@pytest.mark.parametrize(("text", "said"), BAD.values(), ids=BAD)
def test_a_paper_that_cannot_be_is_refused_in_one_sentence(text: str, said: str) -> None:
    with pytest.raises(PageError, match=said) as caught:
        parse_paper(text)
    assert "\n" not in str(caught.value)


@given(st.text(max_size=40))
def test_any_text_is_a_paper_or_a_sentence(text: str) -> None:
    with contextlib.suppress(PageError):
        assert parse_paper(text).width_mm >= 62.0


@pytest.mark.parametrize("name", ["roll 100 mm", LABELS])
def test_what_fills_a_page_needs_a_sheet(name: str) -> None:
    with pytest.raises(PageError, match="is no whole sheet: choose A4, A3, Letter"):
        paper_size(name)
    with pytest.raises(PageError, match="has one way up only"):
        parse_paper(name).sizes("portrait")
    assert paper_size(whole_sheet(name)) == PAPERS["A4"]


def test_a_way_up_that_is_none_is_refused() -> None:
    with pytest.raises(PageError, match='way up "upright": choose auto, landscape, portrait'):
        parse_paper("A4").sizes("upright")  # type: ignore[arg-type]
