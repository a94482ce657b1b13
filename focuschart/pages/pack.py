"""The second straight line: from solved charts to pages. Lengths and words only, no renderer."""

from __future__ import annotations

from collections.abc import Container, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from focuschart.chart.model import RigChart
from focuschart.kit.schema import Kit
from focuschart.layout.page import Face
from focuschart.layout.sheet.finish import Finish
from focuschart.layout.sheet.papers import whole_sheet
from focuschart.layout.sheet.pieces import Item
from focuschart.layout.sheet.sheets import Imposition, has_room, imposed
from focuschart.pages.cards import card_items
from focuschart.pages.strips import ruler_items, strip_items
from focuschart.prints.facts import PRINTS, Print

DOCUMENTS = ("strips", "cards", "rulers")
CARDS = ("cards", "to-print-cards")
"""The documents of cards, of which every second page may be a back."""


@dataclass(frozen=True, slots=True)
class Paper:
    """What the user prints on: paper and cards, and how strips and cards are cut."""

    paper: str = "A4"
    card: str = "ID-1"
    finish: Finish = field(default_factory=Finish)
    two_sided: bool = False
    """Whether cards are printed on both sides, not to fold."""


def pack_pages(
    kit: Kit, charts: Sequence[RigChart], *, face: Face, on: Paper
) -> Mapping[str, Imposition]:
    """Return the sheets of a pack by document: strips, cards and rulers; empty ones are left out.

    Raises PageError for what does not fit.
    """
    return {
        name: one
        for document in DOCUMENTS
        for name, one in pack_document(document, kit, charts, face=face, on=on).items()
    }


def pack_document(
    name: str, kit: Kit, charts: Sequence[RigChart], *, face: Face, on: Paper
) -> Mapping[str, Imposition]:
    """Return the sheets of one of the `DOCUMENTS` under its name, nothing for an empty one.

    Raises PageError for what does not fit.
    """
    if name == "strips":
        items, title = strip_items(kit, charts, face=face), "Marker and index strips"
    elif name == "cards":
        items, title = _card_items(kit, charts, face, on), "Pocket cards"
    else:
        items, title = ruler_items(charts, face=face), "Ruler strips"
    return _laid_out(kit, {name: (items, title)}, face=face, on=on)


def _card_items(kit: Kit, charts: Sequence[RigChart], face: Face, on: Paper) -> list[Item]:
    return card_items(kit, charts, face=face, size=on.card, two_sided=on.two_sided)


def _laid_out(
    kit: Kit, documents: Mapping[str, tuple[list[Item], str]], *, face: Face, on: Paper
) -> Mapping[str, Imposition]:
    once = replace(on.finish, copies=1)
    return {
        name: imposed(
            items,
            paper=_paper_for(name, items, on),
            title=f"{kit.name}: {title}",
            face=face,
            finish=once if name == "rulers" else on.finish,
        )
        for name, (items, title) in documents.items()
        if items
    }


def _paper_for(name: str, items: Sequence[Item], on: Paper) -> str:
    """Return the paper of a document: cards larger than a label or a roll go on whole sheets."""
    if name not in CARDS or on.two_sided or has_room(items, paper=on.paper, finish=on.finish):
        return on.paper
    return whole_sheet(on.paper)


def chosen_pages(
    kit: Kit, charts: Sequence[RigChart], chosen: Container[tuple[str, Print]], *, face: Face,
    on: Paper,
) -> Mapping[str, Imposition]:  # fmt: skip
    """Return some prints alone, by rig and print, packed on as few sheets as can be.

    Raises PageError for what does not fit.
    """
    strips = strip_items(kit, charts, face=face)
    prints = _card_items(kit, charts, face, on)
    documents = {"to-print-strips": (strips, "Strips to print"),
                 "to-print-cards": (prints, "Cards to print")}  # fmt: skip
    wanted = {
        name: ([item for item in items if print_of(item.key) in chosen], title)
        for name, (items, title) in documents.items()
    }
    return _laid_out(kit, wanted, face=face, on=on)


def print_of(key: str) -> tuple[str, Print]:
    """Return rig and print of an item by its key; cards are numbered after it."""
    rig_id, _, rest = key.partition("/")
    name = rest.partition("/")[0] if rest.rpartition("/")[2].isdigit() else rest
    return rig_id, PRINTS[PRINTS.index(name)]


def printed_texts(kit: Kit, rig_id: str) -> Iterator[tuple[str, str]]:
    """Yield every text of a kit that is printed for a rig, with its key."""
    rig = kit.rigs[rig_id]
    yield "name", kit.name
    yield f"taking_lenses.{rig.taking_lens}.name", kit.taking_lenses[rig.taking_lens].name
    yield f"attachments.{rig.attachment}.name", kit.attachments[rig.attachment].name
    yield f"rigs.{rig_id}.name", rig.name
