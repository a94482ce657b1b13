"""The pocket cards of a rig, made from its chart: the settings card, then the setup cards."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from typing import Protocol

import numpy as np

from focuschart.chart.engraved import engraved_text
from focuschart.chart.gauge import gauge, gauge_words, seen
from focuschart.chart.height import heights_text
from focuschart.chart.hyperfocal import hyperfocal_mm
from focuschart.chart.marks import RingMarks
from focuschart.chart.model import Chart
from focuschart.chart.verdict import sure_from, trusted_from, verdicts
from focuschart.checks.wording import squeeze_text
from focuschart.kit.schema import Kit
from focuschart.layout.card.card import CardBlocks, Side, Table, Words, card_run, dealt_columns
from focuschart.layout.card.size import card_size
from focuschart.layout.page import Face
from focuschart.layout.sheet.pieces import Item
from focuschart.pages.cautions import CAUTIONS
from focuschart.pages.columns import DISTANCE_UNIT, mark_column, zone_columns
from focuschart.pages.print_jobs import PrintJob
from focuschart.pages.setup_cards import setup_cards
from focuschart.prints.code import chart_code, codes
from focuschart.prints.facts import Print
from focuschart.rig.light import clean_text
from focuschart.units import (
    MM_PER_FOOT,
    Units,
    distance_label,
    format_stop,
    place_label,
    scale_label,
    scale_reading,
)

_STOPS_A_FACE = 3
_LEAST_CAP_MM = 2.2
"""What a tired eye reads at arm's length: 12' of arc at 60 cm (common practice, no source)."""


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
    """Return the settings cards of a rig with both rings measured.

    On a front is what is looked up while shooting, in large figures; on a back what is looked up
    in peace. Raises PageError for a card size that is too small.
    """
    assert chart.taking is not None
    assert chart.attachment is not None
    name, code = chart.rig.name, chart_code(chart)
    fronts = [
        Side(name, code, table, _front_notes(chart), least_cap_mm=_LEAST_CAP_MM)
        for table in dealt_columns(
            _zone_table(chart), most=_STOPS_A_FACE, cap_mm=_LEAST_CAP_MM, size=size, face=face
        )
    ]
    settings = _settings_table(chart, chart.taking, chart.attachment)
    pairs = Side(f"{name}: settings", code, settings, tuple(_settings_notes(chart)))
    framing = Side(f"{name}: framing", code, _framing_table(chart), tuple(_framing_notes(chart)))
    told = (*_trust_notes(chart), *_corner_notes(chart), heights_text(chart))
    sure, care = (
        Words(f"{name}: {title}", code, notes)
        for title, notes in (("how sure", told), ("cautions", CAUTIONS))
    )
    first, *others = fronts
    table_sides = (first, pairs, *others, framing)
    together = replace(sure, notes=(*told, *CAUTIONS))
    return card_run(
        f"card:{chart.rig.rig_id}", ((*table_sides, together), (*table_sides, sure, care)),
        size=size, face=face, two_sided=two_sided,
    )  # fmt: skip


def _zone_table(chart: Chart) -> Table:
    """Return the front's table: from where to where the frame is sharp, at each mark and stop."""
    zones = zone_columns(chart, chart.frame)
    units = chart.kit.units
    reached = [
        "" if np.isnan(distance) else f"{scale_label(_rounded_up(distance, units), units)}: to ∞"
        for distance in hyperfocal_mm(chart).tolist()
    ]
    return Table(
        (DISTANCE_UNIT[units], *zones),
        tuple(zip(_starred(chart), *zones.values(), strict=True)),
        foot=("from", *reached),
    )


def _rounded_up(distance_mm: float, units: Units) -> float:
    """Return a far distance rounded up to two figures, or to whole feet."""
    if units == "imperial":
        return MM_PER_FOOT * math.ceil(distance_mm / MM_PER_FOOT - 1e-6)
    step = 10.0 ** (math.floor(math.log10(distance_mm)) - 1)
    return step * math.ceil(distance_mm / step - 1e-6)


def _front_notes(chart: Chart) -> tuple[str, ...]:
    near = max(chart.rig.lens.nearest, chart.rig.attachment.nearest)
    return (f"Nearest focus {distance_label(near, chart.kit.units)}.",)


