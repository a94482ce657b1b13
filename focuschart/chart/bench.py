"""Each ring's readings gathered over all rigs it serves in, and its scale fitted to them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from focuschart.chart.geometry import standing
from focuschart.errors import FitError, KitError, OpticsError, Problem
from focuschart.kit.schema import Attachment, Kit, Reading, TakingLens
from focuschart.optics.arrays import Floats
from focuschart.optics.depth_of_field import Aperture
from focuschart.rig.assemble import Rig
from focuschart.scale.cam import CamLaw
from focuschart.scale.fit import RingScale, fit_ring
from focuschart.scale.laws import AttachmentLaw, ExtensionLaw, HyperbolaLaw, TakingLaw
from focuschart.scale.noise import AttachmentNoise, TakingNoise, tape_sigma_mm
from focuschart.scale.problem import Readings

LensKey = tuple[str, str]
"""Camera and taking lens: another body of the same mount moves the lens's infinity."""


@dataclass(frozen=True, slots=True)
class Row:
    """One reading of one ring, with its number in the kit and the rig it was made on."""

    index: int
    reading: Reading
    rig: Rig
    figure_mm: float


@dataclass(frozen=True, slots=True)
class MeasuredScale:
    """A ring's scale with the readings behind it; `lenses` are those an attachment may sit on."""

    scale: RingScale
    rows: tuple[Row, ...]
    lenses: tuple[str, ...]

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
        return self.lenses.index(lens_id)

    def read_on(self, lens_id: str) -> bool:
        """Return whether any reading was made on this taking lens."""
        return any(row.rig.lens_id == lens_id for row in self.rows)


@dataclass(frozen=True, slots=True)
class Scales:
    """The scales of all rings that were read."""

    taking: Mapping[LensKey, MeasuredScale]
    attachment: Mapping[str, MeasuredScale]


def fit_scales(kit: Kit, rigs: Mapping[str, Rig], *, source: str) -> Scales:
    """Fit every ring that has readings; raises KitError naming all rings that cannot be fitted."""
    problems: list[Problem] = []
    taking: dict[LensKey, MeasuredScale] = {}
    attachment: dict[str, MeasuredScale] = {}
    for key, rows in _rows_by_lens(kit, rigs).items():
        with _Collect(problems, f"taking_lenses.{key[1]}"):
            taking[key] = _fit_taking(kit.taking_lenses[key[1]], rows)
    for name, rows in _rows_by_attachment(kit, rigs).items():
        rig_by_lens = {r.lens_id: r for r in rigs.values() if r.attachment_id == name}
        with _Collect(problems, f"attachments.{name}"):
            attachment[name] = _fit_attachment(kit.attachments[name], rows, rig_by_lens)
    if problems:
        raise KitError(source, problems)
    return Scales(taking, attachment)


class _Collect:
    """Turn a FitError into a problem of the kit, so that all are reported together."""

    def __init__(self, problems: list[Problem], key: str) -> None:
        self._problems, self._key = problems, key

    def __enter__(self) -> None:
        """Nothing to prepare."""

    def __exit__(self, _kind: object, error: BaseException | None, _trace: object) -> bool:
        """Swallow what readings can cause: too few, or figures that no ring of this law shows."""
        if isinstance(error, FitError):
            self._problems.append(Problem(f"{self._key} (readings)", "", str(error)))
        elif isinstance(error, OpticsError):
            rule = f"a figure or distance is grossly wrong, check them ({error})"
            self._problems.append(Problem(f"{self._key} (readings)", "", rule))
        return isinstance(error, FitError | OpticsError)


def _rows(kit: Kit, rigs: Mapping[str, Rig], which: str) -> Iterator[Row]:
    for index, reading in enumerate(kit.readings):
        figure = getattr(reading, which)
        if figure is not None and reading.rig in rigs:
            yield Row(index, reading, rigs[reading.rig], figure)


def _rows_by_lens(kit: Kit, rigs: Mapping[str, Rig]) -> dict[LensKey, list[Row]]:
    found: dict[LensKey, list[Row]] = {}
    for row in _rows(kit, rigs, "taking"):
        found.setdefault((row.rig.camera_id, row.rig.lens_id), []).append(row)
    return found


def _rows_by_attachment(kit: Kit, rigs: Mapping[str, Rig]) -> dict[str, list[Row]]:
    found: dict[str, list[Row]] = {}
    for row in _rows(kit, rigs, "attachment"):
        found.setdefault(row.rig.attachment_id, []).append(row)
    return found


