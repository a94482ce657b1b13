"""The notes below a bench form's table: procedure, cautions, and blank lines to write on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from focuschart.layout.page import BLACK, Face, Shape, Text, box, line
from focuschart.layout.sheet.furniture import LEFT_MM
from focuschart.layout.text.paragraphs import broken, height_mm, set_words

_HEADING = 1.25
"""Capitals of headings, and below the space under them, in capitals of the notes."""
_UNDER_HEADING = 1.4
_PROCEDURE_SHARE = 0.62
_GAP_MM = 7.0
_BAR_MM = 1.2
_BESIDE_BAR_MM = 4.0
_BLANK_MM = 9.0
"""Height to write a line of words by hand (judgement, no source)."""
_BLANK_CAP_MM = 2.0
_STROKE_MM = 0.15


@dataclass(frozen=True, slots=True)
class Notes:
    """Paragraphs and blanks at one text size, in two columns `width_mm` wide together."""

    procedure: tuple[str, ...]
    cautions: tuple[str, ...]
    blanks: tuple[str, ...]
    cap_mm: float
    width_mm: float
    face: Face

    @property
    def height_mm(self) -> float:
        """Height with the headings, of the taller column; infinity for a word that is too wide."""
        return max(
            self._below_heading(self.procedure, self._step_width_mm),
            self._cautions_mm + self._blanks_mm,
        )

    def drawn(self, top: float) -> Iterator[Shape]:
        """Yield all shapes, downward from the height `top`; a thick bar marks the cautions."""
        if self.procedure:
            yield from self._headed("What to do", "procedure", LEFT_MM, top)
            yield from self._set(self.procedure, "step", LEFT_MM + self._hang_mm, top)
            yield from self._numbers(top)
        if self.cautions:
            foot = top - self._cautions_mm
            yield box(self._right_mm, foot, _BAR_MM, top - foot, stroke_mm=None, fill=BLACK,
                      key="caution:bar")  # fmt: skip
            x = self._right_mm + _BESIDE_BAR_MM
            yield from self._headed("Caution", "caution", x, top)
            yield from self._set(self.cautions, "caution", x, top)
        if self.blanks:
            yield from self._blanks(top - self._cautions_mm)

    @property
    def _hang_mm(self) -> float:
        return 3.0 * self.cap_mm

    @property
    def _right_mm(self) -> float:
        return LEFT_MM + _PROCEDURE_SHARE * self.width_mm + _GAP_MM

    @property
    def _step_width_mm(self) -> float:
        return _PROCEDURE_SHARE * self.width_mm - self._hang_mm

    @property
    def _caution_width_mm(self) -> float:
        return LEFT_MM + self.width_mm - self._right_mm - _BESIDE_BAR_MM

    @property
    def _cautions_mm(self) -> float:
        return self._below_heading(self.cautions, self._caution_width_mm)

    @property
    def _blanks_mm(self) -> float:
        if not self.blanks:
            return 0.0
        gap = _GAP_MM if self.cautions else 0.0
        return gap + _HEADING * self.cap_mm + len(self.blanks) * _BLANK_MM + 1.0

    def _below_heading(self, words: Sequence[str], width: float) -> float:
        if not words:
            return 0.0
        own = height_mm(words, cap_mm=self.cap_mm, width_mm=width, face=self.face)
        return (_HEADING + _UNDER_HEADING) * self.cap_mm + own

    def _headed(self, heading: str, key: str, x: float, top: float) -> Iterator[Text]:
        cap = _HEADING * self.cap_mm
        yield Text(heading, x, top - cap, cap, key=key)

    def _set(self, words: Sequence[str], key: str, x: float, top: float) -> Iterator[Text]:
        width = self._step_width_mm if key == "step" else self._caution_width_mm
        under = top - (_HEADING + _UNDER_HEADING) * self.cap_mm
        yield from set_words(
            words, x=x, top=under, cap_mm=self.cap_mm, width_mm=width, face=self.face, key=key
        )

    def _numbers(self, top: float) -> Iterator[Text]:
        """Yield the steps' numbers, to the left of their first lines."""
        under = top - (_HEADING + _UNDER_HEADING) * self.cap_mm
        x = LEFT_MM + self._hang_mm - 0.8 * self.cap_mm
        steps = broken(
            self.procedure, cap_mm=self.cap_mm, width_mm=self._step_width_mm, face=self.face
        )
        for number, lines in enumerate(steps, start=1):
            y = under - lines[0][1]
            yield Text(f"{number}.", x, y, self.cap_mm, "end", key=f"number:{number}")

    def _blanks(self, top: float) -> Iterator[Shape]:
        """Yield lines to write on, each after its label."""
        under = top - (_GAP_MM if self.cautions else 0.0)
        yield from self._headed("Note too", "blanks", self._right_mm, under)
        right = LEFT_MM + self.width_mm
        for number, label in enumerate(self.blanks, start=1):
            y = under - _HEADING * self.cap_mm - number * _BLANK_MM
            yield Text(label, self._right_mm, y, _BLANK_CAP_MM, key=f"blank:{number}:label")
            taken = self.face.width_mm(label, cap_mm=_BLANK_CAP_MM)
            start = min(self._right_mm + taken + (1.5 if label else 0.0), right - _GAP_MM)
            yield line((start, y - 0.8), (right, y - 0.8), stroke_mm=_STROKE_MM,
                       key=f"blank:{number}")  # fmt: skip
