"""The fit of camera, barrel and strips to the edges of the tags, by least squares."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from focuschart.layout.tag.dictionary import WHITE
from focuschart.photo.camera import ARC, AT, NAMES, View, facing, on_barrel, projected
from focuschart.photo.edges import POINTS, Edges, measured
from focuschart.photo.pose import SIGMAS, USUAL_GAP_MM, start, tag_points
from focuschart.photo.recognise import Match
from focuschart.photo.strips import Floats
from focuschart.photo.tags import Seen

PASSES = 3
_CORNERS = np.array([(-0.5, 0.5), (0.5, 0.5), (0.5, -0.5), (-0.5, -0.5)])
_OUTWARD = np.array([(0.0, 1.0), (1.0, 0.0), (0.0, -1.0), (-1.0, 0.0)])
_CORNER_PX, _EDGE_PX = 0.5, 0.05
"""One standard deviation of a corner as found, and the least of a measured edge."""
_MODEL_MM = 0.004
"""What an edge lies off by on paper and in the model: added to each edge's own noise."""
_OUTLIER = 5.0
_HARDLY_SEEN = 0.95
_STEP_MM = 0.05
"""Over which it is seen how an edge moves in the picture as a tag grows."""
LEAST_EDGES = 16
_MODULES = 6.0
_LOOKED = 0.8
"""Share of a side that is looked at, its corners left out."""
LEAST_FACING = 0.3
"""Cosine of the steepest view of a tag whose edges are measured."""


@dataclass(frozen=True, slots=True)
class Sides:
    """The sides of all tags: points along each (e × p × 2, mm from the strips' origins).

    `outward` (e × 2) is normal to each side, `side_mm` (e) the tag's, `white` (e) how white the
    tag is inside its border there, `on_ring` (e) as `on_barrel` has it, `tag` (e) the number of
    the tag, those of the ring's strip first.
    """

    points: Floats
    outward: Floats
    side_mm: Floats
    white: Floats
    on_ring: Floats
    tag: NDArray[np.intp]

    def only(self, chosen: NDArray[np.bool_]) -> Sides:
        """Return the chosen sides."""
        return Sides(*(getattr(self, name)[chosen] for name in self.__slots__))

    def places(self, view: View, parameters: Floats, *, out_mm: float = 0.0) -> Floats:
        """Return the points in the barrel's frame (e × p × 3), by `out_mm` farther out."""
        ink = parameters[AT["ink"]] + out_mm
        points = self.points + ink * self.outward[:, np.newaxis]
        return on_barrel(view, parameters, points, self.on_ring[:, np.newaxis])


class Fitted(NamedTuple):
    """A fit: parameters, their covariance, and each side's residual (e), px along its normal.

    `px_per_mm` and `module_px` are those of the sides (e), `blur` the median in modules.
    """

    parameters: Floats
    covariance: Floats
    sides: Sides
    residual_px: Floats
    px_per_mm: Floats
    blur: float
    outliers: NDArray[np.bool_]
    view_angle: float

    @property
    def arc_mm(self) -> float:
        """The ring's millimetre under the index line."""
        return float(self.parameters[ARC])

    @property
    def residual_mm(self) -> float:
        """The root mean square of the residuals, on the strips."""
        used = ~self.outliers
        return float(np.sqrt(np.mean(np.square(self.residual_px / self.px_per_mm)[used])))

    def outliers_by_tag(self, count: int) -> NDArray[np.bool_]:
        """Return for each of `count` tags whether two of its sides or more are out of place."""
        return np.bincount(self.sides.tag, weights=self.outliers, minlength=count) >= 2


