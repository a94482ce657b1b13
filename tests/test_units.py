"""Lengths as people write them, there and back, and limits that never promise too much."""

from __future__ import annotations

import math
import re

import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from focuschart import units
from focuschart.errors import UnitError
from focuschart.units import Units

INCH_MM = 25.4  # exactly: international yard and pound agreement of 1959
METRE_TEXT = re.compile(r"(?P<m>\d+(?:\.\d+)?)( m)?")
FEET_TEXT = re.compile(r"(?:(?P<ft>\d+)')?(?:(?P<in>\d+(?:\.\d)?)\")?")
DISTANCE = st.floats(100.0, 1e5)


def shown_mm(text: str) -> float:
    """Read a printed distance back, independently of the code under test."""
    if text == "∞":
        return math.inf
    if metre := METRE_TEXT.fullmatch(text):
        return float(metre["m"]) * 1000.0
    feet = FEET_TEXT.fullmatch(text)
    assert feet is not None
    assert text
    return (float(feet["ft"] or 0) * 12.0 + float(feet["in"] or 0)) * INCH_MM


@pytest.mark.parametrize(
    ("text", "length_mm"),
    [
        ("72 mm", 72.0),
        ("72mm", 72.0),
        ("  72  mm ", 72.0),
        ("7.2 cm", 72.0),
        ("0.6 m", 600.0),
        (".6 m", 600.0),
        ("0 mm", 0.0),
        ("1 in", INCH_MM),
        ('1"', INCH_MM),
        ("1 ft", 12.0 * INCH_MM),
        ("1'", 12.0 * INCH_MM),
        ("6 ft 3 in", 75.0 * INCH_MM),
        ("6ft3in", 75.0 * INCH_MM),
        ("6' 3\"", 75.0 * INCH_MM),
        ("6'3\"", 75.0 * INCH_MM),
        ("1.5 ft 3 in", 21.0 * INCH_MM),
        ("1/2 in", 0.5 * INCH_MM),
        ("2 1/2 in", 2.5 * INCH_MM),
        ("4 ft 7 3/8 in", 55.375 * INCH_MM),
        # A fraction is one number, however many digits it has above the line.
        ("11/16 in", 0.6875 * INCH_MM),
        ("21/2 in", 10.5 * INCH_MM),
        ("1 15/16 in", 1.9375 * INCH_MM),
        ("inf", math.inf),
        ("∞", math.inf),
        (" inf ", math.inf),
    ],
)
def test_spellings(text: str, length_mm: float) -> None:
    assert units.parse_length(text) == pytest.approx(length_mm, rel=1e-14)


@pytest.mark.parametrize(
    "text",
    ["", "   ", "72", "mm", "m 3", "72 yards", "5 meters", "-5 mm", "+5 mm", "1e3 mm", "1,5 m",
     "5 m 3", "nan", "Inf", "-inf", "inf m", "1.5/2 in", "1/2/3 in", "1//2 in", "1. m", "1 2 mm",
     "2½ in", "5 MM", "0x10 mm"],
)  # fmt: skip
def test_what_is_no_length(text: str) -> None:
    with pytest.raises(UnitError, match="write a number and a unit"):
        units.parse_length(text)


@pytest.mark.parametrize(
    "text", ["3 m 20 cm", "3 in 6 ft", "6 ft 3 mm", "6 ft 3 in 2 in", "1 ft 1 ft", "1 in 1 in"]
)
def test_only_feet_and_inches_go_together(text: str) -> None:
    with pytest.raises(UnitError, match="only feet and inches go together"):
        units.parse_length(text)


def test_other_refusals_name_their_cause() -> None:
    with pytest.raises(UnitError, match="divided by zero"):
        units.parse_length("1/0 in")
    with pytest.raises(UnitError, match="at most 40 characters"):
        units.parse_length("1" * 39 + " mm")


@given(text=st.text(max_size=45))
def test_any_text_is_a_length_or_a_unit_error(text: str) -> None:
    try:
        length = units.parse_length(text)
    except UnitError:
        return
    assert length >= 0.0


@given(length=st.floats(1e-3, 1e8))
@example(999.9999999999)
@example(math.inf)
@example(0.0)
def test_formatted_lengths_read_back(length: float) -> None:
    assert units.parse_length(units.format_length(length)) == pytest.approx(length, rel=1e-9)


