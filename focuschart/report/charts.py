"""Charts as readable tables."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np

from focuschart.chart.height import heights_text
from focuschart.chart.marks import RingMarks
from focuschart.chart.model import Chart
from focuschart.chart.verdict import (
    extrapolated,
    in_words,
    next_steps,
    remarks,
    strip_from,
    trusted_from,
    verdicts,
)
from focuschart.checks.wording import squeeze_text
from focuschart.prints.code import chart_code
from focuschart.report.lines import Row, aligned
from focuschart.units import Units, distance_label, format_range, format_stop


def as_text(charts: Iterable[Chart], *, units: Units) -> str:
    """Return readable tables, one rig below the other."""
    return "".join(text_parts(charts, units=units))


def text_parts(charts: Iterable[Chart], *, units: Units) -> Iterator[str]:
    """Yield the same a rig at a time, for more rigs than should be kept in memory."""
    between = ""
    for chart in charts:
        yield between + "\n".join(_rig_lines(chart, units))
        between = "\n\n"
    yield "\n" if between else ""


def _rig_lines(chart: Chart, units: Units) -> Iterator[str]:
    stop = format_stop(chart.working_stop)
    yield from heading(chart)
    yield ""
    yield f"Ring settings: mm on the ruler, ± 95 % as set by hand, tolerance at {stop}"
    yield from aligned(_settings_rows(chart, units))
    yield from _heights(chart, stop)
    yield ""
    yield "Depth of field of the frame, near to far, rounded inward"
    yield from aligned(_depth_rows(chart, units))
    yield ""
    yield from sureness(chart, units=units)


def _heights(chart: Chart, stop: str) -> Iterator[str]:
    """Yield for which height in the picture the marks are, and how far others are off."""
    text = heights_text(chart)
    if text:
        yield text
        yield f"Of the attachment, at {stop}; what the taking lens's own field adds is not known."


def heading(chart: Chart) -> Iterator[str]:
    """Yield what a rig is: its name, code and parts."""
    rig = chart.rig
    yield f"{rig.name} ({rig.rig_id})  code {chart_code(chart)}"
    yield f"{rig.lens.name} with {rig.attachment.name}, circle of confusion {rig.circle_mm:.4f} mm"


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


def _settings_rows(chart: Chart, units: Units) -> Iterator[Row]:
    rings = [marks for _, marks in chart.rings().values()]
    scales = {
        name: marks.engraved_text
        for name, marks in zip(("lens scale", "att. scale"), rings, strict=True)
        if marks is not None and any(marks.engraved_text)
    }
    yield ["subject", "lens", "±", "tol", "attachment", "±", "tol", *scales, "squeeze", "pair"]
    far = extrapolated(chart)
    for i, verdict in enumerate(verdicts(chart)):
        cells = [distance_label(float(chart.distances_mm[i]), units)]
        for marks in rings:
            cells += _ring_cells(marks, i)
        cells += [texts[i] or "off scale" for texts in scales.values()]
        cells += [squeeze_text(chart, i), in_words(verdict, extrapolated=far[i])]
        yield cells


def _ring_cells(marks: RingMarks | None, i: int) -> list[str]:
    if marks is None:
        return ["-", "-", "-"]
    values = (marks.arc_95_mm[i], marks.tolerance_mm[0, i])
    return [f"{marks.arc_mm[i]:.1f}", *(f"{value:.2f}" for value in values)]


def _depth_rows(chart: Chart, units: Units) -> Iterator[Row]:
    yield ["subject", *(format_stop(float(stop)) for stop in chart.stops)]
    for i, distance in enumerate(chart.distances_mm):
        limits = zip(chart.frame.near_mm[:, i], chart.frame.far_mm[:, i], strict=True)
        ranges = [format_range(float(near), float(far), units) for near, far in limits]
        yield [distance_label(float(distance), units), *ranges]
