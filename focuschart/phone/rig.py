"""All that the page shows of one rig, as plain data: from its chart, and made by nothing else."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from focuschart.chart.engraved import engraved_text
from focuschart.chart.height import heights_text
from focuschart.chart.locked import nearest_mm
from focuschart.chart.marks import RingMarks
from focuschart.chart.model import Chart
from focuschart.chart.verdict import FULL_STOPS, remarks
from focuschart.kit.ring import Ring
from focuschart.layout.page import Face
from focuschart.optics.arrays import Floats
from focuschart.pages.cautions import CAUTIONS
from focuschart.pages.columns import DISTANCE_UNIT, mark_column, zone_columns
from focuschart.phone.steps import slider_mm
from focuschart.phone.strip import strip_data
from focuschart.phone.table import LIMITS, LOCKED_ARCS, SHARES, Table, tables_of
from focuschart.prints.code import chart_code, codes
from focuschart.rig.light import clean_text
from focuschart.rig.ring import RINGS, Which
from focuschart.units import Units, distance_label, format_stop

_ARC_DECIMALS = 4
_NEARNESS_DECIMALS = 10
"""Decimals of 1/mm: a limit at 10 km is then within half a thousandth."""
_DECIMALS: Mapping[str, int] = {
    **dict.fromkeys(RINGS, _ARC_DECIMALS),
    **dict.fromkeys(LIMITS, _NEARNESS_DECIMALS),
    **dict.fromkeys(LOCKED_ARCS, 3),
    **dict.fromkeys(("gauge", *SHARES), 7),
    **dict.fromkeys(("squeeze", "squeeze95"), 6),
    "need": 5,
}
"""Decimals of each kind of column: far finer than what is asked of it."""
_WORDS_MM, _WORDS_TO_MM = 0.4, 0.005
"""How finely the words of an engraved scale are looked for along it, and where they change."""
_BEYOND_MM = 1.2

RigData = Mapping[str, Any]
"""Plain data: texts, numbers, lists and mappings; None for infinity."""


def rig_data(chart: Chart, *, face: Face) -> RigData:
    """Return the data of a rig's page; a ring without a scale is in `missing`."""
    tables, rig = tables_of(chart), chart.rig
    marks = sorted(chart.distances_mm.tolist())
    nearest = min(nearest_mm(rig), marks[0])
    rings = {which: marks for which, (_, marks) in chart.rings().items() if marks is not None}
    return {
        "id": rig.rig_id,
        "name": rig.name,
        "parts": f"{rig.lens.name} · {rig.attachment.name}",
        "code": chart_code(chart),
        "stops": sorted(chart.stops.tolist()),
        "working": chart.working_stop,
        "marks": [_finite(mark) for mark in marks],
        "slider": [_finite(step) for step in slider_mm(marks, nearest, chart.kit.units)],
        "nearest": nearest,
        "read": chart.nearest_read_mm if chart.pair is not None else None,
        "contradicted": chart.contradicted,
        "fullStops": sorted({float(np.min(chart.stops)), *FULL_STOPS}),
        "pole": tables.pole_mm,
        "settings": _table(tables.settings),
        "zones": _table(tables.zones),
        "rings": {which: _ring(chart, which, own, face) for which, own in rings.items()},
        "missing": list(_missing(chart)),
        "notes": list(_notes(chart)),
        "table": _marks_table(chart, rings),
    }


def _finite(value: float) -> float | None:
    return None if math.isinf(value) else value


# --- tables ---------------------------------------------------------------------------------------


def _table(table: Table) -> dict[str, Any]:
    """Return a table as whole numbers: rows by their steps, columns by their bends."""
    rows = _whole(table.rows, _NEARNESS_DECIMALS)
    columns = {
        name: [decimals, *_bends(_whole(column, decimals), rows)]
        for name, column in table.columns.items()
        for decimals in (_DECIMALS[name.partition(":")[0]],)
    }
    return {"rows": [_NEARNESS_DECIMALS, *np.diff(rows, prepend=0).tolist()], "columns": columns}


def _whole(column: Floats, decimals: int) -> NDArray[np.int64]:
    return np.round(np.asarray(column) * 10.0**decimals).astype(np.int64)


