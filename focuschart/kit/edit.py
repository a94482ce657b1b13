"""Adding a reading to the text of a kit without changing any byte that is already there.

The place is found with tomlkit, which keeps what it reads to the byte. The text itself is never
written out by it: the new lines are put between two halves of the old text. tomllib then says
whether the kit means what it meant, with the reading at the end.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Mapping
from contextlib import suppress
from functools import reduce
from typing import Any, Literal

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, Array, InlineTable, Integer, Item, Key, Table, Trivia

from focuschart.errors import InputError
from focuschart.kit.reading import Reading
from focuschart.kit.squeeze import MeasuredSqueeze
from focuschart.kit.unmoved import Unmoved

Fields = Mapping[str, object]
Sample = Mapping[str, tuple[Key, Item]]
"""Keys and values of an existing reading; a new one is written in its style."""

Section = Literal["unmoved", "squeezes"]
_SECTIONS: Mapping[Section, type[Unmoved] | type[MeasuredSqueeze]] = {
    "unmoved": Unmoved,
    "squeezes": MeasuredSqueeze,
}
"""Sections that entries are added to, and the table that an entry is."""

_PLAIN_HEADER = "[[readings]]"
_HEADER = re.compile(
    r"""^[ \t]*\[\[[ \t]*(?:readings|"readings"|'readings')[ \t]*\]\]""", re.MULTILINE
)
_ANY_HEADER = re.compile(r"^[ \t]*\[", re.MULTILINE)
_COMMENT_LINES = re.compile(r"\A(?:[ \t]*#[^\n]*\n)+")
_REST_OF_LINE = re.compile(r"[ \t]*(?:#[^\n]*?)?(?=\r?\n)")
_COMMA_NEXT = re.compile(r"(?:\s|#[^\n]*\n)*,")
_MARK = "\0"
"""Marks a place in a text; no TOML text holds it."""
_NO_PLACE = (TOMLKitError, ValueError, LookupError, TypeError, AttributeError, RuntimeError)
"""Errors that mean: this way does not suit the text. tomlkit's own have no common class."""


def with_reading(text: str, *readings: Fields) -> str:
    """Return a kit's text with readings added at the end of its readings, in their style.

    `text` is valid TOML; each reading has the keys of `Reading`, lengths as text. They come after
    the last reading, comments at its foot included, or at the end of a file without readings.
    Raises InputError where they are laid out so that nothing can be added safely.
    """
    if not readings:
        return text
    said = tomllib.loads(text)
    added = [_in_order(reading) for reading in readings]
    for way in _WAYS:
        with suppress(*_NO_PLACE):
            wanted = {**said, "readings": [*said.get("readings", []), *added]}
            new = reduce(way, added, text)
            # By repr, so that a nan, which is for the loader to refuse, equals itself.
            if repr(tomllib.loads(new)) == repr(wanted):
                return new
    raise InputError(
        "its readings are laid out so that none can be added safely: write each as a table of "
        "its own, [[readings]], or enter this one by hand"
    )


def with_entries(text: str, section: Section, *entries: Fields) -> str:
    """Return a kit's text with entries of a section added at its end, each a table of its own.

    Each has the keys of the section's entries. Raises InputError where they are laid out so that
    nothing can be added safely.
    """
    said, new = tomllib.loads(text), text
    added = [
        {key: each[key] for key in _SECTIONS[section].model_fields if each.get(key) is not None}
        for each in entries
    ]
    for each in added:
        new = _inserted(new, _end(new), [f"[[{section}]]", *_entries(each, {})], gap=1)
    with suppress(ValueError):
        if tomllib.loads(new) == {**said, section: [*said.get(section, []), *added]}:
            return new
    raise InputError(f"its {section} are no [[{section}]] tables: write each as one")


def readings_added(old: str, new: str) -> list[Fields] | None:
    """Return the readings that `with_reading` added to `old` if the result is `new` to the byte.

    None where there are none.
    """
    with suppress(InputError, *_NO_PLACE):
        had = len(tomllib.loads(old).get("readings", []))
        added: list[Fields] = tomllib.loads(new).get("readings", [])[had:]
        return added if with_reading(old, *added) == new else None
    return None


def _in_order(reading: Fields) -> dict[str, object]:
    """Return the reading's keys in the order of its fields, without the absent ones."""
    return {key: reading[key] for key in Reading.model_fields if reading.get(key) is not None}


# --- tables -----------------------------------------------------------------------------------


def _after_last(text: str, reading: Fields) -> str:
    """Add a table after the last one, and after the comments that belong to it."""
    header = list(_HEADER.finditer(text))[-1]
    following = _ANY_HEADER.search(text, header.end())
    end = following.start() if following else len(text)
    # That table alone: in a whole kit, tomlkit moves readings that other tables stand between.
    last = text[header.start() : end]
    body = _table(last).value.body
    own = max(i for i, (key, _) in enumerate(body) if key is not None) + 1
    foot = "".join(item.as_string() for _, item in body[own:])
    at = end - len(foot) + _own_comments(foot) if following else _end(text)
    head = text[: header.start()]
    return _inserted(text, at, _lines(reading, header[0], _sample(body)), gap=_gap(head))


def _table(text: str) -> Table:
    """Return the one reading written in a text; raises ValueError if it is anything else."""
    document = tomlkit.parse(text)
    tables = document["readings"]
    if document.as_string() != text or not isinstance(tables, AoT):
        raise ValueError
    return tables[0]


