"""A TrueType face: the characters it has, the width of a text, and its outlines in mm."""

from __future__ import annotations

import hashlib
import io
import unicodedata
from functools import lru_cache
from itertools import accumulate
from pathlib import Path as FilePath
from typing import Any, NamedTuple

import numpy as np
from fontTools.pens.basePen import BasePen
from fontTools.ttLib import TTFont
from numpy.typing import NDArray

from focuschart.errors import GlyphError
from focuschart.renderers.fonts import default_font_path

NEEDED = "0123456789 "
"""Characters that a font must have, since every chart needs them."""

POINTS_OF = {"M": 1, "L": 1, "Q": 2, "Z": 0}
"""Points each outline command takes: move, line, quadratic curve (control, end), close."""

_RIGHT_TO_LEFT = frozenset({"R", "AL", "AN", "RLE", "RLO", "RLI"})

_JAMO = (range(0x1100, 0x1200), range(0xA960, 0xA980), range(0xD7B0, 0xD800))
"""Hangul letters that join into syllables (The Unicode Standard, 3.12)."""

_COLLECTION = b"ttcf"
"""The first bytes of a file with several fonts (ISO/IEC 14496-22, 4.6)."""


class Outline(NamedTuple):
    """The contours of a text or glyph, to be filled by the nonzero rule.

    `commands` is a string of the letters of POINTS_OF, `points` an array of shape (n, 2).
    """

    commands: str
    points: NDArray[np.float64]


class _Recorder(BasePen):  # type: ignore[misc]  # fontTools is not typed
    """Records the contours of a glyph; composite glyphs are resolved, implied points added."""

    def __init__(self, glyphs: Any) -> None:
        super().__init__(glyphs)
        self.commands: list[str] = []
        self.points: list[tuple[float, float]] = []

    def _note(self, command: str, *points: tuple[float, float]) -> None:
        self.commands.append(command)
        self.points.extend(points)

    def _moveTo(self, pt: tuple[float, float]) -> None:
        self._note("M", pt)

    def _lineTo(self, pt: tuple[float, float]) -> None:
        self._note("L", pt)

    def _qCurveToOne(self, pt1: tuple[float, float], pt2: tuple[float, float]) -> None:
        self._note("Q", pt1, pt2)

    def _closePath(self) -> None:
        self._note("Z")


def check_text(text: str) -> None:
    """Raise GlyphError for a script that cannot be set glyph after glyph, whatever the font."""
    for character in text:
        if fault := _fault(character):
            raise GlyphError(f"text {text!r} holds {_named(character)}, {fault}")


@lru_cache(maxsize=4096)
def _fault(character: str) -> str:
    """Return what is wrong with a character, and the cure; "" for a usable one."""
    if unicodedata.bidirectional(character) in _RIGHT_TO_LEFT:
        return "which is written from right to left; use a label written from left to right"
    joins = any(ord(character) in block for block in _JAMO)
    if joins or unicodedata.category(character).startswith("M"):
        return "a combining character; use a letter that has its mark built in, such as U+00E9"
    return ""


def _named(character: str) -> str:
    shown = f"{character!r} " if character.isprintable() else ""
    return f"{shown}U+{ord(character):04X}"


