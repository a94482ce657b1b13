"""What to read: the distances of a bench session, and the next measurement that helps most."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

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
from focuschart.scale.choice import Options, mark_covariances, mark_variances, updated
from focuschart.scale.laws import Law, prior_centres
from focuschart.scale.problem import named_parameters
from focuschart.units import MM_PER_FOOT, MM_PER_INCH, Units

FAR_MM, FAR_SIGMA_MM = 60_000.0, 3_000.0
"""A typical far target outdoors, its distance paced to 5 %."""
SETUPS = 5
"""The usual number of distances in a bench session."""
_USUAL_LEAD_MM = 30.0
_USUAL_TURN = 0.4
"""The lead of a ring, or its share of a turn, where unknown: judgement, to choose distances."""
_UNKNOWN_ARC_MM = 1000.0
_UNKNOWN_SLOPE_SHARE = 10.0
"""Standard deviations that stand for no knowledge: of the zero arc, and of the slope in slopes."""
_REPEATS = (1, 2, 4)
_APART = 1.05
"""The least ratio of two distances to read: nearer ones are better read as repeats."""
_FEWEST_PLACES = 12
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
    error most: added one by one, then each exchanged for a better one if there is one.
    """
    pair, places = prospects(rig, stop), _places(kit, rig)
    laws = (taking_law(rig.lens), attachment_law(rig.attachment))
    needed = max(law.least_distances for law in laws)
    last = len(places) - 1
    chosen = [0, last]
    while len(chosen) < max(count, needed):
        chosen.append(_best_addition(pair, rig, places, stop, chosen))
    for _ in range(3):
        before = sorted(chosen)
        for index in [i for i in before if i not in (0, last)]:
            rest = list(chosen)
            rest.remove(index)
            chosen = [*rest, _best_addition(pair, rig, places, stop, rest)]
        if sorted(chosen) == before:
            break
    return np.asarray(places[sorted(chosen)])


def _best_addition(pair: Pair, rig: Rig, places: Floats, stop: float, chosen: Sequence[int]) -> int:
    """Return the index of the place that helps most, after one reading at each chosen place."""
    after = {which: _after_reading(prospect, rig, places[list(chosen)], stop)
             for which, prospect in pair.items()}  # fmt: skip
    squares = [
        prospect.in_criteria(
            mark_variances(
                prospect.covariance, prospect.mark_gradients, prospect.options(rig, places, stop)
            )
        )
        for prospect in after.values()
    ]
    worst = np.max(np.add(*squares), axis=1)
    apart = np.abs(np.log(places[:, np.newaxis] / places[list(chosen)]))
    worst[np.min(apart, axis=1) < np.log(_APART) - 1e-9] = np.inf
    return int(np.argmin(worst))


def _after_reading(prospect: Prospect, rig: Rig, distances_mm: Floats, stop: float) -> Prospect:
    """Return a prospect with the covariance that one reading at each distance would leave."""
    options, covariance = prospect.options(rig, distances_mm, stop), prospect.covariance
    for index in range(len(distances_mm)):
        covariance = updated(covariance, options.at(index))
    return replace(prospect, covariance=covariance)


def _places(kit: Kit, rig: Rig) -> Floats:
    """Return the distances to choose from: round ones, from the nearest that both rings reach.

    The last is a far target.
    """
    nearest, _ = nearest_mm(kit, kit.rigs[rig.rig_id])
    unit, steps = _STEPS[kit.units]
    rounded = np.concatenate([np.arange(*step) for step in steps]) * unit
    step = _FINEST[kit.units]
    first = np.ceil(nearest / step - 1e-9) * step
    indoors = rounded[rounded > first * _APART]
    if len(indoors) < _FEWEST_PLACES:
        indoors = first + (FAR_MM - first) * np.linspace(0.0, 0.5, _FEWEST_PLACES + 1)[1:]
    return np.concatenate(([first], indoors, [FAR_MM]))


_METRES = ((0.3, 1.2, 0.05), (1.2, 2.0, 0.1), (2.0, 4.0, 0.25), (4.0, 6.0, 0.5), (6.0, 10.5, 1.0))
_FEET = ((1.0, 4.0, 0.25), (4.0, 6.0, 0.5), (6.0, 12.0, 1.0), (12.0, 34.0, 2.0))
_STEPS: Mapping[Units, tuple[float, tuple[tuple[float, float, float], ...]]] = {
    "metric": (1000.0, _METRES), "both": (1000.0, _METRES), "imperial": (MM_PER_FOOT, _FEET),
}  # fmt: skip
_FINEST: Mapping[Units, float] = {"metric": 10.0, "both": 10.0, "imperial": MM_PER_INCH}
