"""How far the marks of strips as taped are off, by readings taken through them.

A mark printed at the figure p and set by the tick t of its index's comb is right where the fit,
which has these readings in it, says that the strip shows s = a + τ at the index's line: the ring's
own arc and this taping's offset. So e = p − t − s is how far the mark is off, its mean and its
covariance both from the fit. What the printer did to lengths is the same for the marks and for the
scale read beside them, and is not in it; nor is setting by eye.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from typing import NamedTuple

import numpy as np

from focuschart.bench.advice import prospects
from focuschart.bench.offsets import Taping, taping_of
from focuschart.bench.shared import shared
from focuschart.chart.as_set import HALF_TICK_MM
from focuschart.chart.model import Chart
from focuschart.errors import InputError
from focuschart.kit.reading import Reading
from focuschart.optics.arrays import Floats
from focuschart.optics.height import POWER_SHARE_SIGMA
from focuschart.rig.ring import RINGS, Which

_DRAWS, _SEED = 4000, 21
_SIGMAS = 2.576
"""An offset, or a bend of the scale, that chance brings about once in a hundred."""


class StripRead(NamedTuple):
    """A strip as it was last read through: its taping, and the tick that its marks are set by."""

    taping: Taping
    tick_mm: float = 0.0


class StripPrinted(NamedTuple):
    """A marker strip as it was printed: its rig and ring, subject distances and figures, mm (n)."""

    rig_id: str
    which: str
    distances_mm: Floats
    figures_mm: Floats


def strips_read(chart: Chart) -> dict[Which, StripRead]:
    """Return the strip of each ring that was last read through on this rig, if one was.

    They are those of the kit: strips on each other's ring may leave the rings without a scale. A
    ring whose strip was not read through may have one that was seen at a setting that did not move.
    """
    own = [each for each in chart.kit.readings if each.rig == chart.rig.rig_id and not each.ignore]
    found: dict[Which, StripRead] = {}
    for reading in own:
        for which in RINGS:
            if getattr(reading, which) is not None and reading.strip(which):
                found[which] = StripRead(taping_of(reading, which), reading.tick_mm(which))
    for which in RINGS:
        for unmoved in chart.kit.unmoved:
            code = unmoved.strip(which)
            if which not in found and unmoved.rig == chart.rig.rig_id and code:
                found[which] = StripRead(Taping(code, unmoved.taping))
    return found


def read_through(chart: Chart, which: Which, taping: Taping) -> list[Reading]:
    """Return the readings of a rig that were taken through one taping of a ring's strip."""
    return [
        each
        for each in chart.kit.readings
        if each.rig == chart.rig.rig_id and not each.ignore and getattr(each, which) is not None
        and taping_of(each, which) == taping
    ]  # fmt: skip


