"""Field types of the kit's tables: lengths and plain numbers with their limits, names and ids."""

from __future__ import annotations

import math
import unicodedata
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, ConfigDict, Field
from pydantic_core import CoreSchema, core_schema

from focuschart.errors import UnitError
from focuschart.units import format_length, parse_length

LONGEST_NAME = 60
LONGEST_ID = 40
_LENGTH_PATTERN = r"^\s*(inf|∞|[0-9./ ]+(mm|cm|m|in|ft|\"|')(\s*[0-9./ ]+(in|\"))?)\s*$"


@dataclass(frozen=True, slots=True)
class Length:
    """A quoted length between two limits in mm; an infinite upper limit admits "inf"."""

    low_mm: float
    high_mm: float
    description: str

    def read(self, value: object) -> float:
        """Return mm; raises ValueError with the cure."""
        if not isinstance(value, str):
            raise ValueError('must be quoted text with a unit, for example "72 mm"')
        try:
            found = parse_length(value)
        except UnitError as error:
            raise ValueError(str(error)) from None
        if not self.low_mm <= found <= self.high_mm:
            raise ValueError(f"must be {self._limits()}")
        return found

    def _limits(self) -> str:
        if math.isinf(self.high_mm):
            return f"{format_length(self.low_mm)} or more"
        return f"between {format_length(self.low_mm)} and {format_length(self.high_mm)}"

    def __get_pydantic_core_schema__(self, _source: Any, _handler: Any) -> CoreSchema:
        """Validate by `read` alone."""
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(self, _schema: Any, _handler: Any) -> dict[str, Any]:
        """Describe the text an editor should expect."""
        return {
            "type": "string",
            "pattern": _LENGTH_PATTERN,
            "description": f"{self.description} ({self._limits()})",
        }


def _printable(text: str) -> str:
    if any(unicodedata.category(character).startswith("C") for character in text):
        raise ValueError("must not hold control characters")
    if not text.strip():
        raise ValueError("must not be blank")
    return text


Name = Annotated[
    str,
    Field(min_length=1, max_length=LONGEST_NAME, description="As printed on strips and card"),
    AfterValidator(_printable),
]
ID_PATTERN = rf"^[a-z0-9](?:[a-z0-9-]{{0,{LONGEST_ID - 2}}}[a-z0-9])?$"
Id = Annotated[str, Field(pattern=ID_PATTERN)]
"""Ids become parts of file names, so nothing that could be a path is an id."""


def number(low: float, high: float, description: str) -> Any:
    """Return the limits of a plain number; nan and infinity never pass."""
    return Field(ge=low, le=high, allow_inf_nan=False, description=description)


Distance = Annotated[
    float, Length(100.0, math.inf, 'From the sensor mark: "1.2 m", "4 ft 6 in" or "inf"')
]
Stop = Annotated[float, number(0.7, 64.0, "F-number as engraved")]
RulerFigure = Annotated[float, number(-1000.0, 2000.0, "Figure read on the ruler strip, mm")]


class Table(BaseModel):
    """A strict, frozen table: no unknown key, no conversion between types."""

    model_config = ConfigDict(strict=True, frozen=True, extra="forbid")
