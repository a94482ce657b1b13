"""What is said of the kit's keys: the README's tables and the examples, against the fields."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Any, Literal, get_args, get_origin

import pytest
from pydantic import TypeAdapter

from focuschart.kit.fields import Table, asks_of, keys_of
from focuschart.kit.kit_text import starter
from focuschart.kit.ring import Ring
from focuschart.kit.schema import Kit, json_schema, table_at
from tests.kits import tables

GUIDE = (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")
CHAPTER = GUIDE[GUIDE.index("\n## The kit file") : GUIDE.index("\n## From Python")]
OF_CHAIN = {("ChainPart", key) for key in ("name", "thickness", "clear_aperture", "mass")}
IN_WORDS = {("Mode", "pixels"), ("Mode", "readout_time"), ("Mode", "circle_of_confusion"),
            ("EngravedMark", "distance"), ("EngravedMark", "ruler"), ("Camera", "modes"),
            ("Reading", "ignore"),
            ("Strips", "taking"), ("Strips", "attachment"),
            ("IndexSetAt", "taking"), ("IndexSetAt", "attachment")}  # fmt: skip
"""Told beside other keys, as a path or in a sentence."""


def rows() -> Iterator[tuple[list[type[Table]], list[str], str]]:
    """Yield tables, keys and meaning of each row; an empty first cell is that of the row above."""
    of: list[type[Table]] = []
    for first, keys, meaning in re.findall(
        r"^\| ?(.*?) ?\| (.*?) \| (.*?) ?\|$", CHAPTER, re.MULTILINE
    ):
        if first == "kit":
            of = [Kit]
        elif first.startswith("`["):
            paths = re.findall(r"\[([^\]]+)\]", first.replace("….ID", "attachments.ID"))
            of = [table_at(path.split(".")) for path in paths]
        yield of, re.findall(r"`([a-z_]+)`", keys), meaning


def told() -> set[tuple[str, str]]:
    """Return each kind of table with each of its keys that the chapter shows."""
    found = {(table.__name__, key) for of, keys, _ in rows() for table in of for key in keys}
    for block in re.findall(r"```toml\n(.*?)```", CHAPTER, re.DOTALL):
        whole = tomllib.loads(block)
        found |= {("Kit", key) for key in whole.keys() - {"readings"}}
        found |= {("Reading", key) for reading in whole.get("readings", []) for key in reading}
    return found


def test_the_guide_tells_every_key_and_no_other() -> None:
    known = {(kind.__name__, key) for kind in tables() for key in keys_of(kind)}
    assert told() - known == set()
    assert known - told() == OF_CHAIN | IN_WORDS
    assert all(re.search(rf"\b{key}\b", CHAPTER) for _, key in IN_WORDS)


@pytest.mark.parametrize("table", [kind for kind in tables() if kind is not Kit])
def test_choices_and_defaults_of_the_guide_are_those_of_the_fields(table: type[Table]) -> None:
    told = {keys[0]: meaning for of, keys, meaning in rows() if table in of and len(keys) == 1}
    for key, meaning in told.items():
        info = table.model_fields[key]
        if get_origin(info.annotation) is Literal:
            assert set(re.findall(r'`"([a-z]+)"`', meaning)) == set(get_args(info.annotation))
        for default in re.findall(r"`?([^ `]+)`? \(default", meaning):
            assert tomllib.loads(f"value = {default}")["value"] == info.default


@pytest.mark.parametrize("table", list(tables()))
def test_every_key_has_a_meaning_and_an_example_that_its_field_takes(table: type[Table]) -> None:
    for name, info in table.model_fields.items():
        of_tables = table is Kit and (get_origin(info.annotation) is dict or name == "readings")
        if not (of_tables or name in ("ring", "bench")):
            kind: Any = Annotated[info.annotation, *info.metadata]
            TypeAdapter(kind).validate_python(keys_of(table)[name].value, strict=True)
    assert asks_of(table).keys() <= keys_of(table).keys()


def test_sizes_of_a_taper_in_the_starters_prose_are_the_fields_examples() -> None:
    of_edges = [key for key in keys_of(Ring) if key.startswith(("front_", "rear_"))]
    assert len(of_edges) == 4
    for name in (*of_edges, "width"):
        assert f" {name} = {keys_of(Ring)[name].example}" in starter()


def test_the_json_schema_says_what_keys_mean_with_limits_and_example() -> None:
    camera = json_schema()["$defs"]["Camera"]["properties"]
    flange = camera["flange_focal_distance"]
    assert flange["description"] == "Lens mount to sensor (between 2 mm and 150 mm)"
    assert flange["examples"] == ["18 mm"]
    assert camera["name"]["description"] == "As printed on strips and card"
