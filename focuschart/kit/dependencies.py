"""All in a kit that the pack of a rig depends on."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from focuschart.kit.parts import Camera
from focuschart.kit.reading import Reading
from focuschart.kit.schema import Kit, Rig
from focuschart.kit.squeeze import MeasuredSqueeze
from focuschart.kit.unmoved import Unmoved

_APART = ("readings", "unmoved", "squeezes", "include")
_Read = Reading | Unmoved | MeasuredSqueeze
_WHOLE = ("close_up_lenses",)
"""Sections of which every entry counts: cards print the reach of each close-up lens of the kit."""


def dependencies(kit: Kit, rig_ids: Iterable[str]) -> Iterator[tuple[str, str]]:
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


def _readings(kit: Kit) -> dict[tuple[str, ...], list[tuple[_Read, str]]]:
    """Return what was read of each ring and is not to be ignored, with the ring's name in it."""
    found: dict[tuple[str, ...], list[tuple[_Read, str]]] = {}
    read: list[Reading | Unmoved] = [each for each in kit.readings if not each.ignore]
    for each in [*read, *kit.unmoved]:
        if each.rig in kit.rigs:
            for key in kit.rigs[each.rig].rings.values():
                if getattr(each, key[0]) is not None:
                    found.setdefault(key, []).append((each, key[0]))
    for squeeze in kit.squeezes:
        if squeeze.rig in kit.rigs and not squeeze.ignore:
            key = kit.rigs[squeeze.rig].rings["attachment"]
            found.setdefault(key, []).append((squeeze, "squeeze"))
    return found


def _own_keys(kit: Kit) -> Iterator[tuple[str, object]]:
    for key in type(kit).model_fields:
        value = getattr(kit, key)
        if key in _WHOLE or not (isinstance(value, dict) or key in _APART):
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
