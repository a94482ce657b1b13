"""The numbers of turns on the strip of a ring that turns past one revolution."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from focuschart.layout.page import BLACK, PAPER, Face, Shape, Span, Text, box
from focuschart.layout.strip.band import RingBand, Stretch
from focuschart.layout.text.caption import gaps
from focuschart.layout.text.typeset import SMALLEST_CAP_MM

_EVERY_MM = 60.0
_LARGEST_CAP_MM = 2.4
_PAD_MM = 0.35
_OFF_MM = 0.25

Badge = tuple[Stretch, tuple[Shape, ...]]


def turn_badges(
    band: RingBand, taken: Sequence[Stretch], tick_mm: float, *, face: Face
) -> list[Badge]:
    """Return "turn 2" and the like in white on black above the ticks of each row, with its span.

    They are repeated as often as labels leave space; none for a ring of one turn.
    """
    turns = range(band.turns) if band.turns > 1 else ()
    return [badge for turn in turns for badge in _row(band, turn, taken, tick_mm, face=face)]


def _row(
    band: RingBand, turn: int, taken: Sequence[Stretch], tick_mm: float, *, face: Face
) -> list[Badge]:
    """Return the badges of one row, only the number where the word does not fit."""
    spare = band.room_mm - tick_mm - 2.0 * (_PAD_MM + _OFF_MM)
    cap = min(max(SMALLEST_CAP_MM, spare), _LARGEST_CAP_MM)
    spans = [(span.low, span.high) for span in taken if span.turn == turn]
    free = sorted(gaps([*spans, band.zero_span, band.seam_span], band.length_mm))
    for words in (f"turn {turn + 1}", f"{turn + 1}"):
        width = face.width_mm(words, cap_mm=cap) + 4.0 * _PAD_MM
        size = (width, cap)
        badges = [
            _badge(band, turn, (x, tick_mm + _OFF_MM), size, words)
            for x in _starts(free, width)
        ]  # fmt: skip
        if badges:
            return badges
    return []


def _starts(free: Sequence[Span], width: float) -> Iterator[float]:
    """Yield the starts of badges in the free spans, never too close together."""
    reached = -_EVERY_MM
    for low, high in free:
        start = max(low, reached + _EVERY_MM)
        if high - start >= width:
            yield start
            reached = start


def _badge(
    band: RingBand, turn: int, place: tuple[float, float], size: tuple[float, float], words: str
) -> Badge:
    """Return a badge; `place` is x and height above the row's base, `size` width and capitals."""
    (x, base), (width, cap) = place, size
    height = cap + 2.0 * _PAD_MM
    foot = min(band.row_y(turn, base), band.row_y(turn, base + height))
    key = f"turn:{turn + 1}:{x:.0f}"
    plate = box(x, foot, width, height, stroke_mm=None, fill=BLACK, key=f"{key}-plate")
    text = Text(words, x + width / 2.0, foot + _PAD_MM, cap, "middle", colour=PAPER, key=key)
    return Stretch(turn, x, x + width, badge=True), (plate, text)
