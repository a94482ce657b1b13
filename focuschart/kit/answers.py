"""How answers to the interview are read: as people type them, into what a kit has."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from functools import partial
from typing import Annotated, Any, Literal, TypeVar, get_args, get_origin

from pydantic import BaseModel, TypeAdapter, ValidationError
from pydantic.fields import FieldInfo

from focuschart.errors import UnitError
from focuschart.kit.fields import Length, Quoted, ThreadText
from focuschart.kit.interview import Reader
from focuschart.kit.load import rule_of
from focuschart.typed import (
    typed_factor,
    typed_length,
    typed_list,
    typed_quantity,
    typed_stop,
)

T = TypeVar("T")
SKIP = "skip"


def reader(table: type[BaseModel], key: str, *, required: bool = False) -> Reader:
    """Return what reads an answer for one field; optional lengths can be skipped (None)."""
    info = table.model_fields[key]
    optional = type(None) in get_args(info.annotation)
    kinds = [kind for kind in (info.annotation, *get_args(info.annotation)) if kind is not None]
    read = _of_kind(kinds, info)
    return read if required or not optional else partial(_or_none, read=read)


def _of_kind(kinds: Sequence[Any], info: FieldInfo) -> Reader:
    if bool in kinds:
        return yes_no
    if get_origin(info.annotation) is Literal:
        return partial(choice, options=get_args(info.annotation))
    for rule in info.metadata:
        if isinstance(rule, Length | Quoted | ThreadText):
            return partial(_text_of, rule=rule)
    kind: Any = Annotated[info.annotation, *info.metadata]
    adapter: TypeAdapter[Any] = TypeAdapter(kind)
    return partial(_number if float in kinds else _valid, adapter=adapter)


def _or_none(text: str, *, read: Reader) -> Any:
    return None if text.casefold() == SKIP else read(text)


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
    """Return the entries of a list; raises ValueError, with the cure, for one of two meanings."""
    return _understood(typed_list, text)


def distance(text: str) -> str:
    """Return a distance or other length as the kit has it; raises ValueError, with the cure."""
    return _understood(typed_length, text)


def number(text: str) -> float:
    """Return a plain number; "f/2,8" and "2x" are read too."""
    for typed in (typed_stop, typed_factor):
        with suppress(UnitError):
            return typed(text)
    return _understood(typed_factor, text)


def _understood(typed: Callable[[str], T], text: str) -> T:
    try:
        return typed(text)
    except UnitError as error:
        raise ValueError(str(error)) from None


def _text_of(text: str, *, rule: Length | Quoted | ThreadText) -> str:
    """Return the text of a quantity as the kit has it, once its rule takes it."""
    typed = typed_length if isinstance(rule, Length) else typed_quantity
    found = _understood(typed, text)
    rule.read(found)
    return found


def _number(text: str, *, adapter: TypeAdapter[Any]) -> float:
    value: float = _valid(number(text), adapter=adapter)
    return value


def _valid(value: Any, *, adapter: TypeAdapter[Any]) -> Any:
    try:
        return adapter.validate_python(value, strict=True)
    except ValidationError as error:
        raise ValueError(rule_of(error.errors()[0])) from None
