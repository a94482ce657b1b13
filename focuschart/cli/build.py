"""focuschart build: the packs of a kit, one folder a rig."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import click

from focuschart.cli.common import (
    advised,
    finish,
    kit_argument,
    out_option,
    progress,
    read_swapped,
    rig_option,
    swap_options,
)
from focuschart.cli.options import printing_options
from focuschart.errors import GlyphError, PageError

if TYPE_CHECKING:
    from pathlib import Path

    from focuschart.chart import RigChart
    from focuschart.errors import LeftOut
    from focuschart.kit.schema import Kit
    from focuschart.prints.difference import Comparison
    from focuschart.store.packs import Stand
    from focuschart.store.printing import Printing
    from focuschart.store.rig_pack import RigPack


@click.command()
@kit_argument
@rig_option
@swap_options
@out_option
@click.option(
    "--only-stale", is_flag=True,
    help="Also put what must be printed again, and nothing else, on sheets of its own.",
)  # fmt: skip
@click.option("--force", is_flag=True, help="Overwrite files that are not a former build's.")
@printing_options
def build(
    kit: Path,
    *,
    rigs: tuple[str, ...],
    taking_lens: str | None,
    rings: tuple[str, ...],
    out: Path,
    only_stale: bool,
    force: bool,
    printing: Printing,
) -> None:
    """Write strips, index strips, rulers, pocket cards and charts of a kit, and sheets of rigs.

    Every rig has a folder of its own; each document is written as PDF and as SVG at true scale.
    Rings without readings get their ruler strip only, and a rig gets a sheet where its lengths,
    masses and centres are all given. Rigs of which nothing has changed since they were last built
    are left as they are, so that a build that was stopped goes on where it was.
    """
    from focuschart.store.documents import folder_name, require_few
    from focuschart.store.files import alone
    from focuschart.store.packs import changed, remove_others, stands, write_rigs

    bag, asked = read_swapped(kit, rigs, taking_lens, rings)
    chosen = tuple(rig for rig in asked or bag.rigs if rig in bag.rigs)
    work = _Work(
        bag, kit, printing, out / folder_name(kit), swapped=bool(taking_lens or rings), asked=asked
    )
    click.get_current_context().with_resource(alone(work.folder))
    standing = stands(bag, chosen, printing, work.folder, kit=kit.name, force=force)
    found = {one.rig_id: one for one in standing}
    old = [one for one in found.values() if not one.current]
    packs: Iterable[RigPack] = _made(work, old, fits=len(old) < len(found))
    told: list[str] = []
    if only_stale:
        require_few(kit, tuple(one.rig_id for one in old))
        packs = list(packs)
        stale = [one for pack in packs for one in changed(found[pack.rig_id], pack, bag.units)]
        told = list(_to_print(work, stale, force=force))
    about = {"kit_name": bag.name, "swap": work.swapped}
    for pack in write_rigs(packs, found, kit=kit.name, force=force, about=about):
        click.echo("\n  ".join(pack.said))
        work.made.append(pack.rig_id)
    if not asked:
        for gone in remove_others(work.folder, bag, kit=kit.name):
            click.echo(f"{gone}  is no rig of this kit any more: its pack was taken away")
    current = [one for one in found.values() if one.current]
    _say(current, work)
    if printing.caution:
        click.echo(printing.caution)
    for line in told:
        click.echo(line)
    work.left_out.extend(each for one in current for each in one.left_out)
    finish(work.left_out, source=kit, made=bool(work.made or current))


@dataclass(frozen=True, slots=True)
class _Work:
    """One run: a kit, its file, how and where it is printed, and the rigs asked for.

    Noted as they come: charts, the rigs whose packs were written, and what was left out.
    """

    bag: Kit
    kit: Path
    printing: Printing
    folder: Path
    swapped: bool
    asked: tuple[str, ...]
    charts: list[RigChart] = field(default_factory=list)
    made: list[str] = field(default_factory=list)
    left_out: list[LeftOut] = field(default_factory=list)


def _made(work: _Work, old: list[Stand], *, fits: bool) -> Iterator[RigPack]:
    """Yield the packs of rigs that have changed, each solved and drawn; note what is left out.

    `fits` says whether the card and paper have done for a rig already.
    """
    from focuschart.kit.broken import broken_rigs
    from focuschart.store.documents import nameless, unprintable

    work.left_out.extend(broken_rigs(work.bag, work.asked))
    if not old:
        return
    from focuschart.store.rig_pack import Press, made

    work.printing.require()
    press = Press(work.bag, work.printing, work.printing.face())
    silent = unprintable(work.bag, (one.rig_id for one in old), press.face)
    work.left_out.extend(nameless(silent))
    known = {one.rig_id: one.documents for one in old if one.rig_id not in silent}
    if not known:
        return
    jobs = ((chart, known[chart.rig.rig_id]) for chart in _charts(work, known))
    packs = progress(made(press, jobs, len(known)), len(known), "Building")
    try:
        for pack in packs if fits or not work.printing.chosen else _fit_for_one(packs):
            work.left_out.extend(pack.left_out)
            if pack.keys:
                yield pack
    except (PageError, GlyphError) as error:
        raise type(error)(f"{work.kit}: {error}") from None


def _fit_for_one(packs: Iterable[RigPack]) -> Iterator[RigPack]:
    """Yield the packs, the first not before one is whole: a card or paper asked for must do for it.

    Raises PageError where none is.
    """
    waiting: list[RigPack] = []
    whole = False
    for pack in packs:
        waiting.append(pack)
        whole = whole or not pack.unfit
        if whole:
            yield from waiting
            waiting.clear()
    if waiting:
        raise PageError(f"rigs.{waiting[0].rig_id}: {waiting[0].unfit[0].why}")


def _charts(work: _Work, rigs: Collection[str]) -> Iterator[RigChart]:
    """Yield the charts of some rigs; those of a run that may need them again are kept."""
    from focuschart.chart import build_charts
    from focuschart.store.documents import MOST_RIGS

    charts = build_charts(work.bag, only=rigs)
    for chart in advised(work.bag, charts) if work.swapped else charts:
        if len(rigs) <= MOST_RIGS:
            work.charts.append(chart)
        yield chart
    work.left_out.extend(charts.left_out)


def _say(current: list[Stand], work: _Work) -> None:
    if current:
        click.echo(f"Nothing has changed of {_few(one.rig_id for one in current)}: left as it was.")
    if work.made:
        click.echo(f"Written to {work.folder}, a folder a rig.")
    if current or work.made:
        click.echo("Print at 100 %, measure both check bars, and test every mark on camera.")


def _few(names: Iterable[str]) -> str:
    shown = list(names)
    more = f" and {len(shown) - 6} more" if len(shown) > 6 else ""
    return f"{', '.join(shown[:6])}{more}"


def _to_print(work: _Work, found: list[Comparison], *, force: bool) -> Iterator[str]:
    """Write what must be printed on sheets of its own; yield that, and what is still good.

    They are written before the rigs' packs: a run stopped between offers them again.
    """
    from focuschart.pages.pack import chosen_pages
    from focuschart.report.compare import told
    from focuschart.store.printing import printed_files
    from focuschart.store.record import write_pack

    yield from told(found)
    chosen = {(one.told.rig_id, one.told.name) for one in found if one.stale and one.new}
    if not chosen:
        yield "Every strip and card printed last is still good: nothing to print."
        return
    bag, printing = work.bag, work.printing
    face = printing.face()
    sheets = chosen_pages(
        bag, work.charts, chosen, face=face, on=printing.on,
        refuse=lambda *_: None,  # said of the rig's pack, which was made before
    )  # fmt: skip
    pages = {name: list(one.pages) for name, one in sheets.items()}
    files = printed_files(pages, printing, face=face, title=bag.name)
    write_pack(work.folder, files, kit=work.kit.name, force=force)
    names = " and ".join(f"{name}.pdf" for name in pages)
    yield f"Print {names} in {work.folder}." if names else "None of them can be printed."
