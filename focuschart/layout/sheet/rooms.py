"""The rooms on a sheet one way up: the sheet within its margins, a piece of roll, or its labels."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from focuschart.errors import PageError
from focuschart.layout.page import Room
from focuschart.layout.sheet.papers import Labels, Paper

BLANK_MM = 5.0
"""What printers may leave blank at a sheet's edge; common practice, no source."""
MARGINS_MM = (12.0, 14.0, BLANK_MM, 13.0)
"""Left, below, right and above what is packed: clear of bars, title and the blank edge."""
GAP_MM = 1.0
"""Between the rooms that two blocks take with their crop marks."""
_LABEL_MARGIN_MM = 0.5
"""How far a label may lie off its place before a crop mark leaves it; judgement, no source."""


@dataclass(frozen=True, slots=True)
class Format:
    """A sheet one way up, and its rooms, all of one size; `spared` is a label for the bars."""

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
    def is_roll(self) -> bool:
        """Whether pages are as high as what lies on them."""
        return self.paper.kind == "roll"


def format_of(paper: Paper, size: tuple[float, float]) -> Format:
    """Return the rooms of a paper that is `size` wide and high; raises PageError for none."""
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
    """Yield what may be printed of each label, row by row from the top; all are of one size."""
    beside = min(grid.left_mm, size[0] - grid.right_mm)
    over = min(grid.top_mm, size[1] - grid.foot_mm)
    dx, dy = (max(_LABEL_MARGIN_MM, BLANK_MM - margin) for margin in (beside, over))
    wide, high = grid.width_mm - 2.0 * dx, grid.height_mm - 2.0 * dy
    for row in range(grid.rows):
        low = size[1] - grid.top_mm - row * grid.pitch_y_mm - grid.height_mm
        for column in range(grid.columns):
            yield Room(grid.left_mm + column * grid.pitch_x_mm + dx, low + dy, wide, high)


def _has_margins(grid: Labels, size: tuple[float, float]) -> bool:
    """Return whether title and bars find room outside the labels."""
    left, low, _, top = MARGINS_MM
    return grid.left_mm >= left and grid.top_mm >= top and size[1] - grid.foot_mm >= low
