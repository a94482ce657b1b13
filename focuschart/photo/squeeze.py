"""The squeeze of a rig from one frame of its camera: the squeeze card seen through the rig.

An anamorphic rig sees with two perspective centres, one for each meridian. With the card's middle
at (x₀, y₀) from the axis in the plane it stands in, and a point of the card at (x, y, δ) from its
middle, δ away from the camera, the frame shows it at

    u = M/S · (x₀ + x)/(1 + δ/z_h),    v = M · (y₀ + y)/(1 + δ/z_v),

S being the squeeze in the card's plane, z_h and z_v how far the centres are from it. A card aslant
has δ ≠ 0: how the scale changes across it tells its slope, which would else be taken for squeeze.
Distortion is another in each meridian and has its axis a little beside the frame's middle, and the
attachment may be turned a little against the sensor: a fifth of a degree unheeded, with the card 3°
aslant, puts S off by 0.8 %.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from focuschart.layout.tag.dictionary import SIDE_MODULES
from focuschart.layout.tag.squeeze_card import IDS, SIDE_MM, tag_middles
from focuschart.photo.camera import rotation
from focuschart.photo.edges import POINTS, linear_light, measured, outward_normals
from focuschart.photo.picture import Photograph
from focuschart.photo.refusal import Refused, Unread
from focuschart.photo.robust import without_outliers
from focuschart.photo.sides import OUTWARD, UNIT_SIDES, white_inside
from focuschart.photo.strips import Floats
from focuschart.photo.tags import Seen, tags_in

NAMES = (
    "turn", "slope_x", "slope_y", "x", "y", "log_scale", "log_squeeze", "log_far_v", "log_far_h",
    "u_by_u", "u_by_v", "v_by_u", "v_by_v", "ink_x", "ink_y", "level",
    "axis_u", "axis_v",
)  # fmt: skip
AT = {name: number for number, name in enumerate(NAMES)}
LEAST_TAGS = 19
"""Of 24: where one in four is missing, the frame is refused."""
LEAST_MODULE_PX = 3.5
MOST_BLUR_MODULES = 0.5
MOST_SLOPE = np.radians(12.0)
MOST_RESIDUAL_MM = 0.08
"""Of the tags' sides, on the card: beyond it the card is not flat. Drawn frames of flat ones have
0.01 to 0.03."""
MOST_STRAIN = 24.0
"""Of the priors, the sum of their squares: beyond it a bent card is taken for distortion or slope.
Drawn frames of flat cards have 18 at the most, of cards whose ends are bent by 8 mm up to 107.
Some bent so little pass, most within the ± stated, one in twenty off by half a percent."""
MOST_SIGMA = 0.0025
"""Of the squeeze, as a share, without what the bars add: some ten times what a good frame has."""
FLOOR = 0.0005
"""What the model of rig and card is thought to leave out of S, as a share; judgement."""
_PRIORS = {
    "slope_x": 0.06, "slope_y": 0.06, "log_far_v": 0.05, "log_far_h": 0.05, "u_by_u": 0.15,
    "u_by_v": 0.05, "v_by_u": 0.05, "v_by_v": 0.05, "ink_x": 0.1, "ink_y": 0.1, "level": 0.02,
    "axis_u": 0.02, "axis_v": 0.02,
}  # fmt: skip
"""One standard deviation each: slopes in radians, distortion at the corner, ink in mm.

Along the squeeze traced rigs have up to 0.2 of distortion at the corner of a 36 mm wide sensor.
"""
CENTRES_APART_MM = 50.0
"""How much nearer to the card the horizontal centre is: 25 to 83 mm in 32 traced rigs of 85 mm."""
_PASSES = 3
_EDGE_PX = 0.05
"""How well an edge's place is measured, at the best; each pass tells the next how well it is."""
_CORNER_PX = 1.0
"""How well OpenCV finds a corner."""
_STEP_MM = 0.2
_MOST_LEFT_OUT = 0.1
_SCALES = np.array([
    0.01, 0.01, 0.01, 1.0, 1.0, 0.003, 0.003, 0.05, 0.1, 0.01, 0.01, 0.01, 0.01, 0.05, 0.05, 0.003,
    0.01, 0.01,
])  # fmt: skip
_CORNERS = np.array([(-0.5, 0.5), (0.5, 0.5), (0.5, -0.5), (-0.5, -0.5)])
_CURE = "film the card again, square on and sharp, over a third of the picture's height or more"


