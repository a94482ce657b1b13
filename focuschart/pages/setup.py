"""The setup of a rig in words, for the rig sheet and the setup cards: balance, support, pans."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass

from focuschart.chart.model import Chart
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
    """A rig with its balance, its reach and its picture.

    `loaded` is its balance with the rig's `front_unit` mounted, None without one.
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
    def of_chart(cls, chart: Chart) -> Setup:
        """Return the setup of a charted rig, without the slow check of coverage."""
        kit, shown = chart.kit, picture(chart)
        near = reach(chart, shown.deliveries[0].sensor)
        rig_id = chart.rig.rig_id
        return cls(kit, chart.rig, balance(kit, rig_id), loaded(kit, rig_id), near, shown)

    @property
    def table(self) -> RigTable:
        """The table of the rig in the kit."""
        return self.kit.rigs[self.rig.rig_id]


def require_glyphs(setup: Setup, face: Face) -> None:
    """Raise GlyphError, with the key, for the name of a part that the face cannot print."""
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


def unbroken(text: str) -> str:
    """Return a text with no-break spaces between a figure and its unit or ×."""
    units = r"(?<=[\d×]) (?=×|\d|(?:N|kg|g|lb|oz|mm|m|s)\b)|(?<=\bN) (?=m\b)"
    return re.sub(units, "\N{NO-BREAK SPACE}", text)


def plate(setup: Setup) -> str:
    """Return where the carrier's axis balances the rig, or which key is missing for that."""
    balanced = setup.balance
    if math.isnan(balanced.plate_mm):
        key = f"cameras.{setup.rig.camera_id}.tripod_thread"
        place = side(balanced.centre_mm, "the sensor mark", setup.kit.units)
        return f"Balance {place}; {key} not given."
    beyond = ": BEYOND THE PLATE" if balanced.plate_verdict == "does not meet" else ""
    return (
        f"Carrier's axis {side(balanced.plate_mm, 'the tripod thread', setup.kit.units)}{beyond}."
    )


def support(setup: Setup) -> str:
    """Return the place of the support and the force it carries."""
    if setup.table.support is None:
        return "None: the lens mount carries all."
    table, balanced = setup.kit.supports[setup.table.support], setup.balance
    place = f"{table.name}, {side(table.position, 'the sensor mark', setup.kit.units)}"
    if math.isnan(balanced.support_n):
        return f"{place}, {SUPPORT_SET}."
    return (
        f"{place}, {SUPPORT_SET}; then it carries {balanced.support_n:.1f} N, the mount "
        f"{balanced.mount_n:.1f} N."
    )


def mass(setup: Setup) -> str:
    """Return the mass of the rig, the carrier, and the margin to its payload."""
    carrier = setup.kit.carriers[setup.table.carrier] if setup.table.carrier else None
    balanced, units = setup.balance, setup.kit.units
    spare_g = balanced.payload_margin_g
    on = f" on {carrier.name}" if carrier else ""
    if math.isfinite(spare_g):
        on += f", {mass_label(abs(spare_g), units)} {'to spare' if spare_g >= 0.0 else 'TOO MUCH'}"
    whole = math.isfinite(balanced.mass_g)
    weight = mass_label(balanced.mass_g if whole else balanced.known_mass_g, units)
    return f"{'' if whole else 'At least '}{weight}{on}. Rods and plate not counted."


def bending(setup: Setup) -> Iterator[tuple[str, Section]]:
    """Yield lens mount and helicoid, the sections that can have a limit, with their names.

    Both are repeated with the rig's `front_unit` mounted, if it has one.
    """
    names = {"lens mount": "Lens mount", "helicoid": "Helicoid"}
    for balanced in filter(None, (setup.balance, setup.loaded)):
        added = mass_label(balanced.front_unit_g, setup.kit.units)
        more = f", {added} more in front" if balanced.front_unit_g else ""
        for section in balanced.sections:
            if section.place in names:
                yield f"{names[section.place]}{more}", section


def moment(section: Section) -> str:
    """Return the bending moments at a section, for each way to set the support, and its limit."""
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
    moments = hanging
    if not math.isnan(section.right_nm):
        moments = (
            f"{right} with the support rightly set, {hanging} without, {lifting} raised too hard"
        )
    return f"{moments}; {judged}"


def limit(section: Section) -> str:
    """Return the largest moment that the kit states for a section."""
    if math.isnan(section.limit_nm):
        return "no limit stated"
    return f"stated limit {section.limit_nm:g} N m"


def nearest(setup: Setup) -> str:
    """Return the nearest subject distance, rounded up since the rig cannot focus nearer."""
    near = distance_label(float(math.ceil(setup.reach.nearest_mm - 1e-6)), setup.kit.units)
    return f"{near} from the sensor mark, limited by {setup.reach.limited_by}."


def pans(shown: Picture, units: Units) -> Iterator[Fact]:
    """Yield the fastest pans at the nearest and the farthest mark; none without a readout time."""
    limits = shown.pans
    if limits is None:
        return
    ends = pan_ends(shown, units)
    rates, leans, plain = (
        [values[0, i] for i in ends]
        for values in (limits.rate_rad_s, limits.lean_rad, limits.spherical_lean_rad)
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
        rule = "; ".join(f"at {label} {text}" for label, text in fastest.items())
        yield "Fastest pan", f"{rule[0].upper()}{rule[1:]}."
