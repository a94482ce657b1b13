"""The command line. Commands are thin: they read options, call other rooms and report results.

Only click is imported here. A command's module is imported when the command is asked for, and what
the command needs when it runs.
"""

from __future__ import annotations

import importlib
import os
import sys
from contextlib import suppress
from typing import Any

import click

from focuschart.errors import INTERRUPTED, FocusChartError
from focuschart.version import __version__

_COMMANDS = {
    "guide": "Show the guide, topic by topic.",
    "init": "Write a kit file: asks for what is in the bag.",
    "check": "Say whether a rig fits, covers the sensor and can be carried.",
    "bench": "Write rulers, targets and a form for the bench readings.",
    "read": "Add a bench reading to a kit file.",
    "photo": "Read both rings off photographs into a kit file.",
    "fit": "Say how well the readings fit and how sure each mark is.",
    "chart": "Print both rings' settings and depth of field.",
    "build": "Write marker strips, cards and charts, a folder a rig.",
    "test": "Write a page for the camera test, or judge strips by it.",
    "hold": "Say how far a subject may move while the attachment rests.",
    "phone": "Write the card as one page for a phone.",
    "rack": "Print both rings' settings along a rack of focus.",
    "compare": "Tell which strips and cards must be printed again.",
    "identify": "Tell what a code on a strip or card was printed for.",
    "printer": "Measure a printer once, so that it prints true lengths.",
    "schema": "Print the JSON schema of a kit file, for editors.",
}
"""What each command does, in the order of the work; its module has the same name."""


class _Group(click.Group):
    """A command group that reports a user's error in one sentence, with exit status 2."""

    def list_commands(self, _: click.Context) -> list[str]:
        """Return the names of all commands, in the order of the work."""
        return list(_COMMANDS)

    def get_command(self, _: click.Context, name: str) -> click.Command | None:
        """Return a command, its module imported; None for an unknown one."""
        if name not in _COMMANDS:
            return None
        command: click.Command = getattr(importlib.import_module(f"{__name__}.{name}"), name)
        return command

    def format_commands(self, _: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the list of commands without importing them."""
        with formatter.section("Commands"):
            formatter.write_dl(list(_COMMANDS.items()))

    def main(self, *args: Any, **kwargs: Any) -> Any:
        """Run a command; an output that cannot be written is reported in one sentence too."""
        if sys.stdout is not None:
            # A path's bytes that are not text are written unchanged; a terminal shows a question
            # mark for characters that it lacks.
            how = ("replace", None) if sys.stdout.isatty() else ("surrogateescape", "utf-8")
            with suppress(AttributeError):
                sys.stdout.reconfigure(errors=how[0], encoding=how[1])  # type: ignore[union-attr]
        try:
            return super().main(*args, **kwargs)
        except OSError as error:
            with suppress(OSError):  # stderr may go to the same full disk
                click.echo(f"focuschart: the output cannot be written, {error.strerror}", err=True)
            os._exit(2)  # without flushing, which would fail again

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command; errors that the user can correct are reported without a traceback."""
        if os.environ.get("NO_COLOR"):
            ctx.color = False
        try:
            return super().invoke(ctx)
        except FocusChartError as error:
            from focuschart.cli.common import plain

            click.echo(f"focuschart: {plain(str(error))}", err=True)
            ctx.exit(2)
        except KeyboardInterrupt as stop:
            click.echo(f"\nStopped, {str(stop) or 'nothing was written'}.", err=True)
            ctx.exit(INTERRUPTED)


@click.group(cls=_Group, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="focuschart")
def main() -> None:
    """Print the focus marks of a dual-focus anamorphic rig.

    A kit file says what is in the bag and what was read on the bench. Start one with
    "focuschart init", print rulers, form and targets with "focuschart bench", enter each reading
    with "focuschart read", see what they are worth with "focuschart fit", and print the marker
    strips and the pocket card with "focuschart build".
    """
