"""Photographs with what should not be: one hostile thing each, drawn at random, or several."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np

from tests.photographs.draw import SIZE, Spoiled, ordinary, ring_and_index
from tests.photographs.scene import Bump, Lift, Piece, Scene, Wrapped

Prints = Mapping[str, tuple[Piece, ...]]


class Shot(NamedTuple):
    """A photograph as it is being drawn: its scene, its spoiling, the ring's bare diameter."""

    scene: Scene
    how: Spoiled
    bare_mm: float

    def with_light(self, **changes: Any) -> Shot:
        """Return it in another light."""
        light = replace(self.scene.light, **changes)
        return self._replace(scene=replace(self.scene, light=light))

    def with_phone(self, **changes: Any) -> Shot:
        """Return it with the phone held otherwise."""
        phone = replace(self.scene.phone, **changes)
        return self._replace(scene=replace(self.scene, phone=phone))

    def with_strips(self, ring: Wrapped, index: Wrapped) -> Shot:
        """Return it with other strips."""
        return self._replace(scene=replace(self.scene, strips=(ring, index)))

    def spoiled(self, **changes: Any) -> Shot:
        """Return it spoiled otherwise."""
        return self._replace(how=replace(self.how, **changes))


Rng = np.random.Generator


def _blur(shot: Shot, rng: Rng) -> Shot:
    return shot.spoiled(blur_px=rng.uniform(2.0, 7.0))


def _smear(shot: Shot, rng: Rng) -> Shot:
    return shot.spoiled(smear_px=rng.uniform(4.0, 18.0))


def _noise(shot: Shot, rng: Rng) -> Shot:
    return shot.spoiled(noise=rng.uniform(0.05, 0.2), gain=rng.uniform(0.2, 0.5))


def _jpeg(shot: Shot, rng: Rng) -> Shot:
    return shot.spoiled(quality=int(rng.integers(12, 41)), blur_px=rng.uniform(0.5, 2.2))


def _shade(shot: Shot, rng: Rng) -> Shot:
    return shot.spoiled(shade=rng.uniform(0.6, 0.95), shade_turn=rng.uniform(0.0, 2.0 * math.pi))


def _flash(shot: Shot, rng: Rng) -> Shot:
    place = shot.scene.phone.axes()[0] + rng.normal(0.0, 15.0, 3)
    key_at = (float(place[0]), float(place[1]), float(place[2]))
    return shot.with_light(key_at=key_at, shine=rng.uniform(0.6, 3.0), key=rng.uniform(0.7, 1.4))


def _window(shot: Shot, rng: Rng) -> Shot:
    window = (rng.uniform(-250.0, 250.0), rng.uniform(300.0, 500.0), rng.uniform(-250.0, 150.0))
    return shot.with_light(mirror=rng.uniform(0.05, 0.25), window=window)


def _finger(shot: Shot, rng: Rng) -> Shot:
    high = shot.bare_mm / 2.0 + 5.0
    finger = (rng.uniform(-18.0, 18.0), high, rng.uniform(-6.0, 12.0))
    return shot._replace(scene=replace(shot.scene, finger=finger))


def _curled(shot: Shot, rng: Rng) -> Shot:
    """Lift one end of the index, or both."""
    ring, index = shot.scene.strips
    toward = rng.choice([-1.0, 1.0])
    loose = [Lift(rng.uniform(0.0, 14.0), toward, rng.uniform(0.2, 1.0))]
    if rng.random() < 0.3:
        loose.append(Lift(rng.uniform(0.0, 14.0), -toward, rng.uniform(0.2, 1.0)))
    return shot.with_strips(ring, replace(index, loose=tuple(loose)))


def _flared(shot: Shot, rng: Rng) -> Shot:
    ring, index = shot.scene.strips
    flared = replace(index, flare_mm=rng.uniform(0.1, 1.5))
    return shot.with_strips(ring, flared)


def _bubble(shot: Shot, rng: Rng) -> Shot:
    ring, index = shot.scene.strips
    bump = Bump(rng.uniform(-20.0, 20.0), rng.uniform(3.0, 15.0), rng.uniform(0.3, 2.0))
    return shot.with_strips(replace(ring, loose=(bump,)), index)


