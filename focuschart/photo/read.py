"""A photograph read: for each ring in it the millimetre under the index line, or why not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from focuschart.photo.camera import View
from focuschart.photo.edges import linear_light
from focuschart.photo.fit import Fitted, fit, fit_leaning, rough_fit
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
from focuschart.photo.sides import sides_of
from focuschart.photo.strips import Ring, TaggedStrip
from focuschart.photo.tags import Seen, turned

_LEAST_SEEN = 3
"""Fewer tags of a ring may be chance patterns: then the ring is not in the picture."""
_BRIGHT_SHARE = 0.98
"""Part of the light that is no brighter than paper: the rest may be highlights."""
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
    light = _evened(linear_light(picture), seen)
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


def _evened(light: NDArray[np.float32], seen: Seen) -> NDArray[np.float32]:
    """Return light in shares of what the paper about the tags gives back, dim or coloured."""
    if not len(seen.numbers):
        return light
    corners = seen.corners.reshape(-1, 2)
    left, top = np.maximum(corners.min(axis=0), 0).astype(int).tolist()
    right, bottom = np.ceil(corners.max(axis=0)).astype(int).tolist()
    brightest = np.quantile(light[top:bottom, left:right], _BRIGHT_SHARE)
    return np.asarray(light / max(float(brightest), 1e-3), np.float32)


def _read(photo: Photograph, light: NDArray[np.float32], seen: Seen, pair: Pair) -> RingRead:
    """Return one ring as read; raises Unread where it cannot be."""
    strip = pair.strip
    if not photo.whole:
        why = "the picture was cropped: hand over the whole photograph"
        raise Unread("cropped", why, strip=strip.code)
    high, wide = photo.grey.shape
    inward = 1.0 if strip.index_side == "camera" else -1.0
    view = View(wide, high, photo.focal_px, strip.barrel, inward)
    fitted, leaning, pair = _fitted(light, seen, pair, view)
    judge(fitted, leaning, pair, view, seen)
    figure, sigma = fitted.arc_mm / strip.ruler_mm, sigma_mm(fitted, leaning)
    return RingRead(strip, pair.beside.strip, figure, sigma, fitted.view_angle)


def _fitted(
    light: NDArray[np.float32], seen: Seen, pair: Pair, view: View
) -> tuple[Fitted, Fitted, Pair]:
    """Return the fit to all tags that are seen where the strips have them, and these.

    Between them is the fit with an index that may lean.
    """
    code = pair.strip.code
    parameters = rough_fit(seen, pair.ring, pair.beside, view)
    if parameters is None:
        raise Unread("inconsistent", f"the tags lie on no ring of this size: {FLAT}", strip=code)
    blurred = Unread("blur", f"the tags' edges cannot be measured: {AGAIN}", strip=code)
    first = fit(light, sides_of(pair.ring, pair.beside), view, parameters, passes=2)
    if first is None:
        raise blurred
    whole = pair._replace(
        ring=with_more(light, pair.ring, view, first.parameters),
        beside=with_more(light, pair.beside, view, first.parameters),
    )
    if len(whole.ring) < LEAST_RING_TAGS or len(whole.beside) < LEAST_INDEX_TAGS:
        raise Unread("inconsistent", f"the tags lie on no ring of this size: {FLAT}", strip=code)
    sides = sides_of(whole.ring, whole.beside)
    last = fit(light, sides, view, first.parameters)
    leaning = last and fit_leaning(light, sides, view, last)
    if last is None or leaning is None:
        raise blurred
    return last, leaning, whole
