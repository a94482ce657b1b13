"""Charts of the recorded designs from drawn readings, and how far they lie from the truth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from focuschart.chart.model import Chart
from focuschart.errors import KitError
from tests.designs.bench import drawn_facts, noisy_readings
from tests.designs.kits import MARKS, chart_of
from tests.designs.recorded import SLOW_STOP, STOP, Design, Truth
from tests.sample_parts import Target
from tests.tracer import Array

MARKS_MM = np.array(
    [np.inf if label == "inf" else 1000.0 * float(label.removesuffix(" m")) for label in MARKS]
)

GOOD_BELOW = 0.25


class Trial(NamedTuple):
    """A chart against the truth, arrays over the marks, or of designs × draws × marks.

    Errors are positive where a ring stands too near; the 95 % half-widths are those stated. Arcs
    are in mm, pair errors in criteria at the working stop, `slow` ones against where the rings
    are sharp at f/16, the others against where they are sharp at the stop read at.
    """

    taking_mm: Array
    taking_95_mm: Array
    attachment_mm: Array
    attachment_95_mm: Array
    vertical: Array
    horizontal: Array
    slow_vertical: Array
    slow_horizontal: Array
    pair_95: Array
    good: NDArray[np.bool_]

    @property
    def refused(self) -> NDArray[np.bool_]:
        """Which kits got no chart; nothing but nan is known of them."""
        return np.isnan(self.pair_95[..., 0])

    @property
    def pair(self) -> Array:
        """The worse meridian's error, unsigned."""
        return np.asarray(np.maximum(np.abs(self.vertical), np.abs(self.horizontal)))

    @property
    def slow_pair(self) -> Array:
        """The same against f/16."""
        return np.asarray(np.maximum(np.abs(self.slow_vertical), np.abs(self.slow_horizontal)))


def drawn_trials(
    designs: Sequence[Design],
    targets: Sequence[Target],
    *,
    draws: int,
    read_at: float,
    working_stop: float,
    glass: bool = True,
) -> Trial:
    """Charts from noisy readings and drawn facts, shape (designs, draws, marks).

    Without `glass` the kits state neither separation nor thickness of glass. Each design has a seed
    of its own. A kit that is refused has errors of nan and nothing good.
    """
    rows = []
    for design in designs:
        noise = np.random.default_rng([95, design.number])
        rows += [
            _drawn_trial(
                design, targets, noise, read_at=read_at, working_stop=working_stop, glass=glass
            )
            for _ in range(draws)
        ]
    shape = (len(designs), draws, len(MARKS))
    return Trial(*(np.reshape(column, shape) for column in zip(*rows, strict=True)))


def _drawn_trial(
    design: Design,
    targets: Sequence[Target],
    noise: np.random.Generator,
    *,
    read_at: float,
    working_stop: float,
    glass: bool,
) -> Trial:
    readings = noisy_readings(design, targets, noise, stop=read_at)
    try:
        stated = replace(drawn_facts(noise), glass=glass)
        chart = chart_of(design, readings, stated, working_stop=working_stop)
    except KitError:
        chart = None
    if chart is None or chart.refused:
        unknown = np.full(len(MARKS), np.nan)
        return Trial._make([unknown] * 9 + [np.zeros(len(MARKS), dtype=bool)])
    return against(design, chart, read_at=read_at)


def against(design: Design, chart: Chart, *, read_at: float = STOP) -> Trial:
    """Hold a chart to the truth."""
    as_read = arc_errors(design, chart, design.truth(MARKS_MM, stop=read_at))
    slow = arc_errors(design, chart, design.truth(MARKS_MM, stop=SLOW_STOP))
    (_, taking), (_, attachment) = chart.ring("taking"), chart.ring("attachment")
    pair_95 = chart.bench_pair_95
    assert pair_95 is not None
    return Trial(
        as_read[0],
        taking.bench_arc_95_mm,
        as_read[1],
        attachment.bench_arc_95_mm,
        *pair_errors(design, *as_read, stop=chart.working_stop),
        *pair_errors(design, *slow, stop=chart.working_stop),
        pair_95[0],
        pair_95[0] < GOOD_BELOW,
    )


def arc_errors(design: Design, chart: Chart, truth: Truth) -> tuple[Array, Array]:
    """Errors of taking lens and attachment in mm, positive where a ring stands too near."""
    (_, taking), (_, attachment) = chart.ring("taking"), chart.ring("attachment")
    return (
        design.taking_ring.sign * (taking.arc_mm - truth.taking_arc_mm),
        design.attachment_ring.sign * (attachment.arc_mm - truth.attachment_arc_mm),
    )


def pair_errors(
    design: Design, taking_mm: Array, attachment_mm: Array, *, stop: float
) -> tuple[Array, Array]:
    """Errors of a pair of rings in criteria at a stop, vertical and horizontal.

    A slip of the lens blurs the vertical meridian by its share of the tolerance, the horizontal
    one by S times as many of its own criteria; the attachment moves the horizontal alone.
    """
    allowed = design.truth(MARKS_MM, stop=STOP)
    vertical = taking_mm / allowed.taking_tolerance_mm * STOP / stop
    attached = attachment_mm / allowed.attachment_tolerance_mm * STOP / stop
    return vertical, attached - design.squeeze * vertical
