"""The search for the mistake that explains why readings disagree.

For each possible mistake, the readings are corrected, the rings fitted again, and χ² compared with
that before. A wrong figure changes one ring's fit, a wrong distance both, so χ² is summed over
both rings.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain

import numpy as np

from focuschart.bench.cause import LEAST_GAIN_MISSTATED, Cause, Kind
from focuschart.bench.readings import RingReadings, Row, other_group, other_lead
from focuschart.errors import FitError, OpticsError
from focuschart.optics.arrays import Floats
from focuschart.rig.ring import RingKey
from focuschart.scale.fit import RingScale, chi_square_point, contradiction
from focuschart.scale.leastsq import Solution
from focuschart.scale.problem import RingProblem
from focuschart.units import MM_PER_FOOT

_DISTANCES_MM = np.geomspace(400.0, 60_000.0, 120)
_WALLS_MM = np.geomspace(3_000.0, 150_000.0, 60)
"""True distances tried for a reading, and for one at infinity."""
_FITS_SIGMA = 2.33
"""A corrected fit may have a χ² that chance exceeds once in a hundred times."""
_RIVAL = 6.0
"""Causes up to this much worse in score than the best are named too."""
_NAMED = 6.6
"""A particular distance (feet for metres ...) may be this much worse in χ² than the best one."""
_MOST_TRIED = 24
"""The most set-ups tried, those furthest off, and the most starts of a slip."""
_MOST_WORK, _WORK_A_GROUP = 1500, 150
"""The search of one kit is limited by a count of readings and of groups of rings: a limit of time
would give other answers on other machines."""
_REFITS, _STEPS = 4, 40
_PRECISION = 1e-8
"""Limits of the fits, enough to compare χ²; a fit that does not converge does not count."""
_HOPELESS = 20.0
"""A first fit with χ² so many times the limit is given up; new weights would not help."""


Rings = Mapping[RingKey, RingReadings]


@dataclass(frozen=True, slots=True)
class _Fitted:
    """The fit of one ring; without a solution, χ² is infinite."""

    problem: RingProblem | None
    solution: Solution | None
    chi_square: float


def probable_causes(rings: Rings) -> list[Cause]:
    """Return the mistakes that make all rings fit, the likeliest first.

    `rings` is one of the groups of `ring_groups`.
    """
    now = {key: _fitted(ring) for key, ring in rings.items()}
    misfits = {key: fit.chi_square for key, fit in now.items()}
    freedom = sum(_freedom(now[key], ring) for key, ring in rings.items())
    supposed = chain(
        _misstated(rings, misfits), _single(rings, now), _slips(rings, now), _every_distance(rings)
    )
    return _likeliest(supposed, rings, before=sum(misfits.values()), freedom=freedom)


def misstated_causes(rings: Rings, scales: Mapping[RingKey, RingScale]) -> list[Cause]:
    """Return probable mistakes in the kit about rings whose readings agree, the likeliest first.

    Such a mistake makes marks wrong although readings fit. `rings` is one of the groups of
    `ring_groups`, `scales` are their fits.
    """
    misfits = {key: scale.sum_of_squares for key, scale in scales.items()}
    freedom = sum(scale.problem.freedom for scale in scales.values())
    supposed = _misstated(rings, misfits)
    return _likeliest(supposed, rings, before=sum(misfits.values()), freedom=freedom)


def _likeliest(
    supposed: Iterable[Cause], rings: Rings, *, before: float, freedom: int
) -> list[Cause]:
    """Return the causes that make rings fit and are not much less likely than the best.

    `before` is χ² of all rings without a correction, `freedom` its degrees of freedom.
    """
    limit = chi_square_point(freedom, sigmas=_FITS_SIGMA)
    fitting = [c for c in supposed if c.left_over < limit and c.gains_enough(before)]
    fitting.sort(key=lambda cause: cause.score)
    by_number = {row.index: row.reading for ring in rings.values() for row in ring.rows}
    return [
        replace(cause, readings=tuple(by_number[index] for index in cause.indices))
        for cause in fitting
        if cause.score < fitting[0].score + _RIVAL
    ]


def _freedom(fit: _Fitted, ring: RingReadings) -> int:
    return fit.problem.freedom if fit.problem else max(len(ring.rows) - 2, 1)


def agrees_without_one(ring: RingReadings) -> bool:
    """Return whether a ring's readings agree if a single one of them is left out."""
    misfits = _residuals(_fitted(ring), len(ring.rows))
    worst = np.argsort(-misfits)[:_MOST_TRIED]
    rest = (_fitted(_without(ring, (ring.rows[i].index,))) for i in worst)
    return any(
        fit.problem is not None
        and fit.solution is not None
        and not contradiction(fit.problem, fit.solution)
        for fit in rest
    )


