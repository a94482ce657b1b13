"""Checks that every part a rig or a reading names is in the kit, even where tables are faulty."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import combinations
from typing import Any

from focuschart.errors import Problem, shown
from focuschart.kit.schema import LOOSE_PARTS

Raw = Mapping[str, Any]

_PARTS = {"camera": "cameras", "taking_lens": "taking_lenses", "attachment": "attachments"}
_HELPERS = {"support": "supports", "carrier": "carriers"}
_ROWS = {
    "chain": ("step_rings", "clamps"),
    "front": ("step_rings", "filters", "close_up_lenses"),
}


def check_references(raw: Raw) -> Iterator[Problem]:
    """Yield problems for empty sections, unknown rigs of readings and ids used twice."""
    for section in (*_PARTS.values(), "rigs"):
        if section not in raw or raw[section] == {}:
            yield Problem(section, "", "is missing or empty: a kit has at least one entry here")
    for index, reading in enumerate(_list(raw.get("readings"))):
        if isinstance(reading, dict):
            yield from _reference(f"readings[{index}].rig", reading.get("rig"), table(raw, "rigs"))
    yield from _shared_ids(raw)


def rig_references(raw: Raw, rig_id: str) -> Iterator[Problem]:
    """Yield a problem for each part that a rig names and the kit does not have."""
    rig = table(raw, "rigs")[rig_id]
    if isinstance(rig, dict):
        yield from _rig_references(f"rigs.{_bare(rig_id)}", rig, raw)


def _shared_ids(raw: Raw) -> Iterator[Problem]:
    """A chain names its parts by id alone."""
    for (first, called), (second, _) in combinations(LOOSE_PARTS.items(), 2):
        for shared in sorted(set(table(raw, first)) & set(table(raw, second))):
            yield Problem(
                f"{second}.{_bare(shared)}", "", f"is the id of a {called} too, rename one"
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
    if isinstance(mode, str) and mode not in known:
        rule = f'no such sensor mode of camera "{_bare(camera_id)}"; it has {_names(known)}'
        yield Problem(f"{key}.mode", shown(mode), rule)
    elif mode is None and known and "sensor_width" not in camera:
        rule = f'is missing: camera "{_bare(camera_id)}" has modes, name one of {_names(known)}'
        yield Problem(f"{key}.mode", "", rule)


def _reference(key: str, value: object, known: Raw) -> Iterator[Problem]:
    if isinstance(value, str) and value not in known:
        yield Problem(key, shown(value), f"no such part in the kit; it has {_names(known)}")


def _names(known: Raw) -> str:
    return ", ".join(map(_bare, sorted(known)[:8])) or "none"


def table(raw: Raw, key: str) -> Raw:
    """Return a section of the raw kit, empty where it is missing or no table."""
    value = raw.get(key)
    return value if isinstance(value, dict) else {}


def _list(value: object) -> list[Any]:
    return value if isinstance(value, list) else []


def _bare(text: str) -> str:
    """Return an id without quotes, shown safely where it is none."""
    return shown(text)[1:-1]
