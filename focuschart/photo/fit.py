"""The fit of camera, barrel and strips to the edges of the tags, by least squares."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from focuschart.layout.tag.dictionary import SIDE_MODULES
from focuschart.photo.camera import ARC, NAMES, View, facing, on_barrel, projected
from focuschart.photo.edges import POINTS, Edges, measured, outward_normals
from focuschart.photo.pose import start, tag_points
from focuschart.photo.priors import LEANING, SCALES, TRUE, Sigmas, prior_misfit
from focuschart.photo.recognise import Match
from focuschart.photo.robust import jackknife, without_outliers
from focuschart.photo.sides import Sides
from focuschart.photo.strips import Floats
from focuschart.photo.tags import Seen

PASSES = 3
"""Measuring edges about where the last fit had them: the third moves a figure by under 1 µm."""
_CORNERS = np.array([(-0.5, 0.5), (0.5, 0.5), (0.5, -0.5), (-0.5, -0.5)])
_CORNER_PX, _EDGE_PX = 0.5, 0.05
"""One standard deviation of a corner as found, and of a measured edge, before a fit tells it."""
_PAPER_MM = 0.004
"""What an edge lies off by on paper: added to that; judgement."""
LEAST_NOISE = 0.2
"""Least share of both that is believed of a photograph whose edges fit better."""
_STEP_MM = 0.05
"""Over which it is seen how an edge moves in the picture as a tag grows."""
LEAST_EDGES = 16
LEAST_FACING = 0.3
"""Cosine of the steepest view of a tag whose edges are measured."""


class Fitted(NamedTuple):
    """A fit: parameters (p), their covariance (p × p), and each side's residual (e), px.

    Residuals are along the sides' normals; `px_per_mm` is of the sides (e), `blur` the median in
    modules. `noise` is by what factor edges are off more than was thought, `tag_sigma_mm` the
    standard error of the figure by leaving out each tag in turn, `view_angle` (radians) between the
    view and the normal at the index line.
    """

    parameters: Floats
    covariance: Floats
    sides: Sides
    residual_px: Floats
    px_per_mm: Floats
    blur: float
    outliers: NDArray[np.bool_]
    noise: float
    tag_sigma_mm: float
    view_angle: float

    @property
    def arc_mm(self) -> float:
        """The ring's millimetre under the index line."""
        return float(self.parameters[ARC])

    @property
    def sigma_mm(self) -> float:
        """Its standard error: by the edges' noise, or by what tags are off as a whole."""
        return max(float(np.sqrt(self.covariance[ARC, ARC])), self.tag_sigma_mm)

    @property
    def residual_mm(self) -> float:
        """The root mean square of the residuals, on the strips."""
        used = ~self.outliers
        return float(np.sqrt(np.mean(np.square(self.residual_px / self.px_per_mm)[used])))

    def outliers_by_tag(self, count: int) -> NDArray[np.bool_]:
        """Return for each of `count` tags whether two of its sides or more are out of place."""
        return np.bincount(self.sides.tag, weights=self.outliers, minlength=count) >= 2


def rough_fit(seen: Seen, ring: Match, index: Match, view: View) -> Floats | None:
    """Return parameters fitted to the tags' corners as OpenCV finds them."""
    from scipy.optimize import least_squares

    first = start(seen, ring, index, view)
    if first is None:
        return None
    places = [tag_points(match, _CORNERS).reshape(-1, 2) for match in (ring, index)]
    pixels = np.concatenate([seen.corners[match.seen].reshape(-1, 2) for match in (ring, index)])
    on_ring = np.repeat((1.0, 0.0), [len(part) for part in places])
    points = np.concatenate(places)

    def residual(parameters: Floats) -> Floats:
        seen_at = projected(view, parameters, on_barrel(view, parameters, points, on_ring))
        off = (seen_at - pixels).ravel() / _CORNER_PX
        return np.concatenate((off, prior_misfit(parameters, TRUE)))

    found = least_squares(residual, first, x_scale=SCALES, loss="soft_l1", max_nfev=60)
    return np.asarray(found.x, float)


