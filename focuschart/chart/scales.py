"""The scales of all rings that were read, each fitted once for all rigs it serves in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from focuschart.chart.bench import RingKey, RingReadings, Row, Which, gather, ring_key
from focuschart.chart.causes import Cause, linked, one_reading_off, probable_causes, told
from focuschart.errors import FitError, KitError, OpticsError, Problem
from focuschart.kit.schema import Kit
from focuschart.rig.assemble import Rig
from focuschart.scale.fit import RingScale, fit_problem


@dataclass(frozen=True, slots=True)
class MeasuredScale:
    """A ring's scale, the readings behind it, and why some disagree, the likeliest cause first."""

    scale: RingScale
    readings: RingReadings
    causes: tuple[Cause, ...] = ()

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
    """Fit every ring that has readings.

    Raises KitError naming all rings that cannot be fitted, and all whose readings disagree so that
    no single one can be blamed; with the probable cause where one is found.
    """
    measured: dict[RingKey, MeasuredScale] = {}
    problems: list[Problem] = []
    for group in linked(gather(kit, rigs)):
        fitted = {key: _fit(ring) for key, ring in group.items()}
        refused = {key: fit for key, fit in fitted.items() if isinstance(fit, str)}
        doubtful = bool(refused) or any(
            fit.contradicted for fit in fitted.values() if not isinstance(fit, str)
        )
        causes = tuple(probable_causes(group)) if doubtful else ()
        because = f"; probably {told(causes[0], kit.units)}" if causes else ""
        for key, fit in fitted.items():
            if isinstance(fit, str):
                problems.append(Problem(f"{group[key].part} (readings)", "", f"{fit}{because}"))
            else:
                measured[key] = MeasuredScale(fit, group[key], causes)
    if problems:
        raise KitError(source, problems)
    return Scales(measured)


def _fit(ring: RingReadings) -> RingScale | str:
    """Return the scale, or why there is none."""
    try:
        scale = fit_problem(ring.problem())
    except FitError as error:
        return str(error)
    except OpticsError as error:
        return f"a figure or distance is grossly wrong, check them ({error})"
    if scale.contradicted and not one_reading_off(ring):
        return "two readings or more disagree with the others, so that none can be trusted"
    return scale
