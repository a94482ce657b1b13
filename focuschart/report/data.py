"""Charts as data for machines: the stable JSON described in the guide, and CSV."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from focuschart.chart.gauge import Gauge, gauge
from focuschart.chart.marks import RingMarks
from focuschart.chart.model import Chart
from focuschart.chart.verdict import (
    extrapolated,
    next_steps,
    remarks,
    strip_from,
    sure_from,
    trusted_from,
    verdicts,
)
from focuschart.errors import LeftOut
from focuschart.optics.depth_of_field import Limits
from focuschart.prints.code import codes
from focuschart.report.numbers import by_stop, dumped, plain
from focuschart.scale.fit import arc_constant
from focuschart.scale.laws import AttachmentLaw

CHANGED = (
    "since format 1, arc_95_mm, pair_95, verdict and trusted_from_stop are those of marks as set "
    "by hand; bench_arc_95_mm and bench_pair_95 are those of the fit alone"
)


def as_json(charts: Iterable[Chart], left_out: Sequence[LeftOut] = ()) -> str:
    """Return the stable data described in the guide, one entry a rig."""
    return "".join(json_parts(charts, left_out))


def json_parts(charts: Iterable[Chart], left_out: Sequence[LeftOut] = ()) -> Iterator[str]:
    """Yield the same a rig at a time, for more rigs than should be kept in memory.

    What was left out comes last, since it may only be known by then.
    """
    yield f'{{\n "format": 2,\n "changed": "{CHANGED}",\n "rigs": ['
    between, end = "\n  ", "]"
    for chart in charts:
        text = dumped(rig_data(chart))
        yield between + text.replace("\n", "\n  ")  # a text's own line ends are escaped
        between, end = ",\n  ", "\n ]"
    missing = dumped(left_out_data(left_out)).replace("\n", "\n ")
    yield f'{end},\n "left_out": {missing}\n}}\n'


def left_out_data(left_out: Sequence[LeftOut]) -> list[dict[str, str]]:
    """Return what was left out as plain data: rig, what, why and the cure."""
    return [each.data for each in dict.fromkeys(left_out)]


def rig_data(chart: Chart) -> dict[str, Any]:
    """Return one rig's chart as plain data, infinity and the unknown as None."""
    made = codes(chart)
    return {
        "rig": chart.rig.rig_id,
        "taking_lens": chart.rig.lens_id,
        "attachment": chart.rig.attachment_id,
        "revision": made["card"],
        "codes": made,
        "circle_of_confusion_mm": chart.rig.circle_mm,
        "focus_height_mm": plain(chart.rig.focus_height_mm),
        "gauge_mm": plain(chart.kit.gauge),
        "working_stop": chart.working_stop,
        "trusted_from_stop": trusted_from(chart),
        "strip_from_stop": strip_from(chart),
        "next_steps": {
            name: {"stops": plain(gain), "trusted_from_stop": stop}
            for name, (gain, stop) in next_steps(chart).items()
        },
        "notes": list(remarks(chart, "metric")),
        "scales": {name: _scale_data(chart, marks) for name, (_, marks) in chart.rings().items()},
        "marks": list(_marks_data(chart)),
    }


def _scale_data(chart: Chart, marks: RingMarks | None) -> dict[str, Any] | None:
    if marks is None:
        return None
    scale = marks.measured.scale
    constants = dict(scale.named())
    if isinstance(scale.law, AttachmentLaw):
        constants["arc_constant_mm2"] = arc_constant(scale)
        constants["lens_shift_mm"] = scale.lens_shift_mm(
            marks.measured.lens_number(chart.rig.lens_id)
        )
    return {
        name: {"value": plain(value), "standard_error": plain(error)}
        for name, (value, error) in constants.items()
    }


def _marks_data(chart: Chart) -> Iterator[dict[str, Any]]:
    far, shares = extrapolated(chart), gauge(chart)
    for i, (verdict, stop) in enumerate(zip(verdicts(chart), sure_from(chart), strict=True)):
        sure = {"verdict": verdict, "sure_from_stop": stop, "extrapolated": bool(far[i])}
        framed = {"gauge": _gauge_data(chart, shares, i)}
        yield {**_mark_data(chart, i), **framed, **sure, "depth": _depth_data(chart, i)}


