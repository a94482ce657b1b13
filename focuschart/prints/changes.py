"""What changed between two sets of facts, in words."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from itertools import zip_longest
from typing import Any

from focuschart.prints.printed import MEASURED, Printed
from focuschart.prints.tables import from_to, row, table
from focuschart.prints.topics import (
    ATTACHMENT_GLASS,
    PLACES,
    READINGS,
    ROWS,
    ReadingFacts,
    Topic,
    Wording,
    wording,
)
from focuschart.rig.ring import Which
from focuschart.units import Units, distance_label, format_stop

_LEAST_MM = 1e-6


def changes(old: Printed, new: Printed, units: Units) -> tuple[str, ...]:
    """Return each change of a print's facts as a short phrase, none where they are the same.

    Facts that are the same under another code were printed by another version of the program.
    """
    found = list(_changes(old, new, units))
    if not found and old.code != new.code:
        found = ["made by another version of focuschart"]
    return tuple(dict.fromkeys(found))


def _changes(old: Printed, new: Printed, units: Units) -> Iterator[str]:
    gone = [topic for topic in old.inputs if topic not in new.inputs]
    come = [topic for topic in new.inputs if topic not in old.inputs]
    glass = Topic.FRONT_GLASS in (*gone, *come)
    if glass:
        yield f"{'the attachment too' if come else 'the taking lens alone'} limits its zone now"
    stands = [one.inputs.get(Topic.CHAIN) is not None for one in (old, new)]
    if stands[0] != stands[1]:
        yield f"how the rig stands is told {'now' if stands[1] else 'no more'}"
    # The foremost glass is told with the front glass.
    untold = {Topic.FOREMOST_GLASS, *(PLACES if stands[0] != stands[1] else ())}
    for topic in (*new.inputs, *gone):
        before, after = old.inputs.get(topic), new.inputs.get(topic)
        came_or_went = glass and topic in ATTACHMENT_GLASS and topic in (*gone, *come)
        if before != after and not came_or_went and topic not in untold:
            yield from _change(topic, before, after, old=old, new=new, units=units)


def _change(
    topic: Topic, before: Any, after: Any, *, old: Printed, new: Printed, units: Units
) -> Iterator[str]:
    """Yield the change of one fact; None is one that a print does not have."""
    readings = next((which for which, own in READINGS.items() if own == topic), None)
    if topic == Topic.FRONT_GLASS:
        yield from _lengths(old, new)
    elif readings:
        yield from _readings(readings, before or (), after or (), units)
        yield from _places(before or (), after or (), old, new)
    elif topic == Topic.DISTANCES:
        yield from _marks(before or (), after or (), units)
    elif topic == Topic.STOPS:
        yield _stops(before or (), after or ())
    elif topic == Topic.READ_TOGETHER:
        yield from _together(old, new)
    elif topic in ROWS:
        yield from row(topic, before or (), after or (), summed=_summed(old, new))
    elif isinstance(before, Mapping) or isinstance(after, Mapping):
        yield from table(topic, before, after, summed=_summed(old, new))
    else:
        yield _replaced(wording(topic), before, after)


def _replaced(told: Wording, before: Any, after: Any) -> str:
    if not told.values:
        return told.words
    if told.quoted:
        before, after = f'"{before}"', f'"{after}"'
    return from_to(told.words, before, after, unit=told.unit)


def _summed(old: Printed, new: Printed) -> bool:
    """Return whether lengths are told part by part, with what they sum to."""
    moved = old.inputs.get(Topic.FRONT_GLASS) != new.inputs.get(Topic.FRONT_GLASS)
    return moved and MEASURED not in {**old.lengths, **new.lengths}


def _lengths(old: Printed, new: Printed) -> Iterator[str]:
    """Yield which part of the chain is longer, shorter, gone or new, and what that sums to."""
    one, two = old.lengths, new.lengths
    if (MEASURED in one) == (MEASURED in two):
        for part in (*one, *(part for part in two if part not in one)):
            yield from _length(part, one.get(part), two.get(part))
    else:
        way = "measured as a whole" if MEASURED in two else "summed part by part"
        yield f"its length {way} now"
    moved = new.inputs[Topic.FRONT_GLASS] - old.inputs[Topic.FRONT_GLASS]
    way = "farther from" if moved > 0.0 else "nearer to"
    yield f"front glass {abs(moved):.3g} mm {way} the sensor"


def _length(part: str, before: float | None, after: float | None) -> Iterator[str]:
    if before is None:
        yield f"{part} added, {after:.4g} mm"
    elif after is None:
        yield f"{part} taken out, {before:.4g} mm"
    elif abs(after - before) > _LEAST_MM:
        thick = part.startswith(("step ring", "clamp"))
        words = ("thicker", "thinner") if thick else ("longer", "shorter")
        yield f"{part} {abs(after - before):.3g} mm {words[after < before]}"


_PLACE = {
    "front glass": "length",
    "focal length": "focal length",
    "front moves": "moving front",
    "plate": "attachment's glass",
    "circle": "circle of confusion",
}
_FEW = 3


def _readings(
    ring: Which, before: Sequence[ReadingFacts], after: Sequence[ReadingFacts], units: Units
) -> Iterator[str]:
    """Yield readings added, taken out and changed; those of one rig and distance are matched."""
    one, two = (_by_place(_less(a, b)) for a, b in ((before, after), (after, before)))
    added, gone = [], []
    for place in sorted({*one, *two}, key=lambda place: (place[1], place[0])):
        label = distance_label(place[1], units)
        for was, now in zip_longest(one.get(place, ()), two.get(place, ())):
            if was is None:
                added.append(label)
            elif now is None:
                gone.append(label)
            elif was["figure"] != now["figure"]:
                yield f"{ring} figure at {label} {was['figure']:g}, now {now['figure']:g} mm"
            else:
                yield f"error, stop, height, side or taping of a {ring} reading at {label}"
    for word, labels in (("added", added), ("taken out", gone)):
        if labels:
            yield f"{_count(labels, f'{ring} reading')} {word} at {_few(labels)}"


def _less(readings: Sequence[ReadingFacts], others: Sequence[ReadingFacts]) -> list[ReadingFacts]:
    """Return the readings that are not among others, one for one; of a reading only what was read.

    Where it was read is told once a rig.
    """
    rest = [_as_read(reading) for reading in others]
    found = []
    for reading in readings:
        if _as_read(reading) in rest:
            rest.remove(_as_read(reading))
        else:
            found.append(reading)
    return found


def _as_read(reading: ReadingFacts) -> tuple[object, ...]:
    error = reading["distance error"]
    through = reading.get("side"), reading.get("taping"), reading.get("strip")
    what = (reading["stop"], reading.get("height", 0.0), reading["figure"],
            reading.get("figure error"))  # fmt: skip
    return reading["rig"], reading["distance"], error, what, through


def _count(labels: Sequence[str], what: str) -> str:
    return f"a {what}" if len(labels) == 1 else f"{len(labels)} {what}s"


def _few(labels: Sequence[str]) -> str:
    distinct = list(dict.fromkeys(labels))
    if len(distinct) > _FEW + 1:
        return f"{', '.join(distinct[:_FEW])} and {len(distinct) - _FEW} more"
    return ", ".join(distinct)


def _places(
    before: Sequence[ReadingFacts], after: Sequence[ReadingFacts], old: Printed, new: Printed
) -> Iterator[str]:
    """Yield which other rigs, on which the ring was read, stand otherwise now.

    A circle of confusion that changed for this rig too is the kit's, and told already.
    """
    told = ("circle",) if old.inputs.get(Topic.CIRCLE) != new.inputs.get(Topic.CIRCLE) else ()
    one = {reading["rig"]: reading for reading in before}
    for rig, now in {reading["rig"]: reading for reading in after}.items():
        was = now if rig in (old.rig_id, new.rig_id) else one.get(rig, now)
        moved = [w for key, w in _PLACE.items() if key not in told and was.get(key) != now.get(key)]
        if moved:
            yield f"{' and '.join(moved)} of rig {rig}, on which it was read too"


def _by_place(readings: Sequence[ReadingFacts]) -> dict[tuple[str, float], list[ReadingFacts]]:
    found: dict[tuple[str, float], list[ReadingFacts]] = {}
    for reading in readings:
        distance = math.inf if reading["distance"] is None else reading["distance"]
        found.setdefault((reading["rig"], distance), []).append(reading)
    return found


def _together(old: Printed, new: Printed) -> Iterator[str]:
    """Yield it only where no reading changed otherwise: then it goes without saying."""
    if all(old.inputs.get(topic) == new.inputs.get(topic) for topic in READINGS.values()):
        yield "which figures were read at once"


def _marks(
    before: Sequence[float | None], after: Sequence[float | None], units: Units
) -> Iterator[str]:
    for word, values in (("new", set(after) - set(before)), ("no more", set(before) - set(after))):
        labels = [
            distance_label(value, units)
            for value in sorted(math.inf if value is None else value for value in values)
        ]
        if labels:
            yield f"mark{'s' if len(labels) > 1 else ''} {', '.join(labels)} {word}"


def _stops(before: Sequence[float], after: Sequence[float]) -> str:
    one, two = (", ".join(map(format_stop, stops)) for stops in (before, after))
    return f"{'working stop' if len(before) == len(after) == 1 else 'stops'} {one}, now {two}"


def reinterpreted(old: Printed, new: Printed) -> bool:
    """Return whether readings of the rig from before count as made with another length or lens.

    That is right where a measurement was corrected, wrong where a part was replaced since.
    """
    if old.rig_id != new.rig_id:
        return False
    one, two = (_own_readings(side) for side in (old, new))
    return any(one[reading] != two[reading] for reading in one if reading in two)


def lens_replaced(old: Printed, new: Printed) -> bool:
    """Return whether readings of the rig from before count as made on another taking lens."""
    one, two = (_own_readings(side) for side in (old, new))
    return any(one[reading][0] != two[reading][0] for reading in one if reading in two)


def _own_readings(one: Printed) -> dict[tuple[Any, ...], tuple[str, float]]:
    """Return lens and front glass by distance, stop and figure of what was read on the rig."""
    return {
        (reading["distance"], reading["stop"], reading["figure"]): (
            reading["lens"],
            reading["front glass"],
        )
        for reading in one.inputs.get(Topic.ATTACHMENT_READINGS, ())
        if reading["rig"] == one.rig_id
    }
