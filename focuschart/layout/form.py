"""The bench form: a table to fill in by hand, with what to do and what to beware of below it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import NamedTuple

from focuschart.errors import PageError
from focuschart.layout.page import BLACK, Face, Page, Path, Shape, Text, box, line
from focuschart.layout.sheet import (
    BOTTOM_MM,
    EDGE_MM,
    LEFT_MM,
    TOP_MM,
    furniture,
    paper_size,
)
from focuschart.layout.typeset import LEADING, SMALLEST_CAP_MM, shortened, widest, wrapped

LEAST_ROW_MM = 8.0
"""Height and, below, width to write a figure by hand (judgement, no source)."""
LEAST_CELL_MM = 12.0

_LARGEST_ROW_MM = 12.0
_USUAL_CELL_MM, _LARGEST_CELL_MM = 24.0, 45.0
_GIVEN = (
    ("distance", "measured distance", 26.0),
    ("error", "±", 16.0),
    ("stop", "stop", 16.0),
)
_LEAST_SETUP_MM, _USUAL_SETUP_MM = 44.0, 72.0
_WHY_MM = 24.0
_TOP_LINE_MM = 10.0
_HEADER_MM = 13.0
_GAP_MM = 7.0
_PAD_MM = 2.0
_THIN_MM, _THICK_MM = 0.15, 0.5
_RIG_CAP_MM = 3.0
_HEAD_CAP_MM = 2.0
_DISTANCE_CAP_MM = 2.8
_WHY_CAP_MM = 1.8
_NOTE_CAPS_MM = (2.4, 2.2, 2.0, 1.8, SMALLEST_CAP_MM)
_BLANKS = (("Date", 30.0), ("Read by", 42.0))
_HEADING = 1.25
"""Capitals of the notes' headings, in those of the notes."""
_PROCEDURE_SHARE = 0.62


@dataclass(frozen=True, slots=True)
class FormRow:
    """One distance to set up at, and why it is asked for."""

    distance: str
    why: str


@dataclass(frozen=True, slots=True)
class BenchForm:
    """All a bench form shows; `repeats` readings of each of `rings` at each row's distance."""

    title: str
    rig: str
    rings: tuple[str, ...]
    rows: tuple[FormRow, ...]
    repeats: int
    stop: str
    procedure: tuple[str, ...]
    cautions: tuple[str, ...]


class _Column(NamedTuple):
    """A column: key of its cells, its heading, its left edge on the sheet and its width."""

    key: str
    heading: str
    x: float
    width: float


class _Table(NamedTuple):
    """The table as it is set; its first column holds distance and reason."""

    form: BenchForm
    columns: tuple[_Column, ...]
    row_mm: float
    face: Face

    @property
    def right(self) -> float:
        return self.columns[-1].x + self.columns[-1].width

    @property
    def why_x(self) -> float:
        """Where reasons begin, beside the widest distance."""
        distances = [row.distance for row in self.form.rows]
        taken = widest(distances, face=self.face, cap_mm=_DISTANCE_CAP_MM)
        return self.columns[0].x + _PAD_MM + taken + 2.0 * _PAD_MM

    def why(self, row: FormRow) -> list[str]:
        """Return a row's reason in lines."""
        room = self.columns[1].x - _PAD_MM - self.why_x
        return wrapped(row.why, face=self.face, cap_mm=_WHY_CAP_MM, width_mm=room)


class _Notes(NamedTuple):
    """Procedure and cautions, each paragraph in lines, at one size."""

    cap: float
    procedure: list[list[str]]
    cautions: list[list[str]]

    @property
    def height_mm(self) -> float:
        """Height with the headings, of the taller of both."""
        parts = (part for part in (self.procedure, self.cautions) if part)
        return max((_depth(part, self.cap) for part in parts), default=0.0)


