"""A taking lens or a ring replaced for one day, without a change of the kit file.

A rig with other parts is another rig: it is added beside the one it stands for, with an id and a
name that say so, and the readings stay with the rig that they were made on. What they tell of both
rings is carried over: to the length that the parts now have, which no reading has confirmed, and,
where the attachment was never read on the new lens, with the shift there may be from lens to lens.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain, count

from focuschart.errors import KitError, Problem, shown
from focuschart.kit.fields import LONGEST_ID, LONGEST_NAME
from focuschart.kit.part_rules import stands_right
from focuschart.kit.rules import check_rig, nearest_mm, open_stops, reached_mm
from focuschart.kit.schema import Kit, Rig
from focuschart.units import distance_label, format_length, format_stop

_AS_READ = "{} as read"
LENS, RING = "--taking-lens", "--ring"
_MARK_LENGTH = 32
_AS_IT_WAS_MM = 0.05


@dataclass(frozen=True, slots=True)
class Change:
    """What is swapped: the new taking lens, and old chain part → new one, None for out."""

    lens: str | None
    rings: Mapping[str, str | None]

    def __bool__(self) -> bool:
        """Whether anything is swapped at all."""
        return self.lens is not None or bool(self.rings)


@dataclass(frozen=True, slots=True)
class Swap:
    """A kit with swapped rigs added; `rigs` has the id of each → the rig it stands for."""

    before: Kit
    kit: Kit
    change: Change
    rigs: Mapping[str, str]


def swapped(kit: Kit, rig_ids: Sequence[str], change: Change) -> Swap:
    """Return a checked kit with each rig once more as it is after a swap.

    Without `rig_ids` those are swapped that the whole change applies to. Marks that the new rig
    does not reach, stops that the new lens does not open to and a support that it no longer rests
    on are left out. Raises KitError for what cannot be swapped.
    """
    _require(kit, _unknown(kit, change))
    chosen = rig_ids or [key for key, rig in kit.rigs.items() if not any(_idle(rig, change))]
    problems = [_nowhere(change)] if not chosen else []
    for rig_id in chosen:
        problems += kit.broken[rig_id] if rig_id in kit.broken else [*_unfit(kit, rig_id, change)]
    _require(kit, problems)
    rigs: dict[str, str] = {}
    for rig_id in dict.fromkeys(chosen):
        rigs[_free_id((kit.rigs, rigs), rig_id)] = rig_id
    new = {new_id: _changed(kit, kit.rigs[old_id], change) for new_id, old_id in rigs.items()}
    stops = open_stops(kit, change.lens) if change.lens else kit.stops
    opened = kit.model_copy(update={"stops": stops})
    added = opened.model_copy(update={"rigs": {**kit.rigs, **new}})
    whole = {**added.rigs, **{key: _reaching(added, rig) for key, rig in new.items()}}
    result = added.model_copy(update={"rigs": whole})
    _require(kit, [problem for rig_id in rigs for problem in check_rig(result, rig_id)])
    return Swap(kit, result, change, rigs)


def _require(kit: Kit, problems: Sequence[Problem]) -> None:
    if problems:
        raise KitError(kit.source, problems)


# --- what cannot be swapped -------------------------------------------------------------------


def _unknown(kit: Kit, change: Change) -> list[Problem]:
    """Return problems for unknown ids and for rings swapped for themselves."""
    problems = []
    if change.lens is not None and change.lens not in kit.taking_lenses:
        problems.append(_no_such(LENS, change.lens, "taking lens", kit.taking_lenses))
    links = kit.links
    for old, new in change.rings.items():
        for part in (old, new):
            if part is not None and part not in links:
                problems.append(_no_such(RING, part, "step ring or clamp", links))
        if old == new:
            problems.append(Problem(RING, shown(old), "is swapped for itself: name another"))
    return problems


def _no_such(option: str, part: str, kind: str, known: Mapping[str, object]) -> Problem:
    names = ", ".join(list(known)[:8]) or "none"
    return Problem(option, shown(part), f"no such {kind} in the kit; it has {names}")


def _idle(rig: Rig, change: Change) -> Iterator[tuple[str, str, str]]:
    """Yield option, part and reason of each change that leaves a rig as it is."""
    if change.lens == rig.taking_lens:
        yield LENS, change.lens, "carries it already"
    for old in change.rings:
        if old not in rig.chain:
            row = ", ".join(rig.chain) or "nothing"
            yield RING, old, f"has no such part in its chain, which has {row}"


def _nowhere(change: Change) -> Problem:
    part = change.lens or next(iter(change.rings))
    rule = "there is no rig in the kit on which all this can be swapped: choose one with --rig"
    return Problem(LENS if change.lens else RING, shown(part), rule)


def _unfit(kit: Kit, rig_id: str, change: Change) -> Iterator[Problem]:
    """Yield why a change cannot be made on a rig."""
    rig = kit.rigs[rig_id]
    idle = [Problem(option, shown(part), f'rig "{rig_id}" {reason}')
            for option, part, reason in _idle(rig, change)]  # fmt: skip
    if idle:
        yield from idle
        return
    kept = [part for part in (*rig.chain, *rig.front) if part not in change.rings]
    new = [part for part in change.rings.values() if part is not None]
    for part in dict.fromkeys(new):
        if [*kept, *new].count(part) > 1:
            yield Problem(RING, shown(part), f'rig "{rig_id}" would have it twice: name another')
    if change.lens is not None:
        yield from _unmounted(kit, rig, change.lens)
        yield from _unmeasured(kit, rig_id, rig, change.lens)
        widest = kit.taking_lenses[change.lens].widest_stop
        if max(kit.stops) < widest:
            rule = f"opens to {format_stop(widest)} only: add a stop of the lens to the kit's stops"
            yield Problem(LENS, shown(change.lens), rule)
    if not reached_mm(kit, _changed(kit, rig, change)):
        rule = f'rig "{rig_id}" would reach none of its distances: add a farther one'
        yield Problem(LENS if change.lens else RING, "", rule)


def _unmounted(kit: Kit, rig: Rig, lens_id: str) -> Iterator[Problem]:
    own, camera = kit.taking_lenses[lens_id].mount, kit.cameras[rig.camera].mount
    if own is not None and camera is not None and own.casefold() != camera.casefold():
        rule = f'has the mount {own}, but camera "{rig.camera}" has {camera}: choose another lens'
        yield Problem(LENS, shown(lens_id), rule)


def _unmeasured(kit: Kit, rig_id: str, rig: Rig, lens_id: str) -> Iterator[Problem]:
    """The new front needs the new lens's length, and the old one's where the whole was measured."""
    needed = [lens_id] if rig.front_vertex is None else [rig.taking_lens, lens_id]
    missing = [key for key in needed if kit.taking_lenses[key].length is None]
    if missing:
        keys = " and ".join(f"taking_lenses.{key}.length" for key in missing)
        rule = f'to tell where the front of rig "{rig_id}" then stands, add {keys}'
        yield Problem(LENS, shown(lens_id), rule)


# --- the rig after the swap -------------------------------------------------------------------


def _changed(kit: Kit, rig: Rig, change: Change) -> Rig:
    """Return a rig with its new parts, named after them; its length is the new one."""
    row = [change.rings.get(part, part) for part in rig.chain]
    new = rig.model_copy(
        update={
            "name": _marked(kit, rig, change),
            "taking_lens": change.lens or rig.taking_lens,
            "chain": [part for part in row if part is not None],
        }
    )
    if rig.front_vertex is None:
        return new
    moved = _parts_mm(kit, new) - _parts_mm(kit, rig)
    return new.model_copy(update={"front_vertex": rig.front_vertex + moved})


def _parts_mm(kit: Kit, rig: Rig) -> float:
    """Return the length of the parts that a swap can change, an unknown lens's as 0."""
    links = kit.links
    lens_mm = kit.taking_lenses[rig.taking_lens].length or 0.0
    return lens_mm + sum(links[part].thickness for part in rig.chain)


