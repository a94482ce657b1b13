"""The calibration sheet: the longest bars a paper holds, both ways, to be measured by hand."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

from focuschart.errors import PageError
from focuschart.layout.page import Face, Page, Room, Shape, Text, box, line
from focuschart.layout.sheet.papers import PAPERS, paper_size, parse_paper
from focuschart.layout.text.paragraphs import height_mm, largest_cap, set_words

EDGE_MM = 6.5
"""Margin at a sheet's edge that common printers leave blank: 1/4 inch (from memory)."""
INNER_MM = 15.0
"""Distance from each end stroke to a shorter one, used if the printer does not print the first."""

_STROKE_MM = 0.2
_END_MM, _INNER_END_MM = 4.0, 2.0
_BAR_MM = 12.0
"""From the sheet's edge to the bar along it."""
_CLEAR_MM = 10.0
_CAPS_MM = (3.2, 3.0, 2.8, 2.6, 2.4, 2.2, 2.0, 1.8, 1.6)
_TITLE_CAP_MM = 3.4
_LABEL_CAP_MM = 2.4
_WIDEST_MM = 230.0
"""Lines longer than this are hard to follow (judgement, no source)."""
_ROW_MM, _BOX_MM, _MEAN_MM = 13.0, 9.0, 1.3
_BOXES = ("first", "second", "third", "mean")


class Bars(NamedTuple):
    """Lengths of the two bars, mm: along the paper's long and along its short edge."""

    long_mm: float
    short_mm: float


def paper_key(name: str) -> str:
    """Return the canonical name of a sheet; for a sheet of labels, the sheet's own name.

    Raises PageError for an unknown paper, and for rolls, which have no edge to measure along.
    """
    paper = parse_paper(name)
    if paper.kind == "roll":
        raise PageError(f"{paper.name} has no fixed length: printers are measured on whole sheets")
    size = sorted((paper.width_mm, paper.height_mm), reverse=True)
    known = (key for key, other in PAPERS.items() if sorted(other, reverse=True) == size)
    return next(known, f"{size[0]:g} x {size[1]:g} mm")


def nominal_bars(paper: str) -> Bars:
    """Return the longest bars of whole millimetres that fit a paper.

    Raises PageError for a paper that is unknown, or square so that its edges look alike.
    """
    long, short = sorted(paper_size(paper), reverse=True)
    if long == short:
        raise PageError(
            f"{paper_key(paper)} is square, its edges cannot be told apart: choose other paper"
        )
    return Bars(math.floor(long - 2 * EDGE_MM), math.floor(short - 2 * EDGE_MM))


def calibration_page(paper: str, *, face: Face) -> Page:
    """Return the sheet; raises PageError for a paper that is unknown, square or too small."""
    bars = nominal_bars(paper)
    width, height = sorted(paper_size(paper), reverse=True)
    left = _BAR_MM + _CLEAR_MM
    room = Room(left, left, width - left - 2 * EDGE_MM, height - left - 2 * EDGE_MM)
    name = paper_key(paper)
    shapes = (
        *_bar("long", bars.long_mm, width),
        *_bar("short", bars.short_mm, height),
        *_body(name, bars, room, face),
    )
    return Page(width, height, f"Calibration sheet, {name}", shapes)


# --- bars ----------------------------------------------------------------------------------------


def _bar(edge: str, length_mm: float, side_mm: float) -> Iterator[Shape]:
    """Yield a bar with its end strokes, the shorter strokes inside them, and its length."""
    start = (side_mm - length_mm) / 2

    def place(along: float, off: float) -> tuple[float, float]:
        along += start
        return (along, _BAR_MM + off) if edge == "long" else (_BAR_MM + off, along)

    yield line(place(0, 0), place(length_mm, 0), stroke_mm=_STROKE_MM, key=f"bar:{edge}")
    for index, along in enumerate((0.0, length_mm)):
        ends = place(along, -_END_MM), place(along, _END_MM)
        yield line(*ends, stroke_mm=_STROKE_MM, key=f"bar:{edge}:{index}")
        inside = along + (INNER_MM if index == 0 else -INNER_MM)
        ends = place(inside, -_INNER_END_MM), place(inside, _INNER_END_MM)
        yield line(*ends, stroke_mm=_STROKE_MM, key=f"inner:{edge}:{index}")
    says = f"{edge} edge: {length_mm:g} mm between the middles of the end strokes"
    off = -_LABEL_CAP_MM - 2.0 if edge == "long" else -2.0
    turn = 0.0 if edge == "long" else math.pi / 2
    yield Text(says, *place(length_mm / 2, off), _LABEL_CAP_MM, "middle", turn, key=f"says:{edge}")


