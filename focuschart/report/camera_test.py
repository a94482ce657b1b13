"""The result of a camera test, as text for people and as data for machines."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

from focuschart.chart.camera_test import RingResult, StripTest
from focuschart.report.lines import wrapped
from focuschart.report.numbers import dumped, plain
from focuschart.rig.ring import Which
from focuschart.units import Units, distance_label, format_stop

_RING: dict[Which, str] = {"taking": "taking lens", "attachment": "attachment"}


def as_text(results: Iterable[StripTest], *, stops: dict[str, float], units: Units) -> str:
    """Return what to do with each strip, in words; `stops` are the rigs' working stops."""
    return "".join(f"{line}\n" for one in results for line in _lines(one, stops[one.rig_id], units))


def _lines(one: StripTest, stop: float, units: Units) -> Iterator[str]:
    inside = f"all marks are inside at {format_stop(stop)} with {100 * one.inside:.0f} %"
    yield f"{one.rig_id}: {'not judged' if math.isnan(one.inside) else inside}"
    for which, ring in one.rings.items():
        text = f"{_RING[which]}, strip {ring.strip}: {_act(ring)}"
        yield from wrapped(text, indent="  ", further="    ")
    if one.cause:
        yield from wrapped(f"Cause: {one.cause}.", indent="  ", further="    ")
    if one.keep_from_stop is not None:
        yield f"  As taped, keep from {format_stop(one.keep_from_stop)} on."
    if one.decide_at_mm is not None:
        where = distance_label(one.decide_at_mm, units)
        yield from wrapped(
            f"Read the mark {where} once more, both rings focused anew and nothing taped: of all "
            "marks that tells most.",
            indent="  ",
            further="    ",
        )


def _act(ring: RingResult) -> str:
    """Return what to do with a strip; one that could not be judged has no offset."""
    if ring.verdict == "exchanged":
        return "belongs elsewhere: tape each ring's own strip, and test again"
    if ring.verdict == "reprint":
        return "its marks have moved from one another: see to the cause, then build and print again"
    if math.isnan(ring.offset_mm):
        return "cannot be judged before the cause is mended"
    off = f"lies off by {ring.offset_mm:+.2f} ± {ring.offset_95_mm:.2f} mm"
    return f"{off}{_set_by(ring)}: {_cure(ring)}"


def _set_by(ring: RingResult) -> str:
    return f", set by the tick {ring.tick_mm:+.2f}" if ring.tick_mm else ""


def _cure(ring: RingResult) -> str:
    move = ring.move_mm
    if move is None:
        return "keep it" if ring.verdict == "keep" else "inconclusive"
    if ring.verdict == "move":
        way = "toward larger figures if positive"
        return f"move the index by {move:+.2f} mm, {way}, and test again"
    tick = f"the tick {move:+.2f} of its index" if move else "the line of its index again"
    return f"use {tick}, and tape nothing anew"


def as_json(results: Iterable[StripTest]) -> str:
    """Return the same as stable data: see the guide."""
    data = {"format": 1, "rigs": [_rig(one) for one in results]}
    return dumped(data) + "\n"


def _rig(one: StripTest) -> dict[str, object]:
    return {
        "rig": one.rig_id,
        "keep_from_stop": one.keep_from_stop,
        "cause": one.cause,
        "rings": {
            which: {
                "strip": ring.strip,
                "taping": ring.taping,
                "offset_mm": plain(ring.offset_mm),
                "offset_95_mm": plain(ring.offset_95_mm),
                "verdict": ring.verdict,
                "move_mm": None if ring.move_mm is None else plain(ring.move_mm),
            }
            for which, ring in one.rings.items()
        },
    }
