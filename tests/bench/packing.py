"""Strips packed on sheets: whether a thousand take longer, each, than ten."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from focuschart.layout.page import line
from focuschart.layout.sheet.block import Block, cut_box
from focuschart.layout.sheet.pieces import Item
from focuschart.layout.sheet.sheets import imposed
from focuschart.renderers.glyphs import TypeFace


def _strip(number: int) -> Item:
    length = 150.0 + 7.0 * (number % 17)
    ticks = tuple(line((x, 0.0), (x, 3.0)) for x in range(1, int(length)))
    return Item(f"{number}", f"strip {number}", Block(length, 12.0, ticks, cut_box(length, 12.0)))


def packing_runs() -> tuple[Callable[[], object], Callable[[], object]]:
    """Return what lays a thousand strips on A4, and what lays ten a hundred times over."""
    items = [_strip(number) for number in range(1000)]
    lay = partial(imposed, paper="A4", title="strips", face=TypeFace.load())
    return (
        lambda: lay(items),
        lambda: [lay(items[start : start + 10]) for start in range(0, 1000, 10)],
    )
