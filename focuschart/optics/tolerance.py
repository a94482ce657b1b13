"""The tolerance of a ring: the travel (mm along the axis) that blurs the subject by one criterion.

Multiply by the arc per travel |g| for mm on the ring. Each formula is the first-order change of
the conjugates of `thin_lens` and `attachment`.
"""

from __future__ import annotations

import numpy as np

from focuschart.optics.arrays import Floats, Numbers
from focuschart.optics.attachment import Match
from focuschart.optics.depth_of_field import Aperture


def taking_lens_travel_mm(aperture: Aperture) -> Floats:
    """Return the tolerance in the vertical meridian alone: c·N·v/(f(1 − (v/u)²)).

    The same error blurs the horizontal meridian by S of its own criteria, so the ring's tolerance
    is this one divided by S.
    """
    focal, image = np.asarray(aperture.focal_length_mm, float), aperture.image_mm
    m = image / focal - 1.0
    return np.asarray(aperture.circle_mm * aperture.stop * image / (focal * (1.0 - m * m)))


def attachment_travel_mm(
    aperture: Aperture, matched: Match, *, squeeze: Numbers, lens_to_rear_mm: Numbers
) -> Floats:
    """Return the tolerance (c/S)(u/L)² W² N/(f·v·leverage), with u/L = 1 + t/L, at infinity too."""
    reach = matched.rear_object_mm * (1.0 + lens_to_rear_mm * matched.rear_vergence)
    blur = aperture.circle_mm * np.asarray(aperture.stop, float) / np.asarray(squeeze, float)
    lens = np.asarray(aperture.focal_length_mm, float) * aperture.image_mm
    return np.asarray(blur * np.square(reach) / (lens * matched.leverage))


def inherited_travel(
    matched: Match, *, image_mm: Numbers, lens_to_rear_mm: Numbers, front_moves: Numbers
) -> Floats:
    """Return the attachment's travel that compensates a taking lens extended 1 mm too far.

    The attachment is focused through the lens, so this is [W₁(u/v)² − q′]/leverage if the lens
    carries the attachment (`front_moves`), else with W₁ instead of q′.
    """
    reach = matched.rear_object_mm * (1.0 + lens_to_rear_mm * matched.rear_vergence)
    carried = np.where(front_moves, matched.front_slope, matched.rear_slope)
    return np.asarray((np.square(reach / image_mm) - carried) / matched.leverage)


def infinity_target_mm(
    *, focal_length_mm: Numbers, stop: Numbers, circle_mm: Numbers, squeeze: Numbers
) -> Floats:
    """Return the distance beyond which a target counts as infinity when focusing a ring.

    It is 4f²/(c·N)·max(S, (S² − 1)/S): there the error is an eighth to a quarter of the tighter
    ring's tolerance.
    """
    nominal = np.asarray(squeeze, float)
    factor = np.maximum(nominal, (nominal * nominal - 1.0) / nominal)
    focal = np.asarray(focal_length_mm, float)
    return np.asarray(4.0 * focal * focal / (np.asarray(circle_mm, float) * stop) * factor)
