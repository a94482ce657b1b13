"""focuschart init: write a first kit, from an interview or as a commented example."""

from __future__ import annotations

import os
import sys
from contextlib import suppress
from typing import TYPE_CHECKING

import click

from focuschart.cli.common import FilePath, next_step
from focuschart.errors import InputError, OutputError

if TYPE_CHECKING:
    from pathlib import Path


@click.command()
@click.argument("path", type=FilePath(), default="kit.toml")
@click.option(
    "--more", is_flag=True,
    help="Ask for the whole bag: several lenses, parts in between, and what check needs.",
)  # fmt: skip
@click.option("--starter", is_flag=True, help="Write a commented example kit, ask nothing.")
@click.option("--force", is_flag=True, help="Overwrite a file that is there already.")
@click.pass_context
def init(ctx: click.Context, path: Path, more: bool, starter: bool, force: bool) -> None:
    """Ask for the bag, one question at a time, and write a kit to PATH (kit.toml)."""
    _refuse_taken(path, force=force)
    try:
        written = (
            _write_starter(path, force) if starter else _write_interview(path, force, more=more)
        )
    except EOFError:
        click.echo("\nStopped, nothing was written.", err=True)
        ctx.exit(2)
    else:
        click.echo(f"Written to {click.format_filename(written)}.")
        if starter:
            next_step("Put your own parts in, then check that they fit together", "check", written)
        else:
            next_step("Print what the bench needs", "bench", written)


def _refuse_taken(path: Path, *, force: bool) -> None:
    """Raise OutputError for a path that cannot be written, before any question is asked."""
    if os.path.isdir(path):
        raise OutputError(f"{path}: is a folder, give the name of a file in it")
    if not force and os.path.lexists(path):
        raise OutputError(f"{path}: is there already, choose another name or --force")


def _write_starter(path: Path, force: bool) -> Path:
    from focuschart.kit.kit_text import starter
    from focuschart.store.files import write_new

    write_new(path, starter(), force=force)
    return path


def _write_interview(path: Path, force: bool, *, more: bool) -> Path:
    if sys.stdin is None or not sys.stdin.isatty():
        raise InputError("init asks its questions on a terminal; use --starter for a kit to edit")
    with suppress(ImportError):
        # Importing it lets the user edit answers with the cursor keys.
        import readline  # noqa: F401
    from focuschart.kit.first_rig import INTRODUCTION, first_rig
    from focuschart.kit.interview import conduct
    from focuschart.kit.questions import bag

    if not more:
        click.echo(INTRODUCTION)
    text = conduct(bag if more else first_rig, ask=_ask, say=click.echo)
    return _save(path, text, force=force)


def _save(path: Path, text: str, *, force: bool) -> Path:
    """Write the kit; where that fails, ask for another file, so that no answer is lost."""
    from pathlib import Path

    from focuschart.store.files import write_new

    while True:
        try:
            write_new(path, text, force=force)
            return path
        except OutputError as error:
            click.echo(str(error))
            answer = _ask(f"Write it to which file instead [{path}]: ")
            path, force = Path(answer) if answer else path, False


def _ask(prompt: str) -> str:
    """Return a line typed on the terminal; raises KeyboardInterrupt and EOFError."""
    while True:
        try:
            return input(prompt)
        except UnicodeDecodeError:
            click.echo("  The terminal sent no UTF-8 text, please type it again.")
