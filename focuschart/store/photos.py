"""Photographs read from files, with the rig, the distance and the turn of the rings in them."""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import TYPE_CHECKING

from focuschart.errors import InputError
from focuschart.store.files import read_bytes

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from focuschart.kit.ring import Ring as KitRing
    from focuschart.kit.schema import Kit
    from focuschart.photo.assign import Assigned, Rigs, Shot
    from focuschart.photo.strips import Ring, TaggedStrip

    Photos = Sequence[Assigned]
    """Photographs with all that is known of them."""

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
    """Yield each photograph as read; a file that cannot be read is a photograph without rings.

    Raises InputError where OpenCV is missing.
    """
    from focuschart.photo.picture import require_opencv

    require_opencv()
    for path in paths:
        try:
            data = read_bytes(path, limit_bytes=_MOST_BYTES)
        except InputError as error:
            yield _unread(path, "", str(error).removeprefix(f"{path}: "))
            continue
        yield _shot(path, data, strips)


def _shot(path: Path, data: bytes, strips: Sequence[TaggedStrip]) -> Shot:
    from focuschart.layout.tag.distance import card_distance_mm
    from focuschart.photo.assign import Shot
    from focuschart.photo.picture import photograph, sign_of
    from focuschart.photo.read import rings_in

    try:
        photo = photograph(data)
    except InputError as error:
        return _unread(path, sign_of(data), str(error))
    found = rings_in(photo, strips)
    card = card_distance_mm(found.seen.numbers.tolist())
    return Shot(str(path), photo.sign, photo.taken, found.rings, found.refused, card)


def _unread(path: Path, sign: str, why: str) -> Shot:
    """Return a file of which no picture can be made: no tag can be read in it."""
    from focuschart.photo.assign import Shot
    from focuschart.photo.refusal import Refused

    return Shot(str(path), sign, None, (), (Refused("", "few-tags", f"the file {why}"),), None)


def assigned(
    kit: Kit, shots: Sequence[Shot], *, rig: str | None, distance_mm: float | None,
    unmoved: bool = False,
) -> list[Assigned]:  # fmt: skip
    """Return photographs with rig and distance, as far as they are known.

    `rig` and `distance_mm` are those asked for. Where neither that nor a card gives a distance, it
    is that of the kit for a photograph entered before, else the bench form's, in the order of
    exposure; for a setting that is `unmoved` it is not asked for.
    """
    from focuschart.photo.assign import with_rigs
    from focuschart.photo.order import with_distance, with_entered

    read = with_rigs(shots, _rig_parts(kit), rig=rig)
    if distance_mm is not None:
        return with_distance(read, distance_mm)
    if unmoved:
        return read
    entered = {each.photo: each.distance for each in kit.readings if each.photo is not None}
    return _in_form_order(kit, with_entered(read, entered))


def _in_form_order(kit: Kit, read: list[Assigned]) -> list[Assigned]:
    from focuschart.photo.order import in_order, without_distance

    waiting = [photo for photo in read if photo.distance_mm is None]
    rigs = {figure.rig for photo in waiting for figure in photo.figures}
    cure = "say --distance, or clip the distance card beside the rig"
    if not rigs:
        return read
    if len(rigs) > 1:
        return without_distance(read, f"they are of several rigs: {cure}")
    rig = rigs.pop()
    rings = {figure.ring for photo in waiting for figure in photo.figures}
    done = {far for ring in rings for far, _ in _figures(kit, rig, ring)}
    ordered = in_order(read, _form_distances_mm(kit, rig), read_mm=done)
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


AskTurn = Callable[[str, str, int, int], int]
"""Asks for a turn: of a file, of a ring by its name, from the first to the last that may be."""


def in_turns(kit: Kit, photos: Sequence[Assigned], ask: AskTurn | None) -> list[Assigned]:
    """Return photographs with the figures of rings of several turns in their turn.

    By the kit's readings and by each other; where these leave it open it is asked for, and without
    `ask` refused.
    """
    from focuschart.photo.turns import Known, open_turn, with_turns, without_open_turns

    known = {
        (figure.rig, figure.ring): Known(
            _figures(kit, figure.rig, figure.ring),
            _ring_of(kit, figure.rig, figure.ring).rises_nearer,
        )
        for photo in photos
        for figure in photo.figures
    }
    said: dict[tuple[str, Ring], int] = {}
    while True:
        settled = with_turns(photos, known, said)
        found = open_turn(settled)
        if found is None:
            return settled
        if ask is None:
            return without_open_turns(settled)
        photo, figure = found
        first, *_, last = figure.turns
        answer = ask(photo.shot.file, figure.read.strip.name, first + 1, last + 1)
        said[photo.shot.sign, figure.ring] = answer - 1


def _ring_of(kit: Kit, rig: str, ring: Ring) -> KitRing:
    parts = kit.rigs[rig]
    if ring == "taking":
        return kit.taking_lenses[parts.taking_lens].ring
    return kit.attachments[parts.attachment].ring


def _figures(kit: Kit, rig: str, ring: Ring) -> list[tuple[float, float]]:
    """Return distances and figures of a ring's readings on its rig."""
    return [
        (reading.distance, figure)
        for reading in kit.readings
        if reading.rig == rig and not reading.ignore
        for figure in [getattr(reading, ring)]
        if figure is not None
    ]
