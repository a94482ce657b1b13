"""What a maker's engraved scale reads at an arc, for whoever works without strips."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from focuschart.kit.ring import EngravedMark
from focuschart.optics.arrays import Floats

_ON_THE_MARK = 0.04
_JUST_OFF = 0.18
_FRACTIONS = ((1 / 4, "a quarter"), (1 / 3, "a third"), (1 / 2, "halfway"),
              (2 / 3, "two thirds"), (3 / 4, "three quarters"))  # fmt: skip
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


def engraved_text(
    marks: Sequence[EngravedMark], arc_mm: float, *, label: Callable[[float], str],
    of_the_way: str = " of the way",
) -> str:  # fmt: skip
    """Return "4 m", "just short of 4 m", "just past 4 m", "a third of the way from 3 m to 4 m".

    A share of the way is one along the ring, from the nearer figure to the farther. It is empty
    where the scale shows nothing.
    """
    if len(marks) < 2:
        return ""
    ordered = _ordered(marks)
    figures = np.array([mark.ruler for mark in ordered])
    arc = float(_onto_scale(figures, np.asarray(arc_mm)))
    if np.isnan(arc):
        return ""
    after = min(max(int(np.searchsorted(figures, arc)), 1), len(ordered) - 1)
    near, far = sorted(ordered[after - 1 : after + 1], key=lambda mark: mark.distance)
    share = (arc - near.ruler) / (far.ruler - near.ruler)
    ends = label(near.distance), label(far.distance)
    if min(share, 1.0 - share) <= _ON_THE_MARK:
        return ends[round(share)]
    if share <= _JUST_OFF:
        return f"just past {ends[0]}"
    if share >= 1.0 - _JUST_OFF:
        return f"just short of {ends[1]}"
    _, fraction = min(_FRACTIONS, key=lambda each: abs(each[0] - share))
    said = fraction if fraction == "halfway" else f"{fraction}{of_the_way}"
    return f"{said} from {ends[0]} to {ends[1]}"
