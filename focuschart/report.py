"""Charts as text for people and as data for machines."""

from __future__ import annotations

import csv
import io
import json
import math
import re
import textwrap
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from focuschart.chart.model import RigChart, RingMarks
from focuschart.chart.verdict import (
    GOOD_BELOW,
    extrapolated,
    remarks,
    trusted_from,
    verdicts,
)
from focuschart.optics.depth_of_field import Limits
from focuschart.scale.fit import arc_constant
from focuschart.scale.laws import AttachmentLaw
from focuschart.units import Units, distance_label, format_range, format_stop

Row = Sequence[str]

WIDTH = 100
_TIE = "\N{NO-BREAK SPACE}"
_UNIT = re.compile(
    r"(?<=\d) (?=(?:%|N|kg|g|mm|m|s|dioptres)(?:\W|$))|(?<=\d N) (?=m\b)|(?<=×) | (?=×)"
)


def as_text(charts: Iterable[RigChart], *, units: Units) -> str:
    """Return readable tables, one rig below the other."""
    return "\n\n".join("\n".join(_rig_lines(chart, units)) for chart in charts) + "\n"


def _rig_lines(chart: RigChart, units: Units) -> Iterator[str]:
    rig, stop = chart.rig, format_stop(chart.working_stop)
    yield f"{rig.name} ({rig.rig_id})  code {chart.revision}"
    yield f"{rig.lens.name} with {rig.attachment.name}, circle of confusion {rig.circle_mm:.4f} mm"
    yield ""
    yield f"Ring settings: mm on the ruler, ± 95 %, tolerance at {stop}; subject from the sensor"
    yield from aligned(_settings_rows(chart, units))
    yield ""
    yield "Depth of field of the frame, near to far, rounded inward"
    yield from aligned(_depth_rows(chart, units))
    yield ""
    yield from sureness(chart, units=units)


def sureness(chart: RigChart, *, units: Units) -> Iterator[str]:
    """Yield in plain sentences how far the chart can be trusted."""
    if chart.pair_95 is not None:
        worst = int(np.argmax(chart.pair_95[0]))
        label = distance_label(float(chart.distances_mm[worst]), units)
        error = chart.pair_95[0, worst]
        stop = format_stop(chart.working_stop)
        yield f"Least sure: {label}, the pair is within {error:.2f} tolerances at {stop} (95 %)."
        yield _trust(chart)
    yield from (f"Note: {remark}." for remark in remarks(chart, units))


def _trust(chart: RigChart) -> str:
    if chart.contradicted:
        return "Readings disagree: trust no mark until they are checked."
    usable, good = trusted_from(chart), trusted_from(chart, below=GOOD_BELOW)
    if usable is None:
        return "No stop is slow enough for these marks: take more readings."
    better = f"; good from {format_stop(good)}" if good is not None else ""
    trust = f"The whole chart is within tolerance from {format_stop(usable)} on{better}."
    if usable < 1.5 * chart.read_at:
        return trust
    return f"{trust} Glass may shift its focus so far from {format_stop(chart.read_at)}: check."


def _settings_rows(chart: RigChart, units: Units) -> Iterator[Row]:
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
        cells += [f"{chart.squeeze[i]:.3f}", verdict + (", extrapolated" if far[i] else "")]
        yield cells


def _ring_cells(marks: RingMarks | None, i: int) -> list[str]:
    if marks is None:
        return ["-", "-", "-"]
    values = (marks.arc_95_mm[i], marks.tolerance_mm[0, i])
    return [f"{marks.arc_mm[i]:.1f}", *(f"{value:.2f}" for value in values)]


def _depth_rows(chart: RigChart, units: Units) -> Iterator[Row]:
    yield ["subject", *(format_stop(float(stop)) for stop in chart.stops)]
    for i, distance in enumerate(chart.distances_mm):
        limits = zip(chart.frame.near_mm[:, i], chart.frame.far_mm[:, i], strict=True)
        ranges = [format_range(float(near), float(far), units) for near, far in limits]
        yield [distance_label(float(distance), units), *ranges]


