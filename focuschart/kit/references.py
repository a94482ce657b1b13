"""Whether every part a rig or a reading names is in the kit, faulty tables or not."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import combinations
from typing import Any

from focuschart.errors import Problem, shown

Raw = Mapping[str, Any]

_PARTS = {"camera": "cameras", "taking_lens": "taking_lenses", "attachment": "attachments"}
_HELPERS = {"support": "supports", "carrier": "carriers"}
_CHAIN = {"step_rings": "step ring", "clamps": "clamp"}
_FRONT = {"step_rings": "step ring", "filters": "filter", "close_up_lenses": "close-up lens"}


def check_references(raw: Raw) -> Iterator[Problem]:
    """Yield a problem for each part of the kit that is not there, and ids that mean two things."""
    for section in (*_PARTS.values(), "rigs"):
        if section not in raw or raw[section] == {}:
            yield Problem(section, "", "is missing or empty: a kit has at least one entry here")
    for index, reading in enumerate(_list(raw.get("readings"))):
        if isinstance(reading, dict):
            yield from _reference(f"readings[{index}].rig", reading.get("rig"), table(raw, "rigs"))
    yield from _shared_ids(raw)


def rig_references(raw: Raw, rig_id: str) -> Iterator[Problem]:
    """Yield a problem for each name in a rig that leads nowhere."""
    rig = table(raw, "rigs")[rig_id]
    if isinstance(rig, dict):
        yield from _rig_references(f"rigs.{_bare(rig_id)}", rig, raw)


def _shared_ids(raw: Raw) -> Iterator[Problem]:
    """A chain names its parts by id alone."""
    for (first, called), (second, _) in combinations({**_CHAIN, **_FRONT}.items(), 2):
        for shared in sorted(set(table(raw, first)) & set(table(raw, second))):
            yield Problem(
                f"{second}.{_bare(shared)}", "", f"is the id of a {called} too, rename one"
            )


def _rig_references(key: str, rig: Raw, raw: Raw) -> Iterator[Problem]:
    for part, section in {**_PARTS, **_HELPERS}.items():
        yield from _reference(f"{key}.{part}", rig.get(part), table(raw, section))
    for row, sections in {"chain": _CHAIN, "front": _FRONT}.items():
        known = {part: None for section in sections for part in table(raw, section)}
        for index, link in enumerate(_list(rig.get(row))):
            yield from _reference(f"{key}.{row}[{index}]", link, known)


def _reference(key: str, value: object, known: Raw) -> Iterator[Problem]:
    if isinstance(value, str) and value not in known:
        names = ", ".join(map(_bare, sorted(known)[:8])) or "none"
        yield Problem(key, shown(value), f"no such part in the kit; it has {names}")


def table(raw: Raw, key: str) -> Raw:
    """Return a section of the raw kit, empty where it is missing or no table."""
    value = raw.get(key)
    return value if isinstance(value, dict) else {}


def _list(value: object) -> list[Any]:
    return value if isinstance(value, list) else []


def _bare(text: str) -> str:
    """Return an id without quotes, shown safely where it is none."""
    return shown(text)[1:-1]
