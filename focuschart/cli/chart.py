"""focuschart chart: the marks as a table or as data."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import click

from focuschart.cli.common import (
    advised,
    finish,
    format_option,
    kit_argument,
    read_swapped,
    rig_option,
    solved,
    swap_options,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

    from focuschart import Chart

_KEPT_BYTES = 1_000_000
"""The most text kept in memory before it is printed."""
_COLOURS = {"sure": "green", "nearly": "yellow", "not": "red"}


@click.command()
@kit_argument
@rig_option
@swap_options
@format_option("A table", data=("json", "csv"))
def chart(
    kit: Path,
    *,
    rigs: tuple[str, ...],
    taking_lens: str | None,
    rings: tuple[str, ...],
    form: str,
) -> None:
    """Print both rings' settings, depth of field and how sure they are."""
    from focuschart.report.charts import text_parts
    from focuschart.report.data import csv_parts, json_parts

    bag, chosen = read_swapped(kit, rigs, taking_lens, rings)
    charts, left_out = solved(bag, chosen, label="Solving")
    if taking_lens or rings:
        charts = advised(charts)
    made: list[str] = []
    named = _named(charts, made)
    if form == "text":
        _print_whole(map(coloured, text_parts(named, units=bag.units)))
    else:
        _print_whole(json_parts(named, left_out) if form == "json" else csv_parts(named))
    then = ("Print the strips", "build", kit) if form == "text" else ()
    finish(bag, left_out, made=bool(made), then=then)


def _named(charts: Iterable[Chart], names: list[str]) -> Iterator[Chart]:
    """Yield the charts, and append the rig of each to `names`."""
    for each in charts:
        names.append(each.rig.rig_id)
        yield each


def _print_whole(parts: Iterable[str]) -> None:
    """Print text parts once all are made; many are kept on the disk instead of in memory."""
    from tempfile import SpooledTemporaryFile

    with SpooledTemporaryFile(_KEPT_BYTES, "w+", encoding="utf-8", newline="") as spool:
        for part in parts:
            spool.write(part)
        spool.seek(0)
        while lines := spool.readlines(_KEPT_BYTES // 10):
            click.echo("".join(lines), nl=False)


def coloured(text: str) -> str:
    """Return a text with coloured verdicts; click removes colours if it is not for a terminal."""
    return re.sub(
        rf"\b({'|'.join(_COLOURS)})\b(?=,|$)",
        lambda match: click.style(match[0], fg=_COLOURS[match[0]]),
        text,
        flags=re.MULTILINE,
    )
