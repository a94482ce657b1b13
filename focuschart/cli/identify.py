"""focuschart identify: which strip or card a code belongs to, and whether it is current."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from focuschart.cli.common import FilePath
from focuschart.errors import InputError, shown

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from focuschart.prints.printed import Printed
    from focuschart.store.prints import Known


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
    from focuschart.prints.code import read_code
    from focuschart.store.prints import of_kit, records

    wanted = read_code(code)
    if wanted is None:
        raise InputError(
            f"{shown(code)}: is no code, or was copied wrong: five signs, a hyphen and a check "
            "sign, without 0, O, 1, I and L"
        )
    now, known = [of_kit(kit) for kit in kits], list(records(out))
    found = _found(wanted, [*now, *known])
    if found is None:
        raise InputError(
            f"{wanted}: neither a kit given nor a record in {out} knows it, try another --out"
        )
    one, source = found
    same = [each for each in now if each.kit == source.kit] or now or [source]
    _tell(one, [each for known in same for each in known.prints], kits_given=bool(kits))


def _found(code: str, sources: Sequence[Known]) -> tuple[Printed, Known] | None:
    """Return the print with a code and what knows it: a present one before any former one."""
    last = ((one, source) for source in sources for one in source.prints)
    former = ((one, source) for source in sources for one in source.former)
    each = [*last, *former]
    return next((found for found in each if found[0].code == code), None)


def _tell(one: Printed, present: Sequence[Printed], *, kits_given: bool) -> None:
    """Say what it is and whether it is current; a stale one with its shifts."""
    from focuschart.prints.difference import compare
    from focuschart.report.compare import as_text
    from focuschart.store.prints import units_of

    click.echo(f"{one.code}  {one.title} ({one.rig_id}/{one.name})")
    newest = [each for each in present if (each.rig_id, each.name) == (one.rig_id, one.name)]
    if not newest:
        click.echo("Stale: nothing of that name is printed any more.")
        raise SystemExit(1)
    if newest[0].code == one.code:
        asked = "as the kit says now" if kits_given else "the last printed; give the kit to be sure"
        click.echo(f"Current: {asked}.")
        return
    click.echo("Stale:")
    units = units_of(newest)
    found = compare([one], newest[:1], units=units)
    click.echo(as_text(found, units=units, replaced={}), nl=False)
    raise SystemExit(1)
