"""Record the designs: `python -m tests.designs.record` writes `designs.json` anew.

Each of 128 slots has a squeeze of its own and a fixed seed. It draws rigs until one is at most
three circles of confusion blurred in focus at f/2.8 from 970 mm to infinity: the horizontal blur on
the sensor at full aperture, as the diameter of the even disc of the same rms. Everything recorded
is traced; no code of the program is used.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from multiprocessing import Pool
from pathlib import Path
from typing import Any

import numpy as np

from tests.designs.draw import DrawnRig, draw_rig
from tests.designs.recorded import CIRCLE_MM, RECORD, SLOW_STOP, STOP
from tests.rig_truth import (
    ExtendingLens,
    RigTruth,
    Settings,
    attachment_arc_for,
    blur,
    tolerances,
    true_settings,
)
from tests.sample_parts import Ring
from tests.tracer import Array, Surface, afocal_gap_mm, focal_length_mm

SEED = 20
SLOTS = 128
LEAST_SQUEEZE, MOST_SQUEEZE = 1.33, 2.0
MOST_BLUR_CIRCLES = 3.0
NEAREST_MM = 970.0
NODES = 18


def distances_mm() -> Array:
    """Evenly spread in 1/D, by which the arcs run almost straight; infinity first."""
    with np.errstate(divide="ignore"):
        return np.asarray(1.0 / np.linspace(0.0, 1.0 / NEAREST_MM, NODES))


def sharp_rig(slot: int) -> DrawnRig:
    """The first rig of a slot that is sharp enough."""
    noise = np.random.default_rng([SEED, slot])
    width = (MOST_SQUEEZE - LEAST_SQUEEZE) / SLOTS
    squeeze = LEAST_SQUEEZE + width * (slot + noise.random())
    while True:
        drawn = draw_rig(noise, squeeze=squeeze)
        if drawn is not None and _is_sharp(drawn.truth):
            return drawn


def _is_sharp(rig: RigTruth) -> bool:
    distances = distances_mm()
    settings = true_settings(rig, distances, stop=STOP)
    return blur_circles(rig, settings, distances) <= MOST_BLUR_CIRCLES


def blur_circles(rig: RigTruth, settings: Settings, distances: Array) -> float:
    """The worst horizontal blur in focus, in circles of confusion."""
    arcs = zip(settings.taking_arc_mm, settings.attachment_arc_mm, strict=True)
    discs = [
        blur(rig, distance, taking_arc_mm=taking, attachment_arc_mm=attachment, stop=STOP)
        for distance, (taking, attachment) in zip(distances, arcs, strict=True)
    ]
    return max(disc.horizontal_disc_mm for disc in discs) / CIRCLE_MM


def inherited(rig: RigTruth, distance_mm: float, taking_arc_mm: float) -> float:
    """Attachment arc that a millimetre on the taking ring asks for; both sides traced."""
    step_mm = 0.1
    ahead, behind = (
        attachment_arc_for(rig, distance_mm, taking_arc_mm=taking_arc_mm + step, stop=STOP)
        for step in (step_mm, -step_mm)
    )
    return (ahead - behind) / (2.0 * step_mm)


def recorded(slot: int) -> dict[str, Any]:
    """One design: prescription, rig, facts for a kit, and the truth of both rings."""
    drawn = sharp_rig(slot)
    return {**prescription(drawn), **traced(drawn.truth)}


def traced(rig: RigTruth) -> dict[str, Any]:
    """Facts of a rig for a kit, and the truth of both its rings."""
    distances = distances_mm()
    front, rear = (focal_length_mm(g) for g in (rig.attachment.front, rig.attachment.rear))
    sharp, slow = (true_settings(rig, distances, stop=stop) for stop in (STOP, SLOW_STOP))
    allowed = [
        tolerances(rig, d, stop=STOP, circle_mm=CIRCLE_MM, nominal_squeeze=-rear / front)
        for d in distances
    ]
    carried = map(inherited, [rig] * NODES, distances, sharp.taking_arc_mm)
    return {
        "squeeze": round(-rear / front, 5),
        "front_focal_mm": round(-front, 3),
        "separation_mm": round(separation_mm(rig), 2),
        "front_vertex_mm": round(rig.front_vertex_mm, 2),
        "blur_circles": round(blur_circles(rig, sharp, distances), 3),
        "taking_arc_mm": decimals(sharp.taking_arc_mm),
        "attachment_arc_mm": decimals(sharp.attachment_arc_mm),
        "slow_taking_arc_mm": decimals(slow.taking_arc_mm),
        "slow_attachment_arc_mm": decimals(slow.attachment_arc_mm),
        "inherited": decimals(list(carried)),
        "taking_tolerance_mm": decimals([each.taking_arc_mm for each in allowed]),
        "attachment_tolerance_mm": decimals([each.attachment_arc_mm for each in allowed]),
    }


def prescription(drawn: DrawnRig) -> dict[str, Any]:
    """What the rig is made of."""
    rig = drawn.truth
    return {
        "front": surfaces(rig.attachment.front),
        "rear": surfaces(rig.attachment.rear),
        "moving": rig.moving,
        "hiatus_mm": rig.lens.hiatus_mm if isinstance(rig.lens, ExtendingLens) else 0.0,
        "rear_vertex_mm": rig.rear_vertex_mm,
        "taking_ring": ring(drawn.taking_ring),
        "attachment_ring": ring(drawn.attachment_ring),
    }


def surfaces(group: Sequence[Surface]) -> list[list[float]]:
    """Radius, thickness and index after of each surface."""
    return [[float(number) for number in surface] for surface in group]


def ring(of: Ring) -> dict[str, Any]:
    """A ring's measures."""
    return {"diameter_mm": of.diameter_mm, "lead_mm": of.lead_mm, "sign": of.sign}


def separation_mm(rig: RigTruth) -> float:
    """Middle of the front glass to middle of the rear glass, both rings at infinity."""
    glass_mm = rig.attachment.front_glass_mm + rig.attachment.rear_glass_mm
    return afocal_gap_mm(rig.attachment) + glass_mm / 2.0


def decimals(values: Array | Sequence[float]) -> list[float]:
    """Four decimals, a tenth of a micrometre."""
    return [float(value) for value in np.round(np.asarray(values), 4)]


def main() -> None:
    """Trace every slot and write the record, one design a line."""
    with Pool() as pool:
        rows = pool.map(recorded, range(SLOTS), chunksize=1)
    write(RECORD, rows)


def write(path: Path, rows: Sequence[dict[str, Any]]) -> None:
    """Write a record, one design a line."""
    lines = ",\n".join(json.dumps(row, separators=(",", ":")) for row in rows)
    far, *nearer = distances_mm()
    assert np.isinf(far)
    distances = json.dumps([None, *(round(distance, 4) for distance in nearer)])
    path.write_text(
        f'{{"distances_mm": {distances},\n"designs": [\n{lines}\n]}}\n', encoding="utf-8"
    )


if __name__ == "__main__":
    main()
