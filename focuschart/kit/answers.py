"""How typed answers are read: by the kit's own fields, so that both have the same limits."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import partial
from typing import Annotated, Any, Literal, get_args, get_origin

from pydantic import BaseModel, TypeAdapter, ValidationError
from pydantic.fields import FieldInfo

from focuschart.kit.fields import Length
from focuschart.kit.interview import Reader

SKIP = "skip"

_NUMBER = re.compile(r"(?:f/)?([0-9]+(?:\.[0-9]+)?|\.[0-9]+)x?", re.IGNORECASE)


def reader(table: type[BaseModel], key: str, *, required: bool = False) -> Reader:
    """Return what reads an answer for one field; optional lengths can be skipped (None)."""
    info = table.model_fields[key]
    if info.annotation is bool:
        return yes_no
    if get_origin(info.annotation) is Literal:
        return partial(choice, options=get_args(info.annotation))
    for rule in info.metadata:
        if isinstance(rule, Length):
            optional = not required and type(None) in get_args(info.annotation)
            return partial(_length_or_skip if optional else _length, rule=rule)
    adapter: TypeAdapter[Any] = TypeAdapter(_annotated(info))
    return partial(_number if info.annotation is float else _checked, adapter=adapter)


def choice(text: str, *, options: Sequence[str]) -> str:
    """Return the option that `text` is, or alone begins like it."""
    wanted = text.casefold()
    meant = [o for o in options if o == wanted] or [o for o in options if o.startswith(wanted)]
    if len(meant) != 1:
        raise ValueError(f"answer {', '.join(options[:-1])} or {options[-1]}")
    return meant[0]


def yes_no(text: str) -> bool:
    """Return whether `text` is a yes."""
    return choice(text, options=("yes", "no")) == "yes"


def listed(text: str) -> list[str]:
    """Return the entries of a list with commas."""
    return [entry.strip() for entry in text.split(",")]


def number(text: str) -> float:
    """Return a plain number; "f/2.8" and "2x" are read too."""
    found = _NUMBER.fullmatch(text)
    if not found:
        raise ValueError("write a plain number, for example 2.8")
    return float(found[1])


def _annotated(info: FieldInfo) -> Any:
    return Annotated[info.annotation, *info.metadata]


def _length(text: str, *, rule: Length) -> str:
    """Return the text itself: the kit keeps lengths as their owner writes them."""
    rule.read(text)
    return text


def _length_or_skip(text: str, *, rule: Length) -> str | None:
    return None if text.casefold() == SKIP else _length(text, rule=rule)


def _number(text: str, *, adapter: TypeAdapter[Any]) -> float:
    value: float = _checked(number(text), adapter=adapter)
    return value


def _checked(value: Any, *, adapter: TypeAdapter[Any]) -> Any:
    try:
        return adapter.validate_python(value, strict=True)
    except ValidationError as error:
        raise ValueError(_sentence(error)) from None


def _sentence(error: ValidationError) -> str:
    first = error.errors()[0]
    cause = first.get("ctx", {}).get("error")
    return str(cause) if cause else re.sub(r"^\w+ should", "must", first["msg"])
