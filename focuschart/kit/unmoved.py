"""Both rings at a setting that does not move, photographed through rulers and through strips."""

from __future__ import annotations

from typing import Annotated

from focuschart.kit.fields import Id, Key, Name, RulerError, RulerFigure
from focuschart.kit.reading import OfBothRings, PhotoSign, Strips, Taping


class Unmoved(OfBothRings):
    """What the ruler strips, or marker strips, showed at a setting that does not move.

    A hard stop is one. The distance is not known and not needed: what a marker strip shows there
    less what the ruler showed is how far its taping is off.
    """

    rig: Annotated[Id, Key("The rig that was read", '"portrait"', "")]
    setting: Annotated[Name, Key("The setting that did not move, in words", '"infinity stop"')]
    taking: Annotated[RulerFigure | None, Key("Figure on the taking lens's ring, mm", "12.1")] = (
        None
    )
    taking_error: Annotated[
        RulerError | None, Key("One standard deviation of it, mm; else 0.3", "0.015")
    ] = None
    attachment: Annotated[RulerFigure | None, Key("Figure on the attachment's, mm", "20.3")] = None
    attachment_error: Annotated[
        RulerError | None, Key("One standard deviation of it, mm; else 0.3", "0.015")
    ] = None
    photo: Annotated[
        PhotoSign | None, Key("The photograph that it was read from", '"1f0c9a52b7d4"')
    ] = None
    taping: Taping = 1
    strips: Annotated[
        Strips | None,
        Key("The codes of marker strips, if these were read", '{ taking = "K7QF3-S" }'),
    ] = None
