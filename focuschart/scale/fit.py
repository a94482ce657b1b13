"""The fitted scale of one ring, with the uncertainty of every mark."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from statistics import NormalDist

import numpy as np

from focuschart.errors import FitError
from focuschart.optics.arrays import Floats, Numbers
from focuschart.scale.laws import AttachmentConstants, AttachmentLaw, Law, Prior, prior_centres
from focuschart.scale.leastsq import Solution, solve
from focuschart.scale.problem import RingProblem, Squeezes, named_parameters, ring_model
from focuschart.scale.scatter import noise_factor

LEAD_SHARE = 0.02
"""One standard deviation of arc per travel, as a share, where the lead is given."""
_FALSE_ALARMS = 0.0037
"""The chance that one of n good readings is named as disagreeing: for n = 8 beyond 3.5 σ."""
ONE_IN_1000_SIGMA = 3.09
"""Exceeded by chance once in a thousand times, one-sided."""
ONE_IN_100_SIGMA = 2.326
"""Exceeded by chance once in a hundred times, one-sided."""
HALF_WIDTH_95 = 1.96
_LEAST_SHARE = 1e-3
"""The least variance left to a residual, as a share of its reading's."""
_IMPLAUSIBLE_SIGMA = 8.0
"""A constant this many prior widths from its centre is refused."""


@dataclass(frozen=True, slots=True)
class RingScale:
    """The fitted scale of a ring, its parameters in the order of `RingProblem`.

    `noise_factor` is the factor by which the noise variance of the readings is taken larger than
    assumed, `assumed_covariance` the covariance without it. `contradicted` says whether the
    readings disagree by more than chance, `disagreeing` has the index of the one furthest off, if
    it is to blame. `sum_of_squares` is χ².
    """

    problem: RingProblem
    parameters: Floats
    covariance: Floats
    assumed_covariance: Floats
    noise_factor: float
    converged: bool
    contradicted: bool
    disagreeing: tuple[int, ...]
    sum_of_squares: float

    @property
    def law(self) -> Law:
        """The law of the ring."""
        return self.problem.law

    @property
    def constants(self) -> Floats:
        """The law's own constants φ."""
        return named_parameters(self.law, self.parameters).constants

    @property
    def constants_covariance(self) -> Floats:
        """The covariance of the law's own constants (φ × φ)."""
        own = slice(2, 2 + len(self.law.priors))
        return self.covariance[own, own]

    @property
    def arc_per_travel(self) -> float:
        """g, signed mm of arc per mm of travel."""
        return named_parameters(self.law, self.parameters).arc_per_travel

    def standard_errors(self) -> Floats:
        """Return the standard error of each parameter."""
        return np.asarray(np.sqrt(np.diag(self.covariance)))

    def named(self) -> Mapping[str, tuple[float, float]]:
        """Return a∞, g and the law's constants by name, each with its standard error."""
        names = ("arc_infinity_mm", "arc_per_travel", *(prior.name for prior in self.law.priors))
        pairs = np.stack((self.parameters, self.standard_errors()), axis=-1)
        return {
            name: (float(value), float(error))
            for name, (value, error) in zip(names, pairs[: len(names)], strict=True)
        }

    def lens_shift_mm(self, pool: int) -> tuple[float, float]:
        """Return the shift of the scale from a∞ on one taking lens, and its standard error."""
        if not self.problem.readings.pool_columns.shape[1]:
            return 0.0, 0.0
        at = 2 + len(self.law.priors) + pool
        return float(self.parameters[at]), float(self.standard_errors()[at])

    def offset_mm(self, number: int) -> tuple[float, float]:
        """Return an offset of the problem, by its number, and its standard error."""
        at = 2 + len(self.law.priors) + self.problem.readings.pool_columns.shape[1] + number
        return float(self.parameters[at]), float(self.standard_errors()[at])

    def modelled(
        self, position_mm: Numbers, *, pool: int = 0, power_share: Numbers = 0.0
    ) -> tuple[Floats, Floats]:
        """Return the arc at subject positions y and its gradient (… × parameters).

        `power_share` is that of the law, for a height in the picture.
        """
        columns = self.problem.mark_columns(pool)
        columns = np.broadcast_to(columns, (*np.shape(position_mm), len(columns)))
        travel = self.law.travel(position_mm, self.constants, power_share=power_share)
        return ring_model(self.parameters, travel, columns)

    def sigma_along(self, gradient: Floats) -> Floats:
        """Return the standard error of a quantity from its gradient (… × parameters)."""
        return np.asarray(
            np.sqrt(np.einsum("...i,ij,...j->...", gradient, self.covariance, gradient))
        )


def fit_problem(problem: RingProblem) -> RingScale:
    """Return the scale of a ring, fitted to its readings.

    It is fitted by weighted least squares, again and again until weights and parameters no longer
    change. Raises FitError for fewer distances than the law needs (at least four with a free
    slope), for readings that leave a constant undetermined, and for a fit whose constants are more
    than eight prior widths from their centres.
    """
    _require_distances(problem)
    solution, steady = problem.solve()
    _require_plausible(problem, solution)
    factor = noise_factor(problem, solution.parameters)
    return RingScale(
        problem=problem,
        parameters=solution.parameters,
        covariance=_widened(problem, solution.parameters, solution.covariance, factor),
        assumed_covariance=solution.covariance,
        noise_factor=factor,
        converged=steady and solution.converged,
        contradicted=contradiction(problem, solution),
        disagreeing=_disagreeing(problem, solution),
        sum_of_squares=solution.sum_of_squares,
    )


def influence(problem: RingProblem, parameters: Floats, covariance: Floats) -> Floats:
    """Return the derivatives of the parameters by the readings' arcs, A = C·Jᵀ·Σ⁻¹ (p × n)."""
    noise = problem.noise_parts(parameters).total
    return np.asarray(np.linalg.solve(noise, problem.model(parameters)[1] @ covariance).T)


