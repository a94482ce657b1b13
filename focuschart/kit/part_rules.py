"""Checks that sizes, places and counts of parts do not contradict one another.

A kit that breaks one of these cannot be true. Whether parts fit one another is for `rig.chain`: a
bag may well hold parts that do not.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator
from itertools import pairwise

from focuschart.errors import Problem
from focuschart.kit.fields import Thread, parse_ratio
from focuschart.kit.parts import Mode
from focuschart.kit.schema import Kit, Rig
from focuschart.units import format_length

PIXEL_RATIO = 0.02
"""By how much, of itself, the pixels' ratio may differ from the sensor's; judgement, no source."""

_HIATUS = {"extends": (0.8, 60.0), "inside": (2.0, 120.0)}
"""The longest effective hiatus of a lens, as a share of its focal length, and in mm at least;
judgement: wide lenses have as much forward of their glass, long ones as much inside."""

Size = tuple[str, float | None]
"""A key and its value in mm."""


def check_parts(kit: Kit) -> Iterator[Problem]:
    """Yield what sizes, places and counts of parts contradict, in whatever rig."""
    for check in (_deliveries, _pixels, _plates, _openings, _depths, _magnifications):
        yield from check(kit)


def check_assembly(kit: Kit, rig_id: str, rig: Rig) -> Iterator[Problem]:
    """Yield what the parts of one rig contradict once they are put together."""
    yield from _used_twice(f"rigs.{rig_id}", rig)
    yield from _pupil(kit, rig)
    yield from _support(kit, rig_id, rig)


def _deliveries(kit: Kit) -> Iterator[Problem]:
    names: dict[float, list[str]] = {}
    for name in kit.deliveries:
        names.setdefault(parse_ratio(name), []).append(f'"{name}"')
    for alike in names.values():
        if len(alike) > 1:
            rule = f"holds one ratio {len(alike)} times, {' and '.join(alike)}: keep one"
            yield Problem("deliveries", "", rule)


def _pixels(kit: Kit) -> Iterator[Problem]:
    """Pixels are square, so that they have the sensor's ratio."""
    for key, mode in _modes(kit):
        if mode.pixels is None:
            continue
        columns, rows = mode.pixels
        ratio = mode.sensor_width / mode.sensor_height
        if not 1.0 - PIXEL_RATIO <= columns / rows / ratio <= 1.0 + PIXEL_RATIO:
            rule = (
                f"must have the sensor's ratio, {ratio:.3f}, "
                f"not {columns / rows:.3f}: take both from one sensor mode"
            )
            yield Problem(f"{key}.pixels", f"[{columns}, {rows}]", rule)


def _modes(kit: Kit) -> Iterator[tuple[str, Mode]]:
    """Yield every sensor mode with its key, the body's own first."""
    for camera_id, camera in kit.cameras.items():
        own = camera.mode(None)
        if own is not None:
            yield f"cameras.{camera_id}", own
        for name, mode in camera.modes.items():
            yield f"cameras.{camera_id}.modes.{name}", mode


def _plates(kit: Kit) -> Iterator[Problem]:
    for carrier_id, carrier in kit.carriers.items():
        low, high = carrier.plate_range or (0.0, 1.0)
        if low >= high:
            rule = "must run from behind to before, the smaller number first"
            yield Problem(f"carriers.{carrier_id}.plate_range", "", rule)


def _openings(kit: Kit) -> Iterator[Problem]:
    """Light passes inside a thread, and a thread lies inside its barrel."""
    for lens_id, lens in kit.taking_lenses.items():
        thread = _across("front_thread", lens.front_thread)
        rim = [("front_clear_aperture", lens.front_clear_aperture), thread]
        yield from _rising(
            f"taking_lenses.{lens_id}", [*rim, ("barrel_diameter", lens.barrel_diameter)]
        )
    for attachment_id, part in kit.attachments.items():
        key = f"attachments.{attachment_id}"
        front = ("front_clear_aperture", part.front_clear_aperture)
        rear = ("rear_clear_aperture", part.rear_clear_aperture)
        yield from _rising(key, [front, _across("front_thread", part.front_thread)])
        yield from _rising(key, [rear, _across("rear_thread", part.rear_thread)])
        yield from _rising(key, [rear, ("barrel_diameter", part.barrel_diameter)])
    for key, aperture, thread in _rings(kit):
        yield from _rising(key, [("clear_aperture", aperture), thread])


