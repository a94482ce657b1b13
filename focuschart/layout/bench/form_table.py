"""The table of a bench form: its columns, a row for each distance, and the check row."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import NamedTuple

from focuschart.errors import PageError
from focuschart.layout.page import Face, Path, Shape, Text, box, line
from focuschart.layout.sheet.furniture import LEFT_MM
from focuschart.layout.text.typeset import LEADING, SMALLEST_CAP_MM, shortened, widest, wrapped

LEAST_ROW_MM = 8.0
"""Height and, below, width to write a figure by hand (judgement, no source)."""
LEAST_CELL_MM = 12.0
HEADER_MM = 13.0
THIN_MM = 0.15
HEAD_CAP_MM = 2.0

_USUAL_CELL_MM, _LARGEST_CELL_MM = 24.0, 45.0
_GIVEN = (
    ("distance", "measured distance", 26.0),
    ("error", "error ±", 16.0),
    ("stop", "stop", 16.0),
)
_LEAST_SETUP_MM, _USUAL_SETUP_MM = 44.0, 72.0
_WHY_MM = 24.0
_PAD_MM = 2.0
_THICK_MM = 0.5
_DISTANCE_CAP_MM = 2.8
_WHY_CAP_MM = 1.8
_CHECK = "check"
_WHEN = ("before", "after")


@dataclass(frozen=True, slots=True)
class FormRow:
    """One distance to set up at, and why it is asked for."""

    distance: str
    why: str


@dataclass(frozen=True, slots=True)
class BenchForm:
    """Everything a bench form shows: `repeats` readings of each of `rings` at each row's distance.

    `headings` name these readings, else they are numbered; `read_off` is what shows their figures.
    `check` labels the row for what each ruler shows before and after the session; `blanks` label
    the lines for other notes.
    """

    title: str
    rig: str
    rings: tuple[str, ...]
    rows: tuple[FormRow, ...]
    repeats: int
    stop: str
    procedure: tuple[str, ...]
    cautions: tuple[str, ...]
    check: str = ""
    headings: tuple[str, ...] = ()
    read_off: str = "ruler"
    blanks: tuple[str, ...] = ()


class _Column(NamedTuple):
    """A column: key of its cells, its heading, its left edge on the sheet and its width."""

    key: str
    heading: str
    x: float
    width: float


class Table(NamedTuple):
    """The table with its measures; its first column holds distance and reason."""

    form: BenchForm
    columns: tuple[_Column, ...]
    row_mm: float
    face: Face

    @property
    def row_count(self) -> int:
        """The number of rows, the check row included."""
        return len(self.form.rows) + bool(self.form.check)

    @property
    def right(self) -> float:
        return self.columns[-1].x + self.columns[-1].width

    @property
    def why_x(self) -> float:
        """Where reasons begin, beside the widest distance."""
        firsts = [row.distance for row in self.form.rows] + [_CHECK] * bool(self.form.check)
        taken = widest(firsts, face=self.face, cap_mm=_DISTANCE_CAP_MM)
        return self.columns[0].x + _PAD_MM + taken + 2.0 * _PAD_MM

    def why(self, row: FormRow) -> list[str]:
        """Return a row's reason in lines."""
        room = self.columns[1].x - _PAD_MM - self.why_x
        return wrapped(row.why, face=self.face, cap_mm=_WHY_CAP_MM, width_mm=room)

    def checked(self) -> list[str]:
        """Return the check row's label in lines, which may run into the readings' columns."""
        room = _span(self, 0).x - _PAD_MM - self.why_x
        return wrapped(self.form.check, face=self.face, cap_mm=_WHY_CAP_MM, width_mm=room)


