"""The one tree of errors a user can meet; each text names the cure."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, NamedTuple

INTERRUPTED = 130
"""The exit status that a shell reports for a program ended by Ctrl-C."""


class FocusChartError(Exception):
    """Anything the user can put right; the command line prints it and exits with status 2."""


class UnitError(FocusChartError):
    """A quantity whose text or unit cannot be understood."""


class OpticsError(FocusChartError):
    """A request outside what the optics can do."""


class FitError(FocusChartError):
    """Readings from which a ring's scale cannot be found."""


class PageError(FocusChartError):
    """A drawing that does not fit its sheet or cannot be drawn faithfully."""


class GlyphError(FocusChartError):
    """A text the font cannot show."""


class InputError(FocusChartError):
    """A file or a terminal that cannot be read."""


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
    """One thing wrong with a kit: where it stands, what it says, what is asked for.

    `source` is the file in which the key stands, where that is not the kit itself.
    """

    key: str
    value: str
    rule: str
    source: str = ""

    def sentence(self, kit: str) -> str:
        """Return the problem as one line that names file, key, value and cure."""
        source = self.source or kit
        where = f"{source}: {self.key}" if self.key else source
        return f"{where}{self._what}: {self.rule}"

    @property
    def place(self) -> str:
        """The key and what it says, with its file's name where that is not the kit itself."""
        name = self.source.replace("\\", "/").rpartition("/")[2]
        source = f"{name}: " if name else ""
        return f"{source}{self.key}{self._what}"

    @property
    def _what(self) -> str:
        return f" is {self.value}" if self.value else ""


class LeftOut(NamedTuple):
    """What of a rig could not be made while the rest was: the rig, what, why, and the cure.

    `kind` tells a whole rig, a ring that was read, and a whole document from all that is smaller.
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
        """Return one line that names file, rig, what is left out, why, and the cure."""
        return f"{kit}: rigs.{self.rig}: {self.what} left out, {self.why}: {self.cure}"


MOST_LISTED = 20
"""Problems told one by one: more than anybody mends before the next look; judgement."""


class KitError(FocusChartError):
    """Every problem found in one kit, in its own file and in those it includes.

    Its text lists the first `MOST_LISTED`, and says how many more there are.
    """

    def __init__(self, source: str, problems: Sequence[Problem]) -> None:
        self.source = source
        self.problems = tuple(problems)
        listed = [problem.sentence(source) for problem in self.problems[:MOST_LISTED]]
        more = len(self.problems) - MOST_LISTED
        super().__init__("\n".join([*listed, *([f"and {more:,} more"] if more > 0 else [])]))
