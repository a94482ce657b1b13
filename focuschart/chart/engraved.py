"""What a maker's engraved scale reads at an arc, for whoever works without strips."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from focuschart.kit.ring import EngravedMark
from focuschart.optics.arrays import Floats
from focuschart.units import Units, distance_label

_ON_THE_MARK = 0.04
_JUST_OFF = 0.2
_ON_THE_END_MM = 1.0
"""A ring set this little beyond its last figure still reads that figure."""


def _ordered(marks: Sequence[EngravedMark]) -> list[EngravedMark]:
    return sorted(marks, key=lambda mark: mark.ruler)


def _onto_scale(figures: Floats, arc_mm: Floats) -> Floats:
    """Return arcs moved onto the scale's ends where they lie just beyond, nan where far beyond."""
    within = np.clip(arc_mm, figures[0], figures[-1])
    return np.where(np.abs(within - arc_mm) <= _ON_THE_END_MM, within, np.nan)


def engraved_mm(marks: Sequence[EngravedMark], arc_mm: Floats) -> Floats:
    """Return the distance the engraved scale shows at each arc; nan beyond its ends.

    Between two figures a ring runs nearly evenly in 1/distance, so that is interpolated.
    """
    if len(marks) < 2:
        return np.full(np.shape(arc_mm), np.nan)
    figures = np.array([mark.ruler for mark in _ordered(marks)])
    nearness = np.array([1.0 / mark.distance for mark in _ordered(marks)])
    shown = np.asarray(np.interp(_onto_scale(figures, arc_mm), figures, nearness), float)
    distance = np.full_like(shown, np.inf)
    np.divide(1.0, shown, out=distance, where=shown != 0.0)
    return distance


def engraved_text(marks: Sequence[EngravedMark], arc_mm: float, units: Units) -> str:
    """Return "4 m", "just short of 4 m", "just past 4 m", "3 m to 3.5 m" or ""."""
    if len(marks) < 2:
        return ""
    ordered = _ordered(marks)
    figures = np.array([mark.ruler for mark in ordered])
    arc = float(_onto_scale(figures, np.asarray(arc_mm)))
    if np.isnan(arc):
        return ""
    after = min(max(int(np.searchsorted(figures, arc)), 1), len(ordered) - 1)
    low, high = ordered[after - 1], ordered[after]
    return _between(low, high, (arc - low.ruler) / (high.ruler - low.ruler), units)


def _between(low: EngravedMark, high: EngravedMark, share: float, units: Units) -> str:
    """Say where between two engraved figures a ring stands."""
    at, other = (low, high) if share < 0.5 else (high, low)
    label, off = distance_label(at.distance, units), min(share, 1.0 - share)
    if off <= _ON_THE_MARK:
        return label
    if off <= _JUST_OFF:
        return f"just {'short of' if other.distance < at.distance else 'past'} {label}"
    near, far = sorted((low.distance, high.distance))
    return f"{distance_label(near, units)} to {distance_label(far, units)}"
