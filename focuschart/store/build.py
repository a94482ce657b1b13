"""A build: the packs of a kit's rigs, solved, drawn and written as they come.

What is found on the way is noted, so that whoever asked for the build can tell of it.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from focuschart.errors import GlyphError, PageError
from focuschart.store.documents import MOST_RIGS, nameless, require_few, unprintable
from focuschart.store.packs import Stand, changed, remove_others, stands, write_rigs
from focuschart.store.printing import printed_files
from focuschart.store.record import write_pack
from focuschart.store.rig_pack import Press, RigPack, made

if TYPE_CHECKING:
    from pathlib import Path

    from focuschart.chart.model import RigChart
    from focuschart.chart.solve import Charts
    from focuschart.errors import LeftOut
    from focuschart.kit.schema import Kit
    from focuschart.prints.difference import Comparison
    from focuschart.prints.facts import Print
    from focuschart.store.printing import Printing

    Shown = Callable[[Iterable[RigPack], int], Iterable[RigPack]]
    """Passes packs on, with their number, and shows how far a run is."""
    Advise = Callable[[Iterable[RigChart]], Iterable[RigChart]]
    """Passes charts on, and says what is to be said of them."""


@dataclass(frozen=True, slots=True)
class Build:
    """One run: a kit, its file, how it is printed, the folder of its packs, the rigs asked for.

    No rigs asked for are all. Noted as they come: charts, stale prints and the sheets written of
    them, the rigs whose packs were written, those of which nothing had changed, and what was left
    out.
    """

    kit: Kit
    source: Path
    printing: Printing
    folder: Path
    asked: Collection[str]
    swapped: bool
    shown: Shown
    advised: Advise
    charts: list[RigChart] = field(default_factory=list)
    stale: list[Comparison] = field(default_factory=list)
    sheets: list[str] = field(default_factory=list)
    made: list[str] = field(default_factory=list)
    current: list[str] = field(default_factory=list)
    left_out: list[LeftOut] = field(default_factory=list)

    def write(self, *, only_stale: bool, force: bool) -> Iterator[RigPack]:
        """Write the packs of rigs that have changed, and yield each once it is there.

        With `only_stale`, first what must be printed again, on sheets of its own. Raises PageError
        and GlyphError for what cannot be drawn, OutputError for what cannot be written.
        """
        from focuschart.kit.load import broken_rigs

        chosen = [rig for rig in self.asked or self.kit.rigs if rig in self.kit.rigs]
        name = self.source.name
        every = stands(self.kit, chosen, self.printing, self.folder, kit=name, force=force)
        found = {one.rig_id: one for one in every}
        old = [one for one in found.values() if not one.current]
        self.left_out.extend(broken_rigs(self.kit, self.asked))
        packs: Iterable[RigPack] = self._packs(old, fits=len(old) < len(found))
        if only_stale:
            require_few(self.source, tuple(one.rig_id for one in old))
            packs = list(packs)
            for pack in packs:
                self.stale.extend(changed(found[pack.rig_id], pack, self.kit.units))
            self._write_stale(force=force)
        about = {"kit_name": self.kit.name, "swap": self.swapped}
        for pack in write_rigs(packs, found, kit=name, force=force, about=about):
            self.made.append(pack.rig_id)
            yield pack
        for one in found.values():
            if one.current:
                self.current.append(one.rig_id)
                self.left_out.extend(one.left_out)

    def remove_others(self) -> Iterator[str]:
        """Remove the packs of rigs that the kit has no more, unless some were asked for."""
        if not self.asked:
            yield from remove_others(self.folder, self.kit, kit=self.source.name)

    def _packs(self, old: Sequence[Stand], *, fits: bool) -> Iterator[RigPack]:
        """Yield the packs of rigs that have changed, each solved and drawn.

        `fits` says whether the card and paper have done for a rig already.
        """
        if not old:
            return
        self.printing.require()
        press = Press(self.kit, self.printing, self.printing.face())
        silent = unprintable(self.kit, (one.rig_id for one in old), press.face)
        self.left_out.extend(nameless(silent))
        known = {one.rig_id: one.documents for one in old if one.rig_id not in silent}
        if not known:
            return
        jobs = ((chart, known[chart.rig.rig_id]) for chart in self._charts(known))
        packs = self.shown(made(press, jobs, len(known)), len(known))
        try:
            for pack in packs if fits or not self.printing.chosen else _fit_for_one(packs):
                self.left_out.extend(pack.left_out)
                if pack.keys:
                    yield pack
        except (PageError, GlyphError) as error:
            raise type(error)(f"{self.source}: {error}") from None

    def _charts(self, rigs: Collection[str]) -> Iterator[RigChart]:
        """Yield the charts of some rigs; those of a run that may need them again are kept."""
        from focuschart.chart import build_charts

        charts: Charts = build_charts(self.kit, only=rigs)
        for chart in self.advised(charts):
            if len(rigs) <= MOST_RIGS:
                self.charts.append(chart)
            yield chart
        self.left_out.extend(charts.left_out)

    @property
    def to_print(self) -> set[tuple[str, Print]]:
        """Rig and name of each print that must be printed again."""
        return {(one.told.rig_id, one.told.name) for one in self.stale if one.stale and one.new}

    def _write_stale(self, *, force: bool) -> None:
        """Write what must be printed again, before the packs: a run stopped then offers it anew."""
        from focuschart.pages.pack import chosen_pages

        if not self.to_print:
            return
        face = self.printing.face()
        sheets = chosen_pages(
            self.kit, self.charts, self.to_print, face=face, on=self.printing.on,
            refuse=lambda *_: None,  # said of the rig's pack, which was made before
        )  # fmt: skip
        pages = {name: list(one.pages) for name, one in sheets.items()}
        self.sheets.extend(pages)
        files = printed_files(pages, self.printing, face=face, title=self.kit.name)
        write_pack(self.folder, files, kit=self.source.name, force=force)


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
