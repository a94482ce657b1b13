"""The scales of all rings that were read, each fitted once for all rigs it serves in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from focuschart.chart.bench import RingKey, RingReadings, Row, Which, gather, ring_key
from focuschart.errors import FitError, KitError, OpticsError, Problem
from focuschart.kit.schema import Kit
from focuschart.rig.assemble import Rig
from focuschart.scale.fit import RingScale, fit_problem


@dataclass(frozen=True, slots=True)
class MeasuredScale:
    """A ring's scale with the readings behind it."""

    scale: RingScale
    readings: RingReadings

    @property
    def rows(self) -> tuple[Row, ...]:
        """The readings, in the order of the fit."""
        return self.readings.rows

    @property
    def disagreeing(self) -> tuple[int, ...]:
        """Numbers, in the kit, of the readings that disagree with the rest."""
        return tuple(self.rows[i].index for i in self.scale.disagreeing)

    @property
    def nearest_mm(self) -> float:
        """The nearest distance read."""
        return min(row.reading.distance for row in self.rows)

    def lens_number(self, lens_id: str) -> int:
        """Return the number of a taking lens among the pools of the fit."""
        return self.readings.lenses.index(lens_id)

    def read_on(self, lens_id: str) -> bool:
        """Return whether any reading was made on this taking lens."""
        return any(row.rig.lens_id == lens_id for row in self.rows)


@dataclass(frozen=True, slots=True)
class Scales:
    """The scales of all rings that were read."""

    measured: Mapping[RingKey, MeasuredScale]

    def of(self, rig: Rig, which: Which) -> MeasuredScale | None:
        """Return the scale of one ring of a rig, None where it was not read."""
        return self.measured.get(ring_key(rig, which))


def fit_scales(kit: Kit, rigs: Mapping[str, Rig], *, source: str) -> Scales:
    """Fit every ring that has readings; raises KitError naming all rings that cannot be fitted."""
    problems: list[Problem] = []
    measured: dict[RingKey, MeasuredScale] = {}
    for key, ring in gather(kit, rigs).items():
        if ring.rows:
            try:
                measured[key] = MeasuredScale(fit_problem(ring.problem()), ring)
            except (FitError, OpticsError) as error:
                problems.append(Problem(f"{ring.part} (readings)", "", _rule(error)))
    if problems:
        raise KitError(source, problems)
    return Scales(measured)


def _rule(error: FitError | OpticsError) -> str:
    if isinstance(error, FitError):
        return str(error)
    return f"a figure or distance is grossly wrong, check them ({error})"
