"""What to do with a sheet's pieces, in the room that they leave blank."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from focuschart.layout.page import Face, Room, Shape, Text
from focuschart.layout.text.paragraphs import height_mm, set_words
from focuschart.layout.text.typeset import LEADING, SMALLEST_CAP_MM, widest

_CAPS_MM = (2.8, 2.5, 2.2, 2.0, 1.8, SMALLEST_CAP_MM)
_LINE = 58.0
"""The greatest length of a line, in heights of capitals: some 75 letters."""
_EDGE_MM = 5.0
_HEAD = 1.25
"""Capitals of the heading, in those of the steps."""


class Steps(NamedTuple):
    """A heading and the steps under it; `short` stands where they find no room."""

    heading: str
    steps: tuple[str, ...]
    short: str = ""


def steps_in(rooms: Sequence[Room], words: Steps, *, face: Face) -> list[Shape]:
    """Return the steps as large as a blank room allows, else the short words, else nothing."""
    numbered = tuple(f"{n}. {step}" for n, step in enumerate(words.steps, start=1))
    inner = [_inner(room) for room in sorted(rooms, key=_area, reverse=True)]
    for texts, heading in ((numbered, words.heading), ((words.short,), "")):
        if any(texts):
            for cap in _CAPS_MM:
                for room in inner:
                    if _fits(room, texts, heading, cap, face):
                        return list(_set(room, texts, heading, cap, face))
    return []


def _area(room: Room) -> float:
    return room.width * room.height


def _inner(room: Room) -> Room:
    return Room(room.x + _EDGE_MM, room.y + _EDGE_MM / 2.0,
                room.width - 2.0 * _EDGE_MM, room.height - _EDGE_MM)  # fmt: skip


def _fits(room: Room, texts: Sequence[str], heading: str, cap: float, face: Face) -> bool:
    if widest([heading], face=face, cap_mm=_HEAD * cap) > room.width:
        return False
    wide = min(room.width, _LINE * cap)
    high = height_mm(texts, cap_mm=cap, width_mm=wide, face=face)
    return high + _head_mm(heading, cap) <= room.height


def _head_mm(heading: str, cap: float) -> float:
    return LEADING * _HEAD * cap if heading else 0.0


def _set(room: Room, texts: Sequence[str], heading: str, cap: float, face: Face) -> Iterator[Shape]:
    if heading:
        yield Text(heading, room.x, room.top - _HEAD * cap, _HEAD * cap, key="steps-heading")
    yield from set_words(
        texts, x=room.x, top=room.top - _head_mm(heading, cap), cap_mm=cap,
        width_mm=min(room.width, _LINE * cap), face=face, key="step",
    )  # fmt: skip
