"""focuschart test: a page for the camera test, and what its readings say of the strips."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from focuschart.cli.common import (
    FilePath,
    finish,
    font_option,
    kit_argument,
    next_step,
    paper_option,
    read_kit,
    rig_option,
)

if TYPE_CHECKING:
    from pathlib import Path

    from focuschart import Kit


@click.command()
@kit_argument
@rig_option
@click.option(
    "--out", type=FilePath(), default="output", show_default=True,
    help="The folder of packs: pages go there, and printed marks come from its records.",
)  # fmt: skip
@click.option("--result", is_flag=True, help="Judge the strips by the readings through them.")
@click.option(
    "--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True,
    help="Of the result.",
)  # fmt: skip
@paper_option
@font_option
@click.option("--force", is_flag=True, help="Overwrite files that are not a former test's.")
def test(
    kit: Path,
    *,
    rigs: tuple[str, ...],
    out: Path,
    result: bool,
    form: str,
    paper: str,
    font: Path | None,
    force: bool,
) -> None:
    """Write a page for each rig's camera test; with --result, say what it found.

    The test is read through the marker strips as they are taped, after a build. The exit status is
    0 where all strips may be kept at the working stop, 1 where not, and 2 without such readings.
    """
    bag = read_kit(kit, rigs)
    if result:
        _result(bag, rigs, out, form=form)
        return
    from focuschart import solve
    from focuschart.store.camera_tests import pages
    from focuschart.store.documents import load_face, rendered
    from focuschart.store.folders import folder_name
    from focuschart.store.record import write_pack

    face = load_face(font)
    charts = solve(bag, rigs=rigs)
    documents = pages(charts, paper=paper, face=face)
    if not documents:
        finish(bag, charts.left_out, made=False)
    files = rendered(documents, face=face, title=bag.name)
    folder = out / f"{folder_name(kit)}-test"
    write_pack(folder, files, kit=kit.name, force=force)
    click.echo(f"Written to {folder}, a page a rig, as PDF and as SVG.")
    what = "Enter what both strips show, with their codes, then let them be judged"
    finish(bag, charts.left_out, made=True, then=(what, "test", kit, "--result"))


def _result(kit: Kit, rigs: tuple[str, ...], out: Path, *, form: str) -> None:
    from focuschart import solve
    from focuschart.report.camera_test import as_json, as_text
    from focuschart.store.camera_tests import results

    charts = solve(kit, rigs=rigs)
    found = list(results(kit, charts, out))
    stops = {chart.rig.rig_id: chart.working_stop for chart in charts}
    text = as_json(found) if form == "json" else as_text(found, stops=stops, units=kit.units)
    click.echo(text, nl=False)
    kept = all(one.kept for one in found)
    if form == "text" and kept:
        next_step("How far a subject may go from a mark", "hold", kit.source)
    elif form == "text":
        next_step("Do as it says, and read once more", "read", kit.source)
    if not kept:
        raise SystemExit(1)
