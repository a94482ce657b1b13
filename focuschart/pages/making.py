"""A print of a rig yet to be made, so that one that cannot be made leaves the others."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import NamedTuple

from focuschart.layout.sheet.pieces import Item


class Making(NamedTuple):
    """The rig, what of it, and what returns its items.

    `make` raises PageError for what has no room, GlyphError for a text that cannot be set.
    """

    rig_id: str
    what: str
    make: Callable[[], list[Item]]


def made(makings: Iterable[Making]) -> list[Item]:
    """Return the items of all; raises as each of them does."""
    return [item for making in makings for item in making.make()]
