"""Weights along a beam: centre of gravity, bending moments, the force in a support.

The rig is a straight, stiff, level beam along the optical axis. Without a support it is a
cantilever from whatever holds it; with one it is simply supported at the lens mount and at the
support, as if the mount could carry a force but no moment. Equations of equilibrium: any textbook
of statics, such as Meriam and Kraige, Engineering Mechanics: Statics, ch. 5 (from memory).

Masses are in g, places in mm from the sensor plane toward the subject, moments in N m, positive
where the front droops. What is not known is nan, and so is what depends on it.
"""

from __future__ import annotations

import numpy as np

from focuschart.optics.arrays import Floats, Numbers

GRAVITY = 9.80665
"""Standard acceleration of free fall, m/s²: exact, CGPM 1901."""
_NEWTON_PER_GRAM = GRAVITY * 1e-3
_METRE_PER_MM = 1e-3


def centre_of_gravity_mm(masses_g: Numbers, *, centres_mm: Numbers) -> Floats:
    """Return Σ m z / Σ m over the last axis, nan where nothing weighs."""
    masses = np.asarray(masses_g, float)
    total = np.sum(masses, axis=-1)
    turning = np.sum(masses * np.asarray(centres_mm, float), axis=-1)
    return np.asarray(turning / np.where(total > 0.0, total, np.nan))


def hanging_moment_nm(section_mm: Numbers, *, masses_g: Numbers, centres_mm: Numbers) -> Floats:
    """Return the moment of a cantilever at a section, over the last axis of the loads it holds.

    The loads are all that hangs on the section, wherever their centres lie.
    """
    arms_m = (np.asarray(centres_mm, float) - np.asarray(section_mm, float)) * _METRE_PER_MM
    return np.asarray(np.sum(np.asarray(masses_g, float) * _NEWTON_PER_GRAM * arms_m, axis=-1))


def support_force_n(
    support_mm: Numbers, *, pin_mm: Numbers, masses_g: Numbers, centres_mm: Numbers
) -> Floats:
    """Return the upward force in a support under a beam whose other bearing is `pin_mm`.

    The loads are all that the two bearings share; the pin carries the rest of their weight, which
    is negative where the support stands behind their centre of gravity.
    """
    moment = hanging_moment_nm(pin_mm, masses_g=masses_g, centres_mm=centres_mm)
    span_m = (np.asarray(support_mm, float) - np.asarray(pin_mm, float)) * _METRE_PER_MM
    return np.asarray(moment / span_m)


def propped_moment_nm(
    section_mm: Numbers, *, hanging_nm: Numbers, support_mm: Numbers, support_n: Numbers
) -> Floats:
    """Return the moment at a section that hangs `hanging_nm`, with a support's force taken off.

    A support behind the section does not change it.
    """
    arm_m = (np.asarray(support_mm, float) - np.asarray(section_mm, float)) * _METRE_PER_MM
    relief = np.asarray(support_n, float) * np.where(arm_m < 0.0, 0.0, arm_m)
    return np.asarray(np.asarray(hanging_nm, float) - relief)


def weight_n(masses_g: Numbers) -> Floats:
    """Return the weight of all masses along the last axis."""
    return np.asarray(np.sum(np.asarray(masses_g, float), axis=-1) * _NEWTON_PER_GRAM)
