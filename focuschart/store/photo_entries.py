"""Figures off photographs entered into a kit, as readings or as a setting that does not move."""

from __future__ import annotations

import math
import os
from typing import TYPE_CHECKING, Any, NamedTuple

from focuschart.store.kit_edits import add_entries, add_readings, last_taping
from focuschart.units import format_length

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from focuschart.kit.schema import Kit
    from focuschart.photo.agree import Alike
    from focuschart.photo.assign import Assigned
    from focuschart.photo.strips import Ring
    from focuschart.photo.taping import Taped
    from focuschart.store.kit_edits import KitFile


class Said(NamedTuple):
    """What is said of all photographs entered at once: stop, side, and whether taped anew."""

    stop: float
    side: str | None
    taped_again: bool


def write_read(
    file: KitFile, photos: Sequence[Assigned], said: Said, *, anyway: bool, unmoved: str | None
) -> Iterator[str]:
    """Write photographs as readings, or as the setting `unmoved` if named; yield what was done."""
    if unmoved is None:
        return enter(file, photos, said, anyway=anyway)
    return enter_unmoved(file, photos, said, unmoved)


def enter(file: KitFile, photos: Sequence[Assigned], said: Said, *, anyway: bool) -> Iterator[str]:
    """Write photographs into a kit file as readings; yield what was done.

    Those entered before are left out. Raises what `add_readings` raises, with nothing written.
    """
    known = {reading.photo for reading in file.kit.readings}
    again = [each.shot.file for each in photos if each.shot.sign in known]
    if again:
        yield f"Entered before, left out: {', '.join(again)}"
    new = {each.shot.sign: each for each in photos if each.shot.sign not in known}
    readings = [
        _reading(photo, rig, said, file.kit)
        for photo in new.values()
        for rig in dict.fromkeys(figure.rig for figure in photo.figures)
    ]
    if readings:
        old = add_readings(file, readings, anyway=anyway)
        count = "1 reading" if len(readings) == 1 else f"{len(readings)} readings"
        yield f"Written to {os.fspath(file.path)}: {count}."
        yield f"The kit as it was before: {os.fspath(old)}"


def held_at(
    kit: Kit, photos: Sequence[Assigned], setting: str | None
) -> tuple[list[Taped], list[tuple[str, float, float]]]:
    """Return marker strips against the rulers at one setting, and rulers against themselves before.

    Rulers are those in the photographs, or those the kit has for the setting, its last one for
    None. Of rulers before, each is a ring's name, the difference and its standard error, mm.
    """
    from focuschart.photo.taping import ruler_figures, taped

    before, now = _rulers_before(kit, setting), ruler_figures(photos)
    names = {(f.rig, f.ring): f.read.strip.name for photo in photos for f in photo.figures}
    again = [
        (names[key], arc - before[key][0], math.hypot(sigma, before[key][1]))
        for key, (arc, sigma) in now.items()
        if key in before
    ]
    return list(taped(photos, {**before, **now})), again


def at_one_setting(
    kit: Kit, photos: Sequence[Assigned], setting: str | None, *, anyway: bool
) -> list[Assigned]:
    """Return photographs of one setting, those that contradict each other refused, or `anyway`.

    Rings of several turns are in the turn of their ruler's figure before: their differences alone
    are of use.
    """
    from focuschart.photo.agree import without_contradictions
    from focuschart.photo.turns import nearest_turns

    before = {where: figure for where, (figure, _) in _rulers_before(kit, setting).items()}
    near = nearest_turns(photos, before)
    return near if anyway else without_contradictions(near)


def agreeing(photos: Sequence[Assigned], *, unmoved: bool) -> list[Alike]:
    """Return what photographs of one strip at one distance, or setting, say of each other."""
    from focuschart.photo.agree import alike

    return list(alike(photos, unmoved=unmoved))


def _rulers_before(kit: Kit, setting: str | None) -> dict[tuple[str, Ring], tuple[float, float]]:
    """Return the figures of rulers at an unmoved setting of a kit, of each ring the first."""
    name = kit.unmoved[-1].setting if setting is None and kit.unmoved else setting
    found: dict[tuple[str, Ring], tuple[float, float]] = {}
    for each in kit.unmoved:
        rings: tuple[Ring, ...] = ("taking", "attachment")
        for ring in rings:
            figure = getattr(each, ring)
            if each.setting == name and figure is not None and each.strip(ring) is None:
                error = each.error_mm(ring) or kit.bench.ruler_error
                found.setdefault((each.rig, ring), (figure, error))
    return found


def enter_unmoved(
    file: KitFile, photos: Sequence[Assigned], said: Said, setting: str
) -> Iterator[str]:
    """Write photographs into a kit file as an unmoved setting; yield what was done."""
    known = {each.photo for each in file.kit.unmoved}
    again = [each.shot.file for each in photos if each.shot.sign in known]
    if again:
        yield f"Entered before, left out: {', '.join(again)}"
    new = {each.shot.sign: each for each in photos if each.shot.sign not in known}
    entries = [
        {"setting": setting, **_figures_of(photo, rig, said, file.kit)}
        for photo in new.values()
        for rig in dict.fromkeys(figure.rig for figure in photo.figures)
    ]
    if entries:
        old = add_entries(file, "unmoved", entries)
        yield f"Written to {os.fspath(file.path)}: {len(entries)} of the setting {setting}."
        yield f"The kit as it was before: {os.fspath(old)}"


def _reading(photo: Assigned, rig: str, said: Said, kit: Kit) -> dict[str, Any]:
    """Return the reading of one rig in a photograph, by the kit's keys."""
    assert photo.distance_mm is not None
    absent: dict[str, Any] = dict.fromkeys(("taking", "attachment"))
    return {
        **absent, "distance": format_length(photo.distance_mm), "distance_error": None,
        "stop": said.stop, "height": None, "side": said.side,
        **_figures_of(photo, rig, said, kit),
    }  # fmt: skip


def _figures_of(photo: Assigned, rig: str, said: Said, kit: Kit) -> dict[str, Any]:
    """Return rig, figures, errors, taping and codes of a photograph, by the kit's keys."""
    own = {figure.ring: figure for figure in photo.figures if figure.rig == rig}
    codes = {
        ring: figure.read.strip.code for ring, figure in own.items()
        if figure.read.strip.kind == "marker"
    }  # fmt: skip
    taping = last_taping(kit, rig, strips=bool(codes)) + said.taped_again
    figures: dict[str, Any] = {ring: round(figure.arc_mm, 3) for ring, figure in own.items()}
    errors: dict[str, Any] = {
        f"{ring}_error": round(figure.read.sigma_mm, 4) for ring, figure in own.items()
    }
    return {
        "rig": rig, **figures, **errors, "photo": photo.shot.sign,
        "taping": None if taping == 1 else taping, "strips": codes or None,
    }  # fmt: skip
