"""The errors that a user can meet, and what is left out; each text says what to do."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, NamedTuple

INTERRUPTED = 130
"""The exit status that a shell reports for a program ended by Ctrl-C."""


class FocusChartError(Exception):
    """An error that the user can correct; the command line prints it and exits with status 2."""


class UnitError(FocusChartError):
    """A quantity whose text or unit cannot be understood."""


class OpticsError(FocusChartError):
    """A request that the optics cannot fulfil."""


class FitError(FocusChartError):
    """Readings to which a ring's scale cannot be fitted."""


class PageError(FocusChartError):
    """A drawing that does not fit its sheet or cannot be drawn faithfully."""


class GlyphError(FocusChartError):
    """A text that the font cannot print."""


class InputError(FocusChartError):
    """Input that cannot be used: a file, a terminal, an option."""


class OutputError(FocusChartError):
    """Files that cannot be written, or that are not ours to overwrite."""


_LONGEST_INT_BITS = 200


def shown(value: object) -> str:
    """Return a value as the user wrote it, short and without control characters."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int) and value.bit_length() > _LONGEST_INT_BITS:
        return "a number of many digits"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return "a list"
    text = ascii(value)[1:-1] if isinstance(value, str) and not value.isprintable() else str(value)
    short = text if len(text) <= 40 else f"{text[:37]}..."
    return f'"{short}"' if isinstance(value, str) else short


class Problem(NamedTuple):
    """One problem in a kit: its key, the value there, and the rule with the cure.

    `source` is the file with the key, if that is not the kit file itself.
    """

    key: str
    value: str
    rule: str
    source: str = ""

    def sentence(self, kit: str) -> str:
        """Return the problem as one line with file, key, value and rule."""
        source = self.source or kit
        where = f"{source}: {self.key}" if self.key else source
        return f"{where}{self._what}: {self.rule}"

    @property
    def place(self) -> str:
        """Key and value, after the file's name if that is not the kit file itself."""
        name = self.source.replace("\\", "/").rpartition("/")[2]
        source = f"{name}: " if name else ""
        return f"{source}{self.key}{self._what}"

    @property
    def _what(self) -> str:
        return f" is {self.value}" if self.value else ""


class LeftOut(NamedTuple):
    """A part of a rig's output that could not be made: the rig, what, why, and the cure.

    `kind` tells a whole rig, a ring that was read, and a whole document from smaller parts.
    """

    rig: str
    what: str
    why: str
    cure: str
    kind: Literal["rig", "ring", "document", "part"] = "part"

    @property
    def data(self) -> dict[str, str]:
        """Its texts by name, for machines and for a pack's record."""
        return {"rig": self.rig, "what": self.what, "why": self.why, "cure": self.cure}

    def sentence(self, kit: str) -> str:
        """Return one line with file, rig, what is left out, why, and the cure."""
        return f"{kit}: rigs.{self.rig}: {self.what} left out, {self.why}: {self.cure}"


MOST_LISTED = 20
"""The most problems listed: more than anybody corrects at once; judgement, no source."""


class KitError(FocusChartError):
    """All problems of a kit, in its file and in those that it includes.

    The text lists the first `MOST_LISTED`, and the number of the others.
    """

    def __init__(self, source: str, problems: Sequence[Problem]) -> None:
        self.source = source
        self.problems = tuple(problems)
        listed = [problem.sentence(source) for problem in self.problems[:MOST_LISTED]]
        more = len(self.problems) - MOST_LISTED
        super().__init__("\n".join([*listed, *([f"and {more:,} more"] if more > 0 else [])]))
