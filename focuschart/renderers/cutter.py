"""Options for a cutting plotter: a spot colour for cut lines, or files without the print."""

from __future__ import annotations

from dataclasses import dataclass, replace

from focuschart.errors import PageError, shown
from focuschart.layout.page import Page

_LONGEST = 127
"""The most bytes of a name in a PDF (ISO 32000-1, annex C)."""

_RESERVED = frozenset({"all", "none", "cyan", "magenta", "yellow", "black"})
"""Names with a meaning of their own in a Separation space (ISO 32000-1, 8.6.6.4)."""


@dataclass(frozen=True, slots=True)
class Cutter:
    """How cut lines are drawn for a cutter.

    `spot` names the spot colour (Separation) of cut lines in a PDF, None for plain red; SVG has no
    spot colours. With `cut_only` the documents hold every group of shapes except the print.
    """

    spot: str | None = None
    cut_only: bool = False

    def __post_init__(self) -> None:
        """Raise PageError for a name of a spot colour that cutters may not recognise."""
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
    """Return what is wrong with a spot colour's name; "" for a good one."""
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
    """Return the page without its print: only cut, fold and registration lines stay."""
    return replace(page, shapes=tuple(s for s in page.shapes if s.group != "print"))
