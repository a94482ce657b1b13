"""A kit changed at one place, to anything: marks, or sentences that say why there are none."""

from __future__ import annotations

import json
from collections.abc import Iterator
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from tests.command import run
from tests.kits import kit_text, plain_kit
from tests.rig_parts import full_kit

Table = dict[str, Any]
Where = tuple[str | int, ...]

KITS = {"plain": plain_kit(), "full": full_kit()}
MISSING = object()
"""A value that takes the key out."""

WORDS = st.text(st.characters(exclude_categories=["Cs"]), max_size=8)
NUMBERS = st.one_of(
    st.sampled_from((0, -1, 1, 2, -0.0, 1e-300, 1e300, 10**20, 10**400)),
    st.floats(width=32),
    st.integers(-(10**6), 10**6),
)
QUANTITIES = st.builds(
    "{} {}".format,
    st.one_of(NUMBERS, st.sampled_from(("1e999", "1/0", "1:0", "1.2.3", "inf", "nan", "−5"))),
    st.sampled_from(("mm", "m", "ft", "g", "kg", "N m", "ms", "deg", "mm x 0.75", "%", "")),
)
KNOWN_WORDS = st.sampled_from(
    ("", "inf", "body", "long", "double", "clamp", "portrait", "clockwise", "front", "cam", "both",
     "a\nb", "\x1b[2J", "../x")
)  # fmt: skip
SIMPLE = st.one_of(st.booleans(), NUMBERS, QUANTITIES, KNOWN_WORDS, WORDS)
VALUES = st.one_of(
    st.just(MISSING),
    SIMPLE,
    st.lists(SIMPLE, max_size=3),
    st.dictionaries(st.sampled_from(("name", "ring", "lead", "x")), SIMPLE, max_size=2),
    st.just([{}]),
)


def places(table: Any, where: Where = ()) -> Iterator[Where]:
    """Yield where anything stands: tables, keys, and what is in a list."""
    items = table.items() if isinstance(table, dict) else enumerate(table)
    for key, value in items:
        yield (*where, key)
        if isinstance(value, dict | list):
            yield from places(value, (*where, key))


PLACES = st.sampled_from([(name, where) for name, kit in KITS.items() for where in places(kit)])


def mutated(name: str, where: Where, value: object) -> Table:
    kit = deepcopy(KITS[name])
    table: Any = kit
    for key in where[:-1]:
        table = table[key]
    if value is MISSING:
        del table[where[-1]]
    else:
        table[where[-1]] = value
    return kit


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("mutated") / "kit.toml"


# A chart costs some 50 ms and most kits of these are refused long before one: a hundred are enough
# to meet every kind of value, and other ones at each run; `--hypothesis-profile` may ask for more.
@settings(max_examples=100, deadline=None)
@given(place=PLACES, value=VALUES)
@example(place=("plain", ("readings", 0, "taking")), value=MISSING)
@example(place=("plain", ("readings", 0, "distance")), value="inf")
@example(place=("full", ("cameras", "body", "sensor_width")), value="1e300 mm")
@example(place=("full", ("attachments", "double", "squeeze")), value=1e300)
def test_a_kit_changed_at_one_place_is_charted_or_answered_in_sentences(
    path: Path, place: tuple[str, Where], value: object
) -> None:
    path.write_text(kit_text(mutated(*place, value)), encoding="utf-8", newline="\n")
    result = run("chart", path, "--format", "json")
    assert result.exit_code in (0, 1, 2)
    assert "Traceback" not in result.output
    lines = result.stderr.splitlines()
    assert all(
        line.startswith(("focuschart: ", f"{path}: ")) and len(line) < 1000 for line in lines
    ), lines
    assert lines or result.exit_code != 2
    if result.exit_code == 2:
        assert not result.stdout
    else:
        json.loads(result.stdout, parse_constant=refused)


def refused(constant: str) -> None:
    """NaN and Infinity are no JSON."""
    pytest.fail(constant)