def _lifted(shot: Shot, rng: Rng) -> Shot:
    ring, index = shot.scene.strips
    lift = Lift(rng.uniform(0.0, 25.0), rng.choice([-1.0, 1.0]), rng.uniform(0.1, 1.0))
    return shot.with_strips(replace(ring, loose=(lift,)), index)


def _askew(shot: Shot, rng: Rng) -> Shot:
    ring, index = shot.scene.strips
    askew = replace(ring, turn=math.radians(rng.normal(0.0, 2.0)))
    return shot.with_strips(askew, replace(index, turn=math.radians(rng.normal(0.0, 4.0))))


def _joint(shot: Shot, rng: Rng) -> Shot:
    """Join the strip near the line, not truly."""
    ring, index = shot.scene.strips
    at, pieces = ring.zero_mm + rng.uniform(-25.0, 25.0), []
    on, up = rng.choice([-1.0, 1.0]) * rng.uniform(0.05, 0.6), rng.normal(0.0, 0.3)
    for piece in ring.pieces:
        share = (at - piece.from_mm) / piece.width_mm
        if not 0.0 < share < 1.0:
            pieces.append(piece if share >= 1.0 else replace(piece, on_mm=on, up_mm=up))
            continue
        pieces += [replace(piece, shown=(0.0, share)),
                   replace(piece, shown=(share, 1.0), on_mm=on, up_mm=up)]  # fmt: skip
    moved = on if at < ring.zero_mm else 0.0
    # The line is at the millimetre that it was drawn for: the part under it moves back.
    return shot.with_strips(
        replace(ring, pieces=tuple(pieces), zero_mm=ring.zero_mm + moved), index
    )


def _aside(shot: Shot, rng: Rng) -> Shot:
    around, along = rng.uniform(25.0, 60.0, 2) * rng.choice([-1.0, 1.0], 2)
    if rng.random() < 0.5:
        around *= 0.1
    else:
        along *= 0.3
    return shot.with_phone(around=math.radians(around), along=math.radians(along))


def _distorted(shot: Shot, rng: Rng) -> Shot:
    return shot.spoiled(distortion=rng.choice([-1.0, 1.0]) * rng.uniform(0.03, 0.12))


def _eccentric(shot: Shot, rng: Rng) -> Shot:
    ring, index = shot.scene.strips
    off = rng.normal(0.0, 1.0, 2)
    return shot.with_strips(ring, replace(index, lens_mm=(float(off[0]), float(off[1]))))


def _off_middle(shot: Shot, rng: Rng) -> Shot:
    """Crop to another shape, or to the same shape elsewhere."""
    wide = rng.uniform(0.7, 0.95)
    high = wide if rng.random() < 0.5 else rng.uniform(0.7, 0.95)
    left, top = rng.choice([0.0, 0.5, 1.0], 2) * (1.0 - wide, 1.0 - high)
    return shot.spoiled(kept=(left, left + wide, top, top + high))


def _far(shot: Shot, rng: Rng) -> Shot:
    return shot.with_phone(distance_mm=rng.uniform(300.0, 700.0))


def _tiny(shot: Shot, rng: Rng) -> Shot:
    return shot.spoiled(size=rng.uniform(0.25, 0.6), blur_px=rng.uniform(0.7, 2.5))


def _nothing(shot: Shot, rng: Rng) -> Shot:  # noqa: ARG001
    return shot


THINGS: dict[str, Callable[[Shot, Rng], Shot]] = {
    "blur": _blur, "smear": _smear, "noise": _noise, "jpeg": _jpeg, "shade": _shade,
    "flash": _flash, "window": _window, "finger": _finger, "curled": _curled, "flared": _flared,
    "bubble": _bubble, "lifted": _lifted, "askew": _askew, "joint": _joint, "aside": _aside,
    "distorted": _distorted, "eccentric": _eccentric, "crop": _off_middle, "far": _far,
    "tiny": _tiny, "small-print": _nothing, "other-strip": _nothing, "all": _nothing,
}  # fmt: skip


def hostile(
    prints: Prints, keys: tuple[str, str], bare_mm: float, rng: Rng, *, thing: str
) -> tuple[Scene, Spoiled, dict[str, Any]]:
    """Draw a photograph with one thing that should not be: `small-print` has to be printed so."""
    if thing == "all":
        return _mixed(prints, keys, bare_mm, rng)
    scene, how, truth = ordinary(prints, keys, bare_mm, rng)
    shot = THINGS[thing](Shot(scene, how, bare_mm), rng)
    scene, arc = shot.scene, truth["arc_mm"] + _under_line(*shot.scene.strips)
    if thing == "other-strip":
        scene = replace(scene, strips=(*scene.strips, _lying_about(prints, keys[0], bare_mm, rng)))
    return scene, shot.how, {**truth, "arc_mm": arc, "thing": thing}


