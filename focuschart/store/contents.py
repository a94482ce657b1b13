"""What the files of a rig's folder are for, in the order in which they are opened."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from focuschart.store.folders import rig_folder

if TYPE_CHECKING:
    from pathlib import Path

_PURPOSES = {
    "00-read-me-first.pdf": "what to print, cut and tape, in which order, and how sure it is",
    "barrels.pdf": "each strip on its ring as you see it: compare before you tape",
    "strips.pdf": "marker strips and index strips, to cut and tape on",
    "cards.pdf": "the pocket card, to fold and laminate",
    "rulers.pdf": "ruler strips, for readings at the bench",
    "rigs.pdf": "the rig from the side, its balance and its setup",
    "chart.txt": "all settings, and how sure they are",
}


def contents(folder: Path, rigs: Iterable[str]) -> Iterator[tuple[str, str]]:
    """Yield the files to open that any rig's folder has, in order, and what each is for."""
    folders = [folder / rig_folder(rig) for rig in rigs]
    for name, purpose in _PURPOSES.items():
        if any((each / name).is_file() for each in folders):
            yield name, purpose
