"""Words that report, sheets and cards share: what is rounded says what it may, no more, no less."""

from __future__ import annotations

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from focuschart.checks.wording import frame_text
from focuschart.units import INCHES_PER_FOOT, MM_PER_INCH, Units

_SIDE = re.compile(r"(?:(\d+)')?(?:([\d.]+)\")?")


def sides_mm(text: str) -> list[float]:
    """Return width and height of a frame as printed, in metres or in feet and inches."""
    if text.endswith(" m"):
        return [1000.0 * float(side) for side in text.removesuffix(" m").split(" × ")]
    found = [_SIDE.fullmatch(side) for side in text.split(" × ")]
    return [
        (INCHES_PER_FOOT * float(side[1] or 0) + float(side[2] or 0)) * MM_PER_INCH
        for side in found
        if side
    ]


@given(
    st.floats(60.0, 50_000.0), st.floats(1.0, 3.6), st.sampled_from(["metric", "imperial", "both"])
)
def test_a_printed_frame_has_the_ratio_of_its_picture(
    width_mm: float, ratio: float, units: Units
) -> None:
    width, height = sides_mm(frame_text(width_mm, width_mm / ratio, units))
    assert width / height == pytest.approx(ratio, rel=0.0102)  # second order of 1 %
    assert width == pytest.approx(width_mm, rel=0.01)


def test_a_frame_is_no_finer_than_its_ratio_asks() -> None:
    assert frame_text(20 * 304.8, 20 * 304.8 / 2.39, "imperial") == "20' × 8'4\""
    assert frame_text(520.0, 520.0 / 2.39, "imperial") == '1\'8.5" × 8.6"'
    assert frame_text(2500.0, 1046.0, "metric") == "2.50 × 1.05 m"
    assert frame_text(547.0, 229.0, "metric") == "0.547 × 0.229 m"
    assert frame_text(math.inf, math.inf, "metric") == "-"
