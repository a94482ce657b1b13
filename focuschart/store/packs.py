"""The folders of a kit's rigs: which packs are current, and how the others are written."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import TYPE_CHECKING, Any

from focuschart.errors import InputError, LeftOut
from focuschart.store.folders import rig_folder
from focuschart.store.record import (
    RECORD,
    Record,
    clear,
    digest,
    is_complete,
    known_record,
    read_record,
    refuse_foreign,
    remove_pack,
    tables,
    write_pack,
)

if TYPE_CHECKING:
    from pathlib import Path

    from focuschart.kit.schema import Kit
    from focuschart.prints.difference import Comparison
    from focuschart.store.printing import Printing
    from focuschart.store.rig_pack import RigPack
    from focuschart.units import Units

TOGETHER = 16
"""Packs are made and written in batches of this size: a small kit's are all written or none."""


@dataclass(frozen=True, slots=True)
class RigFolder:
    """A rig's folder with its record.

    `facts` is the digest of all that its pack should be made from now, `complete` whether all files
    of the record are there.
    """

    rig_id: str
    path: Path
    record: Record
    facts: str
    complete: bool

    @property
    def usable(self) -> bool:
        """Whether all files are there, and from a single build."""
        return self.complete and self.record.finished

    @property
    def current(self) -> bool:
        """Whether the pack was written completely, and nothing behind it has changed since.

        One without data for the kit's page is from an earlier program.
        """
        notes = self.record.notes
        return self.usable and notes.get("facts") == self.facts and "phone" in notes

    @property
    def phone(self) -> str:
        """The rig's data for the kit's page; nothing where the pack is not current, or damaged."""
        text = self.record.notes.get("phone")
        return text if self.current and isinstance(text, str) else ""

    @property
    def left_out(self) -> Iterator[LeftOut]:
        """What could not be made when the pack was made; nothing if the record is damaged."""
        for table in tables(self.record, "left_out"):
            texts = all(isinstance(value, str) for value in table.values())
            if texts and set(table) == {"rig", "what", "why", "cure"}:
                yield LeftOut(**table)

    @property
    def documents(self) -> Mapping[str, str]:
        """The documents in the folder, each with the digest of its pages and printing."""
        documents = self.record.notes.get("documents") if self.usable else None
        return documents if isinstance(documents, dict) else {}


def rig_folders(
    bag: Kit, rigs: Sequence[str], printing: Printing, folder: Path, *, kit: str, force: bool
) -> Iterator[RigFolder]:
    """Yield the folder of each rig; raises OutputError for one of another kit, unless `force`."""
    from focuschart.kit.dependencies import dependencies

    settings = printing.key
    for rig_id, facts in dependencies(bag, rigs):
        path = folder / rig_folder(rig_id)
        record = known_record(path, kit, force=force)
        complete = bool(record.files) and is_complete(path, record)
        made_of = digest(f"{settings} {facts}".encode())
        found = RigFolder(rig_id, path, record, made_of, complete)
        if found.current:
            clear(path, record)
        yield found


def write_rigs(
    packs: Iterable[RigPack], folders: Mapping[str, RigFolder], *, kit: str, force: bool,
    about: Mapping[str, Any],
) -> Iterator[RigPack]:  # fmt: skip
    """Write packs in batches as they come, and yield each once it is written.

    `about` has notes for the record of every pack. Where Ctrl-C stops the run after a first pack
    was written, the KeyboardInterrupt says that what was written is kept.
    """
    source = iter(packs)
    began = False
    try:
        while batch := list(islice(source, TOGETHER)):
            if not force:
                for pack in batch:
                    folder = folders[pack.rig_id]
                    refuse_foreign(folder.path, pack.files, folder.record)
            for pack in batch:
                began = True
                _write(pack, folders[pack.rig_id], about, kit=kit, force=force)
                yield pack
    except KeyboardInterrupt:
        if began:
            raise KeyboardInterrupt("what was finished is kept: build again to go on") from None
        raise


def _write(
    pack: RigPack, folder: RigFolder, about: Mapping[str, Any], *, kit: str, force: bool
) -> None:
    from focuschart.store.rig_pack import files_of, notes

    write_pack(
        folder.path,
        pack.files,
        kit=kit,
        force=force,
        notes={**notes(pack, folder.facts, folder.record), **about},
        kept=files_of(folder.record.files, pack.kept),
    )


def comparisons(folder: RigFolder, pack: RigPack, units: Units) -> tuple[Comparison, ...]:
    """Return a comparison of each print of a rig with the one last printed, if that is known."""
    from focuschart.prints.difference import compare
    from focuschart.store.prints import prints

    try:
        before = list(prints(folder.record))
    except InputError:
        before = []
    return compare(before, pack.prints, units=units)


def remove_others(folder: Path, bag: Kit, *, kit: str) -> Iterator[str]:
    """Remove the packs of rigs that this kit no longer has; yield the ids of these rigs.

    Packs of a swap for a day stay, since their strips may be on a barrel; so do packs of a kit with
    another name in a file of the same name.
    """
    kept = {rig_folder(rig) for rig in (*bag.rigs, *bag.broken)}
    for path in sorted(folder.glob(f"*/{RECORD}")):
        if path.parent.name in kept:
            continue
        try:
            record = read_record(path.parent)
        except InputError:
            continue
        if record and record.kit == kit and _left_behind(record, path.parent.name, bag):
            remove_pack(path.parent, record)
            yield str(record.notes["rig"])


def _left_behind(record: Record, folder: str, bag: Kit) -> bool:
    notes = record.notes
    own = rig_folder(str(notes.get("rig"))) == folder
    return own and (notes.get("kit_name"), notes.get("swap")) == (bag.name, False)
