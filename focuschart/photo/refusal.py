"""Why a ring in a photograph is not read: a code for other programs, and a cure in words."""

from __future__ import annotations

from typing import Literal, NamedTuple

Code = Literal[
    "few-tags", "low-resolution", "blur", "inconsistent", "not-bracketed", "residual", "scale",
    "cropped", "angle", "unknown-strip", "wrong-strip", "no-distance",
]  # fmt: skip

AGAIN = "photograph it again, square on, from 15 to 25 cm, a marker strip from 10 to 15, both sharp"
FLAT = "press both strips flat along their whole length and photograph them again"
PRINT = (
    "print and tape on the strips that the kit makes now, or say with --out where their packs are"
)


class Refused(NamedTuple):
    """Why a strip in a photograph, by its code or "" if it is not known, is not read."""

    strip: str
    code: Code
    why: str


class Unread(Exception):
    """Ends the reading of one ring."""

    def __init__(self, code: Code, why: str, *, strip: str = "") -> None:
        """Take the code, the reason with its cure, and the strip if it is known."""
        super().__init__(why)
        self.refused = Refused(strip, code, why)
