"""focuschart photo: read both rings off photographs and enter them as bench readings."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from focuschart.cli.common import (
    FilePath,
    anyway_option,
    format_option,
    kit_argument,
    length_mm,
    progress,
    taped_again_option,
)

if TYPE_CHECKING:
    from pathlib import Path


@click.command()
@kit_argument
@click.argument("photos", type=FilePath(), nargs=-1, metavar="PHOTO...")
@click.option("--rig", metavar="ID", help="The rig, where the rings seen are on several.")
@click.option(
    "--distance", metavar="LENGTH",
    help="Of the target from the sensor mark, for all photographs, whatever a card in them says.",
)  # fmt: skip
@click.option("--stop", type=float, help="The stop focused at; else the widest of the kit's.")
@click.option(
    "--side", type=click.Choice(["nearer", "farther"]), help="The side that the rings came from."
)
@taped_again_option
@anyway_option
@click.option(
    "--unmoved", metavar="NAME",
    help="All at one setting that does not move, such as a hard stop, through rulers or strips: "
    "how far strips are taped off is entered for it.",
)  # fmt: skip
@click.option(
    "--place", is_flag=True,
    help="While taping, at that setting: which way to slide the index. Writes nothing.",
)  # fmt: skip
@click.option(
    "--squeeze", type=FilePath(), metavar="STILL",
    help="In place of photographs, a frame of the film camera as recorded, not desqueezed, of the "
    "squeeze card at --distance: enters the squeeze there.",
)  # fmt: skip
@click.option(
    "--bars", metavar="TEXT",
    help='The bars on the squeeze card as measured, across and up: "99.8 mm x 100.1 mm".',
)  # fmt: skip
@click.option(
    "--out", type=FilePath(), default="output", show_default=True,
    help="The folder of packs whose records tell the marker strips.",
)  # fmt: skip
@click.option("--yes", is_flag=True, help="Write the readings without a question.")
@click.option("--dry-run", is_flag=True, help="Write nothing.")
@format_option("A table")
def photo(
    kit: Path,
    *,
    photos: tuple[Path, ...],
    rig: str | None,
    distance: str | None,
    squeeze: Path | None,
    bars: str | None,
    out: Path,
    **said: Any,
) -> None:
    """Read rulers or strips off photographs and enter them into a kit file.

    Give the phone's own files, JPEG or PNG, or a folder of them. The tags on ruler and index say
    which ring it is. The distance is that of the card beside the rig, or --distance, or that of
    the bench form in the order in which the photographs were taken.

    The exit status is 0 if all was read, 1 if some was refused, and 2 if nothing was read. The data
    for other programs are written to the kit too, but only with --yes.
    """
    from focuschart.cli.photo_talk import How, tell_and_enter
    from focuschart.cli.squeeze import Asked, enter_still
    from focuschart.store.kit_edits import open_kit
    from focuschart.store.photos import assigned, known_strips, photo_files, shots_of

    file, how = open_kit(kit), How(**said)
    file.kit.require_rigs(() if rig is None else (rig,), option="--rig")
    far = None if distance is None else length_mm("--distance", distance)
    if squeeze is not None or bars is not None:
        asked = Asked(squeeze, rig=rig, distance_mm=far, bars=bars,
                      alone=not photos and not how.at_one_setting)  # fmt: skip
        enter_still(file, asked, write=not how.dry_run, ask=not how.yes, form=how.form)
        return
    if not photos:
        raise click.UsageError("Missing argument 'PHOTO...'.")
    files = photo_files(photos)
    strips = known_strips(file.kit, kit, out)
    shots = list(progress(shots_of(strips, files), len(files), "Reading photographs"))
    read = assigned(file.kit, shots, rig=rig, distance_mm=far, unmoved=how.at_one_setting)
    tell_and_enter(file, read, how)
