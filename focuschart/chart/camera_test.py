"""The camera test: marker strips as they are taped, judged by readings taken through them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np

from focuschart.chart.as_set import COMB_MM
from focuschart.chart.changed_part import UNKNOWN, at_the_bench, changed_part
from focuschart.chart.locked import require_read
from focuschart.chart.model import Chart
from focuschart.chart.strip_errors import StripErrors, StripPrinted, StripRead, read_through
from focuschart.chart.verdict import first_stop
from focuschart.rig.ring import RINGS, Which
from focuschart.scale.fit import HALF_WIDTH_95

Act = Literal["keep", "use-tick", "move", "reprint", "exchanged", "inconclusive"]

KEEP_FROM = 0.95
"""Marks are kept where all are inside with this probability."""
ACT_BELOW = 0.20


@dataclass(frozen=True, slots=True)
class RingResult:
    """What a camera test says of one strip: its taping's offset, and what to do about it.

    `tick_mm` is the tick of the index's comb that was in use, 0 the line. `move_mm` is the tick to
    use, or how far to move the index, toward larger figures positive; None where nothing is moved.
    """

    strip: str
    taping: int
    offset_mm: float
    offset_95_mm: float
    verdict: Act
    move_mm: float | None = None
    tick_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class StripTest:
    """What a camera test says of a rig: `inside` is the probability at the working stop.

    It is nan where strips or rings allow none. `decide_at_mm` is the mark to read once more where
    the test is inconclusive, else None.
    """

    rig_id: str
    inside: float
    keep_from_stop: float | None
    cause: str | None
    rings: Mapping[Which, RingResult]
    decide_at_mm: float | None = None

    @property
    def kept(self) -> bool:
        """Whether both strips may stay as they are at the working stop."""
        return all(ring.verdict == "keep" for ring in self.rings.values())


def judged(
    chart: Chart, strips: Mapping[Which, StripRead], printed: Mapping[Which, StripPrinted]
) -> StripTest:
    """Return what readings through both strips of a rig say of them, as they are taped.

    Strips that belong elsewhere are named, whatever the readings fit. Raises InputError for strips
    that show no mark of the rig's in common, KitError where a ring has no scale.
    """
    owner = _owners(chart, printed)
    if owner:
        whose = {which: f"the {which} ring bears {text}" for which, text in owner.items()}
        return _untold(chart, strips, "exchanged", whose)
    if chart.refused and (causes := _changes(chart, strips)):
        # A ring has changed so much that no law fits all its readings.
        return _untold(chart, strips, "reprint", causes)
    require_read(chart, "the camera test")
    errors = StripErrors(chart, strips, printed)
    inside = float(np.mean(errors.largest <= 1.0))
    acts, cause = _acts(errors, inside)
    stop = float(np.quantile(errors.largest, KEEP_FROM)) * chart.working_stop
    undecided = any(act.verdict == "inconclusive" for act in acts.values())
    return StripTest(
        chart.rig.rig_id,
        inside,
        first_stop(chart, stop),
        cause,
        {which: _result(errors, which, acts[which]) for which in RINGS},
        errors.deciding_mm() if undecided else None,
    )


class _Act(NamedTuple):
    verdict: Act
    move_mm: float | None = None


def _acts(errors: StripErrors, inside: float) -> tuple[dict[Which, _Act], str | None]:
    """Return what to do with each strip, and why: nothing is done where it may be chance."""
    if inside >= KEEP_FROM:
        return {which: _Act("keep") for which in RINGS}, None
    if inside <= ACT_BELOW:
        bent = [which for which in RINGS if errors.bent(which)]
        if bent:
            acts = {which: _Act("reprint" if which in bent else "keep") for which in RINGS}
            causes = _changes(errors.chart, {which: errors.strips[which] for which in bent})
            moved = (causes.get(which, f"{which} ring: {UNKNOWN}") for which in bent)
            return acts, "; ".join(moved)
        off = {which: errors.tick_mm(which) for which in RINGS if errors.is_off(which)}
        if off:
            acts = {which: _moved(off.get(which)) for which in RINGS}
            return acts, f"taping of the {' and '.join(off)} strip"
    return {which: _Act("inconclusive") for which in RINGS}, None


def _moved(tick_mm: float | None) -> _Act:
    if tick_mm is None:
        return _Act("keep")
    return _Act("use-tick" if abs(tick_mm) <= max(COMB_MM) else "move", tick_mm)


def _result(errors: StripErrors, which: Which, act: _Act) -> RingResult:
    offset, sigma = errors.offset(which)
    (code, number), tick = errors.strips[which]
    return RingResult(code, number, offset, HALF_WIDTH_95 * sigma, act.verdict, act.move_mm, tick)


def _changes(chart: Chart, strips: Mapping[Which, StripRead]) -> dict[Which, str]:
    """Return in words which part of each ring has changed since the bench, where that is told."""
    bench = at_the_bench(chart)
    if bench is None or bench.pair is None:
        return {}
    found = {
        which: changed_part(bench, which, read_through(chart, which, strip.taping))
        for which, strip in strips.items()
    }
    return {which: words for which, words in found.items() if words is not None}


def _untold(
    chart: Chart, strips: Mapping[Which, StripRead], verdict: Act, causes: Mapping[Which, str]
) -> StripTest:
    """Return the result where nothing can be told of offsets, for the causes some rings give."""
    rings = {
        which: RingResult(
            strip.taping.code, strip.taping.number, np.nan, np.nan,
            verdict if which in causes else "inconclusive",
        )
        for which, strip in strips.items()
    }  # fmt: skip
    return StripTest(chart.rig.rig_id, np.nan, None, "; ".join(causes.values()), rings)


def _owners(chart: Chart, printed: Mapping[Which, StripPrinted]) -> dict[Which, str]:
    """Return whose strip a ring bears, in words, for each ring that bears another's."""
    found: dict[Which, str] = {}
    for which, strip in printed.items():
        elsewhere = strip.rig_id != chart.rig.rig_id and strip.rig_id in chart.kit.rigs
        if strip.which != which or elsewhere:
            rig = f" of rigs.{strip.rig_id}" if elsewhere else ""
            found[which] = f"the strip for the {strip.which} ring{rig}"
    return found