def fit(
    light: NDArray[np.float32], sides: Sides, view: View, parameters: Floats, *,
    passes: int = PASSES, sigmas: Sigmas = TRUE,
) -> Fitted | None:  # fmt: skip
    """Return the fit to the sides of the tags as measured, in passes from a rough fit.

    The edges' noise is that of the pass before. None where too few edges can be measured.
    """
    fitted, noise = None, 1.0
    for _ in range(passes):
        fitted = _one_pass(light, sides, view, parameters, noise=noise, sigmas=sigmas)
        if fitted is None:
            return None
        parameters, noise = fitted.parameters, fitted.noise
    return fitted


def fit_leaning(
    light: NDArray[np.float32], sides: Sides, view: View, fitted: Fitted
) -> Fitted | None:
    """Return the fit with an index that need not lie true, from one with an index that does."""
    return fit(light, sides, view, fitted.parameters, passes=2, sigmas=LEANING)


def _one_pass(
    light: NDArray[np.float32], sides: Sides, view: View, parameters: Floats, *,
    noise: float, sigmas: Sigmas,
) -> Fitted | None:  # fmt: skip
    places = sides.places(view, parameters)
    normals = places * (1.0, 1.0, 0.0)
    normals /= np.linalg.norm(normals, axis=-1, keepdims=True)
    turned = facing(parameters, places, normals).min(axis=1) > LEAST_FACING
    sides, pixels = sides.only(turned), projected(view, parameters, places[turned])
    if len(pixels) < LEAST_EDGES:
        return None
    farther = projected(view, parameters, sides.places(view, parameters, out_mm=_STEP_MM))
    normal, across = outward_normals(pixels, farther, by_mm=_STEP_MM)
    module = across * sides.side_mm[:, np.newaxis] / SIDE_MODULES
    normals = np.repeat(normal[:, np.newaxis], POINTS, axis=1)
    edges = measured(light, pixels, normals, module, sides.white)
    if np.sum(edges.good) < LEAST_EDGES:
        return None
    lines = _Lines(pixels.mean(axis=1), normal, across.mean(axis=1), edges).only(edges.good)
    return _adjusted(
        sides.only(edges.good), lines, view, parameters, noise=noise, sigmas=sigmas
    )  # fmt: skip


class _Lines(NamedTuple):
    """Where edges were expected: the middles of the sides (e × 2, px), their normals (e × 2).

    `across` (e) is in pixels a millimetre; `edges` is what was measured there.
    """

    middle: Floats
    normal: Floats
    across: Floats
    edges: Edges

    def only(self, chosen: NDArray[np.bool_]) -> _Lines:
        """Return the chosen ones."""
        offset, blur, good = self.edges
        edges = Edges(offset[chosen], blur[chosen], good[chosen])
        return _Lines(self.middle[chosen], self.normal[chosen], self.across[chosen], edges)


def _adjusted(
    sides: Sides, lines: _Lines, view: View, parameters: Floats, *, noise: float, sigmas: Sigmas
) -> Fitted:
    """Return the least-squares fit to measured edges, those far off left out."""
    place = np.sum(lines.middle * lines.normal, axis=-1) + lines.edges.offset_px
    sigma = noise * np.hypot(_EDGE_PX, _PAPER_MM * lines.across)

    def misfit_px(at: Floats) -> Floats:
        seen = projected(view, at, sides.places(view, at)).mean(axis=1)
        return np.asarray(np.sum(seen * lines.normal, axis=-1) - place)

    solved = without_outliers(
        lambda at: misfit_px(at) / sigma, lambda at: prior_misfit(at, sigmas), parameters,
        scales=SCALES,
    )  # fmt: skip
    found = misfit_px(solved.parameters)
    freedom = max(int(solved.used.sum()) + len(sigmas) - len(NAMES), 1)
    unit = float(np.sqrt(np.sum(np.square(found / sigma)[solved.used]) / freedom))
    return Fitted(
        solved.parameters, solved.covariance, sides, found, lines.across,
        float(np.median(lines.edges.blur_px / lines.across / sides.side_mm * SIDE_MODULES)),
        ~solved.used, max(noise * unit, LEAST_NOISE),
        jackknife(solved, found / sigma, sides.tag, of=ARC), _view_angle(view, solved.parameters),
    )  # fmt: skip


def _view_angle(view: View, parameters: Floats) -> float:
    """Return the angle between the view and the normal at the index line."""
    line, up = np.array([0.0, view.barrel.radius_mm, 0.0]), np.array([0.0, 1.0, 0.0])
    return float(np.arccos(np.clip(facing(parameters, line, up), -1.0, 1.0)))
