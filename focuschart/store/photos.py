"""Photographs read from files, and entered into a kit as readings."""

from __future__ import annotations

import math
import os
from typing import TYPE_CHECKING, Any, NamedTuple

from focuschart.errors import InputError
from focuschart.store.files import read_bytes
from focuschart.store.kit_edits import add_entries, add_readings, last_taping
from focuschart.units import format_length

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from focuschart.kit.schema import Kit
    from focuschart.photo.assign import Assigned, Rigs, Shot
    from focuschart.photo.strips import Ring, TaggedStrip
    from focuschart.photo.taping import Taped
    from focuschart.store.kit_edits import KitFile

_ENDINGS = (".jpg", ".jpeg", ".png", ".heic", ".heif")
_MOST_BYTES = 80_000_000


def photo_files(paths: Sequence[Path]) -> list[Path]:
    """Return the photographs at paths: files, and the pictures in folders by their names.

    Raises InputError for a path that is not there, and for a folder without pictures.
    """
    found: list[Path] = []
    for path in paths:
        if path.is_dir():
            own = sorted(each for each in path.iterdir() if each.suffix.lower() in _ENDINGS)
            if not own:
                raise InputError(f"{path}: holds no photograph, no .jpg, .jpeg or .png file")
            found += own
        elif not os.path.lexists(path):
            raise InputError(f"{path}: is not there: check the name")
        else:
            found.append(path)
    return list(dict.fromkeys(found))


def known_strips(kit: Kit, kit_file: Path, out: Path) -> list[TaggedStrip]:
    """Return the rulers of a kit, and the marker strips in the records of its packs in `out`.

    Raises InputError for a damaged record.
    """
    from focuschart.photo.known import bench_strips, recorded_strip
    from focuschart.store.prints import records_in
    from focuschart.store.record import tables

    found = {strip.code: strip for strip in bench_strips(kit)}
    for record in records_in(out):
        if record.kit == kit_file.name:
            for key in ("prints", "former"):
                for data in tables(record, key):
                    strip = recorded_strip(
                        data, kit, rig_id=record.notes.get("rig"), former=key == "former"
                    )
                    if strip is not None:
                        found.setdefault(strip.code, strip)
    return list(found.values())


def shots_of(strips: Sequence[TaggedStrip], paths: Sequence[Path]) -> Iterator[Shot]:
    """Yield each photograph as read; raises InputError, with its path, for one that cannot be."""
    from focuschart.layout.tag.distance import card_distance_mm
    from focuschart.photo.assign import Shot
    from focuschart.photo.picture import photograph
    from focuschart.photo.read import rings_in

    for path in paths:
        data = read_bytes(path, limit_bytes=_MOST_BYTES)
        try:
            photo = photograph(data)
        except InputError as error:
            raise InputError(f"{path}: {error}") from None
        found = rings_in(photo, strips)
        card = card_distance_mm(found.seen.numbers.tolist())
        yield Shot(str(path), photo.sign, photo.taken, found.rings, found.refused, card)


def assigned(
    kit: Kit, shots: Sequence[Shot], *, rig: str | None, distance_mm: float | None,
    anywhere: bool = False,
) -> list[Assigned]:  # fmt: skip
    """Return photographs with rig, distance and turn, as far as they are known.

    `rig` and `distance_mm` are those asked for. Where neither that nor a card gives a distance, it
    is the bench form's, in the order of exposure; with `anywhere` it is not asked for.
    """
    from focuschart.photo.assign import with_distance, with_rigs

    read = with_rigs(shots, _rig_parts(kit), rig=rig)
    if distance_mm is not None:
        read = with_distance(read, distance_mm)
    return _with_turns(kit, read if anywhere else _in_form_order(kit, read))


def _in_form_order(kit: Kit, read: list[Assigned]) -> list[Assigned]:
    from focuschart.photo.assign import in_order, without_distance

    rigs = {figure.rig for photo in read if photo.distance_mm is None for figure in photo.figures}
    cure = "say --distance, or clip the distance card beside the rig"
    if not rigs:
        return read
    if len(rigs) > 1:
        return without_distance(read, f"they are of several rigs: {cure}")
    ordered = in_order(read, _form_distances_mm(kit, rigs.pop()))
    if isinstance(ordered, str):
        return without_distance(read, f"no card is seen, and {ordered}: {cure}")
    return ordered


def _rig_parts(kit: Kit) -> Rigs:
    """Return the lens and the attachment of each rig of a kit."""
    return {
        name: {"taking": rig.taking_lens, "attachment": rig.attachment}
        for name, rig in kit.rigs.items()
    }


def _form_distances_mm(kit: Kit, rig_id: str) -> list[float]:
    """Return the distances of a rig's bench form, in its order, as `focuschart bench` prints it."""
    from focuschart.bench.advice import bench_distances
    from focuschart.chart.charts import build_charts

    unread = kit.model_copy(update={"readings": []})
    for chart in build_charts(unread, only=[rig_id]):
        return list(map(float, bench_distances(unread, chart.rig, min(chart.rig.stops)).tolist()))
    return []


def _with_turns(kit: Kit, photos: Sequence[Assigned]) -> list[Assigned]:
    """Return photographs with the figures of rings of several turns in their turn, by the kit's."""
    from focuschart.photo.assign import with_turns

    made: list[Assigned] = []
    for photo in photos:
        known: dict[Ring, list[tuple[float, float]]] = {}
        rises: dict[Ring, bool] = {}
        for figure in photo.figures:
            rig = kit.rigs[figure.rig]
            parts = {"taking": kit.taking_lenses[rig.taking_lens].ring,
                     "attachment": kit.attachments[rig.attachment].ring}  # fmt: skip
            rises[figure.ring] = parts[figure.ring].rises_nearer
            known[figure.ring] = _figures(kit, figure.rig, figure.ring) + [
                (each.distance_mm, other.arc_mm)
                for each in made if each.distance_mm is not None
                for other in each.figures if (other.rig, other.ring) == (figure.rig, figure.ring)
            ]  # fmt: skip
        made += with_turns([photo], known, rises_nearer=rises)
    return made


def _figures(kit: Kit, rig: str, ring: Ring) -> list[tuple[float, float]]:
    """Return distances and figures of a ring's readings on its rig."""
    return [
        (reading.distance, figure)
        for reading in kit.readings
        if reading.rig == rig and not reading.ignore
        for figure in [getattr(reading, ring)]
        if figure is not None
    ]


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


def _rulers_before(kit: Kit, setting: str | None) -> dict[tuple[str, Ring], tuple[float, float]]:
    """Return the figures of rulers at an unmoved setting of a kit, of each ring the first."""
    name = kit.unmoved[-1].setting if setting is None and kit.unmoved else setting
    found: dict[tuple[str, Ring], tuple[float, float]] = {}
    for each in kit.unmoved:
        rings: tuple[Ring, ...] = ("taking", "attachment")
        for ring in rings:
            figure = getattr(each, ring)
            if each.setting == name and figure is not None and each.strip(ring) is None:
                error = getattr(each, f"{ring}_error") or kit.bench.ruler_error
                found.setdefault((each.rig, ring), (figure, error))
    return found


def enter_unmoved(
    file: KitFile, photos: Sequence[Assigned], said: Said, setting: str
) -> Iterator[str]:
    """Write photographs into a kit file as an unmoved setting; yield what was done."""
    known = {each.photo for each in file.kit.unmoved}
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
