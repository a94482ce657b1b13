"""The guide's list of all keys, made from the JSON schema of a kit file.

`python -m tests.guide_keys` writes it anew; a test holds the file to it.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from focuschart.kit.json_schema import json_schema

FILE = Path(__file__).parents[1] / "focuschart" / "guide" / "keys.md"
_HEAD = """\
# All keys of a kit file

Every key, what it means, between which limits, and an example. A key that is not *needed* may be
left out.

[The kit](kit.md) explains how a kit file is written.
"""


def guide_keys() -> str:
    """Return the whole topic as Markdown: a heading and a table for each table of a kit file."""
    schema = json_schema()
    blocks = [_block(path, table) for path, table in _tables("", schema, schema["$defs"])]
    return "\n".join([_HEAD, *blocks])


def _tables(
    path: str, table: Mapping[str, Any], kinds: Mapping[str, Any]
) -> Iterator[tuple[str, Mapping[str, Any]]]:
    """Yield a table with its path in the file, then those in it."""
    yield path, table
    for key, described in table["properties"].items():
        prefix = f"{path}.{key}" if path else key
        for kind, suffix in _inner(described):
            if not (key == "ring" and path.startswith("attachments")):  # as the lens's
                yield from _tables(f"{prefix}{suffix}", kinds[kind], kinds)


def _inner(described: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Yield the kind of table that a key holds, if any, and what follows the key in its path."""
    places = (
        (described, ""),
        *((each, ".ID") for each in described.get("patternProperties", {}).values()),
        *((each, "") for each in (*described.get("anyOf", ()), *described.get("allOf", ()))),
        (described.get("items", {}), "[]"),
    )
    for place, suffix in places:
        if "$ref" in place:
            yield place["$ref"].rpartition("/")[2], suffix


def _block(path: str, table: Mapping[str, Any]) -> str:
    shown = path.replace("modes.ID", "modes.NAME").replace("taking_lenses.ID.ring", "….ring")
    title = f"`[[{shown[:-2]}]]`" if shown.endswith("[]") else f"`[{shown}]`"
    about = table["description"] if path else "What stands first in the file, above all tables."
    rows = [
        _row(key, described, needed=key in table.get("required", ()))
        for key, described in table["properties"].items()
        if "examples" in described
    ]
    heading = f"## {title if path else 'The kit'}"
    head = ["", about, "", "| key | meaning | example |", "|---|---|---|"]
    return "\n".join([heading, *head, *rows, ""])


def _row(key: str, described: Mapping[str, Any], *, needed: bool) -> str:
    said = [*_said(described), *(["*Needed*"] if needed else [])]
    meaning = ". ".join(sentence.removesuffix(".") for sentence in said)
    cells = (f"`{key}`", f"{meaning}.", f"`{_typed(described['examples'][0])}`")
    return f"| {' | '.join(cell.replace('|', chr(92) + '|') for cell in cells)} |"


def _said(described: Mapping[str, Any]) -> Iterator[str]:
    """Yield what a key means, its choices or its least and largest number, and its default."""
    meaning, default = described["description"], described.get("default")
    yield meaning
    choices = described.get("enum", ())
    if not all(_typed(choice) in meaning for choice in choices):
        yield f"One of {', '.join(map(_typed, choices))}"
    if {"minimum", "maximum"} <= described.keys():
        yield f"From {described['minimum']:g} to {described['maximum']:g}"
    if default not in (None, [], {}) and "; else " not in meaning:
        yield f"Default {_typed(default)}"


def _typed(value: Any) -> str:
    if isinstance(value, Mapping):
        inner = ", ".join(f"{key} = {_typed(each)}" for key, each in value.items())
        return f"{{ {inner} }}"
    if isinstance(value, list):
        return f"[{', '.join(map(_typed, value))}]"
    return json.dumps(value, ensure_ascii=False)


if __name__ == "__main__":
    FILE.write_text(guide_keys(), encoding="utf-8")
