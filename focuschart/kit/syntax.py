"""Where a kit file is no TOML: line, column, and what its writer most probably meant."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import NamedTuple

from focuschart.errors import UnitError
from focuschart.typed import plain, typed_length, typed_quantity, typed_stop

_AT = re.compile(r" \(at (?:line (\d+), column (\d+)|end of document)\)$")
_STRING = re.compile(r'"(?:[^"\\\n]|\\.)*"|\'[^\'\n]*\'')
_ASSIGNED = re.compile(r"^\s*[\w.-]+\s*=\s*(?P<value>[^#]*?)\s*(?:#.*)?$")
_KEY_OF_WORDS = re.compile(r"^\s*(\w+(?:[ -]+\w+)+)\s*=")
_NEXT_KEY = re.compile(r"\s*(?:[\w.-]+\s*=|\[|$)")
_DECIMAL_COMMA = re.compile(r"\d+,\d+")
_LONGEST = 200
"""A longer line is looked at, and shown, so far only."""
_INCH_SIGN = re.compile(r"\d\"\"\s*(?:,|\]|\}|#|$)")
_YES_NO = {"yes": "true", "on": "true", "true": "true", "no": "false", "off": "false",
           "false": "false"}  # fmt: skip


class _Fault(NamedTuple):
    """What the parser says, and the line where it stopped; `column` counts from 1."""

    message: str
    line: str
    column: int

    @property
    def value(self) -> str:
        """The value of the line's key, as far as it is one."""
        found = _ASSIGNED.match(self.line)
        return found["value"] if found else ""

    @property
    def rest(self) -> str:
        return self.line[self.column - 1 :]


class _Cure(NamedTuple):
    """What to do, and the column it is about, if not where the parser stopped."""

    text: str
    column: int | None = None


def syntax_rule(message: str, text: str) -> str:
    """Return what is wrong with a text that is no TOML, from the parser's message, and the cure."""
    found = _AT.search(message)
    said = message[: found.start()] if found else message
    lines = text.split("\n")
    if found and found[1]:
        number, column = int(found[1]), int(found[2])
    else:
        number, column = _opened(lines)
    line = lines[number - 1] if number <= len(lines) else ""
    fault = _Fault(said, line.rstrip("\r")[:_LONGEST], column)
    cure = next((cure for cause in _CAUSES for cure in cause(fault)), None)
    if cure is None:
        return f"not valid TOML, {message}"
    return f"not valid TOML, line {number}, column {cure.column or column}: {cure.text}"


def _opened(lines: list[str]) -> tuple[int, int]:
    """Return line and column of what the end of the text leaves open, most probably."""
    for number, line in enumerate(lines, start=1):
        bare = _STRING.sub(lambda found: "_" * len(found[0]), line).partition("#")[0]
        for sign in "\"'":
            if bare.count(sign) % 2:
                return number, bare.index(sign) + 1
    return len(lines), len(lines[-1]) + 1


# --- causes, the likeliest first; each yields a cure or nothing -----------------------------------


def _typeset(fault: _Fault) -> Iterator[_Cure]:
    """Quotes, hyphens and spaces of a word processor, outside plain quotes."""
    bare = _STRING.sub(lambda found: "_" * len(found[0]), fault.line)
    for index, sign in enumerate(bare.partition("#")[0]):
        name = _TYPESET.get(sign)
        if name:
            yield _Cure(f"{name} ({sign.strip() or 'U+' + format(ord(sign), '04X')}), {_as(fault)}",
                        index + 1)  # fmt: skip


_TYPESET = {
    **dict.fromkeys("“”„‟‘’‚‛″′«»", "a typographic quote"),
    **dict.fromkeys("‐‑‒–—−", "a typographic hyphen"),
    **dict.fromkeys("\u00a0\u202f\u2009\u2007\u3000\ufeff\u200b", "a space that is no plain one"),
}


def _as(fault: _Fault) -> str:
    return f"write it plainly: {plain(fault.line)}"


