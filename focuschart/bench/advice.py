"""What to read: the distances of a bench session, and the next measurement that helps most."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from focuschart.bench.readings import RingReadings, Row
from focuschart.bench.scales import MeasuredScale
from focuschart.bench.shared import Shared, worse_95
from focuschart.kit.reading import Reading
from focuschart.kit.rules import nearest_mm
from focuschart.kit.schema import Kit
from focuschart.optics.arrays import Floats
from focuschart.optics.height import POWER_SHARE_SIGMA
from focuschart.rig.assemble import Rig
from focuschart.rig.laws import attachment_law, taking_law
from focuschart.rig.place import group_places
from focuschart.rig.ring import RINGS, Which
from focuschart.rig.tolerances import tolerance_travel
from focuschart.scale.choice import Options, mark_covariances, mark_variances
from focuschart.scale.laws import Law, prior_centres
from focuschart.scale.problem import named_parameters
from focuschart.units import MM_PER_FOOT, Units

FAR_MM, FAR_SIGMA_MM = 60_000.0, 3_000.0
"""A typical far target outdoors, its distance paced to 5 %."""
SIDES = ("nearer", "farther")
"""From where both rings are turned to best focus, one side after the other."""
SETUPS = 5
"""The usual number of distances in a bench session."""
_USUAL_LEAD_MM = 30.0
_USUAL_TURN = 0.4
"""The lead of a ring, or its share of a turn, where unknown: judgement, to choose distances."""
_UNKNOWN_ARC_MM = 1000.0
_UNKNOWN_SLOPE_SHARE = 10.0
"""Standard deviations that stand for no knowledge: of the zero arc, and of the slope in slopes."""
_REPEATS = (1, 2, 4)
_APART = 1.1
"""The least ratio of two distances to read: nearer ones are better read as repeats."""
_FEWEST_PLACES = 12
_BEST_OF_ALL, _EXCHANGES = 3, 3
_ENOUGH = 0.8
"""Fewer repeats are advised if they bring this share of the gain of the most repeats."""


@dataclass(frozen=True, slots=True)
class Prospect:
    """What is known of one ring of a rig: its p parameters and their covariance.

    `mark_gradients` are those of the arcs of n marks by the parameters (n × p), `tolerance_mm` the
    ring's tolerances there (n), at the working stop. `height_sigma_mm` (n) is the arcs' standard
    error by the height in the picture, which no reading in its middle lowers. `by_hand_mm2` is the
    variance that setting marks by hand adds to each arc (n), `scale_mm` the part of it that both
    rings' prints share, as an arc toward nearer (n).
    """

    ring: RingReadings
    parameters: Floats
    covariance: Floats
    mark_gradients: Floats
    tolerance_mm: Floats
    height_sigma_mm: Floats
    by_hand_mm2: Floats | float = 0.0
    scale_mm: Floats | float = 0.0

    @property
    def criteria(self) -> Floats:
        """The variance of the marks' arcs in squared tolerances (n)."""
        variance = np.einsum(
            "np,pq,nq->n", self.mark_gradients, self.covariance, self.mark_gradients
        )
        return self.in_criteria(variance)

    def in_criteria(self, variance: Floats) -> Floats:
        """Return variances of fitted arcs (mm²), set by hand, in squared tolerances."""
        whole = variance + np.square(self.height_sigma_mm) + self.by_hand_mm2
        return np.asarray(whole / np.square(self.tolerance_mm))

    def options(self, rig: Rig, distances_mm: Floats, stop: float) -> Options:
        """Return the readings that could be taken of this ring, one at each distance."""
        return _options(self.ring, self.parameters, rig, distances_mm, stop)


Pair = Mapping[Which, Prospect]


def _options(
    ring: RingReadings,
    parameters: Floats,
    rig: Rig,
    distances_mm: Floats,
    stop: float,
    *,
    height_mm: float = 0.0,
) -> Options:
    rows = (Row(-1, _hypothetical(rig, float(d), stop, height_mm), rig, 0.0) for d in distances_mm)
    problem = replace(ring, rows=tuple(rows)).problem()
    parts = problem.noise_parts(parameters)
    _, gradient = problem.model(parameters)
    return Options(gradient, parts.own, parts.tape)


