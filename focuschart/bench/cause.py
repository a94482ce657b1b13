"""A mistake at the bench or in the kit that explains why readings disagree."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from focuschart.kit.naming import reading_name
from focuschart.kit.reading import Reading
from focuschart.rig.ring import Which
from focuschart.units import Units, distance_label

Kind = Literal[
    "figure", "slip", "swap", "distance", "front glass", "feet", "metres", "wall", "front group",
    "rear group", "half the lead", "twice the lead",
]  # fmt: skip
"""Mistakes in figures: one figure wrong, all figures after a slip of the ruler, both rings' figures
exchanged. In distances: any wrong distance, one from the front glass, feet for metres or metres for
feet, a near wall called infinity. In the kit: the moving group is this one, the lead is half or
twice as long."""
MISSTATED: tuple[Kind, ...] = ("front group", "rear group", "half the lead", "twice the lead")
"""Mistakes in the kit: they have no free amount, so they gain little by chance."""
LEAST_GAIN = 12.0
"""The least fall of χ² for a mistake to be named: judgement, tested on drawn benches."""
LEAST_GAIN_MISSTATED = 4.0
_COST: Mapping[Kind, float] = {"figure": 9.0, "slip": 9.0, "distance": 12.0, "wall": 5.0}
"""The fall of χ² that a mistake with a free amount can bring by chance."""


@dataclass(frozen=True, slots=True)
class Cause:
    """A mistake that explains why readings disagree.

    `indices` are the numbers of its readings in the kit, `readings` the readings themselves;
    `which` is its ring, None for both. `amount_mm` is the slip, the true distance or the true lead.
    `left_over` is χ² with the mistake corrected.
    """

    kind: Kind
    indices: tuple[int, ...]
    left_over: float
    which: Which | None = None
    amount_mm: float = 0.0
    readings: tuple[Reading, ...] = ()

    @property
    def score(self) -> float:
        """`left_over` and the cost of a free amount: the lower, the likelier the mistake."""
        return self.left_over + _COST.get(self.kind, 0.0)

    def gains_enough(self, before: float) -> bool:
        """Return whether the score is far enough below χ² without the correction, `before`."""
        least = LEAST_GAIN_MISSTATED if self.kind in MISSTATED else LEAST_GAIN
        return self.score < before - least


_RING: Mapping[Which | None, str] = {"taking": "taking lens", "attachment": "attachment", None: ""}


def cause_text(cause: Cause, units: Units) -> str:
    """Return a cause in words, with its readings named by rig, distance and figure."""
    ring, where = _RING[cause.which], reading_name(cause.readings[0], units, ring=cause.which)
    here = where if len(cause.indices) == 1 else f"every distance from {where} on"
    about = distance_label(float(f"{cause.amount_mm:.3g}"), units)
    lead = f"the lead of the {ring}'s ring is {cause.amount_mm:.3g} mm"
    group = "the attachment's {} group moves, not its {} one: look which, correct moving_group"
    words: Mapping[Kind, str] = {
        "figure": f"{where}: the {ring}'s figure is misread or mistyped",
        "slip": f"the {ring}'s ruler slipped by {abs(cause.amount_mm):.1f} mm before {where}",
        "swap": f"{where}: the figures of the two rings are exchanged",
        "distance": f"{where}: the distance is wrong, about {about} would fit",
        "front glass": f"{here}: measured from the front glass, not from the sensor mark",
        "feet": f"{here}: feet written as metres",
        "metres": f"{here}: metres written as feet",
        "wall": f'{where}: the target called "inf" is not far enough, it stands at about {about}',
        "front group": group.format("front", "rear"),
        "rear group": group.format("rear", "front"),
        "half the lead": f"{lead}, half of what is stated: measure it again",
        "twice the lead": f"{lead}, twice what is stated: measure it again",
    }
    return words[cause.kind]
