"""Pieces and packs of several rigs at once, as tests draw them."""

from __future__ import annotations

from collections.abc import Sequence

from focuschart.chart.model import Chart
from focuschart.kit.schema import Kit
from focuschart.layout.sheet.pieces import Item
from focuschart.layout.sheet.sheets import Imposition
from focuschart.pages.cards import cards_of
from focuschart.pages.pack import DOCUMENTS, Paper, pack_document
from focuschart.pages.print_jobs import drawn_items
from focuschart.pages.strips import rulers_of, strips_of
from tests.sheets import FACE


def strip_items(charts: Sequence[Chart]) -> list[Item]:
    return drawn_items(one for chart in charts for one in strips_of(chart, face=FACE))


def card_items(chart: Chart, *, size: str) -> list[Item]:
    return drawn_items(cards_of(chart, face=FACE, size=size))


def ruler_items(charts: Sequence[Chart]) -> list[Item]:
    return drawn_items(rulers_of(charts, face=FACE))


def pack_pages(kit: Kit, charts: Sequence[Chart], *, on: Paper) -> dict[str, Imposition]:
    """Return the sheets of every document that has any, by name."""
    return {
        name: sheets
        for document in DOCUMENTS
        for name, sheets in pack_document(document, kit, charts, face=FACE, on=on).items()
    }
