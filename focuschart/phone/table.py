"""A rig's settings and zones as tables so dense that what is read between their rows is true.

Rows run from infinity to the nearest subject, over the nearness x = 1/(D − p) of a subject D from
the sensor, in which all figures are nearly straight. p, the pole, is a place in the rig behind all
that can be in focus. Limits are kept as the same nearness, 0 for infinity.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from focuschart.chart.gauge import gauge
from focuschart.chart.locked import locked_ring, nearest_mm
from focuschart.chart.model import Chart
from focuschart.chart.solve import solve_at
from focuschart.optics.arrays import Floats
from focuschart.optics.depth_of_field import Limits
from focuschart.optics.thin_lens import reciprocal_mm

ARC_MM = 0.005
"""The most that a setting read off a table may differ from the solver's."""
LOCKED_ARC_MM = 0.02
"""The same of the taking ring's settings at the ends of the locked zone, which have corners."""
LIMIT_SHARE = 0.0005
"""The same of a limit's nearness, as a share of it."""
_SHARE = 0.002
"""The same of other figures, as a share of them."""
_LEAST_SHARE = 1e-6
"""The share of the picture that a millimetre may be off in any case."""
_ENDLESS = 1e-10
"""The nearness (1/mm) that may be off in any case: a limit at 5 km by half a thousandth."""
_POLE = 0.6
"""Where the pole lies, as a share of the way from sensor to front glass: there rows are fewest."""
_FIRST_ROWS = 8
_ROUNDS = 12
_TRIED = (0.5, 0.1)
"""Where the table is tried between two rows; a new row comes at the first."""
_LEAST_STEP = 2e-5
"""The least step between rows, as a share of them all: a limit can jump to infinity."""
_CORNER_ROUNDS, _CORNER_PARTS = 2, 9
_BESIDE = 0.02

SETTINGS = ("taking", "attachment")
SHARES = ("gaugeNear", "gaugeFar")
LOCKED_ARCS = ("lockedNearArc", "lockedFarArc")
LIMITS = tuple(
    f"{zone}{end}" for zone in ("vertical", "horizontal", "locked") for end in ("Near", "Far")
)

Columns = Mapping[str, Floats]
"""Figures by name, each of shape (n) over the rows."""
Solve = Callable[[Floats], Columns]
"""What the solver gives at rows (n)."""


@dataclass(frozen=True, slots=True)
class Table:
    """Rows (n, nearness in 1/mm, rising from 0), and a column for each figure (n).

    A `smooth` table has no corners and is read by cubics, another one by straight lines.
    """

    rows: Floats
    columns: Columns
    smooth: bool

    def read(self, name: str, rows: Floats) -> Floats:
        """Return a column between its rows as the page reads it, in any shape."""
        return (cubic if self.smooth else np.interp)(rows, self.rows, self.columns[name])


@dataclass(frozen=True, slots=True)
class Tables:
    """Both tables of a rig, and its pole (mm).

    `settings` has each measured ring's arc (mm), the squeeze and its 95 %, and the share of the
    picture's height that a millimetre takes. `zones` has, at each stop ("lockedFar:2.8"), the
    limits of both meridians, of the zone with the attachment locked, the taking ring's arcs (mm) at
    the ends of that, and a millimetre's shares at the ends of the frame's zone; and `need`, the
    f-number from which a distance is sure.
    """

    pole_mm: float
    settings: Table
    zones: Table


def tables_of(chart: Chart) -> Tables:
    """Return the tables of a rig; columns of a ring without a scale are missing."""
    pole = _POLE * chart.rig.front_glass_mm
    nearest = nearness(np.array(nearest_mm(chart.rig)), pole)
    marks = nearness(chart.distances_mm, pole)
    start = np.unique(np.concatenate((np.linspace(0.0, nearest, _FIRST_ROWS), marks)))

    def settings(rows: Floats) -> Columns:
        return _settings(solve_at(chart, distance_mm(rows, pole)))

    def zones(rows: Floats) -> Columns:
        return _zones(solve_at(chart, distance_mm(rows, pole)), pole)

    cornered = np.unique(np.concatenate((start, _corners(zones, start))))
    return Tables(pole, _dense(settings, start, smooth=True), _dense(zones, cornered, smooth=False))


def nearness(of_mm: Floats, pole_mm: float) -> Floats:
    """Return 1/(D − p) of distances from the sensor, in any shape."""
    return np.asarray(1.0 / (np.asarray(of_mm, float) - pole_mm))


def distance_mm(rows: Floats, pole_mm: float) -> Floats:
    """Return the distances from the sensor of some nearness, infinity for 0."""
    return reciprocal_mm(rows) + pole_mm


def _settings(chart: Chart) -> Columns:
    arcs: dict[str, Floats] = {
        which: marks.arc_mm for which, (_, marks) in chart.rings().items() if marks
    }
    share = gauge(chart, size_mm=1.0).at
    return {**arcs, "squeeze": chart.squeeze, "squeeze95": chart.squeeze_95, "gauge": share}


def _zones(chart: Chart, pole: float) -> Columns:
    found: dict[str, Floats] = {}
    zones = {"vertical": chart.vertical, "horizontal": chart.horizontal}
    if chart.pair_95 is not None:
        locked = locked_ring(chart)
        zones["locked"] = locked.zone
        found["need"] = chart.pair_95[0] * chart.working_stop
        for name, arcs in zip(LOCKED_ARCS, (locked.near_arc_mm, locked.far_arc_mm), strict=True):
            found |= _per_stop(name, arcs, chart)
    shares = gauge(chart, size_mm=1.0)
    for name, ends in zip(SHARES, (shares.near, shares.far), strict=True):
        found |= _per_stop(name, ends, chart)
    for name, limits in zones.items():
        found |= _ends(name, limits, chart, pole)
    return found