@dataclass(frozen=True, slots=True)
class Card:
    """The card as it stood: its two bars as measured (shares of what they should be), how far off.

    `bars_sigma` is one standard deviation of each share, `far_mm` from the rig's entrance pupil.
    """

    across: float
    up: float
    bars_sigma: float
    far_mm: float


@dataclass(frozen=True, slots=True)
class SqueezeRead:
    """The squeeze in a frame, one standard deviation, and the angle of the card to the frame."""

    squeeze: float
    sigma: float
    slope: float

    @property
    def squeeze_95(self) -> float:
        """Half the 95 % interval."""
        return 1.96 * self.sigma


class Still(NamedTuple):
    """A still as read, or why not; `expected` is the kit's own squeeze there with its 95 %."""

    file: str
    sign: str
    rig: str
    distance_mm: float
    read: SqueezeRead | None
    refused: Refused | None
    expected: tuple[float, float] | None


def squeeze_in(still: Photograph, card: Card) -> SqueezeRead:
    """Return the squeeze that a frame shows; raises Unread where it is not to be trusted."""
    seen = _card_tags(still)
    view = _View(still.grey.shape[1], still.grey.shape[0], card)
    parameters, sides = _rough(seen, view), _sides(seen.numbers)
    _require_resolution(view, parameters)
    light = linear_light(still.grey)
    edge_px = _EDGE_PX
    for _ in range(_PASSES):
        fitted = _one_pass(light, sides, view, parameters, edge_px=edge_px)
        parameters, edge_px = fitted.parameters, max(_EDGE_PX, fitted.residual_px)
    _judge(fitted)
    slopes = [AT["slope_x"], AT["slope_y"]]
    variance = np.diag(fitted.covariance)
    # Slopes shorten by their squares, of which a card square on tells nothing to first order: what
    # is not known of the slopes themselves counts then.
    own = variance[AT["log_squeeze"]] + np.sum(np.square(variance[slopes])) / 2.0 + FLOOR**2
    if own > MOST_SIGMA**2:
        why = f"it tells the squeeze to {1.96 * np.sqrt(own):.1%} only: {_CURE}, less compressed"
        raise Unread("low-resolution", why)
    share = np.sqrt(own + 2.0 * card.bars_sigma**2)
    squeeze = float(np.exp(parameters[AT["log_squeeze"]]))
    return SqueezeRead(squeeze, squeeze * float(share), float(np.hypot(*parameters[slopes])))


@dataclass(frozen=True, slots=True)
class _View:
    """The frame's size in pixels, and the card."""

    width: int
    height: int
    card: Card

    @property
    def middle(self) -> Floats:
        """The centre of the frame; the first pixel's centre is (0, 0)."""
        return np.array([(self.width - 1) / 2.0, (self.height - 1) / 2.0])

    def projected(self, parameters: Floats, points: Floats) -> Floats:
        """Return points of the card (… × 2, mm from its middle) as pixels (… × 2)."""
        named = dict(zip(NAMES, parameters.tolist(), strict=True))
        flat = points * (self.card.across, self.card.up)
        level = rotation(np.array([0.0, 0.0, named["turn"]]))
        slope = rotation(np.array([named["slope_x"], named["slope_y"], 0.0]))
        turned = flat @ (slope @ level)[:, :2].T
        scale, squeeze = np.exp(named["log_scale"]), np.exp(named["log_squeeze"])
        far_v = self.card.far_mm * np.exp(named["log_far_v"])
        far_h = (self.card.far_mm - CENTRES_APART_MM) * np.exp(named["log_far_h"])
        u = scale / squeeze * (named["x"] + turned[..., 0]) / (1.0 - turned[..., 2] / far_h)
        v = -scale * (named["y"] + turned[..., 1]) / (1.0 - turned[..., 2] / far_v)
        half = np.hypot(self.width, self.height) / 2.0
        across, up = np.square(u / half), np.square(v / half)
        u = u * (1.0 + named["u_by_u"] * across + named["u_by_v"] * up)
        v = v * (1.0 + named["v_by_u"] * across + named["v_by_v"] * up)
        cos, sin = np.cos(named["level"]), np.sin(named["level"])
        u, v = cos * u - sin * v, sin * u + cos * v
        axis = self.middle + half * np.array([named["axis_u"], named["axis_v"]])
        return np.asarray(axis + np.stack((u, v), axis=-1))