def _reaching(kit: Kit, rig: Rig) -> Rig:
    """Return the rig without marks out of its reach or a support that is no longer under it."""
    reached, update = reached_mm(kit, rig), {}
    if len(reached) < len(rig.distances or kit.distances):
        update["distances"] = reached
    return rig.model_copy(
        update={**update, "support": rig.support if stands_right(kit, rig) else None}
    )


def _marked(kit: Kit, rig: Rig, change: Change) -> str:
    """Return the rig's name with what was swapped, both shortened to fit a name."""
    what = [kit.taking_lenses[change.lens].name] if change.lens else []
    links = kit.links
    for old, new in change.rings.items():
        what.append(f"no {links[old].name}" if new is None else links[new].name)
    mark = f" [swap: {_cut(', '.join(what), _MARK_LENGTH - len(' [swap: ]'))}]"
    return _cut(rig.name, LONGEST_NAME - len(mark)) + mark


def _cut(text: str, most: int) -> str:
    return text if len(text) <= most else f"{text[: most - 3].rstrip()}..."


def _free_id(taken: Iterable[Collection[str]], rig_id: str) -> str:
    """Return an id that no rig has: portrait-85-swap."""
    ends = chain(("-swap",), (f"-swap{number}" for number in count(2)))
    ids = (rig_id[: LONGEST_ID - len(end)].rstrip("-") + end for end in ends)
    return next(new_id for new_id in ids if not any(new_id in known for known in taken))


