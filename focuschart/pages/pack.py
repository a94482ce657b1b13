"""The second straight line: from solved charts to pages. Lengths and words only, no renderer."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from focuschart.chart.model import RigChart
from focuschart.kit.schema import Kit
from focuschart.layout.page import Face, Page
from focuschart.layout.sheet import sheets
from focuschart.pages.cards import card_items
from focuschart.pages.strips import ruler_items, strip_items


@dataclass(frozen=True, slots=True)
class Paper:
    """What the user prints on: a named paper and a card size."""

    paper: str = "A4"
    card: str = "ID-1"


def pack_pages(
    kit: Kit, charts: Sequence[RigChart], *, face: Face, on: Paper
) -> Mapping[str, list[Page]]:
    """Return the pages of a pack by document: strips, cards and rulers; empty ones are left out.

    Raises PageError for what does not fit.
    """
    documents = {
        "strips": (strip_items(kit, charts, face=face), "Marker and index strips"),
        "cards": (card_items(kit, charts, face=face, size=on.card), "Pocket cards"),
        "rulers": (ruler_items(charts, face=face), "Ruler strips"),
    }
    return {
        name: sheets(items, paper=on.paper, title=f"{kit.name}: {title}", face=face)
        for name, (items, title) in documents.items()
        if items
    }


def printed_texts(kit: Kit) -> Iterator[tuple[str, str]]:
    """Yield every text of a kit that is printed, with its key."""
    yield "name", kit.name
    for section in ("taking_lenses", "attachments", "rigs"):
        for part_id, part in getattr(kit, section).items():
            yield f"{section}.{part_id}.name", part.name
