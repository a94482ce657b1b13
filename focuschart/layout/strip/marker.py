"""The marker strip: each subject distance, at the arc to which the ring is turned for it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import product

from focuschart.errors import PageError
from focuschart.layout.page import Face
from focuschart.layout.sheet.block import Block, cut_box
from focuschart.layout.strip.band import LEAST_ROW_MM
from focuschart.layout.strip.cone import WidenedFace, narrowing
from focuschart.layout.strip.design import Design, MarkerStrip, design, fields_of
from focuschart.layout.strip.labels import Label, Lettering, letterings, place_labels
from focuschart.layout.strip.marker_tags import around, marker_tags, yielded
from focuschart.layout.strip.millimetres import heights_mm
from focuschart.layout.strip.ticks import mark_shapes, tick_mm
from focuschart.layout.tag.tag import tag_shapes
from focuschart.layout.text.typeset import SMALLEST_CAP_MM, widest

__all__ = ["MarkerStrip", "marker_strip"]

_CAPTION_SHARE = 7.5
"""Row height divided by caption height, within limits (judgement, no source)."""
_LARGEST_CAPTION_MM = 2.4
_WITHOUT_CODE_MM = 130.0
"""The longest part without room for its code that millimetres may leave: figures that can be read
are worth more than a code on a short piece of a split strip."""


def marker_strip(strip: MarkerStrip, *, face: Face) -> Block:
    """Return a marker strip with its tab, as a rectangle: `cone.developed` shapes it for a cone.

    Labels are as large as possible without leaving out a needed caption or more labels than at the
    smallest legible size. Raises PageError when the marks take more turns than the ring has, or
    leave no room for labels, turns or code.
    """
    band = strip.band
    _require_turns(strip)
    _require_rows(strip)
    wide = WidenedFace(face, narrowing(band))
    best = _with_millimetres(strip, _best(strip, wide), wide)
    if best.unnumbered:
        raise PageError(
            f'{strip.key}: no room for "turn {best.unnumbered[0] + 1}" between the labels of that '
            "turn: mark fewer distances"
        )
    if strip.captions and strip.captions[0] in best.captions.missing:
        raise PageError(_no_room(strip, wide))
    tags = tuple(marker_tags(band, best.shapes, best.loose, strip.ids, face=wide))
    shapes = yielded(best.shapes, tags, face=wide)
    keys = {shape.key for shape in shapes}
    return Block(
        band.total_mm,
        band.width_mm,
        (*shapes, *(shape for tag in tags for shape in tag_shapes(tag))),
        cut_box(band.total_mm, band.width_mm),
        best.keep,
        limits=band.limits,
        loose=tuple(each for each in best.loose if each.key in keys),
        everywhere=around(best.captions.first, tags),
        notes=band.edge_notes(),
        tags=tags,
    )


def _best(strip: MarkerStrip, face: Face) -> Design:
    """Return the first design that lacks nothing, else the one that lacks least.

    Where numbers of turns or the code do not fit, the labels of the last ranks are left out.
    """
    ways = _ways(strip, face)
    for count in range(len(ways[0][1]), 0, -1):
        designs = list(_until_whole(_designs(strip, ways, count, face)))
        best = min(designs, key=lambda candidate: candidate.lacking)
        if best.marked(strip.captions) or strip.marks[ways[0][1][count - 1].number].rank < 0:
            break
    return best


def _with_millimetres(strip: MarkerStrip, best: Design, face: Face) -> Design:
    """Return the design with the ruler's millimetres, as it is where they would cost a word.

    Labels keep their size; captions may become smaller.
    """
    names = [mark.label for mark in strip.marks]
    for height, figured in product(heights_mm(strip.band, face=face), (True, False)):
        lower = replace(strip, band=replace(strip.band, scale_mm=height))
        for way in letterings(lower.band, tick_mm(lower.band), names, face=face):
            if (way.cap_mm, len(way.lines_mm)) == (best.way.cap_mm, len(best.way.lines_mm)):
                for cap in _caption_sizes(strip):
                    found = design(lower, way, best.labels, cap=cap, fine=best.fine, face=face,
                                   figured=figured)  # fmt: skip
                    if _is_no_worse(found, best, strip.band.length_mm):
                        return found
    return best


def _is_no_worse(found: Design, best: Design, length_mm: float) -> bool:
    """Return whether a design with millimetres lacks no word that the best one without has."""
    lost = set(found.captions.missing) - set(best.captions.missing)
    most = max(best.without_code_mm(length_mm), _WITHOUT_CODE_MM)
    coded = found.without_code_mm(length_mm) <= most
    return coded and not lost and found.lacking <= best.lacking


def _until_whole(designs: Iterable[Design]) -> Iterator[Design]:
    for candidate in designs:
        yield candidate
        if not candidate.lacking:
            return


def _require_turns(strip: MarkerStrip) -> None:
    band = strip.band
    arcs = [mark.arc_mm for mark in strip.marks]
    span = (max(arcs) - min(arcs)) * band.ruler_mm
    if band.turns == 1 and span >= band.length_mm:
        raise PageError(
            f"{strip.key}: the marks run over {span:.0f} mm, more than one turn "
            f"of {band.length_mm:.0f} mm: mark fewer distances, or say turns = 2 of the ring and "
            "read it again on a ruler that counts them"
        )
    outside = [m for m in strip.marks if not 0 <= band.turn(m.arc_mm) < band.turns]
    if outside:
        raise PageError(
            f'{strip.key}: the mark "{outside[0].label}", {outside[0].arc_mm:.0f} mm from zero, '
            f"lies outside the ring's turns = {band.turns}: correct it or mark fewer distances"
        )


def _require_rows(strip: MarkerStrip) -> None:
    band = strip.band
    if band.row_mm < LEAST_ROW_MM:
        raise PageError(
            f"{strip.key}: a strip {band.width_mm:g} mm wide leaves no room for labels "
            f"{SMALLEST_CAP_MM} mm high: raise the ring's strip_width to "
            f"{LEAST_ROW_MM * band.turns:g} mm"
        )


def _ways(strip: MarkerStrip, face: Face) -> list[tuple[Lettering, list[Label]]]:
    """Return the letterings that show the most labels, with these labels, the most readable first.

    Raises PageError where no lettering is legible.
    """
    tick, names = tick_mm(strip.band), [mark.label for mark in strip.marks]
    ways = letterings(strip.band, tick, names, face=face)
    if not ways:
        raise PageError(_too_long(strip, tick, face))
    placed = [(way, place_labels(strip.marks, strip.band, way, face=face)) for way in ways]
    most = max(len(labels) for _, labels in placed)
    return [(way, labels) for way, labels in placed if len(labels) == most]


def _designs(
    strip: MarkerStrip, ways: Sequence[tuple[Lettering, list[Label]]], count: int, face: Face
) -> Iterator[Design]:
    """Yield the designs with `count` labels, the most readable first.

    Captions are made smaller first, then fine ticks are left out.
    """
    for (way, labels), fine, cap in product(ways, (True, False), _caption_sizes(strip)):
        yield design(strip, way, labels[:count], cap=cap, fine=fine, face=face)


def _caption_sizes(strip: MarkerStrip) -> list[float]:
    """Return the heights of captions to try, the largest first."""
    large = min(max(strip.band.row_mm / _CAPTION_SHARE, SMALLEST_CAP_MM), _LARGEST_CAPTION_MM)
    return sorted({large, SMALLEST_CAP_MM}, reverse=True)


def _too_long(strip: MarkerStrip, tick: float, face: Face) -> str:
    """Return a message: which label is too long to run across the strip, and what would fit."""
    label = max((m.label for m in strip.marks), key=lambda t: face.width_mm(t, cap_mm=1.0))
    width = widest([label], face=face, cap_mm=SMALLEST_CAP_MM)
    return (
        f'{strip.key}: the label "{label}", {width:.1f} mm long at the smallest legible size, does '
        f"not fit across a strip {strip.band.width_mm:g} mm wide, which has room for "
        f"{max(strip.band.row_mm - tick - 0.8, 0.0):.1f} mm: raise the ring's strip_width, or read "
        "it from behind"
    )


def _no_room(strip: MarkerStrip, face: Face) -> str:
    code = strip.captions[0]
    way, labels = _ways(strip, face)[-1]
    labels = [label for label in labels if strip.marks[label.number].rank < 0]
    ticks = [span for span, _ in mark_shapes(strip.marks, {x.number for x in labels}, strip.band)]
    fields = fields_of(strip.band, [label.span for label in labels], ticks, way.top_mm)
    widths = [high - low for field in fields for low, high in field.free]
    return (
        f'{strip.key}: no room for "{code.text}" between the marks: it takes '
        f"{code.width_mm(face):.1f} mm, the widest gap is {max(widths, default=0.0):.1f} mm; "
        "mark fewer distances or raise the ring's strip_width"
    )
