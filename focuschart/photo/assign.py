"""Which rig the rings read in a set of photographs belong to."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
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
    """A ring's figure in a photograph, with the rig that it is entered for.

    `turns` are those that a ring of several turns may be in, from 0, the figure's own the first.
    """

    rig: str
    ring: Ring
    read: RingRead
    arc_mm: float
    turns: tuple[int, ...] = (0,)


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