def set_up(form: BenchForm, width: float, paper: str, face: Face) -> Table:
    """Return the table with its columns, its rows high enough for the longest reason."""
    headings = form.headings or tuple(str(n + 1) for n in range(form.repeats))
    wanted = [
        (f"{ring}:{n}", heading)
        for ring in range(len(form.rings))
        for n, heading in enumerate(headings, start=1)
    ]
    room = width - sum(width for *_, width in _GIVEN)
    cell = _cell_width(form, room, len(wanted), face)
    if cell < LEAST_CELL_MM:
        raise PageError(
            f"{form.title}: {form.repeats} readings of each ring are too many for the width of "
            f"{paper} paper: use larger paper or fewer readings"
        )
    setup = ("setup", "set up at", room - len(wanted) * cell)
    wide = [setup, *_GIVEN, *((key, heading, cell) for key, heading in wanted)]
    lefts = accumulate((width for *_, width in wide), initial=LEFT_MM)
    columns = (
        _Column(key, heading, x, width)
        for (key, heading, width), x in zip(wide, lefts, strict=False)
    )
    table = Table(form, tuple(columns), LEAST_ROW_MM, face)
    lines = max(len(table.checked()), *(len(table.why(row)) for row in form.rows))
    return table._replace(row_mm=max(LEAST_ROW_MM, (lines - 1) * LEADING * _WHY_CAP_MM + 6.0))


def _cell_width(form: BenchForm, room: float, count: int, face: Face) -> float:
    """Return the width of a reading's cell: the usual one if the first column can give way."""
    distances = [row.distance for row in form.rows]
    setup = widest(distances, face=face, cap_mm=_DISTANCE_CAP_MM) + 4.0 * _PAD_MM + _WHY_MM
    most = (room - max(setup, _LEAST_SETUP_MM)) / count
    usual = max((room - _USUAL_SETUP_MM) / count, _USUAL_CELL_MM)
    return min(most, usual, _LARGEST_CELL_MM)


# --- drawing -------------------------------------------------------------------------------------


def drawn_rows(table: Table, rows: Sequence[int], top: float) -> Iterator[Shape]:
    """Yield headings, cells and rules of some rows, nothing for none."""
    if not rows:
        return
    yield from _header(table, top)
    for place, row in enumerate(rows):
        drawn = _row if row < len(table.form.rows) else _check
        yield from drawn(table, row, top - HEADER_MM - (place + 1) * table.row_mm)
    foot = top - HEADER_MM - len(rows) * table.row_mm
    yield from _rules(table, top, foot)


def _header(table: Table, top: float) -> Iterator[Shape]:
    """Yield the columns' headings, those of the readings below the name of their ring."""
    half, face = HEADER_MM / 2.0, table.face
    for column in table.columns:
        height = half if ":" in column.key else HEADER_MM
        room = column.width - _PAD_MM
        lines = wrapped(column.heading, face=face, cap_mm=HEAD_CAP_MM, width_mm=room)
        yield box(column.x, top - HEADER_MM, column.width, height, stroke_mm=THIN_MM,
                  key=f"head:{column.key}")  # fmt: skip
        yield from _centred(lines, column, top - HEADER_MM + height / 2.0)
    for ring, name in enumerate(table.form.rings):
        span = _span(table, ring)
        ruler = f": {table.form.read_off}, mm"
        room = span.width - _PAD_MM - face.width_mm(ruler, cap_mm=HEAD_CAP_MM)
        short = shortened(name, face=face, cap_mm=HEAD_CAP_MM, width_mm=room)
        yield from _centred([f"{short}{ruler}"], span, top - half / 2.0)


def _span(table: Table, ring: int) -> _Column:
    """Return one column as wide as all the columns of a ring."""
    own = [column for column in table.columns if column.key.startswith(f"{ring}:")]
    return _Column(f"{ring}", "", own[0].x, sum(column.width for column in own))


def _centred(lines: Sequence[str], column: _Column, y: float) -> Iterator[Text]:
    """Yield lines round the middle of a cell."""
    for number, text in enumerate(lines):
        up = ((len(lines) - 1) / 2.0 - number) * LEADING * HEAD_CAP_MM
        yield Text(text, column.x + column.width / 2.0, y + up - HEAD_CAP_MM / 2.0, HEAD_CAP_MM,
                   "middle", key=f"heading:{column.key}:{number}")  # fmt: skip


