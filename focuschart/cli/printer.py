"""focuschart printer: sheets by which a printer is measured, and its measurements."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from focuschart.cli.common import FilePath, InOrder, font_option, next_step, paper_option

if TYPE_CHECKING:
    from pathlib import Path

    from focuschart.store.printers import Setting

_out_option = click.option(
    "--out", type=FilePath(), default="output", show_default=True,
    help="The sheet goes into a folder in here, named after sheet and paper.",
)  # fmt: skip
_force_option = click.option("--force", is_flag=True, help="Overwrite files that are not ours.")


@click.group(cls=InOrder)
def printer() -> None:
    """Measure a printer once, so that what it prints comes out at its true size.

    Print "focuschart printer sheet", measure its two bars, enter them with "focuschart printer
    set"; then say --printer NAME wherever pages are written.
    """


# --- sheets --------------------------------------------------------------------------------------


@printer.command()
@paper_option
@_out_option
@font_option
@_force_option
def sheet(*, paper: str, out: Path, font: Path | None, force: bool) -> None:
    """Write the calibration sheet, whose bars are measured."""
    _write("calibration", paper, font, out, force=force)
    lengths = ("--long", "284.3 mm", "--short", "196.7 mm")
    what = "Print it at 100 %, measure both bars, and store what you measured"
    next_step(what, "printer", "set", "My printer", "--paper", paper, *lengths)


@printer.command()
@paper_option
@_out_option
@font_option
@_force_option
def registration(*, paper: str, out: Path, font: Path | None, force: bool) -> None:
    """Write a two-sided sheet that shows how far backs are off."""
    _write("registration", paper, font, out, force=force)
    offsets = ("--back-right", "0.6 mm", "--back-up", "-0.3 mm")
    what = "Print it two-sided, flip on long edge, at 100 %, and store what its scales read"
    next_step(what, "printer", "set", "My printer", "--paper", paper, *offsets)


def _write(kind: str, paper: str, font: Path | None, out: Path, *, force: bool) -> None:
    """Write a sheet into a folder named after it."""
    from focuschart.store.printer_sheets import printer_sheet
    from focuschart.store.record import write_pack

    name, files = printer_sheet(kind, paper, font)
    write_pack(out / name, files, kit=name, force=force)
    click.echo(f"Written to {out / name}: {', '.join(files)}")


# --- measurements ------------------------------------------------------------------------------


@printer.command("set")
@click.argument("name")
@paper_option
@click.option("--long", metavar="LENGTH", help='The bar along the long edge, as "284.3 mm".')
@click.option("--short", metavar="LENGTH", help="The bar along the short edge.")
@click.option("--back-right", metavar="LENGTH", help='Read off the registration sheet: "0.6 mm".')
@click.option("--back-up", metavar="LENGTH", help='Likewise; "-0.3 mm" for a back too low.')
def set_(
    name: str,
    *,
    paper: str,
    long: str | None,
    short: str | None,
    back_right: str | None,
    back_up: str | None,
) -> None:
    """Store what was measured of printer NAME.

    Its bars and its backs may be entered one after the other.
    """
    from focuschart.store.printers import Lengths, printers_file, store_setting

    known, key, setting = store_setting(name, paper, Lengths(long, short, back_right, back_up))
    _tell(known, key, setting)
    click.echo(f"Stored in {printers_file()}.")
    what = "Build for this printer from now on"
    next_step(what, "build", "kit.toml", "--paper", paper, "--printer", known)


def _tell(name: str, paper: str, setting: Setting) -> None:
    for sentence in setting.sentences(name):
        click.echo(f"{name}, {paper}: {sentence}")


@printer.command("list")
def list_() -> None:
    """List all printers with their corrections."""
    from focuschart.store.printers import read_printers

    printers = read_printers()
    for name, papers in printers.items():
        for paper, setting in papers.items():
            _tell(name, paper, setting)
    if not printers:
        click.echo('No printer is stored. Print "focuschart printer sheet" and measure its bars.')


@printer.command()
@click.argument("name")
@click.option("--paper", help="Only what was measured on this paper.")
def forget(name: str, *, paper: str | None) -> None:
    """Forget printer NAME, or one of its papers."""
    from focuschart.store import printers

    what = printers.forget(name, paper)
    click.echo(f"Forgotten: {what}. Stored in {printers.printers_file()}.")
