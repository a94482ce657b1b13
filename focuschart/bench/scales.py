"""The scales of all rings that were read, each fitted once for all rigs that have it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from focuschart.bench.cause import Cause, cause_text
from focuschart.bench.causes import (
    agrees_without_one,
    misstated_causes,
    probable_causes,
    ring_groups,
    within_work_limit,
)
from focuschart.bench.offsets import Taping
from focuschart.bench.readings import RingReadings, Row, gather
from focuschart.errors import FitError, OpticsError, Problem
from focuschart.kit.naming import named, reading_name
from focuschart.kit.rules import unusable_rings
from focuschart.kit.schema import Kit
from focuschart.optics.arrays import Floats
from focuschart.rig.assemble import Rig
from focuschart.rig.ring import RINGS, RigRing, RingKey, Which, ring_key
from focuschart.scale.fit import RingScale, fit_problem, influence
from focuschart.scale.problem import Squeezes, repeats
from focuschart.units import Units

_DISCORDANT_SIGMA = 7.0
"""Two repeats differ by more once in a million times."""

_LEAST_GAIN = 1.0
"""By how much χ² must fall for a taping's prior to be dropped: one standard deviation.

Beyond it the prior draws the offset of a strip that slipped toward zero: with 6.25 the 95 % of
strips that slipped by 0.9 mm held 56 %, with 1 they hold 86 %, and sound ones pay 4 % of width.
"""


@dataclass(frozen=True, slots=True)
class MeasuredScale:
    """A ring's scale, its readings, and the probable causes if some disagree, likeliest first."""

    scale: RingScale
    readings: RingReadings
    causes: tuple[Cause, ...] = ()

    @property
    def rows(self) -> tuple[Row, ...]:
        """The readings, in the order of the fit."""
        return self.readings.rows

    @property
    def blamed(self) -> tuple[int, ...]:
        """The indices of the readings that disagree with the rest, in the order of the fit.

        If the likeliest cause is one wrong figure, it is that one alone: in the fit of all readings
        a wrong figure may give its neighbour a larger residual than its own.
        """
        likeliest = self.causes[0] if self.causes and self.scale.disagreeing else None
        if likeliest and (likeliest.kind, likeliest.which) == ("figure", self.readings.which):
            return tuple(i for i, row in enumerate(self.rows) if row.index in likeliest.indices)
        return self.scale.disagreeing

    @property
    def disagreeing(self) -> tuple[Row, ...]:
        """The readings that disagree with the rest."""
        return tuple(self.rows[i] for i in self.blamed)

    @property
    def doubtful(self) -> bool:
        """Whether its readings disagree or its fit did not converge: then no mark is sure."""
        return self.scale.contradicted or not self.scale.converged

    @property
    def nearest_mm(self) -> float:
        """The nearest distance read."""
        return min(row.reading.distance for row in self.rows)

    def lens_number(self, lens_id: str) -> int:
        """Return the index of a taking lens among the lenses (pools) of the fit."""
        return self.readings.lenses.index(lens_id)

    def read_on(self, lens_id: str) -> bool:
        """Return whether any reading was made on this taking lens."""
        return any(row.rig.lens_id == lens_id for row in self.rows)

    def position_mm(self, rig: Rig, distance_mm: Floats) -> Floats:
        """Return the position that the ring's law takes, for subjects at `distance_mm` of a rig."""
        return RigRing(rig, self.readings.which).position_mm(distance_mm)

    def arc_mm(self, rig: Rig, distance_mm: Floats) -> Floats:
        """Return the ring's arcs on a rig for subjects at `distance_mm`, of any shape."""
        return self.modelled(rig, distance_mm, rig.focus_height_mm)[0]

    def modelled(self, rig: Rig, distance_mm: Floats, height_mm: float) -> tuple[Floats, Floats]:
        """Return the arcs for a height in the picture, and their gradient (… × parameters)."""
        return self.scale.modelled(
            self.position_mm(rig, distance_mm),
            pool=self.lens_number(rig.lens_id),
            power_share=RigRing(rig, self.readings.which).power_share(distance_mm, height_mm),
        )

    def height_shift_mm(self, rig: Rig, distance_mm: Floats) -> Floats:
        """Return how far the height in the picture shifts arcs (n) beyond what was read with it.

        By the same share of itself, which no kit knows, each of them is off: the error of all
        readings' heights, as the fit carries it to the marks, less that of the marks' own height.
        """
        problem, constants = self.scale.problem, self.scale.constants
        middle = problem.law.travel(problem.readings.position_mm, constants).value
        read = self.scale.arc_per_travel * (problem.travel(constants).value - middle)
        arc, gradient = self.modelled(rig, distance_mm, rig.focus_height_mm)
        weights = influence(problem, self.scale.parameters, self.scale.assumed_covariance)
        asked = arc - self.modelled(rig, distance_mm, 0.0)[0]
        return np.asarray(asked - gradient @ (weights @ read))


@dataclass(frozen=True, slots=True)
class Scales:
    """The scales of all rings that were read, and why some of them are refused one."""

    measured: Mapping[RingKey, MeasuredScale]
    refused: Mapping[RingKey, Problem]
    squeezes: Mapping[RingKey, Squeezes]
    """Those measured on each attachment, whether its ring was read or not, if it is not refused."""

    def of(self, rig: Rig, which: Which) -> MeasuredScale | None:
        """Return the scale of one ring of a rig, None if it has none.

        If an attachment was not read on the rig's lens, it is fitted again with a shift for that
        lens.
        """
        measured = self.measured.get(ring_key(rig, which))
        if measured is None or rig.lens_id in measured.readings.lenses:
            return measured
        readings = measured.readings.with_lens_of(rig)
        return replace(measured, scale=fit_problem(readings.problem()), readings=readings)

    def refusals(self, rig: Rig) -> dict[Which, Problem]:
        """Return why rings of a rig were refused a scale."""
        keys = {which: ring_key(rig, which) for which in RINGS}
        return {which: self.refused[key] for which, key in keys.items() if key in self.refused}


