"""focuschart read: enter a bench reading into the kit file, or take the last one back."""

from __future__ import annotations

from itertools import zip_longest
from typing import TYPE_CHECKING, Any

import click

import focuschart
from focuschart.cli.bench_talk import hold_talk
from focuschart.cli.common import (
    FIGURE,
    LENGTH,
    OFFSET,
    STOP,
    anyway_option,
    kit_argument,
    next_step,
    taped_again_option,
)
from focuschart.errors import InputError, shown
from focuschart.units import format_stop

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path


@click.command()
@kit_argument
@click.option("--rig", metavar="ID", help="The rig that was read.")
@click.option(
    "--distance", type=LENGTH, metavar="LENGTH",
    help='From the sensor mark: "2 m", "6 ft 3 in" or "inf".',
)  # fmt: skip
@click.option(
    "--distance-error", type=LENGTH, metavar="LENGTH",
    help="One standard deviation of the distance, if it was not taken with a tape.",
)  # fmt: skip
@click.option(
    "--stop", type=STOP, metavar="STOP", help="The stop focused at; else the widest of the kit's."
)
@click.option(
    "--height", type=OFFSET, metavar="LENGTH",
    help='Of the target above the middle of the picture, on the sensor: "4 mm"; else the middle.',
)  # fmt: skip
@click.option(
    "--taking", type=FIGURE, multiple=True, metavar="MM",
    help="Figure on the taking lens's ruler; give it again for a repeat.",
)  # fmt: skip
@click.option(
    "--attachment", type=FIGURE, multiple=True, metavar="MM",
    help="Figure on the attachment's ruler; give it again for a repeat.",
)  # fmt: skip
@click.option(
    "--side", type=click.Choice(["nearer", "farther"]), help="The side that the rings came from."
)
@click.option(
    "--taking-strip", metavar="CODE",
    help="The code of the marker strip on the taking lens, if it was read instead of the ruler.",
)  # fmt: skip
@click.option(
    "--attachment-strip", metavar="CODE", help="The code of the marker strip on the attachment."
)
@click.option(
    "--taking-tick", metavar="LENGTH",
    help='The tick of the comb that the taking lens was read at: "0.5 mm"; else its index\'s line.',
)  # fmt: skip
@click.option("--attachment-tick", metavar="LENGTH", help="The same of the attachment.")
@taped_again_option
@anyway_option
@click.option(
    "--undo", is_flag=True, help="Take back the last reading that this command wrote, and no more."
)
def read(kit: Path, *, rig: str | None, undo: bool, **said: Any) -> None:
    """Add a bench reading to a kit file; the rest of the file stays as it is.

    With KIT alone, or a rig too, it asks for line after line of the bench form.

    Files that the kit includes are never written: readings of their rigs go to the kit.

    Figures read through marker strips go with the codes found on the rings, --taking-strip and
    --attachment-strip. Whenever a ruler or a strip has been taped on anew, say --taped-again.

    For repeats at one set-up, refocus both rings each time: the first --taking goes with the
    first --attachment, the second with the second.
    """
    given = any(value not in (None, False, ()) for value in said.values())
    if undo and (rig or given):
        raise click.UsageError("--undo stands alone: it takes back the last reading written.")
    if undo:
        _take_back(kit)
    elif not given:
        hold_talk(kit, rig)
    elif rig is None or said["distance"] is None:
        raise click.UsageError(f"Missing option '--{'distance' if rig else 'rig'}'.")
    elif not said["taking"] and not said["attachment"]:
        raise InputError("give --taking, --attachment or both: what their rulers show, in mm")
    else:
        _enter(kit, rig, **said)


def _enter(
    kit: Path,
    rig: str,
    *,
    taking: tuple[float, ...],
    attachment: tuple[float, ...],
    taped_again: bool,
    anyway: bool,
    **said: Any,
) -> None:
    """Write the readings of one command, and say how they agree with the others."""
    from focuschart.store.kit_edits import add_readings, last_taping, open_kit

    file = open_kit(kit)
    file.kit.require_rigs([rig], option="--rig")
    strips = _given(taking=said.pop("taking_strip"), attachment=said.pop("attachment_strip"))
    ticks = _given(taking=said.pop("taking_tick"), attachment=said.pop("attachment_tick"))
    taping = last_taping(file.kit, rig, strips=bool(strips)) + taped_again
    said["stop"] = min(file.kit.stops) if said["stop"] is None else said["stop"]
    shared = {"rig": rig, **said, "taping": None if taping == 1 else taping,
              "strips": strips or None, "ticks": ticks or None}  # fmt: skip
    readings = [{**shared, "taking": figure, "attachment": other}
                for figure, other in zip_longest(taking, attachment)]  # fmt: skip
    old = add_readings(file, readings, anyway=anyway)
    for reading in readings:
        click.echo(f"Written to {click.format_filename(kit)}: {_words(reading)}")
    click.echo(f"The kit as it was before: {click.format_filename(old)}")
    for sentence in _judged(kit, rig, range(file.own_readings, file.own_readings + len(readings))):
        click.echo(sentence)
    next_step("See what the readings are worth, and what to read next", "fit", kit)


def _given(**by_ring: str | None) -> dict[str, str]:
    return {ring: value for ring, value in by_ring.items() if value is not None}


def _take_back(kit: Path) -> None:
    from focuschart.store.kit_edits import take_back

    reading, old = take_back(kit)
    absent = dict.fromkeys(("taking", "attachment"))
    click.echo(f"Taken back from {click.format_filename(kit)}: {_words({**absent, **reading})}")
    click.echo(f"The kit as it was before the session: {click.format_filename(old)}")
    next_step("Read on", "read", kit)


def _judged(kit: Path, rig: str, numbers: range) -> Iterator[str]:
    """Yield how the new readings agree with the others, or why there are no marks yet."""
    from focuschart.report.fit import entered

    bag = focuschart.load(kit)
    charts = focuschart.solve(bag, rigs=[rig])
    for left in charts.left_out:
        if left.kind == "ring":
            yield f"No marks yet, {left.what}: {left.why}: {left.cure}"
    for chart in charts:
        yield from entered(bag, chart, numbers)


def _words(reading: Mapping[str, Any]) -> str:
    """Return rig, distance, stop and figures of a reading in words."""
    setup = (reading["rig"], shown(reading["distance"]), format_stop(reading["stop"]))
    figures = (f"{ring} {reading[ring]:g}" for ring in ("taking", "attachment")
               if reading[ring] is not None)  # fmt: skip
    return ", ".join((*setup, *figures))
