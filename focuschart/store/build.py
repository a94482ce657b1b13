"""A build: the packs of a kit's rigs are solved, drawn and written, one rig after another.

`Build` also records what was done, so that the command can report it.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import chain
from typing import TYPE_CHECKING

from focuschart.errors import GlyphError, PageError
from focuschart.store.documents import MOST_RIGS, left_out_for_texts, require_few, unprintable
from focuschart.store.packs import RigFolder, comparisons, remove_others, rig_folders, write_rigs
from focuschart.store.phone import PHONE, require_ours, write_page
from focuschart.store.printing import printed_files
from focuschart.store.record import known_record, write_pack
from focuschart.store.rig_pack import Press, RigPack, make_all

if TYPE_CHECKING:
    from pathlib import Path

    from focuschart.chart.charts import Charts
    from focuschart.chart.model import Chart
    from focuschart.errors import LeftOut
    from focuschart.kit.schema import Kit
    from focuschart.prints.difference import Comparison
    from focuschart.prints.facts import Print
    from focuschart.store.printing import Printing

    Shown = Callable[[Iterable[RigPack], int], Iterable[RigPack]]
    """Passes packs through, given how many will come, and shows the progress."""
    Advise = Callable[[Iterable[Chart]], Iterable[Chart]]
    """Passes charts through, and shows advice about each."""


@dataclass(frozen=True, slots=True)
class Build:
    """One run: a kit, its file, how it is printed, the folder for the packs, the rigs asked for.

    An empty `asked` means all rigs; `swapped` says whether parts were swapped for a day. The
    other fields record the run: charts, stale prints and the sheets written with them, the rigs
    `made`, the `current` rigs whose packs needed no change, what was left out, and whether there is
    a page for a `phone`.
    """

    kit: Kit
    source: Path
    printing: Printing
    folder: Path
    asked: Collection[str]
    swapped: bool
    shown: Shown
    advised: Advise
    charts: list[Chart] = field(default_factory=list)
    stale: list[Comparison] = field(default_factory=list)
    sheets: list[str] = field(default_factory=list)
    made: list[str] = field(default_factory=list)
    current: list[str] = field(default_factory=list)
    left_out: list[LeftOut] = field(default_factory=list)
    phone: list[str] = field(default_factory=list)

    def write(self, *, only_stale: bool, force: bool) -> Iterator[RigPack]:
        """Write the packs of rigs that have changed, and yield each pack once it is written.

        With `only_stale`, first write sheets with the prints that must be printed again. Last comes
        the kit's page for a phone. Raises PageError and GlyphError where no pack can be drawn,
        OutputError where one cannot be written.
        """
        from focuschart.kit.load import broken_rigs

        chosen = [rig for rig in self.asked or self.kit.rigs if rig in self.kit.rigs]
        name = self.source.name
        require_ours(self.folder, kit=name, force=force)
        every = rig_folders(self.kit, chosen, self.printing, self.folder, kit=name, force=force)
        folders = {folder.rig_id: folder for folder in every}
        old = [folder for folder in folders.values() if not folder.current]
        self.left_out.extend(broken_rigs(self.kit, self.asked))
        packs: Iterable[RigPack] = self._packs(old, proven=len(old) < len(folders))
        if only_stale:
            require_few(self.source, tuple(folder.rig_id for folder in old))
            packs = list(packs)
            for pack in packs:
                self.stale.extend(comparisons(folders[pack.rig_id], pack, self.kit.units))
            self._write_stale(force=force)
        about = {"kit_name": self.kit.name, "swap": self.swapped}
        phone: dict[str, str] = {}
        for pack in write_rigs(packs, folders, kit=name, force=force, about=about):
            self.made.append(pack.rig_id)
            phone[pack.rig_id] = pack.phone
            yield pack
        for folder in folders.values():
            if folder.current:
                self.current.append(folder.rig_id)
                self.left_out.extend(folder.left_out)
        self._write_phone(folders, phone, force=force)

    def _write_phone(
        self, folders: Mapping[str, RigFolder], made: Mapping[str, str], *, force: bool
    ) -> None:
        """Write the kit's page, of the packs made and all current ones, asked for or not."""
        name, others = self.source.name, [rig for rig in self.kit.rigs if rig not in folders]
        rest = rig_folders(self.kit, others, self.printing, self.folder, kit=name, force=True)
        data = {each.rig_id: each.phone for each in chain(folders.values(), rest)} | dict(made)
        if write_page(self.folder, self.kit, data, kit=name, force=force):
            self.phone.append(PHONE)

    def remove_others(self) -> Iterator[str]:
        """Remove packs of rigs that the kit no longer has; none if only some were asked for."""
        if not self.asked:
            yield from remove_others(self.folder, self.kit, kit=self.source.name)

    def _packs(self, old: Sequence[RigFolder], *, proven: bool) -> Iterator[RigPack]:
        """Yield the packs of the rigs in `old` folders, each solved and drawn.

        `proven`: another rig's pack is current, so card and paper are large enough.
        """
        if not old:
            return
        self.printing.require()
        press = Press(self.kit, self.printing, self.printing.face())
        texts = unprintable(self.kit, (folder.rig_id for folder in old), press.face)
        self.left_out.extend(left_out_for_texts(texts))
        known = {folder.rig_id: folder.documents for folder in old if folder.rig_id not in texts}
        if not known:
            return
        jobs = ((chart, known[chart.rig.rig_id]) for chart in self._charts(known))
        packs = self.shown(make_all(press, jobs, len(known)), len(known))
        try:
            for pack in packs if proven or not self.printing.chosen else _if_one_fits(packs):
                self.left_out.extend(pack.left_out)
                if pack.keys:
                    yield pack
        except (PageError, GlyphError) as error:
            raise type(error)(f"{self.source}: {error}") from None

    def _charts(self, rigs: Collection[str]) -> Iterator[Chart]:
        """Yield the charts of some rigs; keep them, unless there are many, for the stale sheets."""
        from focuschart.chart.charts import build_charts

        charts: Charts = build_charts(self.kit, only=rigs)
        for chart in self.advised(charts):
            if len(rigs) <= MOST_RIGS:
                self.charts.append(chart)
            yield chart
        self.left_out.extend(charts.left_out)

    @property
    def to_print(self) -> set[tuple[str, Print]]:
        """Rig and print for each print that must be printed again."""
        return {
            (each.told.rig_id, each.told.name) for each in self.stale if each.stale and each.new
        }

    def _write_stale(self, *, force: bool) -> None:
        """Write sheets with the stale prints, before the packs: a stopped run then repeats it."""
        from focuschart.pages.pack import chosen_pages

        if not self.to_print:
            return
        face = self.printing.face()
        sheets = chosen_pages(
            self.kit, self.charts, self.to_print, face=face, on=self.printing.on,
            refuse=lambda *_: None,  # already reported with the rig's pack
        )  # fmt: skip
        pages = {name: list(each.pages) for name, each in sheets.items()}
        self.sheets.extend(pages)
        files = printed_files(pages, self.printing, face=face, title=self.kit.name)
        name = self.source.name
        kept = PHONE in known_record(self.folder, name, force=force).files
        write_pack(self.folder, files, kit=name, force=force, kept=[PHONE] if kept else [])


def _if_one_fits(packs: Iterable[RigPack]) -> Iterator[RigPack]:
    """Yield the packs, but hold them back until one of them has all its documents.

    Raises PageError where none has: then the card or paper asked for is too small.
    """
    waiting: list[RigPack] = []
    complete = False
    for pack in packs:
        waiting.append(pack)
        complete = complete or not pack.unfit
        if complete:
            yield from waiting
            waiting.clear()
    if waiting:
        raise PageError(f"rigs.{waiting[0].rig_id}: {waiting[0].unfit[0].why}")
