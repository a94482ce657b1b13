"""The setup cards of a rig: its balance, frame sizes, locked zones and close-up lenses."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from focuschart.chart.model import Chart
from focuschart.checks.picture import Picture
from focuschart.checks.reach import Table as CloseUpTable
from focuschart.checks.wording import frame_text, side, squeeze_text
from focuschart.layout.card.card import CardBlocks, Side, Table, Words, card_run
from focuschart.layout.page import Face
from focuschart.layout.rig.rig_sheet import Fact
from focuschart.pages.cautions import CAUTIONS
from focuschart.pages.columns import DISTANCE_UNIT
from focuschart.pages.hold import hold_table
from focuschart.pages.setup import (
    Setup,
    bending,
    limit,
    mass,
    moment,
    pans,
    plate,
    require_glyphs,
    support,
    unbroken,
)
from focuschart.prints.code import codes
from focuschart.rig.chain import parts
from focuschart.rig.loads import starts_mm
from focuschart.units import (
    Units,
    distance_label,
    format_range,
    format_stop,
    place_figure,
    scale_label,
)

LOCKED = (
    "With the attachment left at the label, from where to where the taking ring alone keeps the "
    "subject sharp."
)
CAUTION = "Limits stated by the makers win over these figures."


def setup_cards(
    chart: Chart, *, face: Face, size: tuple[float, float], two_sided: bool = False
) -> list[CardBlocks]:
    """Return the setup cards of a rig; empty where the kit gives no fact for them.

    Raises PageError for a card size that is too small, GlyphError for a name that the face cannot
    print.
    """
    setup = Setup.of_chart(chart)
    sides = list(_sides(setup, chart))
    if not sides:
        return []
    require_glyphs(setup, face)
    key = f"setup:{chart.rig.rig_id}"
    cautions = Words(f"{chart.rig.name}: cautions", codes(chart)["setup"], CAUTIONS)
    return card_run(key, (sides, (*sides, cautions)), size=size, face=face, two_sided=two_sided)


def _sides(setup: Setup, chart: Chart) -> Iterator[Side | Words]:
    name, code, units = chart.rig.name, codes(chart)["setup"], setup.kit.units
    facts = list(_facts(setup))
    if facts:
        unit = "inches" if units == "imperial" else "mm"
        listed = [(f"From the sensor mark, {unit}", _places(setup)), *facts]
        notes = (*(unbroken(f"{label}: {text}") for label, text in listed), CAUTION)
        yield Words(f"{name}: setup", code, notes)
    if np.any(np.isfinite(setup.picture.distances_mm)):
        yield Side(f"{name}: frames", code, _frames(setup, units), (_finished(setup.picture),))
    yield Side(f"{name}: attachment locked", code, hold_table(chart), (LOCKED,))
    for table in setup.reach.close_ups:
        where = "On the rig. " if table.mounted else ""
        note = (
            f"{where}Rings at the label on the left: subject and limits of sharpness from the "
            f"sensor mark, frame of {setup.picture.deliveries[0].name}."
        )
        yield Side(f"{name}: {table.name}", code, _close_up(setup, chart, table), (note,))


def _facts(setup: Setup) -> Iterator[Fact]:
    """Yield the facts known of balance, support and pans, the most needed first."""
    balanced = setup.balance
    if math.isfinite(balanced.plate_mm):
        yield "Plate", plate(setup)
    elif math.isfinite(balanced.centre_mm):
        yield "Balance", f"{side(balanced.centre_mm, 'the sensor mark', setup.kit.units)}."
    if setup.table.support is not None or balanced.known_mass_g:
        yield "Support", support(setup)
    if balanced.known_mass_g:
        yield "Mass", mass(setup)
    for label, section in bending(setup):
        if math.isfinite(section.hanging_nm) or section.least_nm > section.limit_nm:
            yield label, moment(section)
        elif math.isfinite(section.limit_nm):
            yield label, f"{limit(section)}."
    yield from pans(setup.picture, setup.kit.units)


def _places(setup: Setup) -> str:
    """Return the place where each part in front of the lens begins, as far as known."""
    row = parts(setup.kit, setup.table)
    starts = starts_mm(setup.kit, setup.table)
    units = setup.kit.units
    known = [
        f"{place_figure(start, units)}\N{NO-BREAK SPACE}{part.table.name}"
        for part, start in zip(row[2:], starts[2:], strict=False)
        if math.isfinite(start)
    ]
    glass = setup.kit.front_vertex_mm(setup.table)
    if glass is not None:
        known.append(f"{place_figure(glass, units)}\N{NO-BREAK SPACE}foremost glass")
    return f"{'; '.join(known)} (rings at infinity)."


def _finished(shown: Picture) -> str:
    """Return the note on frames: how they are desqueezed, and how much too wide faces can get."""
    seen = "Width by height of what each picture shows at the subject"
    if shown.one_factor is None:
        return f"{seen}, desqueezed by the mark's own squeeze (± 95 %)."
    most = float(np.max(shown.widening_percent))
    return (
        f"{seen}, all desqueezed by {shown.one_factor:g}: faces up to {most:.0f} % too wide. The "
        "squeeze (± 95 %) is the true one."
    )


def _frames(setup: Setup, units: Units) -> Table:
    """Return the table of each delivery's frame size at each finite mark."""
    shown = setup.picture
    finite = np.flatnonzero(np.isfinite(shown.distances_mm)).tolist()
    rows = tuple(
        (
            scale_label(float(shown.distances_mm[i]), units),
            squeeze_text(shown, i),
            *(
                frame_text(
                    float(delivery.frame.width_mm[i]), float(delivery.frame.height_mm[i]), units
                )
                for delivery in shown.deliveries
            ),
        )
        for i in finite
    )
    headings = (DISTANCE_UNIT[units], "squeeze", *(delivery.name for delivery in shown.deliveries))
    return Table(headings, rows, optional=len(shown.deliveries) - 1, fuller="the check")


def _close_up(setup: Setup, chart: Chart, table: CloseUpTable) -> Table:
    """Return the table of a close-up lens: subject, limits and frame at each mark."""
    units, seen = setup.kit.units, table.close_up
    rows = tuple(
        (
            scale_label(float(mark), units),
            distance_label(float(np.round(seen.subject_mm[i])), units),
            format_range(float(seen.limits.near_mm[i]), float(seen.limits.far_mm[i]), units),
            frame_text(float(seen.frame.width_mm[i]), float(seen.frame.height_mm[i]), units),
        )
        for i, mark in enumerate(chart.distances_mm)
    )
    stop = format_stop(chart.working_stop)
    return Table(("rings at", "subject", f"sharp {stop}", "frame"), rows)