def within_work_limit(groups: Sequence[Rings]) -> list[bool]:
    """Return for each doubtful group of a kit whether it is within the limit of work."""
    work = np.cumsum([_WORK_A_GROUP + sum(len(ring.rows) for ring in g.values()) for g in groups])
    return [bool(spent <= _MOST_WORK) for spent in work]


def ring_groups(rings: Rings) -> list[Rings]:
    """Return the rings with readings, in groups: rings that share a reading are in one group."""
    groups: list[dict[RingKey, RingReadings]] = []
    for key, ring in rings.items():
        if ring.rows:
            own = {row.index for row in ring.rows}
            sharing = [group for group in groups if _numbers(group) & own]
            groups = [group for group in groups if group not in sharing]
            groups.append({k: v for group in sharing for k, v in group.items()} | {key: ring})
    return list(groups)


def _numbers(rings: Rings) -> set[int]:
    return {row.index for ring in rings.values() for row in ring.rows}


def _fitted(ring: RingReadings, slip: Floats | None = None) -> _Fitted:
    """Return a quick fit; `slip` is 1 for readings after a slip, whose size is then fitted too."""
    if not ring.rows:
        return _Fitted(None, None, math.inf)
    try:
        problem = replace(ring.problem(), slip=slip)
        limit = chi_square_point(max(problem.freedom, 1), sigmas=_FITS_SIGMA)
        solution, _ = problem.solve(
            most_refits=_REFITS, most_steps=_STEPS, precision=_PRECISION,
            hopeless=_HOPELESS * limit,
        )  # fmt: skip
    except (FitError, OpticsError, np.linalg.LinAlgError):
        return _Fitted(None, None, math.inf)
    return _Fitted(problem, solution, solution.sum_of_squares)


def _without(ring: RingReadings, indices: Collection[int]) -> RingReadings:
    return replace(ring, rows=tuple(row for row in ring.rows if row.index not in indices))


def _misfit(rest: _Fitted, ring: RingReadings, rows: Sequence[Row]) -> Floats:
    """Return χ² of each row alone against the fit `rest` of the others; infinite without one."""
    if rest.solution is None:
        return np.full(len(rows), math.inf)
    try:
        problem = replace(ring, rows=tuple(rows)).problem()
        arcs, gradient = problem.model(rest.solution.parameters)
        noise = problem.noise_parts(rest.solution.parameters).variance
    except OpticsError:
        return _misfit_in_parts(rest, ring, rows)
    predicted = np.einsum("ni,ij,nj->n", gradient, rest.solution.covariance, gradient)
    return np.asarray(np.square(problem.readings.arc_mm - arcs) / (predicted + noise))


def _misfit_in_parts(rest: _Fitted, ring: RingReadings, rows: Sequence[Row]) -> Floats:
    """Return `_misfit` row by row; infinite for rows at distances that the optics do not allow."""
    if len(rows) == 1:
        return np.full(1, math.inf)
    half = len(rows) // 2
    return np.concatenate([_misfit(rest, ring, part) for part in (rows[:half], rows[half:])])


def _single(rings: Rings, now: Mapping[RingKey, _Fitted]) -> Iterator[Cause]:
    """Yield every mistake at a single set-up, judged by the fit of all other readings."""
    for indices in _furthest_off(rings, now):
        case = _case(indices, rings, now)
        yield from case.distances()
        for alone in [case] if len(indices) == 1 else [_case((i,), rings, now) for i in indices]:
            yield from alone.figures(now)
            yield from alone.swap()


def _furthest_off(rings: Rings, now: Mapping[RingKey, _Fitted]) -> list[tuple[int, ...]]:
    """Return the set-ups (numbers of their readings), those with the largest residuals first."""
    off: dict[int, float] = {}
    for key, ring in rings.items():
        for row, misfit in zip(ring.rows, _residuals(now[key], len(ring.rows)), strict=True):
            off[row.index] = max(off.get(row.index, 0.0), float(misfit))
    ranked = sorted(_setups(rings), key=lambda indices: -max(off[index] for index in indices))
    return ranked[:_MOST_TRIED]


