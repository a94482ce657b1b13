"""The focus target: bars whose image on the sensor is one circle of confusion wide.

A bar is one dark line. Line and gap are equal, so the period is two bars. Such bars are the finest
that must be visible by the criterion: a disc of blur c across leaves a grating of bars c wide
72 % of the contrast of its fundamental, and one of 2.44·c none (2·J₁(x)/x with x = π·blur/period;
H. H. Hopkins, Proc. R. Soc. A 231 (1955), from memory). Bars two and four times as wide fade at two
and four times that blur, so the groups fade one after another as focus is lost.
"""

from __future__ import annotations

import numpy as np

from focuschart.optics.arrays import Floats, Numbers
from focuschart.optics.thin_lens import magnification, reciprocal_mm


def horizontal_line_bar_mm(
    position_mm: Numbers, *, focal_length_mm: Numbers, circle_mm: Numbers, hiatus_mm: Numbers = 0.0
) -> Floats:
    """Return the bar of horizontal lines, which show the vertical meridian: c·u/v.

    In this meridian the attachment is a plane plate, so the target is imaged at the taking lens's
    v/u and one bar becomes c on the sensor. `position_mm` is the target's distance from the sensor
    less the plate shift. Shapes broadcast; infinity gives infinity. Raises OpticsError, as
    `thin_lens.magnification` does, for a target nearer than four focal lengths.
    """
    m = magnification(position_mm, focal_length_mm=focal_length_mm, hiatus_mm=hiatus_mm)
    return reciprocal_mm(m / circle_mm)


def vertical_line_bar_mm(
    position_mm: Numbers, *, focal_length_mm: Numbers, circle_mm: Numbers, squeeze: Numbers,
    true_squeeze: Numbers, hiatus_mm: Numbers = 0.0,
) -> Floats:  # fmt: skip
    """Return the bar of vertical lines, which show the horizontal meridian: (c/S)·S(D)·u/v.

    The attachment shows the lens the target narrowed by the true squeeze S(D) at its distance, so
    it is imaged at v/(u·S(D)); the frame is widened by the nominal S, so one bar becomes c/S on the
    sensor and c on the frame. At infinity, where S(D) is S, both kinds of line have the same bar;
    nearer, vertical lines are a little finer. Arguments and errors as `horizontal_line_bar_mm`.
    """
    bar = horizontal_line_bar_mm(
        position_mm, focal_length_mm=focal_length_mm, circle_mm=circle_mm, hiatus_mm=hiatus_mm
    )
    return np.asarray(bar * (np.asarray(true_squeeze, float) / squeeze))
