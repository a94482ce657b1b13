"""One print as it was made: its code, the facts behind it, and where its marks stand."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from focuschart.errors import InputError
from focuschart.optics.arrays import Floats
from focuschart.prints.code import revision, was_made
from focuschart.prints.facts import INDEX, PRINTS, SHOWN, Print, facts_of
from focuschart.prints.topics import Facts, Topic
from focuschart.prints.zones import shortest_mm
from focuschart.units import format_stop, steady

if TYPE_CHECKING:
    from focuschart.chart.marks import RingMarks
    from focuschart.chart.model import Chart
    from focuschart.kit.schema import Kit

MEASURED = "sensor to foremost glass"
"""Names a rig's length that was measured as a whole."""
_SIDES = ("near", "far")
_AT = " at "
_MOST = 1e9
"""No length and no stop is so large, nor a tolerance or stop as small as its reciprocal."""


@dataclass(frozen=True, slots=True)
class Marked:
    """Places on one barrel by label (n), mm, with the tolerance of each at each stop (m × n).

    `sign` is +1 where the ruler's figures rise as the ring turns nearer, else −1.
    """

    labels: tuple[str, ...]
    arc_mm: Floats
    tolerance_mm: Floats
    sign: float


@dataclass(frozen=True, slots=True)
class Printed:
    """A strip, an index strip, a card or a rig's setup cards.

    `lengths` names the parts that sum to the front glass. Setup cards have no figures of a ring's,
    but what they tell hangs on how the attachment stands at each of its marks.
    """

    rig_id: str
    name: Print
    title: str
    code: str
    stops: tuple[float, ...]
    inputs: Facts
    lengths: Mapping[str, float]
    rings: Mapping[str, Marked]


def printed(chart: Chart) -> Iterator[Printed]:
    """Yield the prints of a rig: those of rings that were read, and the cards if both were."""
    read = {which: marks for which, (_, marks) in chart.rings().items() if marks is not None}
    facts = facts_of(chart)
    marked: dict[str, Marked] = {which: _marked(chart, marks) for which, marks in read.items()}
    for which, marks in read.items():
        alone: dict[str, Marked] = {which: marked[which]}
        index: dict[str, Marked] = {which: _brackets(chart, marks)}
        ring_name = chart.rig.lens.name if which == "taking" else chart.rig.attachment.name
        yield _print(facts, chart, which, ring_name, alone)
        yield _print(facts, chart, INDEX[which], f"{ring_name}, index", index)
    if len(read) == 2:
        yield _print(facts, chart, "card", "pocket card", marked)
        locked: dict[str, Marked] = {"attachment": marked["attachment"]}
        yield _print(facts, chart, "setup", "setup cards", locked)


def _print(
    facts: Mapping[Print, Facts],
    chart: Chart,
    name: Print,
    title: str,
    rings: Mapping[str, Marked],
) -> Printed:
    return Printed(
        rig_id=chart.rig.rig_id,
        name=name,
        title=f"{chart.rig.name}: {title}",
        code=revision(name, facts[name]),
        stops=tuple(chart.stops.tolist()),
        inputs=facts[name],
        lengths=dict(_lengths(chart.kit, chart.rig.rig_id)),
        rings=rings,
    )


def _marked(chart: Chart, marks: RingMarks) -> Marked:
    labels = tuple(f"{distance:.10g}" for distance in chart.distances_mm)
    return Marked(labels, marks.arc_mm, marks.tolerance_mm, marks.nearer_sign)


def _brackets(chart: Chart, marks: RingMarks) -> Marked:
    """Return a bracket's two sides at each stop, with the ring's smallest tolerance at each."""
    stops = tuple(format_stop(float(stop)) for stop in chart.stops)
    labels = tuple(f"{side}{_AT}{stop}" for stop in stops for side in _SIDES)
    sides = shortest_mm(chart, marks).ravel()
    least = np.min(marks.tolerance_mm, axis=1, keepdims=True)
    tolerances = np.broadcast_to(least, (len(least), len(sides)))
    return Marked(labels, sides, tolerances, marks.nearer_sign)