def _row(table: Table, number: int, foot: float) -> Iterator[Shape]:
    """Yield the cells of a row with what is printed in them: distance, reason and stop."""
    row, middle = table.form.rows[number], foot + table.row_mm / 2.0
    for column in table.columns:
        key = f"cell:{number}:{column.key}"
        yield box(column.x, foot, column.width, table.row_mm, stroke_mm=THIN_MM, key=key)
    yield from _stop(table, number, middle)
    yield Text(row.distance, table.columns[0].x + _PAD_MM, middle - _DISTANCE_CAP_MM / 2.0,
               _DISTANCE_CAP_MM, key=f"distance:{number}")  # fmt: skip
    yield from _reason(table, table.why(row), middle, f"why:{number}")


def _check(table: Table, _: int, foot: float) -> Iterator[Shape]:
    """Yield the check row, for what each ring's ruler shows before and after all other rows."""
    first = table.columns[0]
    wide, middle = _span(table, 0).x - first.x, foot + table.row_mm / 2.0
    yield line((first.x, foot + table.row_mm), (table.right, foot + table.row_mm),
               stroke_mm=_THICK_MM, key="rule:check")  # fmt: skip
    yield box(first.x, foot, wide, table.row_mm, stroke_mm=THIN_MM, key="check:label")
    yield Text(_CHECK, first.x + _PAD_MM, middle - _DISTANCE_CAP_MM / 2.0, _DISTANCE_CAP_MM,
               key="check:name")  # fmt: skip
    yield from _reason(table, table.checked(), middle, "check:why")
    for ring in range(len(table.form.rings)):
        span = _span(table, ring)
        for place, when in enumerate(_WHEN):
            x = span.x + place * span.width / 2.0
            yield box(x, foot, span.width / 2.0, table.row_mm, stroke_mm=THIN_MM,
                      key=f"check:{ring}:{when}")  # fmt: skip
            yield Text(when, x + 1.0, foot + table.row_mm - 1.0 - SMALLEST_CAP_MM, SMALLEST_CAP_MM,
                       key=f"checked:{ring}:{when}")  # fmt: skip


def _reason(table: Table, lines: Sequence[str], middle: float, key: str) -> Iterator[Text]:
    """Yield lines centred on the height `middle` of a row, to the right of its distance."""
    for place, text in enumerate(lines):
        up = ((len(lines) - 1) / 2.0 - place) * LEADING * _WHY_CAP_MM - _WHY_CAP_MM / 2.0
        yield Text(text, table.why_x, middle + up, _WHY_CAP_MM, key=f"{key}:{place}")


def _stop(table: Table, number: int, middle: float) -> Iterator[Text]:
    """Yield the stop to focus at, in its cell."""
    column = next(column for column in table.columns if column.key == "stop")
    room = column.width - _PAD_MM
    stop = shortened(table.form.stop, face=table.face, cap_mm=HEAD_CAP_MM, width_mm=room)
    if stop:
        yield Text(stop, column.x + column.width / 2.0, middle - HEAD_CAP_MM / 2.0, HEAD_CAP_MM,
                   "middle", key=f"stop:{number}")  # fmt: skip


def _rules(table: Table, top: float, foot: float) -> Iterator[Path]:
    """Yield the strong rules: round the table, below its header, and before each ring."""
    left = table.columns[0].x
    yield box(left, foot, table.right - left, top - foot, stroke_mm=_THICK_MM, key="rule:frame")
    y = top - HEADER_MM
    yield line((left, y), (table.right, y), stroke_mm=_THICK_MM, key="rule:head")
    for ring in range(len(table.form.rings)):
        x = _span(table, ring).x
        yield line((x, foot), (x, top), stroke_mm=_THICK_MM, key=f"rule:ring:{ring}")
