"""Which part of a rig has changed since its bench, told from readings through a strip taped later.

The readings are predicted by the fit of the bench alone. What they are off may be an offset for
all, the strip's taping, and a share of one column: the derivative of the arcs by one part of the
rig. A part is named if its column explains what the offset does not, no other does so nearly as
well, and its change moves a mark by more than a tolerance.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from focuschart.bench.cause import LEAST_GAIN
from focuschart.bench.readings import Row
from focuschart.bench.scales import MeasuredScale
from focuschart.chart.charts import build_charts
from focuschart.chart.marks import RingMarks
from focuschart.chart.model import Chart
from focuschart.kit.reading import Reading
from focuschart.optics.arrays import Floats
from focuschart.rig.ring import Which
from focuschart.scale.fit import chi_square_point
from focuschart.scale.laws import Travel

_FITS_SIGMA = 2.33
"""What is left may have a χ² that chance exceeds once in a hundred times."""
_RIVAL = 6.0
"""A part is named only if χ² with any other is larger by this much."""
_LENGTH, _LEAD = "length to the front glass", "lead"
_CONSTANTS = {"front_focal_mm": "groups", "focal_length_mm": "focal length", "hiatus_mm": "hiatus"}
UNKNOWN = "the law has moved"
_WORDS = {
    _LENGTH: "the length to its front glass has changed by about {:+.0f} mm: a clamp or step ring",
    _LEAD: "its lead has changed by about {:+.1f} %: another ring, or a group on another thread",
    "groups": "its front group's focal length has changed by about {:+.0f} mm: another attachment",
    "focal length": "its focal length has changed by about {:+.1f} mm: another lens",
    "hiatus": "the distance of its principal planes has changed by about {:+.0f} mm: another lens",
}


class _Fit(NamedTuple):
    chi_square: float
    amount: float


def at_the_bench(chart: Chart) -> Chart | None:
    """Return a rig's chart without readings through its marker strips, None without any."""
    kit, rig_id = chart.kit, chart.rig.rig_id
    readings = [each for each in kit.readings if each.rig != rig_id or each.strips is None]
    return next(build_charts(kit.model_copy(update={"readings": readings}), only=[rig_id]), None)


def changed_part(bench: Chart, which: Which, readings: Sequence[Reading]) -> str | None:
    """Return in words what has changed since the bench, None if an offset explains the readings."""
    _, marks = bench.ring(which)
    found = _fits(marks.measured, bench, readings)
    alone = found.pop("")
    if alone.chi_square <= chi_square_point(len(readings) - 1, sigmas=_FITS_SIGMA):
        return None
    named = _named(bench, marks, found, alone, len(readings) - 2)
    return f"{which} ring: {named or UNKNOWN}"


def _named(
    bench: Chart, marks: RingMarks, found: Mapping[str, _Fit], alone: _Fit, freedom: int
) -> str | None:
    """Return the one part that explains the readings, and its change, None if none alone does."""
    best, *others = sorted(found, key=lambda part: found[part].chi_square)
    fit = found[best]
    limit = chi_square_point(freedom, sigmas=_FITS_SIGMA)
    rival = min((found[other].chi_square for other in others), default=np.inf)
    if fit.chi_square > min(limit, alone.chi_square - LEAST_GAIN, rival - _RIVAL):
        return None
    moved = fit.amount * _at_marks(marks.measured, bench)[best]
    allowed = marks.own_share * marks.tolerance_mm[0]
    if np.max(np.abs(moved - np.mean(moved)) / allowed) <= 1.0:
        return None
    return _WORDS[best].format(fit.amount)


def _fits(measured: MeasuredScale, bench: Chart, readings: Sequence[Reading]) -> dict[str, _Fit]:
    """Return χ² with an offset alone, "", and with each part changed too, and by how much."""
    which, scale = measured.readings.which, measured.scale
    figures = [(each, each.at_line_mm(which)) for each in readings]
    rows = tuple(
        Row(n, each, bench.rig, mm) for n, (each, mm) in enumerate(figures) if mm is not None
    )
    problem = replace(measured.readings, rows=rows).problem()
    arcs, gradient = problem.model(scale.parameters)
    noise = problem.noise_parts(scale.parameters).total
    root = np.linalg.cholesky(gradient @ scale.covariance @ gradient.T + noise)
    off = np.linalg.solve(root, problem.readings.arc_mm - arcs)
    offset = np.ones_like(arcs)
    columns = dict(_columns(measured, problem.travel(scale.constants)))
    tried = {"": offset[:, np.newaxis]} | {
        part: np.column_stack((offset, column)) for part, column in columns.items()
    }
    return {part: _fitted(np.linalg.solve(root, table), off) for part, table in tried.items()}


def _fitted(table: Floats, off: Floats) -> _Fit:
    amounts = np.linalg.lstsq(table, off, rcond=None)[0]
    return _Fit(float(np.sum(np.square(off - table @ amounts))), float(amounts[-1]))


def _at_marks(measured: MeasuredScale, bench: Chart) -> Mapping[str, Floats]:
    """Return the columns at the rig's marks."""
    position = measured.position_mm(bench.rig, bench.distances_mm)
    travel = measured.scale.law.travel(position, measured.scale.constants)
    return dict(_columns(measured, travel))


def _columns(measured: MeasuredScale, travel: Travel) -> Iterator[tuple[str, Floats]]:
    """Yield each part with the derivatives of n arcs by it: by mm, the lead by per cent."""
    scale = measured.scale
    yield _LEAD, -0.01 * scale.arc_per_travel * travel.value
    if measured.readings.which == "attachment":
        yield _LENGTH, -scale.arc_per_travel * travel.by_position
    for number, prior in enumerate(scale.law.priors):
        if prior.name in _CONSTANTS:
            yield _CONSTANTS[prior.name], scale.arc_per_travel * travel.by_constant[:, number]
