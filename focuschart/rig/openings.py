"""Where a rig's glass and openings stand for given subjects, as coverage needs it.

Coverage has its groups in the middle of their glasses. So the offset δ of the law, which says where
the thin front group seems to be, is in the match but never in a place.

What stands before the attachment begins at its foremost glass: how far its rim leads is not in the
kit. A close-up lens bends the beams only beyond itself, inward, so that what is behind it passes as
without it and what is before it passes a little more than is told: 0.2 mm at the rim for a dioptre
5 mm on.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from focuschart.kit.schema import Kit
from focuschart.optics.arrays import Floats
from focuschart.optics.beam import ClearAperture, Group, Train, glass_apertures
from focuschart.rig.assemble import Rig
from focuschart.rig.chain import Part, parts
from focuschart.rig.laws import attachment_law
from focuschart.rig.loads import placed_by, starts_mm
from focuschart.scale.laws import prior_centres


@dataclass(frozen=True, slots=True)
class Openings:
    """What light must pass, and the kit's keys of what is not known of it."""

    apertures: tuple[ClearAperture, ...]
    missing: tuple[str, ...]


def separation_mm(rig: Rig, distances_mm: Floats) -> Floats:
    """Return d, middle of the front glass to middle of the rear, matched to subjects (n).

    With A = separation/(S − 1) and S as entered: no mark hangs on what is made of it.
    """
    law = attachment_law(rig.attachment)
    return law.matched(rig.glass_position_mm(distances_mm), prior_centres(law)).separation_mm


def closed_mm(rig: Rig, distances_mm: Floats) -> Floats:
    """Return by how much the groups have closed since infinity, for subjects (n)."""
    return np.asarray(rig.attachment.ruler_separation - separation_mm(rig, distances_mm))


def pupil_mm(rig: Rig, distances_mm: Floats) -> Floats | None:
    """Return the entrance pupil from the sensor for subjects (n), None where it is not known.

    It moves with a lens that extends, whether or not the front does; in a lens that focuses inside
    it is taken to stay (judgement, no source).
    """
    lens = rig.lens
    if lens.entrance_pupil is None:
        return None
    extends = lens.focusing == "extends" or lens.front_moves
    moved = rig.image_mm(distances_mm) - rig.optic.focal_length_mm if extends else 0.0
    return np.asarray(lens.entrance_pupil + moved + np.zeros(np.shape(distances_mm)))


def train(rig: Rig, distances_mm: Floats) -> Train | None:
    """Return the rig matched to subjects (n), None where the entrance pupil is not known."""
    pupil, attachment = pupil_mm(rig, distances_mm), rig.attachment
    if pupil is None:
        return None
    front_focal = attachment.ruler_separation / (attachment.squeeze - 1.0)
    moved = rig.carried_mm(distances_mm) + _rear_leads_mm(rig, distances_mm)
    return Train(
        focal_length_mm=rig.optic.focal_length_mm,
        image_mm=rig.image_mm(distances_mm),
        pupil_to_rear_mm=np.asarray(_rear_glass_mm(rig) + moved - pupil),
        separation_mm=separation_mm(rig, distances_mm),
        front_focal_mm=front_focal,
        rear_focal_mm=front_focal * attachment.squeeze,
        front_glass_mm=attachment.front_glass,
        rear_glass_mm=attachment.rear_glass,
    )


def _rear_glass_mm(rig: Rig) -> float:
    """Return the middle of the rear glass from the sensor, both rings at infinity."""
    return rig.front_glass_mm - rig.attachment.ruler_separation


def _rear_leads_mm(rig: Rig, distances_mm: Floats) -> Floats:
    """Return how far a moving rear group has gone forward inside its barrel."""
    moves = 1.0 if rig.attachment.moving_group == "rear" else 0.0
    return np.asarray(moves * closed_mm(rig, distances_mm))


def openings(kit: Kit, rig: Rig, distances_mm: Floats) -> Openings:
    """Return the clear apertures of a rig for subjects (n): both groups, chain and front.

    Every part clips at both its faces. The taking lens's own rim is not counted: it covers its
    sensor without attachment.
    """
    attachment, key = rig.attachment, f"attachments.{rig.attachment_id}"
    found: list[ClearAperture] = []
    missing: list[str] = []
    groups: tuple[tuple[Group, float, float | None], ...] = (
        ("rear", attachment.rear_glass, attachment.rear_clear_aperture),
        ("front", attachment.front_glass, attachment.front_clear_aperture),
    )
    for group, glass, clear in groups:
        if clear is None:
            missing.append(f"{key}.{group}_clear_aperture")
        else:
            found += glass_apertures(group, glass_mm=glass, width_mm=clear, height_mm=clear)
    for apertures, keys in _others(kit, rig, distances_mm):
        found += apertures
        missing += keys
    return Openings(tuple(found), tuple(dict.fromkeys(missing)))


def _others(
    kit: Kit, rig: Rig, distances_mm: Floats
) -> Iterator[tuple[list[ClearAperture], list[str]]]:
    """Yield each part of chain and front as apertures, and the keys of what is missing of it.

    The chain holds the barrel, in which a rear group that moves leaves it behind; the front rides
    with the front group (judgement, no source).
    """
    entered = kit.rigs[rig.rig_id]
    row, starts = parts(kit, entered), starts_mm(kit, entered)
    rear_mm = _rear_glass_mm(rig) + _rear_leads_mm(rig, distances_mm)
    for index in range(2, len(row)):
        where = index - 2 - len(entered.chain)
        if where != 0:
            group: Group = "rear" if where < 0 else "front"
            ahead = starts[index] - (rear_mm if where < 0 else np.asarray(rig.front_glass_mm))
            unplaced = placed_by(row, index, entered) if np.isnan(starts[index]) else ()
            yield _faces(row[index], group, ahead, unplaced)


def _faces(
    part: Part, group: Group, ahead_mm: Floats, unplaced: tuple[str, ...]
) -> tuple[list[ClearAperture], list[str]]:
    """Return a part's openings at both faces, at the one that is known where it has no thickness.

    `ahead_mm` is its face toward the camera, from the middle of its group's glass.
    """
    clear = getattr(part.table, "clear_aperture", None)
    thickness = getattr(part.table, "thickness", None)
    sizes = {"clear_aperture": clear, "thickness": thickness}
    missing = [*unplaced, *(f"{part.key}.{name}" for name, size in sizes.items() if size is None)]
    if clear is None or unplaced:
        return [], missing
    faces = {0.0, thickness or 0.0}
    return [
        ClearAperture(group, np.asarray(ahead_mm + face), clear, clear) for face in sorted(faces)
    ], missing
