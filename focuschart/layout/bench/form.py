"""The bench form: a table to fill in by hand, with the procedure and cautions below it."""

from __future__ import annotations

import math
from collections.abc import Iterator

from focuschart.errors import PageError
from focuschart.layout.bench.form_notes import Notes
from focuschart.layout.bench.form_table import (
    HEAD_CAP_MM,
    HEADER_MM,
    THIN_MM,
    BenchForm,
    Table,
    drawn_rows,
    set_up,
)
from focuschart.layout.page import Face, Page, Shape, Text, line
from focuschart.layout.sheet.furniture import BOTTOM_MM, EDGE_MM, LEFT_MM, TOP_MM, furniture, headed
from focuschart.layout.sheet.papers import paper_size
from focuschart.layout.text.typeset import SMALLEST_CAP_MM, shortened

_EASY_ROW_MM, _LARGEST_ROW_MM = 10.5, 16.0
_TOP_LINE_MM = 10.0
_GAP_MM = 7.0
_RIG_CAP_MM = 3.0
_NOTE_CAPS_MM = (2.8, 2.6, 2.4, 2.2, 2.0, 1.8, SMALLEST_CAP_MM)
_BLANKS = (("Date", 30.0), ("Read by", 42.0))


def form_pages(form: BenchForm, *, paper: str, face: Face) -> list[Page]:
    """Return the form's pages: the first has the procedure, the others continue the table's rows.

    Raises PageError for an unknown paper, a form without a row, ring or reading, more readings
    than fit the width of the paper, and words that do not fit.
    """
    size = paper_size(paper)
    if not (form.rows and form.rings and form.repeats >= 1):
        raise PageError(f"{form.title}: a bench form needs a row, a ring and a reading")
    width, room = size[0] - LEFT_MM - EDGE_MM, size[1] - BOTTOM_MM - TOP_MM - _TOP_LINE_MM
    table = set_up(form, width, paper, face)
    full = int((room - HEADER_MM) / table.row_mm)
    if full < 1:
        raise PageError(
            f"{form.title}: a row is taller than {paper} paper: shorten why it is asked for"
        )
    notes, first = _shared(table, room, width, full)
    if first == table.row_count:
        spare = (room - HEADER_MM - _GAP_MM - notes.height_mm) / first
        table = table._replace(row_mm=min(max(spare, table.row_mm), _LARGEST_ROW_MM))
    parts = list(_parts(table, first, full))
    top = BOTTOM_MM + room
    under = top - (HEADER_MM + first * table.row_mm + _GAP_MM if first else 0.0)
    bodies: list[list[Shape]] = [list(drawn_rows(table, part, top)) for part in parts]
    bodies[0] += notes.drawn(under)
    heads = (_top(form, size, (number + 1, len(parts)), face) for number in range(len(parts)))
    return [
        Page(*size, form.title, (*head, *body)) for head, body in zip(heads, bodies, strict=True)
    ]


def _shared(table: Table, room: float, width: float, full: int) -> tuple[Notes, int]:
    """Return the notes as set, and the number of table rows above them on the first page.

    Rows high enough to write in come first, then large notes. Where one page cannot hold all rows,
    notes are as large as the smallest number of pages allows. A page holds `full` rows.
    """
    sizes = [_notes(table, width, cap) for cap in _NOTE_CAPS_MM]
    sizes = [notes for notes in sizes if notes.height_mm <= room]
    if not sizes:
        raise PageError(f"{table.form.title}: the procedure is longer than a page: shorten it")
    beside = [room - HEADER_MM - _GAP_MM - notes.height_mm for notes in sizes]
    for row in (max(_EASY_ROW_MM, table.row_mm), table.row_mm):
        for notes, left in zip(sizes, beside, strict=True):
            if table.row_count * row <= left:
                return notes, table.row_count
    firsts = [max(0, int(left / table.row_mm)) for left in beside]
    pages = [math.ceil((table.row_count - first) / full) for first in firsts]
    fewest = pages.index(min(pages))
    return sizes[fewest], firsts[fewest]


def _notes(table: Table, width: float, cap: float) -> Notes:
    form = table.form
    procedure, cautions = (
        tuple(text for text in words if text.strip()) for words in (form.procedure, form.cautions)
    )
    return Notes(procedure, cautions, form.blanks, cap, width, table.face)


def _parts(table: Table, first: int, full: int) -> Iterator[range]:
    """Yield the rows of each page."""
    yield range(first)
    for start in range(first, table.row_count, full):
        yield range(start, min(start + full, table.row_count))


def _top(
    form: BenchForm, size: tuple[float, float], page: tuple[int, int], face: Face
) -> Iterator[Shape]:
    """Yield title, check bars, the rig's name, and blanks for the reader's name and the date."""
    width, height = size
    right, y = width - EDGE_MM, height - TOP_MM - 5.0
    title = headed(form.title, width, face)
    yield from furniture(width, height, title, *page)
    for label, wide in reversed(_BLANKS):
        yield line((right - wide, y - 0.8), (right, y - 0.8), stroke_mm=THIN_MM,
                   key=f"blank:{label}")  # fmt: skip
        right -= wide + 1.5
        yield Text(label, right, y, HEAD_CAP_MM, "end")
        right -= face.width_mm(label, cap_mm=HEAD_CAP_MM) + 5.0
    rig = shortened(form.rig, face=face, cap_mm=_RIG_CAP_MM, width_mm=right - LEFT_MM)
    yield Text(rig, LEFT_MM, y, _RIG_CAP_MM, key="rig")
