"""Facts of a rig: all that its pack depends on, and what only its setup cards print."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from typing import Any

from focuschart.kit.parts import Camera
from focuschart.kit.schema import Kit, Reading, Rig

SETUP = ("camera", "taking lens", "chain", "attachment", "front", "foremost glass", "support",
         "carrier", "close-up lenses", "deliveries", "desqueeze", "lean limit",
         "front unit")  # fmt: skip
"""Topics that only setup cards print."""
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
_WHOLE = ("close_up_lenses",)
"""Sections of which every entry counts: cards print the reach of each close-up lens of the kit."""


def rig_facts(kit: Kit, rig_ids: Iterable[str]) -> Iterator[tuple[str, str]]:
    """Yield each rig's id with its facts: the kit's own keys, its parts, and its rings' readings.

    The same facts, the same pack. A reading counts for every rig that carries its ring, with the
    rig that it was made on; what other rings show, and other rigs, count for nothing. The text is
    exact and, for one version of Python and pydantic, always the same.
    """
    common, read = repr(list(_own_keys(kit))), _readings(kit)
    for rig_id in rig_ids:
        rig = kit.rigs[rig_id]
        figures = [each for key in rig.rings.values() for each in read.get(key, ())]
        rigs = {rig_id: rig} | {reading.rig: kit.rigs[reading.rig] for reading, _ in figures}
        yield rig_id, f"{common}{rig_id}{list(_sections(kit, rigs))!r}{figures!r}"


def _readings(kit: Kit) -> dict[tuple[str, ...], list[tuple[Reading, str]]]:
    """Return the readings of each ring that are not to be ignored, with the ring's name in them."""
    found: dict[tuple[str, ...], list[tuple[Reading, str]]] = {}
    for reading in kit.readings:
        if reading.rig in kit.rigs and not reading.ignore:
            for key in kit.rigs[reading.rig].rings.values():
                if getattr(reading, key[0]) is not None:
                    found.setdefault(key, []).append((reading, key[0]))
    return found


def setup_facts(kit: Kit, rig_id: str) -> dict[str, Any]:
    """Return what only the setup cards of a rig print of the kit, by the topics of `SETUP`.

    No id is in it, for none is printed. Parts on the front are in order, outward; a part whose name
    is not printed is left out. Where the kit gives no load, readout time or support, places of
    parts are not printed: then only what frames and close-up lenses depend on is in it.
    """
    rig = kit.rigs[rig_id]
    support, carrier = kit.supports.get(rig.support or ""), kit.carriers.get(rig.carrier or "")
    found = {
        "camera": {**_given(kit.mode(rig), _MODE), **_given(kit.cameras[rig.camera], _CAMERA)},
        "taking lens": _given(kit.taking_lenses[rig.taking_lens], _LENS),
        "chain": [_row(kit, part_id) for part_id in rig.chain],
        "attachment": _given(kit.attachments[rig.attachment], _ATTACHMENT),
        "front": [_row(kit, part_id) for part_id in rig.front],
        "foremost glass": kit.front_vertex_mm(rig),
        "support": support and _given(support, _SUPPORT),
        "carrier": carrier and _given(carrier, _CARRIER),
        "close-up lenses": [_given(lens, _IN_BAG) for lens in kit.close_up_lenses.values()],
        "deliveries": list(kit.deliveries),
        "desqueeze": rig.desqueeze,
        "lean limit": None if kit.lean_limit is None else math.degrees(kit.lean_limit),
    }
    if rig.front_unit is not None:
        found["front unit"] = rig.front_unit
    return found if _places_printed(found) else _bare(found)


def _places_printed(found: dict[str, Any]) -> bool:
    """Return whether setup cards print where the parts of a rig are: some load, time or support."""
    row = [found[part] for part in ("camera", "taking lens", "attachment")]
    tables = [*row, *found["chain"], *found["front"]]
    return bool(found["support"]) or any(key in table for table in tables for key in _STANDING)


def _bare(found: dict[str, Any]) -> dict[str, Any]:
    """Return what is printed of a rig where places of its parts are not."""
    seen = {
        part: {key: value for key, value in found[part].items() if key in _SEEN}
        for part in ("camera", "taking lens", "attachment")
    }
    gone = dict.fromkeys(("chain", "carrier", "lean limit"))
    found.pop("front unit", None)
    front = [part for part in found["front"] if "power" in part]
    glass = found["foremost glass"] if found["close-up lenses"] else None
    return {**found, **seen, **gone, "front": front, "foremost glass": glass}


def _row(kit: Kit, part_id: str) -> dict[str, Any]:
    """Return a part of chain or front; ids are unique among them."""
    part = kit.part(part_id)
    return {"part": part.kind, **_given(part.table, _PART)}


def _given(table: object, keys: Iterable[str]) -> dict[str, Any]:
    """Return the values of those keys that are given, under the keys in words."""
    found = {key.replace("_", " "): getattr(table, key, None) for key in keys}
    return {key: value for key, value in found.items() if value is not None}


def _own_keys(kit: Kit) -> Iterator[tuple[str, object]]:
    for key in type(kit).model_fields:
        value = getattr(kit, key)
        if key in _WHOLE or not (isinstance(value, dict) or key in ("readings", "include")):
            yield key, value


def _sections(kit: Kit, rigs: dict[str, Rig]) -> Iterator[tuple[str, dict[str, object]]]:
    """Yield the entries of each section that some rigs name, in the section's order."""
    named = {name for rig in rigs.values() for name in _ids(rig)} | set(rigs)
    for key in type(kit).model_fields:
        section = getattr(kit, key)
        if isinstance(section, dict) and key not in _WHOLE:
            used = sorted(named & section.keys())
            if used:
                yield key, {entry: _as_used(section[entry], rigs) for entry in used}


def _as_used(entry: object, rigs: dict[str, Rig]) -> object:
    """Return an entry, a camera with those of its modes alone that some rigs name."""
    if not isinstance(entry, Camera):
        return entry
    named = {rig.mode for rig in rigs.values()}
    used = {name: mode for name, mode in entry.modes.items() if name in named}
    return entry.model_copy(update={"modes": used})


def _ids(rig: Rig) -> Iterator[str]:
    """Yield every id a rig names; other texts of it name nothing."""
    for value in (getattr(rig, key) for key in type(rig).model_fields):
        if isinstance(value, str):
            yield value
        elif isinstance(value, list):
            yield from (part_id for part_id in value if isinstance(part_id, str))
