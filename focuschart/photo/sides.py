"""The sides of tags: where they are on their strips, and what lies on both sides of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from focuschart.layout.tag.dictionary import SIDE_MODULES, WHITE
from focuschart.photo.camera import AT, View, on_barrel
from focuschart.photo.edges import POINTS
from focuschart.photo.pose import tag_points
from focuschart.photo.recognise import Match
from focuschart.photo.strips import Floats

OUTWARD = np.array([(0.0, 1.0), (1.0, 0.0), (0.0, -1.0), (-1.0, 0.0)])
"""The normals of a square's sides (4 × 2), clockwise from the top."""
_LOOKED = 0.8
"""Share of a side that is looked at, its corners left out."""
_ALONG = ((np.arange(POINTS) + 0.5) / POINTS - 0.5) * _LOOKED
UNIT_SIDES = (
    OUTWARD[:, np.newaxis] / 2.0
    + _ALONG[:, np.newaxis] * np.stack((-OUTWARD[:, 1], OUTWARD[:, 0]), axis=-1)[:, np.newaxis]
)
"""Points along the sides of a square of side 1 about its middle (4 × p × 2)."""


@dataclass(frozen=True, slots=True)
class Sides:
    """The sides of all tags: points along each (e × p × 2, mm from the strips' origins).

    `outward` (e × 2) is normal to each side, `side_mm` (e) the tag's, `white` (e) how white the
    tag is inside its border there, `on_ring` (e) as `on_barrel` has it, `tag` (e) the number of
    the tag, those of the ring's strip first.
    """

    points: Floats
    outward: Floats
    side_mm: Floats
    white: Floats
    on_ring: Floats
    tag: NDArray[np.intp]

    def only(self, chosen: NDArray[np.bool_]) -> Sides:
        """Return the chosen sides."""
        return Sides(*(getattr(self, name)[chosen] for name in self.__slots__))

    def places(self, view: View, parameters: Floats, *, out_mm: float = 0.0) -> Floats:
        """Return the points in the barrel's frame (e × p × 3), by `out_mm` farther out."""
        ink = parameters[AT["ink"]] + out_mm
        points = self.points + ink * self.outward[:, np.newaxis]
        return on_barrel(view, parameters, points, self.on_ring[:, np.newaxis])


def sides_of(ring: Match, index: Match) -> Sides:
    """Return all sides of the tags of both strips."""
    parts = [
        tag_points(match, UNIT_SIDES.reshape(-1, 2)).reshape(-1, POINTS, 2)
        for match in (ring, index)
    ]
    counts = (4 * len(ring), 4 * len(index))
    sizes = [match.strip.sides[match.places] for match in (ring, index)]
    return Sides(
        np.concatenate(parts),
        np.tile(OUTWARD, (len(ring) + len(index), 1)),
        np.repeat(np.concatenate(sizes), 4),
        np.concatenate(
            [white_inside(match.strip.numbers[match.places]) for match in (ring, index)]
        ),
        np.repeat((1.0, 0.0), counts),
        np.repeat(np.arange(len(ring) + len(index)), 4),
    )


def white_inside(numbers: NDArray[np.intp]) -> Floats:
    """Return how much is white inside the border along each side of n tags (4 n), by their ids."""
    bits = WHITE[numbers].astype(float)
    rows = np.stack((bits[:, 0], bits[:, :, -1], bits[:, -1], bits[:, :, 0]), axis=1)
    return np.asarray(rows.sum(axis=-1).ravel() / (_LOOKED * SIDE_MODULES))
