"""What must be printed again, as text for people and as data for machines."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import groupby
from typing import Any

import numpy as np

from focuschart.prints.difference import STAYS_BELOW, TO_PRINT, Comparison, Shift, Verdict
from focuschart.prints.facts import Print
from focuschart.prints.printed import is_side
from focuschart.prints.topics import Topic
from focuschart.report.lines import aligned, wrapped
from focuschart.report.numbers import by_stop, dumped, plain
from focuschart.rig.ring import RINGS
from focuschart.units import Units, distance_label, format_stop

RULE = (
    f"A print may stay where no mark of it is off by more than {STAYS_BELOW:g} of a tolerance, nor "
    "both rings together, for which the strip that moved more is printed. The taking ring's "
    "tolerance is already divided by the squeeze. A shift is positive toward higher figures of "
    "the ruler."
)
REPLACED = (
    "the readings count as made with the rig as it is now. That is right if a length was measured "
    "anew. If a part was replaced after the readings, keep the old part and rig for them, and give "
    "the new part and rig ids of their own, or, for a day, use --ring or --taking-lens"
)
_LEAST = 0.005
"""What shows of a number to the hundredth."""
_WORDS: Mapping[Print, str] = {
    "taking": "taking ring's strip",
    "taking/index": "taking ring's index strip",
    "attachment": "attachment's strip",
    "attachment/index": "attachment's index strip",
    "card": "pocket card",
    "setup": "setup cards",
}
Replaced = Mapping[str, Comparison]
"""By rig, the attachment's strip if a part was replaced after the readings were taken."""
_TOGETHER: Mapping[Verdict, str] = {
    "new": "New, print",
    "current": "Current",
    "gone": "Printed no more, take off",
}


def as_text(found: Sequence[Comparison], *, units: Units, replaced: Replaced) -> str:
    """Return what changed, how far marks moved, and what to do, rig by rig.

    A rig is in `replaced` only where a part may have been replaced.
    """
    lines: list[str] = []
    for _, group in groupby(found, key=lambda one: one.rigs):
        rig = list(group)
        lines += _rig_lines(rig, units)
        moved = replaced.get(rig[0].told.rig_id)
        if moved is not None:
            text = f"Caution: {REPLACED}{_off(moved)}."
            lines += wrapped(text, indent="  ", further="  ")
        lines.append("")
    lines.append(_summary(found))
    lines += wrapped(RULE) if any(one.shifts for one in found) else ()
    return "\n".join(lines) + "\n"


def told(found: Iterable[Comparison]) -> Iterator[str]:
    """Yield a line a rig: what must be printed, what may stay, and what is current."""
    for (_, rig_id), group in groupby(found, key=lambda one: one.rigs):
        lines = [f"{_WORDS[one.told.name]}: {advice(one)}" for one in group]
        yield from wrapped(f"{rig_id}  {'; '.join(lines)}.", further="  ")


def _rig_lines(rig: Sequence[Comparison], units: Units) -> Iterator[str]:
    old, new = rig[0].rigs
    ids = new if old == new else f"{old} → {new}"
    yield f"{rig[0].told.inputs[Topic.RIG_NAME]} ({ids})"
    phrases = dict.fromkeys(phrase for one in rig for phrase in one.changes)
    if phrases:
        yield from wrapped(f"Changed: {'; '.join(phrases)}.", indent="  ", further="  ")
    for one in rig:
        if one.verdict not in _TOGETHER:
            yield from _print_lines(one, units)
    for verdict, text in _TOGETHER.items():
        each = [f"{_WORDS[one.told.name]} {one.told.code}" for one in rig if one.verdict == verdict]
        if each:
            yield from wrapped(f"{text}: {', '.join(each)}.", indent="  ", further="  ")


def advice(one: Comparison) -> str:
    """Return the verdict in words."""
    words = {
        "current": "current",
        "keep": "keep, it holds at every stop",
        "keep from": f"keep from {format_stop(one.stop or math.inf)} on, or print again",
        "reprint": f"print again: {one.why}",
        "new": "print, it is new",
        "gone": "take it off, nothing of that name is printed any more",
    }
    return words[one.verdict]