def reading_options(ring: RingReadings, parameters: Floats, reading: Reading, rig: Rig) -> Options:
    """Return one reading not yet taken of a ring whose parameters are about these."""
    problem = replace(ring, rows=(Row(-1, reading, rig, 0.0),)).problem()
    parts = problem.noise_parts(parameters)
    return Options(problem.model(parameters)[1], parts.own, parts.tape)


def _hypothetical(rig: Rig, distance_mm: float, stop: float, height_mm: float = 0.0) -> Reading:
    """Return a reading not yet taken; a far one has the error of a typical outdoor target."""
    far = FAR_MM <= distance_mm < np.inf
    return Reading.model_construct(
        rig=rig.rig_id, distance=distance_mm, distance_error=FAR_SIGMA_MM if far else None,
        stop=stop, height=height_mm, taking=0.0, attachment=0.0, ignore=False,
    )  # fmt: skip


def prospects(rig: Rig, stop: float, measured: Mapping[Which, MeasuredScale] | None = None) -> Pair:
    """Return what is known of both rings of a rig: from their fits, or from priors alone."""
    known = {which: _fitted(measured[which]) if measured else _by_priors(rig, which)
             for which in RINGS}  # fmt: skip
    laws: Mapping[Which, Law] = {
        "taking": taking_law(rig.lens),
        "attachment": attachment_law(rig.attachment),
    }
    named = {which: named_parameters(laws[which], at) for which, (_, at, _) in known.items()}
    place = group_places(
        rig, attachment_law(rig.attachment), named["attachment"].constants, rig.distances_mm
    )
    pair: dict[Which, Prospect] = {}
    for which, (ring, parameters, covariance) in known.items():
        gradients = _options(
            ring, parameters, rig, rig.distances_mm, stop, height_mm=rig.focus_height_mm
        ).gradient
        travel = tolerance_travel(
            rig, which, rig.aperture(rig.distances_mm, stop), place, named[which].constants
        )
        tolerance_mm = abs(named[which].arc_per_travel) * travel
        shift = measured[which].height_shift_mm(rig, rig.distances_mm) if measured else 0.0
        height = np.asarray(POWER_SHARE_SIGMA * shift)
        pair[which] = Prospect(ring, parameters, covariance, gradients, tolerance_mm, height)
    return pair


def _fitted(measured: MeasuredScale) -> tuple[RingReadings, Floats, Floats]:
    return measured.readings, measured.scale.parameters, measured.scale.covariance


def _by_priors(rig: Rig, which: Which) -> tuple[RingReadings, Floats, Floats]:
    """Return an unread ring with its parameters and covariance from the priors.

    Parameters without a prior get a standard deviation so large that they count as unknown.
    """
    ring = RingReadings(which, "", (), {rig.lens_id: rig})
    problem = replace(ring, rows=(Row(-1, _hypothetical(rig, FAR_MM, 1.0), rig, 0.0),)).problem()
    slope = problem.slope_prior.centre if problem.slope_prior else _usual_slope(ring)
    constants = prior_centres(problem.law)
    parameters = np.array([0.0, slope, *constants])
    sigmas = np.array([_UNKNOWN_ARC_MM, _UNKNOWN_SLOPE_SHARE * slope, *constants])
    _, known, chosen = problem.priors(parameters)
    sigmas[chosen] = known
    return ring, parameters, np.diag(np.square(sigmas))


def _usual_slope(ring: RingReadings) -> float:
    """Return the slope of a usual ring: arc per travel, or for a cam or internal lens, the turn."""
    rig, length = next(iter(ring.rigs.values())), ring.ring.ruler_length_mm
    by_travel = ring.which == "attachment" or rig.lens.focusing == "extends"
    return length / _USUAL_LEAD_MM if by_travel else _USUAL_TURN * length


@dataclass(frozen=True, slots=True)
class Advice:
    """One measurement: which ring, distance and repeats, and the error of the worst mark.

    `before` and `after` it, this is the pair's 95 % error in tolerances at the working stop.
    """

    which: Which
    distance_mm: float
    repeats: int
    before: float
    after: float


