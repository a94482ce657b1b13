"""The camera test: marker strips as they are taped, judged by readings taken through them.

A mark printed at the figure p is right where the fit, which has these readings in it, says that
the strip shows s = a + τ: the ring's own arc and this taping's offset. So e = p − s is how far the
mark is off, its mean and its covariance both from the fit. What the printer did to lengths is the
same for the marks and for the scale read beside them, and is not in it; nor is setting by eye.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np

from focuschart.bench.offsets import Taping, taping_of
from focuschart.bench.shared import shared
from focuschart.chart.model import Chart
from focuschart.chart.verdict import first_stop
from focuschart.errors import InputError
from focuschart.optics.arrays import Floats
from focuschart.optics.height import POWER_SHARE_SIGMA
from focuschart.rig.ring import RINGS, Which
from focuschart.scale.fit import HALF_WIDTH_95

Act = Literal["keep", "use-tick", "move", "reprint", "exchanged", "inconclusive"]

KEEP_FROM = 0.95
"""Marks are kept where all are inside with this probability."""
ACT_BELOW = 0.20
COMB_MM, TICK_MM = 1.5, 0.25
"""How far an index's comb reaches, and the half of a tick that is read by eye."""
_DRAWS, _SEED = 4000, 21
_SIGMAS = 2.576
"""An offset, or a bend of the scale, that chance brings about once in a hundred."""


class StripPrinted(NamedTuple):
    """The marks of a marker strip as it was printed: subject distances and figures, mm (n)."""

    distances_mm: Floats
    figures_mm: Floats


@dataclass(frozen=True, slots=True)
class RingResult:
    """What a camera test says of one strip: its taping's offset, and what to do about it.

    `move_mm` is the tick to use, or how far to move the strip's marks, toward larger figures
    positive; None where nothing is to be moved.
    """

    strip: str
    taping: int
    offset_mm: float
    offset_95_mm: float
    verdict: Act
    move_mm: float | None = None


@dataclass(frozen=True, slots=True)
class StripTest:
    """What a camera test says of a rig: `inside` is the probability at the working stop."""

    rig_id: str
    inside: float
    keep_from_stop: float | None
    cause: str | None
    rings: Mapping[Which, RingResult]

    @property
    def kept(self) -> bool:
        """Whether both strips may stay as they are at the working stop."""
        return all(ring.verdict == "keep" for ring in self.rings.values())


def strips_read(chart: Chart) -> dict[Which, Taping]:
    """Return the strip of each ring that was last read through on this rig, if one was.

    They are those of the kit: strips on each other's ring may leave the rings without a scale.
    """
    own = [each for each in chart.kit.readings if each.rig == chart.rig.rig_id and not each.ignore]
    found: dict[Which, Taping] = {}
    for reading in own:
        for which in RINGS:
            if getattr(reading, which) is not None and reading.strip(which):
                found[which] = taping_of(reading, which)
    return found


def judged(
    chart: Chart, strips: Mapping[Which, Taping], printed: Mapping[Which, StripPrinted]
) -> StripTest:
    """Return what readings through both strips of a rig say of them, as they are taped.

    Raises InputError for strips that show no mark of the rig's in common.
    """
    errors = _Errors(chart, strips, printed)
    now = errors.largest()
    inside = float(np.mean(now <= 1.0))
    acts, cause = _acts(errors, inside)
    stop = float(np.quantile(now, KEEP_FROM)) * chart.working_stop
    return StripTest(
        chart.rig.rig_id,
        inside,
        first_stop(chart, stop),
        cause,
        {which: errors.result(which, acts[which]) for which in RINGS},
    )


def _acts(errors: _Errors, inside: float) -> tuple[dict[Which, _Act], str | None]:
    """Return what to do with each strip, and why: nothing is done where it may be chance."""
    if inside >= KEEP_FROM:
        return {which: _Act("keep") for which in RINGS}, None
    if inside <= ACT_BELOW:
        bent = [which for which in RINGS if errors.bent(which)]
        if bent:
            acts = {which: _Act("reprint" if which in bent else "keep") for which in RINGS}
            return acts, f"the scale of the {' and '.join(bent)} ring has changed"
        off = {which: errors.tick_mm(which) for which in RINGS if errors.is_off(which)}
        if off:
            acts = {which: _moved(off.get(which)) for which in RINGS}
            return acts, f"taping of the {' and '.join(off)} strip"
    return {which: _Act("inconclusive") for which in RINGS}, None


def exchanged(chart: Chart, strips: Mapping[Which, Taping]) -> StripTest:
    """Return the result for strips that were found on each other's ring."""
    rings = {
        which: RingResult(taping.code, taping.number, np.nan, np.nan, "exchanged")
        for which, taping in strips.items()
    }
    return StripTest(chart.rig.rig_id, 0.0, None, "the strips are on each other's ring", rings)


class _Act(NamedTuple):
    verdict: Act
    move_mm: float | None = None


def _moved(tick_mm: float | None) -> _Act:
    if tick_mm is None:
        return _Act("keep")
    return _Act("use-tick" if abs(tick_mm) <= COMB_MM else "move", tick_mm)


