"""The figure that a ring's ruler should show at a further distance, from two readings on."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from focuschart.bench.advice import reading_options
from focuschart.bench.readings import gather
from focuschart.errors import FitError, OpticsError
from focuschart.kit.reading import Reading
from focuschart.kit.schema import Kit
from focuschart.rig.assemble import assemble
from focuschart.rig.ring import RigRing, Which
from focuschart.scale.fit import HALF_WIDTH_95
from focuschart.scale.problem import named_parameters, ring_model

SIDES_APART_MM = 0.3
"""One standard deviation of half a ring's play, as arc; judgement, no source."""


class Forecast(NamedTuple):
    """A figure on the ruler, mm, and its standard deviation with that of reading it."""

    figure_mm: float
    sigma_mm: float

    def sigmas_off(self, figure_mm: float) -> float:
        """Return how many standard deviations a figure lies from this one."""
        return abs(figure_mm - self.figure_mm) / self.sigma_mm

    def __str__(self) -> str:
        return f"{self.figure_mm:.0f} ± {math.ceil(HALF_WIDTH_95 * self.sigma_mm)}"


def forecast(kit: Kit, reading: Reading, which: Which) -> Forecast | None:
    """Return the figure that a reading should show on one ring, by the kit's other readings.

    It follows from the law of the ring with its priors, also where there are too few readings for
    a scale. None with fewer than two distances read, or where they fit no such ring.
    """
    rigs = {rig_id: assemble(kit, rig_id) for rig_id in kit.rigs}
    rig = rigs[reading.rig]
    place = RigRing(rig, which)
    ring = gather(kit, rigs)[place.key].with_lens_of(rig)
    if len({row.reading.distance for row in ring.rows}) < 2:
        return None
    problem, at = ring.problem(), reading.distance
    try:
        solution, _ = problem.solve()
        constants = named_parameters(problem.law, solution.parameters).constants
        travel = problem.law.travel(
            place.position_mm(at), constants, power_share=place.power_share(at, reading.height)
        )
        columns = problem.mark_columns(ring.lenses.index(rig.lens_id))
        figure, gradient = ring_model(solution.parameters, travel, columns)
        options = reading_options(ring, solution.parameters, reading, rig)
    except (FitError, OpticsError):
        return None
    variance = float(gradient @ solution.covariance @ gradient + options.variance()[0])
    variance += 0.0 if reading.side is None else SIDES_APART_MM**2
    return Forecast(float(figure), float(np.sqrt(variance)))
