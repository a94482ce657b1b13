"""Values of a kit file that can be understood, but are not written as the file has them."""

from __future__ import annotations

import re
from collections.abc import Callable
from contextlib import suppress
from typing import Any, NamedTuple, TypeVar

from focuschart.errors import UnitError
from focuschart.typed import typed_factor, typed_figure, typed_stop

T = TypeVar("T")
_MOST_BYTES = 200_000
"""Longer files are not searched for the place of a value, which takes seconds."""
_MARK = "\0"
"""No TOML text holds it."""
_PARTS = re.compile(r"\.?(?:([A-Za-z0-9_-]+)|\[(\d+)\])")


class MistypedError(ValueError):
    """A value that could be understood; the text says how to write it."""


def parsed(text: str, parse: Callable[[str], T], typed: Callable[[str], str]) -> T:
    """Return what `parse` makes of a text of the kit.

    Where it raises UnitError, but not for what `typed` makes of the text, MistypedError says what
    to write; otherwise ValueError says why.
    """
    try:
        return parse(text)
    except UnitError as refused:
        rule = str(refused)
    try:
        meant = typed(text)
        parse(meant)
    except UnitError as refused:
        raise (ValueError if str(refused) == rule else MistypedError)(str(refused)) from None
    spelt = meant.replace('"', " in").replace("'", " ft ")
    raise MistypedError(f'write "{" ".join(spelt.split())}"')


def number_meant(text: str) -> float | None:
    """Return the number that a text in quotes says, in place of a plain one; None if it is none."""
    for read in (typed_stop, typed_factor, typed_figure):
        with suppress(UnitError):
            return read(text)
    return None


class Spot(NamedTuple):
    """A place in a text: line and column, from 1."""

    line: int
    column: int

    def __str__(self) -> str:
        return f"line {self.line}, column {self.column}"


def spot_of(text: str, key: str) -> Spot | None:
    """Return where the value of a key such as "rigs.portrait.chain[0]" stands in a TOML text.

    None where it is not found, or laid out so that its place is not certain.
    """
    steps = _steps(key)
    if not steps or len(text) > _MOST_BYTES:
        return None
    import tomlkit
    from tomlkit.items import Integer, Trivia

    # Ways of laying out a file that tomlkit does not give back; its errors have no common class.
    with suppress(Exception):
        document: Any = tomlkit.parse(text)
        holder = document
        for step in steps[:-1]:
            holder = holder[step]
        holder[steps[-1]] = Integer(0, Trivia(), _MARK)
        before, mark, _ = document.as_string().partition(_MARK)
        before = before.rstrip("\0")
        if mark and text.startswith(before):
            return spot_at(text, len(before))
    return None


def spot_at(text: str, offset: int) -> Spot:
    """Return line and column of a place in a text."""
    return Spot(text.count("\n", 0, offset) + 1, offset - text.rfind("\n", 0, offset))


def _steps(key: str) -> list[str | int]:
    """Return the parts of a key, none where one of them is quoted."""
    steps: list[str | int] = []
    end = 0
    while found := _PARTS.match(key, end):
        steps.append(found[1] if found[2] is None else int(found[2]))
        end = found.end()
    return steps if end == len(key) else []
