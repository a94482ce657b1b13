"""focuschart check: whether rigs fit together, cover the sensor and can be carried."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

import focuschart
from focuschart.cli.common import (
    finish,
    format_option,
    kit_argument,
    read_swapped,
    rig_option,
    swap_options,
)

if TYPE_CHECKING:
    from pathlib import Path

    from focuschart import Kit


@click.command()
@kit_argument
@rig_option
@swap_options
@format_option("A report")
@click.pass_context
def check(
    ctx: click.Context,
    kit: Path,
    *,
    rigs: tuple[str, ...],
    taking_lens: str | None,
    rings: tuple[str, ...],
    form: str,
) -> None:
    """Say whether each rig fits together, covers the sensor and can be carried.

    Ends with exit status 1 when a rig cannot work.
    """
    from focuschart.report.check import as_json, as_text

    bag, chosen = read_swapped(kit, rigs, taking_lens, rings)
    checks = focuschart.check(bag, rigs=chosen)
    if form == "text":
        click.echo(as_text(checks, units=bag.units), nl=False)
    else:
        click.echo(as_json(checks), nl=False)
    then = _next(bag, kit, works=checks.works) if form == "text" else ()
    finish(bag, checks.left_out, made=bool(checks), then=then)
    if not checks.works:
        ctx.exit(1)


def _next(bag: Kit, kit: Path, *, works: bool) -> tuple[object, ...]:
    if not works:
        return ("Change what cannot work, and check again", "check", kit)
    if bag.readings:
        return ("Print the strips", "build", kit)
    return ("Print what the bench needs", "bench", kit)
