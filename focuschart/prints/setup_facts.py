"""The facts of a kit that only setup cards print."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

from focuschart.kit.schema import Kit
from focuschart.prints.topics import Topic

_LOAD = ("mass", "centre_of_gravity")
_MODE = ("sensor_width", "sensor_height", "readout_time")
_CAMERA = ("flange_focal_distance", *_LOAD, "tripod_thread", "mount_moment_limit")
_LENS = ("nearest", "focusing", "length", *_LOAD, "helicoid", "helicoid_moment_limit")
_ATTACHMENT = ("name", "squeeze", "moving_group", "ruler_separation", "length", *_LOAD)
_STANDING = ("mass", "readout time", "mount moment limit", "helicoid moment limit")
_SEEN = ("sensor width", "sensor height", "nearest", "focusing", "squeeze", "moving group",
         "ruler separation")  # fmt: skip
_IN_BAG = ("name", "power")
_PART = ("name", "power", "thickness", "mass")
_SUPPORT = ("name", "position", "mass")
_CARRIER = ("name", "payload", "plate_range")


def setup_facts(kit: Kit, rig_id: str) -> dict[Topic, Any]:
    """Return what only the setup cards of a rig print of the kit, by the topics of `SETUP`.

    No id is in it, for none is printed. Parts on the front are in order, outward; a part whose name
    is not printed is left out. Where the kit gives no load, readout time or support, places of
    parts are not printed: then only what frames and close-up lenses depend on is in it.
    """
    rig = kit.rigs[rig_id]
    support, carrier = kit.supports.get(rig.support or ""), kit.carriers.get(rig.carrier or "")
    found = {
        Topic.CAMERA: {**_given(kit.mode(rig), _MODE), **_given(kit.cameras[rig.camera], _CAMERA)},
        Topic.TAKING_LENS: _given(kit.taking_lenses[rig.taking_lens], _LENS),
        Topic.CHAIN: [_row(kit, part_id) for part_id in rig.chain],
        Topic.ATTACHMENT: _given(kit.attachments[rig.attachment], _ATTACHMENT),
        Topic.FRONT: [_row(kit, part_id) for part_id in rig.front],
        Topic.FOREMOST_GLASS: kit.front_vertex_mm(rig),
        Topic.SUPPORT: support and _given(support, _SUPPORT),
        Topic.CARRIER: carrier and _given(carrier, _CARRIER),
        Topic.CLOSE_UP_LENSES: [_given(lens, _IN_BAG) for lens in kit.close_up_lenses.values()],
        Topic.DELIVERIES: list(kit.deliveries),
        Topic.DESQUEEZE: rig.desqueeze,
        Topic.LEAN_LIMIT: None if kit.lean_limit is None else math.degrees(kit.lean_limit),
    }
    if rig.front_unit is not None:
        found[Topic.FRONT_UNIT] = rig.front_unit
    return found if _places_printed(found) else _bare(found)


def _places_printed(found: dict[Topic, Any]) -> bool:
    """Return whether setup cards print where the parts of a rig are: some load, time or support."""
    row = [found[part] for part in (Topic.CAMERA, Topic.TAKING_LENS, Topic.ATTACHMENT)]
    tables = [*row, *found[Topic.CHAIN], *found[Topic.FRONT]]
    return bool(found[Topic.SUPPORT]) or any(key in table for table in tables for key in _STANDING)


def _bare(found: dict[Topic, Any]) -> dict[Topic, Any]:
    """Return what is printed of a rig where places of its parts are not."""
    seen = {
        part: {key: value for key, value in found[part].items() if key in _SEEN}
        for part in (Topic.CAMERA, Topic.TAKING_LENS, Topic.ATTACHMENT)
    }
    gone = dict.fromkeys((Topic.CHAIN, Topic.CARRIER, Topic.LEAN_LIMIT))
    found.pop(Topic.FRONT_UNIT, None)
    front = [part for part in found[Topic.FRONT] if "power" in part]
    glass = found[Topic.FOREMOST_GLASS] if found[Topic.CLOSE_UP_LENSES] else None
    return {**found, **seen, **gone, Topic.FRONT: front, Topic.FOREMOST_GLASS: glass}


def _row(kit: Kit, part_id: str) -> dict[str, Any]:
    """Return a part of chain or front; ids are unique among them."""
    part = kit.part(part_id)
    return {"part": part.kind, **_given(part.table, _PART)}


def _given(table: object, keys: Iterable[str]) -> dict[str, Any]:
    """Return the values of those keys that are given, under the keys in words."""
    found = {key.replace("_", " "): getattr(table, key, None) for key in keys}
    return {key: value for key, value in found.items() if value is not None}
