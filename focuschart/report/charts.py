"""Charts as readable tables."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from focuschart.chart.height import heights_text
from focuschart.chart.marks import RingMarks
from focuschart.chart.model import Chart
from focuschart.chart.sureness import sureness
from focuschart.chart.verdict import extrapolated, in_words, verdicts
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
