"""Lines of text: columns aligned, sentences wrapped."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Iterator, Sequence

Row = Sequence[str]

WIDTH = 100
_TIE = "\N{NO-BREAK SPACE}"
_UNIT = re.compile(
    r"(?<=\d) (?=(?:%|N|kg|g|mm|m|s|dioptres)(?:\W|$))|(?<=\d N) (?=m\b)|(?<=×) | (?=×)"
)


def aligned(rows: Iterable[Row]) -> Iterator[str]:
    """Yield rows as lines with columns aligned: the first and the last left, others right."""
    table = [list(row) for row in rows]
    widths = [max(len(row[i]) for row in table) for i in range(len(table[0]))]
    last = len(widths) - 1
    for row in table:
        cells = [
            cell.ljust(width) if i in (0, last) else cell.rjust(width)
            for i, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        yield "  ".join(cells).rstrip()


def wrapped(text: str, *, indent: str = "", further: str = "") -> Iterator[str]:
    """Yield a sentence as lines of `WIDTH` at most, none broken between a figure and its unit."""
    bound = _UNIT.sub(_TIE, text)
    lines = textwrap.wrap(
        bound, WIDTH, initial_indent=indent, subsequent_indent=further, break_on_hyphens=False
    )
    yield from (line.replace(_TIE, " ") for line in lines)
