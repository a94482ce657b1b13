"""focuschart printer: sheets to measure a printer by, and what was measured."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import click

from focuschart.cli.common import FilePath, font_option, paper_option
from focuschart.errors import InputError, PageError, UnitError, shown

if TYPE_CHECKING:
    from pathlib import Path

    from focuschart.layout.page import Page
    from focuschart.renderers.glyphs import TypeFace
    from focuschart.store.printers import Setting

_out_option = click.option(
    "--out", type=FilePath(), default="output", show_default=True,
    help="The sheet goes into a folder in here, named after sheet and paper.",
)  # fmt: skip
_force_option = click.option("--force", is_flag=True, help="Overwrite files that are not ours.")


@click.group()
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
    from focuschart.layout.printer.calibration import calibration_page
    from focuschart.store.documents import load_face

    face = load_face(font)
    _write("calibration", [calibration_page(paper, face=face)], face, paper, out, force=force)
    click.echo("Print it at 100 %, then do as it says.")


@printer.command()
@paper_option
@_out_option
@font_option
@_force_option
def registration(*, paper: str, out: Path, font: Path | None, force: bool) -> None:
    """Write a two-sided sheet that shows how far backs are off."""
    from focuschart.layout.printer.registration import registration_pages
    from focuschart.store.documents import load_face

    face = load_face(font)
    _write("registration", registration_pages(paper, face=face), face, paper, out, force=force)
    click.echo("Print it two-sided on one sheet, flip on long edge, at 100 %; then do as it says.")


def _write(
    kind: str, pages: list[Page], face: TypeFace, paper: str, out: Path, *, force: bool
) -> None:
    """Write pages into a folder of their own."""
    from focuschart.layout.printer.calibration import paper_key
    from focuschart.store.documents import rendered
    from focuschart.store.record import write_pack

    name = f"{kind}-{paper_key(paper).replace(' ', '')}"
    files = rendered({kind: pages}, face=face, title=f"Printer sheet, {paper_key(paper)}")
    write_pack(out / name, files, kit=name, force=force)
    click.echo(f"Written to {out / name}: {', '.join(files)}")


# --- what was measured ---------------------------------------------------------------------------


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
    from dataclasses import replace

    from focuschart.layout.printer.calibration import paper_key
    from focuschart.store.printers import Setting, checked_name, printers_file, printers_to_change

    known, key = checked_name(name), paper_key(paper)
    fresh = {**_bars(paper, long, short), **_back(back_right, back_up)}
    if not fresh:
        raise InputError("nothing to store: give --long and --short, or --back-right and --back-up")
    with printers_to_change() as printers:
        setting = replace(printers.get(known, {}).get(key, Setting()), **fresh)
        printers.setdefault(known, {})[key] = setting
    for line in _said(known, key, setting):
        click.echo(line)
    click.echo(f"Stored in {printers_file()}.")


def _bars(paper: str, long: str | None, short: str | None) -> dict[str, float]:
    """Return the bars with what they measure; raises InputError for what cannot be."""
    if long is None and short is None:
        return {}
    if long is None or short is None:
        raise InputError("give both bars, --long and --short: a printer errs differently each way")
    from focuschart.layout.printer.calibration import nominal_bars

    nominal = nominal_bars(paper)
    return {
        "long_bar": nominal.long_mm,
        "long_measured": _measured("--long", long, nominal.long_mm),
        "short_bar": nominal.short_mm,
        "short_measured": _measured("--short", short, nominal.short_mm),
    }


def _back(right: str | None, up: str | None) -> dict[str, float]:
    """Return the offset of backs; raises InputError for what cannot be."""
    if right is None and up is None:
        return {}
    if right is None or up is None:
        raise InputError('give both --back-right and --back-up, "0 mm" where there is nothing')
    from focuschart.layout.printer.correct import Offset

    values = _signed("--back-right", right), _signed("--back-up", up)
    try:
        Offset(*values)
    except PageError as error:
        raise InputError(f"--back-right {shown(right)}, --back-up {shown(up)}: {error}") from None
    return {"back_right": values[0], "back_up": values[1]}


def _measured(option: str, text: str, nominal_mm: float) -> float:
    """Return a bar's measured length in mm."""
    from focuschart.layout.printer.correct import factor

    measured_mm = _signed(option, text)
    try:
        factor(nominal_mm=nominal_mm, measured_mm=measured_mm)
    except PageError as error:
        raise InputError(f"{option} {shown(text)}: {error}; nothing was stored") from None
    return measured_mm


def _signed(option: str, text: str) -> float:
    """Return a length in mm that may have a sign."""
    from focuschart.units import parse_length

    plain = text.strip()
    sign, digits = (-1.0, plain[1:]) if plain[:1] in ("-", "−") else (1.0, plain.removeprefix("+"))
    try:
        return sign * parse_length(digits) + 0.0
    except UnitError as error:
        raise InputError(f"{option} {shown(text)}: {error}; nothing was stored") from None


def _said(name: str, paper: str, setting: Setting) -> Iterator[str]:
    """Yield what is known of a printer on one paper."""
    from focuschart.layout.printer.correct import SMALLEST_ERROR

    correction, offset = setting.correction(name), setting.offset()
    if correction:
        words = f"{name}, {paper}: {correction.words}"
        if max(abs(correction.long - 1), abs(correction.short - 1)) <= SMALLEST_ERROR:
            words += "; the printer is true within 0.02 %, no correction is needed"
        yield words
    if offset:
        yield f"{name}, {paper}: back {offset.right_mm:+.3g} mm right, {offset.up_mm:+.3g} mm up"


@printer.command("list")
def list_() -> None:
    """List all printers with their corrections."""
    from focuschart.store.printers import read_printers

    printers = read_printers()
    for name, papers in printers.items():
        for paper, setting in papers.items():
            for line in _said(name, paper, setting):
                click.echo(line)
    if not printers:
        click.echo('No printer is stored. Print "focuschart printer sheet" and measure its bars.')


@printer.command()
@click.argument("name")
@click.option("--paper", help="Only what was measured on this paper.")
def forget(name: str, *, paper: str | None) -> None:
    """Forget printer NAME, or one of its papers."""
    from focuschart.layout.printer.calibration import paper_key
    from focuschart.store.printers import (
        checked_name,
        printers_file,
        printers_to_change,
        setting_of,
    )

    known = checked_name(name)
    with printers_to_change() as printers:
        if known not in printers:
            raise InputError(f'printer {shown(name)}: is not stored, see "focuschart printer list"')
        if paper is not None:
            setting_of(printers, known, paper)
            del printers[known][paper_key(paper)]
        if paper is None or not printers[known]:
            del printers[known]
    what = f"{known}{f', {paper_key(paper)}' if paper else ''}"
    click.echo(f"Forgotten: {what}. Stored in {printers_file()}.")
