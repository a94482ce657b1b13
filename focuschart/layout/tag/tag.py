"""A tag as rectangles: a black square with its white modules on it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from focuschart.layout.page import BLACK, PAPER, Path, Shape, Span, box
from focuschart.layout.tag.dictionary import SIDE_BITS, SIDE_MODULES, WHITE

TAG_KEY = "tag:"
MARGIN_MM = 0.6
"""White that a tag needs round it."""
_ROUNDING_MM = 1e-6


@dataclass(frozen=True, slots=True)
class Tag:
    """A tag by its id, the lower left corner of its black border, and its side, mm."""

    number: int
    x: float
    y: float
    side_mm: float

    @property
    def span(self) -> Span:
        """From its left to its right edge."""
        return self.x, self.x + self.side_mm

    def covers(self, shape: Shape) -> bool:
        """Return whether a path lies on the tag."""
        corners = shape.points if isinstance(shape, Path) else ((shape.x, shape.y),)
        return all(
            -_ROUNDING_MM <= x - self.x <= self.side_mm + _ROUNDING_MM
            and -_ROUNDING_MM <= y - self.y <= self.side_mm + _ROUNDING_MM
            for x, y in corners
        )

    @property
    def middle(self) -> tuple[float, float]:
        """Its centre."""
        return self.x + self.side_mm / 2.0, self.y + self.side_mm / 2.0


def tag_shapes(tag: Tag) -> Iterator[Shape]:
    """Yield the black square of a tag, then its white modules, those in a row as one rectangle.

    Over the seam between rows lies another one: else a hairline would shine through there.
    """
    module, key = tag.side_mm / SIDE_MODULES, f"{TAG_KEY}{tag.number}"
    yield box(tag.x, tag.y, tag.side_mm, tag.side_mm, stroke_mm=None, fill=BLACK, key=key)
    white = WHITE[tag.number]
    rows = [(float(row), 1.0, white[row]) for row in range(SIDE_BITS)]
    rows += [(row + 0.75, 0.5, white[row] & white[row + 1]) for row in range(SIDE_BITS - 1)]
    for row, high, bits in rows:
        ends = np.flatnonzero(np.diff(bits.astype(int), prepend=0, append=0)).tolist()
        y = tag.y + tag.side_mm - (row + high + 1.0) * module
        for start, end in zip(ends[::2], ends[1::2], strict=True):
            x = tag.x + (start + 1) * module
            yield box(x, y, (end - start) * module, high * module, stroke_mm=None, fill=PAPER,
                      key=f"{key}:{row:g}.{start}")  # fmt: skip
