"""A bench reading, or one of a camera test: what both rings showed when they were in focus."""

from __future__ import annotations

from typing import Annotated, Any, Literal, Self

from pydantic import Field, model_validator

from focuschart.kit.fields import (
    Distance,
    Id,
    Key,
    Length,
    RulerError,
    RulerFigure,
    Stop,
    StripCode,
    Table,
    offset,
)

MOST_HEIGHT_MM = 60.0
"""From the middle of the picture to a corner of the largest sensor, and some more."""
MOST_TICK_MM = 2.0
"""Beyond the last tick of a comb, and some more."""


class Strips(Table):
    """The marker strips that figures were read through, by the code found on each ring."""

    taking: Annotated[
        StripCode | None, Key("The code of the strip on the taking lens", '"K7QF3-S"')
    ] = None
    attachment: Annotated[
        StripCode | None, Key("The code of the strip on the attachment", '"22222-2"')
    ] = None


class Ticks(Table):
    """Ticks of the indexes' combs that figures were read at, and marks are set by."""

    taking: Annotated[float, offset(MOST_TICK_MM), Key("On the taking lens", '"0.5 mm"')] = 0.0
    attachment: Annotated[float, offset(MOST_TICK_MM), Key("On the attachment", '"-0.25 mm"')] = 0.0


class IndexSetAt(Table):
    """The distance at which each ring's index was set by focus, after its strip was taped on."""

    taking: Annotated[
        Distance | None, Key("Where the taking lens's index was set by focus", '"3 m"')
    ] = None
    attachment: Annotated[
        Distance | None, Key("Where the attachment's index was set by focus", '"3 m"')
    ] = None


PhotoSign = Annotated[str, Field(pattern="^[0-9a-f]{12}$")]
"""What names a photograph: the first digits of its file's SHA-256."""
Taping = Annotated[
    int, Field(ge=1, le=999), Key("Counts on each time a ruler or strip is taped anew", "2")
]


class OfBothRings(Table):
    """What was read of both rings, of one at least."""

    def _said(self, key: str) -> Any:
        return getattr(self, key)

    @model_validator(mode="after")
    def _has_a_figure(self) -> Self:
        if self._said("taking") is None and self._said("attachment") is None:
            raise ValueError("give the ruler figure of taking, of attachment or of both")
        return self

    def strip(self, which: str) -> str | None:
        """Return the code of the marker strip that a ring was read through, None for a ruler."""
        strips: Strips | None = self._said("strips")
        return None if strips is None else getattr(strips, which)

    def error_mm(self, which: str) -> float | None:
        """Return one standard deviation of a ring's figure, None where it is that of the eye."""
        error: float | None = self._said(f"{which}_error")
        return error


class Reading(OfBothRings):
    """Both rings focused on one target, and what the ruler strips showed."""

    rig: Annotated[Id, Key("The rig that was read", '"portrait"', "")]
    distance: Annotated[Distance, Key("From the sensor mark", '"1.2 m"')]
    distance_error: Annotated[
        float | None,
        Length(0.1, 1e6),
        Key("One standard deviation; else 2 mm or 0.1 %, if greater", '"3 m"'),
    ] = None
    stop: Annotated[Stop, Key("The stop focused at", "2.8")]
    height: Annotated[
        float,
        offset(MOST_HEIGHT_MM),
        Key("Of the target above the middle of the picture, on the sensor; else 0", '"4 mm"'),
    ] = 0.0
    taking: Annotated[RulerFigure | None, Key("Figure on the taking lens's ruler, mm", "85.1")] = (
        None
    )
    attachment: Annotated[
        RulerFigure | None,
        Key("Figure on the attachment's; one of the two may be missing", "160.3"),
    ] = None
    taking_error: Annotated[
        RulerError | None,
        Key("One standard deviation of that figure, mm, if it was not read by eye", "0.015"),
    ] = None
    attachment_error: Annotated[
        RulerError | None, Key("The same for the attachment's figure", "0.015")
    ] = None
    photo: Annotated[
        PhotoSign | None,
        Key(
            "The photograph that it was read from, as `focuschart photo` names it", '"1f0c9a52b7d4"'
        ),
    ] = None
    side: Annotated[
        Literal["nearer", "farther"] | None,
        Key("The side that both rings came from", '"nearer"'),
    ] = None
    taping: Taping = 1
    strips: Annotated[
        Strips | None,
        Key(
            "The codes of marker strips, if figures were read through these, not rulers",
            '{ taking = "K7QF3-S", attachment = "22222-2" }',
        ),
    ] = None
    ticks: Annotated[
        Ticks | None,
        Key("The ticks of the indexes' combs read at, if not their lines", '{ taking = "0.5 mm" }'),
    ] = None
    ignore: Annotated[bool, Key("True leaves this reading out of the fit", "false")] = False

    def at_line_mm(self, which: str) -> float | None:
        """Return a ring's figure as the index's line would have shown it, None if not read."""
        figure = getattr(self, which)
        return None if figure is None else figure - self.tick_mm(which)

    def tick_mm(self, which: str) -> float:
        """Return the tick that a ring was read at, toward larger figures positive; 0 the line."""
        return 0.0 if self.ticks is None else getattr(self.ticks, which)
