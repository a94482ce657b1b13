"""The short code that ties strips and card to the facts they were made from."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from typing import Any

from focuschart.chart.bench import Row
from focuschart.kit.schema import Kit
from focuschart.rig.assemble import Rig

ALPHABET = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
"""31 signs, a prime number, without look-alikes (no 0, O, 1, I, L)."""
_LENGTH = 5


def rig_revision(kit: Kit, rig: Rig, rows: Iterable[Row]) -> str:
    """Return the code of one rig: five signs and a check sign, such as "K7QF3-S".

    It is made from what can move a mark or change a text of this rig, so that an edit elsewhere
    in the kit leaves it alone.
    """
    facts = {
        "rig": _rig_facts(rig),
        "names": [rig.name, rig.lens.name, rig.attachment.name],
        "print": [kit.units, sorted(rig.distances_mm.tolist()), kit.stops],
        "readings": [
            [row.reading.model_dump(exclude={"ignore"}), _rig_facts(row.rig)] for row in rows
        ],
    }
    text = json.dumps(facts, sort_keys=True, ensure_ascii=True)
    return coded(int.from_bytes(hashlib.sha256(text.encode()).digest()))


def _rig_facts(rig: Rig) -> dict[str, Any]:
    lens = rig.lens.model_dump(exclude={"name", "length"})
    attachment = rig.attachment.model_dump(exclude={"name", "length"})
    return {"lens": lens, "attachment": attachment, "circle": rig.circle_mm,
            "front": rig.front_glass_mm}  # fmt: skip


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


def _check(signs: list[int]) -> int:
    """Weights 1 to 5 modulo a prime catch every single error and every swap."""
    return sum(weight * sign for weight, sign in enumerate(signs, start=1)) % 31
