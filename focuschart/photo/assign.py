"""Which rig, which turn and which distance the rings read in a set of photographs belong to."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from focuschart.photo.read import RingRead
from focuschart.photo.refusal import Refused
from focuschart.photo.strips import Ring


@dataclass(frozen=True, slots=True)
class Shot:
    """One photograph as read: the rings in it, and what a card in it says of the distance.

    `sign` is of its file's bytes, `taken` the time of exposure if its file has it.
    """

    file: str
    sign: str
    taken: datetime | None
    rings: tuple[RingRead, ...]
    refused: tuple[Refused, ...]
    card_mm: float | None


@dataclass(frozen=True, slots=True)
class Figure:
    """A ring's figure in a photograph, with the rig that it is entered for."""

    rig: str
    ring: Ring
    read: RingRead
    arc_mm: float


@dataclass(frozen=True, slots=True)
class Assigned:
    """A photograph with all that is entered of it; `distance_mm` is None where it is not known."""

    shot: Shot
    figures: tuple[Figure, ...]
    distance_mm: float | None
    refused: tuple[Refused, ...]

    @property
    def enters(self) -> bool:
        """Whether it can be entered, if only one ring of two."""
        return bool(self.figures) and self.distance_mm is not None

    @property
    def is_whole(self) -> bool:
        """Whether everything in it was read and can be entered."""
        return self.enters and not self.refused


Rigs = Mapping[str, Mapping[Ring, str]]
"""The parts of each rig's rings, by rig."""


def with_rigs(shots: Sequence[Shot], rigs: Rigs, *, rig: str | None) -> list[Assigned]:
    """Return the photographs with the rig of their rings.

    The rig is that of the rings seen in one photograph; where several fit, that which fits all
    photographs; else that asked for, `rig`, whose rings alone may then be seen.
    """
    shared = _fitting_all(shots, rigs)
    return [_with_rig(shot, rigs, rig=rig, shared=shared) for shot in shots]


def _with_rig(shot: Shot, rigs: Rigs, *, rig: str | None, shared: Collection[str]) -> Assigned:
    figures: list[Figure] = []
    refused = list(shot.refused)
    for read in shot.rings:
        strip = read.strip
        fitting = _fitting(read, rigs)
        chosen = [each for each in fitting if each in _fitting_shot(shot, rigs)] or fitting
        if rig is not None:
            if rig not in fitting:
                why = f"{strip.code}, {strip.kind} of {strip.name}, is of no ring of the rig {rig}"
                refused.append(Refused(strip.code, "wrong-strip", why))
                continue
            chosen = [rig]
        elif len(chosen) > 1:
            chosen = [each for each in chosen if each in shared] or chosen
        if len(chosen) == 1:
            figures.append(Figure(chosen[0], strip.ring, read, read.arc_mm))
        else:
            names = " and ".join(sorted(fitting)) or "none"
            why = f"{strip.name} is on several rigs, {names}: say which with --rig"
            refused.append(Refused(strip.code, "unknown-strip", why))
    return Assigned(shot, tuple(figures), shot.card_mm, tuple(refused))


def _fitting(read: RingRead, rigs: Rigs) -> list[str]:
    """Return the rigs that have a ring; a marker strip is for one rig alone."""
    strip = read.strip
    return [
        rig for rig, parts in rigs.items()
        if parts[strip.ring] == strip.part and strip.rig in ("", rig)
    ]  # fmt: skip


def _fitting_shot(shot: Shot, rigs: Rigs) -> set[str]:
    fitting = set(rigs)
    for read in shot.rings:
        fitting &= set(_fitting(read, rigs))
    return fitting


def _fitting_all(shots: Sequence[Shot], rigs: Rigs) -> set[str]:
    fitting = set(rigs)
    for shot in shots:
        if shot.rings:
            fitting &= _fitting_shot(shot, rigs)
    return fitting


def with_distance(photos: Sequence[Assigned], distance_mm: float) -> list[Assigned]:
    """Return the photographs, all at one distance."""
    return [replace(photo, distance_mm=distance_mm) for photo in photos]


def in_order(photos: Sequence[Assigned], distances_mm: Sequence[float]) -> list[Assigned] | str:
    """Return the photographs with the form's distances by their time of exposure, or why not.

    Each ring must have been photographed as often as the form has rows, or a whole multiple of it,
    and then as often in turn at each distance. Photographs with a card keep what it says.
    """
    waiting = [photo for photo in photos if photo.distance_mm is None and photo.figures]
    if not waiting:
        return list(photos)
    if any(photo.shot.taken is None for photo in waiting):
        return "not every photograph says when it was taken"
    order = sorted(waiting, key=lambda photo: photo.shot.taken or datetime.min)
    given: dict[int, float] = {}
    groups = {tuple(sorted(figure.ring for figure in photo.figures)) for photo in order}
    for group in groups:
        own = [p for p in order if tuple(sorted(figure.ring for figure in p.figures)) == group]
        times, left = divmod(len(own), len(distances_mm))
        if left or not times:
            return (
                f"there are {len(own)} photographs of {' and '.join(group)} and "
                f"{len(distances_mm)} distances in the form"
            )
        given |= {id(photo): distances_mm[n // times] for n, photo in enumerate(own)}
    return [replace(p, distance_mm=given.get(id(p), p.distance_mm)) for p in photos]


def without_distance(photos: Sequence[Assigned], why: str) -> list[Assigned]:
    """Return the photographs, those that still have no distance refused."""
    return [
        replace(
            photo,
            refused=(*photo.refused, *(Refused(f.read.strip.code, "no-distance", why)
                                       for f in photo.figures)),
        ) if photo.distance_mm is None and photo.figures else photo
        for photo in photos
    ]  # fmt: skip


def with_turns(
    photos: Sequence[Assigned], known: Mapping[Ring, Sequence[tuple[float, float]]],
    *, rises_nearer: Mapping[Ring, bool],
) -> Iterator[Assigned]:  # fmt: skip
    """Yield the photographs with the figures of rings of several turns in their turn.

    All turns of a ring show at once, so that a photograph tells the figure but for whole turns. The
    turn is the one in which the ring's figures run one way with distance, between those `known`
    (distance and figure, by ring). Where two turns do so the figure is left as in the first turn.
    """
    for photo in photos:
        figures = tuple(
            replace(figure, arc_mm=_in_turn(figure, photo.distance_mm, known.get(figure.ring, ()),
                                            rises=rises_nearer[figure.ring]))
            for figure in photo.figures
        )  # fmt: skip
        yield replace(photo, figures=figures)


def _in_turn(
    figure: Figure, distance_mm: float | None, known: Sequence[tuple[float, float]], *, rises: bool
) -> float:
    strip, arc = figure.read.strip, figure.arc_mm
    if strip.turns == 1 or distance_mm is None:
        return arc
    low, high = -math.inf, math.inf
    for at, other in known:
        if at == distance_mm:
            return arc + strip.barrel.once_mm * round((other - arc) / strip.barrel.once_mm)
        if (at < distance_mm) != rises:
            low = max(low, other)
        else:
            high = min(high, other)
    turns = [arc + strip.barrel.once_mm * turn for turn in range(strip.turns)]
    fitting = [each for each in turns if low <= each <= high]
    return fitting[0] if fitting else arc
