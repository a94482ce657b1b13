"""Reading a kit file from the disk, with the files that it includes."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from focuschart.kit.include import Place
    from focuschart.kit.schema import Kit


def load(path: Path) -> Kit:
    """Return the kit in a file; rigs with problems of their own are left out of it (`Kit.broken`).

    Raises KitError with all problems that concern the whole kit, InputError for a file that cannot
    be read.
    """
    from focuschart.kit.load import MAX_BYTES, load_rigs
    from focuschart.store.files import read_text

    return load_rigs(read_text(path, limit_bytes=MAX_BYTES), source=str(path), shelf=Disk())


class Disk:
    """Finds and reads included files on the disk; paths are relative to the including file."""

    def find(self, source: str, path: str) -> Place:
        """Return the normalised path of an included file, and the real path that identifies it."""
        from focuschart.kit.include import Place

        whole = os.path.join(os.path.dirname(source), path)
        neat, identity = os.path.normpath(whole), os.path.realpath(whole)
        return Place(neat if os.path.realpath(neat) == identity else whole, identity)

    def read(self, place: Place) -> str:
        """Return a file's text; raises InputError if it cannot be read."""
        from pathlib import Path

        from focuschart.kit.load import MAX_BYTES
        from focuschart.store.files import read_text

        return read_text(Path(place.name), limit_bytes=MAX_BYTES)
