"""focuschart compare: what must be printed again, and how far every mark has moved."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

import focuschart
from focuschart.cli.common import FilePath, format_option, next_step, say_left_out

if TYPE_CHECKING:
    from pathlib import Path


@click.command()
@click.argument("old", type=FilePath())
@click.argument("new", type=FilePath())
@click.option(
    "--rig", "rigs", multiple=True, metavar="OLD=NEW",
    help="Only this rig of OLD, with that rig of NEW; may be given again.",
)  # fmt: skip
@format_option("A report")
def compare(old: Path, new: Path, rigs: tuple[str, ...], form: str) -> None:
    """Tell which strips and cards of OLD must be printed again for NEW.

    Each is a kit file, the pack-record.json that a build leaves beside a rig's pack, or the folder
    of a kit's packs. For every print: what changed, how far each mark has moved on the barrel, in
    mm and in tolerances at each stop, and whether to keep it, to keep it from some stop on, or to
    print it again. The exit status is 0 where all may stay at every stop, 1 where anything must be
    printed, if only for the widest stops, and 2 where OLD or NEW cannot be used.
    """
    from focuschart.report.compare import as_json, as_text

    result = focuschart.compare(old, new, rigs=rigs)
    for path, left_out in zip((old, new), result.left_out, strict=True):
        say_left_out(left_out, source=str(path))
    if form == "json":
        click.echo(as_json(result.comparisons, replaced=result.replaced), nl=False)
    else:
        text = as_text(result.comparisons, units=result.units, replaced=result.replaced)
        click.echo(text, nl=False)
        if result.to_print and new.suffix == ".toml" and not rigs:
            next_step("Print these, and nothing else", "build", new, "--only-stale")
    if result.to_print:
        raise SystemExit(1)