def taking_law(lens: TakingLens) -> TakingLaw:
    """Return the law of a taking lens's ring."""
    if lens.focusing == "internal":
        return HyperbolaLaw(reference_mm=lens.nearest)
    if lens.focusing == "cam":
        return CamLaw(nearest_mm=lens.nearest)
    return ExtensionLaw(lens.focal_length)


def attachment_law(attachment: Attachment) -> AttachmentLaw:
    """Return the law of an attachment's ring."""
    return AttachmentLaw(
        squeeze=attachment.squeeze,
        ruler_separation_mm=attachment.ruler_separation,
        front_glass_mm=attachment.front_glass,
        moving=attachment.moving_group,
    )


def _fit_taking(lens: TakingLens, rows: Sequence[Row]) -> MeasuredScale:
    law = taking_law(lens)
    position = _each(rows, lambda row: row.rig.lens_position_mm(row.reading.distance))
    lenses = (rows[0].rig.lens_id,)
    readings = _readings(rows, position=position, slope=np.ones_like(position), lenses=lenses)
    noise = TakingNoise(law, position, _aperture(rows))
    # Without an extension there is nothing to which a lead could relate the arc.
    slope = lens.ring.arc_per_travel if lens.focusing == "extends" else None
    scale = fit_ring(law, readings, noise, arc_per_travel=slope)
    return MeasuredScale(scale, tuple(rows), lenses)


def _fit_attachment(
    attachment: Attachment, rows: Sequence[Row], rig_by_lens: Mapping[str, Rig]
) -> MeasuredScale:
    law = attachment_law(attachment)
    position = _each(rows, lambda row: row.rig.glass_position_mm(row.reading.distance))
    slope = _each(rows, lambda row: row.rig.glass_position_slope(row.reading.distance))
    noise = AttachmentNoise(
        law=law,
        position_mm=position,
        aperture=_aperture(rows),
        lens_to_rear_mm=_each(rows, lambda row: _lens_to_rear_mm(row, law)),
        front_moves=np.array([float(row.rig.lens.front_moves) for row in rows]),
        pool_aperture=_pool_aperture(rows, rig_by_lens),
    )
    readings = _readings(rows, position=position, slope=slope, lenses=tuple(rig_by_lens))
    scale = fit_ring(law, readings, noise, arc_per_travel=attachment.ring.arc_per_travel)
    return MeasuredScale(scale, tuple(rows), tuple(rig_by_lens))


def _each(rows: Sequence[Row], value: Callable[[Row], Floats]) -> Floats:
    return np.array([float(value(row)) for row in rows])


def _lens_to_rear_mm(row: Row, law: AttachmentLaw) -> Floats:
    constants = np.array([prior.centre for prior in law.priors])
    return standing(row.rig, law, constants, row.reading.distance).lens_to_rear_mm


def _aperture(rows: Sequence[Row]) -> Aperture:
    """Return the taking lens of every reading as it stood."""
    return Aperture(
        np.array([row.rig.lens.focal_length for row in rows]),
        _each(rows, lambda row: row.rig.image_mm(row.reading.distance)),
        np.array([row.reading.stop for row in rows]),
        np.array([row.rig.circle_mm for row in rows]),
    )


def _pool_aperture(rows: Sequence[Row], rigs: Mapping[str, Rig]) -> Aperture:
    """Return each taking lens at infinity, at the widest stop any reading was made at."""
    focal = np.array([rig.lens.focal_length for rig in rigs.values()])
    stop = min(row.reading.stop for row in rows)
    return Aperture(focal, focal, stop, np.array([rig.circle_mm for rig in rigs.values()]))


def _readings(
    rows: Sequence[Row], *, position: Floats, slope: Floats, lenses: Sequence[str]
) -> Readings:
    distance = np.array([row.reading.distance for row in rows])
    stated = np.array([row.reading.distance_error or np.nan for row in rows])
    places = [(row.rig.rig_id, row.reading.distance) for row in rows]
    return Readings(
        arc_mm=np.array([row.figure_mm for row in rows]),
        distance_mm=distance,
        position_mm=position,
        position_slope=slope,
        distance_sigma_mm=np.where(np.isnan(stated), tape_sigma_mm(distance), stated),
        setup=tuple(places.index(place) for place in places),
        pool=tuple(lenses.index(row.rig.lens_id) for row in rows),
        pools=len(lenses),
    )
