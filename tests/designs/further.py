"""Record further rigs: `python -m tests.designs.further` writes `further.json` anew.

The glass of recorded designs on other lenses: rear groups that move, taking lenses of two thin
groups that move as one with a hiatus of −30 to +30 mm (two thin groups a distance e apart are
their principal planes, −e²/(f₁ + f₂ − e) apart; Smith, Modern Optical Engineering, ch. 2, from
memory), and a lens whose rear group a bent cam moves inside.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from tests.designs.draw import DrawnRig
from tests.designs.record import prescription, traced, write
from tests.designs.recorded import FURTHER, Design, load_designs
from tests.sample_parts import Ring

EACH = 12
BENDS = (0.0, 0.02, -0.02, 0.04, -0.04, 0.0)


def rear_moving(design: Design, number: int) -> Design:
    """An attachment whose rear group moves."""
    return replace(design, kind="rear", moving="rear", hiatus_mm=_hiatus(number))


def two_groups(design: Design, number: int) -> Design:
    """A lens of two groups that move as one."""
    return replace(design, kind="hiatus", hiatus_mm=_hiatus(number))


def internal(design: Design, number: int) -> Design:
    """A lens that focuses inside, by a cam bent by so much of its turn."""
    ring = Ring(design.taking_ring.diameter_mm, None, design.taking_ring.sign)
    bend = BENDS[number % len(BENDS)]
    return replace(design, kind="internal", taking_ring=ring, bend=bend, hiatus_mm=0.0)


def _hiatus(number: int) -> float:
    return round(-30.0 + 60.0 * number / (EACH - 1), 2)


def recorded(design: Design) -> dict[str, Any]:
    """One rig, traced."""
    rig = DrawnRig(design.rig, design.taking_ring, design.attachment_ring)
    facts = {"kind": design.kind, "bend": design.bend, "blur_circles": design.blur_circles}
    return {**prescription(rig), **traced(design.rig), **facts}


def main() -> None:
    """Trace every rig and write the record."""
    glass = load_designs()
    kinds = (rear_moving, two_groups, internal)
    designs = [
        kind(glass[(10 * number + 3 * place) % len(glass)], number)
        for place, kind in enumerate(kinds)
        for number in range(EACH)
    ]
    write(FURTHER, [recorded(design) for design in designs])


if __name__ == "__main__":
    main()
