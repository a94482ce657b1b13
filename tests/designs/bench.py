"""A morning at the bench: readings of a recorded design with every error drawn.

The sizes of the errors are judgement, no source; they are those the program supposes, written
here anew. A ruler is read to 0.3 mm, a target taped to the greater of 2 mm and 0.1 %, each ring
focused to 0.15 of its own meridian's tolerance, and the attachment on the lens as it stands.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from tests.designs.kits import Readings, Stated
from tests.designs.recorded import STOP, Design
from tests.sample_parts import Target

RULER_NOISE_MM = 0.3
FOCUSING_NOISE = 0.15
SQUEEZE_OFF = 0.03
FOCAL_LENGTH_OFF = 0.02
LEAD_OFF = 0.02


def exact_readings(design: Design, targets: Sequence[Target]) -> Readings:
    """What the rings really show at f/2.8."""
    truth = design.truth([target.distance_mm for target in targets])
    return Readings(targets, truth.taking_arc_mm, truth.attachment_arc_mm)


def noisy_readings(
    design: Design, targets: Sequence[Target], noise: np.random.Generator, *, stop: float = STOP
) -> Readings:
    """Both rings, refocused each time; repeats of a target share its one tape."""
    labels = [target.label for target in targets]
    taped = noise.normal(size=len(targets))[[labels.index(label) for label in labels]]
    stated, sigma = np.array([(target.distance_mm, target.sigma_mm) for target in targets]).T
    truth = design.truth(stated + sigma * taped, stop=stop)
    slip, own_slip = FOCUSING_NOISE * noise.normal(size=(2, len(targets)))
    ruler, own_ruler = RULER_NOISE_MM * noise.normal(size=(2, len(targets)))
    taking = slip * truth.taking_tolerance_mm
    attached = truth.inherited * taking + own_slip * truth.attachment_tolerance_mm
    return Readings(
        targets,
        truth.taking_arc_mm + taking + ruler,
        truth.attachment_arc_mm + attached + own_ruler,
        stop,
    )


def drawn_facts(noise: np.random.Generator) -> Stated:
    """A kit's figures as far off as the program supposes them to be."""
    off = noise.normal(size=4) * (SQUEEZE_OFF, FOCAL_LENGTH_OFF, LEAD_OFF, LEAD_OFF)
    squeeze, focal, taking, attachment = map(float, off)
    return Stated(squeeze, focal, taking, attachment)
