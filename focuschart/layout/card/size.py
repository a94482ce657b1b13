"""Sizes of cards: those of standards by name, others in millimetres."""

from __future__ import annotations

from collections.abc import Sequence

from focuschart.errors import PageError, UnitError, shown
from focuschart.typed import typed_quantity

CARD_SIZES: dict[str, tuple[float, float]] = {
    "ID-1": (85.60, 53.98),
    "A7": (105.0, 74.0),
    "A6": (105.0, 148.0),
}
"""Width and height, mm; ISO/IEC 7810 and ISO 216."""

CORNER_MM = 3.18
"""Within the 2.88 to 3.48 mm of ISO/IEC 7810."""


def card_size(name: str) -> tuple[float, float]:
    """Return width and height of a named size or of "90 x 60 mm"; raises PageError."""
    if name in CARD_SIZES:
        return CARD_SIZES[name]
    try:
        sides: Sequence[str] = typed_quantity(name).removesuffix("mm").split("x")
        width, height = (float(side) for side in sides)
    except (UnitError, ValueError):
        raise PageError(
            f'unknown card size {shown(name)}: choose {", ".join(CARD_SIZES)} or "90 x 60 mm"'
        ) from None
    if not (40.0 <= height <= 200.0 and 40.0 <= width <= 200.0):
        raise PageError(f"card size {shown(name)} is not between 40 mm and 200 mm a side")
    return width, height
