"""Marks as they are set by hand: what taping, play, printer and eye add to the fit.

The error of a mark as set is e = m + o − a: m that of the fitted mark, o = τ + ι + β what lies off
for all marks of a strip alike (its taping, the index's, the backlash left), a that of setting it.
Independent errors add by their variances (JCGM 100:2008, GUM, 5.1.2), so that over marks i, j

- within a ring, cov e = G C Gᵀ + (σ_τ² + σ_ι² + σ_β²)·1 + κ² z zᵀ + σ_s² δ_ij,
- between the rings, G_t X G_aᵀ + κ² z_t z_aᵀ, where both strips come from one print run,

with z the figure from the zero line and κ the print's scale.
"""

from __future__ import annotations

import math

import numpy as np

from focuschart.chart.marks import HandErrors, RingMarks
from focuschart.kit.schema import Kit
from focuschart.optics.arrays import Floats
from focuschart.rig.assemble import Rig
from focuschart.rig.ring import RigRing, Which

_PLAY_MM, _PLAY_KNOWN_MM = 0.3, 0.1
"""One standard deviation of a ring's backlash, not given and given: judgement, no source."""


def hand_errors(kit: Kit, rig: Rig, which: Which) -> HandErrors:
    """Return what a ring of a rig is set with by hand, beyond its fit."""
    bench, ring = kit.bench, RigRing(rig, which).barrel
    # Which way a ring was turned is not known: half its play lies on either side.
    play = math.hypot(ring.backlash or 0.0, _PLAY_MM if ring.backlash is None else _PLAY_KNOWN_MM)
    return HandErrors(
        offset_mm=math.hypot(bench.taping_error, bench.taping_error, play / 2.0),
        setting_mm=bench.setting_error,
        print_scale=bench.print_scale,
        reading_errors=rig.reading_errors,
        taping_mm=bench.taping_error,
    )


def ring_covariance(marks: RingMarks, *, setting: bool = True) -> Floats:
    """Return the covariance (n × n, mm²) of a ring's marks as set, or of its strip alone."""
    hand, figures = marks.hand, marks.arc_mm
    fitted = marks.gradient @ marks.measured.scale.covariance @ marks.gradient.T
    strip = fitted + hand.offset_mm**2 + hand.print_scale**2 * np.outer(figures, figures)
    return np.asarray(strip + (hand.setting_mm**2 * np.eye(len(figures)) if setting else 0.0))
