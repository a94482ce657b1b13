"""The folders of a kit's rigs: which are current, and how the others are written anew."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import TYPE_CHECKING, Any

from focuschart.errors import InputError, LeftOut
from focuschart.store.record import (
    RECORD,
    Record,
    clear,
    digest,
    known_record,
    read_record,
    refuse_foreign,
    remove_pack,
    tables,
    whole,
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
"""Rigs made before the first is written: a small kit's packs appear all together or not at all."""


@dataclass(frozen=True, slots=True)
class Stand:
    """One rig's folder: the record in it, the digest of what it should hold, and if it does."""

    rig_id: str
    folder: Path
    record: Record
    facts: str
    whole: bool

    @property
    def usable(self) -> bool:
        """Whether the files are there, all of one build."""
        return self.whole and self.record.finished

    @property
    def current(self) -> bool:
        """Whether nothing of the rig has changed since its pack was written, to the end."""
        return self.usable and self.record.notes.get("facts") == self.facts

    @property
    def left_out(self) -> Iterator[LeftOut]:
        """What could not be made when the pack was; a damaged record knows of nothing."""
        for one in tables(self.record, "left_out"):
            if set(one) == set(LeftOut._fields) and all(isinstance(v, str) for v in one.values()):
                yield LeftOut(**one)

    @property
    def documents(self) -> Mapping[str, str]:
        """The documents that are there as they were written, with what they were made from."""
        found = self.record.notes.get("documents") if self.usable else None
        return found if isinstance(found, dict) else {}


def stands(
    bag: Kit, rigs: Sequence[str], printing: Printing, folder: Path, *, kit: str, force: bool
) -> Iterator[Stand]:
    """Yield how each rig's folder stands; raises OutputError for one that is not this kit's."""
    from focuschart.kit.facts import rig_facts

    settings = printing.key
    for rig_id, facts in rig_facts(bag, rigs):
        record = known_record(folder / rig_id, kit, force=force)
        is_whole = bool(record.files) and whole(folder / rig_id, record)
        made_of = digest(f"{settings} {facts}".encode())
        stand = Stand(rig_id, folder / rig_id, record, made_of, is_whole)
        if stand.current:
            clear(stand.folder, record)
        yield stand


def write_rigs(
    packs: Iterable[RigPack], standing: Mapping[str, Stand], *, kit: str, force: bool,
    about: Mapping[str, Any],
) -> Iterator[RigPack]:  # fmt: skip
    """Write packs as they come, some at a time, and yield each once it is there.

    What is to be noted `about` all of them goes into each record. Stopped from the keyboard, it
    says so of packs that were written before.
    """
    source = iter(packs)
    began = False
    try:
        while batch := list(islice(source, TOGETHER)):
            if not force:
                for pack in batch:
                    stand = standing[pack.rig_id]
                    refuse_foreign(stand.folder, pack.files, stand.record)
            for pack in batch:
                began = True
                _write(pack, standing[pack.rig_id], about, kit=kit, force=force)
                yield pack
    except KeyboardInterrupt:
        if began:
            raise KeyboardInterrupt("what was finished is kept: build again to go on") from None
        raise


def _write(pack: RigPack, stand: Stand, about: Mapping[str, Any], *, kit: str, force: bool) -> None:
    from focuschart.store.rig_pack import files_of, notes

    write_pack(
        stand.folder,
        pack.files,
        kit=kit,
        force=force,
        notes={**notes(pack, stand.facts, stand.record), **about},
        kept=files_of(stand.record.files, pack.kept),
    )


def changed(stand: Stand, pack: RigPack, units: Units) -> tuple[Comparison, ...]:
    """Return each print of a rig against what was printed last; a damaged record knows of none."""
    from focuschart.prints.difference import compare
    from focuschart.store.prints import prints

    try:
        before = list(prints(stand.record))
    except InputError:
        before = []
    return compare(before, pack.prints, units=units)


def remove_others(folder: Path, bag: Kit, *, kit: str) -> Iterator[str]:
    """Take away packs of this kit whose rig is not in it any more; yield their names.

    Those of a swap for a day stay, since their strips may be on a barrel, and so do those of
    another kit in a file of the same name.
    """
    for path in sorted(folder.glob(f"*/{RECORD}")):
        if path.parent.name in bag.rigs or path.parent.name in bag.broken:
            continue
        try:
            record = read_record(path.parent)
        except InputError:
            continue
        if record and record.kit == kit and _left_behind(record, path.parent.name, bag):
            remove_pack(path.parent, record)
            yield path.parent.name


def _left_behind(record: Record, rig_id: str, bag: Kit) -> bool:
    told = record.notes
    return (told.get("rig"), told.get("kit_name"), told.get("swap")) == (rig_id, bag.name, False)