@given(feet=st.integers(0, 300), inches=st.integers(0, 11), eighths=st.integers(1, 7))
def test_feet_and_inches_add_up(feet: int, inches: int, eighths: int) -> None:
    expected = pytest.approx((feet * 12 + inches + eighths / 8) * INCH_MM, rel=1e-12)
    assert units.parse_length(f"{feet} ft {inches} {eighths}/8 in") == expected
    assert units.parse_length(f"{feet}'{inches + eighths / 8}\"") == expected


@pytest.mark.parametrize(
    ("length_mm", "text"),
    [(72.0, "72 mm"), (0.6, "0.6 mm"), (999.0, "999 mm"), (1000.0, "1 m"), (1234.5, "1.2345 m")],
)
def test_formatted_lengths(length_mm: float, text: str) -> None:
    assert units.format_length(length_mm) == text


@pytest.mark.parametrize(
    ("stop", "text"), [(2.8, "f/2.8"), (4.0, "f/4"), (11.0, "f/11"), (0.95, "f/0.95")]
)
def test_stops_as_engraved(stop: float, text: str) -> None:
    assert units.format_stop(stop) == text


@pytest.mark.parametrize(
    ("inches", "text"),
    [
        (59.0, "4'11\""),
        (72.0, "6'"),
        (54.0, "4'6\""),
        (54.5, "4'6.5\""),
        (11.0, '11"'),
        (71.96, "6'"),  # rounds up into the next foot, never to 5'12"
        (11.96, "1'"),
        (120.04, "10'"),
        (math.inf, "∞"),
    ],
)
def test_imperial_labels(inches: float, text: str) -> None:
    assert units.imperial_label(inches * INCH_MM) == text


@pytest.mark.parametrize(
    ("distance_mm", "text"),
    [(1200.0, "1.2 m"), (3000.0, "3 m"), (1234.0, "1.234 m"), (10_000.0, "10 m"), (math.inf, "∞")],
)
def test_metric_labels(distance_mm: float, text: str) -> None:
    assert units.metric_label(distance_mm) == text


@given(distance=DISTANCE)
def test_labels_are_off_by_their_last_digit_at_most(distance: float) -> None:
    metric, imperial = units.metric_label(distance), units.imperial_label(distance)
    assert abs(shown_mm(metric) - distance) <= 0.5 + 1e-9
    assert abs(shown_mm(imperial) - distance) <= 0.05 * INCH_MM + 1e-9


@given(distance=DISTANCE)
def test_imperial_inches_stay_below_a_foot(distance: float) -> None:
    inches = FEET_TEXT.fullmatch(units.imperial_label(distance))
    assert inches is not None
    assert float(inches["in"] or 0) < 12.0


@pytest.mark.parametrize(
    ("system", "text", "short"),
    [
        ("metric", "1.219 m", "1.219"),
        ("imperial", "4'", "4'"),
        ("both", "1.219 m 4'", "1.219 4'"),
    ],
)
def test_labels_in_the_kits_units(system: Units, text: str, short: str) -> None:
    assert units.distance_label(4.0 * 304.8, system) == text
    assert units.scale_label(4.0 * 304.8, system) == short
    assert units.distance_label(math.inf, system) == units.scale_label(math.inf, system) == "∞"


@pytest.mark.parametrize(
    ("distance_mm", "system", "text"),
    [
        (1478.0, "metric", "1.48"),
        (1478.0, "both", "1.48"),
        (58.2 * INCH_MM, "imperial", "4'10\""),
        (71.8 * INCH_MM, "imperial", "6'"),
        (math.inf, "imperial", "∞"),
        (31_520.0, "metric", "31.5"),
    ],
)
def test_engraved_scales_are_read_in_three_figures(
    distance_mm: float, system: Units, text: str
) -> None:
    assert units.scale_reading(distance_mm, system) == text


@pytest.mark.parametrize("distance_mm", [999_700.0, 1_500_000.0])
def test_far_engraved_readings_stay_plain_numbers(distance_mm: float) -> None:
    shown = units.scale_reading(distance_mm, "metric")
    assert shown_mm(shown) == pytest.approx(distance_mm, rel=5e-3)


def test_roundness_ranks_distances_as_scales_do() -> None:
    metric = [10_000.0, 5000.0, 2000.0, 3000.0, 1500.0, 1200.0, 1230.0]
    ranks = [units.roundness(distance, "metric") for distance in metric]
    assert ranks == sorted(ranks)
    assert len(set(ranks)) == len(ranks)
    assert units.roundness(10.0 * 304.8, "imperial") == units.roundness(10_000.0, "metric")
    assert units.roundness(math.inf, "metric") == units.roundness(1234.5, "metric")


def zone(near: float, share: float) -> tuple[float, float]:
    """A zone up to near/share, or to infinity."""
    return near, near / share if share > 0.01 else math.inf


