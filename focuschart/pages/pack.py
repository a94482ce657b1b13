"""The documents of a pack: prints of each rig drawn from its chart, laid out on sheets."""

from __future__ import annotations

from collections.abc import Callable, Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from focuschart.chart.model import Chart
from focuschart.errors import FocusChartError, GlyphError, PageError
from focuschart.kit.schema import Kit
from focuschart.layout.page import Face
from focuschart.layout.sheet.finish import Finish
from focuschart.layout.sheet.papers import whole_sheet
from focuschart.layout.sheet.pieces import Item
from focuschart.layout.sheet.sheets import Imposition, has_room, imposed
from focuschart.pages.cards import cards_of
from focuschart.pages.print_jobs import PrintJob, drawn_items
from focuschart.pages.steps import steps_of
from focuschart.pages.strips import rulers_of, strips_of
from focuschart.prints.facts import PRINTS, Print

DOCUMENTS = ("strips", "cards", "rulers")
CARDS = ("cards", "to-print-cards")
"""The documents that hold cards: printed two-sided, every second page is a back."""
GLUE = "No adhesive on coatings or rubber"
LASER = "No laser on vinyl or PVC film"
"""Short cautions, printed on the sheets concerned; README gives the reasons."""


@dataclass(frozen=True, slots=True)
class Paper:
    """The options of printing: paper, card size, and how strips and cards are cut."""

    paper: str = "A4"
    card: str = "ID-1"
    finish: Finish = field(default_factory=Finish)
    two_sided: bool = False
    """Whether cards are printed on both sides instead of folded."""
    cutter: bool = False
    """Whether anything is cut by machine or laminated."""


Refuse = Callable[[str, str, FocusChartError], None]
"""Called for a print that cannot be made, with its rig, what it is in words, and the error."""


def pack_document(
    name: str, kit: Kit, charts: Sequence[Chart], *, face: Face, on: Paper,
    refuse: Refuse | None = None,
) -> Mapping[str, Imposition]:  # fmt: skip
    """Return the sheets of one of the `DOCUMENTS`, by its name; empty where it has no print.

    Raises PageError where a print does not fit, GlyphError for a text that the face cannot print;
    with `refuse`, each print at fault is reported to it instead, and the sheets hold the others.
    """
    titles = {"strips": "Marker and index strips", "cards": "Pocket cards"}
    title = titles.get(name, "Ruler strips")
    jobs = _jobs(name, charts, face, on)
    if refuse is None:
        return _laid_out(kit, name, title, drawn_items(jobs), charts, face=face, on=on)
    drawn = _drawn(jobs, refuse)
    return _fitting(kit, name, title, drawn, charts, face=face, on=on, refuse=refuse)


def _jobs(name: str, charts: Sequence[Chart], face: Face, on: Paper) -> Iterator[PrintJob]:
    if name == "rulers":
        yield from rulers_of(charts, face=face)
        return
    for chart in charts:
        if name == "strips":
            yield from strips_of(chart, face=face)
        else:
            yield from cards_of(chart, face=face, size=on.card, two_sided=on.two_sided)


def _drawn(jobs: Iterable[PrintJob], refuse: Refuse) -> Iterator[tuple[PrintJob, list[Item]]]:
    """Yield the prints that can be drawn, with their items; the others are refused."""
    for job in jobs:
        try:
            yield job, job.draw()
        except (PageError, GlyphError) as error:
            refuse(job.rig_id, job.what, error)


def _fitting(
    kit: Kit, name: str, title: str, drawn: Iterable[tuple[PrintJob, list[Item]]],
    charts: Sequence[Chart], *, face: Face, on: Paper, refuse: Refuse,
) -> Mapping[str, Imposition]:  # fmt: skip
    """Return the sheets of the prints that fit; the others are refused."""

    def laid_out(items: list[Item]) -> Mapping[str, Imposition]:
        return _laid_out(kit, name, title, items, charts, face=face, on=on)

    prints = list(drawn)
    try:
        return laid_out([item for _, items in prints for item in items])
    except PageError:
        fitting: list[Item] = []
        for job, items in prints:
            try:
                laid_out(items)
            except PageError as error:
                refuse(job.rig_id, job.what, error)
            else:
                fitting += items
        return laid_out(fitting)


def _laid_out(
    kit: Kit, name: str, title: str, items: list[Item], charts: Sequence[Chart], *, face: Face,
    on: Paper,
) -> Mapping[str, Imposition]:  # fmt: skip
    """Return the sheets of a document by its name, none without items; of rulers only one copy."""
    if not items:
        return {}
    once = replace(on.finish, copies=1)
    sheets = imposed(
        items,
        paper=_paper_for(name, items, on),
        title=f"{kit.name}: {title}",
        face=face,
        finish=once if name == "rulers" else on.finish,
        cautions=_cautions(name, on),
        steps=steps_of(name, charts, on.finish, two_sided=on.two_sided),
    )
    return {name: sheets}


def _cautions(name: str, on: Paper) -> list[str]:
    """Return the cautions on the sheets of a document: on glue, and on laser cutting.

    A cutter's own file has no words, since they would be cut; so the sheets have the caution.
    """
    return ([] if name in CARDS else [GLUE]) + ([LASER] if on.cutter else [])


def _paper_for(name: str, items: Sequence[Item], on: Paper) -> str:
    """Return the paper of a document: a whole sheet for cards too large for a label or a roll."""
    if name not in CARDS or on.two_sided or has_room(items, paper=on.paper, finish=on.finish):
        return on.paper
    return whole_sheet(on.paper)


def chosen_pages(
    kit: Kit, charts: Sequence[Chart], chosen: Container[tuple[str, Print]], *, face: Face,
    on: Paper, refuse: Refuse,
) -> Mapping[str, Imposition]:  # fmt: skip
    """Return the sheets of the chosen prints alone, by document, on as few sheets as possible.

    `chosen` holds pairs of rig and print. Prints that cannot be made are reported to `refuse`.
    """
    documents: dict[str, Imposition] = {}
    for name, title in (("strips", "Strips to print"), ("cards", "Cards to print")):
        wanted = (
            (job, [item for item in items if print_of(item.key) in chosen])
            for job, items in _drawn(_jobs(name, charts, face, on), refuse)
        )
        documents |= _fitting(
            kit, f"to-print-{name}", title, wanted, charts, face=face, on=on, refuse=refuse
        )
    return documents


def print_of(key: str) -> tuple[str, Print]:
    """Return rig and print named by an item's key, which for cards ends in a number."""
    rig_id, _, rest = key.partition("/")
    name = rest.partition("/")[0] if rest.rpartition("/")[2].isdigit() else rest
    return rig_id, PRINTS[PRINTS.index(name)]


def printed_texts(kit: Kit, rig_id: str) -> Iterator[tuple[str, str]]:
    """Yield key and text of every name of the kit that is printed for a rig."""
    rig = kit.rigs[rig_id]
    yield "name", kit.name
    yield f"taking_lenses.{rig.taking_lens}.name", kit.taking_lenses[rig.taking_lens].name
    yield f"attachments.{rig.attachment}.name", kit.attachments[rig.attachment].name
    yield f"rigs.{rig_id}.name", rig.name
