"""Masses, offsets, times, moments, threads and ratios as people write them."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from focuschart.errors import UnitError
from focuschart.kit.fields import Thread, ThreadText, angle, moment, offset, parse_ratio, time
from focuschart.units import format_mass, parse_mass

POUND_G = 453.59237  # exactly: international yard and pound agreement of 1959


@pytest.mark.parametrize(
    ("text", "mass_g"),
    [
        ("640 g", 640.0),
        (" 640g ", 640.0),
        ("1.4 kg", 1400.0),
        ("0 g", 0.0),
        ("1 lb", POUND_G),
        ("16 oz", POUND_G),
        ("3 lb 2 oz", 3.125 * POUND_G),
        ("1/2 lb", 0.5 * POUND_G),
    ],
)
def test_masses(text: str, mass_g: float) -> None:
    assert parse_mass(text) == pytest.approx(mass_g, rel=1e-14)


@pytest.mark.parametrize("text", ["", "640", "-5 g", "5 mg", "1,4 kg", "nan g", "inf", "5 mm"])
def test_what_is_no_mass(text: str) -> None:
    with pytest.raises(UnitError, match='write a number and a unit, for example "640 g"'):
        parse_mass(text)


@pytest.mark.parametrize("text", ["1 kg 200 g", "2 oz 3 lb", "1 lb 1 lb"])
def test_only_pounds_and_ounces_go_together(text: str) -> None:
    with pytest.raises(UnitError, match="only pounds and ounces go together"):
        parse_mass(text)


@given(mass_g=st.floats(1e-3, 1e6))
def test_formatted_masses_read_back(mass_g: float) -> None:
    assert parse_mass(format_mass(mass_g)) == pytest.approx(mass_g, rel=1e-9)


@pytest.mark.parametrize(
    ("text", "thread"),
    [
        ("72 mm x 0.75", Thread(72.0, 0.75)),
        ("72mm×0.75mm", Thread(72.0, 0.75)),
        ("M72 x 0.75", Thread(72.0, 0.75)),
        ("40.5 mm", Thread(40.5)),
    ],
)
def test_threads(text: str, thread: Thread) -> None:
    rule = ThreadText()
    assert rule.read(text) == thread
    assert rule.read(str(thread)) == thread


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "write diameter and pitch in mm"),
        ("72 in", "write diameter and pitch in mm"),
        ("-72 mm", "write diameter and pitch in mm"),
        ("72 mm x", "write diameter and pitch in mm"),
        ("7 mm x 0.75", "a thread's diameter must be between 15 mm and 200 mm"),
        ("72 mm x 75", "a thread's pitch must be between 0.25 mm and 3 mm"),
        ("72 mm x 0", "a thread's pitch must be between"),
        (72, "must be quoted text with a unit"),
    ],
)
def test_what_is_no_thread(text: object, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        ThreadText().read(text)


def test_offsets_go_both_ways() -> None:
    rule = offset(100.0)
    assert rule.read("-12 mm") == -rule.read("12 mm") == -12.0
    with pytest.raises(ValueError, match="must be between -100 mm and 100 mm"):
        rule.read("-101 mm")
    for text in ("--12 mm", "- mm", "inf", "-inf", "12"):
        with pytest.raises(ValueError, match=r"must be between|write a number"):
            rule.read(text)


def test_times_and_moments() -> None:
    assert time(0.0, 200.0).read("0.018 s") == time(0.0, 200.0).read("18 ms") == 18.0
    assert {moment(0.1, 9.0).read(text) for text in ("2.5 N m", "2.5 N·m", "2.5Nm")} == {2.5}
    with pytest.raises(ValueError, match='for example "18 ms"'):
        time(0.0, 200.0).read("18")
    with pytest.raises(ValueError, match=r'for example "2\.5 N m"'):
        moment(0.1, 9.0).read("2 kg")
    with pytest.raises(ValueError, match=r"must be between 0\.1 N m and 9 N m"):
        moment(0.1, 9.0).read("-2 N m")


@pytest.mark.parametrize(("text", "ratio"), [("2.39", 2.39), ("2.39:1", 2.39), ("16:9", 16 / 9)])
def test_ratios(text: str, ratio: float) -> None:
    assert parse_ratio(text) == pytest.approx(ratio)


@pytest.mark.parametrize("text", ["", "16:0", "wide", "-2", "9:16", "40:9", "nan"])
def test_what_is_no_ratio(text: str) -> None:
    with pytest.raises(ValueError, match="width over height"):
        parse_ratio(text)


@pytest.mark.parametrize(("text", "degrees"), [("1 deg", 1.0), ("0.5°", 0.5), (" 12 ° ", 12.0)])
def test_angles(text: str, degrees: float) -> None:
    assert angle(0.01, 45.0).read(text) == pytest.approx(math.radians(degrees), rel=1e-14)


@pytest.mark.parametrize("text", ["1", "1 rad", "1'", "deg", "nan deg"])
def test_what_is_no_angle(text: str) -> None:
    with pytest.raises(ValueError, match='write a number and a unit, for example "1 deg"'):
        angle(0.01, 45.0).read(text)


def test_named_ratios_are_those_of_digital_cinema() -> None:
    """DCI, Digital Cinema System Specification: 4096 by 1716 and 3996 by 2160 pixels."""
    assert parse_ratio("scope") == 4096 / 1716
    assert parse_ratio(" flat ") == 3996 / 2160
    with pytest.raises(ValueError, match='"scope" or "flat"'):
        parse_ratio("wide")