def _at_end(text: str, reading: Fields) -> str:
    """Add a table at the end of the file, which TOML allows wherever the others stand."""
    return _inserted(text, _end(text), _lines(reading, _PLAIN_HEADER, {}), gap=1)


def _own_comments(foot: str) -> int:
    """Return the length of the comments directly under a reading that other tables follow.

    Those that reach down to the next table without a blank line belong to that.
    """
    beyond = len(_COMMENT_LINES.sub("", foot))
    return len(foot) - beyond if beyond else 0


def _end(text: str) -> int:
    """Return where the last line that is not blank ends."""
    filled = len(text.rstrip())
    return text.find("\n", filled) + 1 or len(text)


def _gap(head: str) -> int:
    """Return how many blank lines separate readings, counted before the last one."""
    blank = head.count("\n", len(head.rstrip())) - 1
    return max(blank, 0) or int(_ends_in_comment(head) or not head.strip())


def _inserted(text: str, at: int, lines: list[str], *, gap: int) -> str:
    """Return the text with lines put in, with the line ends of the line before."""
    before, after = text[:at], text[at:]
    newline = _newline(before)
    start = newline if before and not before.endswith("\n") else ""
    blank = newline * max(gap, _ends_in_comment(before)) if before else ""
    return before + start + blank + "".join(line + newline for line in lines) + after


def _ends_in_comment(text: str) -> bool:
    return text.rstrip().rpartition("\n")[2].lstrip().startswith("#")


def _newline(before: str) -> str:
    return "\r\n" if before[: before.rfind("\n") + 1].endswith("\r\n") else "\n"


def _lines(reading: Fields, header: str, sample: Sample) -> list[str]:
    indent = next((item.trivia.indent for _, item in sample.values()), "")
    return [header, *(indent + entry for entry in _entries(reading, sample))]


# --- an array of inline tables ----------------------------------------------------------------


def _in_array(text: str, reading: Fields) -> str:
    """Add an inline table to an array, on a line of its own where the last one has one."""
    document = tomlkit.parse(text)
    array = document["readings"]
    if not isinstance(array, Array):
        raise TypeError
    mark = Integer(0, Trivia(), _MARK)
    if not len(array):
        document["readings"] = mark
        before, after = _halves(document, text, array.as_string())
        return f"{before}[{_inline(reading, '{ }', {})}{array.as_string()[1:]}{after}"
    last = array[-1]
    if not isinstance(last, InlineTable):
        raise TypeError
    table = last.as_string()
    array[-1] = mark
    before, after = _halves(document, text, table)
    new = _inline(reading, table, _sample(last.value.body))
    return before + table + _listed(before, after, new)


def _halves(document: tomlkit.TOMLDocument, text: str, cut: str) -> tuple[str, str]:
    """Return the text before and after the mark that replaced what was cut out.

    Raises ValueError where tomlkit does not give the text back to the byte.
    """
    before, _, after = document.as_string().partition(_MARK)
    if before + cut + after != text:
        raise ValueError
    return before, after


def _listed(before: str, after: str, new: str) -> str:
    """Return the text after the last entry of an array, with a new entry put in."""
    comma = _COMMA_NEXT.match(after)
    led, rest = (comma[0], after[comma.end() :]) if comma else (",", after)
    new += "," if comma else ""
    indent = before.rpartition("\n")[2]
    if "\n" not in before or indent.strip():
        return f"{led} {new}{rest}"
    line = _REST_OF_LINE.match(rest)
    remark = line[0] if line else ""
    return f"{led}{remark}{_newline(before)}{indent}{new}{rest[len(remark) :]}"


def _inline(reading: Fields, like: str, sample: Sample) -> str:
    """Return a reading as an inline table, spaced like another one."""
    pad = " " if like.startswith("{ ") else ""
    comma = ", " if ", " in like or len(sample) < 2 else ","
    return f"{{{pad}{comma.join(_entries(reading, sample))}{pad}}}"


# --- style ------------------------------------------------------------------------------------


def _sample(body: list[tuple[Key | None, Item]]) -> Sample:
    return {key.key: (key, item) for key, item in body if key is not None}


def _entries(reading: Fields, sample: Sample) -> list[str]:
    """Return the reading as "key = value", with the sample's quotes and spacing."""
    return [
        f"{_assigned(name, sample)}{_value(value, name, sample)}" for name, value in reading.items()
    ]


def _assigned(name: str, sample: Sample) -> str:
    """Return "name = ", its equals sign aligned where the sample aligns them."""
    keys = {known: key.as_string() + key.sep for known, (key, _) in sample.items()}
    if name in keys:
        return keys[name]
    signs = {text[len(text.rstrip("= \t")) :] for text in keys.values()}
    columns = {len(text) for text in keys.values()}
    if len(signs) > 1 and len(columns) == 1:
        return f"{name:<{columns.pop() - 3}} = "
    return name + (signs.pop() if len(signs) == 1 else " = ")


def _value(value: Any, name: str, sample: Sample) -> str:
    literal = name in sample and sample[name][1].as_string().startswith("'")
    if literal and isinstance(value, str) and "'" not in value:
        return f"'{value}'"
    if isinstance(value, Mapping):
        own = ", ".join(f"{key} = {_value(each, key, {})}" for key, each in value.items())
        return f"{{ {own} }}"
    return str(tomlkit.item(value).as_string())


_WAYS: tuple[Callable[[str, Fields], str], ...] = (_after_last, _at_end, _in_array)
