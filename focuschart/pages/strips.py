"""Marker and index strips of a rig, made from its chart, and ruler strips for its rings."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import partial
from typing import NamedTuple

import numpy as np

from focuschart.chart.as_set import COMB_MM
from focuschart.chart.marks import RingMarks
from focuschart.chart.model import Chart
from focuschart.chart.verdict import verdicts
from focuschart.errors import PageError
from focuschart.kit.ring import Ring
from focuschart.layout.bench.bench_index import BenchIndex, bench_index
from focuschart.layout.page import Face
from focuschart.layout.sheet.block import Block
from focuschart.layout.sheet.pieces import Item
from focuschart.layout.strip.band import LEAD_IN_MM, RingBand
from focuschart.layout.strip.cone import developed, mirrored
from focuschart.layout.strip.index import Bracket, IndexStrip, index_strip
from focuschart.layout.strip.labels import Mark
from focuschart.layout.strip.marker import MarkerStrip, marker_strip
from focuschart.layout.strip.ruler import ruler_strip
from focuschart.layout.strip.ruler_tags import INDEX_TAGS, ruler_tag_count
from focuschart.layout.tag.ids import strip_ids
from focuschart.layout.tag.tag import Tag
from focuschart.layout.text.caption import Arrow, Caption
from focuschart.pages.fine import between
from focuschart.pages.print_jobs import PrintJob
from focuschart.pages.steps import infinity_mm
from focuschart.prints.code import codes
from focuschart.prints.facts import INDEX, Print
from focuschart.prints.ruler import bench_index_code, ruler_code
from focuschart.prints.zones import shortest_mm
from focuschart.rig.ring import Which
from focuschart.units import format_stop, roundness, scale_label

_MOST_TAGS = 250
"""More than a strip has room for."""


class TaggedPrint(NamedTuple):
    """The tags of a print, and its point at arc 0 or at the line, at the edge between strips."""

    tags: tuple[Tag, ...]
    origin: tuple[float, float]


def _band(ring: Ring) -> RingBand:
    return RingBand(
        ring.strip_length_mm,
        ring.strip_width,
        ring.read_from,
        ring.index_side,
        ring.turns,
        ring.far_edge_mm if ring.tapers else None,
        math.inf if ring.width is None else max(ring.width - ring.strip_width, 0.0),
        ring.ruler_mm,
    )


def _ring_name(chart: Chart, which: Which) -> str:
    return chart.rig.lens.name if which == "taking" else chart.rig.attachment.name


def strips_of(chart: Chart, *, face: Face) -> Iterator[PrintJob]:
    """Yield the marker strips, then the index strips, of a rig's measured rings."""
    for name, items in (("marker strip", _marker_items), ("index strip", _index_items)):
        for which, (_, marks) in chart.rings().items():
            if marks is not None:
                draw = partial(items, chart, which, face)
                yield PrintJob(chart.rig.rig_id, f"{which} {name}", draw)


def marker_of(chart: Chart, which: Which) -> MarkerStrip:
    """Return the content of a ring's marker strip; raises KeyError for an unmeasured ring."""
    ring, marks = chart.ring(which)
    captions = tuple(_captions(chart, which))
    key = f"{chart.rig.rig_id}/{which}"
    fine = tuple(between(chart, which))
    ids = strip_ids(codes(chart)[which], which, length=_MOST_TAGS)
    return MarkerStrip(key, _band(ring), tuple(_marks(chart, marks)), captions, fine, ids)


def _marker_items(chart: Chart, which: Which, face: Face) -> list[Item]:
    ring, _ = chart.ring(which)
    strip = marker_of(chart, which)
    turn = f"{ring.nearer_turns} from behind = nearer"
    heading = f"{chart.rig.name}: {_ring_name(chart, which)}, {_around(ring)}, {turn}"
    whole = Item(strip.key, heading, marker_strip(strip, face=face), lengthwise=True)
    return [_finished(item, ring) for item in _developed(whole, strip.band, face)]


