"""All that the pack of a rig can depend on: the same facts, the same pack."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from focuschart.kit.schema import Kit, Rig

_OF_SETUP = ("deliveries", "lean_limit")
_WHOLE = ("close_up_lenses",)
"""Sections of which every entry counts: reach is told for each close-up lens of the bag."""


def rig_facts(kit: Kit, rig_ids: Iterable[str]) -> Iterator[tuple[str, str]]:
    """Yield each rig's id with its facts: the kit's own keys, its parts, and all readings.

    Readings and the rigs they were made on count for every rig, since scales are shared, and so do
    the taking lenses on which its attachment serves. The text is exact and, for one version of
    Python and pydantic, always the same.
    """
    common = repr([*_own_keys(kit), *_sections(kit, _read_rigs(kit)), kit.readings])
    served = _served(kit)
    for rig_id in rig_ids:
        rig = kit.rigs[rig_id]
        own = [served[rig.attachment], *_sections(kit, {rig_id: rig})]
        yield rig_id, f"{common}{rig_id}{own!r}"


def rig_parts(kit: Kit, rig_id: str) -> dict[str, dict[str, str]]:
    """Return the tables a rig is made of, by key: what its setup is told from.

    With them go what the kit wants delivered, and all its close-up lenses. Values are as the kit
    reads them, as text; a ring's own table and what is not given are left out.
    """
    wanted = {key: getattr(kit, key) for key in _OF_SETUP}
    tables: dict[str, object] = {
        f"{section}.{entry}": table
        for section, entries in _sections(kit, {rig_id: kit.rigs[rig_id]})
        for entry, table in entries.items()
    }
    tables |= {f"close_up_lenses.{entry}": lens for entry, lens in kit.close_up_lenses.items()}
    found = {key: dict(_given(table)) for key, table in tables.items()}
    return {**found, "kit": {key: repr(value) for key, value in wanted.items() if value}}


def _given(table: object) -> Iterator[tuple[str, str]]:
    for key in type(table).model_fields:  # type: ignore[attr-defined]
        value = getattr(table, key)
        if key != "ring" and value is not None:
            yield key, value if isinstance(value, str) else repr(value)


def _served(kit: Kit) -> dict[str, dict[str, float]]:
    """Return by attachment the lenses it serves with, in the kit's order, with focal lengths.

    Each lens is a constant of the attachment's fit, read on or not.
    """
    found: dict[str, dict[str, float]] = {}
    for rig in kit.rigs.values():
        focal_length = kit.taking_lenses[rig.taking_lens].focal_length
        found.setdefault(rig.attachment, {})[rig.taking_lens] = focal_length
    return found


def _own_keys(kit: Kit) -> Iterator[tuple[str, object]]:
    for key in type(kit).model_fields:
        value = getattr(kit, key)
        if key in _WHOLE or not (isinstance(value, dict) or key == "readings"):
            yield key, value


def _read_rigs(kit: Kit) -> dict[str, Rig]:
    read = {reading.rig for reading in kit.readings}
    return {rig_id: rig for rig_id, rig in kit.rigs.items() if rig_id in read}


def _sections(kit: Kit, rigs: dict[str, Rig]) -> Iterator[tuple[str, dict[str, object]]]:
    """Yield the entries of each section that some rigs name, in the section's order."""
    named = {name for rig in rigs.values() for name in _ids(rig)} | set(rigs)
    for key in type(kit).model_fields:
        section = getattr(kit, key)
        if isinstance(section, dict) and key not in _WHOLE:
            used = sorted(named & section.keys())
            if used:
                yield key, {entry: section[entry] for entry in used}


def _ids(rig: Rig) -> Iterator[str]:
    """Yield every id a rig names; other texts of it name nothing."""
    for value in (getattr(rig, key) for key in type(rig).model_fields):
        if isinstance(value, str):
            yield value
        elif isinstance(value, list):
            yield from (one for one in value if isinstance(one, str))
