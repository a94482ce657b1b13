"""focuschart read KIT alone: the conversation at the bench, and the file that follows it."""

from __future__ import annotations

import sys
from contextlib import suppress
from typing import TYPE_CHECKING, Any

import click

import focuschart
from focuschart.cli.common import next_step
from focuschart.errors import FocusChartError, InputError, shown

if TYPE_CHECKING:
    from pathlib import Path

    from focuschart import Kit

STOPS = ("q", "quit", "stop")


class _Stopped(Exception):
    """The user has had enough, or the input ends."""


def hold_talk(path: Path, rig_id: str | None) -> None:
    """Ask for the readings of a rig, write each to the kit, and say what all are worth.

    Raises FocusChartError for a kit that cannot be used.
    """
    from focuschart.kit.interview import conduct
    from focuschart.report.bench_talk import INTRODUCTION, Talk

    if sys.stdin is None:
        raise InputError("read asks for readings: give them on its input, or as options")
    with suppress(ImportError):
        # Importing it lets the user edit answers with the cursor keys.
        import readline  # noqa: F401
    kit = focuschart.load(path)
    rig_id = _chosen(kit, rig_id)
    talk = Talk(kit, rig_id)
    file = _Follower(path)
    try:
        if talk.lines:
            conduct(talk.script, ask=_ask, say=click.echo, introduction=INTRODUCTION,
                    after=lambda: file.follow(talk.readings))  # fmt: skip
        else:
            click.echo("Every line of the bench form is read.")
    except _Stopped:
        click.echo("\nStopped. The same command goes on from here.")
    _conclude(path, rig_id, len(file.written))


def _chosen(kit: Kit, rig_id: str | None) -> str:
    """Return the rig to read: the one named, the only one, or one that is asked for."""
    if rig_id is not None:
        kit.require_rigs([rig_id], option="--rig")
        return rig_id
    rigs = list(kit.rigs)
    while len(rigs) > 1:
        listed = ", ".join(f"{n} {rig}" for n, rig in enumerate(rigs, start=1))
        try:
            typed = _ask(f"Which rig: {listed} [1]: ").strip() or "1"
        except _Stopped:
            raise InputError(f"{kit.source}: name the rig to read, --rig {rigs[0]}") from None
        if typed in rigs:
            return typed
        if typed.isdecimal() and 1 <= int(typed) <= len(rigs):
            return rigs[int(typed) - 1]
        click.echo(f"  {shown(typed)}: give a number from 1 to {len(rigs)}")
    return rigs[0]


class _Follower:
    """The kit file, which has the readings of the conversation at every moment."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self.written: list[dict[str, Any]] = []

    def follow(self, readings: list[dict[str, Any]]) -> None:
        """Take back and add readings until the file has these; raises ValueError where it cannot.

        A reading of which the second figure was added is taken back and written whole.
        """
        from focuschart.store.kit_edits import add_readings, open_kit, take_back

        same = 0
        while self.written[same : same + 1] == readings[same : same + 1] != []:
            same += 1
        try:
            while len(self.written) > same:
                take_back(self._path)
                self.written.pop()
            for reading in readings[same:]:
                add_readings(open_kit(self._path), [reading], anyway=True)
                self.written.append(reading)
        except FocusChartError as error:
            raise ValueError(str(error)) from None


def _conclude(path: Path, rig_id: str, count: int) -> None:
    from focuschart.report.bench_talk import worth

    if count:
        readings = f"{count} reading{'s' * (count > 1)}"
        click.echo(f"\n{readings} written to {click.format_filename(path)}.")
    kit = focuschart.load(path)
    for sentence in worth(kit, focuschart.solving(kit, rigs=[rig_id]), rig_id):
        click.echo(sentence)
    next_step("See how sure each mark is, and why", "fit", path)


def _ask(prompt: str) -> str:
    """Return a line of the input; raises _Stopped at its end, or where the user stops."""
    try:
        line = input(prompt)
    except (EOFError, UnicodeDecodeError):
        raise _Stopped from None
    if not sys.stdin.isatty():
        click.echo(line)
    if line.strip().casefold() in STOPS:
        raise _Stopped
    return line
