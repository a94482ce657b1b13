"""What shifts a ring's figures beside its law: each taping of a ruler or strip, and its play.

A ruler's first taping is in a∞. Every other taping has an offset of its own, which all readings of
it share; so have figures read through a marker strip, whose place beside its index is only as good
as both were taped. A ring's play is one parameter more where readings say from which side the ring
came: half of it to either side.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np

from focuschart.scale.problem import SLIP_SIGMA_MM, Offsets

if TYPE_CHECKING:
    from focuschart.kit.reading import Reading
    from focuschart.kit.ring import Ring
    from focuschart.kit.unmoved import Unmoved
    from focuschart.rig.ring import Which

Side = Literal["nearer", "farther"]

PLAY_SIGMA_MM, KNOWN_PLAY_SIGMA_MM = 0.3, 0.1
"""One standard deviation of a ring's play, not given and given: judgement, no source."""


class Taping(NamedTuple):
    """One taping of a marker strip, by its code, or of a ruler, by ""."""

    code: str
    number: int

    @property
    def is_base(self) -> bool:
        """Whether it is the ruler's first, from whose zero line all arcs are counted."""
        return self == ("", 1)


def taping_of(reading: Reading, which: Which) -> Taping:
    """Return what a ring's figure was read through."""
    return Taping(reading.strip(which) or "", reading.taping)


def tapings(readings: Sequence[Reading], which: Which) -> tuple[Taping, ...]:
    """Return the tapings of a ring that have an offset, in the order of their first readings."""
    every = dict.fromkeys(taping_of(reading, which) for reading in readings)
    return tuple(taping for taping in every if not taping.is_base)


def held_offsets(
    unmoved: Sequence[Unmoved], which: Which, *, ruler_mm: float
) -> tuple[tuple[Taping, float, float], ...]:
    """Return offset and standard error (mm) of each taping seen at a setting with the first ruler.

    A figure without an error of its own was read by eye, to `ruler_mm`. Settings are weighted by
    their errors (GUM, JCGM 100:2008, H.1 and B.2: independent measurements of one quantity).
    """
    settings: dict[tuple[str, str], dict[Taping, list[tuple[float, float]]]] = {}
    for each in unmoved:
        figure = getattr(each, which)
        if figure is not None:
            own = settings.setdefault((each.rig, each.setting), {})
            taping = Taping(each.strip(which) or "", each.taping)
            own.setdefault(taping, []).append((figure, each.error_mm(which) or ruler_mm))
    seen: dict[Taping, list[tuple[float, float]]] = {}
    for figures in settings.values():
        base = figures.pop(Taping("", 1), None)
        if base is not None:
            zero, zero_sigma = _mean(base)
            for taping, own_figures in figures.items():
                at, sigma = _mean(own_figures)
                seen.setdefault(taping, []).append((at - zero, math.hypot(sigma, zero_sigma)))
    return tuple((taping, *_mean(each)) for taping, each in seen.items())


def _mean(values: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Return the weighted mean of values with standard errors, and its own."""
    weights = [1.0 / sigma**2 for _, sigma in values]
    total = sum(weights)
    mean = sum(weight * value for weight, (value, _) in zip(weights, values, strict=True)) / total
    return mean, total**-0.5


class Shifts(NamedTuple):
    """What a ring's offsets are, in the order of the fit: its tapings, then its play if sided.

    `slipped` are tapings that may lie off by more than taping explains. `set_from` is the side
    from which marks are set, None if that varies. `held` has the offsets seen at a setting that
    did not move, with their standard errors.
    """

    tapings: tuple[Taping, ...] = ()
    sided: bool = False
    slipped: frozenset[Taping] = frozenset()
    set_from: Side | None = None
    held: tuple[tuple[Taping, float, float], ...] = ()

    def offsets(
        self, readings: Sequence[Reading], which: Which, ring: Ring, *, taping_mm: float
    ) -> Offsets | None:
        """Return the offsets of some readings (n), None where there is none."""
        if not (self.tapings or self.sided):
            return None
        own = [taping_of(reading, which) for reading in readings]
        columns = [[float(taping == each) for taping in self.tapings] for each in own]
        marks = [0.0] * len(self.tapings)
        thought = [self._thought_mm(taping, taping_mm) for taping in self.tapings]
        centres, sigmas = [centre for centre, _ in thought], [sigma for _, sigma in thought]
        if self.sided:
            for row, reading in zip(columns, readings, strict=True):
                row.append(_half_play(reading.side, ring))
            marks.append(_half_play(self.set_from, ring))
            centres.append(ring.backlash or 0.0)
            sigmas.append(PLAY_SIGMA_MM if ring.backlash is None else KNOWN_PLAY_SIGMA_MM)
        table = np.array(columns).reshape(len(own), len(sigmas))
        return Offsets(table, np.array(marks), np.array(centres), np.array(sigmas))

    def _thought_mm(self, taping: Taping, taping_mm: float) -> tuple[float, float]:
        """Return what is thought of an offset before the readings, by what was seen unmoved."""
        prior = 1.0 / self._sigma_mm(taping, taping_mm) ** 2
        for other, offset, sigma in self.held:
            if other == taping:
                weight = 1.0 / sigma**2
                return offset * weight / (weight + prior), (weight + prior) ** -0.5
        return 0.0, prior**-0.5

    def _sigma_mm(self, taping: Taping, taping_mm: float) -> float:
        if not taping.code or taping in self.slipped:
            return SLIP_SIGMA_MM
        # The strip's taping and its index's.
        return max(math.hypot(taping_mm, taping_mm), _LEAST_SIGMA_MM)


NO_SHIFTS = Shifts()
"""Those of a ring read through one taping of its ruler, from sides that are not noted."""
_LEAST_SIGMA_MM = 0.01


def _half_play(side: Side | None, ring: Ring) -> float:
    """Return what share of the play a figure has: a ring from nearer has gone on toward farther."""
    if side is None:
        return 0.0
    toward_farther = -0.5 if ring.rises_nearer else 0.5
    return toward_farther if side == "nearer" else -toward_farther