def sides_of(ring: Match, index: Match) -> Sides:
    """Return all sides of the tags of both strips."""
    along = (np.arange(POINTS) + 0.5) / POINTS * _LOOKED - _LOOKED / 2.0
    squares = np.array([
        [(normal * 0.5 + np.array([-normal[1], normal[0]]) * share) for share in along]
        for normal in _OUTWARD
    ])  # fmt: skip
    parts = [
        tag_points(match, squares.reshape(-1, 2)).reshape(-1, POINTS, 2) for match in (ring, index)
    ]
    counts = (4 * len(ring), 4 * len(index))
    sizes = [match.strip.sides[match.places] for match in (ring, index)]
    return Sides(
        np.concatenate(parts),
        np.tile(_OUTWARD, (len(ring) + len(index), 1)),
        np.repeat(np.concatenate(sizes), 4),
        np.concatenate([_white(match.strip.numbers[match.places]) for match in (ring, index)]),
        np.repeat((1.0, 0.0), counts),
        np.repeat(np.arange(len(ring) + len(index)), 4),
    )


def _white(numbers: NDArray[np.intp]) -> Floats:
    """Return how much is white beside the border along the points of each side (4 n)."""
    bits = WHITE[numbers].astype(float)
    rows = np.stack((bits[:, 0], bits[:, :, -1], bits[:, -1], bits[:, :, 0]), axis=1)
    return np.asarray(rows.sum(axis=-1).ravel() / (_LOOKED * _MODULES))


def rough_fit(seen: Seen, ring: Match, index: Match, view: View) -> Floats | None:
    """Return parameters fitted to the tags' corners as OpenCV finds them."""
    first = start(seen, ring, index, view)
    if first is None:
        return None
    places = [tag_points(match, _CORNERS).reshape(-1, 2) for match in (ring, index)]
    pixels = np.concatenate([seen.corners[match.seen].reshape(-1, 2) for match in (ring, index)])
    on_ring = np.repeat((1.0, 0.0), [len(part) for part in places])
    points = np.concatenate(places)

    def residual(parameters: Floats) -> Floats:
        seen_at = projected(view, parameters, on_barrel(view, parameters, points, on_ring))
        return np.concatenate(((seen_at - pixels).ravel() / _CORNER_PX, _priors(parameters)))

    return _solved(residual, first, loss="soft_l1")[0]


def fit(
    light: NDArray[np.float32], sides: Sides, view: View, parameters: Floats, *,
    passes: int = PASSES,
) -> Fitted | None:  # fmt: skip
    """Return the fit to the sides of the tags as measured, in passes from a rough fit.

    None where too few edges can be measured.
    """
    fitted = None
    for _ in range(passes):
        fitted = _one_pass(light, sides, view, parameters)
        if fitted is None:
            return None
        parameters = fitted.parameters
    return fitted


def _one_pass(
    light: NDArray[np.float32], sides: Sides, view: View, parameters: Floats
) -> Fitted | None:
    places = sides.places(view, parameters)
    normals = places * (1.0, 1.0, 0.0)
    normals /= np.linalg.norm(normals, axis=-1, keepdims=True)
    turned = facing(parameters, places, normals).min(axis=1) > LEAST_FACING
    sides, pixels = sides.only(turned), projected(view, parameters, places[turned])
    farther = projected(view, parameters, sides.places(view, parameters, out_mm=_STEP_MM))
    out = (farther - pixels) / _STEP_MM
    # Across the edge as the picture has it, not along the outward direction, which is oblique.
    along = pixels[:, -1] - pixels[:, 0]
    normal = np.stack((-along[:, 1], along[:, 0]), axis=-1)
    normal /= np.linalg.norm(normal, axis=-1, keepdims=True)
    across = np.sum(normal[:, np.newaxis] * out, axis=-1)
    normal *= np.sign(across.mean(axis=1))[:, np.newaxis]
    across = np.abs(across)
    edges = measured(
        light, pixels, np.repeat(normal[:, np.newaxis], POINTS, axis=1),
        across * sides.side_mm[:, np.newaxis] / _MODULES, sides.white,
    )  # fmt: skip
    lines = _Line(pixels.mean(axis=1), normal, across.mean(axis=1))
    return _adjusted(sides, lines, edges, view, parameters)


class _Line(NamedTuple):
    """Where edges are expected: the middles of the sides (e × 2, px), their normals (e × 2).

    `across` (e) is in pixels a millimetre.
    """

    middle: Floats
    normal: Floats
    across: Floats

    def only(self, chosen: NDArray[np.bool_]) -> _Line:
        """Return the chosen ones."""
        return _Line(*(values[chosen] for values in self))


