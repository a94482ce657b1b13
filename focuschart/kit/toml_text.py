"""A kit written as tidy TOML, with a comment on each key where it stands first."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import Any

from pydantic import BaseModel

from focuschart.kit.fields import Length
from focuschart.kit.parts import Attachment, Camera, ChainPart, TakingLens
from focuschart.kit.ring import Ring
from focuschart.kit.schema import Kit, Rig

_SECTIONS: dict[str, type[BaseModel]] = {
    "cameras": Camera,
    "taking_lenses": TakingLens,
    "attachments": Attachment,
    "step_rings": ChainPart,
    "clamps": ChainPart,
    "rigs": Rig,
}
_HEAD = """\
# What is in the bag, for focuschart. Lengths are quoted text with a unit: "72 mm", "0.6 m",
# "6 ft 3 in", or "inf" for infinity. Keys switched off by a # may be filled in at any time.
"""
_READINGS = """\
# Bench readings: both rings focused on one target, and what the two ruler strips then showed.
# Five or more distances for each rig, the nearest mark and a target beyond 30 m among them.
#
#[[readings]]
#rig = {rig}
#distance = "2 m"          # from the sensor mark
#stop = {stop}
#taking = 41.9             # figures on the rulers, in mm
#attachment = 131.1
"""
_COMMENT_COLUMN = 36


def kit_text(kit: Mapping[str, Any]) -> str:
    """Return the text of a kit file.

    `kit` has the shape of the file: sections of tables by id, lengths as text. An absent key is
    left out, one that is None is written switched off.
    """
    told: set[str] = set()
    blocks = [_HEAD, _block("", Kit, {"format": 1, **kit}, told)]
    for section, model in _SECTIONS.items():
        for part_id, table in kit[section].items():
            blocks += _blocks(f"{section}.{part_id}", model, table, told)
    example = {"rig": _value(next(iter(kit["rigs"]))), "stop": _value(kit["stops"][0])}
    return "\n".join([*blocks, _READINGS.format_map(example)])


def _blocks(
    path: str, model: type[BaseModel], table: Mapping[str, Any], told: set[str]
) -> Iterator[str]:
    yield _block(path, model, table, told)
    if "ring" in table:
        yield _block(f"{path}.ring", Ring, table["ring"], told)


def _block(path: str, model: type[BaseModel], table: Mapping[str, Any], told: set[str]) -> str:
    head = [f"[{path}]"] if path else []
    keys = [key for key in model.model_fields if key in table and not _is_table(table[key])]
    lines = [_line(key, table[key], _note(model, key, told)) for key in keys]
    return "\n".join([*head, *lines, ""])


def _note(model: type[BaseModel], key: str, told: set[str]) -> str:
    """Return what to say of a key, once: what was told before is left out."""
    description = _description(model, key)
    if description in told:
        return ""
    told.add(description)
    return description


def _is_table(value: Any) -> bool:
    return isinstance(value, dict)


def _line(key: str, value: Any, note: str) -> str:
    line = f'#{key} = ""' if value is None else f"{key} = {_value(value)}"
    return f"{line:<{_COMMENT_COLUMN}}  # {note}" if note else line


def _value(value: Any) -> str:
    if isinstance(value, list):
        return f"[{', '.join(_value(entry) for entry in value)}]"
    if isinstance(value, float):
        return repr(value).removesuffix(".0")
    # A JSON text, number or truth is a TOML one; what JSON leaves bare and TOML does not is DEL.
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def _description(model: type[BaseModel], key: str) -> str:
    info = model.model_fields[key]
    lengths = [rule.description for rule in info.metadata if isinstance(rule, Length)]
    return next(iter(lengths), info.description) or ""
