"""focuschart build: the whole pack of a kit, written to a folder."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import click

from focuschart.cli.common import (
    font_option,
    kit_argument,
    out_option,
    paper_option,
    read_kit,
    rig_option,
    solved,
)
from focuschart.errors import GlyphError, PageError

if TYPE_CHECKING:
    from pathlib import Path

    from focuschart.chart import RigChart
    from focuschart.kit.schema import Kit


@click.command()
@kit_argument
@rig_option
@out_option
@paper_option
@click.option("--card", default="ID-1", show_default=True, help='ID-1, A7, A6, or "90 x 60 mm".')
@font_option
@click.option("--force", is_flag=True, help="Overwrite files that are not a former build's.")
def build(
    kit: Path,
    *,
    rigs: tuple[str, ...],
    out: Path,
    paper: str,
    card: str,
    font: Path | None,
    force: bool,
) -> None:
    """Write strips, index strips, rulers, pocket cards and charts of a kit, and sheets of rigs.

    Each document is written as PDF and as SVG at true scale. Rings without readings get their
    ruler strip only, and a rig gets a sheet where its lengths, masses and centres are all given.
    """
    from focuschart.cli.documents import check_texts, folder_name, load_face, rendered, require_few
    from focuschart.cli.pack_files import write_pack
    from focuschart.pages.pack import Paper, pack_pages
    from focuschart.pages.rigs import rig_pages

    bag = read_kit(kit, rigs)
    require_few(kit, rigs or tuple(bag.rigs))
    face = load_face(font)
    check_texts(bag, face, source=str(kit))
    charts = list(solved(bag, rigs, source=str(kit), label="Solving"))
    try:
        documents = {
            **pack_pages(bag, charts, face=face, on=Paper(paper, card)),
            **rig_pages(bag, charts, face=face, paper=paper),
        }
    except (PageError, GlyphError) as error:
        raise type(error)(f"{kit}: {error}") from None
    files = {**rendered(bag, documents, face), **_data(bag, charts)}
    folder = out / folder_name(kit)
    write_pack(folder, files, kit=kit.name, force=force)
    _say(bag, charts, folder, files)


def _data(kit: Kit, charts: list[RigChart]) -> dict[str, bytes]:
    from focuschart.report import as_csv, as_json, as_text

    texts = {
        "chart.txt": as_text(charts, units=kit.units),
        "chart.json": as_json(charts),
        "chart.csv": as_csv(charts),
    }
    return {name: text.encode() for name, text in texts.items()}


def _say(kit: Kit, charts: list[RigChart], folder: Path, files: Mapping[str, bytes]) -> None:
    from focuschart.report import sureness

    for chart in charts:
        click.echo(f"{chart.rig.rig_id}  {chart.revision}")
        for sentence in sureness(chart, units=kit.units):
            click.echo(f"  {sentence}")
    click.echo(f"Written to {folder}: {', '.join(files)}")
    click.echo("Print at 100 %, measure both check bars, and test every mark on camera.")
