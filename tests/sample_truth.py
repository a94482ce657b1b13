"""Four invented rigs of real thick glass, and the bench readings somebody careful would take.

`python -m tests.sample_truth` prints the readings as TOML, each rig headed by the facts its
kit file must state. The readings are drawn from exact traces with a fixed seed per rig, so a
test may fit them and hold the strips to `SAMPLE_RIGS[rig].truth`. All designs are our own.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from tests.rig_truth import (
    ExtendingLens,
    InternalLens,
    attachment_arc_for,
    tolerances,
    true_settings,
)
from tests.sample_parts import Ring, SampleRig, Target, doublet, imperial, metric, sample_rig
from tests.tracer import ThickAttachment

# The noise of the bench; judgement, no source.
RULER_NOISE_MM = 0.3
FOCUSING_NOISE = 0.15  # of the ring's own tolerance


class Reading(NamedTuple):
    """One line of the bench notebook, ruler figures in mm."""

    target: Target
    stop: float
    taking_arc_mm: float
    attachment_arc_mm: float


# 2x and 1.42x: the front group moves. 1.75x: the rear group moves.
TWO_TIMES = ThickAttachment(
    front=doublet((-62.9, 249.7, 295.3), (3.5, 8.0), (1.60, 1.74)),
    rear=doublet((192.9, 88.0, -148.0), (3.5, 10.0), (1.72, 1.57)),
)
LIGHT = ThickAttachment(
    front=doublet((-257.5, -51.5, 214.9), (3.0, 5.0), (1.57, 1.70)),
    rear=doublet((269.0, -90.0, -298.1), (3.0, 7.0), (1.70, 1.60)),
)
REAR_FOCUSED = ThickAttachment(
    front=doublet((-125.8, 40.0, 81.7), (3.0, 6.0), (1.58, 1.72)),
    rear=doublet((152.0, 64.5, -195.3), (3.0, 9.0), (1.74, 1.60)),
)


TWO_TIMES_RING = Ring(diameter_mm=92.0, lead_mm=28.0, sign=1)
LIGHT_RING = Ring(diameter_mm=80.0, lead_mm=22.0, sign=-1)
REAR_FOCUSED_RING = Ring(diameter_mm=95.0, lead_mm=25.0, sign=1)
LENS_85_RING = Ring(diameter_mm=78.0, lead_mm=32.0, sign=1)
LENS_58_RING = Ring(diameter_mm=72.0, lead_mm=30.0, sign=1)
LENS_50_RING = Ring(diameter_mm=74.0, lead_mm=None, sign=1)
LENS_100_RING = Ring(diameter_mm=84.0, lead_mm=34.0, sign=1)

SAMPLE_RIGS: dict[str, SampleRig] = {
    "portrait-85": sample_rig(
        TWO_TIMES,
        lens=ExtendingLens(85.0, 6.0, LENS_85_RING.arc_per_mm, zero_arc_mm=12.0),
        nominal_squeeze=2.0,
        moving="front",
        attachment_ring=TWO_TIMES_RING,
        attachment_zero_mm=20.0,
        taking_ring=LENS_85_RING,
        lens_length_mm=94.0,
        spacer_mm=18.0,
        sensor_mm=(36.0, 24.0),
        circle_mm=0.029,
        targets=(*map(metric, (1.0, 1.2, 1.5, 2.0, 3.0, 5.0, 10.0)), metric(60.0, 3.0)),
        stop=2.8,
        seed=85,
    ),
    "portrait-58": sample_rig(
        TWO_TIMES,
        lens=ExtendingLens(58.0, 4.0, LENS_58_RING.arc_per_mm, zero_arc_mm=9.0),
        nominal_squeeze=2.0,
        moving="front",
        attachment_ring=TWO_TIMES_RING,
        attachment_zero_mm=20.0,
        taking_ring=LENS_58_RING,
        lens_length_mm=64.0,
        spacer_mm=18.0,
        sensor_mm=(36.0, 24.0),
        circle_mm=0.029,
        targets=(*map(metric, (0.9, 1.1, 1.4, 2.0, 3.0, 6.0)), metric(60.0, 3.0)),
        stop=2.0,
        seed=58,
    ),
    "street-50": sample_rig(
        LIGHT,
        lens=InternalLens(50.0, 8.0, zero_arc_mm=15.0, hyperbola_mm2=110_000.0, offset_mm=60.0),
        nominal_squeeze=1.42,
        moving="front",
        attachment_ring=LIGHT_RING,
        attachment_zero_mm=210.0,
        taking_ring=LENS_50_RING,
        lens_length_mm=76.0,
        spacer_mm=15.0,
        sensor_mm=(24.9, 18.7),
        circle_mm=0.021,
        targets=(*map(metric, (1.0, 1.2, 1.5, 2.0, 2.8, 4.0, 7.0, 15.0)), metric(60.0, 3.0)),
        stop=2.0,
        seed=50,
    ),
    "feature-100": sample_rig(
        REAR_FOCUSED,
        lens=ExtendingLens(100.0, 7.0, LENS_100_RING.arc_per_mm, zero_arc_mm=10.0),
        nominal_squeeze=1.75,
        moving="rear",
        attachment_ring=REAR_FOCUSED_RING,
        attachment_zero_mm=25.0,
        taking_ring=LENS_100_RING,
        lens_length_mm=112.0,
        spacer_mm=30.0,
        sensor_mm=(36.0, 24.0),
        circle_mm=0.029,
        targets=(
            imperial(3, 9),
            imperial(4, 6),
            imperial(5, 6),
            imperial(7),
            imperial(10),
            imperial(16),
            imperial(32),
            imperial(200, error_ft=10),
        ),
        stop=2.8,
        seed=100,
    ),
}


def bench_readings(rig: SampleRig, *, seed: int | None = None) -> list[Reading]:
    """Noisy readings of every target; the rig's own seed unless one is given."""
    noise = np.random.default_rng(rig.seed if seed is None else seed)
    return [_read(rig, target, noise) for target in rig.targets]


