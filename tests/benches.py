"""Benches drawn as the noise model says, both rings read together, and mistakes planted in them.

One 85 mm lens under a 2x attachment, the kit of `tests.kits`; a target's true distance, shared by
both rings, the eye on each ring and the ruler are drawn, and what the kit cannot know from its
priors.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from focuschart.bench.readings import RingReadings, Row, gather
from focuschart.kit.reading import Reading
from focuschart.kit.schema import Kit
from focuschart.rig.assemble import Rig, assemble
from focuschart.rig.ring import RingKey, Which
from tests.kits import loaded, plain_kit

FAR = (60_000.0, 3_000.0)
DISTANCES = (1200.0, 1500.0, 2000.0, 3000.0, 5000.0, 10_000.0)
STOP = 2.8
ZERO_MM: dict[Which, float] = {"taking": 95.0, "attachment": 20.0}
Figures = dict[str, float]


def bench_kit(**changes: Any) -> dict[str, Any]:
    """A kit without readings, its attachment's turn wide enough for any that may be drawn."""
    kit = {**plain_kit(), "readings": [], **changes}
    kit["attachments"]["double"]["ring"]["lead"] = "45 mm"
    return kit


def ring_rows(kit: Kit) -> Mapping[RingKey, RingReadings]:
    return gather(kit, {rig_id: assemble(kit, rig_id) for rig_id in kit.rigs})


class Bench:
    """Both rings of one rig as they truly are, drawn from what the kit knows beforehand."""

    def __init__(self, rng: np.random.Generator, kit: Mapping[str, Any] | None = None) -> None:
        self.rng = rng
        self.kit = loaded(kit or bench_kit())
        self.rig: Rig = assemble(self.kit, next(iter(self.kit.rigs)))
        self.rings = {key[0]: ring for key, ring in ring_rows(self.kit).items()}
        self.truth = {which: self._drawn(which) for which in self.rings}

    def _drawn(self, which: Which) -> np.ndarray:
        problem = self._problem(which, [2000.0])
        constants = [self.rng.normal(prior.centre, prior.sigma) for prior in problem.law.priors]
        assert problem.slope_prior is not None
        slope = self.rng.normal(problem.slope_prior.centre, problem.slope_prior.sigma)
        return np.array([ZERO_MM[which], slope, *constants])

    def _problem(self, which: Which, distances_mm: Sequence[float], stop: float = STOP) -> Any:
        rows = [
            Row(0, _reading(self.rig.rig_id, float(distance), stop), self.rig, 0.0)
            for distance in distances_mm
        ]
        return replace(self.rings[which], rows=tuple(rows)).problem()

    def arc_mm(self, which: Which, distances_mm: Sequence[float]) -> np.ndarray:
        """True arcs."""
        return np.asarray(self._problem(which, distances_mm).model(self.truth[which])[0])

    def read(
        self, distances_mm: Sequence[float] = DISTANCES, *, far: bool = True, stop: float = STOP
    ) -> list[dict[str, Any]]:
        """What is written down, near to far: distance, error where paced, both figures."""
        stated = [*distances_mm, *([FAR[0]] if far else [])]
        sigma = np.maximum(2.0, 0.001 * np.array(stated))
        sigma = np.where(np.isinf(stated), 0.0, sigma)
        if far:
            sigma[-1] = FAR[1]
        true = np.where(np.isinf(stated), np.inf, np.nan_to_num(np.array(stated), posinf=0.0)
                        + self.rng.normal(size=len(stated)) * sigma)  # fmt: skip
        figures = {which: self._read(which, true, stop) for which in self.rings}
        readings = [
            {"rig": self.rig.rig_id, "distance": label(distance), "stop": stop,
             **{which: round(float(figures[which][i]), 1) for which in figures}}
            for i, distance in enumerate(stated)
        ]  # fmt: skip
        if far:
            readings[-1]["distance_error"] = f"{FAR[1] / 1000.0} m"
        return readings

    def _read(self, which: Which, true_mm: np.ndarray, stop: float) -> np.ndarray:
        problem = self._problem(which, [float(d) for d in true_mm], stop)
        arcs, _ = problem.model(self.truth[which])
        slope, constants = self.truth[which][1], self.truth[which][2:]
        own = 0.15 * problem.noise.own_tolerance_travel(constants)
        ruler = 0.3 * self.rng.normal(size=len(arcs))
        if which == "taking":
            self.eye = self.rng.normal(size=len(arcs))
            return np.asarray(arcs + ruler + slope * own * self.eye)
        # The attachment is focused on the lens as it stands.
        inherited = problem.noise.inherited_travel(constants) * self.eye
        drawn = own * self.rng.normal(size=len(arcs))
        return np.asarray(arcs + ruler + slope * (drawn + inherited))


def _reading(rig_id: str, distance_mm: float, stop: float) -> Reading:
    return Reading.model_construct(
        rig=rig_id, distance=distance_mm, distance_error=None, stop=stop, taking=0.0,
        attachment=0.0, ignore=False,
    )  # fmt: skip


def label(distance_mm: float) -> str:
    return "inf" if np.isinf(distance_mm) else f"{float(distance_mm) / 1000.0!r} m"


def with_readings(readings: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """The bench's kit with these readings."""
    return bench_kit(readings=list(readings))
