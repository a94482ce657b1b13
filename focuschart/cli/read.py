"""focuschart read: a bench reading, entered into the kit file as it is taken.

The old file is kept beside the new one, but not once a reading: twenty of them would bury the one
that matters, the file as it was before anyone began to read. So a copy is made when the newest one
cannot stand for the file: when the kit was changed by anything but this command since, which
replaying the readings on the copy shows to the byte, or when it was left alone for some hours, so
that each session on the bench has its own. A copy is never overwritten, ours or the user's: the
next one has the next number.
"""

from __future__ import annotations

import os
from contextlib import suppress
from itertools import zip_longest
from typing import TYPE_CHECKING, Any

import click

from focuschart.cli.common import Disk, kit_argument
from focuschart.errors import FocusChartError, InputError, KitError, OutputError, Problem, shown
from focuschart.units import format_stop

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    Reading = Mapping[str, Any]

_SESSION_S = 6 * 3600.0
"""A kit left alone for longer begins a new session; judgement, no source."""
_WRITABLE = 0o222
_AGAIN = "nothing was written, run it again"


@click.command()
@kit_argument
@click.option("--rig", required=True, metavar="ID", help="The rig that was read.")
@click.option(
    "--distance", required=True, metavar="LENGTH",
    help='From the sensor mark: "2 m", "6 ft 3 in" or "inf".',
)  # fmt: skip
@click.option(
    "--distance-error", metavar="LENGTH",
    help="One standard deviation of the distance, if it was not taken with a tape.",
)  # fmt: skip
@click.option("--stop", type=float, help="The stop focused at; else the widest of the kit's.")
@click.option(
    "--taking", type=float, multiple=True, metavar="MM",
    help="Figure on the taking lens's ruler; give it again for a repeat.",
)  # fmt: skip
@click.option(
    "--attachment", type=float, multiple=True, metavar="MM",
    help="Figure on the attachment's ruler; give it again for a repeat.",
)  # fmt: skip
def read(
    kit: Path,
    *,
    rig: str,
    distance: str,
    distance_error: str | None,
    stop: float | None,
    taking: tuple[float, ...],
    attachment: tuple[float, ...],
) -> None:
    """Add a bench reading to a kit file; the rest of the file stays as it is.

    Files that the kit includes are never written: readings of their rigs go to the kit.

    For repeats at one set-up, refocus both rings each time: the first --taking goes with the
    first --attachment, the second with the second.
    """
    from focuschart.cli.files import as_text, read_bytes
    from focuschart.kit.load import MAX_BYTES, load_kit

    if not taking and not attachment:
        raise InputError("give --taking, --attachment or both: what their rulers show, in mm")
    before = read_bytes(kit, limit_bytes=MAX_BYTES)
    text = as_text(kit, before)
    bag = load_kit(text, source=str(kit), shelf=Disk())
    shared = {"rig": rig, "distance": distance, "distance_error": distance_error,
              "stop": min(bag.stops) if stop is None else stop}  # fmt: skip
    readings = [{**shared, "taking": figure, "attachment": other}
                for figure, other in zip_longest(taking, attachment)]  # fmt: skip
    after = _with_readings(kit, text, readings)
    byte_order_mark = before.removesuffix(text.encode())
    old = _replace(kit, before, byte_order_mark + after.encode())
    numbers = range(own := _count(text), own + len(readings))
    for number, reading in zip(numbers, readings, strict=True):
        click.echo(f"readings[{number}] written to {click.format_filename(kit)}: {_say(reading)}")
    click.echo(f"The kit as it was before: {click.format_filename(old)}")
    for sentence in _judged(kit, after, rig, numbers):
        click.echo(sentence)


def _count(text: str) -> int:
    """Return how many readings stand in the file itself, before all that it includes."""
    import tomllib

    return len(tomllib.loads(text).get("readings", []))


def _judged(kit: Path, text: str, rig: str, numbers: range) -> list[str]:
    """Return what the new readings look like among the others, or why nothing can be said yet."""
    from focuschart.chart import build_charts
    from focuschart.kit.load import load_kit
    from focuschart.report.fit import entered

    bag = load_kit(text, source=str(kit), shelf=Disk())
    try:
        (chart,) = build_charts(bag, only=(rig,))
    except KitError as error:
        return [f"No marks yet: {problem.key}: {problem.rule}" for problem in error.problems]
    return list(entered(bag, chart, numbers))