def known_unread(law: AttachmentLaw, squeezes: Squeezes | None) -> tuple[Floats, Floats]:
    """Return A, δ and S of an attachment whose ring is unread, and their covariance (3 × 3).

    They are the priors, narrowed by the squeezes that were measured.
    """
    centres, sigmas = prior_centres(law), np.array([prior.sigma for prior in law.priors])
    if squeezes is None:
        return centres, np.diag(np.square(sigmas))

    def residual(at: Floats) -> Floats:
        return np.concatenate((squeezes.misfit(law, at)[0], (centres - at) / sigmas))

    def jacobian(at: Floats) -> Floats:
        return np.concatenate((squeezes.misfit(law, at)[1], -np.diag(1.0 / sigmas)))

    solution = solve(residual, jacobian, centres)
    return solution.parameters, solution.covariance


def read_to(scale: RingScale, sigma_mm: float) -> RingScale:
    """Return a scale as it would be known if each figure had been read to `sigma_mm` or better.

    The constants stay as they are; focusing, tape and priors count as before.
    """
    now = np.sqrt(scale.problem.noise_parts(scale.parameters).ruler)
    readings = replace(scale.problem.readings, arc_sigma_mm=np.minimum(now, sigma_mm))
    problem = replace(scale.problem, readings=readings)
    assumed = problem.covariance(scale.parameters)
    whole = _widened(problem, scale.parameters, assumed, scale.noise_factor)
    return replace(scale, problem=problem, covariance=whole, assumed_covariance=assumed)


def _widened(problem: RingProblem, parameters: Floats, covariance: Floats, times: float) -> Floats:
    """Return the covariance with `times` the noise variance of readings; priors are unchanged."""
    if times == 1.0:
        return covariance
    weights = influence(problem, parameters, covariance)
    noise = problem.noise_parts(parameters).total
    return np.asarray(covariance + (times - 1.0) * weights @ noise @ weights.T)


def slope_prior(arc_per_travel: float | None) -> Prior | None:
    """Return the prior of g from circumference and lead, None where these are not given."""
    if arc_per_travel is None:
        return None
    return Prior("arc_per_travel", arc_per_travel, LEAD_SHARE * abs(arc_per_travel))


def _require_distances(problem: RingProblem) -> None:
    needed = max(problem.law.least_distances, 3 if problem.slope_prior else 4)
    distances = len(np.unique(problem.readings.distance_mm))
    if distances < needed:
        raise FitError(f"{distances} different distances read, the fit needs {needed}: read more")


def _require_plausible(problem: RingProblem, solution: Solution) -> None:
    """Raise FitError for constants that no real lens or attachment has."""
    centres, sigmas, chosen = problem.priors(solution.parameters)
    off = np.abs(solution.parameters[chosen] - centres) / sigmas
    if np.max(off) > _IMPLAUSIBLE_SIGMA:
        raise FitError(
            "the readings fit no ring of this kind, a ruler figure or a distance is grossly "
            "wrong: check each, and the sizes and lead given for the ring"
        )


def chi_square_point(freedom: int, *, sigmas: float) -> float:
    """Return the χ² that chance exceeds as rarely as a normal deviate exceeds `sigmas`.

    Wilson and Hilferty, The distribution of chi-square, PNAS 17 (1931).
    """
    if freedom < 1:
        return np.inf
    spread = 2.0 / (9.0 * freedom)
    return float(freedom * (1.0 - spread + sigmas * spread**0.5) ** 3)


def contradiction(problem: RingProblem, solution: Solution) -> bool:
    """Return whether readings disagree: one is too far off, or χ² of all is too large."""
    limit = chi_square_point(problem.freedom, sigmas=ONE_IN_1000_SIGMA)
    return solution.sum_of_squares > limit or bool(_disagreeing(problem, solution))


def _disagreeing(problem: RingProblem, solution: Solution) -> tuple[int, ...]:
    """Return the index of the reading with the largest studentised residual, if not by chance.

    Only one is named: a wrong reading also gives its neighbours large residuals.
    """
    arcs, gradient = problem.model(solution.parameters)
    fitted = np.einsum("ni,ij,nj->n", gradient, solution.covariance, gradient)
    variance = problem.noise_parts(solution.parameters).variance
    spread = np.sqrt(np.maximum(variance - fitted, _LEAST_SHARE * variance))
    off = np.abs(problem.readings.arc_mm - arcs) / spread
    worst = int(np.argmax(off))
    return (worst,) if off[worst] > disagrees_sigma(len(off)) else ()


def disagrees_sigma(readings: int) -> float:
    """Return how many standard deviations one of n readings may be off by chance (Bonferroni)."""
    return NormalDist().inv_cdf(1.0 - _FALSE_ALARMS / (2.0 * readings))


def arc_constant(scale: RingScale) -> tuple[float, float]:
    """Return K = g·A²·(S² − 1) of an attachment, mm², with its standard error.

    K is well determined even where a free slope leaves g and A undetermined.
    """
    slope, named = scale.arc_per_travel, AttachmentConstants(*scale.constants)
    front, squeeze = named.front_focal_mm, named.squeeze
    power = squeeze * squeeze - 1.0
    by_constant = AttachmentConstants(
        front_focal_mm=2.0 * slope * front * power,
        offset_mm=0.0,
        squeeze=2.0 * slope * front**2 * squeeze,
    )
    by_shift = np.zeros(len(named_parameters(scale.law, scale.parameters).shifts))
    gradient = np.array((0.0, front**2 * power, *by_constant, *by_shift))
    return float(slope * front**2 * power), float(scale.sigma_along(gradient))
