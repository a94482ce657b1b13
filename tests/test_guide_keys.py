"""What is said of the kit's keys: meanings, examples and defaults, against the fields."""

from __future__ import annotations

from typing import Annotated, Any, get_origin

import pytest
from pydantic import TypeAdapter

from focuschart.kit.fields import Table, asks_of, keys_of
from focuschart.kit.json_schema import json_schema
from focuschart.kit.kit_text import starter
from focuschart.kit.ring import Ring
from focuschart.kit.schema import Kit
from tests.kits import tables


@pytest.mark.parametrize("table", list(tables()))
def test_every_key_has_a_meaning_and_an_example_that_its_field_takes(table: type[Table]) -> None:
    for name, info in table.model_fields.items():
        of_tables = table is Kit and (
            get_origin(info.annotation) is dict or name in ("readings", "unmoved", "squeezes")
        )
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
    assert flange["description"].startswith("Lens mount to sensor (between 2 mm and 150 mm)")
    assert flange["examples"] == ["18 mm"]
    assert camera["name"]["description"] == "As printed on strips and card"


def test_the_json_schema_describes_every_key_and_section() -> None:
    for kind in json_schema()["$defs"].values():
        for name, described in kind["properties"].items():
            assert described["description"], name


@pytest.mark.parametrize("table", list(tables()))
def test_a_default_of_the_json_schema_is_what_a_kit_would_say(table: type[Table]) -> None:
    """As text with its unit where the key takes text: an editor may put it in."""
    for name, described in table.model_json_schema()["properties"].items():
        if "default" in described:
            info = table.model_fields[name]
            kind: Any = Annotated[info.annotation, *info.metadata]
            value = TypeAdapter(kind).validate_python(described["default"], strict=True)
            assert value == info.default
