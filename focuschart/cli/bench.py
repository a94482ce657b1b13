"""focuschart bench: what to print before the readings are taken."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from focuschart.cli.common import (
    any_paper_option,
    finish,
    font_option,
    kit_argument,
    out_option,
    progress,
    read_kit,
    rig_option,
)
from focuschart.errors import GlyphError, PageError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path


@click.command()
@kit_argument
@rig_option
@out_option
@any_paper_option
@click.option(
    "--setups", type=click.IntRange(4, 12), default=5, show_default=True,
    help="How many distances to read at.",
)  # fmt: skip
@click.option(
    "--repeats", type=click.IntRange(1, 4), default=2, show_default=True,
    help="How often to focus and read at each.",
)  # fmt: skip
@click.option("--printer", metavar="NAME", help="Correct pages for it, as build corrects strips.")
@font_option
@click.option("--force", is_flag=True, help="Overwrite files that are not a former bench pack's.")
def bench(
    kit: Path,
    *,
    rigs: tuple[str, ...],
    out: Path,
    paper: str,
    setups: int,
    repeats: int,
    printer: str | None,
    font: Path | None,
    force: bool,
) -> None:
    """Write ruler strips, a form to fill in for each rig, and targets to hang up.

    The form lists the distances at which readings help this rig's marks most; each target's finest
    lines are as fine as sharpness asks for at its distance.
    """
    from focuschart.store.bench_pack import bench_documents
    from focuschart.store.documents import load_face, rendered, require_few
    from focuschart.store.folders import folder_name
    from focuschart.store.record import write_pack

    bag = read_kit(kit, rigs)
    require_few(kit, rigs or tuple(bag.rigs))
    face = load_face(font)
    try:
        documents, left_out = bench_documents(
            bag, rigs, paper=paper, setups=setups, repeats=repeats, face=face, printer=printer
        )
    except (PageError, GlyphError) as error:
        raise type(error)(f"{kit}: {error}") from None
    if not documents:
        finish(bag, left_out, made=False)
    files: dict[str, bytes] = {}
    for name in progress(documents, len(documents), "Drawing", slow=True):
        files |= rendered({name: documents[name]}, face=face, title=bag.name)
    folder = out / f"{folder_name(kit)}-bench"
    write_pack(folder, files, kit=kit.name, force=force)
    click.echo(f"Written to {folder}, as PDF and as SVG: {_counted(documents)}")
    click.echo("Print at 100 %, measure both check bars. Never point the rig at the sun.")
    what = "Tape the rulers on, and enter each line of the form as you read it"
    finish(bag, left_out, made=True, then=(what, "read", kit))


def _counted(documents: Mapping[str, Sequence[object]]) -> str:
    """Return each document's name and number of pages."""
    counts = ((name, len(pages)) for name, pages in documents.items())
    return ", ".join(f"{name} {count} page{'s' * (count != 1)}" for name, count in counts)
