"""Prints to compare: those a kit would give now, and those that builds recorded beside packs."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import TYPE_CHECKING

from focuschart.errors import InputError, LeftOut, shown
from focuschart.store.record import RECORD

if TYPE_CHECKING:
    from pathlib import Path

    from focuschart.prints.difference import Comparison
    from focuschart.prints.printed import Printed
    from focuschart.store.record import Record
    from focuschart.units import Units

_NAMED = 8


@dataclass(frozen=True, slots=True)
class Compared:
    """The comparisons of an old and a new source of prints, as `compared` returns them.

    `replaced` has, by rig, how far marks are off if a part was replaced after the readings were
    taken. `left_out` has, for old and new, what a kit leaves out.
    """

    comparisons: Sequence[Comparison]
    units: Units
    replaced: Mapping[str, Comparison]
    left_out: tuple[tuple[LeftOut, ...], tuple[LeftOut, ...]]

    @property
    def to_print(self) -> bool:
        """Whether anything must be printed again, even if only for the widest stops."""
        return any(each.to_print for each in self.comparisons)


def compared(old: Path, new: Path, *, rigs: Sequence[str] = ()) -> Compared:
    """Return which prints of `old` must be printed again for `new`, and how far marks have moved.

    Each is a kit file, a pack's record, or the folder of a kit's packs; `rigs` has pairs "OLD=NEW".
    Raises InputError or KitError if one of them cannot be used or a pair names an unknown rig.
    """
    from focuschart.prints.difference import compare

    sources = print_source(old), print_source(new)
    before, after = (source.prints for source in sources)
    units = units_of(after)
    chosen = compare(before, after, units=units, rigs=_pairs(rigs, before, after))
    every = compare(before, after, units=units)
    left_out = (sources[0].left_out, sources[1].left_out)
    return Compared(chosen, units, _replaced(chosen, new, every=every), left_out)


@dataclass(frozen=True, slots=True)
class Identified:
    """The print with a code, and the print of that rig and name as it would be now, if any."""

    printed: Printed
    now: Printed | None

    @property
    def current(self) -> bool:
        """Whether the print would still be the same now."""
        return self.now is not None and self.now.code == self.printed.code

    @property
    def difference(self) -> tuple[Sequence[Comparison], Units]:
        """The comparison with the print as it would be now, and the units to report it in."""
        from focuschart.prints.difference import compare

        new = [self.now] if self.now else []
        units = units_of(new)
        return compare([self.printed], new, units=units), units


def identified(text: str, kits: Sequence[Path], out: Path) -> Identified:
    """Return the print with the code `text`, from kits or the records in the folder `out`.

    Former prints in the records count too. Raises InputError for a text that is not a code, and
    for a code that is not found.
    """
    from focuschart.prints.code import read_code

    code = read_code(text)
    if code is None:
        raise InputError(
            f"{shown(text)}: is no code, or was copied wrong: five signs, a hyphen and a check "
            "sign, without 0, O, 1, I and L"
        )
    now, recorded = [_from_kit(kit) for kit in kits], list(from_records(out))
    sources = [*now, *recorded]
    last = ((each, source) for source in sources for each in source.prints)
    former = ((each, source) for source in sources for each in source.former)
    match = next((pair for pair in chain(last, former) if pair[0].code == code), None)
    if match is None:
        raise InputError(
            f"{code}: neither a kit given nor a record in {out} knows it, try another --out"
        )
    printed, source = match
    same_kit = [each for each in now if each.kit == source.kit] or now or [source]
    present = (each for source in same_kit for each in source.prints)
    key = (printed.rig_id, printed.name)
    return Identified(printed, next((p for p in present if (p.rig_id, p.name) == key), None))


@dataclass(frozen=True, slots=True)
class PrintSource:
    """The prints of a kit or of a record, and former ones; `kit` is the kit file's name.

    `folder` holds the kit file, or the folders of all its packs; `left_out` is what a kit leaves
    out.
    """

    kit: str
    folder: Path
    prints: tuple[Printed, ...]
    former: tuple[Printed, ...] = ()
    left_out: tuple[LeftOut, ...] = ()


def print_source(path: Path) -> PrintSource:
    """Return the prints of a kit file, a pack's record, or a folder of packs.

    Raises InputError for a folder or record without prints, or with those of several kits,
    KitError for a kit with problems.
    """
    if _is_kit(path):
        return _from_kit(path)
    sources = [source for source in from_records(path) if source.prints]
    if not sources:
        raise InputError(f"{path}: holds no {RECORD} of a build, give a kit or a folder of packs")
    folders = sorted({source.folder for source in sources})
    if len(folders) > 1:
        raise InputError(
            f"{path}: holds packs of several kits, give the folder of one: {folders[0]}"
        )
    prints = tuple(each for source in sources for each in source.prints)
    return PrintSource(sources[0].kit, folders[0], prints)


def _is_kit(path: Path) -> bool:
    return not os.path.isdir(path) and path.name != RECORD


def _pairs(
    texts: Sequence[str], old: Sequence[Printed], new: Sequence[Printed]
) -> list[tuple[str, str]]:
    """Return old and new rig of each "OLD=NEW"; raises InputError for a rig without prints."""
    pairs = []
    for text in texts:
        was, _, now = text.partition("=")
        if not was or not now:
            raise InputError(f'--rig is {shown(text)}: write "old=new", the ids of two rigs')
        for rig, where, prints in ((was, "OLD", old), (now, "NEW", new)):
            known = list(dict.fromkeys(each.rig_id for each in prints))
            if rig not in known:
                raise InputError(
                    f"--rig is {shown(text)}: {where} prints nothing for a rig {shown(rig)}, but "
                    f"for {', '.join(known[:_NAMED]) or 'none'}"
                )
        pairs.append((was, now))
    return list(dict.fromkeys(pairs))


def _replaced(
    chosen: Sequence[Comparison], new: Path, *, every: Sequence[Comparison]
) -> Mapping[str, Comparison]:
    """Return, by rig, how far marks are off if a part was replaced after the readings were taken.

    It has only rigs for which this is possible, and is empty unless `new` is a kit, which can be
    solved. `chosen` and `every` are the comparisons of the rigs asked for and of all rigs.
    """
    from focuschart.prints.replaced import if_replaced
    from focuschart.store.kits import load

    if not any(each.reinterpreted for each in chosen) or not _is_kit(new):
        return {}
    return if_replaced(load(new), chosen, every=every)


def units_of(prints: Sequence[Printed]) -> Units:
    """Return the units in which prints are written; metric if none says otherwise."""
    from focuschart.prints.topics import Topic

    each: tuple[Units, ...] = ("imperial", "both")
    for units in each:
        if any(each.inputs.get(Topic.UNITS) == units for each in prints):
            return units
    return "metric"


def _from_kit(path: Path) -> PrintSource:
    """Return the prints that a kit would give now, and what it leaves out."""
    from focuschart.chart.charts import build_charts
    from focuschart.prints.printed import printed
    from focuschart.store.kits import load

    charts = build_charts(load(path))
    prints = tuple(each for chart in charts for each in printed(chart))
    return PrintSource(path.name, path.parent, prints, left_out=tuple(charts.left_out))


def from_records(path: Path) -> Iterator[PrintSource]:
    """Yield the prints of the record at a path, or of all records in a folder, two levels deep.

    Raises InputError, with its path, for a damaged record.
    """
    from focuschart.store.record import read_record

    for found in _record_paths(path):
        record = read_record(found.parent)
        if record is not None:
            yield _from_record(found, record)


def records_in(path: Path) -> Iterator[Record]:
    """Yield the record at a path, or all records in a folder, two levels deep.

    Raises InputError, with its path, for a damaged record.
    """
    from focuschart.store.record import read_record

    for found in _record_paths(path):
        record = read_record(found.parent)
        if record is not None:
            yield record


def _record_paths(path: Path) -> Iterator[Path]:
    folder, patterns = path, [RECORD, f"*/{RECORD}", f"*/*/{RECORD}"]
    if path.name == RECORD:
        folder, patterns = path.parent, [RECORD]
    if os.path.isdir(folder):
        for pattern in patterns:
            yield from sorted(folder.glob(pattern))


def _from_record(path: Path, record: Record) -> PrintSource:
    try:
        now, former = tuple(prints(record)), tuple(prints(record, former=True))
    except InputError as error:
        raise InputError(f"{path}: {error}") from None
    return PrintSource(record.kit, path.parent.parent, now, former)


def prints(record: Record, *, former: bool = False) -> Iterator[Printed]:
    """Yield the prints noted in a record, or the former ones; InputError if damaged."""
    from focuschart.prints.printed import print_from

    rig, noted = record.notes.get("rig"), record.notes.get("former" if former else "prints", [])
    for data in noted if isinstance(noted, list) else ():
        yield print_from(rig, data)
