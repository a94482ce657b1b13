"""Types of keys: what a key means, and how lengths, masses, threads, names and ids are read."""

from __future__ import annotations

import math
import re
import tomllib
import unicodedata
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Annotated, Any, TypeVar

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, GetJsonSchemaHandler
from pydantic_core import CoreSchema, core_schema

from focuschart.errors import UnitError
from focuschart.kit.mistyped import parsed
from focuschart.typed import typed_length, typed_quantity
from focuschart.units import format_length, format_mass, parse_length, parse_mass

T = TypeVar("T")
LONGEST_NAME = 60
LONGEST_ID = 40
_LENGTH_PATTERN = r"^\s*(inf|∞|[0-9./ ]+(mm|cm|m|in|ft|\"|')(\s*[0-9./ ]+(in|\"))?)\s*$"
_PLAIN = r"\d+(?:\.\d+)?"
_RATIO = re.compile(rf"\s*({_PLAIN})\s*(?::\s*({_PLAIN}))?\s*")
_THREAD_PATTERN = rf"^\s*M?\s*({_PLAIN})\s*(?:mm)?(?:\s*[x×]\s*({_PLAIN})\s*(?:mm)?)?\s*$"
_THREAD = re.compile(_THREAD_PATTERN)
_DIAMETERS_MM = (15.0, 200.0)
_PITCHES_MM = (0.25, 3.0)
_FEWEST_PIXELS, _MOST_PIXELS = 100, 40_000
_NARROWEST, _WIDEST = 1.0, 4.0
NAMED_RATIOS: Mapping[str, float] = {"scope": 4096.0 / 1716.0, "flat": 3996.0 / 2160.0}
"""Digital cinema's two pictures, 2.387:1 and 1.85:1 (DCI, Digital Cinema System Specification).
Cropped to 2.39 instead, the 4096 pixels of scope leave two rows fewer."""


@dataclass(frozen=True, slots=True)
class Key:
    """What a key of the kit means: the one text for starter, interview and JSON schema.

    `example` is its value in the starter, as TOML. A meaning that is a sentence stands above the
    key, any other beside it; `note` is what the starter says in its place. `more`, in sentences,
    is what the schema and the guide, which have room for it, say after the meaning.
    """

    meaning: str
    example: str
    note: str | None = None
    more: str = ""

    @property
    def value(self) -> Any:
        """The example as the file's reader has it."""
        return tomllib.loads(f"value = {self.example}")["value"]


@dataclass(frozen=True, slots=True)
class Ask:
    """How the interview asks for a key; where `offered`, Enter takes its default or its example."""

    prompt: str
    help: str
    offered: bool = False


