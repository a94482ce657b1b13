"""The second straight line: from solved charts to pages. Lengths and words only, no renderer."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from focuschart.chart.model import RigChart, RingMarks
from focuschart.chart.verdict import sure_from, trusted_from
from focuschart.kit.schema import Kit, Ring
from focuschart.layout.caption import Arrow, Caption
from focuschart.layout.card import Card, Side, Table, card_size, cards
from focuschart.layout.index import Bracket, IndexStrip, index_strip
from focuschart.layout.page import Face, Page
from focuschart.layout.ring import RingBand
from focuschart.layout.ruler import ruler_strip
from focuschart.layout.sheet import Item, sheets
from focuschart.layout.strip import Mark, MarkerStrip, marker_strip
from focuschart.units import format_range, format_stop, roundness, scale_label, scale_reading

CAUTIONS = (
    "Never point the rig at the sun. Support and tether a front-heavy rig; above people, local "
    "rules and qualified riggers decide. Check every mark by a camera test before a job."
)


@dataclass(frozen=True, slots=True)
class Paper:
    """What the user prints on: a named paper and a card size."""

    paper: str = "A4"
    card: str = "ID-1"


def pack_pages(
    kit: Kit, charts: Sequence[RigChart], *, face: Face, on: Paper
) -> Mapping[str, list[Page]]:
    """Return the pages of a pack by document: strips, cards and rulers; empty ones are left out.

    Raises PageError for what does not fit.
    """
    documents = {
        "strips": (strip_items(kit, charts, face=face), "Marker and index strips"),
        "cards": (card_items(kit, charts, face=face, on=on), "Pocket cards"),
        "rulers": (ruler_items(charts, face=face), "Ruler strips"),
    }
    return {
        name: sheets(items, paper=on.paper, title=f"{kit.name}: {title}", face=face)
        for name, (items, title) in documents.items()
        if items
    }


def printed_texts(kit: Kit) -> Iterator[tuple[str, str]]:
    """Yield every text of a kit that is printed, with its key."""
    yield "name", kit.name
    for section in ("taking_lenses", "attachments", "rigs"):
        for part_id, part in getattr(kit, section).items():
            yield f"{section}.{part_id}.name", part.name


def _band(ring: Ring) -> RingBand:
    return RingBand(ring.strip_length_mm, ring.strip_width, ring.read_from, ring.index_side)


def _ring_name(chart: RigChart, which: str) -> str:
    return chart.rig.lens.name if which == "taking" else chart.rig.attachment.name


def strip_items(kit: Kit, charts: Sequence[RigChart], *, face: Face) -> list[Item]:
    """Return each rig's marker strips, then its index strips, of the rings that were read."""
    return [
        item(kit, chart, which, face)
        for chart in charts
        for item in (_marker_item, _index_item)
        for which, (_, marks) in chart.rings().items()
        if marks is not None
    ]


def _marker_item(kit: Kit, chart: RigChart, which: str, face: Face) -> Item:
    ring, marks = chart.ring(which)
    name, key = _ring_name(chart, which), f"{chart.rig.rig_id}/{which}"
    captions = tuple(_captions(kit, chart, name, ring))
    strip = MarkerStrip(key, _band(ring), tuple(_marks(kit, chart, marks)), captions)
    turn = f"{ring.nearer_turns} from behind = nearer"
    heading = f"{chart.rig.name}: {name}, {ring.strip_length_mm:.1f} mm round, {turn}"
    return Item(key, heading, marker_strip(strip, face=face))


def _index_item(_: Kit, chart: RigChart, which: str, face: Face) -> Item:
    ring, marks = chart.ring(which)
    name = f"{chart.rig.name}: {_ring_name(chart, which)}, index"
    brackets = tuple(_brackets(chart, marks))
    strip = IndexStrip(ring.index_side, brackets, _ring_name(chart, which), chart.revision)
    return Item(f"{chart.rig.rig_id}/{which}/index", name, index_strip(strip, face=face))


