"""Names of folders that every system allows, made from names of kits and rigs."""

from __future__ import annotations

import re
import unicodedata
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

_RESERVED = re.compile(r"(con|prn|aux|nul|(com|lpt)[0-9¹²³])", re.IGNORECASE)
"""Names that Windows keeps for devices, in any case, also before a dot (Microsoft, Naming Files,
Paths, and Namespaces)."""
_KEPT = "LMN"
"""First letters of Unicode's categories of letters, their accents, and figures."""
_MOST_BYTES = 120
"""Of a name as UTF-8; file systems take 255, and a few words may follow."""


def folder_name(kit: Path) -> str:
    """Return the name of the folder for a kit's documents, made from its file name.

    Letters and figures of all scripts stay, composed, so that systems which store accents apart
    have the same name; all else becomes a hyphen.
    """
    composed = unicodedata.normalize("NFC", kit.stem)
    plain = "".join(
        sign if unicodedata.category(sign)[0] in _KEPT or sign == "_" else "-" for sign in composed
    )
    short = plain.encode()[:_MOST_BYTES].decode(errors="ignore")
    return _allowed(re.sub("-+", "-", short).strip("-") or "kit")


def rig_folder(rig_id: str) -> str:
    """Return the name of a rig's folder: its id, which no other rig has."""
    return _allowed(rig_id)


def _allowed(name: str) -> str:
    """Return a name that is no device's; the sign added is in no id."""
    return f"{name}_" if _RESERVED.fullmatch(name) else name
