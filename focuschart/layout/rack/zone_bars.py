"""Zones about a mark as bars to one scale: sharp with rings at rest, and with one hand pulling."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from focuschart.errors import PageError
from focuschart.layout.page import Anchor, Face, Shape, Text, box, line
from focuschart.layout.text.typeset import LEADING, SMALLEST_CAP_MM, widest

_TITLE = "Attachment locked at a mark: where the subject may move"
_TITLE_CAP_MM = 2.0
_CAP_MM = SMALLEST_CAP_MM + 0.1
_ROW_MM = LEADING * _CAP_MM
_THIN_MM, _FIRM_MM = 0.12, 0.25
_GREY, _PALE, _DARK = "#808080", "#d0d0d0", "#404040"
_HEAD_ROWS = 3
_BETWEEN_MM = 2.5


@dataclass(frozen=True, slots=True)
class Zone:
    """One bar: its ends left (near) and right (far) of its mark, all bars in one unit.

    `at_rest` lies within `one_hand`; `near` and `far` label the ends, `turns` is printed beside.
    """

    label: str
    at_rest: tuple[float, float]
    one_hand: tuple[float, float]
    near: str
    far: str
    turns: str


@dataclass(frozen=True, slots=True)
class Marked:
    """The bars of one mark, the most important first."""

    label: str
    zones: tuple[Zone, ...]


def zones_height_mm(marks: Sequence[Marked]) -> float:
    """Return the height of all bars of all marks below their headings."""
    return (sum(len(mark.zones) for mark in marks) + _HEAD_ROWS) * _ROW_MM


def zone_rows(height_mm: float) -> int:
    """Return how many bars fit a height, below their headings."""
    return int(height_mm / _ROW_MM + 1e-9) - _HEAD_ROWS


def that_fit(marks: Sequence[Marked], rows: int) -> tuple[list[Marked], bool]:
    """Return the marks with as many of their bars as fit, and whether any are left out.

    Where not even one bar each fits, evenly spaced marks are kept. Raises PageError if none fits.
    """
    if rows < 1:
        raise PageError("the bars of the locked ring find no room: choose larger paper")
    most = max(len(mark.zones) for mark in marks)
    each = max(1, min(most, rows // len(marks)))
    count = min(len(marks), rows)
    chosen = [round(n * (len(marks) - 1) / max(count - 1, 1)) for n in range(count)]
    kept = [Marked(marks[n].label, marks[n].zones[:each]) for n in chosen]
    return kept, each < most or count < len(marks)


@dataclass(frozen=True, slots=True)
class _Grid:
    """The x of columns and bars on the sheet; `scale` is mm on paper per unit of the zones."""

    stop_mm: float
    start_mm: float
    end_mm: float
    width_mm: float
    scale: float

    @property
    def middle_mm(self) -> float:
        """The x of the line that stands for every mark."""
        return (self.start_mm + self.end_mm) / 2.0


def zone_shapes(
    marks: Sequence[Marked], *, left_out: bool, width_mm: float, face: Face
) -> Iterator[Shape]:
    """Yield bars in rows below their headings, from the upper left corner of their room."""
    grid = _grid(marks, width_mm, face)
    yield from _heads(grid, left_out)
    row = _HEAD_ROWS
    for number, mark in enumerate(marks):
        yield from _marked(mark, number, row, grid)
        row += len(mark.zones)


def _grid(marks: Sequence[Marked], width: float, face: Face) -> _Grid:
    zones = [zone for mark in marks for zone in mark.zones]

    def wide(head: str, texts: Sequence[str]) -> float:
        return widest([head, *texts], face=face, cap_mm=_CAP_MM)

    stop = wide("locked at", [mark.label for mark in marks]) + _BETWEEN_MM
    start = stop + wide("", [z.label for z in zones]) + wide("near", [z.near for z in zones])
    end = width - wide("far", [z.far for z in zones]) - wide("ring mm", [z.turns for z in zones])
    start, end = start + 2.0 * _BETWEEN_MM, end - 2.0 * _BETWEEN_MM
    reach = max(abs(place) for zone in zones for place in zone.one_hand)
    if end - start < 10.0:
        raise PageError("the bars of the locked ring find no room: choose larger paper")
    return _Grid(stop, start, end, width, (end - start) / 2.0 / reach)


def _heads(grid: _Grid, left_out: bool) -> Iterator[Shape]:
    more = "; the rest: focuschart hold" if left_out else ""
    key = f"dark: both rings at rest; pale: taking ring pulled, by ring mm{more}"
    yield Text(_TITLE, 0.0, -_TITLE_CAP_MM, _TITLE_CAP_MM, key="bars")
    yield Text(key, 0.0, _baseline(1), _CAP_MM, key="bars:key")
    heads: tuple[tuple[str, float, Anchor], ...] = (
        ("locked at", 0.0, "start"), ("near", grid.start_mm - _BETWEEN_MM, "end"),
        ("far", grid.end_mm + _BETWEEN_MM, "start"), ("ring mm", grid.width_mm, "end"),
    )  # fmt: skip
    for text, x, anchor in heads:
        yield Text(text, x, _baseline(2), _CAP_MM, anchor, key=f"bars:{text}")


def _baseline(row: int) -> float:
    return -_TITLE_CAP_MM - 0.3 - row * _ROW_MM


def _marked(mark: Marked, number: int, row: int, grid: _Grid) -> Iterator[Shape]:
    """Yield one mark's bars, the first at `row`, with the line of the mark through them."""
    key, over = f"bar:{number}", _baseline(row) + (_ROW_MM + _CAP_MM) / 2.0
    under = over - len(mark.zones) * _ROW_MM
    yield line((0.0, over), (grid.width_mm, over), stroke_mm=_THIN_MM, colour=_GREY,
               key=f"{key}:rule")  # fmt: skip
    yield Text(mark.label, 0.0, _baseline(row), _CAP_MM, key=key)
    for place, zone in enumerate(mark.zones):
        yield from _bar(zone, _baseline(row + place), grid, f"{key}:{place}")
    ends = (grid.middle_mm, over - 0.2), (grid.middle_mm, under + 0.2)
    yield line(*ends, stroke_mm=_FIRM_MM, key=f"{key}:mark")


def _bar(zone: Zone, y: float, grid: _Grid, key: str) -> Iterator[Shape]:
    bars = (("one-hand", zone.one_hand, _PALE, 0.0), ("at-rest", zone.at_rest, _DARK, 0.4))
    for name, (near, far), fill, sink in bars:
        x, wide = grid.middle_mm + grid.scale * near, grid.scale * (far - near)
        yield box(x, y + sink, wide, _CAP_MM - 2.0 * sink, stroke_mm=None, fill=fill,
                  key=f"{key}:{name}")  # fmt: skip
    yield Text(zone.label, grid.stop_mm, y, _CAP_MM, key=f"{key}:stop")
    yield Text(zone.near, grid.start_mm - _BETWEEN_MM, y, _CAP_MM, "end", key=f"{key}:near")
    yield Text(zone.far, grid.end_mm + _BETWEEN_MM, y, _CAP_MM, key=f"{key}:far")
    yield Text(zone.turns, grid.width_mm, y, _CAP_MM, "end", key=f"{key}:turns")
