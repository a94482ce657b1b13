"""Whether a rig's parts fit each other, from camera to front, and which parts would close a gap.

Each check returns a `Finding`. No size is guessed: where one is not given, the finding is "cannot
tell" and says which key is missing.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain, pairwise
from typing import Literal

from focuschart.kit.attachment import Attachment
from focuschart.kit.fields import Thread
from focuschart.kit.parts import (
    Camera,
    Clamp,
    CloseUpLens,
    Filter,
    StepRing,
    TakingLens,
)
from focuschart.kit.schema import Kit, Rig
from focuschart.rig.assemble import assemble
from focuschart.rig.threads import apart, bridge, meets
from focuschart.units import format_length

Verdict = Literal["fits", "does not meet", "caution", "cannot tell"]
Kind = Literal["joint", "opening", "front"]
Table = Camera | TakingLens | StepRing | Clamp | Attachment | Filter | CloseUpLens

LENGTHS_APART_MM = 5.0
"""The most by which parts may add up to another length than measured; judgement, no source."""
LOOSEST_CLAMP_MM = 2.0
"""The most by which a bore may exceed the barrel in it; judgement, no source."""
_FEMALE: Mapping[type, str] = {
    TakingLens: "front_thread",
    StepRing: "thread_to_front",
    Attachment: "front_thread",
    Filter: "thread",
    CloseUpLens: "thread",
}
_MALE: Mapping[type, str] = {
    StepRing: "thread_to_lens",
    Clamp: "thread",
    Attachment: "rear_thread",
    Filter: "thread",
    CloseUpLens: "thread",
}
_TITLES: Mapping[str, str] = {
    "cameras": "camera",
    "taking_lenses": "taking lens",
    "attachments": "attachment",
}
"""The title of a part, by its section of the kit."""


@dataclass(frozen=True, slots=True)
class Part:
    """One part of a rig: its key in the kit, its title for messages, and its table."""

    key: str
    title: str
    table: Table


@dataclass(frozen=True, slots=True)
class Finding:
    """The result of one check: its place, the verdict and its reason, and parts to get.

    `missing` are the kit's keys that are not given, where the reason is that alone; `names_place`
    is whether the reason says its place too.
    """

    place: str
    verdict: Verdict
    reason: str
    wanted: tuple[str, ...] = ()
    kind: Kind = "joint"
    missing: tuple[str, ...] = ()
    names_place: bool = False


def parts(kit: Kit, rig: Rig) -> list[Part]:
    """Return a rig's parts from the camera to the front."""
    return [
        _part(kit, "cameras", rig.camera),
        _part(kit, "taking_lenses", rig.taking_lens),
        *(_link(kit, part_id) for part_id in rig.chain),
        _part(kit, "attachments", rig.attachment),
        *(_link(kit, part_id) for part_id in rig.front),
    ]


def _part(kit: Kit, section: str, part_id: str) -> Part:
    table: Table = getattr(kit, section)[part_id]
    return Part(f"{section}.{part_id}", f'{_TITLES[section]} "{table.name}"', table)


def _link(kit: Kit, part_id: str) -> Part:
    section, kind, table = kit.part(part_id)
    return Part(f"{section}.{part_id}", f'{kind} "{table.name}"', table)


def joints(kit: Kit, rig_id: str) -> list[Finding]:
    """Return a finding for each joint of a rig, from the lens mount to the front."""
    rig = kit.rigs[rig_id]
    row = parts(kit, rig)
    used = {*rig.chain, *rig.front}
    spare = [ring for ring_id, ring in kit.step_rings.items() if ring_id not in used]
    threads = [_thread(part, _FEMALE) for part in row]
    findings = []
    for index, (behind, ahead) in enumerate(pairwise(row)):
        if isinstance(behind.table, Camera):
            findings.append(_mounted(behind, ahead))
        elif isinstance(behind.table, Clamp):
            findings.append(_clamped(behind, ahead, into=threads[index - 1]))
        else:
            findings.append(_screwed(behind, ahead, spare))
    return findings


def lengths(kit: Kit, rig_id: str) -> list[Finding]:
    """Return a caution if a rig's parts do not add up to its length measured as a whole."""
    rig = kit.rigs[rig_id]
    summed = kit.parts_mm(rig)
    if summed is None or rig.front_vertex is None:
        return []
    if abs(summed - rig.front_vertex) <= LENGTHS_APART_MM:
        return []
    reason = (
        f"its front_vertex is {format_length(rig.front_vertex)}, but its parts add up to "
        f"{format_length(round(summed, 1))}: measure again"
    )
    return [Finding("the rig's length", "caution", reason)]


def place(behind: Part, ahead: Part) -> str:
    """Return the name of the joint between two parts."""
    return f"{behind.title} to {ahead.title}"


