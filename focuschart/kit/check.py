"""What sound tables must say together: distances in reach, stops that open, rings that turn right.

Everything is checked on the rigs and readings whose parts exist; the rest is a reference problem.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise

from focuschart.errors import Problem
from focuschart.kit.check_parts import check_parts
from focuschart.kit.ring import Ring
from focuschart.kit.schema import Kit, Rig
from focuschart.units import format_length, format_stop

REACH_MARGIN_MM = 50.0
"""A subject stands at least this far in front of the glass."""
MAX_READINGS = 200
"""Of one ring; the fit works with a matrix of this size squared."""
LEAST_SPAN_MM = 1.0
"""What a ring that was turned from one distance to another shows at least."""
ROW_MM = 4.0
"""The narrowest row of a strip that holds a tick and a legible label."""
NEAREST_FOCAL_LENGTHS = 5.0
"""Nearer than this a thin-lens model of the taking lens is no longer worth printing."""


def check_kit(kit: Kit) -> list[Problem]:
    """Return every contradiction between the kit's tables."""
    sound = _sound(kit)
    checks = (_repeats, _lengths, _separations, _marks, _stops, _readings, _rings, check_parts)
    return [problem for check in checks for problem in check(sound)]


def _sound(kit: Kit) -> Kit:
    """Return the kit with only those rigs and readings whose parts are all there."""
    chain = kit.links.keys()
    front = set(kit.step_rings) | set(kit.filters) | set(kit.close_up_lenses)
    rigs = {
        rig_id: rig
        for rig_id, rig in kit.rigs.items()
        if rig.camera in kit.cameras
        and rig.taking_lens in kit.taking_lenses
        and rig.attachment in kit.attachments
        and chain >= set(rig.chain)
        and front.issuperset(rig.front)
        and (rig.support is None or rig.support in kit.supports)
    }
    return kit.model_copy(update={"rigs": rigs})


def _repeats(kit: Kit) -> Iterator[Problem]:
    yield from _repeated("distances", kit.distances, format_length)
    yield from _repeated("stops", kit.stops, format_stop)
    for rig_id, rig in kit.rigs.items():
        yield from _repeated(f"rigs.{rig_id}.distances", rig.distances or [], format_length)


def _repeated(key: str, values: Sequence[float], show: Callable[[float], str]) -> Iterator[Problem]:
    for text, count in Counter(map(show, values)).items():
        if count > 1:
            yield Problem(key, "", f"holds {text} {count} times, keep one")


def _lengths(kit: Kit) -> Iterator[Problem]:
    """A rig's length is measured, or summed from parts that all state theirs."""
    for rig_id, rig in kit.rigs.items():
        lengths = {
            f"taking_lenses.{rig.taking_lens}.length": kit.taking_lenses[rig.taking_lens].length,
            f"attachments.{rig.attachment}.length": kit.attachments[rig.attachment].length,
        }
        for key, value in lengths.items():
            if rig.front_vertex is None and value is None:
                rule = f"is missing: add it, or measure rigs.{rig_id}.front_vertex"
                yield Problem(key, "", rule)


def _separations(kit: Kit) -> Iterator[Problem]:
    """The groups stand inside the attachment, and the attachment before the sensor."""
    for attachment_id, attachment in kit.attachments.items():
        fronts = [rig.front_vertex for rig in kit.rigs.values() if rig.attachment == attachment_id]
        longest = min(x for x in (attachment.length, *fronts, math.inf) if x is not None)
        if attachment.ruler_separation >= longest:
            key = f"attachments.{attachment_id}.ruler_separation"
            rule = f"must be less than the length of what holds it, {format_length(longest)}"
            yield Problem(key, f'"{format_length(attachment.ruler_separation)}"', rule)


def nearest_mm(kit: Kit, rig: Rig) -> tuple[float, str]:
    """Return the nearest subject a rig can take, and what limits it."""
    lens, attachment = kit.taking_lenses[rig.taking_lens], kit.attachments[rig.attachment]
    vertex = kit.front_vertex_mm(rig) or 0.0
    return max(
        (lens.nearest, f'taking lens "{lens.name}"'),
        (attachment.nearest, f'attachment "{attachment.name}"'),
        (NEAREST_FOCAL_LENGTHS * lens.focal_length, "five focal lengths of the taking lens"),
        (vertex + REACH_MARGIN_MM, "the front glass"),
    )


def _marks(kit: Kit) -> Iterator[Problem]:
    for rig_id, rig in kit.rigs.items():
        own = rig.distances is not None
        key = f"rigs.{rig_id}.distances" if own else "distances"
        for index, distance in enumerate(rig.distances or kit.distances):
            yield from _in_reach(kit, rig_id, f"{key}[{index}]", distance)


def _in_reach(kit: Kit, rig_id: str, key: str, distance_mm: float) -> Iterator[Problem]:
    limit, what = nearest_mm(kit, kit.rigs[rig_id])
    if distance_mm < limit:
        rule = (
            f'rig "{rig_id}" focuses no nearer than {format_length(round(limit, 1))}, '
            f"limited by {what}: give a farther distance"
        )
        yield Problem(key, f'"{format_length(distance_mm)}"', rule)


def _stops(kit: Kit) -> Iterator[Problem]:
    for rig_id, rig in kit.rigs.items():
        for index, stop in enumerate(kit.stops):
            yield from _opens(kit, rig_id, rig, f"stops[{index}]", stop)


