"""One ring's scale: its law fitted to its readings, with the uncertainty of every mark."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from focuschart.errors import FitError, OpticsError
from focuschart.optics.arrays import Floats, Numbers
from focuschart.scale.laws import Law, Prior
from focuschart.scale.leastsq import Solution, solve
from focuschart.scale.noise import RULER_SIGMA_MM, Noise

LEAD_SHARE = 0.02
DISAGREES_SIGMA = 3.5
HALF_WIDTH_95 = 1.96
_STEADY = 1e-3
_MAX_REFITS = 40
_FAR_OFF = 1e6
_LEAST_FREEDOM = 1e-3
_ABSURD_SIGMA = 8.0


@dataclass(frozen=True, slots=True)
class Readings:
    """n readings of one ring; `position_mm` is y of the law and `position_slope` its dy/dD.

    Readings with one `setup` number share one taped distance and so its error; `pool` is the
    index of the taking lens an attachment was read on (0 throughout for a taking lens).
    """

    arc_mm: Floats
    distance_mm: Floats
    position_mm: Floats
    position_slope: Floats
    distance_sigma_mm: Floats
    setup: tuple[int, ...]
    pool: tuple[int, ...]
    pools: int = 1

    @property
    def pool_columns(self) -> Floats:
        """Indicator of each reading's lens (n × pools); no column where all share one lens."""
        columns = np.eye(self.pools)[list(self.pool)]
        return columns if self.pools > 1 else columns[:, :0]

    @property
    def same_setup(self) -> Floats:
        """Matrix (n × n) of ones where two readings share a taped distance."""
        setup = np.asarray(self.setup)
        return np.asarray(setup[:, np.newaxis] == setup, float)


@dataclass(frozen=True, slots=True)
class RingScale:
    """A fitted ring. Parameters: a∞, g, the law's constants, then one shift for each lens."""

    law: Law
    parameters: Floats
    covariance: Floats
    converged: bool
    disagreeing: tuple[int, ...]
    sum_of_squares: float
    freedom: int

    @property
    def constants(self) -> Floats:
        """The law's own constants φ."""
        return self.parameters[2 : 2 + len(self.law.priors)]

    @property
    def arc_per_travel(self) -> float:
        """g, signed mm of arc per mm of travel."""
        return float(self.parameters[1])

    def standard_errors(self) -> Floats:
        """Return one standard error a parameter."""
        return np.asarray(np.sqrt(np.diag(self.covariance)))

    def named(self) -> Mapping[str, tuple[float, float]]:
        """Return a∞, g and the law's constants by name, each with its standard error."""
        names = ("arc_infinity_mm", "arc_per_travel", *(prior.name for prior in self.law.priors))
        pairs = np.stack((self.parameters, self.standard_errors()), axis=-1)
        return {
            name: (float(value), float(error))
            for name, (value, error) in zip(names, pairs[: len(names)], strict=True)
        }

    def arc_mm(self, position_mm: Numbers, *, pool: int = 0) -> Floats:
        """Return the arc at subject positions y, for the taking lens numbered `pool`."""
        value, _ = _model(self.law, self.parameters, np.asarray(position_mm, float),
                          self._pool_columns(np.shape(position_mm), pool))  # fmt: skip
        return value

    def arc_sigma_mm(self, position_mm: Numbers, *, pool: int = 0) -> Floats:
        """Return one standard error of the arc at subject positions y."""
        _, gradient = _model(self.law, self.parameters, np.asarray(position_mm, float),
                             self._pool_columns(np.shape(position_mm), pool))  # fmt: skip
        return self.sigma_along(gradient)

    def sigma_along(self, gradient: Floats) -> Floats:
        """Return the standard error of a quantity from its gradient (… × parameters)."""
        return np.asarray(
            np.sqrt(np.einsum("...i,ij,...j->...", gradient, self.covariance, gradient))
        )

    def _pool_columns(self, shape: tuple[int, ...], pool: int) -> Floats:
        count = len(self.parameters) - 2 - len(self.law.priors)
        return np.broadcast_to(np.eye(count)[pool] if count else np.empty(0), (*shape, count))


