"""The short code that ties a print to the facts it was made from."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from focuschart.prints.facts import Print, facts_of
from focuschart.prints.topics import Facts

if TYPE_CHECKING:
    from focuschart.chart.model import Chart

ALPHABET = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
"""31 signs, a prime number, without look-alikes (no 0, O, 1, I, L)."""
_LENGTH = 5
_MAKE = 2
"""Raised when the same facts come to give other marks, so that former prints are seen as stale."""


def revision(name: str, inputs: Mapping[Any, Any], *, make: int = _MAKE) -> str:
    """Return the code of a print: five signs and a check sign, such as "K7QF3-S".

    Raises ValueError for facts that are not plain data.
    """
    text = json.dumps([make, name, inputs], sort_keys=True, ensure_ascii=True, allow_nan=False)
    return coded(int.from_bytes(hashlib.sha256(text.encode()).digest()))


@lru_cache(maxsize=4)  # each piece of a rig asks for its own
def codes(chart: Chart) -> Mapping[Print, str]:
    """Return the code of each print of a rig."""
    return {name: revision(name, facts) for name, facts in facts_of(chart).items()}


def chart_code(chart: Chart) -> str:
    """Return the code of a whole chart, which is its card's."""
    return codes(chart)["card"]


def was_made(code: str, name: str, inputs: Facts) -> bool:
    """Return whether a code was made of these facts, by this program or an earlier one."""
    return any(revision(name, inputs, make=make) == code for make in range(1, _MAKE + 1))


def coded(number: int) -> str:
    """Return a number, modulo 31⁵, as five signs and a check sign."""
    signs = [number // 31**place % 31 for place in range(_LENGTH)]
    return "".join(ALPHABET[sign] for sign in signs) + "-" + ALPHABET[_check(signs)]


def is_code(text: str) -> bool:
    """Return whether a code was copied without a wrong sign or two neighbours swapped."""
    body, _, check = text.partition("-")
    if len(body) != _LENGTH or len(check) != 1 or not set(body + check) <= set(ALPHABET):
        return False
    return ALPHABET[_check([ALPHABET.index(sign) for sign in body])] == check


def read_code(text: str) -> str | None:
    """Return a code as people copy it, in small letters or without its hyphen; None for none."""
    plain = "".join(text.split()).upper().replace("-", "")
    code = f"{plain[:_LENGTH]}-{plain[_LENGTH:]}"
    return code if is_code(code) else None


def _check(signs: list[int]) -> int:
    """Weights 1 to 5 modulo a prime catch every single error and every swap."""
    return sum(weight * sign for weight, sign in enumerate(signs, start=1)) % 31
