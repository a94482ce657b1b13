"""Strips as a photograph sees them: tags at places in mm, on a ring or beside it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from focuschart.layout.strip.band import Side
from focuschart.layout.tag.tag import Tag

Floats = NDArray[np.float64]
Numbers = float | Floats
Ring = Literal["taking", "attachment"]
Kind = Literal["ruler", "marker", "bench index", "index"]


@dataclass(frozen=True, slots=True)
class Barrel:
    """What a ring's strip lies on: once round at the edge next to the index, and its thickness.

    `steepness` is the sine of the angle between surface and axis, positive where it narrows to the
    subject; 0 for a cylinder.
    """

    once_mm: float
    thickness_mm: float
    steepness: float = 0.0

    @property
    def radius_mm(self) -> float:
        """From the axis to the printed face, at the edge next to the index."""
        return self.once_mm / (2.0 * math.pi) + self.thickness_mm / 2.0


@dataclass(frozen=True, slots=True)
class TaggedStrip:
    """A printed strip that bears tags.

    `origin` is the point of the strip, in its own mm, that is at arc 0 on a ring's strip and at the
    line on an index, in both at the edge where the two meet. `part` is the kit's key of the ring's
    lens or attachment, `rig` the rig that a marker strip or its index is for. `barrel` is the
    ring's, of an index too, `ruler_mm` the length on a ring's strip of one millimetre of the ruler.
    `former` says that it is of an earlier print.
    """

    code: str
    ring: Ring
    kind: Kind
    part: str
    rig: str
    name: str
    tags: tuple[Tag, ...]
    origin: tuple[float, float]
    index_side: Side
    barrel: Barrel
    turns: int = 1
    ruler_mm: float = 1.0
    former: bool = False

    @property
    def on_ring(self) -> bool:
        """Whether it goes round the ring, and is not the index beside it."""
        return self.kind in ("ruler", "marker")

    @property
    def numbers(self) -> NDArray[np.intp]:
        """The ids of its tags (n)."""
        return np.array([tag.number for tag in self.tags], dtype=np.intp)

    @property
    def middles(self) -> Floats:
        """The centres of its tags from its origin (n × 2), mm."""
        return np.array([tag.middle for tag in self.tags]) - self.origin

    @property
    def sides(self) -> Floats:
        """The sides of its tags (n), mm."""
        return np.array([tag.side_mm for tag in self.tags])