def _model(
    law: Law, parameters: Floats, position_mm: Floats, pool_columns: Floats
) -> tuple[Floats, Floats]:
    """Return arcs and their gradient by every parameter."""
    end = 2 + len(law.priors)
    infinity, slope, constants, shifts = (
        parameters[0], parameters[1], parameters[2:end], parameters[end:],
    )  # fmt: skip
    travel = law.travel(position_mm, constants)
    arc = infinity + slope * travel.value + pool_columns @ shifts
    gradient = np.concatenate(
        (
            np.ones_like(travel.value)[..., np.newaxis],
            travel.value[..., np.newaxis],
            slope * travel.by_constant,
            pool_columns,
        ),
        axis=-1,
    )
    return np.asarray(arc), gradient


def fit_ring(
    law: Law, readings: Readings, noise: Noise, *, arc_per_travel: float | None
) -> RingScale:
    """Fit a ring to its readings.

    `arc_per_travel` is the signed circumference/lead, ± 2 %, or None for a free slope. Weighted
    least squares, refitted until weights and parameters are steady. Raises FitError for fewer
    distances than the law needs, four with a free slope, where the readings leave a constant open,
    and where they ask for constants eight prior widths off.
    """
    _require_distances(law, readings, slope_known=arc_per_travel is not None)
    problem = _Problem(law, readings, noise, _slope_prior(arc_per_travel))
    parameters = problem.start()
    solution = problem.refit(parameters)
    for _ in range(_MAX_REFITS):
        parameters, solution = solution.parameters, problem.refit(solution.parameters)
        step = np.abs(solution.parameters - parameters) / np.sqrt(np.diag(solution.covariance))
        if np.max(step) < _STEADY:
            return problem.scale(solution, steady=True)
    return problem.scale(solution, steady=False)


def _slope_prior(arc_per_travel: float | None) -> Prior | None:
    if arc_per_travel is None:
        return None
    return Prior("arc_per_travel", arc_per_travel, LEAD_SHARE * abs(arc_per_travel))


def _require_distances(law: Law, readings: Readings, *, slope_known: bool) -> None:
    needed = max(law.least_distances, 3 if slope_known else 4)
    distances = len(np.unique(readings.distance_mm))
    if distances < needed:
        raise FitError(f"{distances} different distances read, the fit needs {needed}")


