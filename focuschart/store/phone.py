"""The page for a phone: its parts as they lie in the package, and its file."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from importlib.resources import files
from typing import TYPE_CHECKING

from focuschart.store.documents import load_face

if TYPE_CHECKING:
    from pathlib import Path

    from focuschart.chart.model import Chart
    from focuschart.kit.schema import Kit
    from focuschart.phone.rig import RigData

PHONE = "phone.html"
"""The name of a build's page, beside the folders of its rigs."""


def phone_page(kit: Kit, rigs: Sequence[RigData], *, left_out: Sequence[str] = ()) -> str:
    """Return the page of some rigs of a kit; `left_out` has a sentence for each that is missing."""
    from focuschart.phone.page import Parts, page

    parts = Parts(*(_text(f"page.{kind}") for kind in ("html", "css", "js")))
    return page(parts, rigs, kit=kit.name, units=kit.units, left_out=left_out)


def phone_rigs(charts: Iterable[Chart]) -> list[RigData]:
    """Return the data of the charts' rigs, with strips as set in the default typeface."""
    from focuschart.phone.rig import rig_data

    face = load_face(None)
    return [rig_data(chart, face=face) for chart in charts]


def write_phone(path: Path, text: str, *, force: bool) -> None:
    """Write a page; raises OutputError where there is another file, unless `force`."""
    from focuschart.store.files import write_new

    write_new(path, text, force=force)


def _text(name: str) -> str:
    return files("focuschart.phone").joinpath(name).read_text(encoding="utf-8")
