"""Checks of a new reading before it is written, while it can still be read again at the bench.

A figure must be on the ring's ruler, and figures must run one way as the ring turns nearer.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import suppress
from typing import Any

from pydantic import ValidationError

from focuschart.errors import Problem
from focuschart.kit.naming import RINGS, reading_name
from focuschart.kit.reading import Reading
from focuschart.kit.ring import Ring
from focuschart.kit.rules import nearest_mm
from focuschart.kit.schema import Kit

RULER_BEGINS_MM = -8.0
"""Its lead-in, left of the zero line."""
_AGAINST_MM = 3.0
"""Errors of ruler, eye and tape can make a step this far the wrong way; judgement, no source."""


def new_reading_problems(kit: Kit, said: Mapping[str, Any]) -> Iterator[Problem]:
    """Yield why a reading not yet in the kit cannot be true; keys are the options of `read`.

    `said` is what would be written. What the loader refuses is not checked here.
    """
    with suppress(ValidationError):
        reading = Reading.model_validate({k: v for k, v in said.items() if v is not None})
        rig = kit.rigs.get(reading.rig)
        if rig is not None and reading.distance >= nearest_mm(kit, rig)[0]:
            yield from _of_reading(kit, reading)


def _of_reading(kit: Kit, reading: Reading) -> Iterator[Problem]:
    for which in RINGS:
        figure = getattr(reading, which)
        if figure is not None:
            rig = kit.rigs[reading.rig]
            lens, attachment = kit.taking_lenses[rig.taking_lens], kit.attachments[rig.attachment]
            ring = lens.ring if which == "taking" else attachment.ring
            beyond = list(_beyond(which, figure, ring))
            yield from beyond or _against(kit, reading, which, figure, ring)


def _beyond(which: str, figure: float, ring: Ring) -> Iterator[Problem]:
    most = ring.turns * ring.ruler_length_mm
    if not RULER_BEGINS_MM <= figure <= most:
        turns = "once round" if ring.turns == 1 else f"in {ring.turns} turns"
        shows = f"its ring's ruler shows {RULER_BEGINS_MM:g} to {most:.1f} mm {turns}"
        rule = f"{shows}: read it again, or say --anyway"
        yield Problem(f"--{which}", f"{figure:g}", rule)


def _against(
    kit: Kit, reading: Reading, which: str, figure: float, ring: Ring
) -> Iterator[Problem]:
    """Compare with the readings of the ring at the next distance nearer and the next farther."""
    name = kit.rigs[reading.rig].rings[which]
    others = sorted(
        (
            other for other in kit.readings
            if other.rig in kit.rigs and kit.rigs[other.rig].rings[which] == name
            and not other.ignore and getattr(other, which) is not None
        ),
        key=lambda other: other.distance,
    )  # fmt: skip
    distances = [other.distance for other in others]
    nearer = max((at for at in distances if at < reading.distance), default=None)
    farther = min((at for at in distances if at > reading.distance), default=None)
    for other in others:
        rise = getattr(other, which) - figure
        if (other.distance == nearer) != ring.rises_nearer:
            rise = -rise
        if other.distance in (nearer, farther) and rise < -_AGAINST_MM:
            way = "rise" if ring.rises_nearer else "fall"
            named = reading_name(other, kit.units, ring=which)
            rule = (
                f"the ring's figures {way} as it turns nearer, but not from here to {named}: read "
                "both again, or say --anyway"
            )
            yield Problem(f"--{which}", f"{figure:g}", rule)
            return
