"""What photographs say, as a table to look at before it is entered, and as data."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

from focuschart.report.numbers import dumped, plain
from focuschart.units import distance_label

if TYPE_CHECKING:
    from focuschart.photo.agree import Alike
    from focuschart.photo.assign import Assigned, Figure
    from focuschart.photo.taping import Taped
    from focuschart.units import Units

FORMAT = 1
_SLIP_MM, _SIGMAS = 0.1, 2.576
"""A slip is as large, and beyond what chance brings about once in a hundred."""


def as_json(photos: Sequence[Assigned]) -> str:
    """Return the photographs as JSON; a distance at infinity, or not known, is null."""
    return dumped({"format": FORMAT, "photos": [_data(photo) for photo in photos]}) + "\n"


def _data(photo: Assigned) -> dict[str, Any]:
    return {
        "file": photo.shot.file,
        "rings": [
            {
                "rig": figure.rig,
                "ring": figure.ring,
                "strip": figure.read.strip.code,
                "arc_mm": plain(figure.arc_mm),
                "arc_95_mm": plain(figure.read.arc_95_mm),
            }
            for figure in photo.figures
        ],
        "distance_mm": None if photo.distance_mm is None else plain(photo.distance_mm),
        "refused": [each._asdict() for each in photo.refused],
    }


def as_text(photos: Sequence[Assigned], *, units: Units) -> str:
    """Return a line for each photograph: file, rig, distance, and both rings with their ±."""
    heading = ("file", "rig", "distance", "taking lens, mm", "attachment, mm")
    rows = [heading, *(_row(photo, units) for photo in photos if photo.figures)]
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    lines = [
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in rows
    ] if len(rows) > 1 else []  # fmt: skip
    return "".join(f"{line}\n" for line in [*lines, *_refusals(photos)])


def _row(photo: Assigned, units: Units) -> tuple[str, ...]:
    far = "" if photo.distance_mm is None else distance_label(photo.distance_mm, units)
    own = {figure.ring: _figure(figure) for figure in photo.figures}
    rigs = ", ".join(dict.fromkeys(figure.rig for figure in photo.figures))
    return photo.shot.file, rigs, far, own.get("taking", "–"), own.get("attachment", "–")


def _figure(figure: Figure) -> str:
    return f"{figure.arc_mm:.2f} ± {figure.read.arc_95_mm:.2f}"


def places(strips: Sequence[Taped]) -> Iterator[str]:
    """Yield what to do with the index beside each strip."""
    for each in strips:
        strip, off = each.figure.read.strip, abs(each.offset_mm)
        by = f"{off:.2f} ± {1.96 * each.sigma_mm:.2f} mm"
        if each.is_near:
            yield f"{strip.name}, {strip.code}: taped true, within {by}. Leave it."
            continue
        way = "left" if each.offset_mm > 0.0 else "right"
        tick = each.tick_mm
        instead = "" if tick is None else f", or set marks by the tick {tick:+g} of its comb"
        yield (
            f"{strip.name}, {strip.code}: slide the index {by} to the {way}, seen from behind the "
            f"camera, and photograph it again{instead.replace('-', '−')}."
        )


def agreements(found: Sequence[Alike], units: Units, *, unmoved: bool) -> Iterator[str]:
    """Yield by how much photographs of one strip at one setting differ, and what follows.

    At a distance the ring may have been focused anew between them, where it is not `unmoved`.
    """
    for each in found:
        strip = each.figures[0].read.strip
        at = "" if each.distance_mm is None else f" at {distance_label(each.distance_mm, units)}"
        what = f"{strip.name}, {strip.code}{at}: {len(each.figures)} photographs"
        by = f"{each.apart_mm:.2f} ± {1.96 * each.sigma_mm:.2f} mm"
        if each.by_chance:
            yield f"{what} agree, {by} apart at most."
        elif unmoved:
            yield f"{what} do not agree: {each.contradiction}."
        else:
            yield (
                f"{what} differ by {by} at most. If the ring was focused anew between them, that "
                "is how well it is focused; if not, one of them is wrong: photograph it again from "
                "both sides."
            )


def slips(rulers: Sequence[tuple[str, float, float]]) -> Iterator[str]:
    """Yield by how much each ruler shows another figure than before at the same setting.

    Each is a ring's name, the difference and its standard error, mm.
    """
    for name, off, sigma in rulers:
        sure = abs(off) > max(_SLIP_MM, _SIGMAS * sigma)
        verdict = "it has slipped: say --taped-again from here on" if sure else "it has not slipped"
        by = f"{off:+.2f} ± {1.96 * sigma:.2f} mm"
        yield f"{name}: against before, the ruler shows {by}: {verdict}."


def _refusals(photos: Sequence[Assigned]) -> Iterator[str]:
    for photo in photos:
        for each in photo.refused:
            yield f"{photo.shot.file}: not read, {each.code}: {each.why}"
        if not photo.figures and not photo.refused:
            yield (
                f"{photo.shot.file}: not read, few-tags: no tags of a strip are seen: photograph "
                "it again, square on, from 15 to 25 cm"
            )
