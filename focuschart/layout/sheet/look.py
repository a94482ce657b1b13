"""Looks: the same marks for daylight, for night, for pure grey, for stock that glows.

Each colour is either ink or a ground under ink. A look maps inks to one range of lightness and
grounds to another, far enough apart that any ink is readable on any ground. `night` and `glow`
also exchange light and dark, inside each cut outline only. No mark moves.
"""

from __future__ import annotations

import colorsys
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import chain

import numpy as np
from numpy.typing import NDArray

from focuschart.errors import PageError, shown
from focuschart.layout.page import BLACK, PAPER, Page, Path, Point, Shape, Text, rgb

BLEED_MM = 1.0
"""How far a dark ground runs over its cut, up to where the crop marks begin; judgement."""

_CHANNEL_MM = 0.6
"""Left unprinted along a fold: the line shows and no ink cracks. Judgement, no source."""

_REVERSED_STROKE_MM = 0.2
"""In a dark ground, finer white strokes fill in as the ink spreads; common practice."""

_INK_CONTRAST = 3.0
"""Against paper; least for graphics (W3C, WCAG 2.1, 1.4.11). A fainter colour is a ground."""

_ON_EDGE_MM = 0.05

_STEPS = 64


@dataclass(frozen=True, slots=True)
class Look:
    """Light colours are no darker than `light_from`, dark ones no lighter than `dark_to`.

    `swap` exchanges ink and ground; without `hues` all is grey.
    """

    light_from: str
    dark_to: str
    swap: bool
    hues: bool


LOOKS: dict[str, Look | None] = {
    "plain": None,
    "night": Look(light_from="#b8b8b8", dark_to="#262626", swap=True, hues=True),
    "grey": Look(light_from="#dcdcdc", dark_to="#606060", swap=False, hues=False),
    "glow": Look(light_from=PAPER, dark_to=BLACK, swap=True, hues=False),
}
"""By name. `glow` prints all but the marks in plain black, on stock that glows or reflects."""


def look_named(name: str) -> Look | None:
    """Return a look, None for the plain one; raises PageError for an unknown name."""
    if name not in LOOKS:
        raise PageError(f"unknown look {shown(name)}: choose {', '.join(LOOKS)}")
    return LOOKS[name]


def with_look(page: Page, name: str, *, bleed_mm: float = BLEED_MM) -> Page:
    """Return the page in a look; raises PageError for an unknown one.

    Only printed shapes change; dark grounds extend `bleed_mm` beyond the cut. A look that swaps
    changes only what lies inside a cut outline, or on a back inside a `ground` path, since a whole
    black sheet would waste ink.
    """
    look = look_named(name)
    if look is None:
        return page
    if not look.swap:
        return replace(page, shapes=tuple(_recoloured(shape, look) for shape in page.shapes))
    outlines = [
        s for s in page.shapes
        if isinstance(s, Path) and (s.group == "cut" or s.ground)
    ]  # fmt: skip
    inside = _inside(page.shapes, outlines)
    shapes = [
        _recoloured(shape, look) if within else shape
        for shape, within in zip(page.shapes, inside.tolist(), strict=True)
    ]
    grounds = [_ground(outline, bleed_mm) for outline in outlines]
    folds = [s for s, within in zip(page.shapes, inside, strict=True) if within]
    return replace(page, shapes=(*grounds, *_channels(folds), *shapes))


def _ground(outline: Path, bleed_mm: float) -> Path:
    """Return a filled outline; half of its stroke is the bleed."""
    stroke = 2.0 * bleed_mm or None
    return Path(outline.points, closed=True, stroke_mm=stroke, fill=BLACK)


def _channels(shapes: Sequence[Shape]) -> Iterator[Path]:
    for shape in shapes:
        if isinstance(shape, Path) and shape.group == "fold":
            yield Path(shape.points, shape.closed, stroke_mm=_CHANNEL_MM, colour=PAPER)


def _inside(shapes: Sequence[Shape], outlines: Sequence[Path]) -> NDArray[np.bool_]:
    """Return for each shape whether its middle or a corner lies within an outline, or on it.

    Corners are tried too, since the middle of a bent or bled shape may lie outside.
    """
    places = [_places(shape) for shape in shapes]
    owner = np.repeat(np.arange(len(shapes)), [len(points) for points in places])
    points = np.array(list(chain.from_iterable(places))).reshape(-1, 2)
    inside = np.zeros(len(shapes), dtype=np.bool_)
    for outline in outlines:
        inside[owner[_inside_polygon(points, np.array(outline.points))]] = True
    return inside


