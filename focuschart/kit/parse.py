"""Reading the TOML text of one file into tables, with limits; and how a key is written."""

from __future__ import annotations

import re
import tomllib
from typing import Any

from focuschart.errors import KitError, Problem, shown
from focuschart.kit.syntax import syntax_rule

Location = tuple[str | int, ...]

MAX_BYTES = 4_000_000
"""A kit of ten thousand rigs is 2 MB; more is not a kit."""

MOST_PARTS = 16
"""Of a key, joined by dots; no key of a kit has more than five. The parser keeps every beginning of
a key, so that one of 10,000 parts takes 444 MB."""

_PART = r"""(?:[A-Za-z0-9_-]++|"(?:[^"\\\n]|\\.)*+"|'[^'\n]*+')"""
_LONG_KEY = re.compile(
    rf"(?:^|[\[{{,])[ \t]*+(?P<key>{_PART}(?:[ \t]*+\.[ \t]*+{_PART}){{{MOST_PARTS}}})",
    re.MULTILINE,
)
"""Begins where a key may begin; possessive, so that it never looks at a text twice."""


def parse_kit(text: str, *, source: str) -> dict[str, Any]:
    """Return the tables written in a file; raises KitError for what is no TOML."""
    if len(text) > MAX_BYTES:
        rule = f"longer than {MAX_BYTES // 1_000_000} MB, this is not a kit"
        raise KitError(source, [Problem("", "", rule)])
    if found := _LONG_KEY.search(text):
        line = text.count("\n", 0, found.start("key")) + 1
        rule = f"a key of more than {MOST_PARTS} parts, at line {line}: no key of a kit is so long"
        raise KitError(source, [Problem(shown(found["key"])[1:-1], "", f"{rule}, shorten it")])
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise KitError(source, [Problem("", "", syntax_rule(str(error), text))]) from None
    except ValueError:
        raise KitError(source, [Problem("", "", "holds a number of far too many digits")]) from None
    except RecursionError:
        raise KitError(source, [Problem("", "", "brackets nested too deep")]) from None


def key_path(location: Location) -> str:
    """Return a location as written in messages: rigs.portrait.distances[0]."""
    path = ""
    for part in location:
        path += f"[{part}]" if isinstance(part, int) else f".{_quoted(part)}"
    return path.removeprefix(".")


def _quoted(part: str) -> str:
    return part if re.fullmatch(r"[A-Za-z0-9_-]{1,60}", part) else shown(part)