def _marks(kit: Kit, chart: RigChart, marks: RingMarks) -> Iterator[Mark]:
    """Yield the marks; infinity, the nearest and round distances keep their labels first."""
    ends = {float(np.max(chart.distances_mm)): -2, float(np.min(chart.distances_mm)): -1}
    low = np.minimum(marks.near_arc_mm[0], marks.far_arc_mm[0])
    high = np.maximum(marks.near_arc_mm[0], marks.far_arc_mm[0])
    for index, distance in enumerate(chart.distances_mm.tolist()):
        yield Mark(
            label=scale_label(distance, kit.units),
            arc_mm=float(marks.arc_mm[index]),
            low_arc_mm=float(low[index]),
            high_arc_mm=float(high[index]),
            sure_mm=float(marks.arc_95_mm[index]),
            rank=ends.get(distance, roundness(distance, kit.units)),
        )


_SCALE_UNIT = {"metric": "metres", "imperial": "feet, inches", "both": "metres, feet"}


def _captions(kit: Kit, chart: RigChart, name: str, ring: Ring) -> Iterator[Caption]:
    """Yield a strip's captions in order of need; the arrow is the way to turn, not to look."""
    turn: Arrow = "left" if ring.rises_nearer else "right"
    yield Caption(chart.revision)
    if chart.contradicted:
        yield Caption("CHECK READINGS")
    yield Caption("turn nearer", turn)
    yield Caption("subject side", "up")
    yield Caption(name)
    yield Caption(chart.rig.name)
    yield Caption(f"zones at {format_stop(chart.working_stop)}")
    yield Caption(_SCALE_UNIT[kit.units])


def _brackets(chart: RigChart, marks: RingMarks) -> Iterator[Bracket]:
    """Yield each stop's bracket: the shortest over all marks, so that none is promised too much.

    Limits beyond infinity or nearer than the rings reach say nothing of a bracket's length.
    """
    rig = chart.rig
    ends = max(rig.lens.nearest, rig.attachment.nearest)
    near = np.abs(marks.near_arc_mm - marks.arc_mm)
    far = np.abs(marks.far_arc_mm - marks.arc_mm)
    near = np.where(chart.frame.near_mm > ends, near, np.inf).min(axis=1)
    far = np.where(np.isfinite(chart.frame.far_mm), far, np.inf).min(axis=1)
    nearer_right = marks.measured.scale.arc_per_travel > 0.0
    for stop, *sides in zip(chart.stops, near, far, strict=True):
        near_mm, far_mm = (float(side) if np.isfinite(side) else 0.0 for side in sides)
        left, right = (far_mm, near_mm) if nearer_right else (near_mm, far_mm)
        yield Bracket(format_stop(float(stop)), left, right)


def ruler_items(charts: Sequence[RigChart], *, face: Face) -> list[Item]:
    """Return one ruler strip for every ring in use, measured or not."""
    items: dict[tuple[str, str], Item] = {}
    for chart in charts:
        ids = {"taking": chart.rig.lens_id, "attachment": chart.rig.attachment_id}
        for which, (ring, _) in chart.rings().items():
            key = (which, ids[which])
            if key not in items:
                items[key] = _ruler(
                    f"{which}/{ids[which]}/ruler", _ring_name(chart, which), ring, face
                )
    return list(items.values())


def _ruler(key: str, name: str, ring: Ring, face: Face) -> Item:
    captions = (Caption(f"{name}: ruler, mm"), Caption("subject side", "up"))
    # A ruler is read at the bench; figures turned for a reader at the side would meet its ticks.
    block = ruler_strip(replace(_band(ring), reader="behind"), captions, face=face)
    return Item(key, f"{name}: ruler, {ring.strip_length_mm:.1f} mm round", block)


def card_items(kit: Kit, charts: Sequence[RigChart], *, face: Face, on: Paper) -> list[Item]:
    """Return the pocket cards of every rig whose two rings are measured."""
    size = card_size(on.card)
    return [
        Item(
            f"{chart.rig.rig_id}/card/{number}",
            f"{chart.rig.name}: fold along the dashed line, laminate",
            block,
        )
        for chart in charts
        if chart.taking is not None and chart.attachment is not None
        for number, block in enumerate(
            cards(_card(kit, chart, chart.taking, chart.attachment), size=size, face=face)
        )
    ]


