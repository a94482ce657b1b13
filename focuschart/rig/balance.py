"""A rig's mass and balance, and the bending moments at mount, helicoid and joints."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

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
    relieving_force_n,
    supported_moment_nm,
    weight_n,
)

LIFTING = 2.0
"""The force of a support that is raised too hard, over the right one; judgement, no source."""


@dataclass(frozen=True, slots=True)
class Section:
    """A section that can bend, and the moments there in N m, positive where the front droops.

    `hanging_nm` is without support, `right_nm` with the support set right, `lifting_nm` with it
    raised too hard; the last two are nan if the rig has none. `least_nm` is a lower bound of
    `hanging_nm` from the known loads; nan where an unknown load may reduce it. `limit_nm` is the
    largest moment that the kit allows there. `missing` are the kit's keys needed to know more.
    `ahead` is the title of the part that a joint holds, "" for what is no joint.
    """

    place: str
    position_mm: float
    hanging_nm: float
    right_nm: float
    lifting_nm: float
    least_nm: float
    limit_nm: float
    supported: bool
    missing: tuple[str, ...]
    ahead: str = ""

    @property
    def verdict(self) -> Verdict:
        """Whether the moment stays within its limit, in either direction.

        It is "caution" if it does with the support set right, but not without it or raised too
        hard. The lower bound alone may exceed the limit.
        """
        hanging, right, lifting = (
            within(abs(moment), 0.0, self.limit_nm)
            for moment in (self.hanging_nm, self.right_nm, self.lifting_nm)
        )
        if self.least_nm > self.limit_nm:
            hanging = "does not meet"
        if not self.supported:
            return hanging
        if right != "does not meet" and "does not meet" in (hanging, lifting):
            return "caution"
        return right if right != "fits" else hanging


@dataclass(frozen=True, slots=True)
class Balance:
    """A rig on its carrier: masses in g, places in mm from the sensor plane, forces in N.

    `support_n` and `mount_n` are the upward forces that carry the front, with the support set
    right; nan without one. `front_unit_g` is the mass of a unit on the front, 0 without one.
    """

    loads: tuple[Load, ...]
    sections: tuple[Section, ...]
    support_n: float
    mount_n: float
    tripod_thread_mm: float
    plate_range_mm: tuple[float, float]
    payload_g: float
    front_unit_g: float = 0.0

    @property
    def mass_g(self) -> float:
        """The whole mass, the support's included."""
        return math.fsum(load.mass_g for load in self.loads)

    @property
    def known_mass_g(self) -> float:
        """The sum of the known masses, the support's included: a lower bound of `mass_g`."""
        return math.fsum(load.mass_g for load in self.loads if not math.isnan(load.mass_g))

    @property
    def centre_mm(self) -> float:
        """The centre of gravity of the whole."""
        centre = centre_of_gravity_mm(masses_g(self.loads), centres_mm=centres_mm(self.loads))
        return float(centre)

    @property
    def plate_mm(self) -> float:
        """Where the carrier's axis balances the rig, from the tripod thread."""
        return self.centre_mm - self.tripod_thread_mm

    @property
    def plate_verdict(self) -> Verdict:
        """Whether the plate can be set there."""
        return within(self.plate_mm, *self.plate_range_mm)

    @property
    def payload_margin_g(self) -> float:
        """The payload that is left, negative where the carrier is overloaded."""
        return self.payload_g - self.mass_g

    @property
    def payload_verdict(self) -> Verdict:
        """Whether the whole mass is within the payload."""
        return within(self.mass_g, 0.0, self.payload_g)

    @property
    def missing(self) -> tuple[str, ...]:
        """The kit's keys needed to know mass and centre of the whole."""
        return keys(self.loads)


def within(value: float, low: float, high: float) -> Verdict:
    """Return "fits" for a value within its limits, "cannot tell" where any of them is nan."""
    if any(map(math.isnan, (value, low, high))):
        return "cannot tell"
    return "fits" if low <= value <= high else "does not meet"


def balance(kit: Kit, rig_id: str, *, front_unit_g: float = 0.0) -> Balance:
    """Return the balance of one rig of a checked kit, with a unit of this mass on its front."""
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
        front_unit_g=front_unit_g,
    )


