"""Marker and index strips, and the rulers they replace, from solved charts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from focuschart.chart.model import RigChart, RingMarks
from focuschart.kit.schema import Kit, Ring
from focuschart.layout.caption import Arrow, Caption
from focuschart.layout.index import Bracket, IndexStrip, index_strip
from focuschart.layout.page import Face
from focuschart.layout.ring import RingBand
from focuschart.layout.ruler import ruler_strip
from focuschart.layout.sheet import Item
from focuschart.layout.strip import Mark, MarkerStrip, marker_strip
from focuschart.units import format_stop, roundness, scale_label


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