def _mounted(behind: Part, ahead: Part) -> Finding:
    """Return whether lens and camera have the same mount."""
    camera, lens = getattr(behind.table, "mount", None), getattr(ahead.table, "mount", None)
    if camera is None or lens is None:
        missing = [f"{p.key}.mount" for p, m in ((behind, camera), (ahead, lens)) if m is None]
        return _not_given(place(behind, ahead), missing)
    if camera.casefold() == lens.casefold():
        return Finding(place(behind, ahead), "fits", f"both have the mount {camera}")
    wanted = f"adapter from {lens} to {camera}"
    return Finding(
        place(behind, ahead), "does not meet", f"the mounts are {camera} and {lens}", (wanted,)
    )


def _not_given(where: str, missing: Sequence[str], *, kind: Kind = "joint") -> Finding:
    reason = f"{' and '.join(missing)} not given"
    return Finding(where, "cannot tell", reason, kind=kind, missing=tuple(missing))


def _clamped(behind: Part, ahead: Part, *, into: Thread | None) -> Finding:
    """Return whether a clamp holds the part in front; `into` is the thread that it screws into."""
    where = place(behind, ahead)
    if not isinstance(ahead.table, Attachment) or not isinstance(behind.table, Clamp):
        reason = f"a clamp holds an attachment's barrel: put {ahead.title} behind the clamp"
        return Finding(where, "does not meet", reason)
    bore, barrel = behind.table.bore, ahead.table.barrel_diameter
    if bore is None or barrel is None:
        sizes = {f"{behind.key}.bore": bore, f"{ahead.key}.barrel_diameter": barrel}
        return _not_given(where, [key for key, size in sizes.items() if size is None])
    sizes_text = f"a bore of {format_length(bore)} and a barrel of {format_length(barrel)}"
    if 0.0 <= bore - barrel <= LOOSEST_CLAMP_MM:
        return Finding(where, "fits", f"{sizes_text}, {bore - barrel:.3g} mm to take up")
    fault = "too tight" if bore < barrel else "too loose for its screws"
    return Finding(where, "does not meet", f"{sizes_text}: {fault}", (_clamp(barrel, into),))


def _clamp(barrel_mm: float, into: Thread | None) -> str:
    screws = "" if into is None else f", to screw into {into}"
    return f"clamp with a bore of {format_length(barrel_mm)}{screws}"


def _screwed(behind: Part, ahead: Part, spare: Sequence[StepRing]) -> Finding:
    """Return whether a part screws into the one behind; `spare` are unused step rings."""
    female, male = _thread(behind, _FEMALE), _thread(ahead, _MALE)
    if male is None and isinstance(ahead.table, Attachment) and ahead.table.barrel_diameter:
        reason = f"{ahead.title} has no rear_thread, it is held by its barrel"
        wanted = _clamp(ahead.table.barrel_diameter, female)
        return Finding(place(behind, ahead), "does not meet", reason, (wanted,))
    if female is None or male is None:
        keys = {_key(behind, _FEMALE): female, _key(ahead, _MALE): male}
        missing = [key for key, thread in keys.items() if thread is None]
        found, hint = _not_given(place(behind, ahead), missing), _by_barrel(behind)
        return replace(found, reason=found.reason + hint, missing=()) if hint else found
    return _meeting(place(behind, ahead), female, male, spare)


def _by_barrel(behind: Part) -> str:
    """Return a hint that a clamp can hold a lens whose thread is not given, if so."""
    table = behind.table
    if not isinstance(table, TakingLens) or table.front_thread or table.barrel_diameter is None:
        return ""
    return f"; if it has no thread, a clamp of {format_length(table.barrel_diameter)} holds it"


def _key(part: Part, which: Mapping[type, str]) -> str:
    return f"{part.key}.{which[type(part.table)]}"


def _thread(part: Part, which: Mapping[type, str]) -> Thread | None:
    name = which.get(type(part.table))
    thread: Thread | None = getattr(part.table, name) if name else None
    return thread


def _meeting(where: str, female: Thread, male: Thread, spare: Sequence[StepRing]) -> Finding:
    """Return whether a male thread screws into a female one."""
    if apart(female, male):
        own = [ring.name for ring in spare if _bridges(ring, female, male)]
        reason = f"{male} does not screw into {female}"
        if own:
            return Finding(where, "does not meet", f'{reason}: step ring "{own[0]}" closes it')
        return Finding(where, "does not meet", reason, bridge(female, male))
    if female.pitch_mm is None or male.pitch_mm is None:
        reason = f"both threads are {male.diameter_mm:g} mm, but a pitch is not given"
        return Finding(where, "cannot tell", reason)
    return Finding(where, "fits", f"both threads are {male}")


