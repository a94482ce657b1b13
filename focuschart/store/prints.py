"""What to compare: a kit as it would be printed now, or what a build noted beside its packs."""

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
    """What differs between two sides, in a reader's units; see `compared`.

    `replaced` has, by rig, how far marks are off if a part was replaced after the readings were
    taken. `left_out` has, by side, what a kit would not print.
    """

    found: Sequence[Comparison]
    units: Units
    replaced: Mapping[str, Comparison]
    left_out: tuple[tuple[LeftOut, ...], tuple[LeftOut, ...]]

    @property
    def to_print(self) -> bool:
        """Whether anything must be printed again, if only for the widest stops."""
        return any(one.to_print for one in self.found)


def compared(old: Path, new: Path, *, rigs: Sequence[str] = ()) -> Compared:
    """Return which prints of `old` must be printed again for `new`, and how far marks have moved.

    Each is a kit file, a pack's record, or the folder of a kit's packs; `rigs` has pairs "OLD=NEW".
    Raises InputError and KitError for a side that cannot be used, or pairs that name no rig.
    """
    from focuschart.prints.difference import compare

    sides = side(old), side(new)
    before, after = (known.prints for known in sides)
    units = units_of(after)
    found = compare(before, after, units=units, rigs=_pairs(rigs, before, after))
    every = compare(before, after, units=units)
    left_out = (sides[0].left_out, sides[1].left_out)
    return Compared(found, units, _replaced(found, new, every=every), left_out)


@dataclass(frozen=True, slots=True)
class Identified:
    """The print that carries a code, and the one of its name that would be printed now, if any."""

    one: Printed
    now: Printed | None

    @property
    def current(self) -> bool:
        """Whether it is still what would be printed."""
        return self.now is not None and self.now.code == self.one.code

    @property
    def difference(self) -> tuple[Sequence[Comparison], Units]:
        """What differs from what would be printed now, and the units to say it in."""
        from focuschart.prints.difference import compare

        new = [self.now] if self.now else []
        units = units_of(new)
        return compare([self.one], new, units=units), units


def identified(text: str, kits: Sequence[Path], out: Path) -> Identified:
    """Return the print with a code, of kits or of the records in a folder, former ones among them.

    Raises InputError for what is no code, and for one that nothing knows.
    """
    from focuschart.prints.code import read_code

    code = read_code(text)
    if code is None:
        raise InputError(
            f"{shown(text)}: is no code, or was copied wrong: five signs, a hyphen and a check "
            "sign, without 0, O, 1, I and L"
        )
    now, known = [of_kit(kit) for kit in kits], list(records(out))
    sources = [*now, *known]
    last = ((one, source) for source in sources for one in source.prints)
    former = ((one, source) for source in sources for one in source.former)
    found = next((each for each in chain(last, former) if each[0].code == code), None)
    if found is None:
        raise InputError(
            f"{code}: neither a kit given nor a record in {out} knows it, try another --out"
        )
    one, source = found
    same = [each for each in now if each.kit == source.kit] or now or [source]
    present = (each for known in same for each in known.prints)
    named = (each for each in present if (each.rig_id, each.name) == (one.rig_id, one.name))
    return Identified(one, next(named, None))


@dataclass(frozen=True, slots=True)
class Known:
    """The prints that a kit or a record knows, and the former ones; `kit` is the kit file's name.

    `folder` holds the record's folder beside those of the kit's other rigs; `left_out` is what a
    kit would not print.
    """

    kit: str
    folder: Path
    prints: tuple[Printed, ...]
    former: tuple[Printed, ...] = ()
    left_out: tuple[LeftOut, ...] = ()


