"""Whether a print may stay: how far its marks have moved, in mm and in tolerances."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from focuschart.optics.arrays import Floats
from focuschart.prints.changes import changes, reinterpreted
from focuschart.prints.facts import INDEX, Print
from focuschart.prints.printed import Marked, Printed
from focuschart.prints.topics import SETUP, Topic
from focuschart.rig.ring import RINGS
from focuschart.units import Units

Verdict = Literal["current", "keep", "keep from", "reprint", "new", "gone"]

STAYS_BELOW = 0.25
"""How far off a mark may be, in tolerances, and its print stay; judgement, no source."""
TO_PRINT: frozenset[Verdict] = frozenset({"reprint", "new"})
_SHAPE: Mapping[Print, tuple[Topic, ...]] = {
    "taking": (Topic.TAKING_RING,),
    "taking/index": (Topic.TAKING_RING,),
    "attachment": (Topic.ATTACHMENT_RING,),
    "attachment/index": (Topic.ATTACHMENT_RING,),
    "card": (Topic.TAKING_SCALE, Topic.ATTACHMENT_SCALE),
    "setup": (*SETUP, Topic.FOCAL_LENGTH, Topic.GLASS, Topic.FRONT_MOVES),
}
"""Facts that make a print wrong wherever its marks stand."""


@dataclass(frozen=True, slots=True)
class Shift:
    """How far places have moved along one barrel: new less old, mm (n), and the tolerance (m × n).

    The tolerance is the smaller of both prints', so that a shift and its reverse weigh the same.
    """

    labels: tuple[str, ...]
    shift_mm: Floats
    tolerance_mm: Floats
    sign: float

    def in_tolerances(self) -> Floats:
        """Return the shift at each stop (m × n)."""
        return np.asarray(self.shift_mm / self.tolerance_mm)

    def worst(self) -> Floats:
        """Return the largest shift at each stop (m), in tolerances."""
        return np.asarray(np.max(np.abs(self.in_tolerances()), axis=1, initial=0.0))


@dataclass(frozen=True, slots=True)
class Comparison:
    """One print then and now, of an old and a new rig; `stop` is the one from which it may stay."""

    rigs: tuple[str, str]
    old: Printed | None
    new: Printed | None
    changes: tuple[str, ...]
    shifts: Mapping[str, Shift]
    verdict: Verdict
    why: str = ""
    stop: float | None = None

    @property
    def stale(self) -> bool:
        """Whether what was printed is not what would be printed now."""
        return self.verdict != "current"

    @property
    def to_print(self) -> bool:
        """Whether it must be printed, if only for the widest stops."""
        return self.verdict in TO_PRINT or self.verdict == "keep from"

    @property
    def stays(self) -> bool:
        """Whether what is on the barrel may stay there, if only from some stop on."""
        return self.verdict in ("keep", "keep from")

    @property
    def reinterpreted(self) -> bool:
        """Whether readings of its rig count as made with another length than before."""
        return bool(self.old and self.new and reinterpreted(self.old, self.new))

    @property
    def told(self) -> Printed:
        """The print now, or as it was where it is gone."""
        one = self.new or self.old
        assert one is not None
        return one


def compare(
    old: Iterable[Printed],
    new: Iterable[Printed],
    *,
    units: Units,
    rigs: Sequence[tuple[str, str]] = (),
) -> tuple[Comparison, ...]:
    """Return every print of either side, matched by rig and by what it is, in the new order.

    `rigs` names old and new rigs to match instead; then no others are compared.
    """
    before, after = _by_rig(old), _by_rig(new)
    same = ((rig, rig) for rig in dict.fromkeys((*after, *before)))
    return tuple(
        one
        for was, now in rigs or same
        for one in _rig((was, now), before.get(was, {}), after.get(now, {}), units)
    )


Prints = Mapping[str, Printed]


def _by_rig(prints: Iterable[Printed]) -> Mapping[str, Prints]:
    found: dict[str, dict[str, Printed]] = {}
    for one in prints:
        found.setdefault(one.rig_id, {})[one.name] = one
    return found


def _rig(rigs: tuple[str, str], old: Prints, new: Prints, units: Units) -> Iterator[Comparison]:
    """Yield the prints of one rig with their verdicts, each alone and both rings as a pair.

    Of two strips that may stay but not together, the one that moved more is the one to print.
    """
    names = dict.fromkeys((*new, *old))
    alone = [_alone(rigs, old.get(name), new.get(name), units) for name in names]
    strips = [one for one in alone if one.told.name in RINGS and one.stays]
    both = {which: shift for one in strips for which, shift in one.shifts.items()}
    moved_more = max(strips, key=_most, default=None)
    for one in alone:
        shifts = both if one is moved_more else one.shifts
        pair = one.stays and len(shifts) == len(RINGS)
        yield _verdict(one, _pair(shifts), "both rings together are off") if pair else one


def _most(one: Comparison) -> float:
    """Return a print's largest shift at the working stop, in tolerances."""
    return max(float(shift.worst()[0]) for shift in one.shifts.values())


