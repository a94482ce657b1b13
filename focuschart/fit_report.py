"""What the readings are worth, as text: each ring's fit, each rig's marks, what to read next."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from focuschart.chart.advice import next_measurement, prospects
from focuschart.chart.bench import RINGS, RingKey, Which, ring_key
from focuschart.chart.causes import told
from focuschart.chart.model import RigChart
from focuschart.chart.residuals import Repeatability, repeatability, residuals
from focuschart.chart.scales import MeasuredScale
from focuschart.chart.verdict import extrapolated, verdicts
from focuschart.kit.schema import Kit
from focuschart.optics.arrays import Floats
from focuschart.report import aligned, sureness
from focuschart.scale.budget import SOURCES, error_budget
from focuschart.units import Units, distance_label, format_stop

Lines = Iterator[str]

_CONSTANTS = {
    "arc_infinity_mm": ("infinity on the ruler", "mm"),
    "arc_per_travel": ("arc per travel", "mm per mm"),
    "focal_length_mm": ("focal length", "mm"),
    "hiatus_mm": ("hiatus", "mm"),
    "front_focal_mm": ("front group's focal length", "mm"),
    "offset_mm": ("front group ahead of its glass", "mm"),
    "squeeze": ("squeeze", ""),
}
_LANE = 17
_LANE_SIGMA = 4.0
_NEXT = {"taking": "the taking lens's ring", "attachment": "the attachment's ring"}


def fit_report(kit: Kit, charts: Sequence[RigChart]) -> str:
    """Return the report: every ring once, then every rig."""
    rings: dict[RingKey, MeasuredScale] = {}
    for chart in charts:
        for which, measured in _measured(chart).items():
            rings.setdefault(ring_key(chart.rig, which), measured)
    parts = [_ring_lines(kit, measured) for measured in rings.values()]
    parts += [_rig_lines(kit, chart) for chart in charts]
    return "\n\n".join("\n".join(part) for part in parts) + "\n"


def _measured(chart: RigChart) -> Mapping[Which, MeasuredScale]:
    rings = zip(RINGS, (chart.taking, chart.attachment), strict=True)
    return {which: marks.measured for which, marks in rings if marks is not None}


def _ring_lines(kit: Kit, measured: MeasuredScale) -> Lines:
    readings, scale = measured.readings, measured.scale
    rig = measured.rows[0].rig
    name = rig.lens.name if readings.which == "taking" else rig.attachment.name
    yield f"{name} ({readings.part}): {len(measured.rows)} readings"
    yield from aligned(_constant_rows(measured))
    yield _agreement(scale.sum_of_squares, scale.problem.freedom, contradicted=scale.contradicted)
    found = repeatability(measured)
    yield _repeats(found) if found else "No repeats: how well you read and focus is taken on trust."
    yield from (f"Probably {told(cause, kit.units)}." for cause in measured.causes[:1])
    yield from (f"Or {told(cause, kit.units)}." for cause in measured.causes[1:3])
    yield ""
    yield from aligned(_reading_rows(measured, kit.units))
    ignored = [f"readings[{i}]" for i, reading in enumerate(kit.readings) if reading.ignore]
    if ignored:
        yield f"Ignored by your word: {', '.join(ignored)}."


def _constant_rows(measured: MeasuredScale) -> Iterator[Sequence[str]]:
    named = measured.scale.named()
    departures = [value / 1.0 for name, (value, _) in named.items() if name not in _CONSTANTS]
    for name, (value, error) in named.items():
        if name in _CONSTANTS:
            label, unit = _CONSTANTS[name]
            yield [f"  {label}", f"{value:.3f}", "±", f"{error:.3f}", unit]
    if departures:
        yield [
            "  departure from a hyperbola",
            f"{max(map(abs, departures)):.2f}",
            "",
            "",
            "at most",
        ]


def _agreement(chi_square: float, freedom: int, *, contradicted: bool) -> str:
    scatter = math.sqrt(chi_square / freedom)
    figure = f"The readings scatter {scatter:.1f} times as much as ruler, eye and tape explain"
    return f"{figure}: they disagree." if contradicted else f"{figure}: nothing amiss."


def _repeats(found: Repeatability) -> str:
    low, high = found.range_95
    times = f"{found.freedom} repeat" + ("s" if found.freedom > 1 else "")
    text = (
        f"Repeats scatter by {found.sigma_mm:.2f} mm ({times}; 95 %: {low:.2f} to {high:.2f}), "
        f"{found.expected_mm:.2f} mm is supposed"
    )
    return f"{text}: read more carefully." if low > found.expected_mm else f"{text}."


def _reading_rows(measured: MeasuredScale, units: Units) -> Iterator[Sequence[str]]:
    off = residuals(measured)
    yield ["  reading", "rig", "distance", "stop", "figure", "off mm", "in distance",
           "in tolerances", "low   as expected   high"]  # fmt: skip
    for i, row in enumerate(measured.rows):
        yield [
            f"  readings[{row.index}]",
            row.rig.rig_id,
            distance_label(row.reading.distance, units),
            format_stop(row.reading.stop),
            f"{row.figure_mm:.1f}",
            f"{off.arc_mm[i]:+.2f}",
            _distance(float(off.distance_mm[i])),
            f"{off.tolerance[i]:+.2f}",
            _lane(off.arc_mm[i] / off.expected_mm[i])
            + ("  <" if i in measured.scale.disagreeing else ""),
        ]


def _distance(error_mm: float) -> str:
    """Return what a residual amounts to in subject distance; nothing at infinity."""
    if math.isnan(error_mm):
        return "-"
    return f"{error_mm:+.0f} mm" if abs(error_mm) < 1000.0 else f"{error_mm / 1000.0:+.1f} m"


def _lane(sigmas: float) -> str:
    """Return a residual on a lane four standard deviations to either side; bars at two."""
    middle = _LANE // 2
    lane = ["."] * _LANE
    for side in (-1, 1):
        lane[middle + side * round(middle * 2.0 / _LANE_SIGMA)] = ":"
    lane[middle] = "|"
    place = middle + round(middle * max(-1.0, min(1.0, sigmas / _LANE_SIGMA)))
    lane[place] = "o"
    return f"[{''.join(lane)}]"


def _rig_lines(kit: Kit, chart: RigChart) -> Lines:
    name = f"{chart.rig.name} ({chart.rig.rig_id})"
    yield f"{name}: how sure each pair of marks is, 95 %, in tolerances"
    if chart.pair_95 is None:
        yield from sureness(chart, units=kit.units)
        return
    yield from aligned(_mark_rows(chart, kit.units))
    yield ""
    yield f"Where it comes from at {format_stop(chart.working_stop)}, % of the pair's variance"
    yield from aligned(_budget_rows(chart, kit.units))
    yield ""
    yield from sureness(chart, units=kit.units)
    if not chart.contradicted:
        yield _next(kit, chart)


def _mark_rows(chart: RigChart, units: Units) -> Iterator[Sequence[str]]:
    assert chart.pair_95 is not None
    words = [verdicts(chart, stop=number) for number in range(len(chart.stops))]
    near = extrapolated(chart)
    yield ["  subject", *(format_stop(float(stop)) for stop in chart.stops), ""]
    for i, distance in enumerate(chart.distances_mm):
        cells = [f"{chart.pair_95[n, i]:.2f} {words[n][i]}" for n in range(len(chart.stops))]
        label = distance_label(float(distance), units)
        yield [f"  {label}", *cells, "extrapolated" if near[i] else ""]


def _budget_rows(chart: RigChart, units: Units) -> Iterator[Sequence[str]]:
    """Yield the shares of each ring's sources in the pair's variance, a column each mark."""
    shares = {
        f"  {name}, {source}": share
        for name, which in (("lens", "taking"), ("attachment", "attachment"))
        for source, share in _shares(chart, which).items()
    }
    total = np.add.reduce(list(shares.values()))
    yield ["  subject", *(distance_label(float(d), units) for d in chart.distances_mm), ""]
    for name, share in shares.items():
        percent = 100.0 * share / total
        if np.max(percent) >= 0.5:
            yield [name, *(f"{value:.0f}" for value in percent), ""]


def _shares(chart: RigChart, which: str) -> Mapping[str, Floats]:
    """Return the variance of a ring's marks by source, in squared tolerances."""
    _, marks = chart.ring(which)
    rig, measured = chart.rig, marks.measured
    position = rig.lens_position_mm if which == "taking" else rig.glass_position_mm
    budget = error_budget(
        measured.scale, position(chart.distances_mm), pool=measured.lens_number(rig.lens_id)
    )
    return {source: budget[source] / np.square(marks.tolerance_mm[0]) for source in SOURCES}


def _next(kit: Kit, chart: RigChart) -> str:
    measured = _measured(chart)
    stop = min(row.reading.stop for ring in measured.values() for row in ring.rows)
    pair = prospects(chart.rig, chart.working_stop, measured)
    advice = next_measurement(kit, chart.rig, pair, stop)
    times = {1: "once more", 2: "twice", 4: "four times"}[advice.repeats]
    return (
        f"Next: read {_NEXT[advice.which]} at {distance_label(advice.distance_mm, kit.units)}, "
        f"{times}: the least sure mark goes from {advice.before:.2f} to {advice.after:.2f} "
        "tolerances."
    )
