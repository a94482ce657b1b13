"""Where a rig's glass and openings stand for given subjects, as coverage needs it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from focuschart.chart.bench import attachment_law
from focuschart.chart.geometry import standing
from focuschart.kit.schema import Kit
from focuschart.optics.arrays import Floats
from focuschart.optics.coverage import ClearAperture, Train, glass_apertures
from focuschart.rig.assemble import Rig
from focuschart.rig.chain import parts
from focuschart.rig.loads import starts_mm


@dataclass(frozen=True, slots=True)
class Openings:
    """What light must pass, and the kit's keys of what is not known of it."""

    apertures: tuple[ClearAperture, ...]
    missing: tuple[str, ...]


def prior_constants(rig: Rig) -> Floats:
    """Return A, δ and S of a rig's attachment as entered: no mark hangs on what is made of them."""
    return np.array([prior.centre for prior in attachment_law(rig.attachment).priors])


def train(rig: Rig, distances_mm: Floats) -> Train | None:
    """Return the rig matched to subjects (n), None where the entrance pupil is not known."""
    pupil = rig.lens.entrance_pupil
    if pupil is None:
        return None
    constants = prior_constants(rig)
    place = standing(rig, attachment_law(rig.attachment), constants, distances_mm)
    carried = rig.carried_mm(distances_mm)
    return Train(
        focal_length_mm=rig.lens.focal_length,
        image_mm=rig.image_mm(distances_mm),
        pupil_to_rear_mm=np.asarray(place.rear_datum_mm - pupil - carried),
        separation_mm=place.match.separation_mm,
        front_focal_mm=constants[0],
        rear_focal_mm=constants[0] * constants[2],
        front_glass_mm=rig.attachment.front_glass,
        rear_glass_mm=rig.attachment.rear_glass,
    )


def openings(kit: Kit, rig: Rig) -> Openings:
    """Return the clear apertures of a rig: both groups, the chain behind and the front before."""
    attachment, key = rig.attachment, f"attachments.{rig.attachment_id}"
    found: list[ClearAperture] = []
    missing: list[str] = []
    for group, glass, clear in (
        ("rear", attachment.rear_glass, attachment.rear_clear_aperture),
        ("front", attachment.front_glass, attachment.front_clear_aperture),
    ):
        if clear is None:
            missing.append(f"{key}.{group}_clear_aperture")
        else:
            found += glass_apertures(group, glass_mm=glass, width_mm=clear, height_mm=clear)  # type: ignore[arg-type]
    for aperture, name in _others(kit, rig):
        if aperture is None:
            missing.append(name)
        else:
            found.append(aperture)
    return Openings(tuple(found), tuple(missing))


def _others(kit: Kit, rig: Rig) -> Iterator[tuple[ClearAperture | None, str]]:
    """Yield chain and front parts as apertures from their groups, None where a size is missing."""
    entered = kit.rigs[rig.rig_id]
    row, starts = parts(kit, entered), starts_mm(kit, entered)
    chain = range(2, 2 + len(entered.chain))
    front = range(3 + len(entered.chain), len(row))
    rear_mm = rig.front_glass_mm - rig.attachment.ruler_separation
    for index in (*chain, *front):
        clear = getattr(row[index].table, "clear_aperture", None)
        group, datum = ("rear", rear_mm) if index in chain else ("front", rig.front_glass_mm)
        if clear is None or np.isnan(starts[index]):
            yield None, f"{row[index].key}.clear_aperture"
        else:
            ahead = starts[index] - datum
            yield ClearAperture(group, ahead, clear, clear), ""  # type: ignore[arg-type]
