"""The charts of all rigs of a kit, and what each rig must do without.

No rig stops another: what a rig must do without (a ring, mark, stop or all of it) is named.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import replace

import numpy as np

from focuschart.bench.scales import Scales, fit_scales
from focuschart.chart.model import Chart
from focuschart.chart.solve import solve_rig
from focuschart.errors import LeftOut, OpticsError
from focuschart.kit.load import WHOLE_RIG, broken_rigs
from focuschart.kit.rules import marks_out_of_reach, stops_too_wide
from focuschart.kit.schema import Kit
from focuschart.rig.assemble import Rig, assemble
from focuschart.units import format_length

_SHIFTED_MM = 1.0
"""How far beyond a mark the sharp plane may lie where the ring ends: less than a tape's error."""


class Charts(Iterator[Chart]):
    """The charts of a kit's rigs, one by one; `left_out` grows with what cannot be made of them."""

    def __init__(self, kit: Kit, only: Collection[str]) -> None:
        self.left_out: list[LeftOut] = []
        self._charts = self._solved(kit, only)

    def __next__(self) -> Chart:
        """Return the next rig's chart."""
        return next(self._charts)

    def _solved(self, kit: Kit, only: Collection[str]) -> Iterator[Chart]:
        self.left_out += broken_rigs(kit, only)
        rigs = {rig_id: assemble(kit, rig_id) for rig_id in kit.rigs}
        scales = fit_scales(kit, rigs)
        for rig_id in rigs if not only else [key for key in rigs if key in only]:
            chart = self._charted(kit, rigs[rig_id], scales)
            if chart is not None:
                yield chart

    def _charted(self, kit: Kit, rig: Rig, scales: Scales) -> Chart | None:
        """Return a rig's chart, None where there is nothing to mark or the optics refuse it."""
        missing = [*_unmarked(kit, rig), *_unmeasured(rig, scales)]
        self.left_out += missing
        if not rig.distances_mm.size or not rig.stops.size:
            what = "distances" if not rig.distances_mm.size else "stops"
            why = f"none of its {what} can be set"
            cure = f"add {what} that it reaches"
            self.left_out.append(LeftOut(rig.rig_id, WHOLE_RIG, why, cure, "rig"))
            return None
        chart = _tried(kit, rig, scales)
        if isinstance(chart, str):
            refused = _impossible(kit, rig, scales)
            self.left_out += refused.values()
            missing += refused.values()
            possible = [each for each in rig.distances_mm.tolist() if each not in refused]
            chart = _tried(kit, replace(rig, distances_mm=np.array(possible)), scales)
        if isinstance(chart, str):
            return None
        return replace(chart, refused=scales.refusals(rig), left_out=tuple(missing))


class Solved(list[Chart]):
    """The charts of a kit's rigs; `left_out` names what cannot be made of them."""

    left_out: tuple[LeftOut, ...] = ()


def solve(kit: Kit, *, rigs: Collection[str] = ()) -> Solved:
    """Return all charts of a kit, or of some rigs, at once; raises InputError for unknown ones."""
    kit.require_rigs(rigs)
    charts = build_charts(kit, only=rigs)
    found = Solved(charts)
    found.left_out = tuple(dict.fromkeys(charts.left_out))
    return found


def build_charts(kit: Kit, *, only: Collection[str] = ()) -> Charts:
    """Return the charts of every rig of a kit, or of `only` some, in the kit's order.

    Readings count for every rig that shares the ring, whichever rigs are asked for; all rings are
    fitted before the first chart. No rig stops another: what a rig must do without (a ring, mark,
    stop or all of it) is named in `left_out`.
    """
    return Charts(kit, only)


def _unmarked(kit: Kit, rig: Rig) -> Iterator[LeftOut]:
    """Yield the marks and stops of the kit that a rig cannot have."""
    for problem in map(kit.placed, marks_out_of_reach(kit, rig.rig_id)):
        what = f"mark {problem.value.strip(chr(34))}"
        yield LeftOut(rig.rig_id, what, problem.place, problem.rule)
    for problem in map(kit.placed, stops_too_wide(kit, rig.rig_id)):
        yield LeftOut(rig.rig_id, f"stop f/{problem.value}", problem.place, problem.rule)


def _impossible(kit: Kit, rig: Rig, scales: Scales) -> dict[float, LeftOut]:
    """Return the marks that the optics refuse, by distance, each tried by itself."""
    found: dict[float, LeftOut] = {}
    for distance in rig.distances_mm.tolist():
        chart = _tried(kit, replace(rig, distances_mm=np.array([distance])), scales)
        if isinstance(chart, str):
            what = f"mark {format_length(distance)}"
            cure = "give a farther distance, or check lengths and readings"
            found[distance] = LeftOut(rig.rig_id, what, chart, cure)
    return found


def _tried(kit: Kit, rig: Rig, scales: Scales) -> Chart | str:
    """Return a rig's chart, or why the optics refuse it."""
    if not rig.distances_mm.size:
        return "no mark is left"
    try:
        chart = solve_rig(kit, rig, scales)
    except OpticsError as error:
        return str(error)
    # Glass before the lens moves the nearest plane it can focus farther, even past a mark.
    if np.any(chart.rig.focus_mm(rig.distances_mm) > rig.distances_mm + _SHIFTED_MM):
        return "the attachment's glass takes it out of the taking lens's reach"
    return chart


def _unmeasured(rig: Rig, scales: Scales) -> Iterator[LeftOut]:
    """Yield the rings of a rig whose readings give no scale."""
    for which, problem in scales.refusals(rig).items():
        yield LeftOut(rig.rig_id, f"{which} ring", problem.place, problem.rule, "ring")
