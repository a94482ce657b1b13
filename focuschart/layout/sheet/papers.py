"""Papers: named and custom sheets, rolls, and sheets of labels, parsed from the user's text."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, get_args

from focuschart.errors import PageError, UnitError, shown
from focuschart.typed import typed_quantity
from focuschart.units import MM_PER_INCH

Way = Literal["auto", "landscape", "portrait"]
"""Orientation of a sheet; with auto the packing chooses."""

PAPERS: dict[str, tuple[float, float]] = {
    "A4": (297.0, 210.0),
    "A3": (420.0, 297.0),
    "Letter": (11.0 * MM_PER_INCH, 8.5 * MM_PER_INCH),
}
"""Width and height, mm, landscape; ISO 216 and ANSI/ASME Y14.1."""

SIDES_MM = (70.0, 2000.0)
ROLL_WIDTHS_MM = (62.0, 2000.0)
ROLL_LENGTHS_MM = (150.0, 5000.0)
"""A PDF page is limited to 14 400 units of 1/72 inch, 5080 mm (ISO 32000-1, Annex C)."""
ROLL_LENGTH_MM = 2000.0
"""Greatest length of a piece of roll unless the user gives one; judgement, no source."""
LEAST_LABEL_MM = (25.0, 18.0)
_MOST_LABELS = 1000
_EXAMPLE = '"labels 99.1 x 38.1 mm, 2 x 7 on A4, left 4.65 mm, top 15.15 mm, pitch 101.6 x 38.1 mm"'

_N = r"([-+.a-wyz\d]+?)"
"""A number, or a wrong word in its place, without x, so that "a x b" splits in one way only."""
_PAIR = rf"{_N} ?x ?{_N}"
_FREE = re.compile(rf"{_PAIR} ?mm")
_ROLL = re.compile(rf"roll {_N} ?mm(?:, up to {_N} ?mm)?")
_LABELS = re.compile(
    rf"labels {_PAIR} ?mm, {_PAIR} on ([^,]+), left {_N} ?mm, top {_N} ?mm"
    rf"(?:, pitch {_PAIR} ?mm)?"
)


@dataclass(frozen=True, slots=True)
class Labels:
    """A grid of labels on a sheet: sizes and pitches from left to right, and from the top down."""

    width_mm: float
    height_mm: float
    columns: int
    rows: int
    left_mm: float
    top_mm: float
    pitch_x_mm: float
    pitch_y_mm: float

    @property
    def right_mm(self) -> float:
        """Where the last column ends, from the sheet's left edge."""
        return self.left_mm + (self.columns - 1) * self.pitch_x_mm + self.width_mm

    @property
    def foot_mm(self) -> float:
        """Where the last row ends, from the sheet's top edge."""
        return self.top_mm + (self.rows - 1) * self.pitch_y_mm + self.height_mm


@dataclass(frozen=True, slots=True)
class Paper:
    """A paper. A sheet is landscape; the height of a roll is the greatest length of a piece.

    A sheet of labels has the orientation in which its labels were given.
    """

    name: str
    width_mm: float
    height_mm: float
    kind: Literal["sheet", "roll", "labels"] = "sheet"
    labels: Labels | None = None

    def sizes(self, way: Way) -> list[tuple[float, float]]:
        """Return width and height, mm, of each orientation allowed; raises PageError."""
        if way not in get_args(Way):
            raise PageError(f"way up {shown(way)}: choose {', '.join(get_args(Way))}")
        lying = (self.width_mm, self.height_mm)
        if self.kind != "sheet":
            if way != "auto":
                raise PageError(f"{self.name} has one way up only: leave the way up at auto")
            return [lying]
        upright = lying[::-1]
        return {"auto": [lying, upright], "landscape": [lying], "portrait": [upright]}[way]


def parse_paper(text: str) -> Paper:
    """Return the paper a text names: "A4", "210 x 330 mm", "roll 100 mm" or labels on a sheet.

    A roll may say how long a piece may be: "roll 100 mm, up to 3000 mm". Raises PageError.
    """
    try:
        plain = typed_quantity(text).lower()
    except UnitError as error:
        raise PageError(f"paper {shown(text)}: {error}") from None
    for name, (width, height) in PAPERS.items():
        if plain == name.lower():
            return Paper(name, width, height)
    if match := _FREE.fullmatch(plain):
        sides = _numbers(match.groups(), text)
        _require(text, "side", sides, SIDES_MM)
        return Paper(f"{sides[0]:g} x {sides[1]:g} mm", max(sides), min(sides))
    if plain.startswith("roll"):
        return _roll(plain, text)
    if plain.startswith("label"):
        return _labels(plain, text)
    raise PageError(
        f"unknown paper {shown(text)}: choose {', '.join(PAPERS)}, "
        f'"210 x 330 mm", "roll 100 mm" or {_EXAMPLE}'
    )


