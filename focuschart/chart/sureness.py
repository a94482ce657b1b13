"""How far a chart can be trusted, in plain sentences."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from focuschart.chart.model import Chart
from focuschart.chart.verdict import next_steps, remarks, strip_from, trusted_from
from focuschart.units import Units, distance_label, format_stop


def sureness(chart: Chart, *, units: Units) -> Iterator[str]:
    """Yield in plain sentences how far the chart can be trusted."""
    if chart.pair_95 is not None:
        worst = int(np.argmax(chart.pair_95[0]))
        label = distance_label(float(chart.distances_mm[worst]), units)
        error = chart.pair_95[0, worst]
        stop = format_stop(chart.working_stop)
        yield (
            f"Least sure: {label}: set by hand, the pair is within {error:.2f} tolerances at "
            f"{stop} (95 %)."
        )
        yield _trust(chart)
        yield from _gains(chart)
    yield from (f"Note: {remark}." for remark in remarks(chart, units))


def _trust(chart: Chart) -> str:
    if chart.contradicted:
        return "Readings disagree: trust no mark until they are checked."
    usable, strips = trusted_from(chart), strip_from(chart)
    if usable is None:
        return "No stop is slow enough for these marks: take more readings."
    alone = "" if strips in (None, usable) else f"; the strips themselves from {_stop(strips)}"
    trust = (
        f"All marks together, each set by hand, are within tolerance from {_stop(usable)}{alone}."
    )
    if usable < 1.5 * chart.read_at:
        return trust
    return f"{trust} Glass may shift its focus so far from {format_stop(chart.read_at)}: check."


_LEAST_GAIN = 0.1
"""Of a stop: less is not worth a sentence."""


def _stop(stop: float | None) -> str:
    return "no stop" if stop is None else format_stop(stop)


_STEPS = {
    "index_by_focus": "an index chosen by focus on each ring",
    "camera_test": "a camera test, and the tick that it finds",
    "photographs": "rings read by photograph, and each strip's taping found so and taken out",
}


def _gains(chart: Chart) -> Iterator[str]:
    """Yield what each next step would gain, where that shows."""
    gains = [
        f"{_STEPS[name]} would gain {gain:.1f} stop{'' if gain < 1.05 else 's'}, to {_stop(stop)}"
        for name, (gain, stop) in next_steps(chart).items()
        if gain >= _LEAST_GAIN
    ]
    if gains:
        yield f"{'; '.join(gains)}.".capitalize()
