"""The pocket cards of a rig, made from its chart: the settings card, then the setup cards."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from typing import Protocol

import numpy as np

from focuschart.chart.height import heights_text
from focuschart.chart.marks import RingMarks
from focuschart.chart.model import Chart
from focuschart.chart.verdict import sure_from, trusted_from, verdicts
from focuschart.checks.wording import squeeze_text
from focuschart.kit.schema import Kit
from focuschart.layout.card.card import Card, CardBlocks, Side, Table, card_size, cards
from focuschart.layout.page import Face
from focuschart.layout.sheet.pieces import Item
from focuschart.pages.columns import DISTANCE_UNIT, mark_column, zone_columns
from focuschart.pages.print_jobs import PrintJob
from focuschart.pages.setup_cards import setup_cards
from focuschart.prints.code import chart_code, codes
from focuschart.prints.facts import Print
from focuschart.rig.light import clean_text
from focuschart.units import format_stop, scale_reading

CAUTIONS = (
    "Never point the rig at the sun. Support and tether a front-heavy rig; above people, local "
    "rules and qualified riggers decide. Check every mark by a camera test before a job."
)


def cards_of(chart: Chart, *, face: Face, size: str, two_sided: bool = False) -> Iterator[PrintJob]:
    """Yield the pocket cards of a rig, to fold or two-sided; none unless both rings have marks."""
    if chart.taking is None or chart.attachment is None:
        return
    says = "back on the next page" if two_sided else "fold along the dashed line"
    heading = f"{chart.rig.name}: {says}, laminate"

    def items(name: str, draw: Draw) -> list[Item]:
        drawn = draw(chart, size=card_size(size), face=face, two_sided=two_sided)
        key = f"{chart.rig.rig_id}/{name}"
        return [
            Item(f"{key}/{number}", heading, blocks.front, back=blocks.back)
            for number, blocks in enumerate(drawn)
        ]

    draws: dict[Print, tuple[str, Draw]] = {
        "card": ("settings card", settings_cards),
        "setup": ("setup cards", setup_cards),
    }
    for name, (what, draw) in draws.items():
        yield PrintJob(chart.rig.rig_id, what, partial(items, name, draw))


class Draw(Protocol):
    """A function that draws the settings cards or the setup cards of a rig."""

    def __call__(
        self, chart: Chart, *, face: Face, size: tuple[float, float], two_sided: bool
    ) -> list[CardBlocks]: ...


def settings_cards(
    chart: Chart, *, face: Face, size: tuple[float, float], two_sided: bool
) -> list[CardBlocks]:
    """Return the settings card of a rig with both rings measured.

    Raises PageError for a card size that is too small.
    """
    assert chart.taking is not None
    assert chart.attachment is not None
    card = _card(chart, chart.taking, chart.attachment)
    return cards(card, size=size, face=face, two_sided=two_sided)


def _card(chart: Chart, taking: RingMarks, attachment: RingMarks) -> Card:
    title = chart.rig.name
    front = Side(
        title,
        chart_code(chart),
        _settings_table(chart, taking, attachment),
        (*_settings_notes(chart, taking, attachment), heights_text(chart)),
    )
    back = Side(
        title,
        chart_code(chart),
        _sureness_table(chart, taking, attachment),
        (*_trust_notes(chart), *_corner_notes(chart), CAUTIONS),
    )
    return Card(f"card:{chart.rig.rig_id}", front, back)


def _settings_table(chart: Chart, taking: RingMarks, attachment: RingMarks) -> Table:
    """Return the front's table: distance, both ring settings, zone in focus at each stop."""
    zones = zone_columns(chart, chart.frame)
    columns = (
        _starred(chart),
        _setting_column(chart.kit, taking),
        _setting_column(chart.kit, attachment),
        *zones.values(),
    )
    headings = (
        DISTANCE_UNIT[chart.kit.units],
        _setting_heading("lens", taking),
        _setting_heading("att.", attachment),
        *zones,
    )
    return Table(headings, tuple(zip(*columns, strict=True)), optional=len(zones) - 1)


def _setting_heading(name: str, marks: RingMarks) -> str:
    return f"{name} {'mm' if np.all(np.isnan(marks.engraved_mm)) else 'scale'}"


def _setting_column(kit: Kit, marks: RingMarks) -> list[str]:
    """Return the setting of a ring at each mark, on its engraved scale if listed, else in mm.

    Marks beyond the engraved scale are given in mm on the ruler, in brackets.
    """
    if np.all(np.isnan(marks.engraved_mm)):
        return [f"{arc:.1f}" for arc in marks.arc_mm]
    return [
        f"({arc:.1f})" if np.isnan(shown) else scale_reading(float(shown), kit.units)
        for arc, shown in zip(marks.arc_mm, marks.engraved_mm, strict=True)
    ]


def _starred(chart: Chart) -> list[str]:
    """Return the marks' distances, with a star where one is not sure at the working stop."""
    words = zip(mark_column(chart), verdicts(chart), strict=True)
    return [f"{label}*" if word == "not" else label for label, word in words]


def _sureness_table(chart: Chart, taking: RingMarks, attachment: RingMarks) -> Table:
    """Return the back's table: squeeze, each ring's error and tolerance, and `sure_from`."""
    headings = (DISTANCE_UNIT[chart.kit.units], "squeeze", "lens ±/tol", "att. ±/tol", "sure from")
    columns = (
        mark_column(chart),
        [squeeze_text(chart, i) for i in range(len(chart.squeeze))],
        _against_tolerance(taking),
        _against_tolerance(attachment),
        ["no stop" if stop is None else format_stop(stop) for stop in sure_from(chart)],
    )
    return Table(headings, tuple(zip(*columns, strict=True)))


def _against_tolerance(marks: RingMarks) -> list[str]:
    """Return the 95 % error and the tolerance at the working stop of each mark, mm."""
    pairs = zip(marks.arc_95_mm, marks.tolerance_mm[0], strict=True)
    return [f"{error:.2f}/{allowed:.2f}" for error, allowed in pairs]


def _settings_notes(chart: Chart, taking: RingMarks, attachment: RingMarks) -> tuple[str, ...]:
    notes = ["Same label on both rings. Distances from the sensor mark; limits rounded inward."]
    if chart.kit.bench.side:
        notes.append(f"Come to each mark from the {chart.kit.bench.side} side.")
    if "not" in verdicts(chart):
        notes.append(f"* Not sure at {format_stop(chart.working_stop)}: see the back.")
    if any(_partly_engraved(marks) for marks in (taking, attachment)):
        notes.append("(In brackets: mm on the ruler, beyond the engraved scale.)")
    return tuple(notes)


def _partly_engraved(marks: RingMarks) -> bool:
    off = np.isnan(marks.engraved_mm)
    return bool(np.any(off) and not np.all(off))


def _corner_notes(chart: Chart) -> Iterator[str]:
    """Yield the stops at which the corners are clean; nothing where the kit does not give them."""
    if chart.light is not None:
        yield f"Picture's {clean_text(chart.light)} (half their light or more)."


def _trust_notes(chart: Chart) -> Iterator[str]:
    stop, at = trusted_from(chart), format_stop(chart.working_stop)
    whole = "no stop" if stop is None else format_stop(stop)
    if chart.contradicted:
        yield "READINGS DISAGREE: trust no mark, check them and print again."
    made = codes(chart)
    yield f"Goes with strips {made['taking']} and {made['attachment']}."
    yield (
        f"± 95 % as set by hand, tol one circle of confusion at {at}, mm. All sure together from: "
        f"{whole}."
    )