def _places(shape: Shape) -> Sequence[Point]:
    corners = () if isinstance(shape, Text) else shape.points
    return (*corners, _middle(shape))


def _inside_polygon(
    middles: NDArray[np.float64], corners: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Return which points, shape (n, 2), lie inside a polygon (even-odd rule) or on its edge.

    A mark may lie on the edge itself, as where a strip is cut at a tick.
    """
    x, y = middles.T[:, :, None]
    (x0, y0), (wide, high) = corners.T, (np.roll(corners, -1, axis=0) - corners).T
    # A horizontal edge never crosses the level of a point, so its quotient is not used.
    share = (y - y0) / np.where(high == 0.0, 1.0, high)
    spans = (y0 > y) != (y0 + high > y)
    within = (spans & (x < x0 + share * wide)).sum(axis=1) % 2 == 1
    length = np.maximum(wide**2 + high**2, 1e-12)
    along = np.clip(((x - x0) * wide + (y - y0) * high) / length, 0.0, 1.0)
    off = np.hypot(x - x0 - along * wide, y - y0 - along * high).min(axis=1)
    inside: NDArray[np.bool_] = within | (off <= _ON_EDGE_MM)
    return inside


def _middle(shape: Shape) -> Point:
    """Return the middle of a path's extent; of a text, half a capital above its anchor."""
    if isinstance(shape, Text):
        rise = shape.cap_mm / 2.0
        return (
            shape.x - rise * math.sin(shape.rotation),
            shape.y + rise * math.cos(shape.rotation),
        )
    xs, ys = zip(*shape.points, strict=True)
    return (min(xs) + max(xs)) / 2.0, (min(ys) + max(ys)) / 2.0


def _recoloured(shape: Shape, look: Look) -> Shape:
    if isinstance(shape, Text):
        return replace(shape, colour=seen_as(shape.colour, look))
    if shape.group != "print":
        return shape
    stroke = shape.stroke_mm
    if stroke is not None and look.swap:
        stroke = max(stroke, _REVERSED_STROKE_MM)
    fill = None if shape.fill is None else seen_as(shape.fill, look)
    return replace(shape, colour=seen_as(shape.colour, look), fill=fill, stroke_mm=stroke)


@lru_cache(maxsize=256)
def seen_as(colour: str, look: Look) -> str:
    """Return a colour mapped into the lightness range of its side, its hue kept if possible."""
    light = contrast(colour, PAPER) < _INK_CONTRAST
    if look.swap:
        light, colour = not light, _turned(colour)
    if not look.hues:
        colour = _grey(luminance(colour))
    end, bound = (PAPER, look.light_from) if light else (BLACK, look.dark_to)
    limit = luminance(bound)
    for step in range(_STEPS + 1):
        mixed = _mixed(colour, end, step / _STEPS)
        if (luminance(mixed) >= limit) if light else (luminance(mixed) <= limit):
            return mixed
    return end


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio of two colours, 1 to 21 (W3C, WCAG 2.2, "contrast ratio")."""
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def luminance(colour: str) -> float:
    """Return relative luminance, 0 to 1 (W3C, WCAG 2.2, "relative luminance")."""
    red, green, blue = (_linear(part) for part in rgb(colour))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _linear(part: float) -> float:
    """Return light from an sRGB value (IEC 61966-2-1)."""
    return float(part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4)


def _grey(light: float) -> str:
    """Return the grey of a relative luminance."""
    part = 12.92 * light if light <= 0.0031308 else 1.055 * light ** (1 / 2.4) - 0.055
    return _colour((part, part, part))


def _turned(colour: str) -> str:
    """Return a colour with its lightness upside down and its hue kept."""
    hue, lightness, saturation = colorsys.rgb_to_hls(*rgb(colour))
    return _colour(colorsys.hls_to_rgb(hue, 1.0 - lightness, saturation))


def _mixed(colour: str, end: str, share: float) -> str:
    pairs = zip(rgb(colour), rgb(end), strict=True)
    return _colour([(1.0 - share) * part + share * other for part, other in pairs])


def _colour(parts: Sequence[float]) -> str:
    return "#" + "".join(f"{round(255 * part):02x}" for part in parts)