def _magnifications(kit: Kit) -> Iterator[Problem]:
    """A largest magnification goes with focal length and nearest distance, as far as lenses do."""
    for lens_id, lens in kit.taking_lenses.items():
        m, focal = lens.largest_magnification, lens.focal_length
        if m is None:
            continue
        hiatus = lens.nearest - focal * (2.0 + m + 1.0 / m)
        share, least = _HIATUS["extends" if lens.focusing == "extends" else "inside"]
        if abs(hiatus) > max(share * focal, least):
            span = lens.nearest / focal - 2.0
            root = math.sqrt(max(span * span - 4.0, 0.0))
            thin = f", about 1:{(span + root) / 2.0:.2g}" if span > 2.0 else ""
            rule = (
                f"does not go with {format_length(focal)} and a nearest subject at "
                f"{format_length(lens.nearest)}{thin}: give what the maker prints of the bare lens"
            )
            key = f"taking_lenses.{lens_id}.largest_magnification"
            yield Problem(key, f'"1:{1.0 / m:.10g}"', rule)


def _rings(kit: Kit) -> Iterator[tuple[str, float | None, Size]]:
    """Yield each thread of each ring with the ring's clear aperture."""
    for ring_id, ring in kit.step_rings.items():
        key = f"step_rings.{ring_id}"
        yield key, ring.clear_aperture, _across("thread_to_lens", ring.thread_to_lens)
        yield key, ring.clear_aperture, _across("thread_to_front", ring.thread_to_front)
    for section in ("clamps", "filters", "close_up_lenses"):
        for part_id, part in getattr(kit, section).items():
            yield f"{section}.{part_id}", part.clear_aperture, _across("thread", part.thread)


def _depths(kit: Kit) -> Iterator[Problem]:
    """What lies in a barrel lies behind its front."""
    for lens_id, lens in kit.taking_lenses.items():
        key, front = f"taking_lenses.{lens_id}", ("length", lens.length)
        yield from _rising(key, [("helicoid", lens.helicoid), front])
        yield from _rising(key, [("centre_of_gravity", lens.centre_of_gravity), front])
    for attachment_id, part in kit.attachments.items():
        place = ("centre_of_gravity", part.centre_of_gravity)
        yield from _rising(f"attachments.{attachment_id}", [place, ("length", part.length)])


def _across(key: str, thread: Thread | None) -> Size:
    return key, None if thread is None else thread.diameter_mm


def _rising(key: str, sizes: Iterable[Size]) -> Iterator[Problem]:
    """Yield the first size that is not less than one named after it; unknown ones are skipped."""
    known = [(name, value) for name, value in sizes if value is not None]
    for (name, value), (larger, limit) in pairwise(known):
        if value >= limit:
            rule = f"must be less than {larger}, {format_length(limit)}"
            yield Problem(f"{key}.{name}", f'"{format_length(value)}"', rule)


def _used_twice(key: str, rig: Rig) -> Iterator[Problem]:
    """A part stands at one place; a second one of its kind has an id of its own."""
    for part, count in Counter([*rig.chain, *rig.front]).items():
        if count > 1:
            rule = f'names "{part}" {count} times: give the second one an id of its own'
            yield Problem(f"{key}.chain" if part in rig.chain else f"{key}.front", "", rule)


def _pupil(kit: Kit, rig: Rig) -> Iterator[Problem]:
    lens = kit.taking_lenses[rig.taking_lens]
    flange = kit.cameras[rig.camera].flange_focal_distance
    if lens.entrance_pupil is None or lens.length is None or flange is None:
        return
    rim_mm = flange + lens.length
    if lens.entrance_pupil >= rim_mm:
        rule = f"must lie behind the lens's front rim, {format_length(rim_mm)} from the sensor"
        key = f"taking_lenses.{rig.taking_lens}.entrance_pupil"
        yield Problem(key, f'"{format_length(lens.entrance_pupil)}"', rule)


def _support(kit: Kit, rig_id: str, rig: Rig) -> Iterator[Problem]:
    if rig.support is not None and not stands_right(kit, rig):
        position = kit.supports[rig.support].position
        mount, front = _mount_mm(kit, rig), kit.front_vertex_mm(rig)
        behind = "" if front is None else f", and behind {format_length(front)}, its front"
        rule = f'rig "{rig_id}" is to be held ahead of {format_length(mount)}, its mount{behind}'
        yield Problem(f"supports.{rig.support}.position", f'"{format_length(position)}"', rule)


def _mount_mm(kit: Kit, rig: Rig) -> float:
    """Return the lens mount's distance from the sensor, 0 where it is not known."""
    return kit.cameras[rig.camera].flange_focal_distance or 0.0


def stands_right(kit: Kit, rig: Rig) -> bool:
    """Return whether a support, if any, stands between lens mount and foremost glass, if known."""
    if rig.support is None:
        return True
    mount, front = _mount_mm(kit, rig), kit.front_vertex_mm(rig)
    return mount < kit.supports[rig.support].position <= (math.inf if front is None else front)
