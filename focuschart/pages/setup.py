"""What to set up on a rig, in words, as rig sheet and pocket card tell it."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass

from focuschart.chart.model import RigChart
from focuschart.checks.picture import Picture, picture
from focuschart.checks.reach import Reach, reach
from focuschart.checks.rig_check import RigCheck
from focuschart.checks.wording import PAN_RULE, SUPPORT_SET, degrees, fastest_pan, pan_ends, side
from focuschart.errors import GlyphError
from focuschart.kit.schema import Kit
from focuschart.kit.schema import Rig as RigTable
from focuschart.layout.page import Face
from focuschart.layout.rig.rig_sheet import Fact
from focuschart.layout.text.typeset import SMALLEST_CAP_MM
from focuschart.rig.assemble import Rig
from focuschart.rig.balance import Balance, Section, balance, loaded
from focuschart.rig.chain import parts
from focuschart.units import Units, distance_label, mass_label


@dataclass(frozen=True, slots=True)
class Setup:
    """A rig, and what is found of its load, its reach and its picture.

    `loaded` is its load with the rig's `front_unit` on, None without one.
    """

    kit: Kit
    rig: Rig
    balance: Balance
    loaded: Balance | None
    reach: Reach
    picture: Picture

    @classmethod
    def of(cls, kit: Kit, check: RigCheck) -> Setup:
        """Return the setup of a rig that was checked."""
        return cls(kit, check.rig, check.balance, check.loaded, check.reach, check.picture)

    @classmethod
    def alone(cls, kit: Kit, chart: RigChart) -> Setup:
        """Return the setup of a charted rig, without its coverage, which takes longest."""
        shown = picture(kit, chart)
        near = reach(kit, chart, shown.deliveries[0].sensor)
        rig_id = chart.rig.rig_id
        return cls(kit, chart.rig, balance(kit, rig_id), loaded(kit, rig_id), near, shown)

    @property
    def table(self) -> RigTable:
        """The rig as the kit has it."""
        return self.kit.rigs[self.rig.rig_id]


def require_glyphs(setup: Setup, face: Face) -> None:
    """Raise GlyphError, naming the key, for the name of a part that the face cannot print."""
    kit, rig = setup.kit, setup.table
    named = [(part.key, part.table.name) for part in parts(kit, rig)]
    named += [(f"supports.{rig.support}", kit.supports[rig.support].name)] if rig.support else []
    named += [(f"carriers.{rig.carrier}", kit.carriers[rig.carrier].name)] if rig.carrier else []
    named += [(f"close_up_lenses.{key}", lens.name) for key, lens in kit.close_up_lenses.items()]
    for key, name in named:
        try:
            face.width_mm(name, cap_mm=SMALLEST_CAP_MM)
        except GlyphError as error:
            raise GlyphError(f"{key}.name: {error}") from None


def bound(text: str) -> str:
    """Return a text in which no line breaks between a figure and its unit or cross."""
    units = r"(?<=[\d×]) (?=×|\d|(?:N|kg|g|lb|oz|mm|m|s)\b)|(?<=\bN) (?=m\b)"
    return re.sub(units, "\N{NO-BREAK SPACE}", text)


def plate(setup: Setup) -> str:
    """Return where the carrier's axis balances the rig, or what is missing to tell it."""
    found = setup.balance
    if math.isnan(found.plate_mm):
        key = f"cameras.{setup.rig.camera_id}.tripod_thread"
        return (
            f"Balance {side(found.centre_mm, 'the sensor mark', setup.kit.units)}; {key} not given."
        )
    beyond = ": BEYOND THE PLATE" if found.plate_verdict == "does not meet" else ""
    return f"Carrier's axis {side(found.plate_mm, 'the tripod thread', setup.kit.units)}{beyond}."


def support(setup: Setup) -> str:
    """Return where the support stands and what it carries."""
    if setup.table.support is None:
        return "None: the lens mount carries all."
    stands, found = setup.kit.supports[setup.table.support], setup.balance
    place = f"{stands.name}, {side(stands.position, 'the sensor mark', setup.kit.units)}"
    if math.isnan(found.support_n):
        return f"{place}, {SUPPORT_SET}."
    return (
        f"{place}, {SUPPORT_SET}; then it carries {found.support_n:.1f} N, the mount "
        f"{found.mount_n:.1f} N."
    )


