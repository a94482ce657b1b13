"""What the readings are worth, as text: each ring's fit, each rig's marks, what to read next."""

from __future__ import annotations

import math
from collections.abc import Container, Iterable, Iterator, Mapping, Sequence

import numpy as np

from focuschart.bench.advice import FAR_MM
from focuschart.bench.cause import cause_text
from focuschart.bench.residuals import Repeatability, largest_departure_mm, repeatability, residuals
from focuschart.bench.scales import MeasuredScale
from focuschart.chart.advice import next_reading
from focuschart.chart.locked import unread
from focuschart.chart.model import Chart
from focuschart.chart.sureness import sureness
from focuschart.chart.verdict import extrapolated, verdicts
from focuschart.errors import LeftOut
from focuschart.kit.naming import reading_name
from focuschart.kit.schema import Kit
from focuschart.optics.arrays import Floats
from focuschart.report.lines import WIDTH, aligned, wrapped
from focuschart.rig.ring import RINGS, RingKey, Which, ring_key
from focuschart.scale.budget import SOURCES, error_budget
from focuschart.scale.fit import ONE_IN_100_SIGMA, RingScale, chi_square_point
from focuschart.units import MM_PER_FOOT, MM_PER_INCH, Units, distance_label, format_stop

Lines = Iterator[str]
Cells = list[str]

_CONSTANTS = {
    "arc_infinity_mm": ("infinity on the ruler", "mm"),
    "arc_per_travel": ("arc per travel", "mm per mm"),
    "focal_length_mm": ("focal length", "mm"),
    "hiatus_mm": ("hiatus", "mm"),
    "front_focal_mm": ("front group's focal length", "mm"),
    "offset_mm": ("front group ahead of its glass", "mm"),
    "squeeze": ("squeeze", ""),
}
_OF_A_CURVE = {
    "arc_infinity_mm": ("infinity on the ruler", "mm"),
    "arc_per_travel": ("hyperbola's scale", "mm"),
    "offset_mm": ("hyperbola's offset", "mm"),
}
"""Of a lens that focuses inside or by a cam no travel is known, only a curve."""
_SAID_FROM = 1.1**2
_LANE = 17
_LANE_SIGMA = 4.0
_RING = {"taking": "the taking lens's ring", "attachment": "the attachment's ring"}
_TIMES = {1: "once", 2: "twice", 4: "four times"}


def fit_report(kit: Kit, charts: Sequence[Chart]) -> str:
    """Return the report: every ring once, then every rig."""
    rings: dict[RingKey, MeasuredScale] = {}
    for chart in charts:
        for which, measured in _measured(chart).items():
            rings.setdefault(ring_key(chart.rig, which), measured)
    parts = [
        *(_ring_lines(kit, measured) for measured in rings.values()),
        _ignored(kit, charts),
        *(_rig_lines(kit, chart) for chart in charts),
    ]
    texts = ("\n".join(part) for part in parts)
    return "\n\n".join(text for text in texts if text) + "\n"


def entered(kit: Kit, chart: Chart, numbers: Container[int]) -> Lines:
    """Yield how far the readings of these numbers lie from the scales of a rig's rings."""
    for which, measured in _measured(chart).items():
        off = residuals(measured)
        for i, row in enumerate(measured.rows):
            if row.index in numbers:
                beyond = i in measured.blamed
                named = reading_name(row.reading, kit.units, ring=which)
                yield (
                    f"{named}: {_signed(off.arc_mm[i], 2)} mm from "
                    f"the scale, {_signed(off.tolerance[i], 2)} tolerances"
                    f"{': it disagrees, read it again' if beyond else ''}"
                )
    if chart.causes:
        yield f"{chart.how_likely.capitalize()} {cause_text(chart.causes[0], kit.units)}."


def _measured(chart: Chart) -> Mapping[Which, MeasuredScale]:
    rings = zip(RINGS, (chart.taking, chart.attachment), strict=True)
    return {which: marks.measured for which, marks in rings if marks is not None}


