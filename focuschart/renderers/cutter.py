"""How documents are finished for a cutter: a spot colour for the cut, a file without print."""

from __future__ import annotations

from dataclasses import dataclass, replace

from focuschart.errors import PageError, shown
from focuschart.layout.page import Page

_LONGEST = 127
"""Bytes of a name (ISO 32000-1, annex C)."""

_RESERVED = frozenset({"all", "none", "cyan", "magenta", "yellow", "black"})
"""Names with a meaning of their own in a Separation space (ISO 32000-1, 8.6.6.4)."""


@dataclass(frozen=True, slots=True)
class Cutter:
    """`spot` names the cut's Separation in a PDF, None for plain red; SVG knows no spot colours.

    With `cut_only` the documents hold every group but the print, under names of their own.
    """

    spot: str | None = None
    cut_only: bool = False

    def __post_init__(self) -> None:
        """Raise PageError on a spot colour's name that cutters may not find."""
        if self.spot is not None:
            _require_spot(self.spot)


PLAIN = Cutter()


def _require_spot(name: str) -> None:
    fault = _fault(name)
    if fault:
        raise PageError(
            f"spot colour {shown(name)} {fault}: name it with 1 to {_LONGEST} letters, digits, "
            'signs and inner spaces of plain ASCII, such as "cut-line"'
        )


def _fault(name: str) -> str:
    if not name.strip():
        return "has no name"
    if not (name.isascii() and name.isprintable()):
        return "holds a character outside plain ASCII"
    if len(name) > _LONGEST:
        return "is too long"
    if name != name.strip():
        return "begins or ends with a space"
    return "is a name kept for printing inks" if name.casefold() in _RESERVED else ""


def cut_only(page: Page) -> Page:
    """Return the page without its print: what is cut, creased and lined up, nothing else."""
    return replace(page, shapes=tuple(s for s in page.shapes if s.group != "print"))
