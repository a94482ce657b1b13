"""What a check finds, in the words that report, rig sheet and card share."""

from __future__ import annotations

import math

import numpy as np

from focuschart.check.picture import Picture
from focuschart.units import MM_PER_INCH, Units, distance_label

SUPPORT_SET = "raised until the focus ring turns as freely as without the attachment"
"""How a support is rightly set. Common practice, no source."""


def frame_text(width_mm: float, height_mm: float, units: Units) -> str:
    """Return a frame at the subject: "1.13 × 0.51 m", or to the inch; "-" where it is infinite."""
    if math.isinf(width_mm):
        return "-"
    if units == "imperial":
        return " × ".join(distance_label(_to_inch(side), units) for side in (width_mm, height_mm))
    return f"{width_mm / 1000.0:.2f} × {height_mm / 1000.0:.2f} m"


def _to_inch(length_mm: float) -> float:
    return round(length_mm / MM_PER_INCH) * MM_PER_INCH


def side(place_mm: float, of: str) -> str:
    """Return a place on the axis by what it is counted from: "12 mm before the sensor mark"."""
    return f"{abs(place_mm):.0f} mm {'before' if place_mm >= 0.0 else 'behind'} {of}"


def degrees(angle_rad: float) -> str:
    """Return an angle to a hundredth of a degree, without needless noughts: "0.45°", "1°"."""
    return f"{round(float(np.degrees(angle_rad)), 2):g}°"


def fastest_pan(shown: Picture) -> str:
    """Return at what rate upright edges lean as far as the kit allows, "" where it says nothing."""
    if shown.lean_limit_rad is None or shown.fastest_pan_rad_s is None:
        return ""
    if math.isinf(shown.fastest_pan_rad_s):
        return "no pan makes upright edges lean"
    # Rounded down: a faster pan would lean more than is allowed.
    rate = math.floor(10.0 * math.degrees(shown.fastest_pan_rad_s)) / 10.0
    return f"upright edges lean {degrees(shown.lean_limit_rad)}, the limit, at {rate:g}° a second"
