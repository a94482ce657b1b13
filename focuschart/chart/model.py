"""The solved chart of one rig, as arrays over its marks (n) and stops (m × n)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from focuschart.bench.cause import Cause
from focuschart.bench.scales import MeasuredScale
from focuschart.chart.marks import RingMarks
from focuschart.chart.pair import PairErrors
from focuschart.chart.precision import KnownGlass
from focuschart.errors import LeftOut, Problem
from focuschart.kit.ring import Ring
from focuschart.kit.schema import Kit
from focuschart.optics.arrays import Floats
from focuschart.optics.depth_of_field import Limits
from focuschart.rig.assemble import Rig
from focuschart.rig.light import Light
from focuschart.rig.ring import Which

KnownBy = Literal["readings", "magnification", "engraving"]
"""What a taking lens's focal length and hiatus are taken from."""


@dataclass(frozen=True, slots=True, eq=False)
class Chart:
    """All that is known of one rig; a ring without readings has no marks but a reason.

    `kit` is what it was solved from; `squeeze_95` is the half-width of the 95 % of S(D) (n),
    `squeeze`; `pair` has the errors of both rings together, None while a ring is unread;
    `light` is what reaches the corners that will be seen, None where the kit does not tell it;
    `lens_known_by` says what depth of field and tolerance take the lens from, `glass` what is known
    of the attachment; `refused`, why rings
    that were read have no scale; `left_out`, all that the rig cannot have: these rings, marks out
    of its reach, stops its lens does not open to.
    """

    kit: Kit
    rig: Rig
    stops: Floats
    distances_mm: Floats
    extension_mm: Floats
    separation_mm: Floats
    separation_95_mm: Floats
    squeeze: Floats
    squeeze_95: Floats
    vertical: Limits
    horizontal: Limits
    frame: Limits
    taking: RingMarks | None
    attachment: RingMarks | None
    pair: PairErrors | None
    infinity_target_mm: float
    lens_known_by: KnownBy
    glass: KnownGlass
    light: Light | None
    refused: Mapping[Which, Problem] = field(default_factory=dict)
    left_out: tuple[LeftOut, ...] = ()

    def rings(self) -> Mapping[Which, tuple[Ring, RingMarks | None]]:
        """Return both rings by name: as measured on the barrel, and their marks if read."""
        return {
            "taking": (self.rig.lens.ring, self.taking),
            "attachment": (self.rig.attachment.ring, self.attachment),
        }

    def ring(self, which: Which) -> tuple[Ring, RingMarks]:
        """Return one measured ring; raises KeyError for one without readings."""
        ring, marks = self.rings()[which]
        if marks is None:
            raise KeyError(which)
        return ring, marks

    @property
    def pair_95(self) -> Floats | None:
        """The pair's 95 % error as set by hand, in criteria (m × n); None without both rings."""
        return None if self.pair is None else self.pair.pair_95

    @property
    def bench_pair_95(self) -> Floats | None:
        """The same of the fits alone, as if marks were set without error."""
        return None if self.pair is None else self.pair.bench_pair_95

    @property
    def working_stop(self) -> float:
        """The first stop of the kit, for which marks are drawn and judged."""
        return float(self.stops[0])

    @property
    def _measured(self) -> tuple[MeasuredScale, ...]:
        return tuple(ring.measured for ring in (self.taking, self.attachment) if ring)

    @property
    def contradicted(self) -> bool:
        """Whether a ring's readings disagree or its fit did not settle: then no mark is sure."""
        return any(scale.doubtful for scale in self._measured)

    @property
    def causes(self) -> tuple[Cause, ...]:
        """Why readings of its rings disagree, the likeliest first; both rings share them."""
        return next((scale.causes for scale in self._measured if scale.causes), ())

    @property
    def how_likely(self) -> str:
        """The word before its causes: readings that agree may sit badly by chance."""
        return "probably" if self.contradicted else "perhaps"

    @property
    def read_at(self) -> float:
        """The widest stop at which its rings were read, on this rig if they were."""
        rows = [row for scale in self._measured for row in scale.rows]
        own = [row for row in rows if row.rig.rig_id == self.rig.rig_id]
        return min((row.reading.stop for row in own or rows), default=np.inf)

    @property
    def nearest_read_mm(self) -> float:
        """The nearest distance at which both rings were read."""
        return max((scale.nearest_mm for scale in self._measured), default=0.0)