def _residuals(fit: _Fitted, count: int) -> Floats:
    """Return how many standard deviations each reading is off; zeros without a solution."""
    if fit.problem is None or fit.solution is None:
        return np.zeros(count)
    arcs, _ = fit.problem.model(fit.solution.parameters)
    noise = fit.problem.noise_parts(fit.solution.parameters).variance
    return np.asarray(np.abs(fit.problem.readings.arc_mm - arcs) / np.sqrt(noise))


def _setups(rings: Rings) -> Collection[tuple[int, ...]]:
    """Return the numbers of the readings of each set-up."""
    setups: dict[Hashable, set[int]] = {}
    for ring in rings.values():
        for row in ring.rows:
            setups.setdefault(row.setup, set()).add(row.index)
    return [tuple(sorted(indices)) for indices in setups.values()]


def _case(indices: tuple[int, ...], rings: Rings, now: Mapping[RingKey, _Fitted]) -> _Case:
    """Return readings of one set-up as a case, with their rings fitted without them."""
    rows = {key: [row for row in ring.rows if row.index in indices] for key, ring in rings.items()}
    at = {
        key: replace(own[0], figure_mm=float(np.mean([row.figure_mm for row in own])))
        for key, own in rows.items()
        if own
    }
    rest = {key: _fitted(_without(rings[key], indices)) for key in at}
    others = sum(fit.chi_square for key, fit in now.items() if key not in at)
    total = others + sum(fit.chi_square for fit in rest.values())
    scatter = sum(_scatter(rings[key], rows[key], now[key]) for key in at)
    return _Case(indices, at, rest, rings, total, scatter)


def _scatter(ring: RingReadings, rows: Sequence[Row], fit: _Fitted) -> float:
    """Return χ² of repeats about their mean, with the noise of ruler and eye alone."""
    if len(rows) < 2 or fit.solution is None:
        return 0.0
    parts = replace(ring, rows=tuple(rows)).problem().noise_parts(fit.solution.parameters)
    figures = np.array([row.figure_mm for row in rows])
    return float(np.sum(np.square(figures - np.mean(figures)) / parts.own))


@dataclass(frozen=True, slots=True)
class _Case:
    """Readings of one set-up, suspected of a mistake.

    `at` has their mean row by ring, `rest` the rings fitted without them; `chi_square` is that of
    these fits and of all other rings. `scatter` is χ² of repeats about their mean, which no other
    distance explains.
    """

    indices: tuple[int, ...]
    at: Mapping[RingKey, Row]
    rest: Mapping[RingKey, _Fitted]
    rings: Rings
    chi_square: float
    scatter: float

    def figures(self, now: Mapping[RingKey, _Fitted]) -> Iterator[Cause]:
        """Yield, for each ring, the cause that its figure is wrong and the other ring's right."""
        for key in self.at:
            others = sum(now[other].chi_square - self.rest[other].chi_square
                         for other in self.at if other != key)  # fmt: skip
            yield Cause("figure", self.indices, self.chi_square + others, which=key[0])

    def swap(self) -> Iterator[Cause]:
        """Yield the cause that both rings' figures are exchanged, if both were read."""
        if len(self.at) == 2:
            (key_1, row_1), (key_2, row_2) = self.at.items()
            rows = {key_1: replace(row_1, figure_mm=row_2.figure_mm),
                    key_2: replace(row_2, figure_mm=row_1.figure_mm)}  # fmt: skip
            off = sum(_misfit(self.rest[key], self.rings[key], [rows[key]])[0] for key in rows)
            yield Cause("swap", self.indices, self.chi_square + off)

    def distances(self) -> Iterator[Cause]:
        """Yield causes with another distance: by particular mistakes, then the best of all."""
        row = next(iter(self.at.values()))
        if math.isinf(row.reading.distance):
            yield self._nearest_fit("wall", _WALLS_MM)
            return
        anywhere = self._nearest_fit("distance", _DISTANCES_MM)
        named = (self._at(kind, np.array([distance])) for kind, distance in _mistaken(row))
        yield from (cause for cause in named if cause.left_over < anywhere.left_over + _NAMED)
        yield anywhere

    def _nearest_fit(self, kind: Kind, distances_mm: Floats) -> Cause:
        """Return the cause with the distance that fits best, searched coarsely, then finely."""
        coarse = self._at(kind, distances_mm)
        step = distances_mm[1] / distances_mm[0]
        around = coarse.amount_mm * np.geomspace(1.0 / step, step, 41)
        return min(coarse, self._at(kind, around), key=lambda cause: cause.left_over)

    def _at(self, kind: Kind, distances_mm: Floats) -> Cause:
        """Return the cause with the best of these distances."""
        off = np.full(len(distances_mm), self.scatter)
        for key, row in self.at.items():
            off += _misfit(self.rest[key], self.rings[key], [_moved(row, d) for d in distances_mm])
        best = int(np.argmin(off))
        return Cause(kind, self.indices, self.chi_square + float(off[best]),
                     amount_mm=float(distances_mm[best]))  # fmt: skip


