"""What a check finds, in the words that report, rig sheet and card share."""

from __future__ import annotations

import math

import numpy as np

from focuschart.chart.model import Chart
from focuschart.checks.picture import Picture
from focuschart.units import MM_PER_INCH, Units, distance_label, imperial_label, place_label

SUPPORT_SET = "raised until the focus ring turns as freely as without the attachment"
"""How a support is rightly set. Common practice, no source."""

PAN_RULE = "in 7 s (for 24 frames/s and a 180° shutter), about the sensor"
"""The rule of `movement.CROSSING_S`, with what it assumes."""

_FINE_SQUEEZE = 0.015
_RATIO_ERROR = 0.01
"""A frame's figures give its ratio to this share, so that 2.39 never looks like 2.2; judgement."""


def squeeze_text(of: Chart | Picture, i: int) -> str:
    """Return the squeeze at one mark with its 95 %: "1.70 ± 0.10", or "1.834 ± 0.005"."""
    decimals = 3 if of.squeeze_95[i] < _FINE_SQUEEZE else 2
    return f"{of.squeeze[i]:.{decimals}f} ± {of.squeeze_95[i]:.{decimals}f}"


def frame_text(width_mm: float, height_mm: float, units: Units) -> str:
    """Return a frame at the subject: "1.130 × 0.473 m", or in feet; "-" where it is infinite.

    Rounded by so much that its ratio keeps within 1 %, to 10 mm or an inch at the most, to a
    hundredth of that at the least.
    """
    if math.isinf(width_mm):
        return "-"
    coarsest_mm = MM_PER_INCH if units == "imperial" else 10.0
    # Each side is wrong by half a step at most, and the ratio by both sides' shares together.
    share = coarsest_mm / 2.0 * (1.0 / width_mm + 1.0 / height_mm)
    finer = next((n for n in range(2) if share / 10.0**n <= _RATIO_ERROR), 2)
    if units == "imperial":
        return " × ".join(imperial_label(side, decimals=finer) for side in (width_mm, height_mm))
    width, height = (f"{side / 1000.0:.{2 + finer}f}" for side in (width_mm, height_mm))
    return f"{width} × {height} m"


def side(place_mm: float, of: str, units: Units) -> str:
    """Return a place on the axis by what it is counted from: "12 mm before the sensor mark"."""
    return f"{place_label(abs(place_mm), units)} {'before' if place_mm >= 0.0 else 'behind'} {of}"


def degrees(angle_rad: float) -> str:
    """Return an angle to a hundredth of a degree, without needless noughts: "0.45°", "1°"."""
    return f"{round(float(np.degrees(angle_rad)), 2):g}°"


def pan_ends(shown: Picture, units: Units) -> dict[int, str]:
    """Return the marks of which pans are told in words, the nearest and the farthest, as labels."""
    ends = dict.fromkeys((0, len(shown.distances_mm) - 1))
    return {i: distance_label(float(shown.distances_mm[i]), units) for i in ends}


def fastest_pan(shown: Picture, i: int) -> str:
    """Return at what rate upright edges at one mark lean as far as the kit allows.

    "" where it says nothing.
    """
    if shown.lean_limit_rad is None or shown.fastest_pan_rad_s is None:
        return ""
    if math.isinf(shown.fastest_pan_rad_s[i]):
        return "no pan makes upright edges lean"
    # Rounded down: a faster pan would lean more than is allowed.
    rate = math.floor(10.0 * math.degrees(shown.fastest_pan_rad_s[i])) / 10.0
    return f"upright edges lean {degrees(shown.lean_limit_rad)}, the limit, at {rate:g}° a second"
