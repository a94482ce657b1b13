"""What a rig weighs, where it balances, and what hangs on each place that can bend."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from focuschart.kit.schema import Kit, Rig
from focuschart.rig.chain import Verdict, parts, place
from focuschart.rig.loads import (
    Load,
    centres_mm,
    keys,
    loads,
    masses_g,
    or_nan,
    starts_mm,
    support_load,
)
from focuschart.rig.statics import (
    centre_of_gravity_mm,
    hanging_moment_nm,
    propped_moment_nm,
    support_force_n,
    weight_n,
)

FRONT_UNIT_G = 600.0
"""A variable close-up unit weighs 500 to 700 g. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Section:
    """One place that can bend, and the moments there in N m, positive where the front droops.

    `hanging_nm` is without the support, `acting_nm` as the rig stands; `limit_nm` is the largest
    moment that the kit states for the place. `missing` are the kit's keys that would tell more.
    """

    place: str
    position_mm: float
    hanging_nm: float
    acting_nm: float
    limit_nm: float
    missing: tuple[str, ...]

    @property
    def verdict(self) -> Verdict:
        """Whether the moment, either way, is within its limit."""
        return within(abs(self.acting_nm), 0.0, self.limit_nm)


@dataclass(frozen=True, slots=True)
class Balance:
    """A rig on its carrier: masses in g, places in mm from the sensor plane, forces in N.

    `support_n` and `mount_n` are the forces that carry the front, up positive, nan without a
    support. `plate_mm` is where the carrier's axis balances the rig, from the tripod thread.
    """

    loads: tuple[Load, ...]
    sections: tuple[Section, ...]
    support_n: float
    mount_n: float
    tripod_thread_mm: float
    plate_range_mm: tuple[float, float]
    payload_g: float

    @property
    def mass_g(self) -> float:
        """The whole mass, the support's included."""
        return math.fsum(load.mass_g for load in self.loads)

    @property
    def centre_mm(self) -> float:
        """The centre of gravity of the whole."""
        found = centre_of_gravity_mm(masses_g(self.loads), centres_mm=centres_mm(self.loads))
        return float(found)

    @property
    def plate_mm(self) -> float:
        """Where the carrier's axis must stand, from the tripod thread."""
        return self.centre_mm - self.tripod_thread_mm

    @property
    def plate_verdict(self) -> Verdict:
        """Whether the plate reaches there."""
        return within(self.plate_mm, *self.plate_range_mm)

    @property
    def payload_margin_g(self) -> float:
        """What the carrier could carry more, negative where it is overloaded."""
        return self.payload_g - self.mass_g

    @property
    def payload_verdict(self) -> Verdict:
        """Whether the whole mass is within the payload."""
        return within(self.mass_g, 0.0, self.payload_g)

    @property
    def missing(self) -> tuple[str, ...]:
        """The kit's keys that would tell mass and centre of the whole."""
        return keys(self.loads)


def within(value: float, low: float, high: float) -> Verdict:
    """Return whether a value is known to lie within its limits."""
    if any(map(math.isnan, (value, low, high))):
        return "cannot tell"
    return "fits" if low <= value <= high else "does not meet"


def balance(kit: Kit, rig_id: str, *, front_unit_g: float = 0.0) -> Balance:
    """Return the balance of one rig of a checked kit, with a unit of that mass on its front.

    Once with 0 and once with `FRONT_UNIT_G` says what a variable close-up unit changes.
    """
    rig = kit.rigs[rig_id]
    row = loads(kit, rig, front_unit_g=front_unit_g)
    beam = _Beam(kit, rig, row)
    carrier = None if rig.carrier is None else kit.carriers[rig.carrier]
    low, high = (carrier and carrier.plate_range) or (math.nan, math.nan)
    return Balance(
        loads=(*row, *support_load(kit, rig)),
        sections=tuple(_sections(kit, rig, beam)),
        support_n=beam.support_n,
        mount_n=float(weight_n(masses_g(row[1:]))) - beam.support_n,
        tripod_thread_mm=or_nan(kit.cameras[rig.camera].tripod_thread),
        plate_range_mm=(low, high),
        payload_g=math.nan if carrier is None else or_nan(carrier.payload),
    )


class _Beam:
    """A rig's loads, from camera to front, with its support if it has one."""

    def __init__(self, kit: Kit, rig: Rig, row: Sequence[Load]) -> None:
        self.row = row
        self.support_mm = math.nan if rig.support is None else kit.supports[rig.support].position
        force_n = support_force_n(
            self.support_mm,
            pin_mm=kit.cameras[rig.camera].flange_focal_distance,
            masses_g=masses_g(row[1:]),
            centres_mm=centres_mm(row[1:]),
        )
        self.support_n = float(force_n)

    def section(
        self, where: str, at_mm: float, *, first: int, limit_nm: float | None = None, key: str = ""
    ) -> Section:
        """Return the moments where all loads from the `first` on hang; `key` tells the place."""
        ahead = self.row[first:]
        hanging = hanging_moment_nm(at_mm, masses_g=masses_g(ahead), centres_mm=centres_mm(ahead))
        acting = hanging
        if not math.isnan(self.support_mm):
            acting = propped_moment_nm(
                at_mm, hanging_nm=hanging, support_mm=self.support_mm, support_n=self.support_n
            )
        missing = ((key,) if math.isnan(at_mm) and key else ()) + keys(ahead)
        return Section(where, at_mm, float(hanging), float(acting), or_nan(limit_nm), missing)


def _sections(kit: Kit, rig: Rig, beam: _Beam) -> Iterator[Section]:
    """Yield the lens mount, the helicoid, and each joint before the lens."""
    row, starts = parts(kit, rig), starts_mm(kit, rig)
    camera, lens = kit.cameras[rig.camera], kit.taking_lenses[rig.taking_lens]
    yield beam.section("lens mount", starts[1], first=1, limit_nm=camera.mount_moment_limit)
    if lens.helicoid is not None or lens.focusing != "internal":
        yield beam.section(
            "helicoid",
            starts[1] + or_nan(lens.helicoid),
            first=2,
            limit_nm=lens.helicoid_moment_limit,
            key=f"taking_lenses.{rig.taking_lens}.helicoid",
        )
    for index in range(2, len(row)):
        where = place(row[index - 1], row[index])
        yield beam.section(where, starts[index], first=index)
