"""What to compare: a kit as it would be printed now, or what a build noted beside its packs."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
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


def pairs(
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


def replaced(
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
