"""focuschart phone: the card as one page for a phone, for any distance."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from focuschart.cli.common import FilePath, finish, kit_argument, read_kit, rig_option, solved

if TYPE_CHECKING:
    from pathlib import Path


@click.command()
@kit_argument
@rig_option
@click.option("--out", type=FilePath(), required=True, help="The file to write, an .html.")
@click.option("--force", is_flag=True, help="Overwrite a file that is there.")
def phone(kit: Path, rigs: tuple[str, ...], out: Path, *, force: bool) -> None:
    """Write both rings' settings as one page for a phone, for any distance.

    The page needs no network and stores nothing: send the file to the phone and open it there.
    """
    from focuschart.store.documents import load_face, require_few
    from focuschart.store.files import write_new
    from focuschart.store.phone import phone_page, phone_rigs

    bag = read_kit(kit, rigs)
    require_few(kit, rigs or tuple(bag.rigs))
    charts, left_out = solved(bag, rigs, label="Solving")
    made = phone_rigs(charts, face=load_face(None))
    if made:
        whole = [each.sentence(bag.source) for each in left_out if each.kind == "rig"]
        write_new(out, phone_page(bag, made, left_out=whole), force=force)
        click.echo(f"Written to {out}: {len(made)} rig{'' if len(made) == 1 else 's'}.")
    finish(bag, left_out, made=bool(made))
