"""The tagged strips that a kit knows: rulers and bench indexes, and what its packs recorded."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import astuple
from typing import Any

from focuschart.kit.ring import Ring as KitRing
from focuschart.kit.schema import Kit
from focuschart.layout.strip.band import LEAD_IN_MM, RingBand
from focuschart.layout.strip.ruler_tags import (
    INDEX_HALF_MM,
    INDEX_HEIGHT_MM,
    INDEX_TAGS,
    index_tags,
    ruler_tag_count,
    ruler_tags,
)
from focuschart.layout.tag.ids import strip_ids
from focuschart.layout.tag.tag import Tag
from focuschart.photo.strips import Barrel, Ring, TaggedStrip
from focuschart.prints.ruler import bench_index_code, ruler_code


def bench_strips(kit: Kit) -> Iterator[TaggedStrip]:
    """Yield the ruler and the bench index of every ring of a kit."""
    for part, lens in kit.taking_lenses.items():
        yield from _of_ring("taking", part, lens.name, lens.ring)
    for part, attachment in kit.attachments.items():
        yield from _of_ring("attachment", part, attachment.name, attachment.ring)


def _of_ring(which: Ring, part: str, name: str, ring: KitRing) -> Iterator[TaggedStrip]:
    side, barrel = ring.index_side, barrel_of(ring.as_ruler)
    band = RingBand(barrel.once_mm, ring.strip_width, "behind", side, ring.turns)
    code, count = ruler_code(which, part, ring), ruler_tag_count(band)
    tags = tuple(ruler_tags(band, strip_ids(code, which, length=count))) if count else ()
    at_camera = side == "camera"
    if tags:
        origin = (LEAD_IN_MM, 0.0 if at_camera else ring.strip_width)
        yield TaggedStrip(
            code, which, "ruler", part, "", name, tags, origin, side, barrel, ring.turns
        )
    code = bench_index_code(which, part, ring)
    ids = strip_ids(code, f"{which}/index", length=INDEX_TAGS)
    origin = (INDEX_HALF_MM, INDEX_HEIGHT_MM if at_camera else 0.0)
    beside = tuple(index_tags(side, ids))
    yield TaggedStrip(code, which, "bench index", part, "", name, beside, origin, side, barrel)


def barrel_of(ring: KitRing) -> Barrel:
    """Return what the strip of a ring lies on, its marker strip's unless it is `as_ruler`."""
    rear, front = ring.strip_length_mm, ring.far_edge_mm
    if ring.index_side == "subject":
        rear, front = front, rear
    steepness = (rear - front) / (2.0 * math.pi * ring.strip_width) if ring.tapers else 0.0
    return Barrel(ring.strip_length_mm, ring.strip_thickness, steepness)


def tag_data(tags: Sequence[Tag], origin: tuple[float, float], ring: KitRing) -> dict[str, Any]:
    """Return the tags of a marker strip or its index as plain data, for a pack's record."""
    return {
        "tags": [[tag.number, _micro(tag.x), _micro(tag.y), tag.side_mm] for tag in tags],
        "origin": [_micro(place) for place in origin],
        "index_side": ring.index_side,
        "turns": ring.turns,
        "ruler_mm": ring.ruler_mm,
        "barrel": list(astuple(barrel_of(ring))),
    }


def _micro(length_mm: float) -> float:
    return round(length_mm, 4)


def recorded_strip(
    data: Mapping[str, Any], kit: Kit, *, rig_id: object, former: bool
) -> TaggedStrip | None:
    """Return a marker strip or index from a record's print, None for one without tags.

    None also for a rig that the kit lacks, and for what is damaged.
    """
    which, _, index = str(data.get("print")).partition("/")
    tagged, rig = data.get("tagged"), kit.rigs.get(str(rig_id))
    if which not in ("taking", "attachment") or rig is None or not isinstance(tagged, dict):
        return None
    ring: Ring = "taking" if which == "taking" else "attachment"
    try:
        return TaggedStrip(
            code=str(data["code"]),
            ring=ring,
            kind="index" if index else "marker",
            part=rig.taking_lens if ring == "taking" else rig.attachment,
            rig=str(rig_id),
            name=str(data["title"]),
            tags=tuple(Tag(int(n), float(x), float(y), float(side))
                       for n, x, y, side in tagged["tags"]),
            origin=(float(tagged["origin"][0]), float(tagged["origin"][1])),
            index_side="subject" if tagged["index_side"] == "subject" else "camera",
            barrel=Barrel(*map(float, tagged["barrel"])),
            turns=int(tagged["turns"]),
            ruler_mm=float(tagged["ruler_mm"]),
            former=former,
        )  # fmt: skip
    except (KeyError, TypeError, ValueError):
        return None
