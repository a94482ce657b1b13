"""Prints that are drawn later, one by one, so that a print that fails does not stop the others."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import NamedTuple

from focuschart.layout.sheet.pieces import Item


class PrintJob(NamedTuple):
    """A print to be made: its rig, what it is in words, and the function that draws its items.

    `draw` raises PageError where something does not fit, GlyphError for a text that the face
    cannot print.
    """

    rig_id: str
    what: str
    draw: Callable[[], list[Item]]


def drawn_items(jobs: Iterable[PrintJob]) -> list[Item]:
    """Return the items of all prints; raises what the first failing one raises."""
    return [item for job in jobs for item in job.draw()]