def mass(setup: Setup) -> str:
    """Return what the whole weighs on what carries it."""
    carrier = setup.kit.carriers[setup.table.carrier] if setup.table.carrier else None
    found, units = setup.balance, setup.kit.units
    spare_g = found.payload_margin_g
    on = f" on {carrier.name}" if carrier else ""
    if math.isfinite(spare_g):
        on += f", {mass_label(abs(spare_g), units)} {'to spare' if spare_g >= 0.0 else 'TOO MUCH'}"
    whole = math.isfinite(found.mass_g)
    weight = mass_label(found.mass_g if whole else found.known_mass_g, units)
    return f"{'' if whole else 'At least '}{weight}{on}. Rods and plate not counted."


def bending(setup: Setup) -> Iterator[tuple[str, Section]]:
    """Yield lens mount and helicoid, which can have a limit, with what to call them.

    Both once more with the rig's `front_unit` on, if it has one.
    """
    names = {"lens mount": "Lens mount", "helicoid": "Helicoid"}
    for found in filter(None, (setup.balance, setup.loaded)):
        added = mass_label(found.front_unit_g, setup.kit.units)
        more = f", {added} more in front" if found.front_unit_g else ""
        for each in found.sections:
            if each.place in names:
                yield f"{names[each.place]}{more}", each


def moment(section: Section) -> str:
    """Return the bending moment at a section, however its support is set, and its limit."""
    beyond = {"does not meet": ": EXCEEDED", "caution": ": NEVER WITHOUT THE SUPPORT"}
    judged = f"{limit(section)}{beyond.get(section.verdict, '')}."
    if math.isnan(section.hanging_nm) and section.least_nm > section.limit_nm:
        return f"At least {section.least_nm:.2f} N m unsupported; {judged}"
    if math.isnan(section.hanging_nm):
        return f"Bending moment cannot be told: {', '.join(section.missing)} not given."
    hanging, right, lifting = (
        f"{abs(moment_nm):.2f} N m"
        for moment_nm in (section.hanging_nm, section.right_nm, section.lifting_nm)
    )
    told = hanging
    if not math.isnan(section.right_nm):
        told = f"{right} with the support rightly set, {hanging} without, {lifting} raised too hard"
    return f"{told}; {judged}"


def limit(section: Section) -> str:
    """Return the largest moment that the kit states for a section."""
    if math.isnan(section.limit_nm):
        return "no limit stated"
    return f"stated limit {section.limit_nm:g} N m"


def nearest(setup: Setup) -> str:
    """Return the nearest subject; rounded up, for nearer than this is not promised."""
    near = distance_label(float(math.ceil(setup.reach.nearest_mm - 1e-6)), setup.kit.units)
    return f"{near} from the sensor mark, limited by {setup.reach.limited_by}."


def pans(shown: Picture, units: Units) -> Iterator[Fact]:
    """Yield how fast to pan at the nearest and the farthest mark, nothing without a readout."""
    found = shown.pans
    if found is None:
        return
    ends = pan_ends(shown, units)
    rates, leans, plain = (
        [values[0, i] for i in ends]
        for values in (found.rate_rad_s, found.lean_rad, found.spherical_lean_rad)
    )
    fast = " / ".join(f"{math.degrees(rate):.1f}°" for rate in rates)
    lean, beside = (" / ".join(map(degrees, angles)) for angles in (leans, plain))
    yield (
        "Pans",
        f"Subject at {' / '.join(ends.values())}: {fast} a second at most, the picture's width "
        f"{PAN_RULE}; upright edges lean {lean}, with a spherical lens of that field {beside}.",
    )
    fastest = {label: fastest_pan(shown, i) for i, label in ends.items()}
    if all(fastest.values()):
        told = "; ".join(f"at {label} {text}" for label, text in fastest.items())
        yield "Fastest pan", f"{told[0].upper()}{told[1:]}."