def aligned(rows: Iterable[Row]) -> Iterator[str]:
    """Yield rows as lines with columns aligned: the first and the last left, others right."""
    table = [list(row) for row in rows]
    widths = [max(len(row[i]) for row in table) for i in range(len(table[0]))]
    last = len(widths) - 1
    for row in table:
        cells = [
            cell.ljust(width) if i in (0, last) else cell.rjust(width)
            for i, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        yield "  ".join(cells).rstrip()


def wrapped(text: str, *, indent: str = "", further: str = "") -> Iterator[str]:
    """Yield a sentence as lines of `WIDTH` at most, none broken between a figure and its unit."""
    bound = _UNIT.sub(_TIE, text)
    lines = textwrap.wrap(
        bound, WIDTH, initial_indent=indent, subsequent_indent=further, break_on_hyphens=False
    )
    yield from (line.replace(_TIE, " ") for line in lines)


def as_json(charts: Iterable[RigChart]) -> str:
    """Return the stable data described in the README, one entry a rig."""
    data = {"format": 1, "rigs": [rig_data(chart) for chart in charts]}
    return json.dumps(data, indent=1, ensure_ascii=True, allow_nan=False) + "\n"


def rig_data(chart: RigChart) -> dict[str, Any]:
    """Return one rig's chart as plain data, infinity and the unknown as None."""
    return {
        "rig": chart.rig.rig_id,
        "taking_lens": chart.rig.lens_id,
        "attachment": chart.rig.attachment_id,
        "revision": chart.revision,
        "circle_of_confusion_mm": chart.rig.circle_mm,
        "working_stop": chart.working_stop,
        "trusted_from_stop": trusted_from(chart),
        "notes": list(remarks(chart, "metric")),
        "scales": {name: _scale_data(marks) for name, (_, marks) in chart.rings().items()},
        "marks": [_mark_data(chart, i) for i in range(len(chart.distances_mm))],
    }


def _scale_data(marks: RingMarks | None) -> dict[str, Any] | None:
    if marks is None:
        return None
    scale = marks.measured.scale
    constants = dict(scale.named())
    if isinstance(scale.law, AttachmentLaw):
        constants["arc_constant_mm2"] = arc_constant(scale)
    return {
        name: {"value": value, "standard_error": error}
        for name, (value, error) in constants.items()
    }


def _mark_data(chart: RigChart, i: int) -> dict[str, Any]:
    taking = {"extension_mm": _finite(chart.extension_mm[i]), **_ring_data(chart.taking, i)}
    attachment = {
        "separation_mm": _finite(chart.separation_mm[i]),
        "separation_95_mm": _finite(chart.separation_95_mm[i]),
        **_ring_data(chart.attachment, i),
    }
    pair = chart.pair_95
    return {
        "distance_mm": _finite(chart.distances_mm[i]),
        "taking": taking,
        "attachment": attachment,
        "squeeze": _finite(chart.squeeze[i]),
        "pair_95": None if pair is None else _by_stop(chart, pair[:, i]),
        "verdict": verdicts(chart)[i],
        "extrapolated": bool(extrapolated(chart)[i]),
        "depth": _depth_data(chart, i),
    }


def _ring_data(marks: RingMarks | None, i: int) -> dict[str, Any]:
    if marks is None:
        return dict.fromkeys(
            ("arc_mm", "arc_95_mm", "tolerance_mm", "engraved_mm", "engraved_text")
        )
    return {
        "arc_mm": _finite(marks.arc_mm[i]),
        "arc_95_mm": _finite(marks.arc_95_mm[i]),
        "tolerance_mm": _finite(marks.tolerance_mm[0, i]),
        "engraved_mm": _finite(marks.engraved_mm[i]),
        "engraved_text": marks.engraved_text[i] or None,
    }


def _by_stop(chart: RigChart, values: Iterable[float]) -> dict[str, float | None]:
    return {f"{stop:g}": _finite(value) for stop, value in zip(chart.stops, values, strict=True)}


def _depth_data(chart: RigChart, i: int) -> dict[str, dict[str, list[float | None]]]:
    kinds: Mapping[str, Limits] = {
        "vertical": chart.vertical, "horizontal": chart.horizontal, "frame": chart.frame,
    }  # fmt: skip
    return {
        f"{stop:g}": {
            kind: [_finite(limits.near_mm[j, i]), _finite(limits.far_mm[j, i])]
            for kind, limits in kinds.items()
        }
        for j, stop in enumerate(chart.stops)
    }


def _finite(value: float) -> float | None:
    """Return a number to a billionth of a metre, None for infinity and the unknown."""
    return round(float(value), 6) if math.isfinite(value) else None


def as_csv(charts: Iterable[RigChart]) -> str:
    """Return one line a mark, with a header; infinity and the unknown are empty."""
    out = io.StringIO()
    writer: Any = None
    for chart in charts:
        for mark in rig_data(chart)["marks"]:
            flat = {"rig": chart.rig.rig_id, "revision": chart.revision, **_flat(mark)}
            if writer is None:
                writer = csv.DictWriter(out, list(flat), lineterminator="\n")
                writer.writeheader()
            writer.writerow(flat)
    return out.getvalue()


def _flat(mark: Mapping[str, Any]) -> dict[str, Any]:
    """Return a mark as a flat line: nested keys joined, of depth the frame's limits only."""
    flat = {"distance_mm": mark["distance_mm"], "squeeze": mark["squeeze"]}
    for ring in ("taking", "attachment"):
        flat |= {f"{ring}_{key}": value for key, value in mark[ring].items()}
    for stop, limits in mark["depth"].items():
        flat |= dict(zip((f"f{stop}_near_mm", f"f{stop}_far_mm"), limits["frame"], strict=True))
    return {**flat, "verdict": mark["verdict"]}
