"""The gauge: how much of the picture's height a head takes, to hold the distance by framing."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from focuschart.chart.model import Chart
from focuschart.kit.fields import parse_ratio
from focuschart.optics.arrays import Floats
from focuschart.optics.frame import share_of_height

SEEN_SHARE = 0.03
"""The least change of a length that an eye sees without a line to hold it to, of that length.

Source: R. Teghtsoonian, On the exponents in Stevens' law, Psychological Review 78 (1971): 0.029
for the length of a line (from memory).
"""


class Gauge(NamedTuple):
    """The gauge's share of the picture's height: at the marks (n), at both ends of sharpness.

    `near` and `far` (m × n) are those at the frame's limits at each stop, both rings still at the
    mark; a far end at infinity is 0.
    """

    at: Floats
    near: Floats
    far: Floats


def gauge(chart: Chart, *, size_mm: float | None = None) -> Gauge:
    """Return the gauge of a chart, of a thing of some size, else of the kit's `gauge`.

    The picture is that of the kit's first delivery, or the whole frame.
    """
    rig = chart.rig
    size = chart.kit.gauge if size_mm is None else size_mm
    image_mm, datum_mm = rig.image_mm(chart.distances_mm), rig.lens_datum_mm(chart.distances_mm)
    height_mm = _picture_height_mm(chart)

    def share(distance_mm: Floats) -> Floats:
        return share_of_height(
            size, image_mm=image_mm, subject_mm=distance_mm - datum_mm, picture_height_mm=height_mm
        )

    zone = chart.frame
    return Gauge(share(chart.distances_mm), share(zone.near_mm), share(zone.far_mm))


def seen(found: Gauge) -> NDArray[np.bool_]:
    """Return where both ends of sharpness can be seen by framing (m × n)."""
    return np.asarray(
        (found.near >= (1.0 + SEEN_SHARE) * found.at)
        & (found.far <= (1.0 - SEEN_SHARE) * found.at)
        & (found.at > 0.0)
    )


def gauge_words(chart: Chart) -> tuple[tuple[str, str], ...]:
    """Return for each mark the gauge's share in per cent, and those at the working stop's ends.

    "74.1" and "75.3–72.9"; an exclamation mark follows where the eye cannot see that difference.
    """
    found = gauge(chart)
    rows = zip(found.at, found.near[0], found.far[0], seen(found)[0], strict=True)
    return tuple(
        (
            f"{100.0 * at:.1f}" if at else "–",
            f"{100.0 * near:.1f}–{100.0 * far:.1f}{'' if clear else '!'}",
        )
        for at, near, far, clear in rows
    )


def _picture_height_mm(chart: Chart) -> Floats:
    rig, names = chart.rig, chart.kit.deliveries
    ratio = parse_ratio(names[0]) if names else None
    return rig.sensor.cropped(ratio, rig.desqueezed_by(chart.squeeze)).height_mm
