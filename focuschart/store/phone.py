"""The page for a phone: its parts as they lie in the package, its file, and a build's page."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from importlib.resources import files
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from focuschart.chart.model import Chart
    from focuschart.kit.schema import Kit
    from focuschart.layout.page import Face
    from focuschart.phone.rig import RigData

PHONE = "phone.html"
"""The name of a build's page, beside the folders of its rigs."""
MOST_ON_PHONE = 100
"""The most rigs on a build's page: of more it would be too heavy for a phone; judgement."""


def phone_page(kit: Kit, rigs: Sequence[RigData], *, left_out: Sequence[str] = ()) -> str:
    """Return the page of some rigs of a kit; `left_out` has a sentence for each that is missing."""
    from focuschart.phone.page import Parts, page

    parts = Parts(*(_text(f"page.{kind}") for kind in ("html", "css", "js")))
    return page(parts, rigs, kit=kit.name, units=kit.units, gauge_mm=kit.gauge, left_out=left_out)


def phone_rigs(charts: Iterable[Chart], *, face: Face) -> list[RigData]:
    """Return the data of the charts' rigs, with their strips as set in a typeface."""
    from focuschart.phone.rig import rig_data

    return [rig_data(chart, face=face) for chart in charts]


def noted(kit: Kit, chart: Chart, *, face: Face) -> str:
    """Return a rig's data as a pack's record notes it, nothing for a kit of too many rigs."""
    if len(kit.rigs) > MOST_ON_PHONE:
        return ""
    return json.dumps(phone_rigs([chart], face=face)[0], ensure_ascii=False, separators=(",", ":"))


def require_ours(folder: Path, *, kit: str, force: bool) -> None:
    """Raise OutputError, unless `force`, where a page in a kit's folder is not as a build left it.

    `kit` is the name of the kit's file.
    """
    from focuschart.store.record import known_record, refuse_foreign

    known = known_record(folder, kit, force=force)
    if not force:
        refuse_foreign(folder, {PHONE: b""}, known)


def write_page(folder: Path, bag: Kit, data: Mapping[str, str], *, kit: str, force: bool) -> bool:
    """Write the page of a kit into its folder, and return whether there is one.

    `data` is that of the rigs whose packs are current, as `noted`; `kit` is the name of the kit's
    file. A kit of too many rigs has no page.
    """
    from focuschart.store.record import known_record, write_pack

    texts = [data[rig_id] for rig_id in bag.rigs if data.get(rig_id)]
    many = len(bag.rigs) > MOST_ON_PHONE
    if not texts and not many:
        return False
    missing = [rig.name for rig_id, rig in bag.rigs.items() if not data.get(rig_id)]
    left_out = [f"{name}: no pack of it is up to date, build it." for name in missing]
    page = {} if many else {PHONE: phone_page(bag, [*map(json.loads, texts)], left_out=left_out)}
    known = known_record(folder, kit, force=force)
    others = [name for name in known.files if name != PHONE]
    if page or PHONE in known.files:
        contents = {name: text.encode() for name, text in page.items()}
        write_pack(folder, contents, kit=kit, force=force, notes=known.notes, kept=others)
    return bool(page)


def _text(name: str) -> str:
    return files("focuschart.phone").joinpath(name).read_text(encoding="utf-8")
