"""The command line. Commands are thin: they read options, call other rooms and report results.

Only click is imported here; each command imports what it needs when it runs.
"""

from __future__ import annotations

import os
import sys
from contextlib import suppress
from typing import Any

import click

from focuschart.cli.bench import bench
from focuschart.cli.build import build
from focuschart.cli.chart import chart
from focuschart.cli.check import check
from focuschart.cli.common import plain
from focuschart.cli.compare import compare
from focuschart.cli.fit import fit
from focuschart.cli.hold import hold
from focuschart.cli.identify import identify
from focuschart.cli.init import init
from focuschart.cli.printer import printer
from focuschart.cli.rack import rack
from focuschart.cli.read import read
from focuschart.cli.schema import schema
from focuschart.errors import INTERRUPTED, FocusChartError
from focuschart.version import __version__


class _Group(click.Group):
    """A command group that reports a user's error in one sentence, with exit status 2."""

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


for command in (
    init, check, bench, read, fit, chart, hold, rack, build, compare, identify, printer, schema,
):  # fmt: skip
    main.add_command(command)
