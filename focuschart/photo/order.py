"""The distances of photographs: from a card, from the kit, or from the bench form by their time."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from itertools import pairwise

from focuschart.photo.assign import Assigned
from focuschart.photo.refusal import Refused

_ALIKE = 1e-3
"""By which share a card's distance may differ from the form's, which is rounded."""


def with_distance(photos: Sequence[Assigned], distance_mm: float) -> list[Assigned]:
    """Return the photographs, all at one distance."""
    return [replace(photo, distance_mm=distance_mm) for photo in photos]


def with_entered(photos: Sequence[Assigned], entered_mm: Mapping[str, float]) -> list[Assigned]:
    """Return the photographs, those entered before at the distance they have in the kit, by sign.

    What a card in them says goes first.
    """
    return [
        replace(photo, distance_mm=entered_mm.get(photo.shot.sign))
        if photo.distance_mm is None else photo
        for photo in photos
    ]  # fmt: skip


def in_order(
    photos: Sequence[Assigned], form_mm: Sequence[float], *, read_mm: Collection[float] = ()
) -> list[Assigned] | str:
    """Return the photographs with the form's distances by their time of exposure, or why not.

    Both rings go together where any photograph shows both, else each by itself. There must be as
    many photographs as the form has rows, or a whole multiple of it, and then as often in turn at
    each distance; or as many without a distance as the form has rows that are not `read_mm` yet.
    What a card says, or the kit, must agree with the form's order.
    """
    given: dict[int, float] = {}
    for group in _groups(photos):
        if any(photo.distance_mm is None for photo in group):
            rows = _rows(group, form_mm, read_mm)
            if isinstance(rows, str):
                return rows
            given |= rows
    return [replace(p, distance_mm=given.get(id(p), p.distance_mm)) for p in photos]


def _groups(photos: Sequence[Assigned]) -> Iterator[list[Assigned]]:
    seen = [photo for photo in photos if photo.figures]
    if any(len({figure.ring for figure in photo.figures}) > 1 for photo in seen):
        yield seen
        return
    for ring in dict.fromkeys(photo.figures[0].ring for photo in seen):
        yield [photo for photo in seen if photo.figures[0].ring == ring]


def _rows(
    group: Sequence[Assigned], form_mm: Sequence[float], read_mm: Collection[float]
) -> dict[int, float] | str:
    """Return the distance of each photograph of a group by its id, or why there is none."""
    waiting = [photo for photo in group if photo.distance_mm is None]
    known = [*read_mm, *(p.distance_mm for p in group if p.distance_mm is not None)]
    left = [row for row in form_mm if not any(_alike(row, other) for other in known)]
    times = len(group) // max(len(form_mm), 1)
    if times and len(group) == times * len(form_mm):
        own, rows = list(group), [row for row in form_mm for _ in range(times)]
    elif len(waiting) == len(left):
        own, rows = waiting, left
    else:
        rings = " and ".join(dict.fromkeys(f.ring for photo in group for f in photo.figures))
        unread = f", {len(left)} of them not read yet" if 0 < len(left) < len(form_mm) else ""
        photos = "is 1 photograph" if len(waiting) == 1 else f"are {len(waiting)} photographs"
        return f"there {photos} of {rings} and {len(form_mm)} distances in the form{unread}"
    return _matched(own, rows)


def _matched(own: Sequence[Assigned], rows: Sequence[float]) -> dict[int, float] | str:
    """Return each photograph's row by its id, in order of time, or what contradicts it."""
    for photo in own:
        if photo.shot.taken is None:
            return f"{photo.shot.file} does not say when it was taken"
    ordered = sorted(own, key=lambda photo: photo.shot.taken or datetime.min)
    matched = list(zip(ordered, rows, strict=True))
    for (one, row), (other, next_row) in pairwise(matched):
        if one.shot.taken == other.shot.taken and row != next_row:
            return f"{one.shot.file} and {other.shot.file} were taken at the same moment"
    for photo, row in matched:
        if photo.distance_mm is not None and not _alike(photo.distance_mm, row):
            return f"{photo.shot.file} has another distance than the form's order gives it"
    return {id(photo): row for photo, row in matched if photo.distance_mm is None}


def _alike(one: float, other: float) -> bool:
    return one == other or math.isclose(one, other, rel_tol=_ALIKE)


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
