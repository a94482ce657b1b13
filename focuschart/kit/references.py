"""Checks that every part a rig or a reading names is in the kit, even where tables are faulty."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import combinations
from typing import Any

from focuschart.errors import Problem, shown
from focuschart.kit.likely import bare, likely, names
from focuschart.kit.schema import LOOSE_PARTS

Raw = Mapping[str, Any]

_PARTS = {"camera": "cameras", "taking_lens": "taking_lenses", "attachment": "attachments"}
_HELPERS = {"support": "supports", "carrier": "carriers"}
_READ = {"readings": "reading", "unmoved": "setting", "squeezes": "squeeze"}
"""Sections of what was read on a rig, and what to call an entry."""
_ROWS = {
    "chain": ("step_rings", "clamps"),
    "front": ("step_rings", "filters", "close_up_lenses"),
}


def check_references(raw: Raw) -> Iterator[Problem]:
    """Yield problems for empty sections, unknown rigs of what was read and ids used twice."""
    for section in (*_PARTS.values(), "rigs"):
        if section not in raw or raw[section] == {}:
            yield Problem(section, "", "is missing or empty: a kit has at least one entry here")
    for section, what in _READ.items():
        yield from _rigs_of(section, what, raw)
    yield from _shared_ids(raw)


def rig_references(raw: Raw, rig_id: str) -> Iterator[Problem]:
    """Yield a problem for each part that a rig names and the kit does not have."""
    rig = table(raw, "rigs")[rig_id]
    if isinstance(rig, dict):
        yield from _rig_references(f"rigs.{bare(rig_id)}", rig, raw)


def _rigs_of(section: str, what: str, raw: Raw) -> Iterator[Problem]:
    """Yield a problem for each name of a rig that a section has and the kit has not, once."""
    known = table(raw, "rigs")
    numbers: dict[str, list[int]] = {}
    for index, reading in enumerate(_list(raw.get(section))):
        name = reading.get("rig") if isinstance(reading, dict) else None
        if isinstance(name, str) and name not in known:
            numbers.setdefault(name, []).append(index)
    for name, indices in numbers.items():
        more = len(indices) - 1
        others = f"; {more} more {what}{'s' * (more > 1)} say so too" if more else ""
        rule = f"no such rig in the kit{likely(name, sorted(known))}{others}"
        yield Problem(f"{section}[{indices[0]}].rig", shown(name), rule)


def _shared_ids(raw: Raw) -> Iterator[Problem]:
    """A chain names its parts by id alone."""
    for (first, called), (second, _) in combinations(LOOSE_PARTS.items(), 2):
        for shared in sorted(set(table(raw, first)) & set(table(raw, second))):
            yield Problem(
                f"{second}.{bare(shared)}", "", f"is the id of a {called} too, rename one"
            )


def _rig_references(key: str, rig: Raw, raw: Raw) -> Iterator[Problem]:
    for part, section in {**_PARTS, **_HELPERS}.items():
        yield from _reference(f"{key}.{part}", rig.get(part), table(raw, section))
    yield from _mode(key, rig, raw)
    for row, sections in _ROWS.items():
        known = {part: None for section in sections for part in table(raw, section)}
        for index, link in enumerate(_list(rig.get(row))):
            yield from _reference(f"{key}.{row}[{index}]", link, known)


def _mode(key: str, rig: Raw, raw: Raw) -> Iterator[Problem]:
    """Yield what is wrong with the sensor mode a rig names, or does not name."""
    camera_id, mode = rig.get("camera"), rig.get("mode")
    camera = table(raw, "cameras").get(camera_id) if isinstance(camera_id, str) else None
    if not isinstance(camera_id, str) or not isinstance(camera, dict):
        return
    known = table(camera, "modes")
    modes = names(sorted(known))
    if isinstance(mode, str) and mode not in known:
        rule = f'no such sensor mode of camera "{bare(camera_id)}"; it has {modes}'
        yield Problem(f"{key}.mode", shown(mode), rule)
    elif mode is None and known and "sensor_width" not in camera:
        rule = f'is missing: camera "{bare(camera_id)}" has modes, name one of {modes}'
        yield Problem(f"{key}.mode", "", rule)


def _reference(key: str, value: object, known: Raw) -> Iterator[Problem]:
    if isinstance(value, str) and value not in known:
        yield Problem(key, shown(value), f"no such part in the kit{likely(value, sorted(known))}")


def table(raw: Raw, key: str) -> Raw:
    """Return a section of the raw kit, empty where it is missing or no table."""
    value = raw.get(key)
    return value if isinstance(value, dict) else {}


def _list(value: object) -> list[Any]:
    return value if isinstance(value, list) else []