def _lengths(kit: Kit, rig_id: str) -> Iterator[tuple[str, float]]:
    """Yield what sums to the front glass, in words: measured as a whole, or part by part."""
    rig = kit.rigs[rig_id]
    if rig.front_vertex is not None:
        yield MEASURED, rig.front_vertex
        return
    lens, attachment = kit.taking_lenses[rig.taking_lens], kit.attachments[rig.attachment]
    yield "flange focal distance", kit.cameras[rig.camera].flange_focal_distance or 0.0
    yield f'lens "{lens.name}"', lens.length or 0.0
    for part_id in rig.chain:
        part = kit.part(part_id)
        yield f'{part.kind} "{part.table.name}" ({part_id})', part.table.thickness or 0.0
    yield f'attachment "{attachment.name}"', attachment.length or 0.0


def print_data(one: Printed) -> dict[str, Any]:
    """Return a print as plain data, infinity as its text."""
    return {
        "print": one.name,
        "title": one.title,
        "code": one.code,
        "stops": list(one.stops),
        "inputs": one.inputs,
        "lengths": dict(one.lengths),
        "rings": {
            which: {
                "labels": list(marked.labels),
                "arc_mm": _rounded(marked.arc_mm),
                "tolerance_mm": [_rounded(row) for row in marked.tolerance_mm],
                "sign": marked.sign,
            }
            for which, marked in one.rings.items()
        },
    }


def _rounded(values: Floats) -> list[float]:
    """Return lengths far finer than paper, and the same on every machine."""
    return [steady(float(value)) for value in values]


def print_from(rig_id: Any, data: Any) -> Printed:
    """Return a print from `print_data`; raises InputError for what was not made so.

    Its code vouches for its facts, so that these need no further look.
    """
    try:
        one = Printed(
            rig_id=_text(rig_id),
            name=data["print"],
            title=_text(data["title"]),
            code=data["code"],
            stops=tuple(_numbers(data["stops"], 1).tolist()),
            inputs={Topic(topic): fact for topic, fact in data["inputs"].items()},
            lengths={_text(part): float(length) for part, length in data["lengths"].items()},
            rings={which: _marked_from(ring, data) for which, ring in data["rings"].items()},
        )
        if one.name in PRINTS and _complete(one) and was_made(one.code, one.name, one.inputs):
            return one
    except _DAMAGE:
        pass
    raise InputError(
        "not what focuschart prints, damaged or of a later version: build the pack again"
    )


_DAMAGE = (KeyError, TypeError, ValueError, AttributeError, OverflowError, RecursionError)


def _complete(one: Printed) -> bool:
    """Return whether stops and lengths are numbers, and every ring of the print is there."""
    numbers = np.array([*one.stops, *one.lengths.values()])
    sound = np.all(np.isfinite(numbers)) and min(one.stops) > 1.0 / _MOST
    return bool(sound and set(one.rings) == set(SHOWN[one.name]))


def _marked_from(data: Any, whole: Any) -> Marked:
    """Return places and tolerances; raises ValueError for those that are none."""
    labels = tuple(_text(label) for label in data["labels"])
    arcs, tolerances = _numbers(data["arc_mm"], 1), _numbers(data["tolerance_mm"], 2)
    if arcs.shape != (len(labels),) or tolerances.shape != (len(whole["stops"]), len(labels)):
        raise ValueError("marks and tolerances differ in number")
    is_label = is_side if whole["print"] in INDEX.values() else _is_distance
    sound = np.all(tolerances > 1.0 / _MOST) and data["sign"] in (-1, 1)
    if not sound or len(set(labels)) < len(labels) or not all(map(is_label, labels)):
        raise ValueError("a mark is no place")
    return Marked(labels, arcs, tolerances, float(data["sign"]))


def _text(value: Any) -> str:
    """Return a text of one line; raises ValueError for what a terminal would take as more."""
    if not isinstance(value, str) or not value.isprintable():
        raise ValueError("not a text of one line")
    return value


def _is_distance(label: str) -> bool:
    return float(label) > 0.0


def is_side(label: str) -> bool:
    """Return whether a label names a bracket's side at a stop, not a distance."""
    return label.partition(_AT)[0] in _SIDES


def _numbers(values: Any, dimensions: int) -> Floats:
    """Return an array of numbers; raises ValueError for another shape, or what is no number."""
    found = np.array(values, float)
    if found.ndim != dimensions or not found.size or not np.all(np.abs(found) < _MOST):
        raise ValueError("not numbers of that shape")
    return found
