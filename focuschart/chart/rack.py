"""A rack from one subject distance to another: both rings along the move, and both hands in time.

In the pair's errors, V = e_t/tol_V and H = e_a/tol_a − S·e_t/tol_V, a hand that is late or early by
itself softens the horizontal meridian first; each ring's tolerance already says so.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from focuschart.chart.locked import require_read, too_near
from focuschart.chart.marks import RingMarks, matched_rig, ring_marks
from focuschart.chart.model import Chart
from focuschart.chart.pair import PairErrors
from focuschart.errors import KitError, OpticsError, Problem
from focuschart.optics.arrays import Floats
from focuschart.optics.halving import last_where
from focuschart.optics.thin_lens import reciprocal_mm
from focuschart.optics.timing import longest_lag, time_of_share
from focuschart.rig.ring import RINGS, Which
from focuschart.units import Units, format_length

_FINE = 513
_LEAST_TURN_MM = 0.05
"""A shorter turn of a ring is none."""


@dataclass(frozen=True, slots=True)
class Positions:
    """Both rings at distances along a move (k): marks as a chart has them, without bands.

    `pair_95` is the pair's 95 % error in criteria (m × k).
    """

    distances_mm: Floats
    taking: RingMarks
    attachment: RingMarks
    squeeze: Floats
    pair_95: Floats


@dataclass(frozen=True, slots=True)
class Slack:
    """How long one hand may be behind or ahead of the other, as a share of the move (m).

    Infinite where the hand may stay away altogether.
    """

    taking: Floats
    attachment: Floats

    @property
    def either(self) -> Floats:
        """What holds whichever hand is off."""
        return np.asarray(np.minimum(self.taking, self.attachment))


@dataclass(frozen=True, slots=True)
class Rack:
    """A rack in equal steps of the taking ring's arc (k positions, both ends among them).

    `time_share` is when each is reached in a smooth move, 0 at the start and 1 at the end.
    """

    chart: Chart
    share: Floats
    time_share: Floats
    at: Positions
    slack: Slack


def rack(
    chart: Chart,
    *,
    start_mm: float,
    end_mm: float,
    steps: int,
    named: tuple[str, str] = ("start_mm", "end_mm"),
) -> Rack:
    """Return the rack from one subject distance to another, either may be infinity.

    Raises KitError for a rig with a ring unread, for ends nearer than it focuses, both the same, or
    between which a ring need not turn; `named` is what it calls the ends.
    """
    require_read(chart, "the rack")
    ends = dict(zip(named, (start_mm, end_mm), strict=True))
    near = [too_near(chart, distance, name) for name, distance in ends.items()]
    problems = [
        Problem(one.what, format_length(ends[one.what]), f"{one.why}, {one.cure}")
        for one in near
        if one
    ]
    if start_mm == end_mm:
        rule = f"the same as {named[0]}, choose another"
        problems.append(Problem(named[1], format_length(end_mm), rule))
    if problems:
        raise KitError(chart.kit.source, problems)
    try:
        return _solved(chart, start_mm, end_mm, steps)
    except OpticsError as error:
        problem = Problem(f"rigs.{chart.rig.rig_id}", "", str(error))
        raise KitError(chart.kit.source, [problem]) from None


def _solved(chart: Chart, start_mm: float, end_mm: float, steps: int) -> Rack:
    units = chart.kit.units
    fine = _along(chart, start_mm, end_mm, np.linspace(0.0, 1.0, _FINE))
    moved = positions(chart, fine, units=units, read=False)
    share = np.linspace(0.0, 1.0, steps + 1)
    at = positions(chart, _along(chart, start_mm, end_mm, share), units=units)
    slack = Slack(
        *(longest_lag(ring.arc_mm, tolerance_mm=ring.tolerance_mm)
          for ring in (moved.taking, moved.attachment))
    )  # fmt: skip
    return Rack(chart, share, time_of_share(share), at, slack)


def _along(chart: Chart, start_mm: float, end_mm: float, share: Floats) -> Floats:
    """Return the distances at shares (k) of the taking ring's way, by halving in 1/D."""
    ends = np.array([start_mm, end_mm])
    for which in RINGS:
        if abs(np.diff(_arc_mm(chart, which, ends))[0]) < _LEAST_TURN_MM:
            raise OpticsError(
                f"the {which} ring hardly turns between these distances: choose others"
            )
    first, last = _arc_mm(chart, "taking", ends)
    near_first, near_last = 1.0 / ends

    def distance(way: Floats) -> Floats:
        return reciprocal_mm(near_first + way * (near_last - near_first))

    def before(way: Floats) -> NDArray[np.bool_]:
        turned = (_arc_mm(chart, "taking", distance(way)) - first) / (last - first)
        return np.asarray(turned <= share)

    found = distance(last_where(before, 0.0, np.ones_like(share)))
    found[share == 0.0], found[share == 1.0] = start_mm, end_mm
    return found


def _arc_mm(chart: Chart, which: Which, distance_mm: Floats) -> Floats:
    _, marks = chart.ring(which)
    return marks.measured.arc_mm(chart.rig, distance_mm)


def positions(chart: Chart, distances_mm: Floats, *, units: Units, read: bool = True) -> Positions:
    """Return both rings at any distances (k) of a rig whose rings are both measured.

    With `read` also what their engraved scales show. Raises KeyError for a rig with a ring unread.
    """
    rig = replace(chart.rig, distances_mm=distances_mm)
    both = [chart.ring(which)[1] for which in RINGS]
    matched = matched_rig(rig, stops=chart.stops, glass=chart.glass)
    taking, attachment = (
        ring_marks(matched, marks.measured, marks.hand, units=units, engraved=read)
        for marks in both
    )
    pair = PairErrors(taking, attachment, rig.attachment.squeeze)
    return Positions(distances_mm, taking, attachment, matched.squeeze, pair.pair_95)
