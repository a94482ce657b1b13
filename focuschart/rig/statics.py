"""Weights along a beam: centre of gravity, bending moments, the force in a support.

The rig is a straight, stiff, level beam along the optical axis, a cantilever from whatever holds
it. A support under it pushes with the force to which it is set; it does not adjust by itself.
Equations of equilibrium: any textbook of statics, such as Meriam and Kraige, Engineering Mechanics:
Statics, ch. 5 (from memory).

Masses are in g, places in mm from the sensor plane toward the subject, moments in N m, positive
where the front droops. Unknown values are nan, and so is all that depends on them.
"""

from __future__ import annotations

import numpy as np

from focuschart.optics.arrays import Floats, Numbers

GRAVITY = 9.80665
"""Standard acceleration of free fall, m/s²: exact, CGPM 1901."""
_NEWTON_PER_GRAM = GRAVITY * 1e-3
_METRE_PER_MM = 1e-3


def centre_of_gravity_mm(masses_g: Numbers, *, centres_mm: Numbers) -> Floats:
    """Return Σ m z / Σ m over the last axis, nan where the total mass is 0."""
    masses = np.asarray(masses_g, float)
    total = np.sum(masses, axis=-1)
    turning = np.sum(masses * np.asarray(centres_mm, float), axis=-1)
    return np.asarray(turning / np.where(total > 0.0, total, np.nan))


def hanging_moment_nm(section_mm: Numbers, *, masses_g: Numbers, centres_mm: Numbers) -> Floats:
    """Return the moment at a section of a cantilever, summed over the last axis of the loads.

    The section carries all these loads, even if a centre lies behind it.
    """
    arms_m = (np.asarray(centres_mm, float) - np.asarray(section_mm, float)) * _METRE_PER_MM
    return np.asarray(np.sum(np.asarray(masses_g, float) * _NEWTON_PER_GRAM * arms_m, axis=-1))


def relieving_force_n(
    support_mm: Numbers, *, relieved_mm: Numbers, masses_g: Numbers, centres_mm: Numbers
) -> Floats:
    """Return the upward force of a support that makes the loads' moment at a section zero.

    The section then carries only the moment of other loads. The force is infinite where the support
    is at the section.
    """
    moment = hanging_moment_nm(relieved_mm, masses_g=masses_g, centres_mm=centres_mm)
    arm_m = (np.asarray(support_mm, float) - np.asarray(relieved_mm, float)) * _METRE_PER_MM
    with np.errstate(divide="ignore"):
        return np.asarray(moment / arm_m)


def supported_moment_nm(
    section_mm: Numbers, *, hanging_nm: Numbers, support_mm: Numbers, support_n: Numbers
) -> Floats:
    """Return the moment at a section, `hanging_nm` less the moment of a support's force.

    A support behind the section does not change it. Moments of several forces on a cantilever add
    up: AISC Steel Construction Manual, Table 3-23, cantilever beams (from memory).
    """
    arm_m = (np.asarray(support_mm, float) - np.asarray(section_mm, float)) * _METRE_PER_MM
    relief = np.asarray(support_n, float) * np.where(arm_m < 0.0, 0.0, arm_m)
    return np.asarray(np.asarray(hanging_nm, float) - relief)


def weight_n(masses_g: Numbers) -> Floats:
    """Return the weight of all masses along the last axis."""
    return np.asarray(np.sum(np.asarray(masses_g, float), axis=-1) * _NEWTON_PER_GRAM)