def _ends(name: str, limits: Limits, chart: Chart, pole: float) -> Columns:
    near, far = (nearness(each, pole) for each in (limits.near_mm, limits.far_mm))
    return {**_per_stop(f"{name}Near", near, chart), **_per_stop(f"{name}Far", far, chart)}


def _per_stop(name: str, figures: Floats, chart: Chart) -> Columns:
    return {f"{name}:{stop:g}": row for stop, row in zip(chart.stops, figures, strict=True)}


def cubic(at: Floats, rows: Floats, column: Floats) -> Floats:
    """Return Hermite's cubics through a column, each slope that of the parabola through three rows.

    Source: C. de Boor, A Practical Guide to Splines (1978), ch. IV, piecewise cubic Bessel
    interpolation (from memory).
    """
    step = np.diff(rows)
    secant = np.diff(column) / step
    inner = (secant[:-1] * step[1:] + secant[1:] * step[:-1]) / (step[:-1] + step[1:])
    slope = np.concatenate(([2.0 * secant[0] - inner[0]], inner, [2.0 * secant[-1] - inner[-1]]))
    cell = np.clip(np.searchsorted(rows, at, side="right") - 1, 0, len(step) - 1)
    share, rise = (at - rows[cell]) / step[cell], column[cell + 1] - column[cell]
    start, end = slope[cell] * step[cell], slope[cell + 1] * step[cell]
    bend = 3.0 * rise - 2.0 * start - end + share * (start + end - 2.0 * rise)
    return np.asarray(column[cell] + share * (start + share * bend))


# --- rows where they are needed -------------------------------------------------------------------


def _dense(solve: Solve, start: Floats, *, smooth: bool) -> Table:
    """Return a table from which what is read between its rows is as true as asked.

    That is seen half-way between rows, and just after each, where a limit leaves infinity.
    """
    table = Table(start, solve(start), smooth)
    for _ in range(_ROUNDS):
        step = np.diff(table.rows)
        tried = table.rows[:-1] + np.multiply.outer(_TRIED, step)
        flat = solve(tried.ravel())
        solved = {name: column.reshape(tried.shape) for name, column in flat.items()}
        off = [~_true(name, solved[name], table.read(name, tried)) for name in solved]
        wanted = np.any(off, axis=(0, 1)) & (step > _LEAST_STEP * table.rows[-1])
        if not np.any(wanted):
            break
        rows = np.concatenate((table.rows, tried[0, wanted]))
        order = np.argsort(rows)
        columns = {
            name: np.concatenate((column, solved[name][0, wanted]))[order]
            for name, column in table.columns.items()
        }
        table = Table(rows[order], columns, smooth)
    return table


def _true(name: str, solved: Floats, read: Floats) -> NDArray[np.bool_]:
    """Return where a figure read off a table is as near to the solver's as asked."""
    kind = name.partition(":")[0]
    allowed: Floats | float = _SHARE * np.abs(solved)
    if kind in LIMITS:
        allowed = np.maximum(LIMIT_SHARE * solved, _ENDLESS)
    elif kind == "gauge" or kind in SHARES:
        allowed = np.maximum(allowed, _LEAST_SHARE)
    elif kind in SETTINGS or kind in LOCKED_ARCS:
        allowed = ARC_MM if kind in SETTINGS else LOCKED_ARC_MM
    return np.asarray(np.abs(solved - read) <= allowed)


def _corners(solve: Solve, rows: Floats) -> Floats:
    """Return rows where a limit just reaches infinity, since no line between rows turns a corner.

    Each is first closed in between a row with the limit at infinity and the next without, then
    taken where the limit's nearness points to. Where that jumps, both ends of the jump are rows.
    """
    columns = solve(rows)
    bent = [name for name, each in columns.items() if _is_limit(name) and each[0] == 0.0 < each[-1]]
    if not bent:
        return np.empty(0)

    def values(at: Floats) -> Floats:
        solved = solve(at.ravel())
        return np.stack([solved[name].reshape(at.shape)[:, k] for k, name in enumerate(bent)], 1)

    first = np.argmax([columns[name] > 0.0 for name in bent], axis=1)
    low, high = _closed_in(values, rows[first - 1], rows[first])
    beside = high + _BESIDE * (rows[1] - rows[0])
    at_high, at_beside = values(np.stack((high, beside)))
    back = at_high * (beside - high) / (at_beside - at_high)
    jumps, corner = back > 2.0 * (high - low), np.maximum(high - back, low)
    if np.any(jumps):
        low, high = _closed_in(values, low, high)
    return np.concatenate((np.where(jumps, low, corner), high[jumps]))


def _closed_in(
    values: Callable[[Floats], Floats], low: Floats, high: Floats
) -> tuple[Floats, Floats]:
    """Return the last rows (k) with a value of 0 and the first without, nearer to each other."""
    every = np.arange(len(low))
    for _ in range(_CORNER_ROUNDS):
        tried = np.linspace(low, high, _CORNER_PARTS + 1)
        first = np.argmax(values(tried) > 0.0, axis=0)
        low, high = tried[first - 1, every], tried[first, every]
    return low, high


def _is_limit(name: str) -> bool:
    return name.partition(":")[0] in LIMITS
