"""The topics of the facts behind a print, and how a change of each is told.

A pack's record keeps facts under the topics' texts, and a print's code is a hash of them: a text
that is changed makes every former print unknown.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import Any, NamedTuple, TypedDict

from focuschart.rig.ring import Which


class Topic(StrEnum):
    """One fact of a print."""

    UNITS = "units"
    RIG_NAME = "rig name"
    CONTRADICTED = "contradicted"
    TAKING_NAME = "taking name"
    ATTACHMENT_NAME = "attachment name"
    TAKING_RING = "taking ring"
    ATTACHMENT_RING = "attachment ring"
    TAKING_SCALE = "taking scale"
    ATTACHMENT_SCALE = "attachment scale"
    DISTANCES = "distances"
    STOPS = "stops"
    FOCAL_LENGTH = "focal length"
    HIATUS = "hiatus"
    CIRCLE = "circle"
    GLASS = "glass"
    LENS_KNOWN_BY = "lens known by"
    TAKING_FIT = "taking fit"
    TAKING_READINGS = "taking readings"
    ATTACHMENT_FIT = "attachment fit"
    ATTACHMENT_READINGS = "attachment readings"
    SQUEEZES = "squeezes measured"
    READ_ON = "read on"
    READ_TOGETHER = "read together"
    FRONT_GLASS = "front glass"
    FRONT_MOVES = "front moves"
    NEAREST = "nearest"
    FOCUS_HEIGHT = "focus height"
    HEIGHTS = "heights"
    CORNERS = "corners"
    GAUGE = "gauge"
    TAKING_BY_HAND = "taking by hand"
    ATTACHMENT_BY_HAND = "attachment by hand"
    CAMERA = "camera"
    TAKING_LENS = "taking lens"
    CHAIN = "chain"
    ATTACHMENT = "attachment"
    FRONT = "front"
    FOREMOST_GLASS = "foremost glass"
    SUPPORT = "support"
    CARRIER = "carrier"
    CLOSE_UP_LENSES = "close-up lenses"
    DELIVERIES = "deliveries"
    DESQUEEZE = "desqueeze"
    LEAN_LIMIT = "lean limit"
    FRONT_UNIT = "front unit"


Facts = Mapping[Topic, Any]
"""Facts by topic, as JSON would hold them; infinity is null."""

NAME: Mapping[Which, Topic] = {"taking": Topic.TAKING_NAME, "attachment": Topic.ATTACHMENT_NAME}
RING: Mapping[Which, Topic] = {"taking": Topic.TAKING_RING, "attachment": Topic.ATTACHMENT_RING}
SCALE: Mapping[Which, Topic] = {"taking": Topic.TAKING_SCALE, "attachment": Topic.ATTACHMENT_SCALE}
BY_HAND: Mapping[Which, Topic] = {
    "taking": Topic.TAKING_BY_HAND, "attachment": Topic.ATTACHMENT_BY_HAND,
}  # fmt: skip
READINGS: Mapping[Which, Topic] = {
    "taking": Topic.TAKING_READINGS, "attachment": Topic.ATTACHMENT_READINGS,
}  # fmt: skip
ROWS = (Topic.CHAIN, Topic.FRONT, Topic.CLOSE_UP_LENSES)
"""Topics that are parts in a row."""
PLACES = (
    Topic.CAMERA, Topic.TAKING_LENS, Topic.CHAIN, Topic.ATTACHMENT, Topic.FRONT, Topic.SUPPORT,
    Topic.CARRIER, Topic.LEAN_LIMIT, Topic.FRONT_UNIT,
)  # fmt: skip
"""Topics of a setup card only if that card prints where the rig's parts are."""
SETUP = (
    *PLACES, Topic.FOREMOST_GLASS, Topic.CLOSE_UP_LENSES, Topic.DELIVERIES, Topic.DESQUEEZE,
)  # fmt: skip
"""Topics that only setup cards print."""
ATTACHMENT_GLASS = (
    Topic.ATTACHMENT_FIT, Topic.FRONT_GLASS, Topic.FRONT_MOVES, Topic.READ_ON,
    Topic.ATTACHMENT_READINGS, Topic.SQUEEZES,
)  # fmt: skip
"""Facts of the attachment, which a taking ring's print has only where they limit its zone."""

ReadingFacts = TypedDict(
    "ReadingFacts",
    {
        "rig": str,
        "distance": float | None,
        "distance error": float | None,
        "stop": float,
        "height": float,
        "figure": float,
        "figure error": float,
        "side": str,
        "taping": int,
        "strip": bool,
        "plate": float,
        "lens": str,
        "focal length": float,
        "front moves": bool,
        "front glass": float,
        "circle": float,
    },
    total=False,
)
"""One reading of a ring: what was read, and what the fit needs of the rig that it was read on."""


class Wording(NamedTuple):
    """How a change is told: topic in words, unit, whether values are given, and if in quotes."""

    words: str
    unit: str | None = None
    values: bool = True
    quoted: bool = False


_WORDINGS: Mapping[Topic, Wording] = {
    Topic.RIG_NAME: Wording("rig name", quoted=True),
    Topic.TAKING_NAME: Wording("taking lens", quoted=True),
    Topic.ATTACHMENT_NAME: Wording("attachment", quoted=True),
    Topic.CONTRADICTED: Wording("whether its readings agree", values=False),
    Topic.GAUGE: Wording("how much of the picture's height a head takes", values=False),
    Topic.CORNERS: Wording("where the picture's corners are clean", values=False),
    Topic.FRONT_MOVES: Wording("whether focusing carries the front", values=False),
    Topic.NEAREST: Wording("where a ring's end cuts its zone off", values=False),
    Topic.READ_ON: Wording("whether the attachment was read on this taking lens", values=False),
    Topic.TAKING_SCALE: Wording("what is engraved on the taking ring", values=False),
    Topic.ATTACHMENT_SCALE: Wording("what is engraved on the attachment", values=False),
    Topic.SQUEEZES: Wording("the squeeze as measured", values=False),
    Topic.CIRCLE: Wording("circle of confusion", "mm"),
    Topic.GLASS: Wording("glass of front and rear group", "mm"),
    Topic.FOCAL_LENGTH: Wording("focal length", "mm"),
    Topic.HIATUS: Wording("hiatus", "mm"),
    Topic.HEIGHTS: Wording("how far middle and edge of the picture lie apart", values=False),
    Topic.FOCUS_HEIGHT: Wording("height in the picture", "mm"),
    Topic.FRONT_UNIT: Wording("front unit", "g"),
    Topic.LEAN_LIMIT: Wording("lean limit", "deg"),
}


def wording(topic: Topic) -> Wording:
    """Return how a change of a fact is told: by its own text where nothing else is known."""
    return _WORDINGS.get(topic, Wording(topic.value))
