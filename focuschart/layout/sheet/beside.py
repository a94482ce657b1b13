"""Words outside the cut, along the long edge of a piece that lies on another part of the rig."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from focuschart.layout.page import BLACK, Face, Path, Shape, Span, Text
from focuschart.layout.text.typeset import SMALLEST_CAP_MM

_EDGE_MM = 1.5
_APART_MM = 4.0
_HALF_MM, _HIGH_MM = 1.0, 1.7
_FOOT_MM = {False: 2.2, True: 0.9}
"""From the bleed to the baseline, below a lower edge and above an upper one."""


class Note(NamedTuple):
    """Words at the lower edge of a block, or the `upper` one, with a triangle that points to it.

    The triangle stands at `at_mm` along the block, else before the words at its left end.
    """

    words: str
    upper: bool = False
    at_mm: float | None = None


def within(notes: Sequence[Note], span: Span) -> tuple[Note, ...]:
    """Return the notes of the piece of a block at `span`; those of no place are on every piece."""
    return tuple(
        note if note.at_mm is None else note._replace(at_mm=note.at_mm - span[0])
        for note in notes
        if note.at_mm is None or span[0] <= note.at_mm < span[1]
    )


def mirrored_notes(notes: Sequence[Note], width_mm: float) -> tuple[Note, ...]:
    """Return the notes of a mirrored block; their words still read from left to right."""
    return tuple(
        note if note.at_mm is None else note._replace(at_mm=width_mm - note.at_mm) for note in notes
    )


def note_shapes(
    notes: Sequence[Note], size: tuple[float, float], *, bleed_mm: float, face: Face
) -> Iterator[Shape]:
    """Yield triangles and words; `size` is the block's. Words without room are left out."""
    taken: dict[bool, Span] = {}
    for note in sorted(notes, key=lambda note: note.at_mm is None):
        wide = face.width_mm(note.words, cap_mm=SMALLEST_CAP_MM)
        x = _place(note, wide, size[0], taken.get(note.upper))
        if x is None and note.at_mm is None:
            continue
        tip = x if note.at_mm is None else note.at_mm
        assert tip is not None
        yield _triangle(tip, note, size[1], bleed_mm)
        if x is None:
            continue
        start = min(tip, x) - _HALF_MM
        taken[note.upper] = (start, max(tip, x + 2.0 * _HALF_MM + wide))
        away = bleed_mm + _FOOT_MM[note.upper]
        y = size[1] + away if note.upper else -away
        yield Text(note.words, x + 2.0 * _HALF_MM, y, SMALLEST_CAP_MM, key=f"note:{_name(note)}")


def _place(note: Note, wide: float, length: float, taken: Span | None) -> float | None:
    """Return where a note begins, None for words without room."""
    whole = wide + 3.0 * _HALF_MM
    if note.at_mm is not None:
        if note.at_mm + whole <= length:
            return note.at_mm
        left = note.at_mm - whole - _HALF_MM
        return left if left >= _EDGE_MM else None
    start = _EDGE_MM + _HALF_MM
    if taken is not None and start + whole + _APART_MM > taken[0]:
        start = taken[1] + _APART_MM
    return start if start + whole <= length else None


def _name(note: Note) -> str:
    """Return what tells a note's shapes from those of another note of its piece."""
    return "edge" if note.at_mm is None else "place"


def _triangle(x: float, note: Note, height: float, bleed_mm: float) -> Path:
    way = 1.0 if note.upper else -1.0
    edge = (height if note.upper else 0.0) + way * (bleed_mm + 0.4)
    foot = edge + way * _HIGH_MM
    corners = ((x, edge), (x - _HALF_MM, foot), (x + _HALF_MM, foot))
    return Path(corners, True, None, fill=BLACK, key=f"note-tip:{_name(note)}")