def _print_lines(one: Comparison, units: Units) -> Iterator[str]:
    assert one.old is not None
    codes = f"{one.old.code} → {one.told.code}"
    text = f"{_WORDS[one.told.name]} {codes}: {advice(one)}"
    yield from wrapped(text, indent="  ", further="    ")
    if one.told.name in RINGS:
        for shift in one.shifts.values():
            if np.max(np.abs(shift.shift_mm), initial=0.0) >= _LEAST:
                yield from (f"    {line}" for line in aligned(_shift_rows(one, shift, units)))


def _shift_rows(one: Comparison, shift: Shift, units: Units) -> Iterator[list[str]]:
    """Yield a row a mark: its shift in mm, and in tolerances at each stop."""
    assert one.new is not None
    yield ["mark", "mm", *(f"tol {format_stop(stop)}" for stop in one.new.stops), ""]
    shares = shift.in_tolerances()
    for i, label in enumerate(shift.labels):
        cells = [_signed(float(value)) for value in (shift.shift_mm[i], *shares[:, i])]
        yield [distance_label(float(label), units), *cells, ""]


def _signed(value: float) -> str:
    """Return a number to the hundredth with its sign, which nothing has none of."""
    return f"{value:+.2f}" if abs(value) >= _LEAST else "0.00"


def _off(one: Comparison) -> str:
    """Say by how much marks are off in the worst case, nothing where it cannot be told."""
    if one.new is None or not one.shifts:
        return ""
    shift = one.shifts["attachment"]
    worst = int(np.argmax(np.abs(shift.in_tolerances()[0])))
    share = abs(shift.in_tolerances()[0, worst])
    most, stop = abs(shift.shift_mm[worst]), format_stop(one.new.stops[0])
    return (
        f"; the old strip's marks are then off by up to {most:.2f} mm, {share:.2f} of a "
        f"tolerance at {stop}"
    )


def _summary(found: Sequence[Comparison]) -> str:
    counts = {
        "to print": sum(one.verdict in TO_PRINT for one in found),
        "good from a smaller stop on": sum(one.verdict == "keep from" for one in found),
        "moved but may stay": sum(one.verdict == "keep" for one in found),
        "current": sum(not one.stale for one in found),
        "to take off": sum(one.verdict == "gone" for one in found),
    }
    always = ("to print", "current")
    return ", ".join(f"{n} {what}" for what, n in counts.items() if n or what in always) + "."


def as_json(found: Iterable[Comparison], *, replaced: Replaced) -> str:
    """Return the comparisons as data, documented in the guide."""
    data = {
        "format": 1,
        "prints": [_data(one) for one in found],
        "if_replaced": {
            rig_id: _shift_data(one, one.shifts["attachment"])
            for rig_id, one in replaced.items()
            if one.shifts
        },
    }
    return dumped(data) + "\n"


def _data(one: Comparison) -> dict[str, Any]:
    return {
        "old_rig": one.rigs[0],
        "rig": one.rigs[1],
        "print": one.told.name,
        "title": one.told.title,
        "old_code": one.old.code if one.old else None,
        "new_code": one.new.code if one.new else None,
        "verdict": one.verdict,
        "from_stop": one.stop,
        "why": one.why,
        "changes": list(one.changes),
        "shifts": {which: _shift_data(one, shift) for which, shift in one.shifts.items()},
    }


def _shift_data(one: Comparison, shift: Shift) -> list[dict[str, Any]]:
    assert one.new is not None
    shares = shift.in_tolerances()
    return [
        {
            "mark": _mark(label),
            "shift_mm": plain(shift.shift_mm[i]),
            "in_tolerances": by_stop(one.new.stops, shares[:, i]),
        }
        for i, label in enumerate(shift.labels)
    ]


def _mark(label: str) -> float | str | None:
    """Return a mark's distance in mm, null for infinity, or the side of a bracket."""
    return label if is_side(label) else plain(float(label))