@dataclass(frozen=True, slots=True)
class _Problem:
    """The least-squares problem of one ring."""

    law: Law
    readings: Readings
    noise: Noise
    slope_prior: Prior | None

    def start(self) -> Floats:
        """Solve a∞ and g linearly with the constants at their prior centres."""
        constants = np.array([prior.centre for prior in self.law.priors])
        travel = self.law.travel(self.readings.position_mm, constants).value
        rows = np.stack((np.ones_like(travel), travel), axis=-1)
        arcs = self.readings.arc_mm
        if self.slope_prior:
            weight = RULER_SIGMA_MM / self.slope_prior.sigma
            rows = np.vstack((rows, (0.0, weight)))
            arcs = np.append(arcs, weight * self.slope_prior.centre)
        linear = np.linalg.lstsq(rows, arcs, rcond=None)[0]
        shifts = np.zeros(self.readings.pool_columns.shape[1])
        return np.concatenate((linear, constants, shifts))

    def refit(self, parameters: Floats) -> Solution:
        """Minimise with weights and prior widths frozen at `parameters`."""
        from scipy.linalg import solve_triangular

        root = np.linalg.cholesky(self.reading_covariance(parameters))
        centres, sigmas, chosen = self.priors(parameters)

        def whitened(values: Floats) -> Floats:
            return np.asarray(solve_triangular(root, values, lower=True))

        def residual(at: Floats) -> Floats:
            try:
                misfit = self.readings.arc_mm - self._model(at)[0]
            except OpticsError:  # a step too far, which the solver then takes back
                return np.full(len(root) + len(sigmas), _FAR_OFF)
            return np.concatenate((whitened(misfit), (centres - at[chosen]) / sigmas))

        def jacobian(at: Floats) -> Floats:
            rows = whitened(-self._model(at)[1])
            return np.vstack((rows, -np.eye(len(at))[chosen] / sigmas[:, np.newaxis]))

        return solve(residual, jacobian, parameters)

    def priors(self, parameters: Floats) -> tuple[Floats, Floats, list[int]]:
        """Return centres and widths of the priors, and the parameters they belong to."""
        first = 2 + len(self.law.priors)
        shifts = self.readings.pool_columns.shape[1]
        known = ([self.slope_prior] if self.slope_prior else []) + list(self.law.priors)
        chosen = list(range(first - len(known), first + shifts))
        pool_sigma = abs(parameters[1]) * self.noise.pool_travel(parameters[2:first])
        centres = np.array([prior.centre for prior in known] + [0.0] * shifts)
        sigmas = np.concatenate(([prior.sigma for prior in known], pool_sigma[:shifts]))
        return centres, sigmas, chosen

    def reading_covariance(self, parameters: Floats) -> Floats:
        """Return the covariance (n × n) of the arcs read: ruler, focusing and shared tape."""
        constants = self._plausible(parameters[2 : 2 + len(self.law.priors)])
        slope = parameters[1]
        focusing = slope * self.noise.focusing_travel(constants)
        travel = self.law.travel(self.readings.position_mm, constants)
        tape = (
            slope * travel.by_position
            * self.readings.position_slope * self.readings.distance_sigma_mm
        )  # fmt: skip
        own = np.diag(RULER_SIGMA_MM**2 + np.square(focusing))
        return np.asarray(own + np.outer(tape, tape) * self.readings.same_setup)

    def _plausible(self, constants: Floats) -> Floats:
        """Return the constants within three prior widths: a wild reading must not weigh itself."""
        centres = np.array([prior.centre for prior in self.law.priors])
        widths = 3.0 * np.array([prior.sigma for prior in self.law.priors])
        return np.clip(constants, centres - widths, centres + widths)

    def _require_plausible(self, solution: Solution) -> None:
        """Refuse constants that no lens or attachment has, rather than print marks from them."""
        centres, sigmas, chosen = self.priors(solution.parameters)
        off = np.abs(solution.parameters[chosen] - centres) / sigmas
        if np.max(off) > _ABSURD_SIGMA:
            raise FitError(
                "the readings fit no ring of this kind, a ruler figure or a distance is grossly "
                "wrong: check each, and the sizes and lead given for the ring"
            )

    def scale(self, solution: Solution, *, steady: bool) -> RingScale:
        """Wrap a solution with its diagnostics; raises FitError for an absurd one."""
        self._require_plausible(solution)
        return RingScale(
            law=self.law,
            parameters=solution.parameters,
            covariance=solution.covariance * self._tension(solution),
            converged=steady and solution.converged,
            disagreeing=self._disagreeing(solution),
            sum_of_squares=solution.sum_of_squares,
            freedom=self._freedom(),
        )

    def _tension(self, solution: Solution) -> float:
        """Return χ² per degree of freedom where chance hardly explains it (1 %), else 1.

        The 99 % point by Wilson and Hilferty, The distribution of chi-square, PNAS 17 (1931).
        """
        freedom = self._freedom()
        spread = 2.0 / (9.0 * freedom)
        limit = freedom * (1.0 - spread + 2.326 * spread**0.5) ** 3
        return solution.sum_of_squares / freedom if solution.sum_of_squares > limit else 1.0

    def _freedom(self) -> int:
        """Readings less the constants without a prior; a prior pays for its own."""
        return len(self.readings.arc_mm) - (1 if self.slope_prior else 2)

    def _disagreeing(self, solution: Solution) -> tuple[int, ...]:
        """Return the reading furthest off, by its studentised residual, if that is not chance.

        A slip drags its neighbours along, so that naming more would accuse the innocent.
        """
        arcs, gradient = self._model(solution.parameters)
        fitted = np.einsum("ni,ij,nj->n", gradient, solution.covariance, gradient)
        variance = np.diag(self.reading_covariance(solution.parameters))
        spread = np.sqrt(np.maximum(variance - fitted, _LEAST_FREEDOM * variance))
        off = np.abs(self.readings.arc_mm - arcs) / spread
        worst = int(np.argmax(off))
        return (worst,) if off[worst] > DISAGREES_SIGMA else ()

    def _model(self, parameters: Floats) -> tuple[Floats, Floats]:
        return _model(self.law, parameters, self.readings.position_mm, self.readings.pool_columns)


def arc_constant(scale: RingScale) -> tuple[float, float]:
    """Return K = g·A²·(S² − 1) of an attachment, mm², with its standard error.

    K is well known even where a free slope leaves g and A themselves open.
    """
    slope, front, squeeze = scale.parameters[[1, 2, 4]]
    power = squeeze * squeeze - 1.0
    gradient = np.zeros(len(scale.parameters))
    gradient[1] = front**2 * power
    gradient[2] = 2.0 * slope * front * power
    gradient[4] = 2.0 * slope * front**2 * squeeze
    return float(slope * front**2 * power), float(scale.sigma_along(gradient))