def _bridges(ring: StepRing, female: Thread, male: Thread) -> bool:
    """Return whether a ring joins two threads; False if a size or pitch is not known."""
    ends = ((female, ring.thread_to_lens), (ring.thread_to_front, male))
    return all(a is not None and b is not None and meets(a, b) for a, b in ends)


def openings(kit: Kit, rig_id: str) -> list[Finding]:
    """Return for each part of chain and front whether it is narrower than the glass."""
    rig = kit.rigs[rig_id]
    lens, attachment = kit.taking_lenses[rig.taking_lens], kit.attachments[rig.attachment]
    inner = {
        f"taking_lenses.{rig.taking_lens}.front_clear_aperture": lens.front_clear_aperture,
        f"attachments.{rig.attachment}.rear_clear_aperture": attachment.rear_clear_aperture,
    }
    outer = {f"attachments.{rig.attachment}.front_clear_aperture": attachment.front_clear_aperture}
    rows = ((rig.chain, inner), (rig.front, outer))
    return [_opening(_link(kit, part_id), glass) for ids, glass in rows for part_id in ids]


def _opening(part: Part, glass: Mapping[str, float | None]) -> Finding:
    """Return whether a part is narrower than the known apertures of the glass beside it."""
    opening, stated = _opening_mm(part.table)
    known = [aperture for aperture in glass.values() if aperture is not None]
    if opening is not None and known and opening < min(known):
        size = f"{'' if stated else 'less than '}{format_length(opening)}"
        reason = f"its opening is {size}, narrower than the glass, {format_length(min(known))}"
        return Finding(part.title, "caution", reason, kind="opening")
    missing = [key for key, aperture in glass.items() if aperture is None]
    missing += [] if stated else [f"{part.key}.clear_aperture"]
    if missing:
        return _not_given(part.title, missing, kind="opening")
    reason = "its opening is no narrower than the glass"
    return Finding(part.title, "fits", reason, kind="opening")


def _opening_mm(table: Table) -> tuple[float | None, bool]:
    """Return a part's opening and whether it is stated; if not, an upper bound by its threads."""
    stated = getattr(table, "clear_aperture", None)
    if stated is not None:
        return stated, True
    names = {which[type(table)] for which in (_MALE, _FEMALE) if type(table) in which}
    threads = [thread for name in names if (thread := getattr(table, name)) is not None]
    return min((thread.diameter_mm for thread in threads), default=None), False


def front(kit: Kit, rig_id: str) -> list[Finding]:
    """Return whether focusing the taking lens turns or moves the attachment on its front."""
    found = _turning(kit, rig_id), _moving(kit, rig_id)
    return [replace(finding, kind="front") for finding in found]


def _turning(kit: Kit, rig_id: str) -> Finding:
    rig = kit.rigs[rig_id]
    lens, where = kit.taking_lenses[rig.taking_lens], "the front turns"
    if lens.front_rotates is None:
        return _not_given(where, [f"taking_lenses.{rig.taking_lens}.front_rotates"])
    if not lens.front_rotates:
        return Finding(where, "fits", "focusing does not turn the front: the squeeze stays level")
    barrel = kit.attachments[rig.attachment].barrel_diameter
    bore = "" if barrel is None else f" with a bore of {format_length(barrel)}"
    reason = "focusing turns the front, and the squeeze with it: hold the attachment from outside"
    return Finding(where, "caution", reason, (f"clamp on rods{bore}",))


def _moving(kit: Kit, rig_id: str) -> Finding:
    """Return a caution if focusing moves the front on a fixed support."""
    rig, where = assemble(kit, rig_id), "the front moves"
    support = kit.rigs[rig_id].support
    if not rig.lens.front_moves:
        return Finding(where, "fits", "focusing leaves the front where it is")
    moved = float(rig.carried_mm(rig.distances_mm[0]))
    reason = f"the front moves {moved:.1f} mm from infinity to the nearest mark"
    if support is None:
        return Finding(where, "fits", f"{reason}, and the attachment with it")
    name = kit.supports[support].name
    caution = f'{reason}: it must slide freely on support "{name}"'
    return Finding(where, "caution", caution, names_place=True)


def findings(kit: Kit, rig_id: str) -> Iterator[Finding]:
    """Yield the findings of all checks of a rig: joints, lengths, openings, front."""
    checks = (joints, lengths, openings, front)
    yield from chain.from_iterable(check(kit, rig_id) for check in checks)


def shopping_list(kit: Kit, only: Collection[str] | None = None) -> dict[str, list[str]]:
    """Return the parts to get for all rigs, or `only` some, with the ids of their rigs."""
    wanted: dict[str, list[str]] = {}
    for rig_id in kit.rigs if only is None else only:
        for item in dict.fromkeys(chain(*(finding.wanted for finding in findings(kit, rig_id)))):
            wanted.setdefault(item, []).append(rig_id)
    return wanted
