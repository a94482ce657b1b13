"""The rig sheet: a side view with what to set up beside it, and footprints below, on one page."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import chain, product
from typing import NamedTuple

from focuschart.errors import PageError
from focuschart.layout.page import Face, Page, Shape, Text, line, moved
from focuschart.layout.rig.footprint import Panel, footprint_block
from focuschart.layout.rig.sideview import LEGEND, SCALES, SideView, side_view_block
from focuschart.layout.sheet.block import Block
from focuschart.layout.sheet.furniture import BOTTOM_MM, EDGE_MM, LEFT_MM, TOP_MM, furniture, headed
from focuschart.layout.sheet.papers import paper_size
from focuschart.layout.text.paragraphs import height_mm, set_words
from focuschart.layout.text.typeset import (
    LEADING,
    SMALLEST_CAP_MM,
    cut_words,
    shortened,
    widest,
    wrapped,
)

Fact = tuple[str, str]
"""Label and text."""

_HEAD_CAP_MM = 4.0
_HEAD_MM = 9.0
_GAP_MM = 7.0
_SINK_MM = 3.0
"""How far a block, whose margin is blank, may reach below the room."""
_LEAST_WORDS_MM = 78.0
_WORD_CAPS_MM = (2.2, 2.0, 1.8, SMALLEST_CAP_MM)
_NO_FOOTPRINTS = "The footprints find no room on this paper."
_BETWEEN = 0.75
"""Added between facts, in heights of capitals."""


@dataclass(frozen=True, slots=True)
class RigSheet:
    """What one sheet shows; facts in order of importance.

    `beams` are panels drawn to one scale, chosen to fit; `fields` keep their own. `notes` tell
    what the panels show, or why there is none.
    """

    title: str
    heading: str
    view: SideView
    facts: tuple[Fact, ...]
    cautions: tuple[str, ...]
    beams: tuple[Panel, ...] = ()
    fields: tuple[Panel, ...] = ()
    notes: tuple[str, ...] = ()


class _Plan(NamedTuple):
    """The blocks of a sheet at scales that fit, and the words beside the view."""

    view: Block
    panels: Block | None
    words: tuple[Shape, ...]


def rig_page(sheet: RigSheet, *, paper: str, face: Face, number: int = 1, count: int = 1) -> Page:
    """Return the page of a rig; `number` of `count` is printed as on other sheets.

    View and footprints are as large as both can be; facts that do not fit even in the smallest
    legible letters are left out, the last first. Raises PageError for an unknown paper and where
    not even the smallest scales fit.
    """
    width, height = paper_size(paper)
    room = width - LEFT_MM - EDGE_MM, height - BOTTOM_MM - TOP_MM
    top = BOTTOM_MM + room[1]
    plan = _plan(sheet, (room[0], room[1] - _HEAD_MM), face)
    heading = shortened(sheet.heading, face=face, cap_mm=_HEAD_CAP_MM, width_mm=room[0])
    title = headed(sheet.title, width, face)
    shapes = [
        *furniture(width, height, title, number, count),
        Text(heading, LEFT_MM, top - _HEAD_CAP_MM, _HEAD_CAP_MM, key="rig"),
        *moved(plan.view.shapes, LEFT_MM - 1.0, top - _HEAD_MM - plan.view.height_mm),
        *moved(plan.words, LEFT_MM + plan.view.width_mm + _GAP_MM, top - _HEAD_MM - 1.0),
    ]
    if plan.panels is not None:
        level = BOTTOM_MM - _SINK_MM + plan.panels.height_mm + 0.5
        shapes.append(line((LEFT_MM, level), (width - EDGE_MM, level), stroke_mm=0.15, key="rule"))
        shapes += moved(plan.panels.shapes, LEFT_MM - 4.0, BOTTOM_MM - _SINK_MM)
    return Page(width, height, sheet.title, tuple(shapes))


def _plan(sheet: RigSheet, room: tuple[float, float], face: Face) -> _Plan:
    """Return the plan with the largest scales that fit, the view's scale first.

    Showing all facts counts more than scale; footprints are left out if no scale has room for them.
    """
    views = cache(lambda i: side_view_block(sheet.view, scale=SCALES[i], face=face))
    panels = cache(lambda j: _panels(sheet, SCALES[j], face))
    every = range(len(SCALES))
    pairs = sorted(product(every, every), key=sum) if sheet.beams else []
    plans: Iterator[tuple[Block, Block | None]] = chain(
        ((views(i), panels(j)) for i, j in pairs), ((views(i), None) for i in every)
    )
    needed = cache(lambda wide: _needed(sheet, wide, face))
    chosen = None
    for plan in (plan for plan in plans if _fits(*plan, room)):
        wide, high = _beside(*plan, room)
        has_all = needed(wide) <= high
        chosen = plan if has_all or chosen is None else chosen
        if has_all:
            break
    if chosen is None:
        raise PageError(f"{sheet.heading}: no scale fits this paper: choose a larger one")
    view, below = chosen
    shown = sheet if below or not sheet.beams else replace(sheet, notes=(_NO_FOOTPRINTS,))
    return _Plan(view, below, tuple(_words(shown, _beside(view, below, room), face)))


def _beside(view: Block, panels: Block | None, room: tuple[float, float]) -> tuple[float, float]:
    """Return width and height of the room for words beside the view, above the footprints."""
    high = room[1] - (panels.height_mm + 2.0 - _SINK_MM if panels else 0.0)
    return room[0] - view.width_mm - _GAP_MM, high


def _needed(sheet: RigSheet, width: float, face: Face) -> float:
    """Return the height of all words in the smallest capitals."""
    return _high(sheet.facts, _sentences(sheet), SMALLEST_CAP_MM, width, face)


def _panels(sheet: RigSheet, scale: float, face: Face) -> Block:
    scaled = [replace(panel, scale=scale) for panel in sheet.beams]
    return footprint_block([*scaled, *sheet.fields], face=face)


def _fits(view: Block, panels: Block | None, room: tuple[float, float]) -> bool:
    if view.width_mm + _GAP_MM + _LEAST_WORDS_MM > room[0]:
        return False
    if panels is None:
        return view.height_mm <= room[1]
    return (
        panels.width_mm <= room[0] + 8.0
        and view.height_mm + panels.height_mm + 2.0 - _SINK_MM <= room[1]
    )


# --- words ----------------------------------------------------------------------------------------


def _words(sheet: RigSheet, room: tuple[float, float], face: Face) -> Iterator[Shape]:
    """Yield facts from the top and cautions below them, origin at the room's upper left corner."""
    facts, last, cap = _fitted(sheet.facts, _sentences(sheet), room, face)
    depth = 0.0
    for number, (label, lines) in enumerate(_set(facts, cap, room[0], face)):
        yield Text(label, 0.0, -depth - cap, cap, key=f"fact:{number}")
        for place, text in enumerate(lines):
            y = -depth - cap - place * LEADING * cap
            yield Text(text, _label_mm(facts, cap, face), y, cap, key=f"fact:{number}:{place}")
        depth += (LEADING * len(lines) + _BETWEEN) * cap
    yield line((0.0, -depth), (room[0], -depth), stroke_mm=0.15, key="rule:cautions")
    yield from set_words(last, x=0.0, top=-depth - cap, cap_mm=cap, width_mm=room[0], face=face,
                         key="caution")  # fmt: skip


