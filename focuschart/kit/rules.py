"""Checks across tables: distances in reach, stops the lens has, figures that run the right way.

Everything is checked on the rigs and readings whose parts exist; the rest is a reference problem.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise

from focuschart.errors import Problem
from focuschart.kit.part_rules import check_assembly, check_parts
from focuschart.kit.parts import TakingLens
from focuschart.kit.reading import Reading
from focuschart.kit.ring import Ring
from focuschart.kit.schema import Kit, Rig
from focuschart.units import format_length, format_stop

REACH_MARGIN_MM = 50.0
"""A subject stands at least this far in front of the glass."""
MAX_READINGS = 200
"""Of one ring; the fit works with a matrix of this size squared."""
LEAST_SPAN_MM = 1.0
"""What a ring that was turned from one distance to another shows at least."""
SQUEEZED_SHARES = (0.6, 1.1)
"""Of the nominal squeeze: beyond them a frame was desqueezed, or is of another attachment."""
ROW_MM = 4.0
"""The narrowest row of a strip that holds a tick and a legible label."""
_MODEL = "five focal lengths of the taking lens"
NEAREST_FOCAL_LENGTHS = 5.0
"""Nearer than this a thin-lens model of the taking lens is no longer worth printing."""


def check_kit(kit: Kit) -> list[Problem]:
    """Return every contradiction between the kit's tables."""
    sound = _sound(kit)
    of_rigs = (
        problem
        for check in (check_rig, marks_out_of_reach, stops_too_wide)
        for rig_id in sound.rigs
        for problem in check(sound, rig_id)
    )
    return [*check_bag(sound), *of_rigs, *_readings(sound), *ring_problems(sound).values()]


def check_bag(kit: Kit) -> list[Problem]:
    """Return contradictions of the kit as a whole and of its parts, whatever rigs use them."""
    checks = (_repeats, _separations, _inside, _sizes, check_parts)
    return [problem for check in checks for problem in check(kit)]


def check_rig(kit: Kit, rig_id: str) -> list[Problem]:
    """Return why a rig whose parts are all in the kit cannot be put together."""
    rig = kit.rigs[rig_id]
    checks = (
        _own_repeats, _focus_height, _index_set_at, _lengths, _longer_than_its_glass,
        check_assembly,
    )  # fmt: skip
    return [problem for check in checks for problem in check(kit, rig_id, rig)]