class Table(BaseModel):
    """A strict, frozen table: no unknown key, no conversion between types."""

    model_config = ConfigDict(strict=True, frozen=True, extra="forbid")

    @classmethod
    def __get_pydantic_json_schema__(
        cls, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        """Say what each key means, with its limits, its example, and its default as it is typed."""
        found = handler(schema)
        properties = handler.resolve_ref_schema(found)["properties"]
        known = keys_of(cls)
        for name, info in cls.model_fields.items():
            described = properties[name]
            key, limits = known.get(name), described.get("description")
            said = key.meaning if key else "; ".join(map(_about, tables_in(info.annotation)))
            meaning = f"{said.removesuffix('.')} ({limits})" if limits else said
            more = f"{meaning.removesuffix('.')}. {key.more}" if key and key.more else meaning
            described["description"] = more
            if key:
                described["examples"] = [key.value]
            if not key or described.get("default", ...) is None:
                described.pop("default", None)
            for kind in info.metadata:
                if isinstance(kind, Length | Quoted) and "default" in described:
                    described["default"] = kind.show(described["default"])
        return found


def _about(table: type[BaseModel]) -> str:
    return (table.__doc__ or "").split("\n")[0]


def tables_in(annotation: Any) -> Iterator[type[Table]]:
    """Yield the kinds of table inside dict[Id, Table], list[Table] or Table."""
    if isinstance(annotation, type) and issubclass(annotation, Table):
        yield annotation
    for argument in getattr(annotation, "__args__", ()):
        yield from tables_in(argument)


def keys_of(table: type[BaseModel]) -> dict[str, Key]:
    """Return what each key of a table means, but for those that hold tables of their own."""
    return _said(table, Key)


def asks_of(table: type[BaseModel]) -> dict[str, Ask]:
    """Return how the interview asks for keys of a table, for those that it asks for."""
    return _said(table, Ask)


def _said(table: type[BaseModel], kind: type[T]) -> dict[str, T]:
    fields = table.model_fields.items()
    return {name: data for name, info in fields for data in info.metadata if isinstance(data, kind)}


class _Read(ABC):
    """A value of the file that is read by its own rule."""

    __slots__ = ()

    @abstractmethod
    def read(self, value: object) -> object:
        """Return the value as the kit has it; raises ValueError with the cure."""

    def __get_pydantic_core_schema__(self, _source: Any, _handler: Any) -> CoreSchema:
        """Validate by `read` alone."""
        return core_schema.no_info_plain_validator_function(self.read)


@dataclass(frozen=True, slots=True)
class Length(_Read):
    """A quoted length between two limits in mm; an infinite upper limit admits "inf"."""

    low_mm: float
    high_mm: float

    def read(self, value: object) -> float:
        """Return mm; raises ValueError with the cure."""
        if not isinstance(value, str):
            raise ValueError('must be quoted text with a unit, for example "72 mm"')
        found = parsed(value, parse_length, typed_length)
        if not self.low_mm <= found <= self.high_mm:
            raise ValueError(f"must be {self._limits()}")
        return found

    def _limits(self) -> str:
        if math.isinf(self.high_mm):
            return f"{format_length(self.low_mm)} or more"
        return f"between {format_length(self.low_mm)} and {format_length(self.high_mm)}"

    def show(self, length_mm: float) -> str:
        """Return a length as the file has it."""
        return format_length(length_mm)

    def __get_pydantic_json_schema__(self, _schema: Any, _handler: Any) -> dict[str, Any]:
        return {"type": "string", "pattern": _LENGTH_PATTERN, "description": self._limits()}


def _printable(text: str) -> str:
    if any(unicodedata.category(character).startswith("C") for character in text):
        raise ValueError("must not hold control characters")
    if not text.strip():
        raise ValueError("must not be blank")
    return text


Name = Annotated[str, Field(min_length=1, max_length=LONGEST_NAME), AfterValidator(_printable)]
ID_PATTERN = rf"^[a-z0-9](?:[a-z0-9-]{{0,{LONGEST_ID - 2}}}[a-z0-9])?$"
Id = Annotated[str, Field(pattern=ID_PATTERN)]
"""Ids become parts of file names, so nothing that could be a path is an id."""


def number(low: float, high: float) -> Any:
    """Return the limits of a plain number; nan and infinity never pass."""
    return Field(ge=low, le=high, allow_inf_nan=False)


Distance = Annotated[float, Length(100.0, math.inf)]
Stop = Annotated[float, number(0.7, 64.0)]
_CODE = re.compile(r"[2-9A-HJKMNP-Z]{5}-[2-9A-HJKMNP-Z]")


def _code(value: str) -> str:
    plain = "".join(value.split()).upper().replace("-", "")
    found = f"{plain[:5]}-{plain[5:]}"
    if not _CODE.fullmatch(found):
        raise ValueError('must be a code as printed on a strip, for example "K7QF3-S"')
    return found


StripCode = Annotated[str, AfterValidator(_code)]
RULER_MM = (-1000.0, 2000.0)
RulerFigure = Annotated[float, number(*RULER_MM)]
RulerError = Annotated[float, number(0.001, 20.0)]


@dataclass(frozen=True, slots=True)
class Quoted(_Read):
    """A quoted quantity between two limits; `parse` reads its unit, `show` writes it."""

    parse: Callable[[str], float]
    show: Callable[[float], str]
    low: float
    high: float
    example: str

    def read(self, value: object) -> float:
        """Return the quantity in its own unit; raises ValueError with the cure."""
        text = _text(value, self.example)
        if self.low >= 0.0 and text.strip().startswith("-"):
            raise ValueError(f"must be {self._limits()}")
        found = parsed(text, self.parse, typed_quantity)
        if not self.low <= found <= self.high:
            raise ValueError(f"must be {self._limits()}")
        return found

    def _limits(self) -> str:
        return f"between {self.show(self.low)} and {self.show(self.high)}"

    def __get_pydantic_json_schema__(self, _schema: Any, _handler: Any) -> dict[str, Any]:
        return {"type": "string", "description": self._limits()}


@dataclass(frozen=True, slots=True)
class Thread:
    """A metric thread, such as M72 × 0.75; `pitch_mm` is None where the pitch is not known."""

    diameter_mm: float
    pitch_mm: float | None = None

    def __str__(self) -> str:
        pitch = "" if self.pitch_mm is None else f" x {self.pitch_mm:g}"
        return f"{self.diameter_mm:g} mm{pitch}"


@dataclass(frozen=True, slots=True)
class ThreadText(_Read):
    """A quoted thread: diameter, and pitch where it is known. Both in mm, as filters have them."""

    def read(self, value: object) -> Thread:
        """Return the thread; raises ValueError with the cure."""
        found = parsed(_text(value, "72 mm x 0.75"), _thread, typed_quantity)
        diameter, pitch = float(found[1]), float(found[2]) if found[2] else None
        sizes = (("diameter", diameter, _DIAMETERS_MM), ("pitch", pitch, _PITCHES_MM))
        for what, size, (low, high) in sizes:
            if size is not None and not low <= size <= high:
                raise ValueError(f"a thread's {what} must be between {low:g} mm and {high:g} mm")
        return Thread(diameter, pitch)

    def __get_pydantic_json_schema__(self, _schema: Any, _handler: Any) -> dict[str, Any]:
        return {
            "type": "string",
            "pattern": _THREAD_PATTERN,
            "description": "diameter and, if known, pitch, in mm",
        }


@dataclass(frozen=True, slots=True)
class Pixels(_Read):
    """Two whole numbers, columns and rows."""

    def read(self, value: object) -> list[int]:
        """Return columns and rows; raises ValueError with the cure."""
        if not isinstance(value, list) or [type(count) for count in value] != [int, int]:
            raise ValueError("must be two whole numbers, columns and rows, such as [6000, 4000]")
        if not all(_FEWEST_PIXELS <= count <= _MOST_PIXELS for count in value):
            raise ValueError(f"each must be between {_FEWEST_PIXELS} and {_MOST_PIXELS}")
        return value

    def __get_pydantic_json_schema__(self, _schema: Any, _handler: Any) -> dict[str, Any]:
        count = {"type": "integer", "minimum": _FEWEST_PIXELS, "maximum": _MOST_PIXELS}
        return {"type": "array", "items": count, "minItems": 2, "maxItems": 2}


def mass(low_g: float, high_g: float) -> Quoted:
    """Return the limits of a quoted mass, read into grams."""
    return Quoted(parse_mass, format_mass, low_g, high_g, "640 g")


def offset(limit_mm: float) -> Quoted:
    """Return the limits of a quoted place along the axis, toward the subject positive, in mm."""
    return Quoted(_parse_offset, format_length, -limit_mm, limit_mm, "-12 mm")


def magnification(low: float, high: float) -> Quoted:
    """Return the limits of a quoted magnification, image over subject, read into a number."""
    return Quoted(_parse_magnification, lambda ratio: f"1:{1.0 / ratio:.10g}", low, high, "1:9.5")


def time(low_ms: float, high_ms: float) -> Quoted:
    """Return the limits of a quoted time, read into milliseconds."""
    parse = partial(_amount, units={"ms": 1.0, "s": 1000.0}, example='"18 ms"')
    return Quoted(parse, "{:.10g} ms".format, low_ms, high_ms, "18 ms")


def moment(low_nm: float, high_nm: float) -> Quoted:
    """Return the limits of a quoted moment, read into newton metres."""
    parse = partial(_amount, units=dict.fromkeys(("N m", "N·m", "Nm"), 1.0), example='"2.5 N m"')
    return Quoted(parse, "{:.10g} N m".format, low_nm, high_nm, "2.5 N m")


def angle(low_deg: float, high_deg: float) -> Quoted:
    """Return the limits of a quoted angle, read into radians."""
    units = dict.fromkeys(("deg", "°"), math.radians(1.0))
    parse = partial(_amount, units=units, example='"1 deg" or "0.5°"')
    low, high = math.radians(low_deg), math.radians(high_deg)
    return Quoted(parse, lambda rad: f"{math.degrees(rad):.10g} deg", low, high, "1 deg")


def share(low: float, high: float) -> Quoted:
    """Return the limits of a quoted share, such as "0.07 %", read into a number."""

    def parse(text: str) -> float:
        return round(_amount(text, units={"%": 0.01}, example='"0.07 %"'), 12)

    return Quoted(parse, lambda number: f"{100.0 * number:.10g} %", low, high, "0.07 %")


def _thread(text: str) -> re.Match[str]:
    found = _THREAD.fullmatch(text)
    if not found:
        raise UnitError('write diameter and pitch in mm, for example "72 mm x 0.75"')
    return found


def parse_ratio(text: str) -> float:
    """Return the width over the height that "2.39", "2.39:1", "16:9", "scope" or "flat" says.

    Raises ValueError, with the cure, for anything else, and for ratios that no film has.
    """
    if text.strip() in NAMED_RATIOS:
        return NAMED_RATIOS[text.strip()]
    ratio = parsed(text, _ratio, typed_quantity)
    if not _NARROWEST <= ratio <= _WIDEST:
        raise ValueError(f"must be between {_NARROWEST:g} and {_WIDEST:g}, width over height")
    return ratio


def _ratio(text: str) -> float:
    found = _RATIO.fullmatch(text)
    if not found or not float(found[2] or 1.0):
        raise UnitError('write width over height, for example "2.39", "16:9", "scope" or "flat"')
    return float(found[1]) / float(found[2] or 1.0)


def _ratio_text(text: str) -> str:
    parse_ratio(text)
    return text


Delivery = Annotated[str, AfterValidator(_ratio_text)]


def _text(value: object, example: str) -> str:
    if not isinstance(value, str):
        raise ValueError(f'must be quoted text with a unit, for example "{example}"')
    return value


def _amount(text: str, *, units: Mapping[str, float], example: str) -> float:
    """Return what a number and one of some units make; raises UnitError for anything else."""
    found = re.fullmatch(rf"\s*({_PLAIN})\s*({'|'.join(units)})\s*", text)
    if not found:
        raise UnitError(f"write a number and a unit, for example {example}")
    return float(found[1]) * units[found[2]]


def _parse_offset(text: str) -> float:
    stripped = text.strip()
    size = parse_length(stripped.removeprefix("-"))
    return -size if stripped.startswith("-") else size


def _parse_magnification(text: str) -> float:
    found = _RATIO.fullmatch(text)
    if not found or not found[2] or not float(found[2]):
        raise UnitError('write image over subject, for example "1:9.5"')
    return float(found[1]) / float(found[2])
