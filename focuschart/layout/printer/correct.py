"""Pages corrected for one printer: scaled for its errors of length, backs aligned with fronts.

A printer's lengths along the sheet's long edge are wrong by one factor, along the short edge by
another. The factors are the same all over the sheet, so any bar on it measures them.
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
"""A larger error is the print dialogue's scaling, not the printer (judgement, no source)."""
SMALLEST_ERROR = 0.0002
"""A smaller error is not corrected: 0.06 mm on a sheet's length (judgement, no source)."""
LARGEST_OFFSET_MM = 5.0
"""With a larger offset the sheet was turned over the wrong edge (judgement, no source)."""

_ROUNDING = 1e-12
_CLEAR_MM = 0.25
_NOTE_ROWS_MM = (EDGE_MM - 0.8, *(EDGE_MM - 0.8 + n * LEADING * SMALLEST_CAP_MM for n in (1, 2, 3)),
                 EDGE_MM - 0.8 - LEADING * SMALLEST_CAP_MM)  # fmt: skip
"""Baselines to try for the note: level with the words of the check bar, above, below."""


@dataclass(frozen=True, slots=True)
class Correction:
    """The factors by which content is enlarged along each edge of the sheet for a printer."""

    printer: str
    long: float
    short: float

    def __post_init__(self) -> None:
        """Raise PageError for factors outside the range of real printers."""
        if not all(abs(1.0 / f - 1.0) <= LARGEST_ERROR + 1e-9 if f > 0 else False
                   for f in (self.long, self.short)):  # fmt: skip
            raise PageError(f"the correction of printer {self.printer} is beyond 2 %: measure anew")

    @property
    def words(self) -> str:
        """Both factors as they are printed."""
        return f"long edge × {self.long:.4f}, short edge × {self.short:.4f}"


@dataclass(frozen=True, slots=True)
class Offset:
    """By how much a printer prints the back too far right and too high, mm, as seen on the back.

    It holds for landscape sheets turned over their long edge.
    """

    right_mm: float
    up_mm: float

    def __post_init__(self) -> None:
        """Raise PageError for offsets too large for a printer."""
        if not all(abs(value) <= LARGEST_OFFSET_MM for value in (self.right_mm, self.up_mm)):
            raise PageError(
                f"a back more than {LARGEST_OFFSET_MM:g} mm off was turned over the wrong edge"
            )


def factor(*, nominal_mm: float, measured_mm: float) -> float:
    """Return the factor by which to enlarge content so that a bar prints at its nominal length.

    Raises PageError, with the cure, for an error too large to be the printer's own.
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
    """Return the page scaled for the printer, with a line that states this at its foot.

    Raises PageError if content would cross the sheet's edge, the sheet is square, there is no
    room for the line, or the page is corrected already; GlyphError if the face lacks a character
    of the printer's name.
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
    """Return the page of a back, corrected or not, shifted so that it lies behind its front.

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
    """Return the point on the back that lies behind a point of the front of a landscape sheet."""
    return point[0], height_mm - point[1]


def _note(page: Page, correction: Correction, face: Face) -> Text:
    """Return the line that names printer and factors, at the first free place at foot or head."""
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
    """Return whether a note comes too near to the ink already on the sheet."""
    (left, bottom, right, top), = ink_boxes((note,), face=face)  # fmt: skip
    apart = (
        (taken[:, 0] > right + _CLEAR_MM)
        | (taken[:, 2] < left - _CLEAR_MM)
        | (taken[:, 1] > top + _CLEAR_MM)
        | (taken[:, 3] < bottom - _CLEAR_MM)
    )
    return not bool(apart.all())