class TypeFace:
    """One TrueType face, loaded from the bytes of its file; `source` names it in messages.

    Attributes: `data` the file's bytes, `digest` their SHA-256 in hexadecimal, `cap_ratio` the
    height of capitals per em, `advances` each character's advance in thousandths of an em.
    Raises GlyphError if the bytes are no TrueType font, are damaged, or lack digits or the space.
    """

    def __init__(self, data: bytes, *, source: str = "the font") -> None:
        self.data = data
        self.digest = hashlib.sha256(data).hexdigest()
        try:
            self._read(data, source)
        except GlyphError:
            raise
        except Exception as error:  # fontTools raises all kinds of exceptions for a damaged file
            raise GlyphError(
                f"{source} is not a TrueType font that can be read ({error}); "
                "name another file with --font"
            ) from error

    @classmethod
    def load(cls, path: FilePath | None = None) -> TypeFace:
        """Return the face in a file, or the default face; raises GlyphError."""
        path = path or default_font_path()
        try:
            data = path.read_bytes()
        except OSError as error:
            raise GlyphError(f"font {path} cannot be read: {error.strerror}") from error
        return cls(data, source=f"font {path}")

    def _read(self, data: bytes, source: str) -> None:
        if data.startswith(_COLLECTION):
            raise GlyphError(
                f"{source} is a collection of several fonts; save the one you want as a .ttf file "
                "of its own and name that with --font"
            )
        font = TTFont(io.BytesIO(data))
        if font.flavor or "glyf" not in font:
            raise GlyphError(
                f"{source} has no TrueType outlines (glyf table); name a .ttf file with --font"
            )
        self._names = _glyph_names(font)
        if absent := self.missing(NEEDED):
            raise GlyphError(
                f"{source} lacks {', '.join(map(_named, absent))}, which every chart needs; "
                "name another file with --font"
            )
        self._units_per_em = int(font["head"].unitsPerEm)
        # Whole thousandths: some PDF viewers ignore fractions, an error of 0.1 mm in a small line.
        self.advances: dict[str, int] = {
            character: round(1000 * font["hmtx"][name][0] / self._units_per_em)
            for character, name in self._names.items()
        }
        self._glyphs = font.getGlyphSet()
        self._cached: dict[str, Outline] = {}
        self._widths: dict[str, int] = {}
        self.cap_ratio = self._measure_capitals(font, source)

    def _measure_capitals(self, font: TTFont, source: str) -> float:
        """Return the height of capitals per em as the font states it (OS/2, version 2), or of H."""
        stated = getattr(font["OS/2"], "sCapHeight", 0) if "OS/2" in font else 0
        if stated > 0:
            return float(stated) / self._units_per_em
        if self.missing("H"):
            raise GlyphError(
                f"{source} tells the height of its capitals nowhere, and has no H to measure; "
                "name another file with --font"
            )
        return float(self._glyph("H").points[:, 1].max())

    def missing(self, text: str) -> str:
        """Return the characters of `text`, each once, that the face cannot show."""
        return "".join(dict.fromkeys(c for c in text if c not in self._names))

    def check(self, text: str) -> None:
        """Raise GlyphError, with the character and the cure, if `text` cannot be printed."""
        check_text(text)
        if absent := self.missing(text):
            raise GlyphError(
                f"the font has no glyph for {_named(absent[0])} in text {text!r}; "
                "name another font with --font"
            )

    def em_mm(self, cap_mm: float) -> float:
        """Return the font size (em, mm) at which capitals are `cap_mm` high."""
        return cap_mm / self.cap_ratio

    def width_mm(self, text: str, *, cap_mm: float) -> float:
        """Return the width of `text` without kerning, mm; raises GlyphError as `check` does."""
        if text not in self._widths:  # layouts ask for one text at many sizes
            self.check(text)
            self._widths[text] = sum(self.advances[c] for c in text)
        return self.em_mm(cap_mm) * self._widths[text] / 1000

    def outline(self, text: str, *, cap_mm: float) -> Outline:
        """Return the contours of `text` in mm, y up, from its origin on the baseline.

        A blank has no contours. Raises GlyphError as `check` does.
        """
        self.check(text)
        starts = accumulate((self.advances[c] / 1000 for c in text), initial=0.0)
        glyphs = [self._glyph(c) for c in text]
        moved = [g.points + np.array([x, 0.0]) for g, x in zip(glyphs, starts, strict=False)]
        points = np.concatenate([np.empty((0, 2)), *moved]) * self.em_mm(cap_mm)
        return Outline("".join(glyph.commands for glyph in glyphs), points)

    def _glyph(self, character: str) -> Outline:
        """Return the outline of a glyph, for an em of 1; it is read once and kept."""
        if character not in self._cached:
            recorder = _Recorder(self._glyphs)
            try:
                self._glyphs[self._names[character]].draw(recorder)
            except Exception as error:  # fontTools raises all kinds of exceptions here
                raise GlyphError(
                    f"the font's drawing of {_named(character)} is damaged: name another file "
                    "with --font"
                ) from error
            points = np.array(recorder.points, dtype=float).reshape(-1, 2) / self._units_per_em
            self._cached[character] = Outline("".join(recorder.commands), points)
        return self._cached[character]


def _glyph_names(font: TTFont) -> dict[str, str]:
    """Return glyph names by character; the no-break space has the glyph of the space."""
    names = {chr(code): str(name) for code, name in (font.getBestCmap() or {}).items()}
    if " " in names:
        # A PDF then has a plain space where the text has a no-break one.
        names["\N{NO-BREAK SPACE}"] = names[" "]
    return names
