"""Rigs that cannot be put together, as what is left out."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from focuschart.errors import LeftOut
from focuschart.kit.schema import Kit

WHOLE_RIG = "the rig"
"""What is left out where nothing of a rig can be made."""


def broken_rigs(kit: Kit, only: Collection[str]) -> Iterator[LeftOut]:
    """Yield the rigs of a kit, or of `only` some, that cannot be put together."""
    for rig_id, problems in kit.broken.items():
        read = any(reading.rig == rig_id and not reading.ignore for reading in kit.readings)
        what = f"{WHOLE_RIG} and its readings" if read else WHOLE_RIG
        if not only or rig_id in only:
            yield from (LeftOut(rig_id, what, each.place, each.rule) for each in problems)