def _fitted(
    facts: Sequence[Fact], last: Sequence[str], room: tuple[float, float], face: Face
) -> tuple[Sequence[Fact], Sequence[str], float]:
    """Return the facts that fit, the sentences below them, and the capitals (mm) of both."""
    for kept in range(len(facts), -1, -1):
        for cap in _WORD_CAPS_MM:
            sentences = (*last, *_left_out(facts[kept:]))
            if _high(facts[:kept], sentences, cap, room[0], face) <= room[1]:
                return facts[:kept], _cut(sentences, cap, room[0], face), cap
    raise PageError("the cautions of a rig sheet find no room: choose larger paper")


def _sentences(sheet: RigSheet) -> tuple[str, ...]:
    """Return the sentences below the facts: cautions, legend, notes."""
    return (*sheet.cautions, LEGEND, *sheet.notes)


def _left_out(facts: Sequence[Fact]) -> tuple[str, ...]:
    labels = ", ".join(label for label, _ in facts if label)
    return (f"No room here for all: see the check for {labels}.",) if labels else ()


def _cut(texts: Sequence[str], cap: float, width: float, face: Face) -> list[str]:
    return [cut_words(text, face=face, cap_mm=cap, width_mm=width) for text in texts]


def _high(
    facts: Sequence[Fact], last: Sequence[str], cap: float, width: float, face: Face
) -> float:
    """Return the height of facts and of the sentences `last` below them."""
    below = height_mm(_cut(last, cap, width, face), cap_mm=cap, width_mm=width, face=face)
    return below + 2.0 * cap + _height(facts, cap, width, face)


def _height(facts: Sequence[Fact], cap: float, width: float, face: Face) -> float:
    return sum(
        (LEADING * len(lines) + _BETWEEN) * cap for _, lines in _set(facts, cap, width, face)
    )


def _set(
    facts: Sequence[Fact], cap: float, width: float, face: Face
) -> list[tuple[str, list[str]]]:
    beside = width - _label_mm(facts, cap, face)
    return [(label, _broken(text, cap, beside, face)) for label, text in facts]


def _broken(text: str, cap: float, width: float, face: Face) -> list[str]:
    """Return the text in lines, with words wider than `width` shortened."""
    cut = cut_words(text, face=face, cap_mm=cap, width_mm=width)
    return wrapped(cut, face=face, cap_mm=cap, width_mm=width)


def _label_mm(facts: Sequence[Fact], cap: float, face: Face) -> float:
    return widest([label for label, _ in facts], face=face, cap_mm=cap) + 2.5
