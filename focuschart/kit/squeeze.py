"""The squeeze of a rig at one distance, as measured."""

from __future__ import annotations

from typing import Annotated

from focuschart.kit.fields import Distance, Id, Key, Table, number
from focuschart.kit.reading import PhotoSign


class MeasuredSqueeze(Table):
    """How much a rig squeezed a flat card at one distance, such as one frame of it showed.

    It is height over width of what is square, both as shares of the card's own, on the sensor.
    """

    rig: Annotated[Id, Key("The rig that it was measured on", '"portrait"', "")]
    distance: Annotated[Distance, Key("Of the card from the sensor mark", '"2 m"')]
    squeeze: Annotated[float, number(1.0, 4.0), Key("The squeeze there", "1.852")]
    squeeze_error: Annotated[float, number(1e-4, 0.2), Key("One standard deviation of it", "0.003")]
    photo: Annotated[
        PhotoSign | None,
        Key("The frame that it was read from, as `focuschart photo` names it", '"1f0c9a52b7d4"'),
    ] = None
    ignore: Annotated[bool, Key("True leaves it out of the fit", "false")] = False
