"""The attachment locked at a mark: where the subject may move, and what one hand can do then."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from focuschart.chart.marks import RingMarks
from focuschart.chart.model import Chart
from focuschart.errors import KitError, LeftOut, Problem
from focuschart.optics.arrays import Floats, Numbers
from focuschart.optics.depth_of_field import Limits
from focuschart.optics.locked import Locked, blurs, compromise_image_mm, pulled_zone
from focuschart.rig.assemble import Rig
from focuschart.rig.laws import attachment_law
from focuschart.rig.place import group_places
from focuschart.scale.laws import AttachmentConstants
from focuschart.units import format_length


@dataclass(frozen=True, slots=True)
class LockedRing:
    """The attachment locked at each mark (n), at each stop (m × n).

    The chart's own limits are the zone with both rings at rest. `zone` is the one within which
    some setting of the taking lens keeps both meridians below one criterion; `near_arc_mm` and
    `far_arc_mm` are that setting at its ends, mm on the taking lens's ruler.
    """

    chart: Chart
    taking: RingMarks
    attachment: RingMarks
    zone: Limits
    near_arc_mm: Floats
    far_arc_mm: Floats

    @property
    def nearer_sign(self) -> float:
        """1 where the taking ring's figures rise as it turns nearer, else −1."""
        return self.taking.nearer_sign

    def turns_mm(self) -> tuple[Floats, Floats]:
        """Return the taking ring's signed turns from the mark to both ends of the zone (m × n)."""
        return self.near_arc_mm - self.taking.arc_mm, self.far_arc_mm - self.taking.arc_mm


@dataclass(frozen=True, slots=True)
class Recentred:
    """Subjects (p) seen with the attachment locked at each mark (n).

    `arc_mm` is where the taking ring does best, `turn_mm` how far from the mark that is, signed
    (p × n, mm on its ruler), `focus_mm` the subject whose label is there. What blur remains
    is in criteria (m × p × n), positive where the subject is nearer than the meridian's focus.
    """

    subjects_mm: Floats
    arc_mm: Floats
    turn_mm: Floats
    focus_mm: Floats
    vertical: Floats
    horizontal: Floats


def unread(chart: Chart, what: str = "the zones in focus") -> LeftOut | None:
    """Return why a rig cannot have `what`, which needs both rings' scales; None where it can."""
    missing = [name for name, (_, marks) in chart.rings().items() if marks is None]
    if not missing:
        return None
    rings, several = " and ".join(missing), len(missing) > 1
    if not set(missing) & set(chart.refused):
        why = f"the {rings} ring{'s have' if several else ' has'} no readings"
        cure = 'tape on the ruler of "focuschart bench", read it and enter the readings'
        return LeftOut(chart.rig.rig_id, what, why, cure)
    why = f"the {rings} ring{'s have' if several else ' has'} no scale"
    return LeftOut(chart.rig.rig_id, what, why, "see to the readings first")


def require_read(chart: Chart, what: str = "the zones in focus") -> None:
    """Raise KitError, naming the kit and the cure, for a rig with a ring that has no scale."""
    missing = unread(chart, what)
    if missing:
        problem = Problem(f"rigs.{missing.rig}", "", f"{missing.why}: {missing.cure}")
        raise KitError(chart.kit.source, [*chart.refused.values(), problem])


def nearest_mm(rig: Rig) -> float:
    """Return the nearest subject distance that both rings of a rig can be set for."""
    optics = math.ceil(rig.optic.least_position_mm + rig.plate_mm)
    return max(rig.lens.nearest, rig.attachment.nearest, optics)


def too_near(chart: Chart, distance_mm: float, what: str) -> LeftOut | None:
    """Return why a rig cannot be set for a subject `distance_mm` from the sensor, if it cannot."""
    rig, nearest = chart.rig, nearest_mm(chart.rig)
    if distance_mm >= nearest:
        return None
    why = f"nearer than the rings of {rig.rig_id} focus"
    return LeftOut(rig.rig_id, what, why, f"choose {format_length(nearest)} or more")


def locked_ring(chart: Chart) -> LockedRing:
    """Return what a rig can do with its attachment locked at each mark.

    Raises KitError for a rig with a ring unread.
    """
    require_read(chart)
    (_, taking), (_, attachment) = chart.ring("taking"), chart.ring("attachment")
    locked = _locked(chart, attachment)
    pulled = pulled_zone(
        locked,
        chart.rig.image_mm(chart.distances_mm),
        stop=chart.stops[:, np.newaxis],
        circle_mm=chart.rig.circle_mm,
        longest_image_mm=_longest_image_mm(chart),
    )
    near, far = (
        taking.measured.arc_mm(chart.rig, locked.focus_mm(image))
        for image in (pulled.near_image_mm, pulled.far_image_mm)
    )
    return LockedRing(chart, taking, attachment, pulled.zone, near, far)


def recentred(chart: Chart, subjects_mm: Numbers) -> Recentred:
    """Return the taking ring's best settings for subjects (p), the attachment locked at each mark.

    Raises KeyError for a rig with a ring unread.
    """
    (_, taking), (_, attachment) = chart.ring("taking"), chart.ring("attachment")
    locked, subjects = _locked(chart, attachment), np.atleast_1d(np.asarray(subjects_mm, float))
    column = subjects[:, np.newaxis]
    image = compromise_image_mm(locked, column, longest_image_mm=_longest_image_mm(chart))
    stops = chart.stops[:, np.newaxis, np.newaxis]
    upright, across = blurs(locked, column, image, stop=stops, circle_mm=chart.rig.circle_mm)
    focus = locked.focus_mm(image)
    arc = taking.measured.arc_mm(chart.rig, focus)
    return Recentred(subjects, arc, arc - taking.arc_mm, focus, upright, across)


def _locked(chart: Chart, attachment: RingMarks) -> Locked:
    """Return the rig with its attachment as it stands at each mark (n)."""
    rig, constants = chart.rig, attachment.measured.scale.constants
    named = AttachmentConstants(*constants)
    place = group_places(rig, attachment_law(rig.attachment), constants, chart.distances_mm)
    carried = float(rig.lens.front_moves)
    extension = rig.image_mm(chart.distances_mm) - rig.optic.focal_length_mm
    return Locked(
        focal_length_mm=rig.optic.focal_length_mm,
        hiatus_mm=rig.optic.hiatus_mm,
        front_focal_mm=named.front_focal_mm,
        rear_focal_mm=named.rear_focal_mm,
        separation_mm=place.match.separation_mm,
        rear_mm=place.rear_datum_mm - carried * extension,
        carried=carried,
        plate_mm=rig.plate_mm,
        squeeze=rig.attachment.squeeze,
    )


def _longest_image_mm(chart: Chart) -> Floats:
    """Return the image distance at which the taking lens ends, at each mark (n)."""
    return np.maximum(chart.rig.image_mm(chart.distances_mm), chart.rig.longest_image_mm)
