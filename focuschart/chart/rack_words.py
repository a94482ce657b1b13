"""Locked rings and racks in words and rows of figures, for reports and pages alike."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Literal

import numpy as np

from focuschart.chart.rack import Rack
from focuschart.chart.verdict import extrapolated, in_words, judged
from focuschart.optics.depth_of_field import Limits
from focuschart.units import Units, distance_label, format_range, format_stop, scale_reading

Row = Sequence[str]
Way = Literal["nearer", "farther", "stays"]

HAND_S = 0.1
"""Two people's hands are hardly closer together in time (judgement, no source)."""
_SLOWEST_S = 60.0
_STILL_MM = 0.05


def range_words(limits: Limits, at: tuple[int, int], units: Units) -> str:
    """Return a zone, by stop and mark, as "1.93–2.08"."""
    return format_range(float(limits.near_mm[at]), float(limits.far_mm[at]), units)


def turn_words(turn_mm: float, nearer: float) -> str:
    """Return a turn as "+1.2 nearer", its sign that of the ruler's figures."""
    way = turn_way(turn_mm, nearer)
    return f"0.0 {way}" if way == "stays" else f"{turn_mm:+.1f} {way}"


def turn_way(turn_mm: float, nearer: float) -> Way:
    """Return which way a ring turns whose figures rise nearer if `nearer` is 1."""
    if abs(turn_mm) < _STILL_MM:
        return "stays"
    return "nearer" if turn_mm * nearer > 0.0 else "farther"


def rack_title(found: Rack, units: Units) -> str:
    """Return what the rack goes from and to."""
    first, last = (distance_label(float(found.at.distances_mm[k]), units) for k in (0, -1))
    return f"Rack from {first} to {last}"


def rack_way(found: Rack, *, seconds: float) -> str:
    """Return in what steps, and how long."""
    count = len(found.share) - 1
    steps = f"{count} equal steps" if count > 1 else "One step"
    return f"{steps} of the taking ring, in a smooth move of {seconds:g} s"


def rack_summary(found: Rack) -> str:
    """Return how far and which way each ring turns in all."""
    parts = []
    for name, ring in (("taking", found.at.taking), ("attachment", found.at.attachment)):
        turn = float(ring.arc_mm[-1] - ring.arc_mm[0])
        parts.append(f"{name} ring {turn_words(turn, ring.nearer_sign)}")
    return f"In all, mm on the ruler: {', '.join(parts)}."


def rack_rows(found: Rack, *, units: Units, seconds: float) -> Iterator[Row]:
    """Yield headings and a row for each position, both ends among them."""
    rings = (found.at.taking, found.at.attachment)
    scales = {
        name: ring.engraved_mm
        for name, ring in zip(("lens scale", "att. scale"), rings, strict=True)
        if not np.all(np.isnan(ring.engraved_mm))
    }
    yield ["step", "s", "subject", "lens mm", "att. mm", *scales, "squeeze", "pair"]
    for k, words in enumerate(_verdicts(found)):
        yield [
            f"{k}",
            f"{seconds * found.time_share[k]:.2f}",
            distance_label(_to_figures(float(found.at.distances_mm[k])), units),
            *(f"{ring.arc_mm[k]:.1f}" for ring in rings),
            *(_reading(float(shown[k]), units) for shown in scales.values()),
            f"{found.at.squeeze[k]:.3f}",
            words,
        ]


def _reading(engraved_mm: float, units: Units) -> str:
    return "off scale" if math.isnan(engraved_mm) else scale_reading(engraved_mm, units)


def _to_figures(distance_mm: float) -> float:
    """Return a distance to four figures, as near as anyone could tape it."""
    return float(f"{distance_mm:.4g}") if math.isfinite(distance_mm) else distance_mm


def _verdicts(found: Rack) -> list[str]:
    """Return how sure the pair is at each position, at the working stop."""
    sure = judged(found.chart, found.at.pair_95[0])
    far = extrapolated(found.chart, found.at.distances_mm)
    return [in_words(word, extrapolated=beyond) for word, beyond in zip(sure, far, strict=True)]


def slack_rows(found: Rack, *, seconds: float) -> Iterator[Row]:
    """Yield headings and a row for each stop: each hand alone, and whichever is off."""
    yield ["stop", "taking hand", "attachment hand", "either hand", "of the move", ""]
    for j, stop in enumerate(found.chart.stops):
        hands = (found.slack.taking[j], found.slack.attachment[j], found.slack.either[j])
        yield [
            format_stop(float(stop)),
            *(_seconds(hand, seconds) for hand in hands),
            "all" if math.isinf(hands[-1]) else f"{100.0 * hands[-1]:.1f} %",
            "",
        ]


def _seconds(share: float, seconds: float) -> str:
    return "any" if math.isinf(share) else f"{share * seconds:.3f} s"


def rack_cautions(found: Rack, *, seconds: float) -> Iterator[str]:
    """Yield what whoever pulls must know, in sentences."""
    apart, stop = float(found.slack.either[0]), format_stop(found.chart.working_stop)
    if apart * seconds < HAND_S:
        yield (
            f"At {stop} hands would have to agree within {apart * seconds:.3f} s, closer than "
            f"hands do ({HAND_S:g} s, judgement): expect the frame to go soft on the way. Both "
            f"rings are right at the ends. Couple the rings, stop down{_slower(HAND_S / apart)}."
        )
    if "not" in judged(found.chart, found.at.pair_95[0]):
        yield f"Not all settings are sure at {stop}: read more, or stop down."
    if np.any(extrapolated(found.chart, found.at.distances_mm)):
        yield "Extrapolated settings lie nearer than the nearest reading: read one there."
    yield "Test the move on camera before a job, and never swing the rig across the sun."


def _slower(seconds: float) -> str:
    return f", or take {math.ceil(seconds)} s over it" if seconds <= _SLOWEST_S else ""
