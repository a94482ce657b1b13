"""Whether photographs of one setting agree: what a user can check of what renders cannot show.

A phone sharpens, adds up several exposures and irons out lenses; rubber has ribs. All of this
changes with the side from which a ring is seen, the figure under the line does not.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from focuschart.photo.assign import Assigned, Figure
from focuschart.photo.refusal import Refused

_CHANCE = 0.01
"""How seldom chance alone lets photographs of one setting differ as much as is said to be more."""


@dataclass(frozen=True, slots=True)
class Alike:
    """Photographs of one strip at one setting: their figures, and the two most apart of them.

    `apart_mm` is by how much these two differ, with its standard error, `by_chance` whether the
    errors stated for all of them explain that.
    """

    figures: tuple[Figure, ...]
    files: tuple[str, str]
    distance_mm: float | None
    apart_mm: float
    sigma_mm: float
    by_chance: bool

    @property
    def contradiction(self) -> str:
        """By how much they differ, where the setting was the same, and what to do."""
        one, other = self.files
        return (
            f"{one} and {other} differ by {self.apart_mm:.2f} ± {1.96 * self.sigma_mm:.2f} mm at "
            "one setting, more than by chance: see that the ring did not move and both strips lie "
            "flat, turn sharpening, filters and HDR off, and photograph it again from both sides; "
            "if they differ still, read this ring by eye"
        )


def alike(photos: Sequence[Assigned], *, unmoved: bool) -> Iterator[Alike]:
    """Yield what can be compared: each strip at each distance, or all of it if it is `unmoved`."""
    groups: dict[tuple[str, str, float | None], dict[str, tuple[Figure, Assigned]]] = {}
    for photo in photos:
        at = None if unmoved else photo.distance_mm
        if unmoved or at is not None:
            for figure in photo.figures:
                own = groups.setdefault((figure.rig, figure.read.strip.code, at), {})
                own[photo.shot.sign] = (figure, photo)
    for (_, _, at), group in groups.items():
        if len(group) > 1:
            yield _compared(list(group.values()), at)


def _compared(group: Sequence[tuple[Figure, Assigned]], distance_mm: float | None) -> Alike:
    """Return the comparison of independent figures with their mean, by χ² (JCGM 100:2008, H.5)."""
    from scipy.stats import chi2

    arcs = np.array([figure.arc_mm for figure, _ in group])
    sigmas = np.array([figure.read.sigma_mm for figure, _ in group])
    mean = np.average(arcs, weights=sigmas**-2)
    square = float(np.sum(np.square((arcs - mean) / sigmas)))
    low, high = int(np.argmin(arcs)), int(np.argmax(arcs))
    ends = sorted({low, high}) if low != high else [0, 1]
    first, last = (group[end][1].shot.file for end in ends)
    return Alike(
        tuple(figure for figure, _ in group), (first, last), distance_mm,
        float(arcs[high] - arcs[low]), float(np.hypot(*sigmas[ends])),
        bool(square <= chi2.isf(_CHANCE, len(group) - 1)),
    )  # fmt: skip


def without_contradictions(photos: Sequence[Assigned]) -> list[Assigned]:
    """Return photographs of one setting, figures of a strip that contradict each other refused."""
    against = {
        (each.figures[0].rig, each.figures[0].read.strip.code): each
        for each in alike(photos, unmoved=True)
        if not each.by_chance
    }
    return [_without(photo, against) for photo in photos]


def _without(photo: Assigned, against: dict[tuple[str, str], Alike]) -> Assigned:
    refused, left = list(photo.refused), []
    for figure in photo.figures:
        each = against.get((figure.rig, figure.read.strip.code))
        if each is None:
            left.append(figure)
        else:
            refused.append(Refused(figure.read.strip.code, "inconsistent", each.contradiction))
    return replace(photo, figures=tuple(left), refused=tuple(refused))