def form_pages(form: BenchForm, *, paper: str, face: Face) -> list[Page]:
    """Return the form's pages; what is to be done stands on the first, rows go on to the others.

    Raises PageError for an unknown paper, a form without a row, ring or reading, more readings
    than the paper is wide, and words that find no room.
    """
    size = paper_size(paper)
    if not (form.rows and form.rings and form.repeats >= 1):
        raise PageError(f"{form.title}: a bench form needs a row, a ring and a reading")
    width, room = size[0] - LEFT_MM - EDGE_MM, size[1] - BOTTOM_MM - TOP_MM - _TOP_LINE_MM
    table = _table(form, width, paper, face)
    notes, first = _shared(table, room, width)
    if first == len(form.rows):
        spare = (room - _HEADER_MM - _GAP_MM - notes.height_mm) / first
        table = table._replace(row_mm=min(max(spare, table.row_mm), _LARGEST_ROW_MM))
    parts = list(_parts(table, room, first, paper))
    top = BOTTOM_MM + room
    under = top - (_HEADER_MM + first * table.row_mm + _GAP_MM if first else 0.0)
    bodies: list[list[Shape]] = [list(_drawn(table, part, top)) for part in parts]
    bodies[0] += _set_notes(notes, width, under)
    heads = (_top(form, size, (number + 1, len(parts)), face) for number in range(len(parts)))
    return [
        Page(*size, form.title, (*head, *body)) for head, body in zip(heads, bodies, strict=True)
    ]


def _table(form: BenchForm, width: float, paper: str, face: Face) -> _Table:
    """Return the table with its columns, and rows as high as the longest reason asks for."""
    names = [str(n + 1) for n in range(form.repeats)] + ["mean"] * (form.repeats > 1)
    wanted = [(f"{ring}:{n}", n) for ring in range(len(form.rings)) for n in names]
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
    table = _Table(form, tuple(columns), LEAST_ROW_MM, face)
    lines = max(len(table.why(row)) for row in form.rows)
    return table._replace(row_mm=max(LEAST_ROW_MM, (lines - 1) * LEADING * _WHY_CAP_MM + 6.0))


def _cell_width(form: BenchForm, room: float, count: int, face: Face) -> float:
    """Return the width of a reading's cell: the first column gives way until it is usual."""
    distances = [row.distance for row in form.rows]
    setup = widest(distances, face=face, cap_mm=_DISTANCE_CAP_MM) + 4.0 * _PAD_MM + _WHY_MM
    most = (room - max(setup, _LEAST_SETUP_MM)) / count
    usual = max((room - _USUAL_SETUP_MM) / count, _USUAL_CELL_MM)
    return min(most, usual, _LARGEST_CELL_MM)


def _shared(table: _Table, room: float, width: float) -> tuple[_Notes, int]:
    """Return the notes, as large as all rows allow, and how many rows the first page holds.

    Where one page cannot hold all rows, the notes take a third of it, or what they must.
    """
    rows = len(table.form.rows)
    sizes = [_notes(table.form, cap, width, table.face) for cap in _NOTE_CAPS_MM]
    beside = [room - _HEADER_MM - _GAP_MM - notes.height_mm for notes in sizes]
    for notes, left in zip(sizes, beside, strict=True):
        if rows * table.row_mm <= left:
            return notes, rows
    notes = next((notes for notes in sizes if notes.height_mm <= room / 3.0), sizes[-1])
    left = room - _HEADER_MM - _GAP_MM - notes.height_mm
    if notes.height_mm > room:
        raise PageError(f"{table.form.title}: the procedure is longer than a page: shorten it")
    return notes, max(0, int(left / table.row_mm))


def _parts(table: _Table, room: float, first: int, paper: str) -> Iterator[range]:
    """Yield the rows of each page."""
    full = int((room - _HEADER_MM) / table.row_mm)
    if full < 1:
        raise PageError(
            f"{table.form.title}: a row is taller than {paper} paper: shorten why it is asked for"
        )
    yield range(first)
    for start in range(first, len(table.form.rows), full):
        yield range(start, min(start + full, len(table.form.rows)))


# --- top ------------------------------------------------------------------------------------------