def _broken(*sentences: str) -> Lines:
    """Yield sentences broken at the report's width."""
    for sentence in sentences:
        yield from wrapped(sentence, further="  ")


def _ignored(kit: Kit, charts: Sequence[Chart]) -> Lines:
    """Yield the readings left out of the rings shown, by name."""
    lenses = {(chart.rig.lens_id, chart.rig.camera_id) for chart in charts}
    attachments = {chart.rig.attachment_id for chart in charts}
    names = []
    for reading in kit.readings:
        if reading.rig not in kit.rigs:
            continue
        rig = kit.rigs[reading.rig]
        lens = reading.taking is not None and (rig.taking_lens, rig.camera) in lenses
        front = reading.attachment is not None and rig.attachment in attachments
        if reading.ignore and (lens or front):
            names.append(reading_name(reading, kit.units))
    if names:
        yield from _broken(f"Ignored by your word: {', '.join(names)}.")


def _ring_lines(kit: Kit, measured: MeasuredScale) -> Lines:
    readings, scale = measured.readings, measured.scale
    rig, taking = measured.rows[0].rig, readings.which == "taking"
    name = rig.lens.name if taking else rig.attachment.name
    camera = f" on cameras.{rig.camera_id}" if taking and len(kit.cameras) > 1 else ""
    yield f"{name} ({readings.part}{camera}): {len(measured.rows)} readings; ± one standard error"
    yield from aligned(_constant_rows(measured))
    yield from _broken(_agreement(scale), _repeats(repeatability(measured)))
    yield from _broken(*_doubts(measured, kit.units))
    yield ""
    yield "Each reading less the scale: mm on the ruler, subject distance (+ too far), tolerances"
    yield from aligned(_reading_rows(measured, kit.units))


def _constant_rows(measured: MeasuredScale) -> Iterator[Cells]:
    lens = measured.rows[0].rig.lens
    curve = measured.readings.which == "taking" and lens.focusing != "extends"
    labels = _OF_A_CURVE if curve else _CONSTANTS
    for name, (value, error) in measured.scale.named().items():
        if name in labels:
            label, unit = labels[name]
            yield [f"  {label}", f"{value:.3f}", "±", f"{error:.3f}", unit]
    departure = largest_departure_mm(measured)
    if departure is not None:
        yield ["  departure from the hyperbola", f"{departure:.3f}", "", "", "mm at most"]


def _agreement(scale: RingScale) -> str:
    scatter = math.sqrt(scale.sum_of_squares / scale.problem.freedom)
    figure = f"The readings scatter {scatter:.1f} times as much as ruler, eye and tape explain"
    if scale.contradicted:
        return f"{figure}: they disagree."
    known = f"each is taken as {math.sqrt(scale.noise_factor):.1f} times less sure"
    if scale.sum_of_squares > chi_square_point(scale.problem.freedom, sigmas=ONE_IN_100_SIGMA):
        return f"{figure}: hardly by chance, so {known}."
    if scale.noise_factor < _SAID_FROM:
        return f"{figure}: nothing amiss."
    return f"{figure}: nothing amiss, but so few cannot tell more, so {known}."


def _repeats(found: Repeatability | None) -> str:
    if found is None:
        return "No repeats: how well you read and focus is taken on trust."
    low, high = found.range_95
    times = f"{found.freedom} repeat" + ("s" if found.freedom > 1 else "")
    text = (
        f"Repeats scatter by {found.sigma_mm:.2f} mm ({times}; 95 %: {low:.2f} to {high:.2f} mm), "
        f"{found.expected_mm:.2f} mm is supposed"
    )
    if low > found.expected_mm:
        return f"{text}: focus and read more carefully."
    if high < found.expected_mm:
        return f"{text}: well done if you turned both rings away each time, else they do not count."
    return f"{text}."