def side(path: Path) -> Known:
    """Return what is printed by a kit file, a pack's record, or a folder of packs.

    Raises InputError for a folder or a record without any, or with those of several kits;
    KitError for a kit with problems.
    """
    if _is_kit(path):
        return of_kit(path)
    found = [known for known in records(path) if known.prints]
    if not found:
        raise InputError(f"{path}: holds no {RECORD} of a build, give a kit or a folder of packs")
    folders = sorted({known.folder for known in found})
    if len(folders) > 1:
        raise InputError(
            f"{path}: holds packs of several kits, give the folder of one: {folders[0]}"
        )
    prints = tuple(one for known in found for one in known.prints)
    return Known(found[0].kit, folders[0], prints)


def _is_kit(path: Path) -> bool:
    return not os.path.isdir(path) and path.name != RECORD


def _pairs(
    texts: Sequence[str], old: Sequence[Printed], new: Sequence[Printed]
) -> list[tuple[str, str]]:
    """Return old and new rig of each "OLD=NEW"; raises InputError for what names none."""
    found = []
    for text in texts:
        was, _, now = text.partition("=")
        if not was or not now:
            raise InputError(f'--rig is {shown(text)}: write "old=new", the ids of two rigs')
        for rig, where, prints in ((was, "OLD", old), (now, "NEW", new)):
            known = list(dict.fromkeys(one.rig_id for one in prints))
            if rig not in known:
                raise InputError(
                    f"--rig is {shown(text)}: {where} prints nothing for a rig {shown(rig)}, but "
                    f"for {', '.join(known[:_NAMED]) or 'none'}"
                )
        found.append((was, now))
    return list(dict.fromkeys(found))


def _replaced(
    found: Sequence[Comparison], new: Path, *, every: Sequence[Comparison]
) -> Mapping[str, Comparison]:
    """Return, by rig, how far marks are off if a part was replaced after the readings were taken.

    Only rigs of which that may be so are there, and only if `new` is a kit, which can be solved;
    `every` compares all rigs.
    """
    from focuschart.prints.replaced import if_replaced
    from focuschart.store.kits import load

    if not any(one.reinterpreted for one in found) or not _is_kit(new):
        return {}
    return if_replaced(load(new), found, every=every)


def units_of(found: Sequence[Printed]) -> Units:
    """Return the units some prints are written in."""
    each: tuple[Units, ...] = ("imperial", "both")
    for units in each:
        if any(one.inputs.get("units") == units for one in found):
            return units
    return "metric"


def of_kit(path: Path) -> Known:
    """Return what a kit would print now, and what it leaves out."""
    from focuschart.chart import build_charts
    from focuschart.prints.printed import printed
    from focuschart.store.kits import load

    charts = build_charts(load(path))
    found = tuple(one for chart in charts for one in printed(chart))
    return Known(path.name, path.parent, found, left_out=tuple(charts.left_out))


def records(path: Path) -> Iterator[Known]:
    """Yield what the record at a path, or those in a folder and two deep below it, know.

    Raises InputError, naming the record, for one that is damaged.
    """
    from focuschart.store.record import read_record

    folder, patterns = path, [RECORD, f"*/{RECORD}", f"*/*/{RECORD}"]
    if path.name == RECORD:
        folder, patterns = path.parent, [RECORD]
    if not os.path.isdir(folder):
        return
    for one in (one for pattern in patterns for one in sorted(folder.glob(pattern))):
        record = read_record(one.parent)
        if record is not None:
            yield _known(one, record)


def _known(path: Path, record: Record) -> Known:
    try:
        now, former = tuple(prints(record)), tuple(prints(record, former=True))
    except InputError as error:
        raise InputError(f"{path}: {error}") from None
    return Known(record.kit, path.parent.parent, now, former)


def prints(record: Record, *, former: bool = False) -> Iterator[Printed]:
    """Yield the prints that a record tells of, or the former ones; raises InputError."""
    from focuschart.prints.printed import print_from

    rig, found = record.notes.get("rig"), record.notes.get("former" if former else "prints", [])
    for data in found if isinstance(found, list) else ():
        yield print_from(rig, data)
