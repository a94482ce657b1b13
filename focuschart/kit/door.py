"""Whether a new reading can be true at all, asked while its taker still stands at the bench.

A ring shows the figures of its ruler only, and one turned nearer moves its figures one way.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from typing import Any

from pydantic import ValidationError

from focuschart.errors import Problem
from focuschart.kit.naming import reading_name
from focuschart.kit.ring import Ring
from focuschart.kit.rules import nearest_mm
from focuschart.kit.schema import Kit, Reading, Rig

RULER_BEGINS_MM = -8.0
"""Its lead-in, left of the zero line."""
_AGAINST_MM = 3.0
"""Ruler, eye and tape explain so much of a step the wrong way: judgement."""
_RINGS = ("taking", "attachment")


def door_problems(kit: Kit, said: Mapping[str, Any]) -> Iterator[Problem]:
    """Yield what speaks against a reading that is not yet in the kit, keys as `read` has them.

    `said` is what would be written; nothing is yielded for what the loader refuses.
    """
    with suppress(ValidationError):
        reading = Reading.model_validate({k: v for k, v in said.items() if v is not None})
        rig = kit.rigs.get(reading.rig)
        if rig is not None and reading.distance >= nearest_mm(kit, rig)[0]:
            yield from _of_reading(kit, reading)


def _of_reading(kit: Kit, reading: Reading) -> Iterator[Problem]:
    for which in _RINGS:
        figure = getattr(reading, which)
        if figure is not None:
            ring = _ring(kit, kit.rigs[reading.rig], which)
            beyond = list(_beyond(which, figure, ring))
            yield from beyond or _against(kit, reading, which, figure, ring)


def _ring(kit: Kit, rig: Rig, which: str) -> Ring:
    if which == "taking":
        return kit.taking_lenses[rig.taking_lens].ring
    return kit.attachments[rig.attachment].ring


def _owner(rig: Rig, which: str) -> tuple[str, ...]:
    """Return whose ring it is: the lens on a camera, or the attachment."""
    return (rig.taking_lens, rig.camera) if which == "taking" else (rig.attachment,)


def _beyond(which: str, figure: float, ring: Ring) -> Iterator[Problem]:
    most = ring.turns * ring.strip_length_mm
    if not RULER_BEGINS_MM <= figure <= most:
        turns = "once round" if ring.turns == 1 else f"in {ring.turns} turns"
        shows = f"its ring's ruler shows {RULER_BEGINS_MM:g} to {most:.1f} mm {turns}"
        rule = f"{shows}: read it again, or say --anyway"
        yield Problem(f"--{which}", f"{figure:g}", rule)


def _against(
    kit: Kit, reading: Reading, which: str, figure: float, ring: Ring
) -> Iterator[Problem]:
    """Compare with the next reading of the ring nearer and the next one farther."""
    own = _owner(kit.rigs[reading.rig], which)
    others = [
        other for other in kit.readings
        if other.rig in kit.rigs and _owner(kit.rigs[other.rig], which) == own
        and not other.ignore and getattr(other, which) is not None
    ]  # fmt: skip
    nearer = [other for other in others if other.distance < reading.distance]
    farther = [other for other in others if other.distance > reading.distance]
    rises = 1.0 if ring.rises_nearer else -1.0
    neighbours = [
        *((other, rises) for other in _at(max, nearer)),
        *((other, -rises) for other in _at(min, farther)),
    ]
    for other, sign in neighbours:
        if sign * (getattr(other, which) - figure) < -_AGAINST_MM:
            way = "rise" if ring.rises_nearer else "fall"
            named = reading_name(other, kit.units, ring=which)
            rule = (
                f"the ring's figures {way} as it turns nearer, but not from here to {named}: read "
                "both again, or say --anyway"
            )
            yield Problem(f"--{which}", f"{figure:g}", rule)
            return


def _at(pick: Callable[[list[float]], float], readings: list[Reading]) -> list[Reading]:
    """Return the readings at the picked one of their distances."""
    distances = [reading.distance for reading in readings]
    return [one for one in readings if one.distance == pick(distances)] if readings else []