def _top(
    form: BenchForm, size: tuple[float, float], page: tuple[int, int], face: Face
) -> Iterator[Shape]:
    """Yield the sheet's furniture, the rig, and blanks for who read when."""
    width, height = size
    right, y = width - EDGE_MM, height - TOP_MM - 5.0
    title = shortened(form.title, face=face, cap_mm=2.4, width_mm=right - LEFT_MM - 20.0)
    yield from furniture(width, height, title, *page)
    for label, wide in reversed(_BLANKS):
        yield line((right - wide, y - 0.8), (right, y - 0.8), stroke_mm=_THIN_MM,
                   key=f"blank:{label}")  # fmt: skip
        right -= wide + 1.5
        yield Text(label, right, y, _HEAD_CAP_MM, "end")
        right -= face.width_mm(label, cap_mm=_HEAD_CAP_MM) + 5.0
    rig = shortened(form.rig, face=face, cap_mm=_RIG_CAP_MM, width_mm=right - LEFT_MM)
    yield Text(rig, LEFT_MM, y, _RIG_CAP_MM, key="rig")


# --- table ----------------------------------------------------------------------------------------


def _drawn(table: _Table, rows: Sequence[int], top: float) -> Iterator[Shape]:
    """Yield headings, cells and rules of some rows, nothing for none."""
    if not rows:
        return
    yield from _header(table, top)
    for place, row in enumerate(rows):
        yield from _row(table, row, top - _HEADER_MM - (place + 1) * table.row_mm)
    foot = top - _HEADER_MM - len(rows) * table.row_mm
    yield from _rules(table, top, foot)


def _header(table: _Table, top: float) -> Iterator[Shape]:
    """Yield the columns' headings, those of the readings below the name of their ring."""
    half, face = _HEADER_MM / 2.0, table.face
    for column in table.columns:
        height = half if ":" in column.key else _HEADER_MM
        room = column.width - _PAD_MM
        lines = wrapped(column.heading, face=face, cap_mm=_HEAD_CAP_MM, width_mm=room)
        yield box(column.x, top - _HEADER_MM, column.width, height, stroke_mm=_THIN_MM,
                  key=f"head:{column.key}")  # fmt: skip
        yield from _centred(lines, column, top - _HEADER_MM + height / 2.0)
    for ring, name in enumerate(table.form.rings):
        span = _span(table, ring)
        ruler = ": ruler, mm"
        room = span.width - _PAD_MM - face.width_mm(ruler, cap_mm=_HEAD_CAP_MM)
        short = shortened(name, face=face, cap_mm=_HEAD_CAP_MM, width_mm=room)
        yield from _centred([f"{short}{ruler}"], span, top - half / 2.0)


def _span(table: _Table, ring: int) -> _Column:
    """Return the columns of one ring as one."""
    own = [column for column in table.columns if column.key.startswith(f"{ring}:")]
    return _Column(f"{ring}", "", own[0].x, sum(column.width for column in own))


def _centred(lines: Sequence[str], column: _Column, y: float) -> Iterator[Text]:
    """Yield lines round the middle of a cell."""
    for number, text in enumerate(lines):
        up = ((len(lines) - 1) / 2.0 - number) * LEADING * _HEAD_CAP_MM
        yield Text(text, column.x + column.width / 2.0, y + up - _HEAD_CAP_MM / 2.0, _HEAD_CAP_MM,
                   "middle", key=f"heading:{column.key}:{number}")  # fmt: skip


def _row(table: _Table, number: int, foot: float) -> Iterator[Shape]:
    """Yield the cells of a row with what is printed in them: distance, reason and stop."""
    row, middle = table.form.rows[number], foot + table.row_mm / 2.0
    for column in table.columns:
        key = f"cell:{number}:{column.key}"
        yield box(column.x, foot, column.width, table.row_mm, stroke_mm=_THIN_MM, key=key)
    yield from _stop(table, number, middle)
    yield Text(row.distance, table.columns[0].x + _PAD_MM, middle - _DISTANCE_CAP_MM / 2.0,
               _DISTANCE_CAP_MM, key=f"distance:{number}")  # fmt: skip
    lines = table.why(row)
    for place, text in enumerate(lines):
        up = ((len(lines) - 1) / 2.0 - place) * LEADING * _WHY_CAP_MM - _WHY_CAP_MM / 2.0
        yield Text(text, table.why_x, middle + up, _WHY_CAP_MM, key=f"why:{number}:{place}")


def _stop(table: _Table, number: int, middle: float) -> Iterator[Text]:
    """Yield the stop to focus at, in its cell."""
    column = next(column for column in table.columns if column.key == "stop")
    room = column.width - _PAD_MM
    stop = shortened(table.form.stop, face=table.face, cap_mm=_HEAD_CAP_MM, width_mm=room)
    if stop:
        yield Text(stop, column.x + column.width / 2.0, middle - _HEAD_CAP_MM / 2.0, _HEAD_CAP_MM,
                   "middle", key=f"stop:{number}")  # fmt: skip


