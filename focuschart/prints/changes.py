"""What changed between two sets of facts, in words."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from itertools import zip_longest
from typing import Any

from focuschart.prints.printed import MEASURED, Printed
from focuschart.prints.tables import ROWS, UNITS, from_to, row, table
from focuschart.units import Units, distance_label, format_stop

_LEAST_MM = 1e-6
_READINGS = ("taking readings", "attachment readings")
_GLASS = ("attachment fit", "front glass", "front moves", "read on", "attachment readings")
"""Facts of the attachment, which a taking ring's print has only where they limit its zone."""
_STANDING = ("foremost glass", "camera", "taking lens", "chain", "attachment", "front", "support",
             "carrier", "lean limit", "front unit")  # fmt: skip
"""Facts that come and go with how a rig stands; the first is told with the front glass."""


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
    if "front glass" in (*gone, *come):
        yield f"{'the attachment too' if come else 'the taking lens alone'} limits its zone now"
    stands = [one.inputs.get("chain") is not None for one in (old, new)]
    if stands[0] != stands[1]:
        yield f"how the rig stands is told {'now' if stands[1] else 'no more'}"
    untold = _STANDING if stands[0] != stands[1] else _STANDING[:1]
    for topic in (*new.inputs, *gone):
        before, after = old.inputs.get(topic), new.inputs.get(topic)
        if before == after or (topic in _GLASS and topic in (*gone, *come)) or topic in untold:
            continue
        if topic == "front glass":
            yield from _lengths(old, new)
        elif topic in _READINGS:
            yield from _readings(topic, before or (), after or (), units)
            yield from _places(before or (), after or (), old, new)
        elif topic == "distances":
            yield from _marks(before or (), after or (), units)
        elif topic == "stops":
            yield _stops(before or (), after or ())
        elif topic == "read together":
            yield from _together(old, new)
        elif topic in ROWS:
            yield from row(topic, before or (), after or (), summed=_summed(old, new))
        elif isinstance(before, Mapping) or isinstance(after, Mapping):
            yield from table(topic, before, after, summed=_summed(old, new))
        else:
            yield _replaced(topic, before, after)


_TOPICS = {
    "contradicted": "whether its readings agree",
    "corners": "where the picture's corners are clean",
    "front moves": "whether focusing carries the front",
    "nearest": "where a ring's end cuts its zone off",
    "read on": "whether the attachment was read on this taking lens",
    "taking scale": "what is engraved on the taking ring",
    "attachment scale": "what is engraved on the attachment",
}
_NAMES = {
    "taking name": "taking lens",
    "attachment name": "attachment",
    "circle": "circle of confusion",
    "glass": "glass of front and rear group",
}


def _replaced(topic: str, before: Any, after: Any) -> str:
    if topic in _TOPICS:
        return _TOPICS[topic]
    if topic.endswith("name"):
        before, after = f'"{before}"', f'"{after}"'
    return from_to(_NAMES.get(topic, topic), before, after, unit=UNITS.get(topic))


def _summed(old: Printed, new: Printed) -> bool:
    """Return whether lengths are told part by part, with what they sum to."""
    moved = old.inputs.get("front glass") != new.inputs.get("front glass")
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
    moved = new.inputs["front glass"] - old.inputs["front glass"]
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


Reading = Mapping[str, Any]
_PLACE = {
    "front glass": "length",
    "focal length": "focal length",
    "front moves": "moving front",
    "plate": "attachment's glass",
    "circle": "circle of confusion",
}
_READ = ("rig", "distance", "distance error", "stop", "figure")
_FEW = 3


def _readings(
    topic: str, before: Sequence[Reading], after: Sequence[Reading], units: Units
) -> Iterator[str]:
    """Yield readings added, taken out and changed; those of one rig and distance are matched."""
    ring = topic.partition(" ")[0]
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
                yield f"error or stop of a {ring} reading at {label}"
    for word, labels in (("added", added), ("taken out", gone)):
        if labels:
            yield f"{_count(labels, f'{ring} reading')} {word} at {_few(labels)}"


def _less(readings: Sequence[Reading], others: Sequence[Reading]) -> list[Reading]:
    """Return the readings that are not among others, one for one; of a reading only what was read.

    Where it was read is told once a rig.
    """
    rest = [{key: reading[key] for key in _READ} for reading in others]
    found = []
    for reading in readings:
        alike = {key: reading[key] for key in _READ}
        if alike in rest:
            rest.remove(alike)
        else:
            found.append(reading)
    return found


def _count(labels: Sequence[str], what: str) -> str:
    return f"a {what}" if len(labels) == 1 else f"{len(labels)} {what}s"


def _few(labels: Sequence[str]) -> str:
    distinct = list(dict.fromkeys(labels))
    if len(distinct) > _FEW + 1:
        return f"{', '.join(distinct[:_FEW])} and {len(distinct) - _FEW} more"
    return ", ".join(distinct)


def _places(
    before: Sequence[Reading], after: Sequence[Reading], old: Printed, new: Printed
) -> Iterator[str]:
    """Yield which other rigs, on which the ring was read, stand otherwise now.

    A circle of confusion that changed for this rig too is the kit's, and told already.
    """
    told = ("circle",) if old.inputs.get("circle") != new.inputs.get("circle") else ()
    one = {reading["rig"]: reading for reading in before}
    for rig, now in {reading["rig"]: reading for reading in after}.items():
        was = now if rig in (old.rig_id, new.rig_id) else one.get(rig, now)
        moved = [w for key, w in _PLACE.items() if key not in told and was.get(key) != now.get(key)]
        if moved:
            yield f"{' and '.join(moved)} of rig {rig}, on which it was read too"


def _by_place(readings: Sequence[Reading]) -> dict[tuple[str, float], list[Reading]]:
    found: dict[tuple[str, float], list[Reading]] = {}
    for reading in readings:
        distance = math.inf if reading["distance"] is None else reading["distance"]
        found.setdefault((reading["rig"], distance), []).append(reading)
    return found


def _together(old: Printed, new: Printed) -> Iterator[str]:
    """Yield it only where no reading changed otherwise: then it goes without saying."""
    if all(old.inputs.get(topic) == new.inputs.get(topic) for topic in _READINGS):
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
        for reading in one.inputs.get("attachment readings", ())
        if reading["rig"] == one.rig_id
    }