def _doubts(measured: MeasuredScale, units: Units) -> Lines:
    """Yield which reading disagrees, and the probable causes that lie on this ring."""
    which = measured.readings.which
    for row in measured.disagreeing:
        named = reading_name(row.reading, units, ring=which)
        yield f"The reading {named} disagrees with the others, < below."
    numbers = {row.index for row in measured.rows}
    causes = [
        cause_text(cause, units)
        for cause in measured.causes
        if cause.which in (None, which) and numbers.intersection(cause.indices)
    ]
    likely = "Probably" if measured.doubtful else "Perhaps"
    for first, cause in zip((likely, "Or", "Or"), causes, strict=False):
        yield f"{first} {cause}."


def _reading_rows(measured: MeasuredScale, units: Units) -> Iterator[Cells]:
    off, rows = residuals(measured), measured.rows
    yield ["  rig", "subject", "stop", "figure", "mm off",
           "focus off", "tol off", "low  expected  high"]  # fmt: skip
    for i, row in enumerate(rows):
        mark = " <" if i in measured.blamed else ""
        yield [
            f"  {row.rig.rig_id}",
            distance_label(row.reading.distance, units),
            format_stop(row.reading.stop),
            f"{row.figure_mm:.1f}",
            _signed(float(off.arc_mm[i]), 2),
            _focus(float(off.distance_mm[i]), row.reading.distance, units),
            _signed(float(off.tolerance[i]), 2),
            _lane(off.arc_mm[i] / off.expected_mm[i]) + mark,
        ]


def _signed(value: float, decimals: int) -> str:
    return f"{round(value, decimals) + 0.0:+.{decimals}f}"  # no -0


def _focus(error_mm: float, distance_mm: float, units: Units) -> str:
    """Return what a residual is in subject distance; nothing where that says nothing."""
    if math.isnan(error_mm) or abs(error_mm) > distance_mm:
        return "-"
    if units == "imperial":
        feet, inches = error_mm / MM_PER_FOOT, error_mm / MM_PER_INCH
        return f"{_signed(inches, 1)} in" if abs(feet) < 1.0 else f"{_signed(feet, 1)} ft"
    if abs(error_mm) < 1000.0:
        return f"{_signed(error_mm, 0)} mm"
    return f"{_signed(error_mm / 1000.0, 1)} m"


def _lane(sigmas: float) -> str:
    """Return a residual on a lane four standard deviations to either side; colons at two."""
    middle = _LANE // 2
    lane = ["."] * _LANE
    for side in (-1, 1):
        lane[middle + side * round(middle * 2.0 / _LANE_SIGMA)] = ":"
    lane[middle] = "|"
    place = middle + round(middle * max(-1.0, min(1.0, sigmas / _LANE_SIGMA)))
    lane[place] = "o"
    return f"[{''.join(lane)}]"


def _rig_lines(kit: Kit, chart: Chart) -> Lines:
    name, stop = f"{chart.rig.name} ({chart.rig.rig_id})", format_stop(chart.working_stop)
    if chart.pair_95 is None:
        yield f"{name}: no marks to judge until both rings are read"
        yield from _broken(*sureness(chart, units=kit.units))
        return
    yield f"{name}: how sure each pair of marks is as set by hand, 95 %, in tolerances"
    yield from _table(_mark_columns(chart, kit.units))
    yield ""
    yield f"Where it comes from at {stop}, % of both rings' variance"
    yield from _table(_budget_columns(chart, kit.units))
    yield ""
    yield from _broken(*sureness(chart, units=kit.units))
    if not chart.contradicted:
        yield from _broken(next_sentence(chart))


def _table(columns: Iterator[Cells]) -> Lines:
    """Yield labels, columns and remarks, in as many blocks as the report's width asks for."""
    labels, *middle, remarks = columns
    room = WIDTH - _width(labels) - _width(remarks)
    while middle:
        ends = np.cumsum([_width(column) for column in middle])
        count = max(1, int(np.searchsorted(ends, room, side="right")))
        yield from aligned(zip(labels, *middle[:count], remarks, strict=True))
        middle = middle[count:]


def _width(column: Cells) -> int:
    return max(map(len, column)) + 2