def _moved(row: Row, distance_mm: float) -> Row:
    """Return a row with another distance."""
    return replace(row, reading=row.reading.model_copy(update={"distance": float(distance_mm)}))


def _mistaken(row: Row) -> Iterator[tuple[Kind, float]]:
    """Yield the true distances that a stated one may stand for, each with its mistake."""
    stated, rig = row.reading.distance, row.rig
    metres_per_foot = MM_PER_FOOT / 1000.0
    vertex = rig.front_glass_mm + rig.attachment.front_glass_mm / 2.0
    yield "front glass", stated + vertex
    yield "feet", stated * metres_per_foot
    yield "metres", stated / metres_per_foot
    # The same, measured after focusing, which had carried the front forward.
    yield "front glass", stated + vertex + float(rig.carried_mm(stated))


def _slips(rings: Rings, now: Mapping[RingKey, _Fitted]) -> Iterator[Cause]:
    """Yield slips of one ring's ruler; at least two readings are before and after each."""
    total = sum(fit.chi_square for fit in now.values())
    for key, ring in rings.items():
        others = total - now[key].chi_square
        order = sorted(row.index for row in ring.rows)
        starts, step = range(2, len(order) - 1), len(order) // _MOST_TRIED + 1
        rough = [_slip(ring, key, order[start:], others) for start in starts[::step]]
        yield from rough
        if step > 1:
            best = starts[::step][int(np.argmin([cause.left_over for cause in rough]))]
            for start in range(best - step + 1, best + step):
                if start in starts and start != best:
                    yield _slip(ring, key, order[start:], others)


def _slip(ring: RingReadings, key: RingKey, moved: Sequence[int], others: float) -> Cause:
    """Return the cause that the ruler slipped before the readings `moved`.

    `others` is χ² of the other rings.
    """
    fit = _fitted(ring, np.array([float(row.index >= moved[0]) for row in ring.rows]))
    slip = float(fit.solution.parameters[-1]) if fit.solution else 0.0
    return Cause("slip", tuple(moved), others + fit.chi_square, which=key[0], amount_mm=slip)


def _misstated(rings: Rings, misfits: Mapping[RingKey, float]) -> Iterator[Cause]:
    """Yield mistakes in the kit about a ring: the group that moves, and the lead.

    `misfits` are the rings' χ² without a correction.
    """
    total = sum(misfits.values())
    for key, ring in rings.items():
        # χ² cannot fall by more than its value.
        if misfits[key] > LEAST_GAIN_MISSTATED:
            indices = tuple(row.index for row in ring.rows)
            for kind, lead_mm, other in _corrected(ring):
                left = total - misfits[key] + _fitted(other).chi_square
                yield Cause(kind, indices, left, which=key[0], amount_mm=lead_mm)


def _corrected(ring: RingReadings) -> Iterator[tuple[Kind, float, RingReadings]]:
    """Yield kind of mistake, lead (mm) and the corrected ring, for each mistake in the kit."""
    if ring.which == "attachment":
        stated = next(iter(ring.rigs.values())).attachment.moving_group
        yield "rear group" if stated == "front" else "front group", 0.0, other_group(ring)
    lead = ring.ring.lead
    if lead is not None:
        yield "half the lead", 0.5 * lead, other_lead(ring, 0.5 * lead)
        yield "twice the lead", 2.0 * lead, other_lead(ring, 2.0 * lead)


def _every_distance(rings: Rings) -> Iterator[Cause]:
    """Yield each mistake about distances, made at every reading."""
    everywhere = sorted(_numbers(rings))
    for number, kind in enumerate(("front glass", "feet", "metres")):
        left = sum(_fitted(_all_moved(ring, number)).chi_square for ring in rings.values())
        yield Cause(kind, tuple(everywhere), left)  # type: ignore[arg-type]


def _all_moved(ring: RingReadings, number: int) -> RingReadings:
    rows = tuple(
        row if math.isinf(row.reading.distance) else _moved(row, list(_mistaken(row))[number][1])
        for row in ring.rows
    )
    return replace(ring, rows=rows)