# --- words and boxes -----------------------------------------------------------------------------


def _steps(paper: str, bars: Bars) -> list[str]:
    """Return what to do."""
    return [
        f"1. Print this sheet on {paper} paper at 100 % (“actual size”), not “fit to page”, with "
        "the printer, the tray and the kind of paper that the marks will be printed with.",
        # Judgement, no source: a fuser dries paper, which then takes up moisture and grows again.
        "2. Let the sheet lie flat for an hour: paper fresh from a printer is warm or wet.",
        "3. Measure both bars with a steel rule, from the middle of one end stroke to the middle "
        "of the other, to 0.1 mm as well as you can. Lay the rule down anew each time; start at "
        "its 10 mm line if its end is worn, and take the 10 mm off.",
        "4. If an end stroke is missing, the printer does not print so near the edge: measure "
        f"between the two shorter strokes instead, and add {2 * INNER_MM:g} mm.",
        "5. Enter both means, and the printer's name as you like it: "
        f'focuschart printer set "NAME" --paper "{paper}" --long "… mm" --short "… mm"',
        f"A printer is usually within 0.5 %, here {0.005 * bars.long_mm:.1f} mm of the long bar. "
        "If a bar is off by more than 2 %, “fit to page” is on in the print dialogue.",
    ]


def _body(paper: str, bars: Bars, room: Room, face: Face) -> Iterator[Shape]:
    """Yield title, steps and the boxes to write in, from the top of a room downward."""
    width = min(room.width, _WIDEST_MM)
    steps = _steps(paper, bars)
    below = 3 * _ROW_MM + _CLEAR_MM
    space = room.height - _TITLE_CAP_MM - 4.0 - below
    cap = largest_cap(steps, _CAPS_MM, width_mm=width, most_mm=space, face=face)
    if cap is None:
        raise PageError(
            f"{paper} paper is too small for the calibration sheet: choose a larger one"
        )
    yield Text(f"Calibration sheet for {paper} paper", room.x, room.top - _TITLE_CAP_MM,
               _TITLE_CAP_MM, key="title")  # fmt: skip
    top = room.top - _TITLE_CAP_MM - 4.0
    yield from set_words(
        steps, x=room.x, top=top, cap_mm=cap, width_mm=width, face=face, key="step"
    )
    top -= height_mm(steps, cap_mm=cap, width_mm=width, face=face) + _CLEAR_MM / 2
    yield from _boxes(Room(room.x, top - 3 * _ROW_MM, width, 3 * _ROW_MM), bars, cap, face)


def _boxes(room: Room, bars: Bars, cap: float, face: Face) -> Iterator[Shape]:
    """Yield a row of boxes for each bar, and lines for printer, paper and date."""
    labels = (f"Long edge, {bars.long_mm:g} mm", f"Short edge, {bars.short_mm:g} mm")
    left = room.x + max(face.width_mm(label, cap_mm=cap) for label in labels) + 3.0
    pitch = (room.right - left) / (len(_BOXES) - 1 + _MEAN_MM)
    for row, label in enumerate(labels):
        foot = room.top - (row + 1) * _ROW_MM
        yield Text(label, room.x, foot + (_BOX_MM - cap) / 2, cap, key=f"boxes:{row}")
        for place, name in enumerate(_BOXES):
            wide = pitch * (_MEAN_MM if name == "mean" else 1.0) - 3.0
            stroke = 0.5 if name == "mean" else _STROKE_MM
            x = left + place * pitch
            yield box(x, foot, wide, _BOX_MM, stroke_mm=stroke, key=f"box:{row}:{name}")
            yield Text(name, x + 1.0, foot + _BOX_MM - 2.4, 1.6, key=f"box:{row}:{name}:name")
            yield Text("mm", x + wide - 1.0, foot + 1.2, 1.8, "end", key=f"box:{row}:{name}:unit")
    yield from _blanks(room, cap, face)


def _blanks(room: Room, cap: float, face: Face) -> Iterator[Shape]:
    """Yield lines to write on."""
    foot = room.y + 2.0
    for place, label in enumerate(("Printer", "Paper and tray", "Date")):
        x, right = (room.x + (place + n) * room.width / 3 for n in (0, 1))
        start = x + face.width_mm(label, cap_mm=cap) + 1.5
        yield Text(label, x, foot, cap, key=f"blank:{place}:label")
        yield line((start, foot - 0.6), (right - 3.0, foot - 0.6), stroke_mm=_STROKE_MM,
                   key=f"blank:{place}")  # fmt: skip