class _Errors:
    """The errors of both strips' marks as taped, figures of the ruler less what they should be."""

    def __init__(
        self, chart: Chart, strips: Mapping[Which, Taping], printed: Mapping[Which, StripPrinted]
    ) -> None:
        self.chart, self.strips = chart, strips
        shown = set.intersection(*(set(printed[which].distances_mm.tolist()) for which in RINGS))
        every = chart.distances_mm.tolist()
        self.at = [i for i, distance in enumerate(every) if _near(distance, shown)]
        if not self.at:
            codes = " and ".join(taping.code for taping in strips.values())
            raise InputError(
                f"{chart.kit.source}: rigs.{chart.rig.rig_id}: the strips {codes} show no mark of "
                "this rig: look at the codes again, or build and print anew"
            )
        self.gradient: dict[Which, Floats] = {}
        self.mean: dict[Which, Floats] = {}
        for which in RINGS:
            _, marks = chart.ring(which)
            gradient = marks.gradient[self.at].copy()
            gradient[:, self._column(which)] = 1.0
            self.gradient[which] = gradient
            offset, _ = self.offset(which)
            figures = np.interp(
                1.0 / chart.distances_mm[self.at],
                *_by_nearness(printed[which]),
            )
            self.mean[which] = figures - marks.arc_mm[self.at] - offset
        self.covariance = self._covariance()

    def _column(self, which: Which) -> int:
        """Return which parameter of a ring's fit is the offset of its strip's taping."""
        _, marks = self.chart.ring(which)
        scale, shifts = marks.measured.scale, marks.measured.readings.shifts
        first = 2 + len(scale.law.priors) + scale.problem.readings.pool_columns.shape[1]
        return int(first) + shifts.tapings.index(self.strips[which])

    def offset(self, which: Which) -> tuple[float, float]:
        """Return the offset of a strip's taping and its standard error, mm."""
        _, marks = self.chart.ring(which)
        shifts = marks.measured.readings.shifts
        return marks.measured.scale.offset_mm(shifts.tapings.index(self.strips[which]))

    def _own(self, which: Which) -> Floats:
        _, marks = self.chart.ring(which)
        gradient, height = self.gradient[which], POWER_SHARE_SIGMA * marks.height_shift_mm[self.at]
        fitted = gradient @ marks.measured.scale.covariance @ gradient.T
        return np.asarray(fitted + np.outer(height, height))

    def _covariance(self) -> Floats:
        one, two = (self.chart.ring(which)[1] for which in RINGS)
        common = shared(one.measured, two.measured).covariance
        between = self.gradient["taking"] @ common @ self.gradient["attachment"].T
        return np.block([[self._own("taking"), between], [between.T, self._own("attachment")]])

    def largest(self) -> Floats:
        """Return draws of the largest error of all marks, in criteria."""
        one, two = (self.chart.ring(which)[1] for which in RINGS)
        count, squeeze = len(self.at), self.chart.rig.attachment.squeeze
        mean = np.concatenate([self.mean[which] for which in RINGS])
        values, vectors = np.linalg.eigh(self.covariance)
        root = vectors * np.sqrt(np.maximum(values, 0.0))
        noise = np.random.default_rng(_SEED).normal(size=(_DRAWS, 2 * count))
        drawn = mean + noise @ root.T
        taking = one.nearer_sign * drawn[:, :count] / one.tolerance_mm[0, self.at]
        attachment = two.nearer_sign * drawn[:, count:] / two.tolerance_mm[0, self.at]
        worse = np.maximum(np.abs(taking) / squeeze, np.abs(attachment - taking))
        return np.asarray(np.max(worse, axis=1))

    def _mean_error(self, which: Which) -> tuple[float, float]:
        """Return the mean error of a ring's marks and its standard error, mm."""
        own = self._own(which)
        weights = np.full(len(self.at), 1.0 / len(self.at))
        return float(weights @ self.mean[which]), float(np.sqrt(weights @ own @ weights))

    def is_off(self, which: Which) -> bool:
        """Return whether a strip lies off as a whole, beyond chance and by over half a tick."""
        mean, sigma = self._mean_error(which)
        return abs(mean) > max(_SIGMAS * sigma, TICK_MM)

    def tick_mm(self, which: Which) -> float:
        """Return the tick nearest to what a strip is off; toward larger figures positive."""
        mean, _ = self._mean_error(which)
        return round(mean / TICK_MM) * TICK_MM

    def bent(self, which: Which) -> bool:
        """Return whether marks are off from one another by a tolerance, beyond chance."""
        _, marks = self.chart.ring(which)
        count = len(self.at)
        left = np.eye(count) - 1.0 / count
        rest, spread = left @ self.mean[which], np.sqrt(np.diag(left @ self._own(which) @ left.T))
        allowed = marks.own_share * marks.tolerance_mm[0, self.at]
        return bool(np.any((np.abs(rest) > allowed) & (np.abs(rest) > _SIGMAS * spread)))

    def result(self, which: Which, act: _Act) -> RingResult:
        """Return what is said of one ring."""
        offset, sigma = self.offset(which)
        taping = self.strips[which]
        return RingResult(
            taping.code, taping.number, offset, HALF_WIDTH_95 * sigma, act.verdict, act.move_mm
        )


def _near(distance_mm: float, shown: set[float]) -> bool:
    return any(abs(1.0 / distance_mm - 1.0 / other) <= 1e-9 for other in shown)


def _by_nearness(printed: StripPrinted) -> tuple[Floats, Floats]:
    """Return nearness (rising) and figures of a strip's marks."""
    nearness = 1.0 / printed.distances_mm
    order = np.argsort(nearness)
    return nearness[order], printed.figures_mm[order]
