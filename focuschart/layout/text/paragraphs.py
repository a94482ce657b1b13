"""Paragraphs broken into lines of a given width and set below each other."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from focuschart.errors import PageError
from focuschart.layout.page import Face, Text
from focuschart.layout.text.typeset import LEADING, wrapped

_BETWEEN = 0.7
"""Extra space between paragraphs, in heights of capitals."""

Lines = list[tuple[str, float]]
"""Lines of a paragraph, each with its baseline, mm below the top of the first paragraph."""


def broken(words: Sequence[str], *, cap_mm: float, width_mm: float, face: Face) -> list[Lines]:
    """Return the lines of each paragraph; raises PageError for a word wider than `width_mm`."""
    paragraphs: list[Lines] = []
    depth = cap_mm
    for paragraph in words:
        lines = wrapped(paragraph, face=face, cap_mm=cap_mm, width_mm=width_mm)
        paragraphs.append([(text, depth + n * LEADING * cap_mm) for n, text in enumerate(lines)])
        depth += (len(lines) * LEADING + _BETWEEN) * cap_mm
    return paragraphs


def height_mm(words: Sequence[str], *, cap_mm: float, width_mm: float, face: Face) -> float:
    """Return the height of paragraphs, infinity where a word is wider than the room."""
    try:
        paragraphs = broken(words, cap_mm=cap_mm, width_mm=width_mm, face=face)
    except PageError:
        return math.inf
    depths = [depth for lines in paragraphs for _, depth in lines]
    return depths[-1] + 0.3 * cap_mm if depths else 0.0


def largest_cap(
    words: Sequence[str], caps_mm: Sequence[float], *, width_mm: float, most_mm: float, face: Face
) -> float | None:
    """Return the first of `caps_mm` that keeps the paragraphs within `most_mm`, else None."""
    fitting = (
        cap
        for cap in caps_mm
        if height_mm(words, cap_mm=cap, width_mm=width_mm, face=face) <= most_mm
    )
    return next(fitting, None)


def set_words(
    words: Sequence[str], *, x: float, top: float, cap_mm: float, width_mm: float, face: Face,
    key: str,
) -> Iterator[Text]:  # fmt: skip
    """Yield the lines of paragraphs, downward from `top`; raises PageError as `broken` does."""
    paragraphs = broken(words, cap_mm=cap_mm, width_mm=width_mm, face=face)
    for number, lines in enumerate(paragraphs, start=1):
        for place, (text, depth) in enumerate(lines):
            yield Text(text, x, top - depth, cap_mm, key=f"{key}:{number}:{place}")