class _Sides(NamedTuple):
    """The sides of all tags: points along each (e × p × 2, mm), normals (e × 2), white inside (e).

    `white` is how much of what lies inside the border there is white.
    """

    points: Floats
    outward: Floats
    white: Floats

    def inked(self, parameters: Floats, *, out_mm: float = 0.0) -> Floats:
        """Return the points with ink spread as the parameters have it, by `out_mm` farther out."""
        ink = parameters[[AT["ink_x"], AT["ink_y"]]] + out_mm
        return self.points + (ink * self.outward)[:, np.newaxis]


class _Fitted(NamedTuple):
    """A fit, its covariance, and what speaks for and against it."""

    parameters: Floats
    covariance: Floats
    residual_px: float
    residual_mm: float
    strain: float
    blur: float
    left_out: float


def _card_tags(still: Photograph) -> Seen:
    """Return the card's tags in a frame; raises Unread for too few."""
    seen = _only_card(tags_in(still.grey))
    if len(seen.numbers) >= LEAST_TAGS:
        return seen
    if len(_only_card(tags_in(np.ascontiguousarray(still.grey[:, ::-1]))).numbers) >= LEAST_TAGS:
        raise Unread("inconsistent", "the frame is mirrored: hand it over as recorded")
    why = f"only {len(seen.numbers)} of the squeeze card's {len(IDS)} tags can be read"
    raise Unread("few-tags", f"{why}: {_CURE}, with nothing before it")


def _only_card(seen: Seen) -> Seen:
    """Return the card's own tags, each once."""
    numbers, first = np.unique(seen.numbers, return_index=True)
    return seen.only(first[np.isin(numbers, IDS)])


def _rough(seen: Seen, view: _View) -> Floats:
    """Return parameters from the tags' corners as OpenCV finds them.

    They start at what a card square on would have, seen without distortion.
    """
    card = (tag_middles()[seen.numbers][:, np.newaxis] + SIDE_MM * _CORNERS).reshape(-1, 2)
    pixels = seen.corners.reshape(-1, 2) - view.middle
    rows = np.column_stack((card, np.ones(len(card))))
    by_x, by_y, shift = np.linalg.lstsq(rows, pixels, rcond=None)[0]
    parameters = np.zeros(len(NAMES))
    vertical, horizontal = np.hypot(by_x[1], by_y[1]), np.hypot(by_x[0], by_y[0])
    parameters[AT["turn"]] = np.arctan2(-by_x[1], -by_y[1])
    parameters[AT["log_scale"]] = np.log(vertical)
    parameters[AT["log_squeeze"]] = np.log(vertical / horizontal)
    parameters[AT["x"]], parameters[AT["y"]] = shift / (horizontal, -vertical)

    def misfit(at: Floats) -> Floats:
        found = seen.corners.reshape(-1, 2)
        return np.asarray((view.projected(at, card) - found).ravel() / _CORNER_PX)

    return without_outliers(misfit, _priors, parameters, scales=_SCALES).parameters


