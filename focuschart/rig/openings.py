"""Places and sizes of a rig's glass and openings for given subjects, as coverage needs them.

Coverage places each group in the middle of its glass. So the law's offset δ, the apparent place of
the thin front group, enters the match, but no place.

Parts in front of the attachment begin at its foremost glass, since the kit does not say how far its
rim is ahead of that. A close-up lens bends beams only in front of itself, inward: parts behind it
see no change, and parts in front clip a little less than computed (0.2 mm at the rim for one
dioptre and 5 mm).
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
    """The openings that light must pass, and the kit's keys of those not known."""

    apertures: tuple[ClearAperture, ...]
    missing: tuple[str, ...]


def separation_mm(rig: Rig, distances_mm: Floats) -> Floats:
    """Return d, the matched separation of the middles of both glasses, for subjects (n).

    It is computed from the kit alone, with A = separation/(S − 1), without readings: no mark
    depends on it.
    """
    law = attachment_law(rig.attachment)
    return law.matched(rig.glass_position_mm(distances_mm), prior_centres(law)).separation_mm


def closed_mm(rig: Rig, distances_mm: Floats) -> Floats:
    """Return how much nearer the groups are to each other than at infinity, for subjects (n)."""
    return np.asarray(rig.attachment.separation_mm - separation_mm(rig, distances_mm))


def unknown_train(rig: Rig) -> tuple[str, ...]:
    """Return the kit's keys without which there is no `train`."""
    keys = {
        f"taking_lenses.{rig.lens_id}.entrance_pupil": rig.lens.entrance_pupil,
        f"attachments.{rig.attachment_id}.ruler_separation": rig.attachment.ruler_separation,
    }
    return tuple(key for key, value in keys.items() if value is None)


def pupil_mm(rig: Rig, distances_mm: Floats) -> Floats | None:
    """Return the entrance pupil's distance from the sensor for subjects (n), None if not known.

    It moves with a lens that extends, even if its front does not; in a lens with internal focusing
    it is taken to stay (judgement, no source).
    """
    lens = rig.lens
    if lens.entrance_pupil is None:
        return None
    extends = lens.focusing == "extends" or lens.front_moves
    moved = rig.image_mm(distances_mm) - rig.optic.focal_length_mm if extends else 0.0
    return np.asarray(lens.entrance_pupil + moved + np.zeros(np.shape(distances_mm)))


def train(rig: Rig, distances_mm: Floats) -> Train | None:
    """Return the rig's optical train for subjects (n).

    It is None where the entrance pupil is not known, or how far apart the groups are. Glass of
    unknown thickness is taken as usual: 4 mm more or less move a glass's edge by 2 mm.
    """
    pupil, attachment = pupil_mm(rig, distances_mm), rig.attachment
    if pupil is None or attachment.ruler_separation is None:
        return None
    front_focal = attachment.separation_mm / (attachment.squeeze - 1.0)
    moved = rig.carried_mm(distances_mm) + _rear_travel_mm(rig, distances_mm)
    return Train(
        focal_length_mm=rig.optic.focal_length_mm,
        image_mm=rig.image_mm(distances_mm),
        pupil_to_rear_mm=np.asarray(_rear_glass_mm(rig) + moved - pupil),
        separation_mm=separation_mm(rig, distances_mm),
        front_focal_mm=front_focal,
        rear_focal_mm=front_focal * attachment.squeeze,
        front_glass_mm=attachment.front_glass_mm,
        rear_glass_mm=attachment.rear_glass_mm,
    )


def _rear_glass_mm(rig: Rig) -> float:
    """Return the middle of the rear glass from the sensor, both rings at infinity."""
    return rig.front_glass_mm - rig.attachment.separation_mm


def _rear_travel_mm(rig: Rig, distances_mm: Floats) -> Floats:
    """Return how far a rear group that focuses has moved forward in its barrel, else 0."""
    moves = 1.0 if rig.attachment.moving_group == "rear" else 0.0
    return np.asarray(moves * closed_mm(rig, distances_mm))


def openings(kit: Kit, rig: Rig, distances_mm: Floats) -> Openings:
    """Return the clear apertures of a rig for subjects (n): both groups, chain and front.

    Every part clips at both its faces. The taking lens's own rim is left out, since the lens covers
    its sensor without an attachment.
    """
    attachment, key = rig.attachment, f"attachments.{rig.attachment_id}"
    known: list[ClearAperture] = []
    missing: list[str] = []
    groups: tuple[tuple[Group, float, float | None], ...] = (
        ("rear", attachment.rear_glass_mm, attachment.rear_clear_aperture),
        ("front", attachment.front_glass_mm, attachment.front_clear_aperture),
    )
    for group, glass, clear in groups:
        if clear is None:
            missing.append(f"{key}.{group}_clear_aperture")
        else:
            known += glass_apertures(group, glass_mm=glass, width_mm=clear, height_mm=clear)
    for apertures, keys in _others(kit, rig, distances_mm):
        known += apertures
        missing += keys
    return Openings(tuple(known), tuple(dict.fromkeys(missing)))


def _others(
    kit: Kit, rig: Rig, distances_mm: Floats
) -> Iterator[tuple[list[ClearAperture], list[str]]]:
    """Yield the apertures of each part of chain and front, and its missing keys.

    The chain stays in place when a rear group moves; the front moves with the front group
    (judgement, no source).
    """
    entered = kit.rigs[rig.rig_id]
    row, starts = parts(kit, entered), starts_mm(kit, entered)
    rear_mm = _rear_glass_mm(rig) + _rear_travel_mm(rig, distances_mm)
    for index in range(2, len(row)):
        past_chain = index - 2 - len(entered.chain)  # 0 is the attachment itself
        if past_chain != 0:
            group: Group = "rear" if past_chain < 0 else "front"
            ahead = starts[index] - (rear_mm if past_chain < 0 else np.asarray(rig.front_glass_mm))
            unplaced = placed_by(row, index, entered) if np.isnan(starts[index]) else ()
            yield _faces(row[index], group, ahead, unplaced)


def _faces(
    part: Part, group: Group, ahead_mm: Floats, unplaced: tuple[str, ...]
) -> tuple[list[ClearAperture], list[str]]:
    """Return a part's apertures at both faces, or at the rear one if its thickness is unknown.

    `ahead_mm` is its face toward the camera, from the middle of its group's glass. With them come
    the missing keys.
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
