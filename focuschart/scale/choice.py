"""The variance of marks after one more reading, to choose the reading that helps most.

A reading whose arc has gradient j by the parameters and variance s² turns a covariance C into
C − Cj(Cj)ᵀ/(s² + jᵀCj); the readings that lower the worst mark most are the ones to take
(G-optimality; Atkinson, Donev and Tobias, Optimum Experimental Designs, with SAS (2007), ch. 10
and 12).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from focuschart.optics.arrays import Floats, Numbers


@dataclass(frozen=True, slots=True)
class Options:
    """m possible readings: the gradient of the arc (m × p), and its variance in two parts (m).

    `own` is that of ruler and eye, `tape` that of the distance, which repeats share.
    """

    gradient: Floats
    own: Floats
    tape: Floats

    def variance(self, repeats: Numbers = 1) -> Floats:
        """Return the variance (m) of the mean of `repeats` readings."""
        return np.asarray(self.own / repeats + self.tape)


def mark_variances(
    covariance: Floats, marks: Floats, options: Options, *, repeats: int = 1
) -> Floats:
    """Return the variance of n marks (gradients n × p) after each single option (m × n)."""
    carried = options.gradient @ covariance
    spread = options.variance(repeats) + np.einsum("mp,mp->m", carried, options.gradient)
    now = np.einsum("np,pq,nq->n", marks, covariance, marks)
    return np.asarray(now - np.square(carried @ marks.T) / spread[:, np.newaxis])


def mark_covariances(
    covariance: Floats, shared: Floats, marks: Floats, others: Floats, options: Options, *,
    repeats: int = 1,
) -> Floats:  # fmt: skip
    """Return the covariance of n marks with another ring's after each single option (m × n).

    `shared` is the covariance of this ring's parameters with the other's (p × q), `others` the
    gradients (n × q) there: X becomes X − K·jᵀX with K = Cj/(s² + jᵀCj).
    """
    carried = options.gradient @ covariance
    spread = options.variance(repeats) + np.einsum("mp,mp->m", carried, options.gradient)
    now = np.einsum("np,pq,nq->n", marks, shared, others)
    gain = carried @ marks.T / spread[:, np.newaxis]
    return np.asarray(now - gain * (options.gradient @ shared @ others.T))
