"""What changed in a table of facts or a row of parts, in words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import zip_longest
from typing import Any

from focuschart.prints.topics import Topic

_UNITS = {
    **dict.fromkeys(
        ("focal length", "hiatus", "circle", "glass", "ruler separation", "strip width",
         "once round", "far edge", "lead", "nearest", "length", "thickness", "sensor width",
         "sensor height", "flange focal distance", "centre of gravity", "tripod thread",
         "helicoid", "position", "plate range"), "mm",
    ),
    **dict.fromkeys(("ruler error", "taping error", "setting error", "backlash"), "mm"),
    **dict.fromkeys(("mass", "payload", "front unit"), "g"),
    **dict.fromkeys(("mount moment limit", "helicoid moment limit"), "N m"),
    "readout time": "ms",
    "lean limit": "deg",
    "power": "dioptres",
}  # fmt: skip
_SUMMED = ("flange focal distance", "length", "thickness")
_OF_RING = ("once round", "far edge", "strip width", "turns", "nearer turns", "read from",
            "index side")  # fmt: skip
_OWNERS: Mapping[Topic, tuple[str, str]] = {
    Topic.TAKING_RING: ("taking lens", "taking"),
    Topic.TAKING_FIT: ("taking lens", "taking"),
    Topic.TAKING_BY_HAND: ("taking ring's", "taking"),
    Topic.ATTACHMENT_BY_HAND: ("attachment's", "attachment"),
    Topic.ATTACHMENT_RING: ("attachment", "attachment"),
    Topic.ATTACHMENT_FIT: ("attachment", "attachment"),
}
"""The part that a table is of, and its ring, in words."""
_PUT = {Topic.FRONT: ("put on the front", "taken off the front")}


def from_to(name: str, before: Any, after: Any, *, unit: str | None = None) -> str:
    """Return what a fact was and is."""
    unit = f" {unit}" if unit and after is not None else ""
    return f"{name} {_value(before)}, now {_value(after)}{unit}"


def table(
    topic: Topic, before: Mapping[str, Any] | None, after: Mapping[str, Any] | None, *, summed: bool
) -> Iterator[str]:
    """Yield what changed in a table, None for a part that the rig has not.

    `summed` is whether lengths between sensor and front glass are told elsewhere.
    """
    part, ring = _OWNERS.get(topic, (topic.value, ""))
    if before is None or after is None:
        name = (before or after or {}).get("name")
        named = f'{part} "{name}"' if name else topic
        yield f"{named} {'added' if before is None else 'taken out'}"
        return
    for key, one, two in _unlike(before, after):
        if key == "ring":
            yield from _slope(ring, one, two)
        elif key == "mirrored":
            yield f"{ring} ring's prints {'mirrored' if two else 'not mirrored'} now"
        elif key == "ruler millimetre":
            yield f"how thick the {ring} ring's strip is against its ruler"
        elif key in _OF_RING:
            yield from_to(f"{ring} ring's {key}", one, two, unit=_UNITS.get(key))
        elif not (summed and key in _SUMMED):
            yield _key(part, key, one, two)


def _unlike(before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterator[tuple[str, Any, Any]]:
    for key in {**before, **after}:
        one, two = before.get(key), after.get(key)
        if one != two:
            yield key, one, two


def _key(part: str, key: str, before: Any, after: Any) -> str:
    if key == "name":
        return f'{part} "{before}", now "{after}"'
    return from_to(f"{part} {key}", before, after, unit=_UNITS.get(key))


def _slope(ring: str, before: Sequence[Any] | None, after: Sequence[Any] | None) -> Iterator[str]:
    """Yield what changed of ring and lead; a ring without a lead has no such facts."""
    if before is None or after is None:
        one, two = (None if slope is None else slope[1] for slope in (before, after))
        yield from_to(f"{ring} ring's lead", one, two, unit="mm")
        return
    for name, one, two in zip(("once round", "lead", "nearer turns"), before, after, strict=True):
        if one != two:
            yield from_to(f"{ring} ring's {name}", one, two, unit=_UNITS.get(name))


Parts = Sequence[Mapping[str, Any]]


def row(topic: Topic, before: Parts, after: Parts, *, summed: bool) -> Iterator[str]:
    """Yield parts added, taken out and changed; those of one kind and name are matched.

    `summed` is whether the chain's lengths are told elsewhere.
    """
    summed = summed and topic == Topic.CHAIN
    one, two = _by_name(before), _by_name(after)
    put, taken = _PUT.get(topic, ("added", "taken out"))
    found = []
    for name in {**one, **two}:
        for was, now in zip_longest(one.get(name, ()), two.get(name, ())):
            if was is None or now is None:
                found += [] if summed else [f"{name} {put if was is None else taken}"]
            else:
                found += [
                    _key(name, key, *values)
                    for key, *values in _unlike(was, now)
                    if not (summed and key in _SUMMED)
                ]
    yield from found or (() if summed else [_ORDER[topic]])


_ORDER = {
    Topic.CHAIN: "parts between lens and attachment in another order",
    Topic.FRONT: "parts on the front in another order",
    Topic.CLOSE_UP_LENSES: "close-up lenses in another order",
}


def _by_name(parts: Parts) -> dict[str, list[Mapping[str, Any]]]:
    found: dict[str, list[Mapping[str, Any]]] = {}
    for part in parts:
        found.setdefault(f'{part.get("part", "close-up lens")} "{part["name"]}"', []).append(part)
    return found


def _value(value: Any) -> str:
    if value is None:
        return "not given"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return f"{value:.6g}"
    if isinstance(value, list | tuple):
        return " and ".join(map(_value, value)) or "none"
    return str(value)