def _under_line(ring: Wrapped, index: Wrapped) -> float:
    """Return how far the line is round the ring where the index is on an axis of its own, mm."""
    x, y = index.lens_mm
    return math.atan2(x, index.radius_mm + y) * ring.once_mm / (2.0 * math.pi)


def _lying_about(prints: Prints, key: str, bare_mm: float, rng: Rng) -> Wrapped:
    """Return another ring's strip beside this one: of the same kind, the other, or a twin."""
    rulers = [each for each in prints if each.endswith("/ruler")]
    other = prints[str(rng.choice(rulers))] if rng.random() < 0.75 else prints[key]
    radius = rng.uniform(30.0, 50.0)
    beside = rng.choice([-1.0, 1.0]) * (bare_mm / 2.0 + radius + rng.uniform(0.0, 4.0))
    foot = rng.uniform(-10.0, 25.0)
    if rng.random() < 0.5:
        # In front, on the same axis.
        radius, beside, foot = bare_mm / 2.0 - rng.uniform(0.0, 6.0), 0.0, rng.uniform(16.0, 24.0)
    once = 2.0 * math.pi * (radius - 0.1)
    return Wrapped(other, once, radius, rng.uniform(40.0, 0.7 * once), foot, lens_mm=(beside, 0.0))


def _mixed(
    prints: Prints, keys: tuple[str, str], bare_mm: float, rng: Rng
) -> tuple[Scene, Spoiled, dict[str, Any]]:
    """Draw a photograph with several things that should not be."""
    once = math.pi * (bare_mm + 0.2)
    arc = rng.uniform(-4.0, once - 12.0)
    drawn: dict[str, Any] = {
        "arc_mm": arc, "step_mm": rng.uniform(-3.5, 3.5), "gap_mm": rng.uniform(0.0, 3.0),
        "skew": math.radians(rng.normal(0.0, 0.6)), "tilt": math.radians(rng.normal(0.0, 1.2)),
    }  # fmt: skip
    scene, _, truth = ordinary(prints, keys, bare_mm, rng)
    off = rng.normal(0.0, 0.5, 2) * rng.integers(2)
    ring, index = ring_and_index(
        prints[keys[0]], prints[keys[1]], bare_mm=bare_mm,
        eccentric_mm=(float(off[0]), float(off[1])), **drawn,
    )  # fmt: skip
    radius, focal = bare_mm / 2.0, SIZE[0] * rng.uniform(0.6, 1.3)
    phone = replace(
        scene.phone, focal_px=focal, distance_mm=rng.uniform(120.0, 320.0) * focal / 2560.0,
        around=math.radians(rng.normal(0.0, 16.0)), along=math.radians(rng.normal(0.0, 14.0)),
        roll=math.radians(rng.uniform(-180.0, 180.0)),
        at=(rng.normal(0.0, 12.0), radius, rng.normal(0.0, 15.0)),
    )  # fmt: skip
    light = replace(scene.light, key=rng.uniform(0.2, 1.4), shine=rng.choice([0.0, 0.6, 1.2]))
    how = Spoiled(
        blur_px=rng.uniform(0.7, 2.8), smear_px=max(rng.uniform(-4.0, 6.0), 0.0),
        smear_turn=rng.uniform(0.0, math.pi), noise=rng.uniform(0.005, 0.06),
        gain=rng.uniform(0.5, 1.6), quality=int(rng.integers(25, 91)),
        distortion=rng.normal(0.0, 0.03),
    )  # fmt: skip
    barrels = ((radius, 0.0, 60.0), (radius + min(drawn["step_mm"], 0.0), -70.0, -0.1))
    shot = Shot(Scene((ring, index), barrels, phone, light), how, bare_mm)
    if rng.random() < 0.4:
        shot = _finger(shot, rng)
    drawn["arc_mm"] += _under_line(ring, index)
    truth = {**truth, **drawn, "focal_px": focal, "thing": "all"}
    return shot.scene, shot.how, truth