def _sound(kit: Kit) -> Kit:
    """Return the kit with only those rigs and readings whose parts are all there."""
    chain = kit.links.keys()
    front = set(kit.step_rings) | set(kit.filters) | set(kit.close_up_lenses)
    rigs = {
        rig_id: rig
        for rig_id, rig in kit.rigs.items()
        if rig.camera in kit.cameras
        and kit.cameras[rig.camera].mode(rig.mode) is not None
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


def _own_repeats(_kit: Kit, rig_id: str, rig: Rig) -> Iterator[Problem]:
    yield from _repeated(f"rigs.{rig_id}.distances", rig.distances or [], format_length)


def _focus_height(kit: Kit, rig_id: str, rig: Rig) -> Iterator[Problem]:
    key = "focus_height" if rig.focus_height is None else f"rigs.{rig_id}.focus_height"
    yield from _in_picture(kit, rig_id, rig, key, kit.focus_height_mm(rig))


def _index_set_at(kit: Kit, rig_id: str, rig: Rig) -> Iterator[Problem]:
    """Yield distances that no index can have been set at: the rig cannot be focused there."""
    nearest, limit = nearest_mm(kit, rig)
    set_at = {} if rig.index_set_at is None else rig.index_set_at.model_dump(exclude_none=True)
    for ring, distance in set_at.items():
        if distance < nearest:
            rule = (
                f"nearer than {limit} lets it focus: give a mark, {format_length(nearest)} or more"
            )
            key = f"rigs.{rig_id}.index_set_at.{ring}"
            yield Problem(key, f'"{format_length(distance)}"', rule)


def _in_picture(kit: Kit, rig_id: str, rig: Rig, key: str, height_mm: float) -> Iterator[Problem]:
    edge = kit.mode(rig).sensor_height / 2.0
    if abs(height_mm) > edge:
        rule = (
            f'outside the picture of rig "{rig_id}", whose sensor ends {format_length(edge)} from '
            "the middle: give a lesser height"
        )
        yield Problem(key, f'"{format_length(height_mm)}"', rule)


def _repeated(key: str, values: Sequence[float], show: Callable[[float], str]) -> Iterator[Problem]:
    for text, count in Counter(map(show, values)).items():
        if count > 1:
            yield Problem(key, "", f"holds {text} {count} times, keep one")


def _lengths(kit: Kit, rig_id: str, rig: Rig) -> Iterator[Problem]:
    """A rig's length is measured, or summed from parts that all state theirs."""
    lengths = {
        f"cameras.{rig.camera}.flange_focal_distance": kit.cameras[
            rig.camera
        ].flange_focal_distance,
        f"taking_lenses.{rig.taking_lens}.length": kit.taking_lenses[rig.taking_lens].length,
        f"attachments.{rig.attachment}.length": kit.attachments[rig.attachment].length,
    }
    for key, value in lengths.items():
        if rig.front_vertex is None and value is None:
            yield Problem(key, "", f"is missing: add it, or measure rigs.{rig_id}.front_vertex")


def _separations(kit: Kit) -> Iterator[Problem]:
    """The groups stand inside the attachment."""
    for attachment_id, attachment in kit.attachments.items():
        length, separation = attachment.length, attachment.ruler_separation
        if length is not None and separation is not None and separation >= length:
            key = f"attachments.{attachment_id}.ruler_separation"
            rule = f"must be less than the length of what holds it, {format_length(length)}"
            yield Problem(key, f'"{format_length(separation)}"', rule)


def _longer_than_its_glass(kit: Kit, rig_id: str, rig: Rig) -> Iterator[Problem]:
    """A measured length holds the attachment's glass, which stands before the mount."""
    if rig.front_vertex is None:
        return
    attachment = kit.attachments[rig.attachment]
    mount = kit.cameras[rig.camera].flange_focal_distance or 0.0
    glasses = (attachment.front_glass or 0.0) + (attachment.rear_glass or 0.0)
    glass = glasses / 2.0 + (attachment.ruler_separation or 0.0)
    summed = kit.parts_mm(rig)
    least = mount + glass
    if rig.front_vertex <= least:
        known = "" if summed is None else f"; its parts add up to {format_length(round(summed, 1))}"
        rule = (
            f"the rear glass would stand behind the mount, for mount and glass alone take "
            f"{format_length(round(least, 1))}{known}: measure again from the sensor mark to the "
            "foremost glass"
        )
        yield Problem(f"rigs.{rig_id}.front_vertex", f'"{format_length(rig.front_vertex)}"', rule)


def nearest_mm(kit: Kit, rig: Rig) -> tuple[float, str]:
    """Return the nearest subject a rig can take, and what limits it."""
    lens, attachment = kit.taking_lenses[rig.taking_lens], kit.attachments[rig.attachment]
    vertex = kit.front_vertex_mm(rig) or 0.0
    return max(
        (lens.nearest, f'taking lens "{lens.name}"'),
        (attachment.nearest, f'attachment "{attachment.name}"'),
        (_modelled_from_mm(lens), _MODEL),
        (vertex + REACH_MARGIN_MM, "the front glass"),
    )


def _modelled_from_mm(lens: TakingLens) -> float:
    """Return the nearest distance at which the model of a lens holds: its own, if m is known."""
    if lens.largest_magnification is not None:
        return lens.nearest
    return NEAREST_FOCAL_LENGTHS * lens.focal_length


def reached_mm(kit: Kit, rig: Rig) -> list[float]:
    """Return the distances to mark for a rig that it reaches, in their order."""
    limit, _ = nearest_mm(kit, rig)
    return [distance for distance in rig.distances or kit.distances if distance >= limit]


def open_stops(kit: Kit, lens_id: str) -> list[float]:
    """Return the kit's stops that a taking lens opens to, in their order."""
    widest = kit.taking_lenses[lens_id].widest_stop
    return [stop for stop in kit.stops if stop >= widest]


def marks_out_of_reach(kit: Kit, rig_id: str) -> Iterator[Problem]:
    """Yield each distance to mark that a rig does not reach."""
    rig = kit.rigs[rig_id]
    key = "distances" if rig.distances is None else f"rigs.{rig_id}.distances"
    for index, distance in enumerate(rig.distances or kit.distances):
        yield from _in_reach(kit, rig_id, f"{key}[{index}]", distance)


def _in_reach(kit: Kit, rig_id: str, key: str, distance_mm: float) -> Iterator[Problem]:
    limit, what = nearest_mm(kit, kit.rigs[rig_id])
    if distance_mm < limit:
        or_else = ", or the lens's largest_magnification" if what == _MODEL else ""
        rule = (
            f'rig "{rig_id}" focuses no nearer than {format_length(round(limit, 1))}, '
            f"limited by {what}: give a farther distance{or_else}"
        )
        yield Problem(key, f'"{format_length(distance_mm)}"', rule)


def stops_too_wide(kit: Kit, rig_id: str) -> Iterator[Problem]:
    """Yield each of the kit's stops that a rig's taking lens does not open to."""
    for index, stop in enumerate(kit.stops):
        yield from _opens(kit, rig_id, kit.rigs[rig_id], f"stops[{index}]", stop)


def _opens(kit: Kit, rig_id: str, rig: Rig, key: str, stop: float) -> Iterator[Problem]:
    widest = kit.taking_lenses[rig.taking_lens].widest_stop
    if stop < widest:
        rule = (
            f'the taking lens of rig "{rig_id}" opens to {format_stop(widest)} only: '
            "give a stop of the lens"
        )
        yield Problem(key, f"{stop:g}", rule)


def _inside(kit: Kit) -> Iterator[Problem]:
    for index, reading in enumerate(kit.readings):
        if math.isinf(reading.distance) and reading.distance_error is not None:
            rule = 'goes with a measured distance, such as "60 m", not with infinity'
            yield Problem(f"readings[{index}].distance_error", "", rule)


def _sizes(kit: Kit) -> Iterator[Problem]:
    for part, ring in rings(kit).items():
        yield from _engraved(f"{part}.ring.engraved", ring)
        yield from _strip(f"{part}.ring", ring)


def _readings(kit: Kit) -> Iterator[Problem]:
    for index in range(len(kit.readings)):
        yield from reading_problems(kit, index)
    for index in range(len(kit.squeezes)):
        yield from squeeze_problems(kit, index)


def reading_problems(kit: Kit, index: int) -> Iterator[Problem]:
    """Yield why a reading, by its number, cannot have been made on its rig."""
    reading, key = kit.readings[index], f"readings[{index}]"
    rig = kit.rigs.get(reading.rig)
    if rig is not None:
        yield from _in_reach(kit, reading.rig, f"{key}.distance", reading.distance)
        yield from _opens(kit, reading.rig, rig, f"{key}.stop", reading.stop)
        yield from _in_picture(kit, reading.rig, rig, f"{key}.height", reading.height)


def rings(kit: Kit) -> dict[str, Ring]:
    """Return every focus ring of the bag by its part, "taking_lenses.long"."""
    lenses = {f"taking_lenses.{key}": part.ring for key, part in kit.taking_lenses.items()}
    return lenses | {f"attachments.{key}": part.ring for key, part in kit.attachments.items()}


def squeeze_problems(kit: Kit, index: int) -> Iterator[Problem]:
    """Yield why a measured squeeze, by its number, cannot be one of its rig."""
    measured, key = kit.squeezes[index], f"squeezes[{index}]"
    rig = kit.rigs.get(measured.rig)
    if rig is None:
        return
    yield from _in_reach(kit, measured.rig, f"{key}.distance", measured.distance)
    nominal = kit.attachments[rig.attachment].squeeze
    low, high = SQUEEZED_SHARES
    if not low * nominal <= measured.squeeze <= high * nominal:
        rule = (
            f"is far from the attachment's own {nominal:g}: measure it on the frame as recorded, "
            "not desqueezed, or put the attachment's squeeze right"
        )
        yield Problem(f"{key}.squeeze", f"{measured.squeeze:g}", rule)


def _figures(kit: Kit, reading: Reading) -> dict[str, float]:
    """Return a reading's figures by the parts whose rings show them."""
    rig = kit.rigs[reading.rig]
    figures = {
        f"taking_lenses.{rig.taking_lens}": reading.taking,
        f"attachments.{rig.attachment}": reading.attachment,
    }
    return {part: figure for part, figure in figures.items() if figure is not None}


def ring_problems(kit: Kit) -> dict[str, Problem]:
    """Return by its part what is wrong with a ring's readings as a whole.

    They lie within its turns, differ, and run the way it turns.
    """
    figures: dict[str, list[tuple[float, float]]] = {part: [] for part in rings(kit)}
    for reading in kit.readings:
        if not reading.ignore and reading.rig in kit.rigs:
            for part, figure in _figures(kit, reading).items():
                figures[part].append((reading.distance, figure))
    found = {
        part: next(_ring(f"{part}.ring", ring, figures[part]), None)
        for part, ring in rings(kit).items()
    }
    return {part: problem for part, problem in found.items() if problem is not None}


def unusable_rings(kit: Kit) -> dict[str, Problem]:
    """Return by its part why a ring's readings cannot be used, one by one or as a whole."""
    found = ring_problems(kit)
    for index, reading in enumerate(kit.readings):
        if not reading.ignore and reading.rig in kit.rigs:
            for problem in reading_problems(kit, index):
                found |= dict.fromkeys(_figures(kit, reading), problem)
    for index, measured in enumerate(kit.squeezes):
        if not measured.ignore and measured.rig in kit.rigs:
            part = f"attachments.{kit.rigs[measured.rig].attachment}"
            for problem in squeeze_problems(kit, index):
                found[part] = problem
    return found


def _ring(key: str, ring: Ring, figures: Sequence[tuple[float, float]]) -> Iterator[Problem]:
    if len(figures) > MAX_READINGS:
        yield Problem(key, "", f"{len(figures)} readings of one ring, keep {MAX_READINGS} at most")
    if len({distance for distance, _ in figures}) < 2:
        return
    span = max(figure for _, figure in figures) - min(figure for _, figure in figures)
    around = ring.ruler_length_mm
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
