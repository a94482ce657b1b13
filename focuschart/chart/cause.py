"""A mistake made at the bench, as one that makes disagreeing readings fit, and in words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from focuschart.chart.bench import Which
from focuschart.units import Units, distance_label

Kind = Literal["figure", "slip", "swap", "distance", "front glass", "feet", "metres", "wall"]
"""What may be wrong: one figure, all after a slip of the ruler, both figures exchanged; or the
distance, at large, taken from the front glass, feet for metres or metres for feet, or that of a
near wall called infinity."""
_COST: Mapping[Kind, float] = {"figure": 9.0, "slip": 9.0, "distance": 12.0, "wall": 5.0}
"""What a mistake with a free amount may gain by chance and choice."""


@dataclass(frozen=True, slots=True)
class Cause:
    """A mistake that makes the readings fit: what, on which ring, at which readings of the kit.

    `amount_mm` is the slip or the true distance; `left_over` is χ² with the mistake put right.
    """

    kind: Kind
    indices: tuple[int, ...]
    left_over: float
    which: Which | None = None
    amount_mm: float = 0.0

    @property
    def score(self) -> float:
        """What is left over and what the mistake's freedom costs: the less, the likelier."""
        return self.left_over + _COST.get(self.kind, 0.0)


_RING: Mapping[Which | None, str] = {"taking": "taking lens", "attachment": "attachment", None: ""}


def told(cause: Cause, units: Units) -> str:
    """Return a cause in words, with the numbers of its readings in the kit."""
    where, ring = f"readings[{cause.indices[0]}]", _RING[cause.which]
    here = where if len(cause.indices) == 1 else f"every distance from {where} on"
    about = distance_label(float(f"{cause.amount_mm:.3g}"), units)
    words: Mapping[Kind, str] = {
        "figure": f"{where}: the {ring}'s figure is misread or mistyped",
        "slip": f"the {ring}'s ruler slipped by {abs(cause.amount_mm):.1f} mm before {where}",
        "swap": f"{where}: the figures of the two rings are exchanged",
        "distance": f"{where}: the distance is wrong, about {about} would fit",
        "front glass": f"{here}: measured from the front glass, not from the sensor mark",
        "feet": f"{here}: feet written as metres",
        "metres": f"{here}: metres written as feet",
        "wall": f'{where}: the target called "inf" is not far enough, it stands at about {about}',
    }
    return words[cause.kind]
