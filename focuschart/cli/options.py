"""The options of printing, passed to a command as one `Printing`."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any, TypeVar

import click

from focuschart.cli.common import any_paper_option, font_option
from focuschart.store.printing import CARD, FUMES

Command = TypeVar("Command", bound=Callable[..., Any])


def printing_options(command: Command) -> Command:
    """Add all options of printing to a command, which takes them as one argument `printing`."""

    @wraps(command)
    def with_printing(*args: Any, **options: Any) -> Any:
        from focuschart.store.drawing import printing_of

        chosen = {name: options.pop(name) for name in _NAMES}
        return command(*args, printing=printing_of(chosen), **options)

    for option in reversed(_OPTIONS):
        with_printing = option(with_printing)
    return with_printing  # type: ignore[return-value]


_NAMES = (
    "paper", "way", "copies", "bleed", "film", "card", "card_sides", "look", "spot", "cut_files",
    "preview", "printer", "font",
)  # fmt: skip
_OPTIONS = (
    any_paper_option,
    click.option(
        "--way", type=click.Choice(["auto", "landscape", "portrait"]), default="auto",
        show_default=True, help="Which way up sheets are used.",
    ),
    click.option(
        "--copies", type=int, default=1, show_default=True,
        help="Of every strip and card, 1 to 100.",
    ),
    click.option(
        "--bleed", default="0 mm", show_default=True, help="Ground beyond the cut, up to 10 mm."
    ),
    click.option(
        "--film", default="0 mm", show_default=True,
        help=f'Laminate beyond the cut, up to 20 mm; "3 mm" is usual. {FUMES}',
    ),
    click.option(
        "--card", default=CARD, show_default=True,
        help='ID-1, A7, A6 or a size, "90 x 60 mm", of 40 to 200 mm a side.',
    ),
    click.option(
        "--card-sides", type=click.Choice(["fold", "two"]), default="fold", show_default=True,
        help="Cards to fold, or printed on both sides of a sheet turned over its long edge.",
    ),
    click.option(
        "--look", default="plain", show_default=True,
        help="plain, night (light on dark), grey, or glow (for stock that glows or reflects).",
    ),
    click.option(
        "--spot", metavar="NAME", help=f"A spot colour in the PDFs for what is cut. {FUMES}"
    ),
    click.option(
        "--cut-files", is_flag=True, help=f"Also write files of the cut lines alone. {FUMES}"
    ),
    click.option("--preview", is_flag=True, help="Also write a picture of every page."),
    click.option("--printer", metavar="NAME", help='Correct pages for it, once measured.'),
    font_option,
)  # fmt: skip
