"""A page made for one printer: its errors of size undone, its backs put behind their fronts.

A printer draws each length along the sheet's long edge by one factor wrong, along the short edge
by another; it does so all over the sheet, so where the factor is taken from does not matter.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from focuschart.errors import PageError
from focuschart.layout.extent import Boxes, ink_boxes, require_on_sheet
from focuschart.layout.page import Face, Page, Point, Shape, Text, moved
from focuschart.layout.sheet.furniture import EDGE_MM
from focuschart.layout.text.typeset import LEADING, SMALLEST_CAP_MM, shortened

LARGEST_ERROR = 0.02
"""Beyond it a print dialogue has scaled the page, not a printer (judgement, no source)."""
SMALLEST_ERROR = 0.0002
"""Below it nothing is gained: 0.06 mm on a sheet's length (judgement, no source)."""
LARGEST_OFFSET_MM = 5.0
"""Beyond it the sheet was turned over the wrong edge (judgement, no source)."""

_ROUNDING = 1e-12
_CLEAR_MM = 0.25
_NOTE_ROWS_MM = (EDGE_MM - 0.8, *(EDGE_MM - 0.8 + n * LEADING * SMALLEST_CAP_MM for n in (1, 2, 3)),
                 EDGE_MM - 0.8 - LEADING * SMALLEST_CAP_MM)  # fmt: skip
"""Baselines tried for the note: level with the check bar's, above it, below it."""


@dataclass(frozen=True, slots=True)
class Correction:
    """By how much content is drawn larger along each edge of the sheet for a printer."""

    printer: str
    long: float
    short: float

    def __post_init__(self) -> None:
        """Raise PageError for factors that no printer needs."""
        if not all(abs(1.0 / f - 1.0) <= LARGEST_ERROR + 1e-9 if f > 0 else False
                   for f in (self.long, self.short)):  # fmt: skip
            raise PageError(f"the correction of printer {self.printer} is beyond 2 %: measure anew")

    @property
    def words(self) -> str:
        """Both factors as they are printed."""
        return f"long edge × {self.long:.4f}, short edge × {self.short:.4f}"


@dataclass(frozen=True, slots=True)
class Offset:
    """How far a printer puts the back too far to the right and too high, mm, seen on the back.

    It holds for lying sheets turned over their long edge.
    """

    right_mm: float
    up_mm: float

    def __post_init__(self) -> None:
        """Raise PageError for offsets that are no printer's."""
        if not all(abs(value) <= LARGEST_OFFSET_MM for value in (self.right_mm, self.up_mm)):
            raise PageError(
                f"a back more than {LARGEST_OFFSET_MM:g} mm off was turned over the wrong edge"
            )


def factor(*, nominal_mm: float, measured_mm: float) -> float:
    """Return by how much content must be drawn larger for a bar to come out at its length.

    Raises PageError, with the cure, for what cannot be a printer's own error.
    """
    if not (math.isfinite(measured_mm) and measured_mm > 0):
        raise PageError(f"a bar of {nominal_mm:g} mm cannot measure that: measure it again")
    error = measured_mm / nominal_mm - 1.0
    if abs(error) > LARGEST_ERROR + _ROUNDING:
        raise PageError(
            f"{abs(error):.1%} {'more' if error > 0 else 'less'} than the bar's {nominal_mm:g} mm, "
            'beyond 2 %: "fit to page" is on in the print dialogue, print the sheet again at 100 %'
        )
    return nominal_mm / measured_mm


def corrected(page: Page, correction: Correction, *, face: Face) -> Page:
    """Return the page as the printer must be sent it, with a line that says so at its foot.

    Raises PageError if content would cross the sheet's edge, the sheet is square, the line finds
    no room, or the page is corrected already; GlyphError for a printer's name that the face lacks.
    """
    if page.width_mm == page.height_mm:
        raise PageError(f"page {page.title!r} is square, its edges cannot be told apart")
    if (page.scale_x, page.scale_y) != (1.0, 1.0):
        raise PageError(f"page {page.title!r} is made for a printer already")
    lying = page.width_mm > page.height_mm
    x, y = (correction.long, correction.short)[:: 1 if lying else -1]
    note = _note(page, correction, face)
    made = replace(page, shapes=(*page.shapes, note), scale_x=x, scale_y=y)
    require_on_sheet(made, face=face)
    return made


def registered(page: Page, offset: Offset, *, face: Face) -> Page:
    """Return a back's page shifted so that it stands behind its front; corrected or not.

    Raises PageError for an upright sheet, for which the offset was not measured, and if content
    would cross the sheet's edge.
    """
    if page.width_mm < page.height_mm:
        raise PageError(f"page {page.title!r} is upright, backs are registered on lying sheets")
    shapes = moved(page.shapes, -offset.right_mm, -offset.up_mm)
    made = replace(page, shapes=shapes)
    require_on_sheet(made, face=face)
    return made


def behind(point: Point, *, height_mm: float) -> Point:
    """Return the place on the back of a lying sheet, turned over its long edge, behind a point."""
    return point[0], height_mm - point[1]


def _note(page: Page, correction: Correction, face: Face) -> Text:
    """Return the line that names printer and factors, at the first free place of foot or head."""
    cap, right = SMALLEST_CAP_MM, page.width_mm - EDGE_MM
    head, tail = "Corrected for printer ", f": {correction.words}"
    room = right - EDGE_MM - face.width_mm(head + tail, cap_mm=cap)
    says = head + shortened(correction.printer, face=face, cap_mm=cap, width_mm=room) + tail
    taken = ink_boxes(page.shapes, face=face)
    for y in (*_NOTE_ROWS_MM, *(page.height_mm - cap - row for row in _NOTE_ROWS_MM)):
        note = Text(says, right, y, cap, "end", key="corrected")
        if room > 0 and not _meets(note, taken, face):
            return note
    raise PageError(
        f"page {page.title!r} has no room at foot or head for the line that names the printer: "
        "choose larger paper"
    )


def _meets(note: Shape, taken: Boxes, face: Face) -> bool:
    """Return whether a shape comes too near to what is on the sheet."""
    (left, bottom, right, top), = ink_boxes((note,), face=face)  # fmt: skip
    apart = (
        (taken[:, 0] > right + _CLEAR_MM)
        | (taken[:, 2] < left - _CLEAR_MM)
        | (taken[:, 1] > top + _CLEAR_MM)
        | (taken[:, 3] < bottom - _CLEAR_MM)
    )
    return not bool(apart.all())
