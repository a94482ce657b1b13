"""The files of a rack's sheet, and the name of the folder for them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from focuschart.errors import GlyphError, KitError, PageError
from focuschart.pages.rack import rack_pages
from focuschart.store.documents import load_face, rendered, unprintable
from focuschart.store.folders import folder_name
from focuschart.units import format_length

if TYPE_CHECKING:
    from pathlib import Path

    from focuschart.chart.rack import Rack


def rack_folder(kit: Path, rack: Rack) -> str:
    """Return a folder name made from rig and distances: each rack keeps its own sheet."""
    ends = (format_length(float(rack.at.distances_mm[k])).replace(" ", "") for k in (0, -1))
    return f"{folder_name(kit)}-rack-{rack.chart.rig.rig_id}-{'-to-'.join(ends)}"


def rack_files(
    kit: Path, rack: Rack, *, seconds: float, paper: str, font: Path | None
) -> dict[str, bytes]:
    """Return the files of a rack's sheet, by name; the move takes `seconds`.

    Raises KitError, PageError or GlyphError, with the kit's name, for a text that cannot be printed
    or a sheet that does not fit the paper.
    """
    face, chart = load_face(font), rack.chart
    problems = unprintable(chart.kit, [chart.rig.rig_id], face)
    if problems:
        raise KitError(str(kit), [problem for found in problems.values() for problem in found])
    try:
        pages = rack_pages(chart.kit, rack, seconds=seconds, face=face, paper=paper)
    except (PageError, GlyphError) as error:
        raise type(error)(f"{kit}: {error}") from None
    return rendered({"rack": pages}, face=face, title=chart.kit.name)