# --- what was done ----------------------------------------------------------------------------


def swap_lines(swap: Swap) -> Iterator[str]:
    """Yield what was swapped on each rig, by how much its front moved, and what was left out."""
    for new_id, old_id in swap.rigs.items():
        old, new = swap.before.rigs[old_id], swap.kit.rigs[new_id]
        parts = "; ".join(_exchanges(swap, old))
        yield f"{old_id} as {new_id}: {parts}. {_moved(swap, old, new)}."
        left_out = "; ".join(_left_out(swap, old, new))
        if left_out:
            yield f"{new_id}, left out: {left_out}."
    stops = [format_stop(stop) for stop in swap.before.stops if stop not in swap.kit.stops]
    if stops:
        yield f"Left out: {', '.join(stops)}, to which the lens does not open."


def _exchanges(swap: Swap, old: Rig) -> Iterator[str]:
    lenses, links = swap.kit.taking_lenses, swap.kit.links
    if swap.change.lens is not None:
        yield f"{lenses[swap.change.lens].name} for {lenses[old.taking_lens].name}"
    for before, after in swap.change.rings.items():
        name = links[before].name
        yield f"{name} taken out" if after is None else f"{links[after].name} for {name}"


def _moved(swap: Swap, old: Rig, new: Rig) -> str:
    moved = front_moved_mm(swap.kit, old, new)
    if abs(moved) < _AS_IT_WAS_MM:
        return "The front glass stands where it stood"
    way = "farther from" if moved > 0.0 else "nearer to"
    return f"The front glass stands {format_length(round(abs(moved), 1))} {way} the sensor"


def front_moved_mm(kit: Kit, old: Rig, new: Rig) -> float:
    """Return how far the foremost glass of a rig is ahead of another's, both of one checked kit."""
    before, after = kit.front_vertex_mm(old), kit.front_vertex_mm(new)
    return (after or 0.0) - (before or 0.0)


def _left_out(swap: Swap, old: Rig, new: Rig) -> Iterator[str]:
    kit = swap.kit
    had, has = old.distances or kit.distances, new.distances or kit.distances
    gone = [distance_label(distance, kit.units) for distance in had if distance not in has]
    if gone:
        nearest, what = nearest_mm(kit, new)
        limit = format_length(round(nearest, 1))
        yield f"{', '.join(gone)}, nearer than {limit}, limited by {what}"
    if old.support is not None and new.support is None:
        yield f"{kit.supports[old.support].name}, which no longer stands behind the front: move it"


# --- readings made before parts were replaced ------------------------------------------------


def read_before(kit: Kit, front_vertex_mm: Mapping[str, float]) -> Kit:
    """Return the kit with readings of some rigs as made when their front vertex was another.

    `front_vertex_mm` gives it by rig: the readings move to a rig of that length beside the rig,
    which keeps its own. All else stays as it is.
    """
    moved = {rig for rig in front_vertex_mm if rig in kit.rigs}
    former = {
        _AS_READ.format(rig): kit.rigs[rig].model_copy(
            update={"front_vertex": front_vertex_mm[rig]}
        )
        for rig in moved
    }
    readings = [
        reading.model_copy(update={"rig": _AS_READ.format(reading.rig)})
        if reading.rig in moved
        else reading
        for reading in kit.readings
    ]
    return kit.model_copy(update={"rigs": {**kit.rigs, **former}, "readings": readings})
