"""Whether a fitted photograph is to be trusted."""

from __future__ import annotations

import numpy as np

from focuschart.photo.camera import View
from focuschart.photo.fit import Fitted
from focuschart.photo.more import misplaced
from focuschart.photo.pairs import Pair
from focuschart.photo.priors import TRUE, without_prior
from focuschart.photo.recognise import in_pool
from focuschart.photo.refusal import AGAIN, FLAT, Code, Unread
from focuschart.photo.tags import Seen

MOST_BLUR_MODULES = 0.5
MOST_RESIDUAL_MM, MOST_SIGMA_MM = 0.015, 0.04
"""A bubble of 1 mm under a strip, by which a figure is off by 0.1 mm, leaves a residual of 0.017 in
rendered photographs, a sound strip 0.002 to 0.006."""
MOST_SCALE, MOST_ANGLE = 0.015, np.radians(35.0)
_SURE_SCALE, _SURE_MIDDLE = 5.0, 10.0
"""Sigmas by which a print's size or a picture's middle must be off before it is said to be: smears
feign up to 5 of the first, photographs from afar up to 7 of the second; crops show 15 and more."""
MOST_OFF_MIDDLE = 0.05
"""Half diagonals by which the middle of a camera's own picture is off at the most: judgement."""
MOST_LEANING_MM = 0.05
"""By which a figure may move with an index that may lean; beyond it the index lies badly."""
FLOOR_MM = 0.006
"""What no photograph shows of its own error: one standard deviation, judgement. Rendered ones need
about 0.004; the rest is for what phones do to edges (sharpened renders scatter by 0.014 instead of
0.008) and for paper, of which renders say nothing."""
_INCONSISTENT = 0.2
_MARKER_GAP_MM = 26.0
"""How far from the line the next tag of a marker strip may be: a join may have cost it one."""
_END_MM = 8.0
"""How far the line may be from the middle of a strip's last tag before the seam."""


def sigma_mm(fitted: Fitted, leaning: Fitted) -> float:
    """Return one standard deviation of a figure, fitted with an index that lies true.

    Half of what it moves with one that may lean counts, beyond what noise moves it.
    """
    moved = (leaning.arc_mm - fitted.arc_mm) ** 2 - leaning.sigma_mm**2
    return float(np.sqrt(fitted.sigma_mm**2 + max(moved, 0.0) / 4.0 + FLOOR_MM**2))


def judge(fitted: Fitted, leaning: Fitted, pair: Pair, view: View, seen: Seen) -> None:
    """Raise Unread for what is not to be trusted, the plainest cause first."""
    for code, why in (
        _blurred(fitted),
        _aslant(fitted),
        _out_of_scale(fitted),
        _inconsistent(fitted, pair, view, seen),
        _not_bracketed(fitted.arc_mm, pair),
        _leaning(fitted, leaning),
        _unsure(fitted, sigma_mm(fitted, leaning)),
        _off_middle(fitted),
    ):
        if why:
            raise Unread(code, why, strip=pair.strip.code)


_Verdict = tuple[Code, str]


def _blurred(fitted: Fitted) -> _Verdict:
    far = fitted.blur > MOST_BLUR_MODULES
    return "blur", f"edges are blurred over {fitted.blur:.1f} modules of a tag: {AGAIN}" * far


def _aslant(fitted: Fitted) -> _Verdict:
    angle = np.degrees(fitted.view_angle)
    why = f"it is seen from {angle:.0f}° aside, more than 35°: hold the phone square above the line"
    return "angle", why * bool(fitted.view_angle > MOST_ANGLE)


def _out_of_scale(fitted: Fitted) -> _Verdict:
    scale, sigma = _alone(fitted, "log_scale")
    why = (
        f"the tags are {100.0 * np.expm1(scale):+.1f} % off the size that fits their ring: print "
        "again at 100 %, without fit to page, or put the ring's size right in the kit"
    )
    return "scale", why * bool(abs(scale) > max(MOST_SCALE, _SURE_SCALE * sigma))


def _alone(fitted: Fitted, name: str) -> tuple[float, float]:
    return without_prior(fitted.parameters, fitted.covariance, name, sigma=TRUE[name])


def _off_middle(fitted: Fitted) -> _Verdict:
    why = "the picture was cropped: hand over the whole photograph"
    off = [_alone(fitted, name) for name in ("middle_x", "middle_y")]
    far = any(abs(off) > max(MOST_OFF_MIDDLE, _SURE_MIDDLE * sigma) for off, sigma in off)
    return "cropped", why * far


def _leaning(fitted: Fitted, leaning: Fitted) -> _Verdict:
    moved = abs(leaning.arc_mm - fitted.arc_mm)
    far = moved > max(MOST_LEANING_MM, 3.0 * leaning.sigma_mm)
    return "inconsistent", f"an end of the index is up, or a strip is not flat: {FLAT}" * far


def _inconsistent(fitted: Fitted, pair: Pair, view: View, seen: Seen) -> _Verdict:
    count = len(pair.ring)
    off = fitted.outliers_by_tag(count + len(pair.beside))
    if np.any(off[count:]):
        return "inconsistent", f"the index does not lie flat on its barrel: {FLAT}"
    own = np.setdiff1d(in_pool(seen, pair.strip.ring), pair.elsewhere)
    lost = misplaced(seen.only(own), pair.strip, view, fitted.parameters)
    many = np.sum(off[:count]) > _INCONSISTENT * count or lost > _INCONSISTENT * len(own)
    why = f"the ring's tags do not lie as they were printed: {FLAT}"
    return "inconsistent", why * bool(many)


def _not_bracketed(arc_mm: float, pair: Pair) -> _Verdict:
    """Refuse a line that does not lie between two tags next to each other on the strip."""
    row = pair.strip.middles[:, 0] - arc_mm
    used = row[pair.ring.places]
    spare = _MARKER_GAP_MM if pair.strip.kind == "marker" else 0.0
    sides = [side for side in (row <= 0.0, row > 0.0) if side.any()]
    for side in sides:
        nearest = float(np.min(np.abs(row[side])))
        own = used[(used <= 0.0) == (row[side][0] <= 0.0)]
        if np.min(np.abs(own), initial=np.inf) > max(nearest, spare) + 0.01:
            return "not-bracketed", f"a tag next to the line is hidden: free it, and {AGAIN}"
    if len(sides) < 2 and np.min(np.abs(row)) > _END_MM:
        why = "the line is at the strip's seam: tape the strip on with its seam elsewhere"
        return "not-bracketed", why
    return "not-bracketed", ""


def _unsure(fitted: Fitted, sigma: float) -> _Verdict:
    if fitted.residual_mm > MOST_RESIDUAL_MM:
        off = fitted.residual_mm
        return "residual", f"the tags are {off:.3f} mm from where they should be: {FLAT}"
    why = f"the figure is only known to ± {sigma:.2f} mm (one standard deviation): {AGAIN}"
    return "residual", why * bool(sigma > MOST_SIGMA_MM)