def _require_resolution(view: _View, parameters: Floats) -> None:
    module_mm = SIDE_MM / SIDE_MODULES
    across, up = module_mm * np.eye(2)
    at = view.projected(parameters, np.stack((np.zeros(2), across, up)))
    module = float(np.min(np.linalg.norm(at[1:] - at[0], axis=-1)))
    if module < LEAST_MODULE_PX:
        why = f"a module of the card's tags is only {module:.1f} pixels wide: {_CURE}"
        raise Unread("low-resolution", why)


def _sides(numbers: NDArray[np.intp]) -> _Sides:
    """Return all sides of some tags."""
    points = tag_middles()[numbers][:, np.newaxis, np.newaxis] + SIDE_MM * UNIT_SIDES
    outward = np.tile(OUTWARD, (len(numbers), 1))
    return _Sides(points.reshape(-1, POINTS, 2), outward, white_inside(numbers))


def _one_pass(
    light: NDArray[np.float32], sides: _Sides, view: _View, parameters: Floats, *, edge_px: float
) -> _Fitted:
    """Return the fit to the sides as measured about where the parameters have them."""
    pixels = view.projected(parameters, sides.inked(parameters))
    farther = view.projected(parameters, sides.inked(parameters, out_mm=_STEP_MM))
    normal, across = outward_normals(pixels, farther, by_mm=_STEP_MM)
    module_px = across * SIDE_MM / SIDE_MODULES
    edges = measured(
        light, pixels, np.repeat(normal[:, np.newaxis], POINTS, axis=1), module_px, sides.white
    )
    good = edges.good
    if np.sum(good) < 4 * LEAST_TAGS // 2:
        raise Unread("blur", f"the tags' edges cannot be measured: {_CURE}")
    sides = _Sides(*(each[good] for each in sides))
    normal, per_mm = normal[good], across[good].mean(axis=1)
    place = np.sum(pixels[good].mean(axis=1) * normal, axis=-1) + edges.offset_px[good]

    def misfit(at: Floats) -> Floats:
        seen = view.projected(at, sides.inked(at)).mean(axis=1)
        return np.asarray((np.sum(seen * normal, axis=-1) - place) / edge_px)

    solved = without_outliers(misfit, _priors, parameters, scales=_SCALES)
    off_px = misfit(solved.parameters)[solved.used] * edge_px
    freedom = max(len(off_px) + len(_PRIORS) - len(NAMES), 1)
    residual_px = float(np.sqrt(off_px @ off_px / freedom))
    return _Fitted(
        solved.parameters,
        solved.covariance * max(1.0, residual_px / edge_px) ** 2,
        residual_px,
        float(np.sqrt(np.mean(np.square(off_px / per_mm[solved.used])))),
        float(np.sum(np.square(_priors(solved.parameters)))),
        float(np.median(edges.blur_px[good] / module_px[good].mean(axis=1))),
        1.0 - float(np.mean(solved.used)),
    )


def _priors(parameters: Floats) -> Floats:
    return np.array([parameters[AT[name]] / sigma for name, sigma in _PRIORS.items()])


def _judge(fitted: _Fitted) -> None:
    """Raise Unread for what is not to be trusted, the plainest cause first.

    What a card that is not flat shows of its angle is not to be trusted either.
    """
    slope = float(np.hypot(*fitted.parameters[[AT["slope_x"], AT["slope_y"]]]))
    if fitted.blur > MOST_BLUR_MODULES:
        why = f"edges are blurred over {fitted.blur:.1f} modules of a tag: {_CURE}"
        raise Unread("blur", why)
    bent = fitted.residual_mm > MOST_RESIDUAL_MM or fitted.strain > MOST_STRAIN
    if bent or fitted.left_out > _MOST_LEFT_OUT:
        why = f"the card is not flat, or something lies on it: glue it on a board, and {_CURE}"
        raise Unread("residual", why)
    if slope > MOST_SLOPE:
        why = f"the card stands {np.degrees(slope):.0f}° aslant, more than 12°: {_CURE}"
        raise Unread("angle", why)
