"""What commands share: reading a kit and its charts."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from focuschart.kit.schema import Kit

kit_argument = click.argument("kit", type=click.Path(path_type=Path))
rig_option = click.option(
    "--rig", "rigs", multiple=True, metavar="ID", help="Only this rig; may be given again."
)


def read_kit(path: Path, rigs: tuple[str, ...] = ()) -> Kit:
    """Return a checked kit; raises FocusChartError, also for a rig that is not in it."""
    from focuschart.cli.files import read_text
    from focuschart.errors import KitError, Problem
    from focuschart.kit.load import MAX_BYTES, load_kit

    kit = load_kit(read_text(path, limit_bytes=MAX_BYTES), source=str(path))
    unknown = [rig for rig in rigs if rig not in kit.rigs]
    if unknown:
        rule = f"no such rig; the kit has {', '.join(list(kit.rigs)[:8])}"
        raise KitError(str(path), [Problem("--rig", f'"{rig}"', rule) for rig in unknown])
    return kit
