"""focuschart identify: which strip or card a code belongs to, and whether it is current."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from focuschart.cli.common import FilePath, next_step

if TYPE_CHECKING:
    from pathlib import Path


@click.command()
@click.argument("code")
@click.argument("kits", type=FilePath(), nargs=-1, metavar="[KIT]...")
@click.option(
    "--out", type=FilePath(), default="output", show_default=True,
    help="The folder of packs whose records are searched.",
)  # fmt: skip
def identify(code: str, kits: tuple[Path, ...], out: Path) -> None:
    """Tell which strip or card carries CODE, and whether it is current.

    The records beside the packs are searched, former prints among them. Give the kit files too to
    learn whether what was printed last is still what they say now. The exit status is 0 for a
    current print, 1 for one that is not, and 2 for a code that is none or that nothing knows.
    """
    from focuschart.store.prints import identified

    found = identified(code, kits, out)
    printed = found.printed
    click.echo(f"{printed.code}  {printed.title} ({printed.rig_id}/{printed.name})")
    if found.current:
        asked = "as the kit says now" if kits else "the last printed; give the kit to be sure"
        click.echo(f"Current: {asked}.")
        return
    if found.now is None:
        click.echo("Stale: nothing of that name is printed any more.")
    else:
        from focuschart.report.compare import as_text

        click.echo("Stale:")
        difference, units = found.difference
        click.echo(as_text(difference, units=units, replaced={}), nl=False)
        if len(kits) == 1:
            next_step("Print what must be printed again", "build", kits[0], "--only-stale")
    raise SystemExit(1)
