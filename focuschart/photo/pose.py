"""Where the camera stood, roughly: the start of the fit, from the corners of the tags."""

from __future__ import annotations

import numpy as np

from focuschart.photo.camera import AT, NAMES, View, on_barrel, projected
from focuschart.photo.priors import USUAL_GAP_MM
from focuschart.photo.recognise import Match
from focuschart.photo.strips import Floats
from focuschart.photo.tags import Seen

_CORNERS = np.array([(-0.5, 0.5), (0.5, 0.5), (0.5, -0.5), (-0.5, -0.5)])


def tag_points(match: Match, squares: Floats) -> Floats:
    """Return points given in sides from the centres of a match's tags (n × m × 2) on its strip."""
    strip = match.strip
    sides = strip.sides[match.places][:, np.newaxis, np.newaxis]
    return np.asarray(strip.middles[match.places][:, np.newaxis] + sides * squares)


def start(seen: Seen, ring: Match, index: Match, view: View) -> Floats | None:
    """Return parameters near the truth, None where no pose fits the tags."""
    import cv2

    parameters = np.zeros(len(NAMES))
    parameters[AT["gap"]] = USUAL_GAP_MM
    parameters[AT["arc"]] = middle = float(np.mean(ring.strip.middles[ring.places, 0]))
    places = tag_points(ring, _CORNERS).reshape(-1, 2)
    solid = on_barrel(view, parameters, places, 1.0)
    corners = np.ascontiguousarray(seen.corners[ring.seen].reshape(-1, 2))
    matrix = np.eye(3)
    matrix[0, 0] = matrix[1, 1] = view.nominal_focal_px
    matrix[:2, 2] = view.middle
    done, turn, shift, _ = cv2.solvePnPRansac(
        np.ascontiguousarray(solid), corners, matrix, None, flags=cv2.SOLVEPNP_SQPNP,
        reprojectionError=4.0, iterationsCount=100,
    )  # fmt: skip
    if not done:
        return None
    parameters[:3], parameters[3:6] = turn.ravel(), shift.ravel()
    angle = _angle_of_line(seen, index, view, parameters)
    if angle is None:
        return None
    parameters[AT["arc"]] = middle + angle * view.barrel.once_mm / (2.0 * np.pi)
    # The barrel's frame turns with the line: (sin φ, cos φ) is to become (0, 1).
    c, s = np.cos(angle), np.sin(angle)
    about = np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
    turned = cv2.Rodrigues(parameters[:3])[0] @ about
    parameters[:3] = cv2.Rodrigues(turned)[0].ravel()
    return parameters


def _angle_of_line(seen: Seen, index: Match, view: View, parameters: Floats) -> float | None:
    """Return the angle at which the index line lies, as if it were on the ring's own cylinder."""
    strip = index.strip
    local = strip.middles[index.places]
    angles = np.linspace(-1.2, 1.2, 241)
    best = []
    for (x, y), square in zip(local, seen.corners[index.seen], strict=True):
        arcs = angles * view.barrel.once_mm / (2.0 * np.pi) + parameters[AT["arc"]]
        line = np.column_stack((arcs, np.full(len(arcs), y - view.inward * USUAL_GAP_MM)))
        pixels = projected(view, parameters, on_barrel(view, parameters, line, 1.0))
        off = np.linalg.norm(pixels - square.mean(axis=0), axis=1)
        best.append(angles[int(np.argmin(off))] - x * 2.0 * np.pi / view.barrel.once_mm)
    return float(np.median(best)) if best else None
