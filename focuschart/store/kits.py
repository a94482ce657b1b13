"""Kit files: read whole, with all that they include."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from focuschart.kit.include import Place
    from focuschart.kit.schema import Kit


def load(path: Path) -> Kit:
    """Return the kit in a file, its rigs standing each for itself.

    Raises KitError with every problem of the kit as a whole, InputError for a file that cannot be
    read.
    """
    from focuschart.kit.load import MAX_BYTES, load_rigs
    from focuschart.store.files import read_text

    return load_rigs(read_text(path, limit_bytes=MAX_BYTES), source=str(path), shelf=Disk())


class Disk:
    """The shelf on which included files stand: paths are relative to the file that names them."""

    def find(self, source: str, path: str) -> Place:
        """Return a file's path, without needless steps up and down, and the file it leads to."""
        from focuschart.kit.include import Place

        whole = os.path.join(os.path.dirname(source), path)
        neat, identity = os.path.normpath(whole), os.path.realpath(whole)
        return Place(neat if os.path.realpath(neat) == identity else whole, identity)

    def read(self, place: Place) -> str:
        """Return a file's text; raises InputError."""
        from pathlib import Path

        from focuschart.kit.load import MAX_BYTES
        from focuschart.store.files import read_text

        return read_text(Path(place.name), limit_bytes=MAX_BYTES)