def _adjusted(
    sides: Sides, lines: _Line, edges: Edges, view: View, parameters: Floats
) -> Fitted | None:
    """Return the least-squares fit to measured edges, those far off left out."""
    chosen = edges.good
    if np.sum(chosen) < LEAST_EDGES:
        return None
    sides, lines = sides.only(chosen), lines.only(chosen)
    place = np.sum(lines.middle * lines.normal, axis=-1) + edges.offset_px[chosen]
    sigma = np.hypot(_EDGE_PX, _MODEL_MM * lines.across)

    def misfit(at: Floats) -> Floats:
        seen = projected(view, at, sides.places(view, at)).mean(axis=1)
        return np.asarray(np.sum(seen * lines.normal, axis=-1) - place)

    solution, jacobian, used = _without_outliers(lambda at: misfit(at) / sigma, parameters)
    found = misfit(solution)
    freedom = max(int(used.sum()) + len(SIGMAS) - len(NAMES), 1)
    unit = max(1.0, float(np.sum(np.square(found / sigma)[used])) / freedom)
    module = lines.across * sides.side_mm / _MODULES
    covariance = np.asarray(np.linalg.pinv(jacobian.T @ jacobian) * unit, float)
    return Fitted(
        solution, covariance, sides, found, lines.across,
        float(np.median(edges.blur_px[chosen] / module)), ~used, _view_angle(view, solution),
    )  # fmt: skip


def _without_outliers(
    misfit: Callable[[Floats], Floats], parameters: Floats
) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """Return solution, Jacobian and which of the misfits (e, in their sigmas) were used."""
    used = np.ones(len(misfit(parameters)), bool)
    for _ in range(3):

        def residual(at: Floats, used: NDArray[np.bool_] = used) -> Floats:
            return np.concatenate((misfit(at)[used], _priors(at)))

        solution, jacobian = _solved(residual, parameters, loss="linear")
        off = misfit(solution)
        spread = max(1.0, 1.4826 * float(np.median(np.abs(off[used]))))
        again = np.abs(off) < _OUTLIER * spread
        if np.array_equal(again, used):
            break
        used = again
    return solution, jacobian, used


def _view_angle(view: View, parameters: Floats) -> float:
    """Return the angle between the view and the normal at the index line."""
    line, up = np.array([0.0, view.barrel.radius_mm, 0.0]), np.array([0.0, 1.0, 0.0])
    return float(np.arccos(np.clip(facing(parameters, line, up), -1.0, 1.0)))


def fitted_scale(fitted: Fitted) -> tuple[float, float]:
    """Return how much larger the print is than fits its ring (logarithm), and its sigma.

    Of the fit with its prior, to first order as if nothing were thought of the scale before: 0 ± ∞
    where the photograph says hardly anything of it.
    """
    at, prior = AT["log_scale"], SIGMAS["log_scale"] ** 2
    variance = fitted.covariance[at, at]
    gain = variance / prior
    if gain > _HARDLY_SEEN:
        return 0.0, np.inf
    free = variance / (1.0 - gain)
    return float(fitted.parameters[at] * free / variance), float(np.sqrt(free))


def _priors(parameters: Floats) -> Floats:
    centres = np.array([USUAL_GAP_MM if name == "gap" else 0.0 for name in SIGMAS])
    own = parameters[[AT[name] for name in SIGMAS]]
    return np.asarray((own - centres) / np.array(list(SIGMAS.values())))


_SCALES = np.array([
    1e-3, 1e-3, 1e-3, 0.1, 0.1, 1.0, 0.01, 0.003, 0.02, 0.2, 0.05, 0.002, 0.001, 5e-4, 0.005
])  # fmt: skip


def _solved(
    residual: Callable[[Floats], Floats], first: Floats, *, loss: str
) -> tuple[Floats, Floats]:
    from scipy.optimize import least_squares

    found = least_squares(residual, first, x_scale=_SCALES, loss=loss, method="trf", max_nfev=60)
    return found.x, found.jac