def _index_items(chart: Chart, which: Which, face: Face) -> list[Item]:
    name = f"{chart.rig.name}: {_ring_name(chart, which)}, index"
    item = Item(f"{chart.rig.rig_id}/{which}/index", name, _index_block(chart, which, face))
    return [_finished(item, chart.ring(which)[0])]


def _index_block(chart: Chart, which: Which, face: Face) -> Block:
    ring, marks = chart.ring(which)
    code = codes(chart)[INDEX[which]]
    strip = IndexStrip(
        index_side=ring.index_side,
        brackets=tuple(brackets_of(chart, marks, ring.ruler_mm)),
        caption=_ring_name(chart, which),
        code=code,
        ruler_mm=ring.ruler_mm,
        comb=COMB_MM,
        ids=strip_ids(code, f"{which}/index", length=INDEX_TAGS),
    )
    return index_strip(strip, face=face)


def tagged_prints(chart: Chart, *, face: Face) -> Iterator[tuple[Print, TaggedPrint]]:
    """Yield the tags of a rig's marker strips and indexes, for photographs to be read by."""
    for which, (ring, marks) in chart.rings().items():
        if marks is not None:
            at_camera = ring.index_side == "camera"
            block = marker_strip(marker_of(chart, which), face=face)
            edge = 0.0 if at_camera else ring.strip_width
            yield which, TaggedPrint(block.tags, (LEAD_IN_MM, edge))
            block = _index_block(chart, which, face)
            place = (block.width_mm / 2.0, block.height_mm if at_camera else 0.0)
            yield INDEX[which], TaggedPrint(block.tags, place)


def _around(ring: Ring) -> str:
    """Return the circumference of a ring in words."""
    edge = " at the index edge" if ring.tapers else ""
    return f"{ring.strip_length_mm:.1f} mm round{edge}"


def _developed(item: Item, band: RingBand, face: Face) -> list[Item]:
    """Return a flat strip as the pieces to cut: one, or several sectors for a tapered ring."""
    try:
        blocks = developed(item.block, band, face=face)
    except PageError as error:
        raise PageError(f"{item.key}: {error}") from None
    if len(blocks) == 1:
        return [replace(item, block=blocks[0])]
    return [
        replace(
            item,
            key=f"{item.key}/{number}",
            heading=f"{item.heading}, piece {number} of {len(blocks)}: butt-join edge to edge",
            block=block,
        )
        for number, block in enumerate(blocks, start=1)
    ]


def _finished(item: Item, ring: Ring) -> Item:
    """Return an item with its ring's stock, mirrored if the ring asks for it."""
    if ring.mirrored:
        heading = f"{item.heading}, mirrored for the inside of clear tape"
        item = replace(item, heading=heading, block=mirrored(item.block))
    return replace(item, stock=ring.stock or "")


def _marks(chart: Chart, marks: RingMarks) -> Iterator[Mark]:
    """Yield the marks; lowest ranks keep their labels: farthest, nearest, then round distances."""
    ends = {float(np.max(chart.distances_mm)): -2, float(np.min(chart.distances_mm)): -1}
    low = np.minimum(marks.near_arc_mm[0], marks.far_arc_mm[0])
    high = np.maximum(marks.near_arc_mm[0], marks.far_arc_mm[0])
    for index, (distance, word) in enumerate(
        zip(chart.distances_mm.tolist(), verdicts(chart), strict=True)
    ):
        yield Mark(
            label=scale_label(distance, chart.kit.units),
            arc_mm=float(marks.arc_mm[index]),
            low_arc_mm=float(low[index]),
            high_arc_mm=float(high[index]),
            sure_mm=float(marks.arc_95_mm[index]),
            sure=word not in ("not", "not measured"),
            rank=ends.get(distance, roundness(distance, chart.kit.units)),
        )


_SCALE_UNIT = {"metric": "metres", "imperial": "feet, inches", "both": "metres, feet"}


