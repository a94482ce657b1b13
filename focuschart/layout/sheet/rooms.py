"""The rooms that blocks are packed into: the sheet within its margins, a roll, or labels."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from focuschart.errors import PageError
from focuschart.layout.page import Room
from focuschart.layout.sheet.papers import Labels, Paper

BLANK_MM = 5.0
"""Margin at a sheet's edge that printers may leave blank; common practice, no source."""
MARGINS_MM = (12.0, 14.0, BLANK_MM, 13.0)
"""Left, below, right, above: space for check bars, title and the blank edge."""
GAP_MM = 1.0
"""Between two cells."""
_LABEL_MARGIN_MM = 0.5
"""How far labels may be misplaced with crop marks still on them; judgement, no source."""


@dataclass(frozen=True, slots=True)
class Format:
    """A sheet in one orientation, its equal rooms, and `spared`, a label for the check bars."""

    paper: Paper
    width_mm: float
    height_mm: float
    frames: tuple[Room, ...]
    spared: Room | None = None

    @property
    def room(self) -> tuple[float, float]:
        """Width and height of each room, mm."""
        return self.frames[0].width, self.frames[0].height

    @property
    def along(self) -> Literal["x", "y"]:
        """The way along the paper: a sheet's or a label's longer side, or the roll's length."""
        size = self.room if self.paper.kind == "labels" else (self.width_mm, self.height_mm)
        return "y" if self.is_roll or size[1] > size[0] else "x"

    @property
    def is_roll(self) -> bool:
        """Whether each page is only as high as its content."""
        return self.paper.kind == "roll"


def format_of(paper: Paper, size: tuple[float, float]) -> Format:
    """Return the rooms of a paper that is `size` wide and high; raises PageError if none."""
    if paper.labels is None:
        left, low, right, top = MARGINS_MM
        frame = Room(left, low, size[0] - left - right, size[1] - low - top)
        return Format(paper, *size, (frame,))
    frames = tuple(_frames(paper.labels, size))
    if _has_margins(paper.labels, size):
        return Format(paper, *size, frames)
    if len(frames) == 1:
        raise PageError(
            f"{paper.name}: one label with narrow margins leaves no room for check bars: "
            "choose another sheet"
        )
    return Format(paper, *size, frames[1:], spared=frames[0])


def _frames(grid: Labels, size: tuple[float, float]) -> Iterator[Room]:
    """Yield the printable part of each label, row by row from the top; all of one size."""
    beside = min(grid.left_mm, size[0] - grid.right_mm)
    over = min(grid.top_mm, size[1] - grid.foot_mm)
    dx, dy = (max(_LABEL_MARGIN_MM, BLANK_MM - margin) for margin in (beside, over))
    wide, high = grid.width_mm - 2.0 * dx, grid.height_mm - 2.0 * dy
    for row in range(grid.rows):
        low = size[1] - grid.top_mm - row * grid.pitch_y_mm - grid.height_mm
        for column in range(grid.columns):
            yield Room(grid.left_mm + column * grid.pitch_x_mm + dx, low + dy, wide, high)


def _has_margins(grid: Labels, size: tuple[float, float]) -> bool:
    """Return whether title and check bars fit outside the labels."""
    left, low, _, top = MARGINS_MM
    return grid.left_mm >= left and grid.top_mm >= top and size[1] - grid.foot_mm >= low