def _opens(kit: Kit, rig_id: str, rig: Rig, key: str, stop: float) -> Iterator[Problem]:
    widest = kit.taking_lenses[rig.taking_lens].widest_stop
    if stop < widest:
        rule = f'the taking lens of rig "{rig_id}" opens to {format_stop(widest)} only'
        yield Problem(key, f"{stop:g}", rule)


def _readings(kit: Kit) -> Iterator[Problem]:
    for index, reading in enumerate(kit.readings):
        key = f"readings[{index}]"
        if math.isinf(reading.distance) and reading.distance_error is not None:
            rule = 'goes with a measured distance, such as "60 m", not with infinity'
            yield Problem(f"{key}.distance_error", "", rule)
        rig = kit.rigs.get(reading.rig)
        if rig is not None:
            yield from _in_reach(kit, reading.rig, f"{key}.distance", reading.distance)
            yield from _opens(kit, reading.rig, rig, f"{key}.stop", reading.stop)


def _rings(kit: Kit) -> Iterator[Problem]:
    """Check each ring's readings as a whole: within one turn, and in the stated direction."""
    used = [reading for reading in kit.readings if not reading.ignore]
    for lens_id, lens in kit.taking_lenses.items():
        rigs = {rig_id for rig_id, rig in kit.rigs.items() if rig.taking_lens == lens_id}
        figures = [(r.distance, r.taking) for r in used if r.rig in rigs]
        yield from _ring(f"taking_lenses.{lens_id}.ring", lens.ring, figures)
    for attachment_id, attachment in kit.attachments.items():
        rigs = {rig_id for rig_id, rig in kit.rigs.items() if rig.attachment == attachment_id}
        figures = [(r.distance, r.attachment) for r in used if r.rig in rigs]
        yield from _ring(f"attachments.{attachment_id}.ring", attachment.ring, figures)


def _ring(key: str, ring: Ring, read: Sequence[tuple[float, float | None]]) -> Iterator[Problem]:
    yield from _engraved(f"{key}.engraved", ring)
    yield from _strip(key, ring)
    figures = [(distance, figure) for distance, figure in read if figure is not None]
    if len(figures) > MAX_READINGS:
        yield Problem(key, "", f"{len(figures)} readings of one ring, keep {MAX_READINGS} at most")
    if len({distance for distance, _ in figures}) < 2:
        return
    span = max(figure for _, figure in figures) - min(figure for _, figure in figures)
    around = ring.strip_length_mm
    if span >= ring.turns * around:
        turns = f"one turn is {around:.1f} mm" if ring.turns == 1 else (
            f"{ring.turns} turns are {ring.turns * around:.1f} mm")  # fmt: skip
        rule = f"the readings span {span:.1f} mm, but {turns}: correct the figures or the ring's"
        yield Problem(key, "", f"{rule} size, or its turns if it turns past one revolution")
    elif span < LEAST_SPAN_MM and _far_apart([distance for distance, _ in figures]):
        rule = (
            f"the figures of {len(figures)} readings hardly differ: was the ring turned? read again"
        )
        yield Problem(f"{key} (readings)", "", rule)
    elif _rise(figures) * (1 if ring.rises_nearer else -1) < 0:
        rule = (
            "the readings run the other way: correct it, or turn the ruler round, or move it so "
            "that its seam never passes the pointer, and read again"
        )
        yield Problem(f"{key}.nearer_turns", f'"{ring.nearer_turns}"', rule)


def _strip(key: str, ring: Ring) -> Iterator[Problem]:
    """A strip lies on its ring, and each turn has a row of its own on it."""
    if ring.width is not None and ring.strip_width > ring.width:
        rule = f"the strip is wider than the ring, {format_length(ring.width)}: make it narrower"
        yield Problem(f"{key}.strip_width", f'"{format_length(ring.strip_width)}"', rule)
    if ring.turns > 1 and ring.strip_width < ring.turns * ROW_MM:
        rule = f"{ring.turns} turns need a strip of {ring.turns * ROW_MM:g} mm: make it wider"
        yield Problem(f"{key}.strip_width", f'"{format_length(ring.strip_width)}"', rule)


def _engraved(key: str, ring: Ring) -> Iterator[Problem]:
    """Engraved figures run strictly one way, the way the ring turns."""
    marks = sorted((1.0 / mark.distance, mark.ruler) for mark in ring.engraved)
    steps = [(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(marks)]
    if any(nearness == 0.0 or ruler == 0.0 for nearness, ruler in steps):
        yield Problem(key, "", "holds a distance or a ruler figure twice, keep one")
    elif any((ruler > 0.0) != ring.rises_nearer for _, ruler in steps):
        yield Problem(key, "", "the ruler figures run the other way than nearer_turns says")


def _far_apart(distances: Sequence[float]) -> bool:
    """Return whether a ring had to be turned from one of these distances to another."""
    return min(distances) < 0.5 * max(distances)


def _rise(figures: Sequence[tuple[float, float]]) -> float:
    """Return the slope, up to a positive factor, of ruler figure against nearness 1/D."""
    nearness = [1.0 / distance for distance, _ in figures]
    middle = math.fsum(nearness) / len(nearness)
    return math.fsum(
        (near - middle) * figure for near, (_, figure) in zip(nearness, figures, strict=True)
    )