def loaded(kit: Kit, rig_id: str) -> Balance | None:
    """Return the balance of a rig with its `front_unit` mounted, None if it has none."""
    unit_g = kit.rigs[rig_id].front_unit
    return balance(kit, rig_id, front_unit_g=unit_g) if unit_g else None


class _Beam:
    """A rig's loads, from camera to front, with its support if it has one.

    The support is set right if it leaves the helicoid only the bare lens's moment: it is raised
    until the focus ring turns as freely as without the attachment (common practice, no source).
    Without a helicoid behind the support, this holds for the lens mount instead.
    """

    def __init__(self, kit: Kit, rig: Rig, row: Sequence[Load]) -> None:
        self.row = row
        self.supported = rig.support is not None
        self.support_mm = math.nan if rig.support is None else kit.supports[rig.support].position
        self.mount_mm = or_nan(kit.cameras[rig.camera].flange_focal_distance)
        self.helicoid_mm = _helicoid_mm(kit, rig)
        self.relieved_mm = self.mount_mm
        if self.helicoid_mm is not None and not self.helicoid_mm >= self.support_mm:
            self.relieved_mm = self.helicoid_mm
        force_n = relieving_force_n(
            self.support_mm,
            relieved_mm=self.relieved_mm,
            masses_g=masses_g(row[2:]),
            centres_mm=centres_mm(row[2:]),
        )
        self.support_n = float(force_n)

    def section(
        self, where: str, at_mm: float, *, first: int, limit_nm: float | None = None, key: str = ""
    ) -> Section:
        """Return the moments at a section that holds all loads from the `first` on.

        `key` is the kit's key of its place.
        """
        ahead = self.row[first:]
        hanging = hanging_moment_nm(at_mm, masses_g=masses_g(ahead), centres_mm=centres_mm(ahead))
        right, lifting = (
            float(supported_moment_nm(at_mm, hanging_nm=hanging, support_mm=self.support_mm,
                                      support_n=times * self.support_n))
            for times in (1.0, LIFTING)
        )  # fmt: skip
        missing = ((key,) if math.isnan(at_mm) and key else ()) + keys(ahead)
        return Section(
            place=where,
            position_mm=at_mm,
            hanging_nm=float(hanging),
            right_nm=right,
            lifting_nm=lifting,
            least_nm=_least_nm(at_mm, ahead),
            limit_nm=or_nan(limit_nm),
            supported=self.supported,
            missing=missing,
        )


def _least_nm(at_mm: float, ahead: Sequence[Load]) -> float:
    """Return a lower bound of the moment at a section: that of the known loads alone.

    It is nan where an unknown load may have its centre behind the section.
    """
    known = [load for load in ahead if math.isfinite(load.mass_g * load.centre_mm)]
    others = [load for load in ahead if load not in known]
    if any(not load.least_mm >= at_mm for load in others):
        return math.nan
    return float(hanging_moment_nm(at_mm, masses_g=masses_g(known), centres_mm=centres_mm(known)))


def _helicoid_mm(kit: Kit, rig: Rig) -> float | None:
    """Return the helicoid's place from the sensor, nan if not given, None without a helicoid."""
    lens = kit.taking_lenses[rig.taking_lens]
    if lens.helicoid is None and lens.focusing == "internal":
        return None
    return or_nan(kit.cameras[rig.camera].flange_focal_distance) + or_nan(lens.helicoid)


def _sections(kit: Kit, rig: Rig, beam: _Beam) -> Iterator[Section]:
    """Yield the sections at the lens mount, the helicoid, and each joint in front of the lens.

    The whole lens is taken to hang on its helicoid (judgement: no kit says which part moves).
    """
    row, starts = parts(kit, rig), starts_mm(kit, rig)
    camera, lens = kit.cameras[rig.camera], kit.taking_lenses[rig.taking_lens]
    flange = f"cameras.{rig.camera}.flange_focal_distance"
    yield beam.section(
        "lens mount", starts[1], first=1, limit_nm=camera.mount_moment_limit, key=flange
    )
    if beam.helicoid_mm is not None:
        yield beam.section(
            "helicoid",
            beam.helicoid_mm,
            first=1,
            limit_nm=lens.helicoid_moment_limit,
            key=f"taking_lenses.{rig.taking_lens}.helicoid" if lens.helicoid is None else flange,
        )
    for index in range(2, len(row)):
        joint = beam.section(place(row[index - 1], row[index]), starts[index], first=index)
        yield replace(joint, ahead=row[index].title)
