"""Which file each entry of a kit of several files is in."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from focuschart.errors import Problem

_READING = re.compile(r"\breadings\[(\d+)\]")
_ENDS = ("", ".", "[", " ")
"""What may follow an id in the key of a problem."""


@dataclass(frozen=True, slots=True)
class Origins:
    """The included file that each entry and reading is in; an empty name is the kit itself.

    `entries` has "lenses.long" or "stops" → file, `readings` the file and the number in it of each
    reading of the whole.
    """

    entries: Mapping[str, str] = field(default_factory=dict)
    readings: Sequence[tuple[str, int]] = ()

    def placed(self, problem: Problem) -> Problem:
        """Return a problem with the file that has its key, readings by their number in it."""
        if problem.source or not (self.entries or self.readings):
            return problem
        reading = _READING.match(problem.key)
        file = self._of(reading[1]) if reading else self._holding(problem.key)
        return problem._replace(
            key=_READING.sub(lambda found: self._reading(found, within=file), problem.key),
            rule=_READING.sub(lambda found: self._reading(found, within=file), problem.rule),
            source=file,
        )

    def _of(self, number: str) -> str:
        return self.readings[int(number)][0] if int(number) < len(self.readings) else ""

    def _reading(self, found: re.Match[str], *, within: str) -> str:
        if int(found[1]) >= len(self.readings):
            return found[0]
        file, number = self.readings[int(found[1])]
        return f"readings[{number}]" + (f" of {file}" if file not in ("", within) else "")

    def _holding(self, key: str) -> str:
        """Return the file of the longest entry with which the key begins."""
        for end in range(len(key), 0, -1):
            if key[end : end + 1] in _ENDS and key[:end] in self.entries:
                return self.entries[key[:end]]
        return ""