def _open_text(fault: _Fault) -> Iterator[_Cure]:
    if "Illegal character" in fault.message and fault.column > len(fault.line):
        yield _Cure("the quote at the end of a text is missing")
    if _INCH_SIGN.search(fault.line):
        yield _Cure('an inch sign ends the text before its end, write inches as "6 ft 3 in"')
    if fault.message.startswith(('Expected "\'"', "Unterminated string")):
        yield _Cure("the quote at the end of a text is missing")
    if "Unescaped '\\'" in fault.message:
        yield _Cure("write a backslash twice, or put the text in single quotes")


def _list(fault: _Fault) -> Iterator[_Cure]:
    kind = next((kind for kind in ("array", "inline table") if f"Unclosed {kind}" in fault.message),
                None)  # fmt: skip
    if kind is None:
        return
    name, sign = ("list", "]") if kind == "array" else ("table", "}")
    if kind == "array" and re.match(r"\s*[A-Za-z]", fault.rest) and "=" not in fault.rest:
        yield _Cure('put each text and length in quotes, for example "72 mm"')
    elif _NEXT_KEY.match(fault.rest) and (kind == "array" or not fault.rest.strip()):
        yield _Cure(f"the {name} before this is not closed, write {sign} at its end")
    else:
        yield _Cure("a comma is missing before this")


def _number(fault: _Fault) -> Iterator[_Cure]:
    value = fault.value
    if _DECIMAL_COMMA.fullmatch(value):
        yield _Cure(f"a decimal comma, write {value.replace(',', '.')}")
    elif re.fullmatch(r"\.\d+|\d+\.|0\d+(\.\d+)?", value):
        yield _Cure(f"write {float(value):g}")
    elif value.casefold() in _YES_NO:
        yield _Cure(f"write {_YES_NO[value.casefold()]}")
    elif re.match(r"[fF]", value):
        try:
            yield _Cure(f"write {typed_stop(value):g}")
        except UnitError:
            return


def _unquoted(fault: _Fault) -> Iterator[_Cure]:
    value = fault.value
    if not value or value[0] in "\"'[{":
        return
    try:
        yield _Cure(f'put a length in quotes: "{typed_length(value)}"')
    except UnitError:
        if re.match(r"[\d.,]+\s*[A-Za-z%°]", value):
            yield _Cure(f'put a quantity in quotes: "{_quantity(value)}"')
        elif re.match(r"[^\W\d]", value) and "Invalid value" in fault.message and "=" not in value:
            yield _Cure(f'put text in quotes: "{value.strip(chr(34))}"')


def _quantity(value: str) -> str:
    try:
        return typed_quantity(value)
    except UnitError:
        return value


def _key(fault: _Fault) -> Iterator[_Cure]:
    if words := _KEY_OF_WORDS.match(fault.line):
        if "Expected '='" in fault.message:
            yield _Cure(f"a key has no spaces, write {'_'.join(words[1].split())}")
    elif "Expected '=' after a key" in fault.message:
        yield _Cure("write = between a key and its value")
    if "end of a table declaration" in fault.message:
        yield _Cure("write ] at the end of the heading")
    if "end of an array declaration" in fault.message:
        yield _Cure("write ]] at the end of the heading")
    if "Cannot declare" in fault.message or "Cannot overwrite" in fault.message:
        yield _Cure("the same id or key stands here twice, rename or remove one")


def _value(fault: _Fault) -> Iterator[_Cure]:
    if "Invalid value" in fault.message and re.search(r"=\s*(?:#.*)?$", fault.line):
        yield _Cure("a value is missing after =")
    elif "Invalid value" in fault.message and re.match(r"[^\W\d]", fault.rest):
        yield _Cure('put texts in quotes, for example "main"')
    elif "Expected newline" in fault.message and fault.rest.lstrip().startswith(","):
        yield _Cure("put several values in square brackets")
    elif "Expected newline" in fault.message:
        yield _Cure("write one key and its value on a line, and nothing more")


_CAUSES: tuple[Callable[[_Fault], Iterator[_Cure]], ...] = (
    _typeset, _open_text, _list, _number, _unquoted, _key, _value,
)  # fmt: skip