def _mark_columns(chart: Chart, units: Units) -> Iterator[Cells]:
    assert chart.pair_95 is not None
    yield ["  subject", *(f"  {distance_label(float(d), units)}" for d in chart.distances_mm)]
    for number, stop in enumerate(chart.stops):
        marks = zip(chart.pair_95[number], verdicts(chart, stop=number), strict=True)
        yield [format_stop(float(stop)), *(f"{error:.2f} {word}" for error, word in marks)]
    yield ["", *("extrapolated" if near else "" for near in extrapolated(chart))]


def _budget_columns(chart: Chart, units: Units) -> Iterator[Cells]:
    """Yield the shares of each ring's sources in both rings' variance, a column each mark."""
    shares = {
        f"  {name}, {source}": share
        for name, which in zip(("lens", "attachment"), RINGS, strict=True)
        for source, share in _shares(chart, which).items()
    }
    table = np.array(list(shares.values()))
    percent = 100.0 * table / np.sum(table, axis=0)
    shown = np.max(percent, axis=1) >= 0.5
    yield ["  subject", *(name for name, is_shown in zip(shares, shown, strict=True) if is_shown)]
    for i, distance in enumerate(chart.distances_mm):
        yield [distance_label(float(distance), units), *(f"{x:.0f}" for x in percent[shown, i])]
    yield [""] * (1 + int(np.sum(shown)))


def _shares(chart: Chart, which: Which) -> Mapping[str, Floats]:
    """Return the variance of a ring's marks by source, in squared tolerances."""
    _, marks = chart.ring(which)
    rig, measured = chart.rig, marks.measured
    position = measured.position_mm(rig, chart.distances_mm)
    budget = error_budget(measured.scale, position, pool=measured.lens_number(rig.lens_id))
    hand = marks.hand
    by_hand = {
        "taping": np.full_like(marks.arc_mm, hand.offset_mm**2),
        "setting": np.full_like(marks.arc_mm, hand.setting_mm**2),
        "printing": np.square(hand.print_scale * marks.arc_mm),
    }
    sources = {**{source: budget[source] for source in SOURCES}, **by_hand}
    return {source: each / np.square(marks.tolerance_mm[0]) for source, each in sources.items()}


def unsure(charts: Iterable[Chart]) -> list[LeftOut]:
    """Return the rigs of which it cannot be told how sure the pair of rings is."""
    return [one for one in (unread(chart, "how sure the pair is") for chart in charts) if one]


def after_swap(chart: Chart) -> Lines:
    """Yield how sure a rig's marks are whose parts were swapped, and which reading would help."""
    rig, measured = chart.rig, _measured(chart)
    if "taking" not in measured:
        yield (
            f"{rig.lens.name} was never read on this camera: its ring has no marks, focus it by "
            "eye or take readings."
        )
    if "attachment" in measured and not measured["attachment"].read_on(rig.lens_id):
        yield (
            f"{rig.attachment.name} was never read on this lens: its marks are less sure than "
            "where it was read, since its scale may shift from lens to lens."
        )
    if measured:
        yield "No reading confirms the new length: check one mark on camera."
    if chart.pair_95 is not None and not chart.contradicted:
        yield next_sentence(chart)


def next_sentence(chart: Chart) -> str:
    """Say which reading would help the least sure mark of a chart most; both rings are read."""
    advice, units = next_reading(chart), chart.kit.units
    if round(advice.after, 2) >= round(advice.before, 2):
        return (
            "Next: no one reading would make the least sure mark surer than "
            f"{advice.before:.2f} tolerances."
        )
    where = f"at {distance_label(advice.distance_mm, units)}"
    if advice.distance_mm == FAR_MM:
        where = "on a far target, its distance known to 5 %"
    return (
        f"Next: read {_RING[advice.which]} {where}, {_TIMES[advice.repeats]}: the least sure mark "
        f"goes from {advice.before:.2f} to {advice.after:.2f} tolerances."
    )
