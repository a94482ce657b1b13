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

from focuschart.cli.common import kit_argument
from focuschart.errors import FocusChartError, InputError, KitError, OutputError, Problem, shown
from focuschart.units import format_stop

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from focuschart.kit.schema import Kit

    Reading = Mapping[str, Any]

_SESSION_S = 6 * 3600.0
"""A kit left alone for longer begins a new session; judgement, no source."""
_WRITABLE = 0o222
_AGAIN = "nothing was written, run it again"


@click.command()
@kit_argument
@click.option("--rig", metavar="ID", help="The rig that was read.")
@click.option(
    "--distance", metavar="LENGTH",
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
@click.option(
    "--anyway", is_flag=True,
    help="Write also a figure that its ring cannot show, or that runs against its neighbours.",
)  # fmt: skip
@click.option(
    "--undo", is_flag=True, help="Take back the last reading that this command wrote, and no more."
)
def read(
    kit: Path,
    *,
    rig: str | None,
    distance: str | None,
    distance_error: str | None,
    stop: float | None,
    taking: tuple[float, ...],
    attachment: tuple[float, ...],
    anyway: bool,
    undo: bool,
) -> None:
    """Add a bench reading to a kit file; the rest of the file stays as it is.

    Files that the kit includes are never written: readings of their rigs go to the kit.

    For repeats at one set-up, refocus both rings each time: the first --taking goes with the
    first --attachment, the second with the second.
    """
    from focuschart.kit.load import MAX_BYTES, load_rigs
    from focuschart.store.files import as_text, read_bytes
    from focuschart.store.kits import Disk

    if undo:
        if any((rig, distance, distance_error, stop, taking, attachment, anyway)):
            raise click.UsageError("--undo stands alone: it takes back the last reading written.")
        _take_back(kit)
        return
    if rig is None or distance is None:
        raise click.UsageError(f"Missing option '--{'distance' if rig else 'rig'}'.")
    if not taking and not attachment:
        raise InputError("give --taking, --attachment or both: what their rulers show, in mm")
    before = read_bytes(kit, limit_bytes=MAX_BYTES)
    text = as_text(kit, before)
    bag = load_rigs(text, source=str(kit), shelf=Disk())
    shared = {"rig": rig, "distance": distance, "distance_error": distance_error,
              "stop": min(bag.stops) if stop is None else stop}  # fmt: skip
    readings = [{**shared, "taking": figure, "attachment": other}
                for figure, other in zip_longest(taking, attachment)]  # fmt: skip
    if not anyway:
        _ask_at_the_door(kit, bag, readings)
    after = _with_readings(kit, text, bag, readings, anyway=anyway)
    byte_order_mark = before.removesuffix(text.encode())
    old = _replace(kit, before, byte_order_mark + after.encode())
    numbers = range(own := _count(text), own + len(readings))
    for reading in readings:
        click.echo(f"Written to {click.format_filename(kit)}: {_say(reading)}")
    click.echo(f"The kit as it was before: {click.format_filename(old)}")
    for sentence in _judged(kit, after, rig, numbers):
        click.echo(sentence)


def _ask_at_the_door(kit: Path, bag: Kit, readings: Sequence[Reading]) -> None:
    """Raise KitError for figures that cannot be true; what is no reading is for the loader."""
    from focuschart.kit.door import door_problems

    problems = [problem for reading in readings for problem in door_problems(bag, reading)]
    if problems:
        raise KitError(str(kit), list(dict.fromkeys(problems)))


def _take_back(kit: Path) -> None:
    """Write the kit without the last reading that this command wrote.

    Its own work is known by the copies it keeps: the file is one of them with readings added, to
    the byte. Raises InputError where it is not.
    """
    from pathlib import Path

    from focuschart.kit.edit import readings_added, with_reading
    from focuschart.kit.load import MAX_BYTES
    from focuschart.store.files import as_text, read_bytes

    before = read_bytes(kit, limit_bytes=MAX_BYTES)
    text = as_text(kit, before)
    for copy in _copies(Path(os.path.realpath(kit))):
        with suppress(FocusChartError):
            former = as_text(copy, read_bytes(copy, limit_bytes=MAX_BYTES))
            added = readings_added(former, text)
            if added:
                after = with_reading(former, *added[:-1])
                break
    else:
        raise InputError(
            f"{kit}: its last reading was not written by this command, or the file was changed "
            "since: take it out by hand"
        )
    byte_order_mark = before.removesuffix(text.encode())
    old = _replace(kit, before, byte_order_mark + after.encode())
    absent = dict.fromkeys(("taking", "attachment"))
    click.echo(f"Taken back from {click.format_filename(kit)}: {_say({**absent, **added[-1]})}")
    click.echo(f"The kit as it was before the session: {click.format_filename(old)}")


def _count(text: str) -> int:
    """Return how many readings stand in the file itself, before all that it includes."""
    import tomllib

    return len(tomllib.loads(text).get("readings", []))


def _judged(kit: Path, text: str, rig: str, numbers: range) -> list[str]:
    """Return what the new readings look like among the others, or why nothing can be said yet."""
    from focuschart.chart import build_charts
    from focuschart.kit.load import load_rigs
    from focuschart.report.fit import entered
    from focuschart.store.kits import Disk

    bag = load_rigs(text, source=str(kit), shelf=Disk())
    charts = build_charts(bag, only=(rig,))
    sentences = [line for chart in charts for line in entered(bag, chart, numbers)]
    missing = [
        f"No marks yet, {one.what}: {one.why}: {one.cure}" for one in charts.left_out if one.of_ring
    ]
    return [*missing, *sentences]


def _say(reading: Reading) -> str:
    setup = (reading["rig"], shown(reading["distance"]), format_stop(reading["stop"]))
    figures = (f"{ring} {reading[ring]:g}" for ring in ("taking", "attachment")
               if reading[ring] is not None)  # fmt: skip
    return ", ".join((*setup, *figures))


def _with_readings(
    kit: Path, text: str, bag: Kit, readings: Sequence[Reading], *, anyway: bool
) -> str:
    """Return the kit's new text, checked; problems of the new readings name their options.

    What was wrong in `bag`, the kit before, stays so and is no problem of theirs; `anyway`, nor is
    what a ring's readings then contradict as a whole.
    """
    from focuschart.kit.edit import with_reading
    from focuschart.kit.load import load_rigs
    from focuschart.kit.rules import unusable_rings
    from focuschart.store.kits import Disk

    try:
        after = with_reading(text, *readings)
        wrong, before = (
            unusable_rings(one) for one in (load_rigs(after, source=str(kit), shelf=Disk()), bag)
        )
        new = [problem for part, problem in wrong.items() if part not in before]
        new = [problem for problem in new if not anyway or problem.key.startswith("readings[")]
        if new:
            raise KitError(str(kit), new)
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

    from focuschart.kit.load import MAX_BYTES
    from focuschart.store.files import (
        alone,
        discard,
        publish,
        read_bytes,
        stage,
        sweep,
        written_or_nothing,
    )

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

    from focuschart.kit.edit import readings_added
    from focuschart.kit.load import MAX_BYTES
    from focuschart.store.files import as_text, read_bytes

    with suppress(FocusChartError):
        kept = read_bytes(copy, limit_bytes=MAX_BYTES)
        recent = time.time() - target.stat().st_mtime < _SESSION_S
        return kept == before or (
            recent and readings_added(as_text(copy, kept), as_text(target, before)) is not None
        )
    return False
