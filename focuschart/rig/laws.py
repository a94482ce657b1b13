"""The law of each ring of a rig, chosen by what the kit says of its lens or attachment."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from focuschart.kit.attachment import Attachment
from focuschart.kit.parts import TakingLens
from focuschart.rig.assemble import stated_lens
from focuschart.scale.cam import CamLaw, internal_law
from focuschart.scale.laws import AttachmentLaw, ExtensionLaw, TakingLaw

_TAKING_LAWS: Mapping[str, Callable[[TakingLens], TakingLaw]] = {
    "extends": lambda lens: ExtensionLaw(lens.focal_length, stated_lens(lens).hiatus_mm),
    "internal": lambda lens: internal_law(lens.nearest),
    "cam": lambda lens: CamLaw(nearest_mm=lens.nearest),
}
"""How a lens's ring is modelled, by the kit's `focusing`."""


def taking_law(lens: TakingLens) -> TakingLaw:
    """Return the law of a taking lens's ring; raises KeyError for a `focusing` without one."""
    return _TAKING_LAWS[lens.focusing](lens)


def attachment_law(attachment: Attachment) -> AttachmentLaw:
    """Return the law of an attachment's ring, its priors wider for what the kit leaves open."""
    return AttachmentLaw(
        squeeze=attachment.squeeze,
        ruler_separation_mm=attachment.separation_mm,
        front_glass_mm=attachment.front_glass_mm,
        separation_known=attachment.ruler_separation is not None,
        glass_known=attachment.front_glass is not None,
        moving=attachment.moving_group,
    )