def _rules(table: _Table, top: float, foot: float) -> Iterator[Path]:
    """Yield the strong rules: round the table, below its header, and before each ring."""
    left = table.columns[0].x
    yield box(left, foot, table.right - left, top - foot, stroke_mm=_THICK_MM, key="rule:frame")
    y = top - _HEADER_MM
    yield line((left, y), (table.right, y), stroke_mm=_THICK_MM, key="rule:head")
    for ring in range(len(table.form.rings)):
        x = _span(table, ring).x
        yield line((x, foot), (x, top), stroke_mm=_THICK_MM, key=f"rule:ring:{ring}")


# --- notes ----------------------------------------------------------------------------------------


def _notes(form: BenchForm, cap: float, width: float, face: Face) -> _Notes:
    """Return procedure and cautions broken to their columns, beside each other."""
    rooms = _note_rooms(width, cap)
    parts = [
        [wrapped(text, face=face, cap_mm=cap, width_mm=room) for text in words if text.strip()]
        for words, room in zip((form.procedure, form.cautions), rooms, strict=True)
    ]
    return _Notes(cap, *parts)


def _note_rooms(width: float, cap: float) -> tuple[float, float]:
    """Return the widths of the lines: less the numbers on the left, less the bar on the right."""
    share = _PROCEDURE_SHARE * width
    return share - _hang(cap), width - share - _GAP_MM - 2.0 * _PAD_MM


def _hang(cap: float) -> float:
    return 3.0 * cap


def _depth(paragraphs: Sequence[Sequence[str]], cap: float) -> float:
    """Return the height of a heading and paragraphs below it."""
    return (
        _HEADING * cap + cap * sum(0.8 + LEADING * len(lines) for lines in paragraphs) + 0.3 * cap
    )


def _set_notes(notes: _Notes, width: float, top: float) -> Iterator[Shape]:
    """Yield procedure and cautions below `top`; a strong bar sets the latter off."""
    cap, heading = notes.cap, _HEADING * notes.cap
    if notes.procedure:
        yield Text("What to do", LEFT_MM, top - heading, heading, key="procedure")
        yield from _paragraphs(notes.procedure, LEFT_MM + _hang(cap), top, cap, "step")
        yield from _numbers(notes.procedure, top, cap)
    if notes.cautions:
        x = LEFT_MM + _PROCEDURE_SHARE * width + _GAP_MM
        foot = top - _depth(notes.cautions, cap)
        yield box(x, foot, 1.2, top - foot, stroke_mm=None, fill=BLACK, key="caution:bar")
        yield Text("Caution", x + 2.0 * _PAD_MM, top - heading, heading, key="caution")
        yield from _paragraphs(notes.cautions, x + 2.0 * _PAD_MM, top, cap, "caution")


def _baselines(paragraphs: Sequence[Sequence[str]], top: float, cap: float) -> list[list[float]]:
    """Return the baselines of the lines of paragraphs below a heading."""
    y = top - _HEADING * cap
    found: list[list[float]] = []
    for lines in paragraphs:
        y -= 0.8 * cap
        found.append([y - (number + 1) * LEADING * cap for number in range(len(lines))])
        y = found[-1][-1]
    return found


def _paragraphs(
    paragraphs: Sequence[Sequence[str]], x: float, top: float, cap: float, name: str
) -> Iterator[Text]:
    levels = _baselines(paragraphs, top, cap)
    for number, (lines, ys) in enumerate(zip(paragraphs, levels, strict=True), start=1):
        for place, (text, y) in enumerate(zip(lines, ys, strict=True)):
            yield Text(text, x, y, cap, key=f"{name}:{number}:{place}")


def _numbers(paragraphs: Sequence[Sequence[str]], top: float, cap: float) -> Iterator[Text]:
    x = LEFT_MM + _hang(cap) - 0.8 * cap
    for number, ys in enumerate(_baselines(paragraphs, top, cap), start=1):
        yield Text(f"{number}.", x, ys[0], cap, "end", key=f"number:{number}")
