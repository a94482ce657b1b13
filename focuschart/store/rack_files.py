"""The sheet of a rack, for a folder of its own."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from focuschart.errors import GlyphError, KitError, PageError
from focuschart.pages.rack import rack_pages
from focuschart.store.documents import folder_name, load_face, rendered, unprintable
from focuschart.units import format_length

if TYPE_CHECKING:
    from pathlib import Path

    from focuschart.chart.rack import Rack


def rack_folder(kit: Path, found: Rack) -> str:
    """Return a name of its own for each move, so that one sheet never replaces another's."""
    ends = (format_length(float(found.at.distances_mm[k])).replace(" ", "") for k in (0, -1))
    named = f"{folder_name(kit)}-rack-{found.chart.rig.rig_id}-{'-to-'.join(ends)}"
    return re.sub(r"[^A-Za-z0-9_.-]+", "-", named)


def rack_files(
    kit: Path, found: Rack, *, seconds: float, paper: str, font: Path | None
) -> dict[str, bytes]:
    """Return the files of the sheet of a move that takes some seconds.

    Raises KitError, PageError and GlyphError, naming the kit, for what does not fit or print.
    """
    face, chart = load_face(font), found.chart
    silent = unprintable(chart.kit, [chart.rig.rig_id], face)
    if silent:
        raise KitError(str(kit), [problem for each in silent.values() for problem in each])
    try:
        pages = rack_pages(chart.kit, found, seconds=seconds, face=face, paper=paper)
    except (PageError, GlyphError) as error:
        raise type(error)(f"{kit}: {error}") from None
    return rendered({"rack": pages}, face=face, title=chart.kit.name)