def _settings_table(chart: Chart, taking: RingMarks, attachment: RingMarks) -> Table:
    """Return what each ring is set to at each mark, without strips."""
    columns = (
        _starred(chart), _setting_column(chart.kit, taking), _setting_column(chart.kit, attachment)
    )  # fmt: skip
    headings = (
        DISTANCE_UNIT[chart.kit.units],
        _setting_heading("lens", taking),
        _setting_heading("att.", attachment),
    )
    return Table(headings, tuple(zip(*columns, strict=True)))


def _setting_heading(name: str, marks: RingMarks) -> str:
    return f"{name} {'mm' if np.all(np.isnan(marks.engraved_mm)) else 'scale'}"


def _setting_column(kit: Kit, marks: RingMarks) -> list[str]:
    """Return the setting of a ring at each mark, on its engraved scale if listed, else in mm.

    Marks beyond the engraved scale are given in mm on the ruler, in brackets.
    """
    if np.all(np.isnan(marks.engraved_mm)):
        return [f"{arc:.1f}" for arc in marks.arc_mm]
    figures, label = marks.measured.readings.ring.engraved, partial(scale_reading, units=kit.units)
    words = [engraved_text(figures, arc, label=label, of_the_way="") for arc in marks.arc_mm]
    return [text or f"({arc:.1f})" for text, arc in zip(words, marks.arc_mm, strict=True)]


def _starred(chart: Chart) -> list[str]:
    """Return the marks' distances, with a star where one is not sure at the working stop."""
    words = zip(mark_column(chart), verdicts(chart), strict=True)
    return [f"{label}*" if word == "not" else label for label, word in words]


def _framing_table(chart: Chart) -> Table:
    """Return squeeze, what the gauge takes of the picture's height, and `sure_from`."""
    headings = (
        DISTANCE_UNIT[chart.kit.units], "squeeze", "height %",
        f"ends {format_stop(chart.working_stop)}", "sure from",
    )  # fmt: skip
    at, ends = (list(column) for column in zip(*gauge_words(chart), strict=True))
    columns = (
        mark_column(chart),
        [squeeze_text(chart, i) for i in range(len(chart.squeeze))],
        at,
        ends,
        ["no stop" if stop is None else format_stop(stop) for stop in sure_from(chart)],
    )
    return Table(headings, tuple(zip(*columns, strict=True)))


def _framing_notes(chart: Chart) -> Iterator[str]:
    size = place_label(chart.kit.gauge, chart.kit.units)
    yield f"Height %: share of the picture's height that {size} takes; ends: at both limits."
    if not np.all(seen(gauge(chart))[0]):
        yield "! No eye sees that difference in the frame: measure the distance."


def _settings_notes(chart: Chart) -> Iterator[str]:
    yield "Same label on both rings. Distances from the sensor mark."
    if chart.kit.bench.side:
        yield f"Come to each mark from the {chart.kit.bench.side} side."
    rings = [marks for _, marks in chart.rings().values() if marks]
    if any("from" in text for marks in rings for text in marks.engraved_text):
        yield "A third from 1.5 to 2: a third of the way between these figures on the ring."
    if any(_partly_engraved(marks) for marks in rings):
        yield "(In brackets: mm on the ruler, beyond the engraved scale.)"


def _partly_engraved(marks: RingMarks) -> bool:
    off = np.isnan(marks.engraved_mm)
    return bool(np.any(off) and not np.all(off))


def _corner_notes(chart: Chart) -> Iterator[str]:
    """Yield the stops at which the corners are clean; nothing where the kit does not give them."""
    if chart.light is not None:
        yield f"Picture's {clean_text(chart.light)} (half their light or more)."


def _trust_notes(chart: Chart) -> Iterator[str]:
    stop, at = trusted_from(chart), format_stop(chart.working_stop)
    if chart.contradicted:
        yield "READINGS DISAGREE: trust no mark, check them and print again."
    elif "not" in verdicts(chart):
        yield f"* Not sure at {at}: see from which stop it is."
    whole = "at no stop" if stop is None else f"from {format_stop(stop)}"
    yield f"All marks sure together, each set by hand, {whole} (95 %)."
    made = codes(chart)
    yield f"Goes with strips {made['taking']} and {made['attachment']}."
