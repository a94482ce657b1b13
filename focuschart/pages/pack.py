"""The second straight line: from solved charts to pages. Lengths and words only, no renderer."""

from __future__ import annotations

from collections.abc import Callable, Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from focuschart.chart.model import RigChart
from focuschart.errors import FocusChartError, GlyphError, PageError
from focuschart.kit.schema import Kit
from focuschart.layout.page import Face
from focuschart.layout.sheet.finish import Finish
from focuschart.layout.sheet.papers import whole_sheet
from focuschart.layout.sheet.pieces import Item
from focuschart.layout.sheet.sheets import Imposition, has_room, imposed
from focuschart.pages.cards import cards_of
from focuschart.pages.making import Making, made
from focuschart.pages.strips import rulers_of, strips_of
from focuschart.prints.facts import PRINTS, Print

DOCUMENTS = ("strips", "cards", "rulers")
CARDS = ("cards", "to-print-cards")
"""The documents of cards, of which every second page may be a back."""
GLUE = "No adhesive on coatings or rubber"
LASER = "No laser on vinyl or PVC film"
"""Cautions where the hand is at work, short; the README says why."""


@dataclass(frozen=True, slots=True)
class Paper:
    """What the user prints on: paper and cards, and how strips and cards are cut."""

    paper: str = "A4"
    card: str = "ID-1"
    finish: Finish = field(default_factory=Finish)
    two_sided: bool = False
    """Whether cards are printed on both sides, not to fold."""
    cutter: bool = False
    """Whether a cutter or film is in play."""


Refuse = Callable[[str, str, FocusChartError], None]
"""What is done with a print that cannot be made: its rig, what of it, and why."""


def pack_document(
    name: str, kit: Kit, charts: Sequence[RigChart], *, face: Face, on: Paper,
    refuse: Refuse | None = None,
) -> Mapping[str, Imposition]:  # fmt: skip
    """Return the sheets of one of the `DOCUMENTS` under its name, nothing for an empty one.

    Raises PageError for what does not fit, GlyphError for a text that cannot be set; with
    `refuse`, each print that is to blame is given to it, and the sheets hold the others.
    """
    titles = {"strips": "Marker and index strips", "cards": "Pocket cards"}
    title = titles.get(name, "Ruler strips")
    makings = _makings(name, kit, charts, face, on)
    if refuse is None:
        return _laid_out(kit, {name: (made(makings), title)}, face=face, on=on)
    return _fitting(kit, name, title, _drawn(makings, refuse), face=face, on=on, refuse=refuse)


def _makings(
    name: str, kit: Kit, charts: Sequence[RigChart], face: Face, on: Paper
) -> Iterator[Making]:
    if name == "rulers":
        yield from rulers_of(charts, face=face)
        return
    for chart in charts:
        if name == "strips":
            yield from strips_of(kit, chart, face=face)
        else:
            yield from cards_of(kit, chart, face=face, size=on.card, two_sided=on.two_sided)


def _drawn(makings: Iterable[Making], refuse: Refuse) -> Iterator[tuple[Making, list[Item]]]:
    """Yield the prints that can be drawn, with their items; the others are refused."""
    for making in makings:
        try:
            yield making, making.make()
        except (PageError, GlyphError) as error:
            refuse(making.rig_id, making.what, error)


def _fitting(
    kit: Kit, name: str, title: str, drawn: Iterable[tuple[Making, list[Item]]], *, face: Face,
    on: Paper, refuse: Refuse,
) -> Mapping[str, Imposition]:  # fmt: skip
    """Return the sheets of the prints that fit; the others are refused."""

    def laid_out(items: list[Item]) -> Mapping[str, Imposition]:
        return _laid_out(kit, {name: (items, title)}, face=face, on=on)

    found = list(drawn)
    try:
        return laid_out([item for _, items in found for item in items])
    except PageError:
        fitting: list[Item] = []
        for making, items in found:
            try:
                laid_out(items)
            except PageError as error:
                refuse(making.rig_id, making.what, error)
            else:
                fitting += items
        return laid_out(fitting)


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
            cautions=_cautions(name, on),
        )
        for name, (items, title) in documents.items()
        if items
    }


def _cautions(name: str, on: Paper) -> list[str]:
    """Return what is said on the sheets of a document: what is glued on, and what may be cut.

    Files of the cut alone hold no words, which a cutter would cut: their sheets say it.
    """
    return ([] if name in CARDS else [GLUE]) + ([LASER] if on.cutter else [])


def _paper_for(name: str, items: Sequence[Item], on: Paper) -> str:
    """Return the paper of a document: cards larger than a label or a roll go on whole sheets."""
    if name not in CARDS or on.two_sided or has_room(items, paper=on.paper, finish=on.finish):
        return on.paper
    return whole_sheet(on.paper)


def chosen_pages(
    kit: Kit, charts: Sequence[RigChart], chosen: Container[tuple[str, Print]], *, face: Face,
    on: Paper, refuse: Refuse,
) -> Mapping[str, Imposition]:  # fmt: skip
    """Return some prints alone, by rig and print, packed on as few sheets as can be.

    Those that cannot be made are given to `refuse`.
    """
    found: dict[str, Imposition] = {}
    for name, title in (("strips", "Strips to print"), ("cards", "Cards to print")):
        wanted = (
            (making, [item for item in items if print_of(item.key) in chosen])
            for making, items in _drawn(_makings(name, kit, charts, face, on), refuse)
        )
        found |= _fitting(kit, f"to-print-{name}", title, wanted, face=face, on=on, refuse=refuse)
    return found


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