def _card(kit: Kit, chart: RigChart, taking: RingMarks, attachment: RingMarks) -> Card:
    title = chart.rig.name
    front = Side(
        title,
        chart.revision,
        _settings_table(kit, chart, taking, attachment),
        _settings_notes(taking, attachment),
    )
    back = Side(
        title,
        chart.revision,
        _sureness_table(kit, chart, taking, attachment),
        (*_trust_notes(chart), CAUTIONS),
    )
    return Card(f"card:{chart.rig.rig_id}", front, back)


_DISTANCE_UNIT = {"metric": "m", "imperial": "ft in", "both": "m ft"}


def _settings_table(kit: Kit, chart: RigChart, taking: RingMarks, attachment: RingMarks) -> Table:
    """Return distance, both ring settings, and near to far at each stop."""
    columns = [
        [scale_label(d, kit.units) for d in chart.distances_mm],
        _setting_column(kit, taking),
        _setting_column(kit, attachment),
        *(
            [
                format_range(float(near), float(far), kit.units)
                for near, far in zip(*limits, strict=True)
            ]
            for limits in zip(chart.frame.near_mm, chart.frame.far_mm, strict=True)
        ),
    ]
    stops = [format_stop(float(stop)) for stop in chart.stops]
    headings = (
        _DISTANCE_UNIT[kit.units],
        _setting_heading("lens", taking),
        _setting_heading("att.", attachment),
        *stops,
    )
    return Table(headings, tuple(zip(*columns, strict=True)), optional=len(stops) - 1)


def _setting_heading(name: str, marks: RingMarks) -> str:
    return f"{name} {'mm' if np.all(np.isnan(marks.engraved_mm)) else 'scale'}"


def _setting_column(kit: Kit, marks: RingMarks) -> list[str]:
    """Return what the ring shows at each mark: its engraved scale where listed, else the ruler."""
    if np.all(np.isnan(marks.engraved_mm)):
        return [f"{arc:.1f}" for arc in marks.arc_mm]
    return [
        f"({arc:.1f})" if np.isnan(shown) else scale_reading(float(shown), kit.units)
        for arc, shown in zip(marks.arc_mm, marks.engraved_mm, strict=True)
    ]


def _sureness_table(kit: Kit, chart: RigChart, taking: RingMarks, attachment: RingMarks) -> Table:
    """Return squeeze, each ring's own error against its tolerance, and the pair's first stop."""
    headings = (_DISTANCE_UNIT[kit.units], "squeeze", "lens ±/tol", "att. ±/tol", "sure from")
    columns = (
        [scale_label(float(distance), kit.units) for distance in chart.distances_mm],
        [f"{squeeze:.3f}" for squeeze in chart.squeeze],
        _against_tolerance(taking),
        _against_tolerance(attachment),
        ["no stop" if stop is None else format_stop(stop) for stop in sure_from(chart)],
    )
    return Table(headings, tuple(zip(*columns, strict=True)))


def _against_tolerance(marks: RingMarks) -> list[str]:
    pairs = zip(marks.arc_95_mm, marks.tolerance_mm[0], strict=True)
    return [f"{error:.2f}/{allowed:.2f}" for error, allowed in pairs]


def _settings_notes(taking: RingMarks, attachment: RingMarks) -> tuple[str, ...]:
    notes = ["Same label on both rings. Distances from the sensor mark; limits rounded inward."]
    if any(_partly_engraved(marks) for marks in (taking, attachment)):
        notes.append("(In brackets: mm on the ruler, beyond the engraved scale.)")
    return tuple(notes)


def _partly_engraved(marks: RingMarks) -> bool:
    off = np.isnan(marks.engraved_mm)
    return bool(np.any(off) and not np.all(off))


def _trust_notes(chart: RigChart) -> Iterator[str]:
    stop, at = trusted_from(chart), format_stop(chart.working_stop)
    whole = "no stop" if stop is None else format_stop(stop)
    if chart.contradicted:
        yield "READINGS DISAGREE: trust no mark, check them and print again."
    yield f"± 95 %, tol one circle of confusion at {at}, mm. All sure from: {whole}."
