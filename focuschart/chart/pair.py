"""Both rings of a rig together: how far off they are at its marks, and what would lower that."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from focuschart.bench.shared import shared, worse_95
from focuschart.chart.as_set import HALF_TICK_MM, PHOTO_MM
from focuschart.chart.marks import RingMarks
from focuschart.optics.arrays import Floats
from focuschart.scale.fit import HALF_WIDTH_95
from focuschart.scale.joint import largest_95

_COMB_SIGMA_MM = HALF_TICK_MM / math.sqrt(12.0)
"""What choosing the nearest half tick of an index's comb leaves: it is uniform over one."""
_TAKEN = 2
"""How often a camera test reads each mark."""


@dataclass(frozen=True)
class PairErrors:
    """The errors of both rings at a rig's marks (n), positive where a ring is set too near.

    `taking` and `attachment` are the rings' own marks, `squeeze` is nominal.
    """

    taking: RingMarks
    attachment: RingMarks
    squeeze: float

    @cached_property
    def _common(self) -> Floats:
        """The covariance of both fits' parameters (p × q), as errors toward nearer."""
        sign = self.taking.nearer_sign * self.attachment.nearer_sign
        return sign * shared(self.taking.measured, self.attachment.measured).covariance

    def covariance(self, *, setting: bool = True) -> Floats:
        """Return the covariance of both rings as set (2n × 2n, mm²), the taking lens's first."""
        one, two = self.taking, self.attachment
        scales = one.hand.print_scale * two.hand.print_scale * one.nearer_sign * two.nearer_sign
        between = one.set_gradient @ self._common @ two.set_gradient.T
        between = between + scales * np.outer(one.set_figures_mm, two.set_figures_mm)
        own = (one.covariance(setting=setting), two.covariance(setting=setting))
        return np.block([[own[0], between], [between.T, own[1]]])

    @cached_property
    def pair_95(self) -> Floats:
        """The pair's 95 % error as set, at each stop and mark (m × n), in criteria."""
        whole, count = self.covariance(), len(self.taking.arc_mm)
        own = np.diag(whole)
        return self._worse_95(own[:count], own[count:], np.diag(whole[:count, count:]))

    @cached_property
    def bench_pair_95(self) -> Floats:
        """The same of the fits alone."""
        one, two = (np.square(ring.bench_arc_95_mm / HALF_WIDTH_95)
                    for ring in (self.taking, self.attachment))  # fmt: skip
        between = self.taking.gradient @ self._common @ self.attachment.gradient.T
        return self._worse_95(one, two, np.diag(between))

    def _worse_95(self, taking: Floats, attachment: Floats, between: Floats) -> Floats:
        """Return the worse meridian's 95 %: V = e_t/tol_V, H = e_a/tol_a − S·e_t/tol_V."""
        one, two = self.taking.tolerance_mm, self.attachment.tolerance_mm
        return worse_95(
            taking / np.square(one),
            attachment / np.square(two),
            between / (one * two),
            squeeze=self.squeeze,
        )

    def all_inside(self, covariance: Floats) -> float:
        """Return how many criteria at the working stop hold all marks together with 95 %.

        Each is set once; `covariance` is that of both rings (2n × 2n, mm²).
        """
        one, two = self.taking.tolerance_mm[0], self.attachment.tolerance_mm[0]
        taking, attachment = np.diag(1.0 / one), np.diag(1.0 / two)
        criteria = np.block([
            [taking / self.squeeze, np.zeros_like(taking)],
            [-taking, attachment],
        ])  # fmt: skip
        return largest_95(criteria @ covariance @ criteria.T)

    def index_by_focus(self) -> Floats:
        """Return the covariance (2n × 2n) once each index was set by focus at the best one mark."""
        tried = (
            replace(
                self,
                taking=self.taking.set_by_focus(self.taking.at(mark), nearest=mark),
                attachment=self.attachment.set_by_focus(self.attachment.at(mark), nearest=mark),
            ).covariance()
            for mark in self._test_marks
        )
        return min(tried, key=lambda whole: float(np.trace(whole)))

    def camera_test(self) -> Floats:
        """Return the covariance (2n × 2n) once a camera test has chosen a tick of each comb.

        The test reads the nearest and the farthest mark and one between, each twice; their mean
        error is taken out, and that of the readings and of the comb comes in.
        """
        marks, count = self._test_marks, len(self.taking.arc_mm)
        mean = np.zeros((count, count))
        mean[:, marks] = 1.0 / len(marks)
        left = np.kron(np.eye(2), np.eye(count) - mean)
        whole = left @ self.covariance(setting=False) @ left.T
        for place, ring in enumerate((self.taking, self.attachment)):
            own, errors = slice(place * count, (place + 1) * count), ring.hand.reading_errors
            eye = np.mean([ring.eye_mm(mark) ** 2 for mark in marks])
            read = (eye + errors.ruler_mm**2) / (_TAKEN * len(marks))
            whole[own, own] += read + _COMB_SIGMA_MM**2 + ring.hand.setting_mm**2 * np.eye(count)
        return whole

    def photographs(self) -> Floats:
        """Return the covariance (2n × 2n) once photographs have read the bench and the tapings.

        What each strip is taped off is then known and taken out by a tick of its index's comb.
        """
        taking, attachment = (
            ring.by_photograph(PHOTO_MM, tick_mm=_COMB_SIGMA_MM)
            for ring in (self.taking, self.attachment)
        )
        return replace(self, taking=taking, attachment=attachment).covariance()

    @property
    def _test_marks(self) -> list[int]:
        last = len(self.taking.arc_mm) - 1
        return sorted({0, last // 2, last})
