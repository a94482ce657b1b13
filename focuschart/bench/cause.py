"""A mistake made at the bench, as one that makes disagreeing readings fit, and in words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from focuschart.kit.naming import reading_name
from focuschart.kit.schema import Reading
from focuschart.rig.ring import Which
from focuschart.units import Units, distance_label

Kind = Literal[
    "figure", "slip", "swap", "distance", "front glass", "feet", "metres", "wall", "front group",
    "rear group", "half the lead", "twice the lead",
]  # fmt: skip
"""What may be wrong: one figure, all after a slip of the ruler, both figures exchanged; or the
distance, at large, taken from the front glass, feet for metres or metres for feet, or that of a
near wall called infinity; or what the kit says of a ring: the group that moves is this one, the
lead is half or twice as long."""
MISSTATED: tuple[Kind, ...] = ("front group", "rear group", "half the lead", "twice the lead")
"""Mistakes of the kit's, not of a reading's: two ways there are, so that chance gains little."""
LEAST_GAIN = 12.0
"""By how much χ² must fall for a mistake to be named: judgement, held by drawn benches."""
LEAST_GAIN_MISSTATED = 4.0
_COST: Mapping[Kind, float] = {"figure": 9.0, "slip": 9.0, "distance": 12.0, "wall": 5.0}
"""What a mistake with a free amount may gain by chance and choice."""


@dataclass(frozen=True, slots=True)
class Cause:
    """A mistake that makes the readings fit: what, on which ring, at which readings of the kit.

    `amount_mm` is the slip, the true distance or the true lead; `left_over` is χ² with the mistake
    put right; `readings` are those of `indices`.
    """

    kind: Kind
    indices: tuple[int, ...]
    left_over: float
    which: Which | None = None
    amount_mm: float = 0.0
    readings: tuple[Reading, ...] = ()

    @property
    def score(self) -> float:
        """What is left over and what the mistake's freedom costs: the less, the likelier."""
        return self.left_over + _COST.get(self.kind, 0.0)

    def gains_enough(self, before: float) -> bool:
        """Return whether χ² falls far enough below what it was before."""
        least = LEAST_GAIN_MISSTATED if self.kind in MISSTATED else LEAST_GAIN
        return self.score < before - least


_RING: Mapping[Which | None, str] = {"taking": "taking lens", "attachment": "attachment", None: ""}


def told(cause: Cause, units: Units) -> str:
    """Return a cause in words, its readings by rig, distance and figure."""
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