def _gauge_data(chart: Chart, shares: Gauge, i: int) -> dict[str, Any]:
    """Return the gauge's shares of the picture's height at a mark and at the ends of sharpness."""
    near, far = (by_stop(chart.stops, ends[:, i]) for ends in (shares.near, shares.far))
    return {"at": plain(shares.at[i]), "near": near, "far": far}


def _mark_data(chart: Chart, i: int) -> dict[str, Any]:
    taking = {"extension_mm": plain(chart.extension_mm[i]), **ring_data(chart.taking, i)}
    attachment = {
        "separation_mm": plain(chart.separation_mm[i]),
        "separation_95_mm": plain(chart.separation_95_mm[i]),
        **ring_data(chart.attachment, i),
    }
    pair, bench = chart.pair_95, chart.bench_pair_95
    return {
        "distance_mm": plain(chart.distances_mm[i]),
        "taking": taking,
        "attachment": attachment,
        "squeeze": plain(chart.squeeze[i]),
        "squeeze_95": plain(chart.squeeze_95[i]),
        "pair_95": None if pair is None else by_stop(chart.stops, pair[:, i]),
        "bench_pair_95": None if bench is None else by_stop(chart.stops, bench[:, i]),
    }


def ring_data(marks: RingMarks | None, i: int) -> dict[str, Any]:
    """Return a ring's mark as plain data, every key None for a ring without readings."""
    if marks is None:
        return dict.fromkeys(
            (
                "arc_mm",
                "arc_95_mm",
                "bench_arc_95_mm",
                "tolerance_mm",
                "engraved_mm",
                "engraved_text",
            )
        )
    return {
        "arc_mm": plain(marks.arc_mm[i]),
        "arc_95_mm": plain(marks.arc_95_mm[i]),
        "bench_arc_95_mm": plain(marks.bench_arc_95_mm[i]),
        "tolerance_mm": plain(marks.tolerance_mm[0, i]),
        "engraved_mm": plain(marks.engraved_mm[i]),
        "engraved_text": marks.engraved_text[i] or None,
    }


def _depth_data(chart: Chart, i: int) -> dict[str, dict[str, list[float | None]]]:
    kinds: Mapping[str, Limits] = {
        "vertical": chart.vertical, "horizontal": chart.horizontal, "frame": chart.frame,
    }  # fmt: skip
    return {
        f"{stop:g}": {
            kind: [plain(limits.near_mm[j, i]), plain(limits.far_mm[j, i])]
            for kind, limits in kinds.items()
        }
        for j, stop in enumerate(chart.stops)
    }


def as_csv(charts: Iterable[Chart]) -> str:
    """Return one line a mark, with a header; infinity and the unknown are empty."""
    return "".join(csv_parts(charts))


def csv_parts(charts: Iterable[Chart]) -> Iterator[str]:
    """Yield the same a rig at a time, for more rigs than should be kept in memory."""
    head = True
    for chart in charts:
        data, out = rig_data(chart), io.StringIO()
        rows = [
            {"rig": data["rig"], "revision": data["revision"], **_flat(mark)}
            for mark in data["marks"]
        ]
        writer = csv.DictWriter(out, list(rows[0]), lineterminator="\n")
        if head:
            writer.writeheader()
        writer.writerows(rows)
        yield out.getvalue()
        head = False


def _flat(mark: Mapping[str, Any]) -> dict[str, Any]:
    """Return a mark as a flat line: nested keys joined, of depth the frame's limits only."""
    flat = {key: mark[key] for key in ("distance_mm", "squeeze", "squeeze_95")}
    for ring in ("taking", "attachment"):
        flat |= {f"{ring}_{key}": value for key, value in mark[ring].items()}
    for stop, limits in mark["depth"].items():
        flat |= dict(zip((f"f{stop}_near_mm", f"f{stop}_far_mm"), limits["frame"], strict=True))
    return {**flat, "verdict": mark["verdict"]}
