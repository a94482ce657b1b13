"""Coverage: how much of an image point's beam passes the attachment's glass and every rim.

Every clear aperture, projected back into the entrance pupil along the beams of `beam`, is an
upright ellipse or rectangle; light passes where the pupil's disc lies in all of them. Real glass
can clip sooner: limits keep `GLASS_MARGIN` for that.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from focuschart.errors import OpticsError
from focuschart.optics.arrays import Floats, Numbers
from focuschart.optics.beam import ClearAperture, PupilBeam, Train, pupil_beam, transfers
from focuschart.optics.halving import last_where

GLASS_MARGIN = 0.02
"""For limits, an image point is taken to be farther out by this share.

Compared with exact rays (groups in the middle of their glasses, both faces clipping), crops without
it are 0 to 8 % too narrow for a published attachment, and from 15 % too narrow to 4 % too wide for
128 random ones: it depends on how a group's power is divided between its faces, which no kit
states. With it, crops are at most 10 % too narrow for the published one and at most 2 % too wide
for the others; in 2400 more cases (stops, mounts, distances, pupils) 0.3 % were wider. Focal
lengths change by nearly twice this share: they are up to 12 % too long for the published one.
"""

Beam = Literal["full", "half", "chief"]

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(64)
_QUARTER = np.linspace(0.0, np.pi / 2.0, 91)
_HALVINGS, _THIRDS = 24, 12
"""Halving ends within 6e-8 of its bracket, the search for the maximum within 8e-3: that is enough,
since the maximum only has to be a clear place from which halving starts."""
_TINY = 1e-12
_SHARES: dict[Beam, float] = {"full": 1.0, "chief": 0.0}


def clear_fraction(
    train: Train, apertures: Sequence[ClearAperture], *, image_x_mm: Numbers, image_y_mm: Numbers,
    stop: Numbers,
) -> Floats:  # fmt: skip
    """Return the share of each image point's beam, 0 to 1, that passes every aperture.

    It is the clear area of the pupil, from exact chords at 64 Gauss points, within 0.001. No margin
    is kept. Shapes of train, points and stops broadcast. Raises OpticsError
    where no aperture is given.
    """
    return _area(_views(train, apertures, pupil_beam(train, image_x_mm, image_y_mm, stop)), 1.0)


def widest_crop(
    train: Train, apertures: Sequence[ClearAperture], *, image_x_mm: Numbers, image_y_mm: Numbers,
    stop: Numbers, beam: Beam = "full", margin: float = GLASS_MARGIN,
) -> Floats:  # fmt: skip
    """Return the widest clear crop as a factor of the rectangle with its corner at (X, Y).

    `beam` says what must pass at the crop's corner: all of the beam, half of it or its chief ray.
    If the corner passes, all points inside pass: the apertures are convex and centred, and by the
    theorem of Brunn and Minkowski the square root of the clear area is concave in the image point.
    The factor is 0 where not even the centre is clear, infinity without a limit. Shapes
    broadcast. Raises OpticsError where no aperture is given.
    """
    views = _views(train, apertures, pupil_beam(train, image_x_mm, image_y_mm, stop))
    crop = _half_scale(views) if beam == "half" else _scale(views, _SHARES[beam])
    return np.asarray(crop / (1.0 + margin))


def shortest_focal_length_mm(
    train: Train, apertures: Sequence[ClearAperture], *, image_x_mm: Numbers, image_y_mm: Numbers,
    stop: Numbers, beam: Literal["full", "chief"] = "full", margin: float = GLASS_MARGIN,
) -> Floats:  # fmt: skip
    """Return the shortest focal length for which the corner (X, Y) is clear, infinity for none.

    All else is as in `train`, e and the focused subject too; its own f does not matter. A longer
    lens has a less oblique beam at the corner, but a larger pupil f/N, at last larger than the
    glass: see `_shortest_full`. Shapes broadcast. Raises OpticsError where no
    aperture is given.
    """
    near = train.vergence

    def scale(focal_mm: Floats, share: float) -> Floats:
        moved = replace(train, focal_length_mm=focal_mm, image_mm=_image_mm(focal_mm, near))
        views = _views(moved, apertures, pupil_beam(moved, image_x_mm, image_y_mm, stop))
        return np.asarray(_scale(views, share) / (1.0 + margin))

    # For the chief ray the crop is proportional to the image distance: any focal length will do.
    any_mm = 0.25 / np.maximum(near, 0.01)
    image = np.maximum(_image_mm(any_mm, near) / scale(any_mm, 0.0), _TINY)
    shortest = np.asarray(1.0 / (1.0 / image + near))
    if beam == "chief":
        return shortest
    longest = _longest_on_axis_mm(train, apertures, stop)
    return _shortest_full(lambda focal_mm: scale(focal_mm, 1.0), shortest, longest)


# --- apertures seen from the pupil ----------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _View:
    """An aperture as seen from the pupil: where the ray of a pupil point (p, q) crosses it.

    p and q are in pupil radii. The ray is at spread_x·p + off_x half widths horizontally, at
    spread_y·q + off_y half heights vertically.
    """

    round: bool
    spread_x: Floats
    off_x: Floats
    spread_y: Floats
    off_y: Floats


def _views(train: Train, apertures: Sequence[ClearAperture], lens: PupilBeam) -> list[_View]:
    if not apertures:
        raise OpticsError("no clear aperture is given: coverage needs one or more")
    return [_view(train, aperture, lens) for aperture in apertures]


def _view(train: Train, aperture: ClearAperture, lens: PupilBeam) -> _View:
    across, up = transfers(train, lens.vergence, aperture.group, aperture.ahead_mm)
    half_width = np.asarray(aperture.width_mm, float) / 2.0
    half_height = np.asarray(aperture.height_mm, float) / 2.0
    return _View(
        aperture.shape == "round",
        np.asarray(across.stretch * lens.radius_mm / half_width),
        np.asarray(across.reach * lens.slope_x / half_width),
        np.asarray(up.stretch * lens.radius_mm / half_height),
        np.asarray(up.reach * lens.slope_y / half_height),
    )


# --- how much passes ------------------------------------------------------------------------------


def _area(views: Sequence[_View], scale: Numbers) -> Floats:
    """Return the clear share of the pupil for image points moved out by `scale`.

    Horizontal chords of the pupil are cut exactly by each aperture; their lengths are integrated
    over the height, substituted by a sine, which removes the square root at its ends.
    """
    low, high = _clear_heights(views, scale)
    middle, half = (low + high)[..., None] / 2.0, np.maximum(high - low, 0.0)[..., None] / 2.0
    angle = np.pi / 2.0 * _NODES
    height = middle + half * np.sin(angle)
    rim = np.sqrt(np.maximum(1.0 - height * height, 0.0))
    left, right = -rim, rim
    for view in views:
        off_x, off_y = (_column(off * scale) for off in (view.off_x, view.off_y))
        level = _column(view.spread_y) * height + off_y
        chord = np.sqrt(np.maximum(1.0 - level * level, 0.0)) if view.round else np.ones(())
        ends = _ends(_column(view.spread_x), off_x, chord)
        left, right = np.maximum(left, ends[0]), np.minimum(right, ends[1])
    weights = np.cos(angle) * _WEIGHTS * half / 2.0
    return np.asarray(np.minimum(np.sum(np.maximum(right - left, 0.0) * weights, axis=-1), 1.0))


def _clear_heights(views: Sequence[_View], scale: Numbers) -> tuple[Floats, Floats]:
    """Return the lowest and highest pupil height that passes all apertures, high < low if none."""
    low, high = np.asarray(-1.0), np.asarray(1.0)
    for view in views:
        # The widths' shape is broadcast in here, so that later arrays have the full shape.
        ends = _ends(view.spread_y, view.off_y * scale, np.ones(np.shape(view.off_x * scale)))
        low, high = np.maximum(low, ends[0]), np.minimum(high, ends[1])
    return low, high


def _ends(spread: Floats, off: Floats, chord: Floats) -> tuple[Floats, Floats]:
    """Return the pupil coordinates between which −chord ≤ spread·p + off ≤ chord."""
    safe = np.where(np.abs(spread) < _TINY, _TINY, spread)
    ends = (-chord - off) / safe, (chord - off) / safe
    return np.minimum(*ends), np.maximum(*ends)


def _column(values: Floats) -> Floats:
    return np.asarray(values)[..., None]


# --- how far out ----------------------------------------------------------------------------------


def _scale(views: Sequence[_View], share: float) -> Floats:
    """Return the factor on image points at which the beam first touches an aperture.

    The beam is taken with `share` of the pupil's radius. Each of its rim points touches a round
    aperture where |spread + factor·off| = 1, a quadratic solved without cancellation. By symmetry
    only the quarter toward which image points move is needed: 91 points, a degree apart.
    """
    return np.asarray(np.min(np.stack(np.broadcast_arrays(
        *(_round_scale(view, share) if view.round else _box_scale(view, share) for view in views)
    )), axis=0))  # fmt: skip


def _round_scale(view: _View, share: float) -> Floats:
    """Return the factor of `_scale` for a round aperture."""
    x, y = (
        _column(share * np.abs(view.spread_x)) * np.cos(_QUARTER),
        _column(share * np.abs(view.spread_y)) * np.sin(_QUARTER),
    )
    off_x, off_y = _column(np.abs(view.off_x)), _column(np.abs(view.off_y))
    slack, along = 1.0 - x * x - y * y, x * off_x + y * off_y
    divisor = along + np.sqrt(along * along + (off_x**2 + off_y**2) * np.maximum(slack, 0.0))
    factors = _quotient(np.maximum(slack, 0.0), np.where(slack < 0.0, 1.0, divisor))
    return np.asarray(np.min(factors, axis=-1))


def _box_scale(view: _View, share: float) -> Floats:
    """Return the factor of `_scale` for a rectangle, which the beam touches with its semi-axes."""
    across = _quotient(np.maximum(1.0 - share * np.abs(view.spread_x), 0.0), np.abs(view.off_x))
    up = _quotient(np.maximum(1.0 - share * np.abs(view.spread_y), 0.0), np.abs(view.off_y))
    # A beam wider than the aperture is cut even on the axis.
    fits = np.maximum(np.abs(view.spread_x), np.abs(view.spread_y)) * share <= 1.0
    return np.where(fits, np.minimum(across, up), 0.0)


def _quotient(dividend: Floats, divisor: Floats) -> Floats:
    """Return the quotient, infinity for a divisor of zero."""
    safe = np.where(divisor > 0.0, divisor, 1.0)
    return np.asarray(np.where(divisor > 0.0, dividend / safe, np.inf))


def _half_scale(views: Sequence[_View]) -> Floats:
    """Return the factor at which half of the beam passes, by halving: the share never rises."""
    outer = np.asarray(np.min(np.stack(np.broadcast_arrays(*map(_dark_scale, views))), axis=0))

    def clear(scale: Floats) -> NDArray[np.bool_]:
        return np.asarray(_area(views, scale) >= 0.5)

    unlimited = np.isinf(outer)
    last = last_where(clear, 0.0, np.where(unlimited, 1.0, outer), halvings=_HALVINGS)
    return np.where(unlimited & (last > 0.0), np.inf, last)


def _dark_scale(view: _View) -> Floats:
    """Return a factor at which nothing passes this aperture."""
    across = _quotient(1.0 + np.abs(view.spread_x), np.abs(view.off_x))
    return np.minimum(across, _quotient(1.0 + np.abs(view.spread_y), np.abs(view.off_y)))


# --- which focal lengths --------------------------------------------------------------------------


def _image_mm(focal_mm: Floats, near: Floats) -> Floats:
    return np.asarray(focal_mm / (1.0 - focal_mm * near))


def _longest_on_axis_mm(train: Train, apertures: Sequence[ClearAperture], stop: Numbers) -> Floats:
    """Return the focal length whose pupil fills the tightest aperture on the axis.

    At most half the subject's distance, where the image is as large as the subject.
    """
    near = train.vergence
    longest = _quotient(np.full(near.shape, 0.5), near)
    for aperture in apertures:
        for transfer, full in zip(
            transfers(train, near, aperture.group, aperture.ahead_mm),
            (aperture.width_mm, aperture.height_mm), strict=True,
        ):  # fmt: skip
            fills = np.asarray(stop * np.asarray(full, float))
            longest = np.minimum(longest, _quotient(fills, np.abs(transfer.stretch)))
    return longest


def _shortest_full(
    scale: Callable[[Floats], Floats], shortest_mm: Floats, longest_mm: Floats
) -> Floats:
    """Return the shortest focal length between two at which the clear factor is at least 1.

    The factor is v times a concave function of f, so its logarithm is concave in f as long as the
    subject is farther than 2f. It has one maximum, found by thirds, and below that one crossing,
    found by halving.
    """
    low, high = np.broadcast_arrays(shortest_mm, longest_mm)
    low, high = low.copy(), high.copy()
    for _ in range(_THIRDS):
        third = (high - low) / 3.0
        rises = scale(low + third) < scale(high - third)
        low, high = np.where(rises, low + third, low), np.where(rises, high, high - third)
    maximum = (low + high) / 2.0

    def clear(focal_mm: Floats) -> NDArray[np.bool_]:
        return np.asarray(scale(focal_mm) >= 1.0)

    crossing = last_where(clear, maximum, shortest_mm, halvings=_HALVINGS)
    return np.where(clear(maximum) & (shortest_mm <= longest_mm), crossing, np.inf)
