"""The readings of each ring from all rigs that have it, and its least-squares problem."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from focuschart.bench.offsets import NO_SHIFTS, Shifts, held_offsets, tapings
from focuschart.kit.attachment import Attachment
from focuschart.kit.parts import TakingLens
from focuschart.kit.reading import Reading
from focuschart.kit.ring import Ring
from focuschart.kit.schema import Kit
from focuschart.optics.arrays import Floats
from focuschart.optics.depth_of_field import Aperture
from focuschart.rig.assemble import Rig
from focuschart.rig.laws import attachment_law, taking_law
from focuschart.rig.place import group_places
from focuschart.rig.ring import RINGS, RigRing, RingKey, Which, ring_key
from focuschart.scale.fit import slope_prior
from focuschart.scale.laws import prior_centres
from focuschart.scale.noise import AttachmentNoise, TakingNoise, tape_sigma_mm
from focuschart.scale.problem import Readings, RingProblem, Squeezes


@dataclass(frozen=True, slots=True)
class Row:
    """One reading of one ring: its number in the kit, its rig, the figure at the index line."""

    index: int
    reading: Reading
    rig: Rig
    figure_mm: float

    @property
    def setup(self) -> Hashable:
        """What the readings of one set-up have in common, and with it the error of its tape.

        Strips are taped on after the bench is cleared, so a camera test tapes its distances anew.
        """
        reading = self.reading
        through = tuple(reading.strip(which) for which in RINGS)
        return self.rig.rig_id, reading.distance, reading.taping, through


@dataclass(frozen=True, slots=True)
class RingReadings:
    """One ring and its readings.

    `part` is the kit's key of its lens or attachment. `rigs` has a rig for each taking lens in the
    fit, by lens: those that the ring was read on, and perhaps one more (see `with_lens_of`).
    """

    which: Which
    part: str
    rows: tuple[Row, ...]
    rigs: Mapping[str, Rig]
    shifts: Shifts = NO_SHIFTS
    squeezes: Squeezes | None = None

    @property
    def lenses(self) -> tuple[str, ...]:
        """The taking lenses, in the order of their shifts in the fit."""
        return tuple(self.rigs)

    def with_lens_of(self, rig: Rig) -> RingReadings:
        """Return the same readings, with the lens of `rig` among the lenses of the fit."""
        return replace(self, rigs={**self.rigs, rig.lens_id: self.rigs.get(rig.lens_id, rig)})

    @property
    def ring(self) -> Ring:
        """The ring as measured on the barrel."""
        return RigRing(next(iter(self.rigs.values())), self.which).barrel

    def problem(self) -> RingProblem:
        """Return the least-squares problem of the rows."""
        rig = next(iter(self.rigs.values()))
        offsets = self.shifts.offsets(
            [row.reading for row in self.rows], self.which, self.ring,
            taping_mm=rig.reading_errors.taping_mm,
        )  # fmt: skip
        if self.which == "taking":
            problem = _taking_problem(rig.lens, self.rows, self.lenses)
        else:
            problem = _attachment_problem(rig.attachment, self.rows, self.rigs)
        return replace(problem, offsets=offsets, squeezes=self.squeezes)


def other_group(ring: RingReadings) -> RingReadings:
    """Return an attachment's ring as if the other group moved than the kit says."""

    def changed(rig: Rig) -> Rig:
        group = "rear" if rig.attachment.moving_group == "front" else "front"
        part = rig.attachment.model_copy(update={"moving_group": group})
        return replace(rig, attachment=part)

    return _restated(ring, changed)


def other_lead(ring: RingReadings, lead_mm: float) -> RingReadings:
    """Return a ring as if its lead were another than the kit says."""

    def changed(rig: Rig) -> Rig:
        barrel = {"ring": ring.ring.model_copy(update={"lead": lead_mm})}
        if ring.which == "taking":
            return replace(rig, lens=rig.lens.model_copy(update=barrel))
        return replace(rig, attachment=rig.attachment.model_copy(update=barrel))

    return _restated(ring, changed)


def _restated(ring: RingReadings, changed: Callable[[Rig], Rig]) -> RingReadings:
    """Return a ring with all its rigs changed by a function."""
    made = {row.rig.rig_id: changed(row.rig) for row in ring.rows}
    rows = tuple(replace(row, rig=made[row.rig.rig_id]) for row in ring.rows)
    rigs = {lens: changed(rig) for lens, rig in ring.rigs.items()}
    return replace(ring, rigs=rigs, rows=rows)


def gather(kit: Kit, rigs: Mapping[str, Rig]) -> Mapping[RingKey, RingReadings]:
    """Return every ring of the rigs with its readings, without those to be ignored."""
    rows: dict[RingKey, list[Row]] = {}
    barrels: dict[RingKey, RigRing] = {}
    for which in RINGS:
        for rig in rigs.values():
            ring = RigRing(rig, which)
            rows.setdefault(ring.key, [])
            barrels.setdefault(ring.key, ring)
        for index, reading in enumerate(kit.readings):
            figure = reading.at_line_mm(which)
            if figure is not None and reading.rig in rigs and not reading.ignore:
                rig = rigs[reading.rig]
                rows[ring_key(rig, which)].append(Row(index, reading, rig, figure))
    return {
        key: RingReadings(
            barrels[key].which,
            barrels[key].part,
            tuple(own),
            {each.rig.lens_id: each.rig for each in own or (barrels[key],)},
            _shifts(own, kit, rigs, key),
            _squeezes(kit, rigs, key),
        )
        for key, own in rows.items()
    }