def _alone(
    rigs: tuple[str, str], old: Printed | None, new: Printed | None, units: Units
) -> Comparison:
    """Return a print then and now, judged by itself."""
    if old is None or new is None:
        return Comparison(rigs, old, new, (), {}, "new" if old is None else "gone")
    if old.code == new.code:
        return Comparison(rigs, old, new, (), {}, "current")
    shifts = {which: _shift(old, new, which) for which in new.rings}
    said = changes(old, new, units)
    found = Comparison(rigs, old, new, said, shifts, "keep", stop=min(new.stops))
    why = "; ".join(_reasons(old, new))
    if why:
        return replace(found, verdict="reprint", why=why, stop=None)
    worst = np.max([shift.worst() for shift in shifts.values()], axis=0)
    return _verdict(found, worst, "its marks have moved")


def _shift(old: Printed, new: Printed, which: str) -> Shift:
    """Return the shift of what both prints show, at the new one's stops."""
    one, two = old.rings[which], new.rings[which]
    labels = tuple(label for label in two.labels if label in one.labels)
    arcs, tolerances = [], []
    for printed, marked in ((old, one), (new, two)):
        columns = [marked.labels.index(label) for label in labels]
        arcs.append(marked.arc_mm[columns])
        tolerances.append(_tolerance_at(new.stops, printed, marked)[:, columns])
    return Shift(labels, arcs[1] - arcs[0], np.minimum(*tolerances), two.sign)


def _tolerance_at(stops: Sequence[float], printed: Printed, marked: Marked) -> Floats:
    """Return the tolerance (m × n) at any stops: it grows in proportion to the f-number."""
    share = np.array(stops) / printed.stops[0]
    return np.asarray(share[:, np.newaxis] * marked.tolerance_mm[0])


def _pair(shifts: Mapping[str, Shift]) -> Floats:
    """Return the pair's error at each stop should both rings' marks stay.

    Horizontal e_a/tol_a − e_t/tol_t at the marks that both have; the vertical one is the taking
    ring's own, S times smaller.
    """
    labels = [label for label in shifts[RINGS[0]].labels if label in shifts[RINGS[1]].labels]
    taking, attachment = (
        shift.sign * shift.in_tolerances()[:, [shift.labels.index(label) for label in labels]]
        for shift in (shifts[ring] for ring in RINGS)
    )
    return np.asarray(np.max(np.abs(attachment - taking), axis=1, initial=0.0))


def _verdict(one: Comparison, worst: Floats, why: str) -> Comparison:
    """Judge a print that stays so far by the largest error at each of the new stops."""
    assert one.new is not None
    assert one.stop is not None
    stops = np.array(one.new.stops)
    good = stops[(worst < STAYS_BELOW) & (stops >= one.stop)]
    if good.size == 0:
        return replace(one, verdict="reprint", why=why, stop=None)
    verdict: Verdict = "keep" if good.size == stops.size else "keep from"
    return replace(one, verdict=verdict, stop=float(np.min(good)))


def _reasons(old: Printed, new: Printed) -> Iterator[str]:
    """Yield why a print is wrong wherever its marks stand."""
    if any(old.inputs.get(topic) != new.inputs.get(topic) for topic in _SHAPE[new.name]):
        yield (
            "what it tells of the rig has changed"
            if new.name == "setup"
            else "what is printed on it has another shape or meaning"
        )
    if new.inputs.get(Topic.CONTRADICTED) != old.inputs.get(Topic.CONTRADICTED):
        yield (
            "its readings disagree" if new.inputs[Topic.CONTRADICTED] else "it says CHECK READINGS"
        )
    if _depth(old, new) >= STAYS_BELOW:
        yield "its depth of field is for another circle of confusion"
    lacking = [
        label
        for which, ring in new.rings.items()
        for label in ring.labels
        if label not in old.rings[which].labels
    ]
    if lacking and new.name not in INDEX.values():
        yield "it lacks a mark"
    if new.name not in RINGS and not set(new.stops) <= set(old.stops):
        yield "it lacks a stop"


def _depth(old: Printed, new: Printed) -> float:
    """Return by what share all depth of field has changed: in proportion to the circle."""
    one, two = old.inputs.get(Topic.CIRCLE), new.inputs.get(Topic.CIRCLE)
    return abs(one - two) / max(one, two) if one and two else 0.0
