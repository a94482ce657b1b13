"""focuschart photo --squeeze: read the squeeze off a still of the film camera and enter it."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import click

from focuschart.errors import InputError

if TYPE_CHECKING:
    from pathlib import Path

    from focuschart.kit.schema import Kit
    from focuschart.store.kit_edits import KitFile


class Asked(NamedTuple):
    """The still and what is said of it; `alone` says that nothing of rings is asked beside it."""

    still: Path | None
    rig: str | None
    distance_mm: float | None
    bars: str | None
    alone: bool


def enter_still(file: KitFile, asked: Asked, *, write: bool, ask: bool, form: str) -> None:
    """Report the squeeze in a still, and enter it; exits with status 2 if it is not read.

    With `ask` a question comes first, but for data for other programs, which then write nothing.
    """
    from focuschart.report.squeezes import as_json, sentences
    from focuschart.store.squeezes import Bars, enter_squeeze, measured_bars, read_still

    still, rig, distance_mm = _required(file.kit, asked)
    bars = Bars() if asked.bars is None else measured_bars(asked.bars)
    found = read_still(file.kit, still, rig=rig, distance_mm=distance_mm, bars=bars)
    if form == "json":
        click.echo(as_json(found), nl=False)
    for sentence in sentences(found, rig=file.kit.rigs[rig].name, units=file.kit.units):
        click.echo(sentence, err=form == "json")
    if asked.bars is None:
        click.echo("Measure both bars of the card and say --bars: it is surer then.", err=True)
    if found.read is None:
        raise SystemExit(2)
    wanted = write and not (ask and form == "json")
    if wanted and (not ask or click.confirm("Write this squeeze to the kit?", default=True)):
        for sentence in enter_squeeze(file, found):
            click.echo(sentence, err=form == "json")


def _required(kit: Kit, asked: Asked) -> tuple[Path, str, float]:
    """Return still, rig and distance; raises InputError for what is missing or too much."""
    if asked.still is None:
        raise InputError("--bars belongs to --squeeze: name the still of the squeeze card")
    if not asked.alone:
        rule = "in place of photographs, --place and --unmoved: give one or the others"
        raise InputError(f"--squeeze takes a still {rule}")
    rig = asked.rig or (next(iter(kit.rigs)) if len(kit.rigs) == 1 else None)
    if rig is None:
        rigs = ", ".join(kit.rigs)
        raise InputError(f"--squeeze needs --rig: {kit.source} has {rigs}")
    if rig not in kit.rigs:
        raise InputError(f'{kit.source}: --rig is "{rig}": it cannot be put together, see check')
    if asked.distance_mm is None:
        raise InputError("--squeeze needs --distance, of the card from the sensor mark")
    return asked.still, rig, asked.distance_mm
