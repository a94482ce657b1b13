"""Looks: the same marks for daylight, for night, for pure grey, for stock that glows.

Colours are of two sides: ink, and what lies under ink. A look sends each side to a range of its
own, so far from the other's that any ink on any ground keeps the look's contrast; `night` and
`glow` also exchange the sides, inside each cut outline only. No mark moves.
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
"""Left bare along a fold: the line shows, and no ink is there to crack. Judgement, no source."""

_REVERSED_STROKE_MM = 0.2
"""Finer strokes left bare in a dark ground close up as its ink spreads; common practice."""

_INK_CONTRAST = 3.0
"""Against paper; the least for graphics (W3C, WCAG 2.1, 1.4.11). What is fainter is a ground."""

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
"""By name. `glow` prints plain black only, all but the marks, on stock that glows or reflects."""


def look_named(name: str) -> Look | None:
    """Return a look, None for the plain one; raises PageError for an unknown name."""
    if name not in LOOKS:
        raise PageError(f"unknown look {shown(name)}: choose {', '.join(LOOKS)}")
    return LOOKS[name]


def with_look(page: Page, name: str, *, bleed_mm: float = BLEED_MM) -> Page:
    """Return the page in a look; raises PageError for an unknown one.

    Only print changes; dark grounds run `bleed_mm` over their cuts. In a look that swaps, what
    stands outside every cut outline, or the ground behind it on a back, stays as it is, and so does
    a page without either: a sheet of black costs more ink than it serves.
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

    The middle of what is bent, or runs on over the cut, may lie outside.
    """
    places = [_places(shape) for shape in shapes]
    owner = np.repeat(np.arange(len(shapes)), [len(one) for one in places])
    points = np.array(list(chain.from_iterable(places))).reshape(-1, 2)
    found = np.zeros(len(shapes), dtype=np.bool_)
    for outline in outlines:
        found[owner[_held(points, np.array(outline.points))]] = True
    return found


def _places(shape: Shape) -> Sequence[Point]:
    corners = () if isinstance(shape, Text) else shape.points
    return (*corners, _middle(shape))


def _held(middles: NDArray[np.float64], corners: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Return which points, shape (n, 2), a polygon holds by the even-odd rule, edge included.

    A mark may stand on the edge itself: that of a strip cut at a tick.
    """
    x, y = middles.T[:, :, None]
    (x0, y0), (wide, high) = corners.T, (np.roll(corners, -1, axis=0) - corners).T
    # A level edge spans no height, so what is divided by there is of no account.
    share = (y - y0) / np.where(high == 0.0, 1.0, high)
    spans = (y0 > y) != (y0 + high > y)
    within = (spans & (x < x0 + share * wide)).sum(axis=1) % 2 == 1
    length = np.maximum(wide**2 + high**2, 1e-12)
    along = np.clip(((x - x0) * wide + (y - y0) * high) / length, 0.0, 1.0)
    off = np.hypot(x - x0 - along * wide, y - y0 - along * high).min(axis=1)
    held: NDArray[np.bool_] = within | (off <= _ON_EDGE_MM)
    return held


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
    """Return what a look makes of a colour: within its side's range, its hue as far as it goes."""
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
