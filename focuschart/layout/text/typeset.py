"""Fitting words: the largest legible size, and lines broken at spaces."""

from __future__ import annotations

import re
from collections.abc import Sequence

from focuschart.errors import PageError
from focuschart.layout.page import Face

SMALLEST_CAP_MM = 1.6
"""Capitals below this are not readable at arm's length."""
LEADING = 1.65
"""Distance between baselines, in heights of capitals."""


def wrapped(text: str, *, face: Face, cap_mm: float, width_mm: float) -> list[str]:
    """Return the text in lines no wider than `width_mm`.

    Raises PageError for a single word that is wider.
    """
    lines = [""]
    for word in re.split("[ \t\n]+", text):  # not at a no-break space between figure and unit
        longer = f"{lines[-1]} {word}".strip()
        if face.width_mm(longer, cap_mm=cap_mm) <= width_mm:
            lines[-1] = longer
        elif face.width_mm(word, cap_mm=cap_mm) <= width_mm:
            lines.append(word)
        else:
            raise PageError(f'"{word}" is too wide for {width_mm:.0f} mm at a legible size')
    return [line for line in lines if line]


def shortened(text: str, *, face: Face, cap_mm: float, width_mm: float) -> str:
    """Return the text, its end replaced by an ellipsis where it is wider than `width_mm`."""
    if face.width_mm(text, cap_mm=cap_mm) <= width_mm:
        return text
    while text and face.width_mm(f"{text.rstrip()}…", cap_mm=cap_mm) > width_mm:
        text = text[:-1]
    return f"{text.rstrip()}…" if text else ""


def cut_words(text: str, *, face: Face, cap_mm: float, width_mm: float) -> str:
    """Return a text in which words wider than `width_mm` are shortened."""
    words = (shortened(w, face=face, cap_mm=cap_mm, width_mm=width_mm) for w in text.split(" "))
    return " ".join(words)


def column_widths(rows: Sequence[Sequence[str]], *, face: Face, cap_mm: float) -> list[float]:
    """Return the width of each column of a table, its headings among the rows."""
    return [widest(column, face=face, cap_mm=cap_mm) for column in zip(*rows, strict=True)]


def widest(texts: Sequence[str], *, face: Face, cap_mm: float) -> float:
    """Return the width of the widest text, 0 for none."""
    return max((face.width_mm(text, cap_mm=cap_mm) for text in texts), default=0.0)
