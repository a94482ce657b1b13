"""The residuals of a ring's readings, and the scatter of its repeats."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from focuschart.bench.scales import MeasuredScale
from focuschart.optics.arrays import Floats
from focuschart.scale.cam import CamConstants, CamLaw
from focuschart.scale.noise import scatter_range
from focuschart.scale.problem import repeats


@dataclass(frozen=True, slots=True)
class Residuals:
    """The residuals of n readings from the fitted scale.

    `arc_mm` are arcs, `expected_mm` their standard deviations. `distance_mm` is the same as subject
    distance, positive where the figure is that of a farther subject, nan at infinity. `tolerance`
    is the same in tolerances of the ring at the stop of the reading, those of the taking ring
    divided by the squeeze as in a chart.
    """

    arc_mm: Floats
    expected_mm: Floats
    distance_mm: Floats
    tolerance: Floats


def residuals(measured: MeasuredScale) -> Residuals:
    """Return the residuals of readings, positive where the figure is above the scale's."""
    scale, problem = measured.scale, measured.scale.problem
    arcs, _ = problem.model(scale.parameters)
    off = problem.readings.arc_mm - arcs
    noise = np.sqrt(problem.noise_parts(scale.parameters).variance)
    travel = problem.travel(scale.constants)
    by_position = scale.arc_per_travel * travel.by_position
    by_distance = by_position * problem.readings.position_slope
    distance = np.full_like(off, np.nan)
    np.divide(off, by_distance, out=distance, where=by_distance != 0.0)
    own = problem.noise.own_tolerance_travel(scale.constants)
    tolerance = abs(scale.arc_per_travel) * own
    if measured.readings.which == "taking":
        tolerance = tolerance / [row.rig.attachment.squeeze for row in measured.rows]
    return Residuals(off, noise, distance, off / tolerance)


def largest_departure_mm(measured: MeasuredScale) -> float | None:
    """Return the largest distance of a cam's fitted curve from its hyperbola, at readings, mm.

    None for a ring of another law.
    """
    scale = measured.scale
    position = scale.problem.readings.position_mm
    law = scale.law
    if not isinstance(law, CamLaw):
        return None
    smooth = law.hyperbola.travel(position, CamConstants.of(scale.constants).hyperbola)
    travel = law.travel(position, scale.constants).value - smooth.value
    return float(np.max(np.abs(scale.arc_per_travel * travel)))


@dataclass(frozen=True, slots=True)
class Repeatability:
    """The scatter of repeats at one set-up: standard deviation and degrees of freedom.

    `expected_mm` is the standard deviation assumed for ruler and eye; repeats share the tape's
    error.
    """

    sigma_mm: float
    freedom: int
    expected_mm: float

    @property
    def range_95(self) -> tuple[float, float]:
        """The 95 % interval of the standard deviation, wide if repeats are few."""
        low, high = scatter_range(self.freedom)
        return self.sigma_mm * low, self.sigma_mm * high


def repeatability(measured: MeasuredScale) -> Repeatability | None:
    """Return the scatter of a ring's repeats pooled over its set-ups; None without repeats."""
    problem = measured.scale.problem
    parts = problem.noise_parts(measured.scale.parameters)
    own, figures = parts.own, problem.on_ruler(measured.scale.parameters)
    squares, freedom, expected = 0.0, 0, 0.0
    for members in repeats(problem.readings.setup):
        arcs = figures[members]
        squares += float(np.sum(np.square(arcs - np.mean(arcs))))
        expected += float(np.mean(own[members])) * (len(members) - 1)
        freedom += len(members) - 1
    if freedom == 0:
        return None
    return Repeatability((squares / freedom) ** 0.5, freedom, (expected / freedom) ** 0.5)