def next_measurement(kit: Kit, rig: Rig, pair: Pair, together: Shared, stop: float) -> Advice:
    """Return the measurement that lowers the error of a chart's worst mark most.

    It has the fewest repeats that bring most of the gain of four.
    """
    places = _unread_places(_places(kit, rig), rig, pair)
    tried = {
        (which, repeats): _worst_after(
            pair, together, rig, places, stop, which=which, repeats=repeats
        )
        for which in RINGS
        for repeats in _REPEATS
    }
    before = float(np.max(_worse(pair, _variances(pair), _common(pair, together), rig)))
    which = min(RINGS, key=lambda ring: float(np.min(tried[ring, _REPEATS[-1]])))
    enough = before - _ENOUGH * (before - float(np.min(tried[which, _REPEATS[-1]])))
    repeats = next(n for n in _REPEATS if float(np.min(tried[which, n])) <= enough)
    best = int(np.argmin(tried[which, repeats]))
    return Advice(which, float(places[best]), repeats, before, float(tried[which, repeats][best]))


def _unread_places(places: Floats, rig: Rig, pair: Pair) -> Floats:
    """Return the distances not yet read: a new reading at an old one has the same tape error."""
    rows = [row for prospect in pair.values() for row in prospect.ring.rows]
    taken = [row.reading.distance for row in rows if row.rig.rig_id == rig.rig_id]
    return places[~np.isin(np.round(places, 3), np.round(taken, 3))]


def _worst_after(
    pair: Pair, together: Shared, rig: Rig, places: Floats, stop: float, *, which: Which,
    repeats: int,
) -> Floats:  # fmt: skip
    """Return the worst mark's error after reading a ring at one place, for each place (m)."""
    this, other = pair[which], pair[RINGS[1 - RINGS.index(which)]]
    shared = together.covariance if which == "taking" else together.covariance.T
    options = this.options(rig, places, stop)
    variance = mark_variances(this.covariance, this.mark_gradients, options, repeats=repeats)
    common = together.sign * mark_covariances(
        this.covariance, shared, this.mark_gradients, other.mark_gradients, options, repeats=repeats
    )
    common += pair["taking"].scale_mm * pair["attachment"].scale_mm
    squares = {**_variances(pair), which: this.in_criteria(variance)}
    return np.asarray(np.max(_worse(pair, squares, common, rig), axis=1))


def _variances(pair: Pair) -> dict[Which, Floats]:
    return {which: prospect.criteria for which, prospect in pair.items()}


def _common(pair: Pair, together: Shared) -> Floats:
    fitted = together.of_marks(pair["taking"].mark_gradients, pair["attachment"].mark_gradients)
    return np.asarray(fitted + pair["taking"].scale_mm * pair["attachment"].scale_mm)


def _worse(pair: Pair, squares: Mapping[Which, Floats], common: Floats, rig: Rig) -> Floats:
    """Return the pair's 95 % error; `squares` are both rings' variances in squared tolerances."""
    tolerances = pair["taking"].tolerance_mm * pair["attachment"].tolerance_mm
    return worse_95(
        squares["taking"], squares["attachment"], common / tolerances,
        squeeze=rig.attachment.squeeze,
    )  # fmt: skip


def bench_distances(kit: Kit, rig: Rig, stop: float, *, count: int = SETUPS) -> Floats:
    """Return the distances to set up for a rig without readings, nearest first.

    They are the nearest that both rings reach, a far target, and those that lower the worst mark's
    error most, no two within a tenth: the best of all threes between these two, then one more at a
    time, then each exchanged for a better one if there is one.
    """
    places, laws = _places(kit, rig), (taking_law(rig.lens), attachment_law(rig.attachment))
    choice = _Choice(tuple(prospects(rig, stop).values()), rig, places, stop)
    needed = max(count, *(law.least_distances for law in laws))
    inner = list(combinations(range(1, len(places) - 1), min(needed - 2, _BEST_OF_ALL)))
    chosen = choice.best([(0, *between, len(places) - 1) for between in inner])
    while len(chosen) < needed:
        chosen = choice.best(choice.with_one_more(chosen))
    for _ in range(_EXCHANGES if len(chosen) > _BEST_OF_ALL + 2 else 0):
        before = chosen
        for index in before[1:-1]:
            chosen = choice.best(choice.with_one_more([i for i in chosen if i != index]))
        if chosen == before:
            break
    return np.asarray(places[chosen])