def _bends(column: NDArray[np.int64], rows: NDArray[np.int64]) -> list[int]:
    """Return a column's first figure, its first step, and how each further figure is off a line.

    The line runs on through the two figures before: columns are nearly straight over the rows, so
    the bends are short to write. The page adds them up in the same whole numbers.
    """
    step, row = np.diff(column), np.diff(rows)
    onward = np.floor(step[:-1] * row[1:] / row[:-1] + 0.5).astype(np.int64)
    return [int(column[0]), *step[:1].tolist(), *(step[1:] - onward).tolist()]


# --- rings ----------------------------------------------------------------------------------------


def _ring(chart: Chart, which: Which, marks: RingMarks, face: Face) -> dict[str, Any]:
    ring, _ = chart.ring(which)
    made = codes(chart)
    return {
        "name": chart.rig.lens.name if which == "taking" else chart.rig.attachment.name,
        "code": made[which],
        "turns": ring.nearer_turns,
        "ends": [round(end, _ARC_DECIMALS) for end in _ends(ring, marks)],
        "words": [list(pair) for pair in _words(ring, chart.kit.units)],
        "strip": strip_data(chart, which, face=face),
    }


def _ends(ring: Ring, marks: RingMarks) -> tuple[float, float]:
    """Return the arcs between which a ring can turn, as `off_the_ring` in `chart/verdict.py`."""
    read = [row.figure_mm for row in marks.measured.rows]
    span = ring.turns * ring.ruler_length_mm
    return max(read) - span, min(read) + span


def _words(ring: Ring, units: Units) -> Iterator[tuple[float, str]]:
    """Yield the words for what an engraved scale shows, each with the arc from which they hold."""
    if len(ring.engraved) < 2:
        return
    figures = [mark.ruler for mark in ring.engraved]
    low, high = min(figures) - _BEYOND_MM, max(figures) + _BEYOND_MM

    def text(arc: float) -> str:
        return engraved_text(ring.engraved, arc, label=partial(distance_label, units=units))

    last = text(low)
    for arc in np.arange(low, high, _WORDS_MM).tolist():
        found = text(arc)
        if found != last:
            start, end = arc - _WORDS_MM, arc
            while end - start > _WORDS_TO_MM:
                middle = (start + end) / 2.0
                start, end = (middle, end) if text(middle) == last else (start, middle)
            yield round(end, 3), text(end)
            last = found


def _marks_table(chart: Chart, rings: Mapping[Which, RingMarks]) -> list[list[str]]:
    """Return the marks' table for a viewer that runs no script, its heading first."""
    zones = zone_columns(chart, chart.frame)[format_stop(chart.working_stop)]
    columns = [
        [DISTANCE_UNIT[chart.kit.units], *mark_column(chart)],
        *([f"{which} mm", *(f"{arc:.1f}" for arc in own.arc_mm)] for which, own in rings.items()),
        [f"sharp at {format_stop(chart.working_stop)}", *zones],
    ]
    return [list(row) for row in zip(*columns, strict=True)]


# --- words ----------------------------------------------------------------------------------------


def _missing(chart: Chart) -> Iterator[str]:
    """Yield what the rig must do without, a sentence each."""
    for which, (_, marks) in chart.rings().items():
        if marks is None and which in chart.refused:
            yield f"The {which} ring has no scale: {chart.refused[which].rule}."
        elif marks is None:
            yield f"The {which} ring has no readings: tape its ruler strip on and read it."
    if chart.pair is None:
        yield (
            "Without both rings' scales there is no setting for this distance, nor how sure it is, "
            "nor the zone with the attachment locked. What is sharp is told by the optics alone."
        )
    yield from (
        f"{each.what} left out: {each.why}." for each in chart.left_out if each.kind == "part"
    )


def _notes(chart: Chart) -> Iterator[str]:
    if chart.kit.bench.side:
        yield f"Come to each mark from the {chart.kit.bench.side} side."
    yield heights_text(chart)
    if chart.light is not None:
        yield f"Picture's {clean_text(chart.light)} (half their light or more)."
    if chart.pair is not None:
        yield from _sentences(remarks(chart, chart.kit.units))
    yield from CAUTIONS


def _sentences(remarks: Iterable[str]) -> Iterator[str]:
    yield from (f"{remark[:1].upper()}{remark[1:]}." for remark in remarks)
