"""The name that was most probably meant, where a kit has none like the one given."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable

from focuschart.errors import shown

_LIKE = 0.7
"""The least likeness, as difflib has it, to be offered; judgement, no source."""
_LONGEST = 100


def likely(name: str, known: Iterable[str], *, having: str = "it has") -> str:
    """Return what to add to "no such part": the name most probably meant, else the known ones."""
    listed = list(known)
    plainly = {_letters(each): each for each in listed}
    near = difflib.get_close_matches(_letters(name), plainly, n=1, cutoff=_LIKE)
    if near:
        return f"; did you mean {bare(plainly[near[0]])}?"
    return f"; {having} {names(listed)}"


def names(known: Iterable[str]) -> str:
    """Return the first names with commas between, or "none"."""
    return ", ".join(map(bare, list(known)[:8])) or "none"


def bare(text: str) -> str:
    """Return an id without quotes, shown safely where it is none."""
    return shown(text)[1:-1]


def _letters(name: str) -> str:
    return re.sub(r"[\s_-]+", "-", name.strip().casefold())[:_LONGEST]