class _Choice:
    """The choice of some of m places to read at; a set of them is their indices, ascending."""

    def __init__(self, pair: Sequence[Prospect], rig: Rig, places: Floats, stop: float) -> None:
        self._pair = pair
        ratios = np.abs(np.log(places[:, np.newaxis] / places))
        self._apart = ratios > np.log(_APART) - 1e-9
        options = [prospect.options(rig, places, stop) for prospect in pair]
        self._known = [
            np.einsum("mp,mq->mpq", each.gradient / each.variance()[:, np.newaxis], each.gradient)
            for each in options
        ]

    def with_one_more(self, chosen: Sequence[int]) -> list[tuple[int, ...]]:
        """Return all sets of a set and one more place."""
        others = [i for i in range(len(self._apart)) if i not in chosen]
        return [tuple(sorted((*chosen, other))) for other in others]

    def best(self, sets: Sequence[Sequence[int]]) -> list[int]:
        """Return the set that leaves the worst mark surest; sets with close places come last."""
        members = np.array(sets)
        worst = np.max(sum(self._criteria(members)), axis=1)
        close = np.zeros(len(members), int)
        for one, two in combinations(members.T, 2):
            close += ~self._apart[one, two]
        chosen: list[int] = members[np.lexsort((worst, close))[0]].tolist()
        return chosen

    def _criteria(self, members: np.ndarray) -> Iterator[Floats]:
        """Yield each ring's variances of n marks in squared tolerances, by set (sets × n)."""
        for prospect, known in zip(self._pair, self._known, strict=True):
            information = np.linalg.inv(prospect.covariance) + known[members].sum(axis=1)
            marks = prospect.mark_gradients
            spread = np.einsum("np,spq,nq->sn", marks, np.linalg.inv(information), marks)
            yield prospect.in_criteria(spread)


def _places(kit: Kit, rig: Rig) -> Floats:
    """Return the distances to choose from: round ones, from the nearest that both rings reach.

    The first is rounded up, though never beyond the rig's nearest mark; the last is a far target.
    """
    nearest, _ = nearest_mm(kit, kit.rigs[rig.rig_id])
    unit, rounded, step = _ROUND[kit.units]
    first = math.ceil(nearest / (step * unit) - 1e-9) * step * unit
    first = max(min(first, float(np.min(rig.distances_mm))), nearest)
    indoors = rounded * unit
    indoors = indoors[indoors > first * _APART]
    if len(indoors) < _FEWEST_PLACES:
        ladder = np.geomspace(first, FAR_MM, _FEWEST_PLACES + 2)[1:-1]
        indoors = np.array([float(f"{place / unit:.2g}") * unit for place in ladder])
    return np.concatenate(([first], indoors, [FAR_MM]))


def _rounded(*steps: tuple[float, float, float]) -> Floats:
    return np.round(np.concatenate([np.arange(*step) for step in steps]), 3)


_METRES = _rounded((0.3, 2.0, 0.1), (2.0, 4.0, 0.5), (4.0, 8.0, 1.0), (8.0, 11.0, 2.0))
_FEET = _rounded((1.0, 5.0, 0.25), (5.0, 12.0, 1.0), (12.0, 21.0, 2.0), (25.0, 31.0, 5.0))
_ROUND: Mapping[Units, tuple[float, Floats, float]] = {
    "metric": (1000.0, _METRES, 0.05), "both": (1000.0, _METRES, 0.05),
    "imperial": (MM_PER_FOOT, _FEET, 0.25),
}  # fmt: skip
"""The unit in mm, round distances in it, and the step to which the nearest is rounded up."""
