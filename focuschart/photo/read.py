"""A photograph read: for each ring in it the millimetre under the index line, or why not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from focuschart.photo.camera import View
from focuschart.photo.edges import linear_light
from focuschart.photo.fit import Fitted, fit, rough_fit, sides_of
from focuschart.photo.judge import judge, sigma_mm
from focuschart.photo.more import with_more
from focuschart.photo.pairs import (
    LEAST_INDEX_TAGS,
    LEAST_RING_TAGS,
    Pair,
    pair_of,
)
from focuschart.photo.picture import Photograph
from focuschart.photo.recognise import in_pool
from focuschart.photo.refusal import AGAIN, FLAT, Refused, Unread
from focuschart.photo.strips import Ring, TaggedStrip
from focuschart.photo.tags import Seen, turned

_LEAST_SEEN = 2
"""A single tag of a ring may be a chance pattern: then the ring is not in the picture."""
RINGS: tuple[Ring, ...] = ("taking", "attachment")


@dataclass(frozen=True, slots=True)
class RingRead:
    """A ring as read: its strips, the figure in ruler millimetres, one standard deviation of it.

    `angle` is between the view and the normal of the strip at the line, radians.
    """

    strip: TaggedStrip
    index: TaggedStrip
    arc_mm: float
    sigma_mm: float
    angle: float

    @property
    def arc_95_mm(self) -> float:
        """Half the 95 % interval."""
        return 1.96 * self.sigma_mm


class Outcome(NamedTuple):
    """All that is read in a photograph, all that is refused, and the tags in it."""

    rings: tuple[RingRead, ...]
    refused: tuple[Refused, ...]
    seen: Seen


def rings_in(photo: Photograph, strips: Sequence[TaggedStrip]) -> Outcome:
    """Return the rings read in a photograph; `strips` are all that are known."""
    picture, seen, is_light = turned(photo.grey)
    light = linear_light(picture)
    if is_light:
        light = 1.0 - light
    found: list[RingRead] = []
    refused: list[Refused] = []
    for ring in RINGS:
        if len(in_pool(seen, ring)) + len(in_pool(seen, f"{ring}/index")) >= _LEAST_SEEN:
            own = [strip for strip in strips if strip.ring == ring]
            try:
                found.append(_read(photo, light, seen, pair_of(seen, ring, own)))
            except Unread as unread:
                refused.append(unread.refused)
    if not found and not refused:
        refused.append(Refused("", "few-tags", f"no tag of a strip can be read: {AGAIN}"))
    return Outcome(tuple(found), tuple(refused), seen)


def _read(photo: Photograph, light: NDArray[np.float32], seen: Seen, pair: Pair) -> RingRead:
    """Return one ring as read; raises Unread where it cannot be."""
    strip = pair.strip
    if not photo.whole:
        why = "the picture was cropped: hand over the whole photograph"
        raise Unread("cropped", why, strip=strip.code)
    high, wide = photo.grey.shape
    inward = 1.0 if strip.index_side == "camera" else -1.0
    view = View(wide, high, photo.focal_px, strip.barrel, inward)
    fitted, pair = _fitted(light, seen, pair, view)
    judge(fitted, pair, view, seen)
    figure = fitted.arc_mm / strip.ruler_mm
    return RingRead(strip, pair.beside.strip, figure, sigma_mm(fitted), fitted.view_angle)


def _fitted(light: NDArray[np.float32], seen: Seen, pair: Pair, view: View) -> tuple[Fitted, Pair]:
    """Return the fit to all tags that are seen where the strips have them, and these."""
    code = pair.strip.code
    parameters = rough_fit(seen, *pair, view)
    if parameters is None:
        raise Unread("inconsistent", f"the tags lie on no ring of this size: {FLAT}", strip=code)
    blurred = Unread("blur", f"the tags' edges cannot be measured: {AGAIN}", strip=code)
    first = fit(light, sides_of(*pair), view, parameters, passes=2)
    if first is None:
        raise blurred
    whole = Pair(*(with_more(light, match, view, first.parameters) for match in pair))
    if len(whole.ring) < LEAST_RING_TAGS or len(whole.beside) < LEAST_INDEX_TAGS:
        raise Unread("inconsistent", f"the tags lie on no ring of this size: {FLAT}", strip=code)
    last = fit(light, sides_of(*whole), view, first.parameters)
    if last is None:
        raise blurred
    return last, whole