def paper_size(name: str) -> tuple[float, float]:
    """Return width and height of a landscape sheet, mm.

    Raises PageError for an unknown paper, and for rolls and labels, which have no full page.
    """
    paper = parse_paper(name)
    if paper.kind != "sheet":
        raise PageError(f"{paper.name} is no whole sheet: choose {', '.join(PAPERS)} for this page")
    return paper.width_mm, paper.height_mm


def whole_sheet(text: str) -> str:
    """Return a sheet for full-page documents: the one asked for, the sheet of the labels, or A4.

    Raises PageError for an unknown paper.
    """
    paper = parse_paper(text)
    if paper.kind == "roll":
        return "A4"
    return paper.name if paper.kind == "sheet" else f"{paper.width_mm:g} x {paper.height_mm:g} mm"


def _roll(plain: str, text: str) -> Paper:
    match = _ROLL.fullmatch(plain)
    if not match:
        raise PageError(
            f'paper {shown(text)}: write a roll as "roll 100 mm" or "roll 100 mm, up to 3000 mm"'
        )
    width, longest = _numbers((match[1], match[2] or f"{ROLL_LENGTH_MM}"), text)
    _require(text, "width", (width,), ROLL_WIDTHS_MM)
    _require(text, "length", (longest,), ROLL_LENGTHS_MM)
    return Paper(f"roll {width:g} mm", width, longest, "roll")


def _labels(plain: str, text: str) -> Paper:
    match = _LABELS.fullmatch(plain)
    if not match:
        raise PageError(f"paper {shown(text)}: write labels as {_EXAMPLE}")
    size = _numbers(match.group(1, 2), text)
    sheet = _sheet_of_labels(match[5])
    counts = [_count(word, text) for word in match.group(3, 4)]
    edges = _numbers(match.group(6, 7), text)
    pitch = _numbers(match.group(8, 9), text) if match[8] else size
    grid = Labels(size[0], size[1], counts[0], counts[1], *edges, *pitch)
    _require_grid(grid, sheet, text)
    name = f"labels {size[0]:g} x {size[1]:g} mm"
    return Paper(name, *sheet, "labels", grid)


def _sheet_of_labels(name: str) -> tuple[float, float]:
    """Return the sheet's size: portrait for a named one, as given for a custom one."""
    if match := _FREE.fullmatch(name):
        width, height = _numbers(match.groups(), name)
        _require(name, "side", (width, height), SIDES_MM)
        return width, height
    width, height = paper_size(name)
    return height, width


def _require_grid(grid: Labels, sheet: Sequence[float], text: str) -> None:
    """Raise PageError for labels too small, too many, overlapping or beyond their sheet."""
    what = f"paper {shown(text)}"
    size = (grid.width_mm, grid.height_mm)
    if not all(map(math.isfinite, (*size, grid.right_mm, grid.foot_mm))):
        raise PageError(f"{what}: sizes, margins and pitches must be finite numbers of mm")
    if any(side < least for side, least in zip(size, LEAST_LABEL_MM, strict=True)):
        least = " x ".join(f"{side:g}" for side in LEAST_LABEL_MM)
        raise PageError(f"{what}: labels under {least} mm hold neither strip nor check bars")
    over_x = grid.columns > 1 and grid.pitch_x_mm < grid.width_mm
    if over_x or (grid.rows > 1 and grid.pitch_y_mm < grid.height_mm):
        raise PageError(f"{what}: the labels overlap: a pitch is at least a label's size")
    inside = grid.right_mm <= sheet[0] + 1e-6 and grid.foot_mm <= sheet[1] + 1e-6
    if min(grid.left_mm, grid.top_mm) < 0.0 or not inside:
        raise PageError(
            f"{what}: the labels reach {grid.right_mm:g} x {grid.foot_mm:g} mm from the upper left "
            f"corner of a sheet of {sheet[0]:g} x {sheet[1]:g} mm: measure margins and pitches"
        )


def _numbers(words: Sequence[str], text: str) -> list[float]:
    try:
        return [float(word) for word in words]
    except ValueError:
        raise PageError(f"paper {shown(text)}: lengths are numbers of mm, such as 99.1") from None


def _count(word: str, text: str) -> int:
    if not (word.isascii() and word.isdigit() and 1 <= int(word[:9]) <= _MOST_LABELS):
        raise PageError(
            f"paper {shown(text)}: labels are counted across and down from 1 to {_MOST_LABELS}"
        )
    return int(word)


def _require(text: str, what: str, values: Sequence[float], limits: tuple[float, float]) -> None:
    if not all(limits[0] <= value <= limits[1] for value in values):
        raise PageError(
            f"paper {shown(text)}: each {what} is from {limits[0]:g} to {limits[1]:g} mm"
        )
