"""Captions on a strip: set along it, in whatever room its marks leave."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from focuschart.errors import PageError
from focuschart.layout.page import Face, Path, Point, Shape, Text
from focuschart.layout.typeset import LEADING, SMALLEST_CAP_MM

Arrow = Literal["", "left", "right", "up"]
Span = tuple[float, float]

_ARROW_MM = 3.0
_MARGIN_MM = 0.9
_BETWEEN_MM = 4.0


@dataclass(frozen=True, slots=True)
class Caption:
    """A few words, with an arrow before them that is drawn, not typed."""

    text: str
    arrow: Arrow = ""

    def width_mm(self, face: Face) -> float:
        """Return the width of arrow and words at the smallest legible size."""
        arrow = _ARROW_MM + 0.6 if self.arrow else 0.0
        return arrow + face.width_mm(self.text, cap_mm=SMALLEST_CAP_MM)


def gaps(taken: Iterable[Span], length_mm: float) -> list[Span]:
    """Return the spans of a strip that nothing takes, widest first."""
    free: list[Span] = []
    reached = 0.0
    for low, high in sorted([*taken, (length_mm, length_mm)]):
        if low - reached > 2.0 * _MARGIN_MM:
            free.append((reached + _MARGIN_MM, low - _MARGIN_MM))
        reached = max(reached, high)
    return sorted(free, key=lambda gap: gap[0] - gap[1])


def set_captions(
    captions: Sequence[Caption],
    free: Sequence[Span],
    *,
    height_mm: float,
    face: Face,
    where: str = "",
) -> tuple[list[Shape], list[Span]]:
    """Return captions set into free spans, first come first served, and the spans they take.

    Where `where` names the strip, raises PageError if the first caption finds no room; others may
    be left out.
    """
    rows = int((height_mm - 0.6) / (LEADING * SMALLEST_CAP_MM))
    places = [(*gap, row) for gap in free for row in range(rows)]
    shapes: list[Shape] = []
    spans: list[Span] = []
    for number, caption in enumerate(captions):
        width = caption.width_mm(face)
        place = next((place for place in places if place[1] - place[0] >= width), None)
        if place is None and number == 0 and where:
            raise PageError(
                f'{where}: no room for "{caption.text}" between the marks: '
                "mark fewer distances or raise the ring's strip_width"
            )
        if place is not None:
            start, end, row = place
            places.remove(place)
            # What is left of the row comes last, so that captions stack before they queue.
            places.append((start + width + _BETWEEN_MM, end, row))
            shapes += _set(caption, (start, _baseline(row, rows, height_mm)), number)
            spans.append((start, start + width))
    return shapes, spans


def _baseline(row: int, rows: int, height_mm: float) -> float:
    """Return the baseline of a row counted from the top, all rows centred in the height."""
    pitch = height_mm / rows
    return height_mm - (row + 0.5) * pitch - SMALLEST_CAP_MM / 2.0


def _set(caption: Caption, place: Point, number: int) -> list[Shape]:
    (x, y), key = place, f"caption:{number}"
    if not caption.arrow:
        return [Text(caption.text, x, y, SMALLEST_CAP_MM, key=key)]
    arrow = Path(_arrow(caption.arrow, x, y), closed=True, stroke_mm=None, fill="#000000",
                 key=f"arrow:{number}")  # fmt: skip
    return [arrow, Text(caption.text, x + _ARROW_MM + 0.6, y, SMALLEST_CAP_MM, key=key)]


def _arrow(arrow: Arrow, x: float, y: float) -> tuple[Point, ...]:
    """Return an arrow as tall as the capitals, its box starting at (x, y)."""
    top, end, middle = y + SMALLEST_CAP_MM, x + _ARROW_MM, y + SMALLEST_CAP_MM / 2.0
    if arrow == "up":
        centre = x + _ARROW_MM / 2.0
        return ((centre - 1.1, y), (centre + 1.1, y), (centre, top))
    tip, tail = (end, x) if arrow == "right" else (x, end)
    neck = tip + (tail - tip) * 0.45
    return (
        (tip, middle), (neck, top), (neck, middle + 0.25), (tail, middle + 0.25),
        (tail, middle - 0.25), (neck, middle - 0.25), (neck, y),
    )  # fmt: skip