def _shifts(rows: Sequence[Row], kit: Kit, rigs: Mapping[str, Rig], key: RingKey) -> Shifts:
    """Return a ring's tapings, those read through and those seen unmoved, and its play."""
    which: Which = key[0]
    readings = [row.reading for row in rows]
    sided = any(reading.side is not None for reading in readings)
    own = [u for u in kit.unmoved if u.rig in rigs and ring_key(rigs[u.rig], which) == key]
    held = held_offsets(own, which, ruler_mm=kit.bench.ruler_error)
    every = dict.fromkeys([*tapings(readings, which), *(taping for taping, _, _ in held)])
    return Shifts(tuple(every), sided, set_from=kit.bench.side, held=held)


def _squeezes(kit: Kit, rigs: Mapping[str, Rig], key: RingKey) -> Squeezes | None:
    """Return the squeezes measured on an attachment, on whichever rigs; None for a taking lens."""
    own = [
        each for each in kit.squeezes
        if not each.ignore and each.rig in rigs and key == ring_key(rigs[each.rig], "attachment")
    ]  # fmt: skip
    if not own:
        return None
    return Squeezes(
        np.array([float(rigs[each.rig].glass_position_mm(each.distance)) for each in own]),
        np.array([each.squeeze for each in own]),
        np.array([each.squeeze_error for each in own]),
    )


def _taking_problem(lens: TakingLens, rows: Sequence[Row], lenses: Sequence[str]) -> RingProblem:
    law = taking_law(lens)
    position = _by_rig(rows, lambda rig, distance: rig.lens_position_mm(distance))
    readings = _readings(
        rows, "taking", position=position, slope=np.ones_like(position), lenses=lenses
    )
    noise = TakingNoise(law, position, _aperture(rows), rows[0].rig.reading_errors)
    # Only for a lens that extends does the lead relate arc to travel.
    slope = lens.ring.arc_per_travel if lens.focusing == "extends" else None
    return RingProblem(law, readings, noise, slope_prior(slope))


def _attachment_problem(
    attachment: Attachment, rows: Sequence[Row], rigs: Mapping[str, Rig]
) -> RingProblem:
    law = attachment_law(attachment)
    position = _by_rig(rows, lambda rig, distance: rig.glass_position_mm(distance))
    slope = _by_rig(rows, lambda rig, distance: rig.glass_position_slope(distance))
    centres = prior_centres(law)
    noise = AttachmentNoise(
        law=law,
        position_mm=position,
        aperture=_aperture(rows),
        lens_to_rear_mm=_by_rig(
            rows, lambda rig, distance: group_places(rig, law, centres, distance).lens_to_rear_mm
        ),
        front_moves=np.array([float(row.rig.lens.front_moves) for row in rows]),
        pool_aperture=_pool_aperture(rows, rigs),
        errors=rows[0].rig.reading_errors,
    )
    readings = replace(
        _readings(rows, "attachment", position=position, slope=slope, lenses=tuple(rigs)),
        power_share=np.array([_power_share(row) for row in rows]),
    )
    return RingProblem(law, readings, noise, slope_prior(attachment.ring.arc_per_travel))


def _power_share(row: Row) -> float:
    """Return ε of the attachment's law for the height at which a target was read."""
    ring = RigRing(row.rig, "attachment")
    return float(ring.power_share(row.reading.distance, row.reading.height))


def _by_rig(rows: Sequence[Row], value: Callable[[Rig, Floats], Floats]) -> Floats:
    """Return `value` of each row's rig and distance (n); it is called once per rig."""
    members: dict[str, list[int]] = {}
    for number, row in enumerate(rows):
        members.setdefault(row.rig.rig_id, []).append(number)
    values = np.empty(len(rows))
    for numbers in members.values():
        distances = np.array([rows[number].reading.distance for number in numbers])
        values[numbers] = value(rows[numbers[0]].rig, distances)
    return values


def _aperture(rows: Sequence[Row]) -> Aperture:
    """Return the taking lens of every reading (n) as it was focused."""
    return Aperture(
        np.array([row.rig.optic.focal_length_mm for row in rows]),
        _by_rig(rows, lambda rig, distance: rig.image_mm(distance)),
        np.array([row.reading.stop for row in rows]),
        np.array([row.rig.circle_mm for row in rows]),
        np.array([row.rig.optic.hiatus_mm for row in rows]),
    )


def _pool_aperture(rows: Sequence[Row], rigs: Mapping[str, Rig]) -> Aperture:
    """Return each taking lens at infinity, at the widest stop and least circle of all readings."""
    focal = np.array([rig.lens.focal_length for rig in rigs.values()])
    stop = min(row.reading.stop for row in rows)
    return Aperture(focal, focal, stop, min(row.rig.circle_mm for row in rows))


def _readings(
    rows: Sequence[Row], which: Which, *, position: Floats, slope: Floats, lenses: Sequence[str]
) -> Readings:
    distance = np.array([row.reading.distance for row in rows])
    stated = np.array([row.reading.distance_error or np.nan for row in rows])
    errors = np.array([row.reading.error_mm(which) or np.nan for row in rows])
    places: dict[Hashable, int] = {}
    for row in rows:
        places.setdefault(row.setup, len(places))
    return Readings(
        arc_mm=np.array([row.figure_mm for row in rows]),
        distance_mm=distance,
        position_mm=position,
        position_slope=slope,
        distance_sigma_mm=np.where(np.isnan(stated), tape_sigma_mm(distance), stated),
        setup=tuple(places[row.setup] for row in rows),
        pool=tuple(lenses.index(row.rig.lens_id) for row in rows),
        pools=len(lenses),
        arc_sigma_mm=errors if np.any(~np.isnan(errors)) else None,
    )