def _say(reading: Reading) -> str:
    setup = (reading["rig"], shown(reading["distance"]), format_stop(reading["stop"]))
    figures = (f"{ring} {reading[ring]:g}" for ring in ("taking", "attachment")
               if reading[ring] is not None)  # fmt: skip
    return ", ".join((*setup, *figures))


def _with_readings(kit: Path, text: str, readings: Sequence[Reading]) -> str:
    """Return the kit's new text, checked; problems of the new readings name their options."""
    from focuschart.kit.edit import with_reading
    from focuschart.kit.load import load_kit

    try:
        after = with_reading(text, *readings)
        load_kit(after, source=str(kit), shelf=Disk())
    except InputError as error:
        raise InputError(f"{kit}: {error}") from None
    except KitError as error:
        named = [_by_option(problem) for problem in error.problems]
        once = {(problem.key, problem.value or problem.rule): problem for problem in named}
        raise KitError(str(kit), list(once.values())) from None
    return after


def _by_option(problem: Problem) -> Problem:
    """Return a problem of a reading with its option for a key; the old readings have none."""
    import re

    found = re.fullmatch(r"readings\[\d+\]\.(\w+)", problem.key)
    return problem._replace(key="--" + found[1].replace("_", "-")) if found else problem


def _replace(kit: Path, before: bytes, after: bytes) -> Path:
    """Put the new bytes in the file's place in one step; return where the old ones are kept.

    A link stays one, the file keeps its permissions. Raises OutputError, with nothing changed,
    if the file is write-protected or no longer what it was when it was read.
    """
    import shutil
    from pathlib import Path

    from focuschart.cli.files import (
        alone,
        discard,
        publish,
        read_bytes,
        stage,
        sweep,
        written_or_nothing,
    )
    from focuschart.kit.load import MAX_BYTES

    target = Path(os.path.realpath(kit))
    with written_or_nothing(target.parent):
        copies = _copies(target)
        sweep(target.parent, [target.name, *(copy.name for copy in copies)])
        old = copies[0] if _stands_for(copies[0], target, before) else copies[-1]
        files = {target.name: after} if old.exists() else {old.name: before, target.name: after}
        _refuse_protected(kit)
        staged = stage(target.parent, files)
        try:
            for temporary in staged.values():
                shutil.copystat(target, temporary)
            os.utime(staged[target])
            with alone(target):
                if read_bytes(kit, limit_bytes=MAX_BYTES) != before:
                    raise OutputError(f"{kit}: was changed meanwhile: {_AGAIN}")
                publish(staged)
        finally:
            discard(staged)
    return old if kit.is_symlink() else kit.with_name(old.name)


def _refuse_protected(kit: Path) -> None:
    """The new file comes by its folder's leave alone: ask for the old one's, too."""
    if not os.access(kit, os.W_OK) or not kit.stat().st_mode & _WRITABLE:
        raise OutputError(f"{kit}: is write-protected: allow writing to it")


def _copies(target: Path) -> list[Path]:
    """Return the copies of a file, the newest first, and last the free name for the next."""
    import re

    pattern = re.compile(rf"{re.escape(target.name)}\.bak([0-9]{{0,6}})", re.IGNORECASE)
    found = filter(None, (pattern.fullmatch(path.name) for path in target.parent.iterdir()))
    numbers = sorted({int(name[1] or 1) for name in found}, reverse=True)
    return [
        target.with_name(f"{target.name}.bak{n if n > 1 else ''}")
        for n in (*numbers, max(numbers, default=0) + 1)
    ]


def _stands_for(copy: Path, target: Path, before: bytes) -> bool:
    """Return whether the file is its copy, with readings of this session added and no more."""
    import time

    from focuschart.cli.files import as_text, read_bytes
    from focuschart.kit.edit import only_readings_added
    from focuschart.kit.load import MAX_BYTES

    with suppress(FocusChartError):
        kept = read_bytes(copy, limit_bytes=MAX_BYTES)
        recent = time.time() - target.stat().st_mtime < _SESSION_S
        return kept == before or (
            recent and only_readings_added(as_text(copy, kept), as_text(target, before))
        )
    return False
