"""Marks as they are set by hand: what taping, play, printer and eye add to the fit.

The error of a mark as set is e = m + o − a: m that of the fitted mark, o = τ + ι + β what lies off
for all marks of a strip alike (its taping, the index's, the backlash left), a that of setting it.
Independent errors add by their variances (JCGM 100:2008, GUM, 5.1.2), so that over marks i, j

- within a ring, cov e = G C Gᵀ + (σ_τ² + σ_ι² + σ_β²)·1 + κ² z zᵀ + σ_s² δ_ij,
- between the rings, G_t X G_aᵀ + κ² z_t z_aᵀ, where both strips come from one print run,

with z the figure from the zero line and κ the print's scale. An index that was set by focus at one
mark takes out what that mark is off: then G, z are those of each mark less its own, and o is how
well the index was taped there and the focus found.
"""

from __future__ import annotations

import math

from focuschart.bench.offsets import KNOWN_PLAY_SIGMA_MM, PLAY_SIGMA_MM
from focuschart.bench.scales import MeasuredScale
from focuschart.chart.marks import HandErrors
from focuschart.kit.schema import Kit
from focuschart.rig.assemble import Rig

COMB_MM = (0.5, 1.0, 1.5)
"""The ticks of an index's comb, to either side of its line, in mm of the ruler."""
HALF_TICK_MM = 0.25
"""A comb is read to half of its ticks' distance."""
PHOTO_MM = 0.015
"""One standard deviation of a figure read off a photograph.

Judgement: 0.006 on pictures of drawn rigs, and room for what only real ones have.
"""


def hand_errors(kit: Kit, rig: Rig, measured: MeasuredScale) -> HandErrors:
    """Return what a ring of a rig is set with by hand, beyond its fit."""
    bench, set_at = kit.bench, kit.rigs[rig.rig_id].index_set_at
    play = _play_mm(measured) / 2.0
    return HandErrors(
        offset_mm=math.hypot(bench.taping_error, bench.taping_error, play),
        play_mm=play,
        setting_mm=bench.setting_error,
        print_scale=bench.print_scale,
        reading_errors=rig.reading_errors,
        taping_mm=bench.taping_error,
        index_set_at_mm=None if set_at is None else getattr(set_at, measured.readings.which),
    )


def _play_mm(measured: MeasuredScale) -> float:
    """Return a ring's play where it is not known which way it is turned: half lies on either side.

    Where readings tell it, and marks are set from one side, it is in the marks and their fit.
    """
    shifts, given = measured.readings.shifts, measured.readings.ring.backlash
    if shifts.sided:
        own = measured.scale.offset_mm(len(shifts.tapings))
        return 0.0 if shifts.set_from else math.hypot(*own)
    return math.hypot(given or 0.0, PLAY_SIGMA_MM if given is None else KNOWN_PLAY_SIGMA_MM)