LIMITS = st.builds(zone, DISTANCE, st.floats(0.0, 1.0))


@pytest.mark.parametrize("system", ["metric", "imperial", "both"])
@given(limits=LIMITS)
@example((1200.0, 1200.0 + 3 * INCH_MM))
@example((996.0, 1004.0))
@example((30_480.0, math.inf))
def test_ranges_are_rounded_inward(system: Units, limits: tuple[float, float]) -> None:
    near, far = limits
    assume(far - near > 0.25 * INCH_MM)
    first, last = (shown_mm(text) for text in units.format_range(near, far, system).split("–"))
    slack = 1e-8 * near
    assert near - slack <= first < last <= far + slack
    assert math.isinf(last) == math.isinf(far)


@pytest.mark.parametrize("system", ["metric", "imperial"])
@given(limits=LIMITS)
def test_rounding_gives_away_little(system: Units, limits: tuple[float, float]) -> None:
    """A tenth of the zone, wherever the finest step (1 mm, 0.1 in) can do it."""
    near, far = limits
    assume(far - near > 30.0 * 2.54)
    first, last = (shown_mm(text) for text in units.format_range(near, far, system).split("–"))
    lost = first - near + (0.0 if math.isinf(far) else far - last)
    assert lost <= 0.1 * (near if math.isinf(far) else far - near) + 1e-6


@pytest.mark.parametrize(
    ("near_mm", "far_mm", "system", "text"),
    [
        (1432.0, 1580.0, "metric", "1.44–1.58"),
        (9213.0, math.inf, "metric", "10–∞"),
        (2005.0, 7940.0, "metric", "2.1–7.9"),
        (9.6 * 304.8, 11.2 * 304.8, "imperial", "9'8\"–11'2\""),
        (20.2 * 304.8, math.inf, "imperial", "21'–∞"),
    ],
)
def test_printed_ranges(near_mm: float, far_mm: float, system: Units, text: str) -> None:
    """Worked by hand: the coarsest step that gives away under a tenth of the zone."""
    assert units.format_range(near_mm, far_mm, system) == text


@given(
    tenths_of_mm=st.integers(1, 1_000_000), eighths_of_inch=st.integers(1, 4000)
)  # fmt: skip
def test_equal_lengths_are_equal_however_they_are_written(
    tenths_of_mm: int, eighths_of_inch: int
) -> None:
    whole, tenth = divmod(tenths_of_mm, 10)
    metric = (
        f"{whole}.{tenth} mm",
        f"{whole // 10}.{whole % 10}{tenth} cm",
        f"{whole // 1000}.{whole % 1000:03}{tenth} m",
    )
    assert {units.parse_length(text) for text in metric} == {tenths_of_mm / 10}
    feet, rest = divmod(eighths_of_inch, 96)
    imperial = (
        f"{eighths_of_inch / 8:.3f} in",
        f"{eighths_of_inch}/8 in",
        f"{feet} ft {rest // 8} {rest % 8}/8 in",
    )
    assert len({units.parse_length(text) for text in imperial}) == 1


@pytest.mark.parametrize(
    "texts",
    [
        ("3 ft 6 in", "3.5 ft", "42 in", "1066.8 mm", "106.68 cm"),
        ("2.01 m", "201 cm", "2010 mm"),
        ("5.1 ft", "61.2 in", "5 ft 1.2 in"),
    ],
)
def test_one_distance_in_many_words_is_one_number(texts: tuple[str, ...]) -> None:
    assert len({units.parse_length(text) for text in texts}) == 1


NUMBERS = st.floats(-1e12, 1e12)


@given(NUMBERS)
@example(0.9004745359770897)
def test_numbers_for_machines_are_true_to_a_part_in_a_million(value: float) -> None:
    assert units.steady(value) == pytest.approx(value, rel=5.1e-7, abs=5.6e-7)
    assert units.steady(units.steady(value)) == units.steady(value)
    assert math.copysign(1.0, units.steady(value)) == (-1.0 if units.steady(value) < 0.0 else 1.0)


@given(st.integers(-9_999_990, 9_999_990), st.sampled_from([1e-13, -1e-13, 1e-10]))
def test_what_machines_differ_in_is_rounded_away(steps: int, noise: float) -> None:
    value = steps / 1000.0
    assert units.steady(value * (1.0 + noise)) == units.steady(value) == value


def test_infinity_and_nan_stay() -> None:
    assert units.steady(math.inf) == math.inf
    assert math.isnan(units.steady(math.nan))
