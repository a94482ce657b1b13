"""The least-squares problem of one ring: its readings, their noise, and the priors."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from focuschart.errors import OpticsError
from focuschart.optics.arrays import Floats, Numbers
from focuschart.scale.laws import AttachmentLaw, Law, Prior, Travel, prior_centres
from focuschart.scale.leastsq import MOST_STEPS, PRECISION, Solution, covariance, solve
from focuschart.scale.noise import Noise

SLIP_SIGMA_MM = 30.0
"""One standard deviation of a ruler's slip; judgement, no source."""
_FAR_OFF = 1e6
_STEADY = 1e-3
"""Refits end when no parameter moves by more than this share of its standard error."""
_MAX_REFITS = 40


@dataclass(frozen=True, slots=True)
class Readings:
    """n readings of one ring; `position_mm` is y of the law and `position_slope` its dy/dD.

    Readings with the same `setup` number have the same taped distance, and its error. `pool` is the
    index of the taking lens that an attachment was read on, of `pools`; 0 for a taking lens.
    `power_share` is that of the law (n), for the height at which each target stood in the picture,
    `arc_sigma_mm` one standard deviation of each figure (n), None where all were read by eye.
    """

    arc_mm: Floats
    distance_mm: Floats
    position_mm: Floats
    position_slope: Floats
    distance_sigma_mm: Floats
    setup: tuple[int, ...]
    pool: tuple[int, ...]
    pools: int = 1
    power_share: Numbers = 0.0
    arc_sigma_mm: Floats | None = None

    @property
    def pool_columns(self) -> Floats:
        """1 in the column of each reading's lens (n × pools); no column for a single lens."""
        columns = np.eye(self.pools)[list(self.pool)]
        return columns if self.pools > 1 else columns[:, :0]


@dataclass(frozen=True, slots=True)
class Squeezes:
    """k squeezes measured, at positions y of an attachment's law, mm; `sigma` is one σ of each."""

    position_mm: Floats
    value: Floats
    sigma: Floats

    def misfit(self, law: Law, constants: Floats) -> tuple[Floats, Floats]:
        """Return by how many σ each is off the law (k), and the gradient of that by φ (k × φ)."""
        assert isinstance(law, AttachmentLaw)
        squeeze, gradient = law.squeeze_at(self.position_mm, constants)
        return (self.value - squeeze) / self.sigma, -gradient / self.sigma[:, np.newaxis]


@dataclass(frozen=True, slots=True)
class Offsets:
    """What shifts figures beside law and lens, a parameter each (k): tapings, and the ring's play.

    `columns` has what share of each a reading takes (n × k), `marks` what share a mark does (k);
    `centres` and `sigmas` are their priors, mm.
    """

    columns: Floats
    marks: Floats
    centres: Floats
    sigmas: Floats


@dataclass(frozen=True, slots=True)
class NoiseParts:
    """Variances (n, mm²) of the arcs read, by source of error.

    Readings with the same `setup` number share the tape's error.
    """

    ruler: Floats
    focusing: Floats
    tape: Floats
    setup: tuple[int, ...]

    @property
    def own(self) -> Floats:
        """The variance that each reading does not share (n): ruler and eye."""
        return self.ruler + self.focusing

    @property
    def variance(self) -> Floats:
        """The variance of each reading (n)."""
        return self.own + self.tape

    @property
    def tape_covariance(self) -> Floats:
        """The covariance of arcs by the tape's errors (n × n)."""
        sigma, setup = np.sqrt(self.tape), np.asarray(self.setup)
        return np.asarray(np.outer(sigma, sigma) * (setup[:, np.newaxis] == setup))

    @property
    def total(self) -> Floats:
        """The covariance of the arcs read (n × n)."""
        return np.asarray(np.diag(self.own) + self.tape_covariance)

    def whitening(self) -> Callable[[Floats], Floats]:
        """Return a function that multiplies values (n or n × k) by Σ^(−1/2), Σ the covariance.

        Its cost is proportional to n: for each set-up Σ is a diagonal plus t·tᵀ, which scaled by
        the diagonal has one eigenvalue 1 + s², the others 1. All that does not depend on the values
        is computed once, since a fit calls the function at every step.
        """
        _, setup = np.unique(self.setup, return_inverse=True)
        order = np.argsort(setup, kind="stable")
        first = np.flatnonzero(np.diff(setup[order], prepend=-1))
        own = np.sqrt(self.own)[:, np.newaxis]
        along = np.sqrt(self.tape / self.own)
        square = np.bincount(setup, weights=np.square(along))
        less = (1.0 - 1.0 / np.sqrt(1.0 + square)) / np.maximum(square, np.finfo(float).tiny)
        along, less = along[:, np.newaxis], less[:, np.newaxis]

        def whitened(values: Floats) -> Floats:
            rows = values.reshape(len(values), -1) / own
            summed = np.add.reduceat((along * rows)[order], first, axis=0)
            rows -= along * (less * summed)[setup]
            return np.asarray(rows.reshape(values.shape))

        return whitened


