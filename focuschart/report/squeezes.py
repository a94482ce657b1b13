"""What a still says of the squeeze, as sentences and as data."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from focuschart.report.numbers import dumped, plain
from focuschart.report.photos import FORMAT
from focuschart.units import distance_label

if TYPE_CHECKING:
    from focuschart.photo.squeeze import Still
    from focuschart.units import Units

_APART = 1.5
"""How many of both intervals together a squeeze may lie off before a sentence says so."""


def as_json(still: Still) -> str:
    """Return a still as JSON, beside the list of photographs that the command has else."""
    refused = [] if still.refused is None else [still.refused._asdict()]
    photo = {"file": still.file, "rings": [], "distance_mm": plain(still.distance_mm),
             "refused": refused}  # fmt: skip
    return dumped({"format": FORMAT, "photos": [photo], "squeeze": _data(still)}) + "\n"


def _data(still: Still) -> dict[str, Any] | None:
    if still.read is None:
        return None
    expected = still.expected or (math.nan, math.nan)
    return {
        "rig": still.rig,
        "distance_mm": plain(still.distance_mm),
        "squeeze": plain(still.read.squeeze),
        "squeeze_95": plain(still.read.squeeze_95),
        "kit_squeeze": plain(expected[0]),
        "kit_squeeze_95": plain(expected[1]),
    }


def sentences(still: Still, *, rig: str, units: Units) -> Iterator[str]:
    """Yield what a still shows, and how that compares with the kit."""
    at = f"{rig} at {distance_label(still.distance_mm, units)}"
    if still.refused is not None:
        yield f"{still.file}: not read, {still.refused.code}: {still.refused.why}"
    if still.read is None:
        return
    read = still.read
    yield f"{still.file}: {at}: squeeze {_figure(read.squeeze, read.squeeze_95)} (95 %)."
    if read.slope > math.radians(1.0):
        yield f"The card stood {math.degrees(read.slope):.0f}° aslant, which is taken out."
    if still.expected is None:
        return
    squeeze, squeeze_95 = still.expected
    yield f"Without it the kit has {_figure(squeeze, squeeze_95)} there."
    if abs(read.squeeze - squeeze) > _APART * math.hypot(read.squeeze_95, squeeze_95):
        yield (
            "The two do not agree: look at rig, distance and bars, and whether both rings were in "
            "focus on the card."
        )


def _figure(squeeze: float, squeeze_95: float) -> str:
    return f"{squeeze:.3f} ± {squeeze_95:.3f}"
