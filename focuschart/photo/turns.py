"""The turn in which a ring of several turns stands, by its figures at other distances.

All turns of a ring show at once, so that a photograph tells the figure but for whole turns. A
ring's figures run one way with distance; so only some turns are possible, often one.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

from focuschart.photo.assign import Assigned, Figure
from focuschart.photo.refusal import Refused
from focuschart.photo.strips import Ring

Where = tuple[str, Ring]
"""A rig's ring."""
Said = Mapping[tuple[str, Ring], int]
"""The turn, from 0, by a photograph's sign and the ring."""


class Known(NamedTuple):
    """What is known of a ring: distances with figures, mm, and whether these rise going nearer."""

    figures: Sequence[tuple[float, float]]
    rises_nearer: bool


def with_turns(
    photos: Sequence[Assigned], known: Mapping[Where, Known], said: Said
) -> list[Assigned]:
    """Return the photographs with the figures of rings of several turns in their turn.

    `said` are the turns that are known otherwise. A figure that may be in several turns has them
    all as its `turns`, and is in the first of them.
    """
    found: dict[tuple[int, Ring], tuple[int, ...]] = {}
    for where in known:
        found |= _of_ring(photos, where, known[where], said)
    return [
        replace(photo, figures=tuple(
            figure if (turns := found.get((id(photo), figure.ring))) is None
            else in_turn(figure, turns)
            for figure in photo.figures
        ))
        for photo in photos
    ]  # fmt: skip


def in_turn(figure: Figure, turns: tuple[int, ...]) -> Figure:
    """Return a figure in the first of turns, with all that it may be in."""
    arc = figure.read.arc_mm + turns[0] * figure.read.strip.barrel.once_mm
    return replace(figure, arc_mm=arc, turns=turns)


class _Place(NamedTuple):
    """A figure, or what it may be in each turn; `rank` rises where figures do."""

    rank: float
    figures: tuple[float, ...]
    turns: tuple[int, ...]
    key: tuple[int, Ring] | None


def _of_ring(
    photos: Sequence[Assigned], where: Where, known: Known, said: Said
) -> dict[tuple[int, Ring], tuple[int, ...]]:
    """Return the turns that each figure of a ring may be in, by its photograph's id."""
    sign = -1.0 if known.rises_nearer else 1.0
    own = [
        (photo, figure) for photo in photos for figure in photo.figures
        if (figure.rig, figure.ring) == where and figure.read.strip.turns > 1
        and photo.distance_mm is not None
    ]  # fmt: skip
    if not own:
        return {}
    once = own[0][1].read.strip.barrel.once_mm
    places = [_Place(sign * far, (figure,), (0,), None) for far, figure in known.figures]
    for photo, figure in own:
        turn = said.get((photo.shot.sign, figure.ring))
        turns = tuple(range(figure.read.strip.turns)) if turn is None else (turn,)
        figures = tuple(figure.read.arc_mm + each * once for each in turns)
        rank = sign * (photo.distance_mm if photo.distance_mm is not None else math.inf)
        places.append(_Place(rank, figures, turns, (id(photo), figure.ring)))
    return dict(_possible(sorted(places, key=lambda place: place.rank), once))


def _possible(
    places: Sequence[_Place], once_mm: float
) -> Iterator[tuple[tuple[int, Ring], tuple[int, ...]]]:
    """Yield the turns in which all figures run one way, each one's; all where none do."""
    low, high = -math.inf, math.inf
    lows, highs = [], []
    for number, place in enumerate(places):
        slack = _slack(places, number, number - 1, once_mm)
        low = min((each for each in place.figures if each >= low - slack), default=math.nan)
        lows.append(low)
    for number in reversed(range(len(places))):
        slack = _slack(places, number, number + 1, once_mm)
        high = max(
            (each for each in places[number].figures if each <= high + slack), default=math.nan
        )
        highs.append(high)
    for place, least, most in zip(places, lows, reversed(highs), strict=True):
        if place.key is not None:
            fitting = tuple(
                turn for turn, figure in zip(place.turns, place.figures, strict=True)
                if least <= figure <= most
            )  # fmt: skip
            yield place.key, fitting or place.turns


def _slack(places: Sequence[_Place], one: int, other: int, once_mm: float) -> float:
    """Return by how much a figure may run back: at the same distance by half a turn."""
    alike = 0 <= other < len(places) and places[one].rank == places[other].rank
    return once_mm / 2.0 if alike else 0.0


def nearest_turns(photos: Sequence[Assigned], near_mm: Mapping[Where, float]) -> list[Assigned]:
    """Return photographs of one setting, each ring's figures in one turn.

    It is that nearest to a figure known of the ring, else that of its first figure.
    """
    near = dict(near_mm)
    moved: list[Assigned] = []
    for photo in photos:
        figures = []
        for figure in photo.figures:
            strip = figure.read.strip
            first = near.setdefault((figure.rig, figure.ring), figure.arc_mm)
            off = round((first - figure.arc_mm) / strip.barrel.once_mm) if strip.turns > 1 else 0
            figures.append(replace(figure, arc_mm=figure.arc_mm + off * strip.barrel.once_mm))
        moved.append(replace(photo, figures=tuple(figures)))
    return moved


def open_turn(photos: Sequence[Assigned]) -> tuple[Assigned, Figure] | None:
    """Return the first figure whose turn is open, with its photograph; None without one."""
    return next(((p, f) for p in photos for f in p.figures if len(f.turns) > 1), None)


def without_open_turns(photos: Sequence[Assigned]) -> list[Assigned]:
    """Return the photographs, figures whose turn is open refused."""
    return [_without_open(photo) for photo in photos]


def _without_open(photo: Assigned) -> Assigned:
    refused = [
        Refused(
            figure.read.strip.code,
            "unknown-strip",
            f"which of {len(figure.turns)} turns of {figure.read.strip.name} is at the index "
            "cannot be told: answer when asked, without --yes, or photograph it at distances "
            "between too",
        )
        for figure in photo.figures
        if len(figure.turns) > 1
    ]
    left = tuple(figure for figure in photo.figures if len(figure.turns) < 2)
    return replace(photo, figures=left, refused=(*photo.refused, *refused))
