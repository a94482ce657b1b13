"""How far strips are taped off, by photographs of one setting through rulers and through strips."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from focuschart.photo.assign import Assigned, Figure
from focuschart.photo.strips import Ring

NEAR_MM = 0.05
"""A strip that is off by no more is taped well enough."""
_TICK_MM = 0.5
_LAST_TICK_MM = 1.5

RulerFigures = Mapping[tuple[str, Ring], tuple[float, float]]
"""What a ruler shows at the setting, with its standard error, mm, by rig and ring."""


@dataclass(frozen=True, slots=True)
class Taped:
    """A marker strip against the ruler at one setting: by how much it shows more, mm ± sigma."""

    figure: Figure
    offset_mm: float
    sigma_mm: float

    @property
    def is_near(self) -> bool:
        """Whether it is taped well enough."""
        return abs(self.offset_mm) <= NEAR_MM

    @property
    def tick_mm(self) -> float | None:
        """The tick of the index's comb that its marks may be set by; None where none is near."""
        tick = -round(self.offset_mm / _TICK_MM) * _TICK_MM + 0.0
        near = abs(tick + self.offset_mm) <= _TICK_MM / 4.0 and 0.0 < abs(tick) <= _LAST_TICK_MM
        return tick if near else None


def ruler_figures(photos: Sequence[Assigned]) -> dict[tuple[str, Ring], tuple[float, float]]:
    """Return what rulers show in photographs of one setting, the mean of several."""
    found: dict[tuple[str, Ring], list[Figure]] = {}
    for figure in _figures(photos):
        if figure.read.strip.kind == "ruler":
            found.setdefault((figure.rig, figure.ring), []).append(figure)
    return {
        key: (
            sum(each.arc_mm for each in own) / len(own),
            math.sqrt(sum(each.read.sigma_mm**2 for each in own)) / len(own),
        )
        for key, own in found.items()
    }


def taped(photos: Sequence[Assigned], rulers: RulerFigures) -> Iterator[Taped]:
    """Yield every marker strip in photographs whose ruler's figure at the setting is known."""
    for figure in _figures(photos):
        known = rulers.get((figure.rig, figure.ring))
        if figure.read.strip.kind == "marker" and known is not None:
            sigma = math.hypot(figure.read.sigma_mm, known[1])
            yield Taped(figure, figure.arc_mm - known[0], sigma)


def _figures(photos: Sequence[Assigned]) -> Iterator[Figure]:
    for photo in photos:
        yield from photo.figures
