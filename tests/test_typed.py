"""What people type: read where it means one thing, refused with the cure where it means two."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from focuschart.cli import main
from focuschart.errors import KitError, PageError, UnitError
from focuschart.kit.load import load_kit
from focuschart.layout.card.size import card_size
from focuschart.layout.sheet.papers import parse_paper
from focuschart.typed import (
    plain,
    typed_factor,
    typed_figure,
    typed_length,
    typed_list,
    typed_offset,
    typed_seconds,
    typed_stop,
)
from focuschart.units import format_length, parse_length

INCH_MM = 25.4  # exactly: international yard and pound agreement of 1959
SAMPLE = Path(__file__).parent.parent / "sample_kits" / "two-lenses.toml"


@pytest.mark.parametrize(
    ("text", "length_mm"),
    [
        ("62,9 mm", 62.9),
        ("62.9 mm", 62.9),
        ("1,5 m", 1500.0),
        ("0,234 m", 234.0),
        ("infinity", math.inf),
        ("Infinity", math.inf),
        ("∞", math.inf),
        ("2 m 10", 2100.0),
        ("2m10", 2100.0),
        ("2 m 5 cm", 2050.0),
        ("2 m 105 mm", 2105.0),
        ("62.9\u00a0mm", 62.9),
        ("62,9\u202fmm", 62.9),
        ("6′3″", 75.0 * INCH_MM),
        ("6’ 3”", 75.0 * INCH_MM),
        ("6' 3''", 75.0 * INCH_MM),
        ("6 ft 3", 75.0 * INCH_MM),
        ("2½ in", 2.5 * INCH_MM),
        ("5 feet 3 inches", 63.0 * INCH_MM),
        ("72 MM", 72.0),
        ("“72 mm”", 72.0),
        ("1.5 metres", 1500.0),
    ],
)
def test_lengths_as_typed(text: str, length_mm: float) -> None:
    assert parse_length(typed_length(text)) == pytest.approx(length_mm, rel=1e-14)
    assert parse_length(typed_offset(text)) == pytest.approx(length_mm, rel=1e-14)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("1,234 mm", "could be 1.234 or 1234"),
        ("12,500 mm", "could be 12.500 or 12500"),
        ("1,234.5 mm", "can be read in two ways"),
        ("1.234,5 mm", "can be read in two ways"),
        ("2 m 5", "write 2.05 m or 2.5 m"),
        ("72", "write a number and a unit"),
        ("-5 mm", "write a number and a unit"),
        ("72 yards", "write a number and a unit"),
        ("", "write a number and a unit"),
    ],
)
def test_what_means_two_things_or_none_is_refused(text: str, why: str) -> None:
    with pytest.raises(UnitError, match=why):
        typed_length(text)


@given(st.floats(1e-3, 1e6))
def test_a_length_that_is_read_already_stays_as_typed(length_mm: float) -> None:
    assert typed_length(format_length(length_mm)) == format_length(length_mm)


@given(st.integers(0, 99_999), st.integers(0, 99))
def test_a_comma_is_a_point(whole: int, hundredths: int) -> None:
    assert parse_length(typed_length(f"{whole},{hundredths:02} mm")) == pytest.approx(
        whole + hundredths / 100, rel=1e-12
    )


@pytest.mark.parametrize(
    ("read", "text", "value"),
    [
        (typed_stop, "f/2.8", 2.8),
        (typed_stop, "F/2,8", 2.8),
        (typed_stop, "ƒ2.8", 2.8),
        (typed_stop, "1:1.8", 1.8),
        (typed_stop, "4", 4.0),
        (typed_factor, "2x", 2.0),
        (typed_factor, "1,33 ×", 1.33),
        (typed_figure, "62,9", 62.9),
        (typed_figure, "62.9 mm", 62.9),
        (typed_figure, "−3,5 mm", -3.5),
        (typed_seconds, "2,5 s", 2.5),
    ],
)
def test_numbers_as_typed(read: Callable[[str], float], text: str, value: float) -> None:
    assert read(text) == value


@pytest.mark.parametrize("text", ["T2.8", "f/", "2,8,4", "1,250", "nan", "inf", "2 8", ""])
@pytest.mark.parametrize("read", [typed_stop, typed_factor, typed_figure, typed_seconds])
def test_what_is_no_number(read: Callable[[str], float], text: str) -> None:
    with pytest.raises(UnitError):
        read(text)


@pytest.mark.parametrize(
    ("text", "entries"),
    [
        ("1 m, 2 m, inf", ["1 m", "2 m", "inf"]),
        ("1,2 m, 2 m; 3 m,inf", ["1,2 m", "2 m", "3 m", "inf"]),
        ("2,8; 4; 5,6", ["2,8", "4", "5,6"]),
        ("2.8, 4, 5.6", ["2.8", "4", "5.6"]),
        ("2 m,, 3 m", ["2 m", "", "3 m"]),
    ],
)
def test_lists_part_at_semicolons_and_at_commas_with_a_space(text: str, entries: list[str]) -> None:
    assert typed_list(text) == entries


def test_a_list_that_can_be_parted_in_two_ways_is_refused() -> None:
    with pytest.raises(UnitError, match="part entries with a semicolon"):
        typed_list("2.8,4,5.6")


@given(st.text(max_size=60))
def test_any_text_becomes_plain_once(text: str) -> None:
    assert plain(plain(text)) == plain(text)


# --- in options -----------------------------------------------------------------------------------


def test_options_take_what_people_type(tmp_path: Path) -> None:
    kit = tmp_path / "kit.toml"
    kit.write_text(SAMPLE.read_text(encoding="utf-8"), encoding="utf-8")
    options = ("--distance", "1 m 65", "--distance-error", "4 MM", "--taking", "50,6 mm",
               "--attachment", "151,5", "--stop", "f/2,8", "--height", "−2 mm")  # fmt: skip
    done = CliRunner().invoke(main, ["read", str(kit), "--rig", "portrait-85", *options])
    assert done.exit_code == 0, done.output
    reading = load_kit(kit.read_text(encoding="utf-8"), source="kit.toml").readings[-1]
    assert (reading.distance, reading.distance_error, reading.taking) == (1650.0, 4.0, 50.6)
    assert (reading.attachment, reading.stop, reading.height) == (151.5, 2.8, -2.0)


@pytest.mark.parametrize(
    ("text", "size"),
    [("210 × 297 mm", (297.0, 210.0)), ("210,5 x 330,2 mm", (330.2, 210.5))],
)
def test_papers_and_cards_take_them_too(text: str, size: tuple[float, float]) -> None:
    paper = parse_paper(text)
    assert (paper.width_mm, paper.height_mm) == size
    assert card_size("90,5 × 60 mm") == (90.5, 60.0)
    with pytest.raises(PageError, match="in two ways"):
        parse_paper("2,1,0 x 297 mm")


def test_a_wrong_rig_is_named_once_with_the_nearest(tmp_path: Path) -> None:
    kit = tmp_path / "kit.toml"
    kit.write_text(SAMPLE.read_text(encoding="utf-8"), encoding="utf-8")
    for command in (("fit",), ("read", "--distance", "2 m", "--taking", "5")):
        done = CliRunner().invoke(main, [command[0], str(kit), "--rig", "Portait 85", *command[1:]])
        assert done.exit_code == 2
        assert done.output.count("Portait 85") == 1
        assert "did you mean portrait-85?" in done.output
    wrong = SAMPLE.read_text(encoding="utf-8").replace('\nrig = "portrait-85"', '\nrig = "portait"')
    with pytest.raises(KitError) as caught:
        load_kit(wrong, source="kit.toml")
    assert str(caught.value).count("portait") == 1
    assert "more readings say so too" in str(caught.value)


# --- in the kit file ------------------------------------------------------------------------------

CURES = {
    '"85,0 mm"': 'write "85.0 mm"',
    '"85 MM"': 'write "85 mm"',
    '"3⅜ in"': 'write "3 3/8 in"',
    '"3″"': 'write "3 in"',
    '"1,234 mm"': "1,234 could be 1.234 or 1234",
}


@pytest.mark.parametrize("value", CURES)
def test_a_kit_says_how_to_write_it_and_where(value: str) -> None:
    text = SAMPLE.read_text(encoding="utf-8").replace('focal_length = "85 mm"',
                                                      f"focal_length = {value}")  # fmt: skip
    with pytest.raises(KitError) as caught:
        load_kit(text, source="kit.toml")
    (problem,) = caught.value.problems
    assert CURES[value] in problem.rule
    line = next(n for n, row in enumerate(text.split("\n"), 1) if row.startswith("focal_length"))
    assert f"(line {line}, column 16)" in problem.rule


def test_a_number_in_quotes_is_told_without() -> None:
    text = SAMPLE.read_text(encoding="utf-8").replace("stop = 2.8", 'stop = "f/2,8"', 1)
    with pytest.raises(KitError, match=r"write 2\.8, without quotes"):
        load_kit(text, source="kit.toml")


BROKEN = [
    ("a = “Bag”", 5, 'a typographic quote (“), write it plainly: a = "Bag"'),
    ('a = "Bag”', 9, "a typographic quote"),
    ("a = Bag", 5, 'put text in quotes: "Bag"'),
    ("a = 85 mm", 8, 'put a length in quotes: "85 mm"'),
    ("a = 1,5 m", 6, 'put a length in quotes: "1.5 m"'),
    ('a = "Bag', 9, "the quote at the end of a text is missing"),
    ('a = ["1 m" "2 m"]', 12, "a comma is missing before this"),
    ("a = [2.8 4]", 10, "a comma is missing before this"),
    ("a = 1,8", 6, "a decimal comma, write 1.8"),
    ("a = f/2.8", 5, "write 2.8"),
    ("a = ∞", 5, "put a length in quotes"),
    ('a = "6\'3""', 10, "write inches as"),
    ('a "Bag"', 3, "write = between a key and its value"),
    ('focal length = "3 m"', 7, "write focal_length"),
    ("[rigs.one", 10, "write ] at the end of the heading"),
    ("[[readings]", 11, "write ]] at the end of the heading"),
    ('a =\u00a0"Bag"', 4, "a space that is no plain one (U+00A0)"),
    ("a = −4", 5, "a typographic hyphen"),
    ("a = True", 5, "write true"),
    ("a = .5", 5, "write 0.5"),
    ("a =", 4, "a value is missing"),
    ('a = { b = "x" c = 2 }', 15, "a comma is missing before this"),
    ('a = "1" "2"', 9, "one key and its value on a line"),
]


@pytest.mark.parametrize(("line", "column", "cure"), BROKEN)
def test_where_toml_breaks_the_cure_is_said_with_line_and_column(
    line: str, column: int, cure: str
) -> None:
    with pytest.raises(KitError) as caught:
        load_kit(f'format = 1\nname = "Kit"\n{line}\nunits = "metric"\n', source="kit.toml")
    (problem,) = caught.value.problems
    assert problem.rule.startswith(f"not valid TOML, line 3, column {column}: "), problem.rule
    assert cure in problem.rule
    assert "\n" not in str(caught.value)


def test_a_list_left_open_is_told_where_the_next_key_begins() -> None:
    with pytest.raises(KitError, match=r"line 3, column 1: the list before this is not closed"):
        load_kit('format = 1\nstops = [2.8, 4\nname = "Kit"\n', source="kit.toml")


@given(st.text(max_size=80))
def test_any_text_that_is_no_kit_gets_sentences(text: str) -> None:
    with pytest.raises(KitError):
        load_kit(text, source="kit.toml")