def _captions(chart: Chart, which: Which) -> Iterator[Caption]:
    """Yield a strip's captions, most needed first; its arrow shows which way the ring is turned."""
    ring, _ = chart.ring(which)
    turn: Arrow = "left" if ring.rises_nearer else "right"
    yield Caption(codes(chart)[which], needed=True)
    if chart.contradicted:
        yield Caption("CHECK READINGS", needed=True)
    yield Caption("turn nearer", turn, needed=True)
    if chart.kit.bench.side:
        yield Caption(f"come from {chart.kit.bench.side}", needed=True)
    yield Caption("subject side", "up", needed=True)
    yield Caption(_ring_name(chart, which), needed=True, name=True)
    yield Caption(chart.rig.name, name=True)
    yield Caption(f"zones at {format_stop(chart.working_stop)}")
    yield Caption(_SCALE_UNIT[chart.kit.units])
    if which == "attachment" and chart.rig.focus_height_mm:
        yield Caption(f"height {chart.rig.focus_height_mm:.1f} mm".replace("-", "−"))


def brackets_of(chart: Chart, marks: RingMarks, ruler_mm: float) -> Iterator[Bracket]:
    """Yield a bracket for each stop, as long as the shortest zone of all marks at that stop."""
    nearer_right = marks.measured.scale.arc_per_travel > 0.0
    zones = (ruler_mm * shortest_mm(chart, marks)).tolist()
    for stop, (near, far) in zip(chart.stops, zones, strict=True):
        left, right = (far, near) if nearer_right else (near, far)
        yield Bracket(format_stop(float(stop)), left, right)


def rulers_of(charts: Sequence[Chart], *, face: Face) -> Iterator[PrintJob]:
    """Yield one ruler strip, then its bench index, for every ring in use, measured or not."""
    seen: set[str] = set()
    for chart in charts:
        ids = {"taking": chart.rig.lens_id, "attachment": chart.rig.attachment_id}
        for which, (ring, _) in chart.rings().items():
            key, name = f"{which}/{ids[which]}", _ring_name(chart, which)
            if key not in seen:
                seen.add(key)
                draws = (
                    ("ruler strip", partial(_ruler, at_infinity_mm=infinity_mm(chart, which))),
                    ("bench index", _bench_index),
                )
                for what, drawn in draws:
                    draw = partial(drawn, which, ids[which], name, ring, face)
                    yield PrintJob(chart.rig.rig_id, f"{which} {what}", draw)


def ruler_band(ring: Ring) -> RingBand:
    """Return the band of a ring's ruler, which is read from behind.

    Figures turned for a reader at the side would overlap the ticks.
    """
    return replace(_band(ring.as_ruler), reader="behind")


def _ruler(
    which: Which, part: str, name: str, ring: Ring, face: Face, *, at_infinity_mm: float | None
) -> list[Item]:
    edge = "mm along the ticks' edge" if ring.tapers else "mm"
    captions = (Caption(f"{name}: ruler, {edge}"), Caption("subject side", "up"))
    band = ruler_band(ring)
    heading = f"{name}: ruler, {_around(ring.as_ruler)}"
    if ring.turns > 1:
        heading += f", {ring.turns} turns: the row next to the index counts the first"
    ids = strip_ids(ruler_code(which, part, ring), which, length=ruler_tag_count(band))
    block = ruler_strip(band, captions, face=face, ids=ids, infinity_mm=at_infinity_mm)
    return _developed(Item(f"{which}/{part}/ruler", heading, block, lengthwise=True), band, face)


def _bench_index(which: Which, part: str, name: str, ring: Ring, face: Face) -> list[Item]:
    code = bench_index_code(which, part, ring)
    ids = strip_ids(code, f"{which}/index", length=INDEX_TAGS)
    block = bench_index(BenchIndex(ring.index_side, name, code, ids), face=face)
    key, heading = f"{which}/{part}/bench-index", f"{name}: index for the ruler"
    return [Item(key, heading, block, lengthwise=True)]