def _read(rig: SampleRig, target: Target, noise: np.random.Generator) -> Reading:
    """The lens focused first, then the attachment on the lens as it really stands."""
    place, lens_slip, slip, lens_ruler, ruler = (float(value) for value in noise.normal(size=5))
    stands_mm = target.distance_mm + place * target.sigma_mm
    sharp = true_settings(rig.truth, stands_mm, stop=rig.stop)
    allowed = tolerances(
        rig.truth,
        stands_mm,
        stop=rig.stop,
        circle_mm=rig.facts.circle_mm,
        nominal_squeeze=rig.facts.nominal_squeeze,
    )
    taking_mm = float(sharp.taking_arc_mm[0]) + FOCUSING_NOISE * allowed.taking_arc_mm * lens_slip
    attachment_mm = attachment_arc_for(rig.truth, stands_mm, taking_arc_mm=taking_mm, stop=rig.stop)
    attachment_mm += FOCUSING_NOISE * allowed.attachment_arc_mm * slip
    return Reading(
        target,
        rig.stop,
        round(taking_mm + RULER_NOISE_MM * lens_ruler, 1),
        round(attachment_mm + RULER_NOISE_MM * ruler, 1),
    )


def reading_block(rig_id: str, reading: Reading) -> str:
    """One reading as the kit file has it."""
    lines = ["[[readings]]", f'rig = "{rig_id}"', f'distance = "{reading.target.label}"']
    if reading.target.error_label is not None:
        lines.append(f'distance_error = "{reading.target.error_label}"')
    lines.append(f"stop = {reading.stop:.1f}")
    lines.append(f"taking = {reading.taking_arc_mm:.1f}")
    lines.append(f"attachment = {reading.attachment_arc_mm:.1f}")
    return "\n".join(lines)


def ring_comment(name: str, ring: Ring) -> str:
    """A ring's facts as a comment line."""
    lead = "no lead (internal)" if ring.lead_mm is None else f"lead {ring.lead_mm:g} mm per turn"
    sense = "rises" if ring.sign > 0 else "falls"
    return (
        f"# {name} ring: diameter {ring.diameter_mm:g} mm, {lead}, ruler {sense} toward near focus"
    )


def facts_comment(rig_id: str, rig: SampleRig) -> str:
    """Everything the kit file must state about a rig, as comment lines."""
    facts = rig.facts
    lines = [
        f"# {rig_id}: {facts.focal_mm:g} mm lens, front "
        + ("carries the attachment" if facts.front_extends else "stays"),
        f"# squeeze {facts.nominal_squeeze:g} as marked, {facts.true_squeeze:.4f} true",
        f"# separation {facts.separation_mm:g} mm, the {facts.moving} group moves",
        f"# glass: front {facts.front_glass_mm:g} mm, rear {facts.rear_glass_mm:g} mm",
        f"# sensor to front vertex {facts.front_vertex_mm:g} mm ({rig.truth.front_vertex_mm:.2f}"
        f" true): flange {facts.flange_mm:g}, lens {facts.lens_length_mm:g},"
        f" spacer to rear vertex {facts.spacer_mm:g} mm",
        f"# sensor {facts.sensor_mm[0]:g} x {facts.sensor_mm[1]:g} mm,"
        f" circle of confusion {facts.circle_mm:g} mm",
        ring_comment("taking", facts.taking_ring),
        ring_comment("attachment", facts.attachment_ring),
    ]
    return "\n".join(lines)


def main() -> None:
    """Print every rig's facts and readings."""
    for rig_id, rig in SAMPLE_RIGS.items():
        print(facts_comment(rig_id, rig) + "\n")
        for reading in bench_readings(rig):
            print(reading_block(rig_id, reading) + "\n")


if __name__ == "__main__":
    main()