class StripErrors:
    """The errors e of both strips' marks at the n distances `at` of a chart, as Gaussians.

    Raises InputError for strips that show no mark of the rig's in common.
    """

    def __init__(
        self,
        chart: Chart,
        strips: Mapping[Which, StripRead],
        printed: Mapping[Which, StripPrinted],
    ) -> None:
        self.chart, self.strips = chart, strips
        self.at = _marks_in_common(chart, strips, printed)
        self._gradient: dict[Which, Floats] = {}
        self.mean: dict[Which, Floats] = {}
        for which in RINGS:
            _, marks = chart.ring(which)
            self._gradient[which] = marks.gradient[self.at].copy()
            self._gradient[which][:, self._column(which)] = 1.0
            figures = np.interp(1.0 / chart.distances_mm[self.at], *_by_nearness(printed[which]))
            shown = marks.arc_mm[self.at] + self.offset(which)[0]
            self.mean[which] = figures - strips[which].tick_mm - shown

    @property
    def distances_mm(self) -> Floats:
        """The distances of the marks (n)."""
        return np.asarray(self.chart.distances_mm[self.at])

    def _column(self, which: Which) -> int:
        """Return which parameter of a ring's fit is the offset of its strip's taping."""
        _, marks = self.chart.ring(which)
        scale, shifts = marks.measured.scale, marks.measured.readings.shifts
        first = 2 + len(scale.law.priors) + scale.problem.readings.pool_columns.shape[1]
        return int(first) + shifts.tapings.index(self.strips[which].taping)

    def offset(self, which: Which) -> tuple[float, float]:
        """Return the offset of a strip's taping and its standard error, mm."""
        _, marks = self.chart.ring(which)
        shifts = marks.measured.readings.shifts
        return marks.measured.scale.offset_mm(shifts.tapings.index(self.strips[which].taping))

    def _own(self, which: Which) -> Floats:
        """Return the covariance of one ring's errors (n × n, mm²)."""
        _, marks = self.chart.ring(which)
        gradient, height = self._gradient[which], POWER_SHARE_SIGMA * marks.height_shift_mm[self.at]
        fitted = gradient @ marks.measured.scale.covariance @ gradient.T
        return np.asarray(fitted + np.outer(height, height))

    @cached_property
    def covariance(self) -> Floats:
        """The covariance of both rings' errors (2n × 2n, mm²), the taking lens's first."""
        one, two = (self.chart.ring(which)[1] for which in RINGS)
        common = shared(one.measured, two.measured).covariance
        between = self._gradient["taking"] @ common @ self._gradient["attachment"].T
        return np.block([[self._own("taking"), between], [between.T, self._own("attachment")]])

    @cached_property
    def _criteria(self) -> Floats:
        """The factors (2n × 2n) that make criteria of mm: of the vertical, of the horizontal.

        V = e_t/tol_V and H = e_a/tol_a − S·e_t/tol_V; the taking lens's tolerance has S in it.
        """
        one, two = (self.chart.ring(which)[1] for which in RINGS)
        taking = np.diag(one.nearer_sign / one.tolerance_mm[0, self.at])
        attachment = np.diag(two.nearer_sign / two.tolerance_mm[0, self.at])
        squeeze = self.chart.rig.attachment.squeeze
        return np.block([[taking / squeeze, np.zeros_like(taking)], [-taking, attachment]])

    @cached_property
    def drawn(self) -> Floats:
        """Draws (m × 2n) of all errors in criteria, unsigned; the same every time."""
        mean = np.concatenate([self.mean[which] for which in RINGS])
        values, vectors = np.linalg.eigh(self.covariance)
        root = vectors * np.sqrt(np.maximum(values, 0.0))
        noise = np.random.default_rng(_SEED).normal(size=(_DRAWS, len(mean)))
        return np.asarray(np.abs((mean + noise @ root.T) @ self._criteria.T))

    @property
    def largest(self) -> Floats:
        """Draws (m) of the largest error of all marks, in criteria at the working stop."""
        return np.asarray(np.max(self.drawn, axis=1))

    def deciding_mm(self) -> float:
        """Return the mark's distance that, read once more, would narrow most what is undecided.

        Undecided is how large the largest error is. So each error's variance after one more reading
        of both rings counts as often as that error is the largest. The focusing error and the tape
        that both figures of a reading share are left out, as in `bench/advice.py`.
        """
        count = len(self.at)
        weights = np.bincount(np.argmax(self.drawn, axis=1), minlength=2 * count)
        noise = self._reading_variance_mm2()
        left = []
        for mark in range(count):
            rows = [mark, count + mark]
            carried = self.covariance[rows]
            spread = carried[:, rows] + np.diag(noise[:, mark])
            after = self.covariance - carried.T @ np.linalg.solve(spread, carried)
            left.append(weights @ np.einsum("ij,jk,ik->i", self._criteria, after, self._criteria))
        return float(self.distances_mm[int(np.argmin(left))])

    def _reading_variance_mm2(self) -> Floats:
        """Return the variance of a reading of each ring at each mark (2 × n)."""
        chart = self.chart
        pair = prospects(
            chart.rig, chart.working_stop, {which: chart.ring(which)[1].measured for which in RINGS}
        )
        options = (
            pair[which].options(chart.rig, self.distances_mm, chart.working_stop) for which in RINGS
        )
        return np.stack([option.variance() for option in options])

    def _mean_error(self, which: Which) -> tuple[float, float]:
        """Return the mean error of a ring's marks and its standard error, mm."""
        weights = np.full(len(self.at), 1.0 / len(self.at))
        sigma = np.sqrt(weights @ self._own(which) @ weights)
        return float(weights @ self.mean[which]), float(sigma)

    def is_off(self, which: Which) -> bool:
        """Return whether a strip lies off as a whole, beyond chance and by over half a tick."""
        mean, sigma = self._mean_error(which)
        return abs(mean) > max(_SIGMAS * sigma, HALF_TICK_MM)

    def tick_mm(self, which: Which) -> float:
        """Return the tick that would have a strip off least; toward larger figures positive."""
        mean, _ = self._mean_error(which)
        return round((self.strips[which].tick_mm + mean) / HALF_TICK_MM) * HALF_TICK_MM

    def bent(self, which: Which) -> bool:
        """Return whether marks are off from one another by a tolerance, beyond chance."""
        _, marks = self.chart.ring(which)
        count = len(self.at)
        left = np.eye(count) - 1.0 / count
        rest, spread = left @ self.mean[which], np.sqrt(np.diag(left @ self._own(which) @ left.T))
        allowed = marks.own_share * marks.tolerance_mm[0, self.at]
        return bool(np.any((np.abs(rest) > allowed) & (np.abs(rest) > _SIGMAS * spread)))


def _marks_in_common(
    chart: Chart, strips: Mapping[Which, StripRead], printed: Mapping[Which, StripPrinted]
) -> list[int]:
    """Return which of a rig's marks both strips show; raises InputError if none."""
    shown = set.intersection(*(set(printed[which].distances_mm.tolist()) for which in RINGS))
    at = [i for i, distance in enumerate(chart.distances_mm.tolist()) if _near(distance, shown)]
    if not at:
        codes = " and ".join(strip.taping.code for strip in strips.values())
        raise InputError(
            f"{chart.kit.source}: rigs.{chart.rig.rig_id}: the strips {codes} show no mark of "
            "this rig: look at the codes again, or build and print anew"
        )
    return at


def _near(distance_mm: float, shown: set[float]) -> bool:
    return any(abs(1.0 / distance_mm - 1.0 / other) <= 1e-9 for other in shown)


def _by_nearness(printed: StripPrinted) -> tuple[Floats, Floats]:
    """Return nearness (rising) and figures of a strip's marks."""
    nearness = 1.0 / printed.distances_mm
    order = np.argsort(nearness)
    return nearness[order], printed.figures_mm[order]