class RingParameters(NamedTuple):
    """The parameters of a ring by name, in order: a∞, g, φ and the shifts of `RingProblem`."""

    infinity_mm: float
    arc_per_travel: float
    constants: Floats
    shifts: Floats


def named_parameters(law: Law, parameters: Floats) -> RingParameters:
    """Return the parameters of a ring of this law by name."""
    infinity, slope = parameters[:2].tolist()
    end = 2 + len(law.priors)
    return RingParameters(infinity, slope, parameters[2:end], parameters[end:])


@dataclass(frozen=True, slots=True)
class RingProblem:
    """One ring's readings with law, noise and priors.

    The parameters are a∞, g, the law's constants φ, a shift for each taking lens if an attachment
    was read on several, and the slip of the ruler if `slip` (n) is given, 1 for readings after it.
    `slope_prior` is None for a free g. Measured squeezes tell of an attachment's φ alone.
    """

    law: Law
    readings: Readings
    noise: Noise
    slope_prior: Prior | None
    slip: Floats | None = None
    offsets: Offsets | None = None
    squeezes: Squeezes | None = None

    @property
    def shift_columns(self) -> Floats:
        """The derivatives of the arcs by the shifts of lenses and the slip (n × shifts)."""
        parts = [self.readings.pool_columns]
        parts += [] if self.offsets is None else [self.offsets.columns]
        parts += [] if self.slip is None else [self.slip[:, np.newaxis]]
        return parts[0] if len(parts) == 1 else np.concatenate(parts, axis=1)

    def on_ruler(self, parameters: Floats) -> Floats:
        """Return the arcs read (n) less tapings and play, as the ruler's first taping has them."""
        if self.offsets is None:
            return self.readings.arc_mm
        first = 2 + len(self.law.priors) + self.readings.pool_columns.shape[1]
        own = parameters[first : first + len(self.offsets.sigmas)]
        return np.asarray(self.readings.arc_mm - self.offsets.columns @ own)

    def mark_columns(self, pool: int) -> Floats:
        """Return what shifts a mark on the taking lens numbered `pool` (shifts)."""
        pools = np.zeros(self.readings.pool_columns.shape[1])
        pools[pool : pool + 1] = 1.0
        offsets = np.empty(0) if self.offsets is None else self.offsets.marks
        return np.concatenate((pools, offsets, np.zeros(0 if self.slip is None else 1)))

    def model(self, parameters: Floats) -> tuple[Floats, Floats]:
        """Return the arcs (n) at the readings and their gradient (n × parameters)."""
        constants = named_parameters(self.law, parameters).constants
        return ring_model(parameters, self.travel(constants), self.shift_columns)

    def travel(self, constants: Floats) -> Travel:
        """Return the law's travel at the readings, each at its height in the picture."""
        readings = self.readings
        return self.law.travel(readings.position_mm, constants, power_share=readings.power_share)

    @property
    def freedom(self) -> int:
        """The degrees of freedom: readings less the parameters without a prior."""
        measured = 0 if self.squeezes is None else len(self.squeezes.value)
        return len(self.readings.arc_mm) + measured - (1 if self.slope_prior else 2)

    def start(self) -> Floats:
        """Return start values: a∞ and g by linear least squares, φ at the prior centres."""
        constants = prior_centres(self.law)
        travel = self.travel(constants).value
        rows = np.stack((np.ones_like(travel), travel), axis=-1)
        arcs = self.readings.arc_mm
        if self.slope_prior:
            weight = self.noise.errors.ruler_mm / self.slope_prior.sigma
            rows = np.vstack((rows, (0.0, weight)))
            arcs = np.append(arcs, weight * self.slope_prior.centre)
        linear = np.linalg.lstsq(rows, arcs, rcond=None)[0]
        shifts = np.zeros(self.shift_columns.shape[1])
        return np.concatenate((linear, constants, shifts))

    def refit(
        self, parameters: Floats, *, most_steps: int = MOST_STEPS, precision: float = PRECISION
    ) -> Solution:
        """Return the solution with weights and prior widths fixed at those for `parameters`."""
        whitened = self.noise_parts(parameters).whitening()
        centres, sigmas, chosen = self.priors(parameters)
        arcs, columns = self.readings.arc_mm, self.shift_columns
        end = 2 + len(self.law.priors)
        of_priors = -np.eye(len(parameters))[chosen] / sigmas[:, np.newaxis]
        squeezes, _ = self._squeezed(parameters)

        @lru_cache(maxsize=1)  # the solver asks for value and derivatives one after the other
        def linear(at: bytes) -> Floats:
            own = np.frombuffer(at)
            modelled, gradient = ring_model(own, self.travel(own[2:end]), columns)
            return whitened(np.column_stack((arcs - modelled, -gradient)))

        def residual(at: Floats) -> Floats:
            try:
                misfit = linear(at.tobytes())[:, 0]
                squeezed, _ = self._squeezed(at)
            except OpticsError:  # a step too far, which the solver then takes back
                return np.full(len(arcs) + len(squeezes) + len(sigmas), _FAR_OFF)
            return np.concatenate((misfit, squeezed, (centres - at[chosen]) / sigmas))

        def jacobian(at: Floats) -> Floats:
            return np.concatenate((linear(at.tobytes())[:, 1:], self._squeezed(at)[1], of_priors))

        return solve(residual, jacobian, parameters, most_steps=most_steps, precision=precision)

    def solve(
        self, *, most_refits: int = _MAX_REFITS, most_steps: int = MOST_STEPS,
        precision: float = PRECISION, hopeless: float = np.inf,
    ) -> tuple[Solution, bool]:  # fmt: skip
        """Refit until weights and parameters are steady; return the solution and whether they are.

        A first fit with χ² above `hopeless` is returned at once. Raises FitError where the readings
        leave a constant undetermined.
        """
        parameters = self.start()
        solution = self.refit(parameters, most_steps=most_steps, precision=precision)
        if solution.sum_of_squares > hopeless:
            return solution, False
        for _ in range(most_refits):
            parameters = solution.parameters
            solution = self.refit(parameters, most_steps=most_steps, precision=precision)
            step = np.abs(solution.parameters - parameters) / np.sqrt(np.diag(solution.covariance))
            if np.max(step) < _STEADY:
                return solution, True
        return solution, False

    def covariance(self, parameters: Floats) -> Floats:
        """Return the covariance (p × p) of parameters that were found, before they are found.

        It hangs on the readings' places, noise and priors, not on their figures. Raises FitError
        where they leave a constant undetermined.
        """
        _, sigmas, chosen = self.priors(parameters)
        whitened = self.noise_parts(parameters).whitening()
        of_priors = np.eye(len(parameters))[chosen] / sigmas[:, np.newaxis]
        read, squeezed = whitened(self.model(parameters)[1]), self._squeezed(parameters)[1]
        return covariance(np.concatenate((read, squeezed, of_priors)))

    def _squeezed(self, parameters: Floats) -> tuple[Floats, Floats]:
        """Return by how many σ measured squeezes are off (k), and its gradient (k × parameters)."""
        if self.squeezes is None:
            return np.empty(0), np.empty((0, len(parameters)))
        own = slice(2, 2 + len(self.law.priors))
        misfit, by_constant = self.squeezes.misfit(self.law, parameters[own])
        gradient = np.zeros((len(misfit), len(parameters)))
        gradient[:, own] = by_constant
        return misfit, gradient

    def priors(self, parameters: Floats) -> tuple[Floats, Floats, list[int]]:
        """Return centres and widths of the priors, and the indices of their parameters."""
        first = 2 + len(self.law.priors)
        pools, shifts = self.readings.pool_columns.shape[1], self.shift_columns.shape[1]
        known = ([self.slope_prior] if self.slope_prior else []) + list(self.law.priors)
        chosen = list(range(first - len(known), first + shifts))
        named = named_parameters(self.law, parameters)
        pool_sigma = (
            abs(named.arc_per_travel) * self.noise.pool_travel(named.constants) if pools else ()
        )
        offsets = self.offsets
        slips = shifts - pools - (0 if offsets is None else len(offsets.sigmas))
        centres = np.array([
            *(prior.centre for prior in known), *([0.0] * pools),
            *(() if offsets is None else offsets.centres), *([0.0] * slips),
        ])  # fmt: skip
        sigmas = [
            *(prior.sigma for prior in known), *pool_sigma,
            *(() if offsets is None else offsets.sigmas), *([SLIP_SIGMA_MM] * slips),
        ]  # fmt: skip
        return centres, np.array(sigmas), chosen

    def noise_parts(self, parameters: Floats) -> NoiseParts:
        """Return the variances of the arcs read, by source: ruler, focusing and shared tape."""
        named = named_parameters(self.law, parameters)
        constants = self._plausible(named.constants)
        slope, readings = named.arc_per_travel, self.readings
        focusing = slope * self.noise.focusing_travel(constants)
        travel = self.travel(constants)
        tape = slope * travel.by_position * readings.position_slope * readings.distance_sigma_mm
        return NoiseParts(
            ruler=np.square(self._ruler_sigma_mm(len(focusing))),
            focusing=np.square(focusing),
            tape=np.square(tape),
            setup=readings.setup,
        )

    def _ruler_sigma_mm(self, count: int) -> Floats:
        """Return one standard deviation of each figure (n), nan in the readings being the eye's."""
        usual = np.full(count, self.noise.errors.ruler_mm)
        own = self.readings.arc_sigma_mm
        return usual if own is None else np.where(np.isnan(own), usual, own)

    def _plausible(self, constants: Floats) -> Floats:
        """Return constants within three prior widths, lest a wild reading set its own weight."""
        centres = prior_centres(self.law)
        widths = 3.0 * np.array([prior.sigma for prior in self.law.priors])
        return np.clip(constants, centres - widths, centres + widths)


def ring_model(parameters: Floats, travel: Travel, shift_columns: Floats) -> tuple[Floats, Floats]:
    """Return arcs at n travels of a law and their gradient by every parameter."""
    end = len(parameters) - shift_columns.shape[-1]
    infinity, slope = parameters[:2].tolist()
    gradient = np.empty((*travel.value.shape, len(parameters)))
    gradient[..., 0] = 1.0
    gradient[..., 1] = travel.value
    np.multiply(slope, travel.by_constant, out=gradient[..., 2:end])
    gradient[..., end:] = shift_columns
    return infinity + slope * travel.value + shift_columns @ parameters[end:], gradient


def repeats(setup: Sequence[int]) -> Iterator[list[int]]:
    """Yield the indices of the readings of every set-up that was read more than once."""
    for place in sorted(set(setup)):
        members = [index for index, other in enumerate(setup) if other == place]
        if len(members) > 1:
            yield members