def fit_scales(kit: Kit, rigs: Mapping[str, Rig]) -> Scales:
    """Return the fitted scale of every ring that has readings.

    A ring is refused one if its readings are impossible or cannot be fitted, or if they disagree
    and leaving out a single one does not help. The refusal names the probable cause if known.
    """
    measured: dict[RingKey, MeasuredScale] = {}
    read, unusable = gather(kit, rigs), unusable_rings(kit)
    denied = {
        key: named(kit, unusable[ring.part]) for key, ring in read.items() if ring.part in unusable
    }
    read = {key: with_slips(ring) for key, ring in read.items()}
    groups = ring_groups({key: ring for key, ring in read.items() if key not in denied})
    fits = [{key: _fit(ring, kit.units) for key, ring in group.items()} for group in groups]
    doubts = [any(map(_doubtful, fitted.values())) for fitted in fits]
    doubtful = [group for group, doubt in zip(groups, doubts, strict=True) if doubt]
    searched = iter(within_work_limit(doubtful))
    for group, fitted, doubt in zip(groups, fits, doubts, strict=True):
        if doubt:
            causes = tuple(probable_causes(group)) if next(searched) else ()
        else:
            scales = {key: fit for key, fit in fitted.items() if isinstance(fit, RingScale)}
            causes = tuple(misstated_causes(group, scales))
        because = f"; probably {cause_text(causes[0], kit.units)}" if causes else ""
        for key, fit in fitted.items():
            own = tuple(cause for cause in causes if _concerns(cause, group[key]))
            if isinstance(fit, str):
                problem = Problem(f"{group[key].part} (readings)", "", f"{fit}{because}")
                denied[key] = kit.placed(problem)
            else:
                measured[key] = MeasuredScale(fit, group[key], own)
    # Where readings and squeezes contradict each other, none is believed.
    squeezes = {
        key: ring.squeezes
        for key, ring in read.items()
        if ring.squeezes is not None and key not in denied
    }
    return Scales(measured, denied, squeezes)


def with_slips(ring: RingReadings) -> RingReadings:
    """Return a ring with the tapings named that may lie further off than taping explains.

    They are tried before any reading is accused, the one first that makes χ² fall most.
    """
    suspects = [taping for taping in ring.shifts.tapings if taping.code]
    misfit = _misfit(ring) if suspects else 0.0
    while suspects:
        others = {taping: _slipped(ring, taping) for taping in suspects}
        misfits = {taping: _misfit(other) for taping, other in others.items()}
        best = min(misfits, key=misfits.__getitem__)
        if misfits[best] > misfit - _LEAST_GAIN:
            break
        ring, misfit = others[best], misfits[best]
        suspects.remove(best)
    return ring


def _slipped(ring: RingReadings, taping: Taping) -> RingReadings:
    shifts = ring.shifts._replace(slipped=ring.shifts.slipped | {taping})
    return replace(ring, shifts=shifts)


def _misfit(ring: RingReadings) -> float:
    """Return χ² of a ring's fit, infinite where there is none."""
    try:
        return fit_problem(ring.problem()).sum_of_squares
    except (FitError, OpticsError):
        return np.inf


def _concerns(cause: Cause, ring: RingReadings) -> bool:
    """Return whether a cause is about a ring's own readings."""
    numbers = {row.index for row in ring.rows}
    return cause.which in (None, ring.which) and not numbers.isdisjoint(cause.indices)


def _doubtful(fit: RingScale | str) -> bool:
    return isinstance(fit, str) or fit.contradicted


def _fit(ring: RingReadings, units: Units) -> RingScale | str:
    """Return the scale of a ring, or a sentence why there is none."""
    try:
        scale = fit_problem(ring.problem())
    except FitError as error:
        return str(error)
    except OpticsError as error:
        return f"a figure or distance is grossly wrong, check them ({error})"
    discordant = _discordant_repeats(scale, ring, units)
    if discordant:
        return discordant
    if scale.contradicted and not agrees_without_one(ring):
        return "two readings or more disagree with the others, so that none can be trusted"
    return scale


def _discordant_repeats(scale: RingScale, ring: RingReadings, units: Units) -> str:
    """Return a sentence on repeats that differ too much, "" if none do.

    They differ by more than the whole zone in focus and by more than chance explains. One of them
    is then a slip of the pen or of the ruler, so their mean would be wrong.
    """
    problem = scale.problem
    parts, figures = problem.noise_parts(scale.parameters), problem.on_ruler(scale.parameters)
    own = np.sqrt(parts.own)
    band = 2.0 * abs(scale.arc_per_travel) * problem.noise.own_tolerance_travel(scale.constants)
    most = np.maximum(band, _DISCORDANT_SIGMA * own)
    for members in repeats(problem.readings.setup):
        arcs = figures[members]
        if np.ptp(arcs) > np.max(most[members]):
            low, high = (
                reading_name(ring.rows[members[int(pick(arcs))]].reading, units, ring=ring.which)
                for pick in (np.argmin, np.argmax)
            )
            return (
                f"{low} and {high} repeat one set-up but differ by "
                f"{np.ptp(arcs):.1f} mm, more than the whole zone that is sharp there: read again, "
                "or say ignore = true in the wrong one"
            )
    return ""
