"""An anamorphic attachment, and what is supposed of its glass where the kit does not say."""

from __future__ import annotations

from typing import Annotated, Literal

from focuschart.kit.fields import Ask, Key, Length, Name, Table, number, offset
from focuschart.kit.parts import (
    ASK_NAME,
    FRONT_APERTURE,
    NEAREST,
    NO_LENGTH,
    PRINTED,
    READY,
    ClearAperture,
    Mass,
    Nearest,
    OptionalThread,
)
from focuschart.kit.ring import Ring

USUAL_FRONT_FOCAL_MM = 90.0
"""Of the front group, so that the separation is 90 mm · (squeeze − 1): judgement, no source."""
USUAL_GLASS_MM = 11.0
"""Thickness of a group's glass: judgement, no source."""

_SEPARATION_HELP = (
    "With its ring at infinity, lay a ruler along the barrel: from the middle of the front "
    "group's glass to the middle of the rear group's. A few millimetres more or less do no "
    "harm, the readings correct it."
)
_GLASS = "Thickness of the group's glass on the axis"
_NO_GLASS = "Without it 11 mm is supposed."
_GLASS_HELP = (
    "How thick the glass of this group is on its axis, all its elements together. Estimate it "
    "from the side with a caliper if you cannot measure it; 2 mm more or less does little harm."
)
_ATTACHMENT_HELP = (
    "With its ring at infinity, from the rim that meets clamp or step ring to the foremost "
    'point of the front glass. Answer "skip" to measure each rig as a whole instead.'
)

Glass = Annotated[float | None, Length(0.5, 80.0)]


class Attachment(Table):
    """An afocal anamorphic attachment with its own focus."""

    name: Annotated[Name, Key(PRINTED, '"Twofold"', ""), ASK_NAME]
    squeeze: Annotated[
        float,
        number(1.05, 3.0),
        Key("Nominal, at infinity", "2"),
        Ask(
            "squeeze",
            "The nominal squeeze at infinity, a plain number such as 1.33, 1.5 or 2.",
            offered=True,
        ),
    ]
    moving_group: Annotated[
        Literal["front", "rear"],
        Key(
            "The group that the ring moves",
            '"front"',
            more="Turn the ring and look in from the front: the front glass comes and goes, or "
            "stands still while the rear one moves.",
        ),
        Ask(
            "the group its ring moves, front or rear",
            "Turn the ring and look: front if the front glass comes forward or goes back, "
            "rear if it stands still and the rear glass moves.",
            offered=True,
        ),
    ]
    ruler_separation: Annotated[
        float | None,
        Length(5.0, 500.0),
        Key(
            "Middle of front glass to middle of rear glass, at infinity",
            '"88 mm"',
            more="Without it a usual one is supposed, which readings correct.",
        ),
        Ask("ruler separation of front and rear glass", _SEPARATION_HELP),
    ] = None
    front_glass: Annotated[
        Glass,
        Key(_GLASS, '"12 mm"', more=_NO_GLASS),
        Ask("thickness of the front glass", _GLASS_HELP),
    ] = None
    rear_glass: Annotated[
        Glass,
        Key(_GLASS, '"14 mm"', more=_NO_GLASS),
        Ask("thickness of the rear glass", _GLASS_HELP),
    ] = None
    nearest: Annotated[Nearest, Key(NEAREST, '"1.1 m"')]
    length: Annotated[
        float | None,
        Length(5.0, 600.0),
        Key(
            "Rear rim to the front glass's foremost point, at infinity",
            '"95 mm"',
            more=NO_LENGTH,
        ),
        Ask("length from rear rim to foremost glass", _ATTACHMENT_HELP),
    ] = None
    rear_thread: Annotated[
        OptionalThread,
        Key(
            "Thread, male, at its rear rim",
            '"72 mm x 0.75"',
            "if it has one; what a clamp holds is the barrel:",
        ),
    ] = None
    barrel_diameter: Annotated[
        float | None, Length(15.0, 300.0), Key("Across the rear barrel", '"64 mm"')
    ] = None
    front_thread: Annotated[OptionalThread, Key("For filters", '"77 mm x 0.75"')] = None
    rear_clear_aperture: Annotated[
        ClearAperture, Key("Diameter of rear glass that light passes", '"48 mm"')
    ] = None
    front_clear_aperture: Annotated[
        ClearAperture, Key(FRONT_APERTURE, '"66 mm"', "and of front glass")
    ] = None
    mass: Annotated[Mass, Key(READY, '"820 g"', "")] = None
    centre_of_gravity: Annotated[
        float | None,
        offset(600.0),
        Key("From its rear rim, at infinity; it balances there", '"55 mm"'),
    ] = None
    ring: Ring

    @property
    def separation_mm(self) -> float:
        """The ruler separation, or that of a usual attachment of this squeeze."""
        if self.ruler_separation is None:
            return USUAL_FRONT_FOCAL_MM * (self.squeeze - 1.0)
        return self.ruler_separation

    @property
    def front_glass_mm(self) -> float:
        """The thickness of the front glass, or a usual one."""
        return USUAL_GLASS_MM if self.front_glass is None else self.front_glass

    @property
    def rear_glass_mm(self) -> float:
        """The thickness of the rear glass, or a usual one."""
        return USUAL_GLASS_MM if self.rear_glass is None else self.rear_glass
