"""Camera tests of traced rigs: strips printed from one bench, taped, and read through."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from typing import Any, NamedTuple

import numpy as np

from focuschart.chart.camera_test import RingResult, StripTest, judged
from focuschart.chart.model import Chart
from focuschart.chart.strip_errors import StripErrors, StripPrinted, strips_read
from focuschart.rig.ring import RINGS, Which
from tests.designs.bench import drawn_facts, noisy_readings
from tests.designs.kits import MARKS, Readings, Stated, chart_of
from tests.designs.recorded import STOP, Design, load_designs
from tests.designs.trials import MARKS_MM, arc_errors, pair_errors
from tests.sample_parts import Target, metric

BENCH = (*map(metric, (1.0, 1.3, 2.0, 5.0)), metric(60.0, 3.0))
TEST = (metric(1.0), metric(1.0), metric(3.0), metric(3.0), metric(60.0, 3.0), metric(60.0, 3.0))
TAPING_MM = 0.2
"""One standard deviation of a strip's taping, and of its index's: the program's default."""
STRIPS: Mapping[Which, str] = {"taking": "K7QF3-S", "attachment": "22222-2"}
NO_TICKS: Mapping[Which, float] = {"taking": 0.0, "attachment": 0.0}
ACTS = ("use-tick", "move", "reprint")


class Taped(NamedTuple):
    """A traced rig with strips printed from its bench, each lying off by `off_mm`."""

    design: Design
    facts: Stated
    bench: Readings
    built: Chart
    off_mm: Mapping[Which, float]


class Trial(NamedTuple):
    """A camera test, and how far the worst mark truly is off as taped, in criteria at f/2.8."""

    taped: Taped
    result: StripTest
    worst: float
    through: Readings
    ticks: Sequence[Mapping[Which, float]]

    def inside(self, stop: float) -> bool:
        """Whether all marks are truly inside at a stop."""
        return self.worst <= stop / STOP

    @property
    def acted(self) -> bool:
        return any(ring.verdict in ACTS for ring in self.result.rings.values())

    def held(self, which: Which) -> bool:
        """Whether the offset's 95 % holds the true one."""
        ring = self.result.rings[which]
        return abs(ring.offset_mm - self.taped.off_mm[which]) <= ring.offset_95_mm


_designs = cache(load_designs)


@cache
def taped(number: int) -> Taped:
    """Print strips from a bench and tape them, with no more error than tapings have."""
    design = _designs()[number]
    noise = np.random.default_rng([17, design.number])
    facts, bench = drawn_facts(noise), noisy_readings(design, BENCH, noise)
    off = {which: TAPING_MM * float(noise.normal(size=2).sum()) for which in RINGS}
    return Taped(design, facts, bench, chart_of(design, bench, facts), off)


def slipped(sound: Taped, taking_mm: float, attachment_times: float) -> Taped:
    """Let a strip slip, that of the attachment by times its squeeze."""
    slip = {"taking": taking_mm, "attachment": attachment_times * sound.design.squeeze}
    return sound._replace(off_mm={which: sound.off_mm[which] + slip[which] for which in RINGS})


def trial_of(
    strips: Taped, *, working_stop: float = STOP, before: Trial | None = None,
    ticks: Mapping[Which, float] = NO_TICKS,
) -> Trial:  # fmt: skip
    """Read the strips through, after the readings of a test before, and judge them."""
    design = strips.design
    noise = np.random.default_rng([18, design.number, 0 if before is None else 1])
    read = noisy_readings(design, TEST, noise)
    through = Readings(
        read.targets,
        read.taking_arc_mm + strips.off_mm["taking"] + ticks["taking"],
        read.attachment_arc_mm + strips.off_mm["attachment"] + ticks["attachment"],
        read.stop,
    )
    used = [ticks] * len(TEST)
    if before is not None:
        through, used = joined(before.through, through), [*before.ticks, *used]
    chart = chart_of(
        design, joined(strips.bench, through), strips.facts, working_stop=working_stop,
        through=[{}] * len(BENCH) + [_said(each) for each in used],
    )  # fmt: skip
    result = judged(chart, strips_read(chart), printed(strips.built))
    return Trial(strips, result, worst_criteria(strips, ticks), through, used)


def _said(ticks: Mapping[Which, float]) -> dict[str, Any]:
    return {"strips": dict(STRIPS), "ticks": {which: f"{mm} mm" for which, mm in ticks.items()}}


def printed(built: Chart) -> dict[Which, StripPrinted]:
    """The marks of both strips as a build prints them."""
    return {
        which: StripPrinted("r", which, built.distances_mm, built.ring(which)[1].arc_mm)
        for which in RINGS
    }


def joined(one: Readings, two: Readings) -> Readings:
    return Readings(
        [*one.targets, *two.targets],
        np.concatenate((one.taking_arc_mm, two.taking_arc_mm)),
        np.concatenate((one.attachment_arc_mm, two.attachment_arc_mm)),
        one.stop,
    )


def worst_criteria(strips: Taped, ticks: Mapping[Which, float]) -> float:
    """The worst mark's true error as the strips are taped and set, in criteria at f/2.8."""
    design, off = strips.design, strips.off_mm
    truth = design.truth(MARKS_MM, stop=STOP)
    fitted = dict(zip(RINGS, arc_errors(design, strips.built, truth), strict=True))
    signs = {"taking": design.taking_ring.sign, "attachment": design.attachment_ring.sign}
    errors = [fitted[which] - signs[which] * (off[which] + ticks[which]) for which in RINGS]
    vertical, horizontal = pair_errors(design, *errors, stop=STOP)
    return float(np.max(np.maximum(np.abs(vertical), np.abs(horizontal))))


def advised(result: StripTest) -> dict[Which, float]:
    """The ticks that a test advises; a strip to be moved is moved, which a tick stands for."""
    return {which: _tick(ring) for which, ring in result.rings.items()}


def _tick(ring: RingResult) -> float:
    return ring.tick_mm if ring.move_mm is None else ring.move_mm


def spread_after(trial: Trial, mark: str) -> float:
    """How far apart draws of the largest error lie after one more reading of a mark.

    It shows what the fit expects, so that it teaches nothing but how sure to be.
    """
    strips, at = trial.taped, MARKS.index(mark)
    said: list[Mapping[str, Any]] = [{}] * len(BENCH) + [_said(each) for each in trial.ticks]
    readings = joined(strips.bench, trial.through)
    chart = chart_of(strips.design, readings, strips.facts, through=said)
    taking, attachment = (
        np.array([chart.ring(which)[1].arc_mm[at] + trial.result.rings[which].offset_mm])
        for which in RINGS
    )
    more = Readings([Target(mark, float(MARKS_MM[at]))], taking, attachment)
    readings, said = joined(readings, more), [*said, _said(NO_TICKS)]
    again = chart_of(strips.design, readings, strips.facts, through=said)
    return float(np.std(StripErrors(again, strips_read(again), printed(strips.built)).largest))
