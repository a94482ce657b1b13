"""Captions along a strip, set into the space that its marks leave free."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal, NamedTuple

from focuschart.layout.page import BLACK, Face, Path, Point, Shape, Span, Text
from focuschart.layout.sheet.block import Everywhere, Room
from focuschart.layout.text.typeset import LEADING, SMALLEST_CAP_MM, shortened

Arrow = Literal["", "left", "right", "up"]

_ARROW = 3.0 / SMALLEST_CAP_MM
_AFTER_ARROW = 0.6 / SMALLEST_CAP_MM
_MARGIN_MM = 0.9
_BETWEEN_MM = 4.0
_LEAST_LETTERS = 8
_DESCENT = 0.33
"""Depth of letters below the baseline with a little clearance, in heights of capitals."""
_COPY_APART_MM = 60.0
_SPARE_MM = 45.0
"""How much nearer a spare place must be, mm, to be preferred to one that is not spare."""
_CLEAR_MM = 0.9
"""Height that a single line needs beyond its capitals, descenders included."""


@dataclass(frozen=True, slots=True)
class Caption:
    """A few words, with an optional arrow drawn before them.

    To place a `needed` caption, labels are made smaller; a `name` may be shortened.
    """

    text: str
    arrow: Arrow = ""
    needed: bool = False
    name: bool = False

    def width_mm(self, face: Face, *, cap_mm: float = SMALLEST_CAP_MM) -> float:
        """Return the width of arrow and words."""
        arrow = (_ARROW + _AFTER_ARROW) * cap_mm if self.arrow else 0.0
        return arrow + face.width_mm(self.text, cap_mm=cap_mm)


def gaps(taken: Iterable[Span], length_mm: float) -> list[Span]:
    """Return the spans of a strip that are free, widest first."""
    free: list[Span] = []
    reached = 0.0
    for low, high in sorted([*taken, (length_mm, length_mm)]):
        if low - reached > 2.0 * _MARGIN_MM:
            free.append((reached + _MARGIN_MM, low - _MARGIN_MM))
        reached = max(reached, high)
    return sorted(free, key=lambda gap: gap[0] - gap[1])


class Field(NamedTuple):
    """A lengthwise part of a strip: its free spans, widest first, its lower edge and its height.

    A `spare` field is used only when all others are full.
    """

    free: Sequence[Span]
    foot_mm: float
    height_mm: float
    spare: bool = False


class _Place(NamedTuple):
    """A free stretch of one line of captions; `spare` as in its field."""

    start: float
    end: float
    baseline: float
    spare: bool = False


class Captions(NamedTuple):
    """Captions as set: their shapes, the spans they take, and which placed no room.

    `first` is the first caption, to be added to each piece of a split strip that lacks it.
    """

    shapes: list[Shape]
    spans: list[Span]
    missing: list[Caption]
    first: Everywhere | None = None


def set_captions(
    captions: Sequence[Caption],
    fields: Sequence[Field],
    *,
    face: Face,
    cap_mm: float = SMALLEST_CAP_MM,
    along: Sequence[float] = (),
) -> Captions:
    """Return captions set into the free fields, the first captions first.

    The first is set near each place in `along`, so that every piece of a long strip bears it.
    """
    places = [place for field in fields for place in _places(field, cap_mm)]
    placed = Captions([], [], [])
    for number, whole in enumerate(captions):
        caption = _fitted(whole, places, face, cap_mm) if whole.name else whole
        width = caption.width_mm(face, cap_mm=cap_mm)
        chosen = list(_copies(places, width, along if number == 0 else ()))
        for copy, place in enumerate(chosen):
            key = f"{number}.{copy}" if copy else f"{number}"
            placed.shapes.extend(_set(caption, place, cap_mm, key))
            placed.spans.append((place.start, place.start + width))
        if not chosen:
            placed.missing.append(caption)
    if not captions:
        return placed
    return placed._replace(first=_first(captions[0], placed, places, face, cap_mm))


def _first(
    caption: Caption, placed: Captions, places: Iterable[_Place], face: Face, cap_mm: float
) -> Everywhere:
    """Return the first caption with its positions and the space still free after all captions."""
    keys = (shape.key for shape in placed.shapes if isinstance(shape, Text))
    count = sum(key.startswith(f"{_key(0)}.") or key == _key(0) for key in keys)
    return Everywhere(
        Text(caption.text, 0.0, 0.0, cap_mm, key=f"{_key(0)}.{count}"),
        caption.width_mm(face, cap_mm=cap_mm),
        tuple(placed.spans[:count]),
        tuple(Room(place.start, place.end, place.baseline) for place in places),
    )


def _key(number: object) -> str:
    return f"caption:{number}"


def _places(field: Field, cap_mm: float) -> list[_Place]:
    """Return every stretch of every line, the upper lines of the widest gap first."""
    rows = int((field.height_mm - 0.6) / (LEADING * cap_mm))
    if field.height_mm >= cap_mm + _CLEAR_MM - 1e-9:
        rows = max(rows, 1)
    pitch = field.height_mm / max(rows, 1)
    foot = max((pitch - cap_mm) / 2.0, _DESCENT * cap_mm)
    lines = [field.foot_mm + field.height_mm - (row + 1) * pitch + foot for row in range(rows)]
    return [_Place(*gap, baseline, field.spare) for gap in field.free for baseline in lines]


def _copies(places: list[_Place], width: float, along: Sequence[float]) -> Iterator[_Place]:
    """Reserve places for a caption: one, or one as near as possible to each x in `along`.

    Of two copies that would be too close one is left out.
    """
    if not along:
        fitting = sorted(_fitting(places, width), key=lambda place: place.spare)
        yield from [_taken(places, fitting[0], fitting[0].start, width)] if fitting else []
    taken: list[float] = []
    for aim in along:
        ends = aim in (along[0], along[-1])
        starts = [
            (min(max(aim - width / 2.0, p.start), p.end - width), p)
            for p in _fitting(places, width)
        ]
        off = [(abs(start - aim) + (0.0 if ends or not p.spare else _SPARE_MM), start, p)
               for start, p in starts]  # fmt: skip
        _, start, place = min(off, key=lambda choice: choice[0], default=(0.0, 0.0, None))
        if place and all(abs(start - other) > _COPY_APART_MM for other in taken):
            taken.append(start)
            yield _taken(places, place, start, width)


def _fitted(caption: Caption, places: Sequence[_Place], face: Face, cap_mm: float) -> Caption:
    """Return a name shortened to the widest place, unless too few letters would be left."""
    room = max((place.end - place.start for place in places), default=0.0)
    text = shortened(caption.text, face=face, cap_mm=cap_mm, width_mm=room)
    return replace(caption, text=text) if len(text) >= _LEAST_LETTERS else caption


def _fitting(places: Iterable[_Place], width: float) -> list[_Place]:
    return [place for place in places if place.end - place.start >= width]


def _taken(places: list[_Place], place: _Place, start: float, width: float) -> _Place:
    """Return a stretch of a place, which is then replaced in `places` by what is left of it."""
    places.remove(place)
    # The rest of the line goes to the end of the list, so that other lines are used first.
    rest = [(place.start, start - _BETWEEN_MM), (start + width + _BETWEEN_MM, place.end)]
    places.extend(place._replace(start=low, end=high) for low, high in rest if high > low)
    return place._replace(start=start, end=start + width)


def _set(caption: Caption, place: _Place, cap_mm: float, number: str) -> list[Shape]:
    x, y, key = place.start, place.baseline, _key(number)
    if not caption.arrow:
        return [Text(caption.text, x, y, cap_mm, key=key)]
    arrow = Path(_arrow(caption.arrow, x, y, cap_mm), closed=True, stroke_mm=None, fill=BLACK,
                 key=f"arrow:{number}")  # fmt: skip
    if not caption.text:
        return [arrow]
    return [arrow, Text(caption.text, x + (_ARROW + _AFTER_ARROW) * cap_mm, y, cap_mm, key=key)]


def _arrow(arrow: Arrow, x: float, y: float, cap_mm: float) -> tuple[Point, ...]:
    """Return an arrow as tall as the capitals, its box starting at (x, y)."""
    top, end, middle = y + cap_mm, x + _ARROW * cap_mm, y + cap_mm / 2.0
    if arrow == "up":
        centre = (x + end) / 2.0
        half = 0.6875 * cap_mm
        return ((centre - half, y), (centre + half, y), (centre, top))
    tip, tail = (end, x) if arrow == "right" else (x, end)
    neck, half = tip + (tail - tip) * 0.45, 0.15625 * cap_mm
    return (
        (tip, middle), (neck, top), (neck, middle + half), (tail, middle + half),
        (tail, middle - half), (neck, middle - half), (neck, y),
    )  # fmt: skip
