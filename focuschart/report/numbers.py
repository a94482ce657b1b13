"""Numbers as data for machines: what JSON cannot hold, or nobody could measure, left out."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from focuschart.units import steady


def plain(value: float) -> float | None:
    """Return a number as `steady` has it, None for infinity and nan."""
    return steady(float(value)) if math.isfinite(value) else None


def by_stop(stops: Iterable[float], values: Iterable[float]) -> dict[str, float | None]:
    """Return a value at each stop, by its f-number."""
    return {f"{stop:g}": plain(value) for stop, value in zip(stops, values, strict=True)}


def dumped(data: Mapping[str, Any] | Sequence[Any]) -> str:
    """Return data as JSON; raises ValueError for an infinity or nan left in it."""
    return json.dumps(data, indent=1, ensure_ascii=True, allow_nan=False)
