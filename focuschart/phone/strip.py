"""A ring's marker strip as the page draws it: the shapes of the printed one, in millimetres."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from focuschart.chart.model import Chart
from focuschart.errors import GlyphError, PageError
from focuschart.layout.page import PAPER, Face, Path, Shape, Text
from focuschart.layout.strip.band import LEAD_IN_MM, RingBand
from focuschart.layout.strip.marker import MarkerStrip, marker_strip
from focuschart.pages.strips import brackets_of, marker_of
from focuschart.rig.ring import Which
from focuschart.units import format_stop

_DECIMALS = 2
"""Shapes are rounded to a hundredth of a millimetre: half of that is nowhere to be seen."""


def strip_data(chart: Chart, which: Which, *, face: Face) -> Mapping[str, Any]:
    """Return the strip of a measured ring, as data for the page.

    `strokes` are upright lines that have their ends and stroke in common, `paths` all others,
    `texts` a text with x, y, height of capitals, width, anchor and rotation (degrees). y rises
    toward the subject. A strip that cannot be drawn has only its size, and `why`.
    """
    strip = marker_of(chart, which)
    try:
        shapes, why = _drawn(strip, face), ""
    except (PageError, GlyphError) as error:
        shapes, why = (), str(error)
    kept = [shape for shape in shapes if not shape.key.startswith("tab")]
    paths = [shape for shape in kept if isinstance(shape, Path)]
    return {
        **_size(strip.band),
        "brackets": _brackets(chart, which),
        "strokes": _strokes(path for path in paths if _upright(path)),
        "paths": [_path(path) for path in paths if not _upright(path)],
        "texts": [_text(text, face) for text in kept if isinstance(text, Text)],
        **({"why": why} if why else {}),
    }


def _drawn(strip: MarkerStrip, face: Face) -> tuple[Shape, ...]:
    """Return a strip's shapes without its tags, which only photographs are read by.

    Names that the face lacks are left out, as no strip has them.
    """
    shown = tuple(each for each in strip.captions if not face.missing(each.text))
    return marker_strip(replace(strip, captions=shown, ids=()), face=face).shapes


def _size(band: RingBand) -> dict[str, Any]:
    return {
        "length": round(band.length_mm, 4),
        "width": round(band.width_mm, _DECIMALS),
        "lead": LEAD_IN_MM,
        "ruler": round(band.ruler_mm, 7),
        "turns": band.turns,
        "side": band.index_side,
    }


def _brackets(chart: Chart, which: Which) -> dict[str, list[float]]:
    """Return what each stop's bracket on the index spans to its left and to its right, mm."""
    ring, marks = chart.ring(which)
    spans = {
        each.label: [round(each.left_mm, _DECIMALS), round(each.right_mm, _DECIMALS)]
        for each in brackets_of(chart, marks, ring.ruler_mm)
    }
    return {f"{stop:g}": spans[format_stop(float(stop))] for stop in chart.stops}


def _upright(path: Path) -> bool:
    return len(path.points) == 2 and path.points[0][0] == path.points[1][0] and not path.fill


def _strokes(paths: Iterable[Path]) -> list[list[Any]]:
    """Return upright lines as [foot, top, stroke, [x, …]], those alike together."""
    found: dict[tuple[float, ...], list[float]] = {}
    for path in paths:
        (x, foot), (_, top) = path.points
        ends = sorted(_rounded((foot, top)))
        found.setdefault((*ends, path.stroke_mm or 0.0), []).append(round(x, _DECIMALS))
    return [[*ends, sorted(places)] for ends, places in found.items()]


def _path(path: Path) -> list[Any]:
    """Return [corners "x,y x,y", stroke, closed, fill]: 0 none, 1 ink, 2 paper."""
    corners = " ".join(f"{x:g},{y:g}" for x, y in map(_rounded, path.points))
    fill = 0 if path.fill is None else 2 if path.fill == PAPER else 1
    return [corners, path.stroke_mm or 0, int(path.closed), fill]


def _text(text: Text, face: Face) -> list[Any]:
    """Return [text, x, y, capitals, width, anchor, degrees, on ink]."""
    width = face.width_mm(text.text, cap_mm=text.cap_mm)
    degrees = round(-math.degrees(text.rotation))
    places = _rounded((text.x, text.y, text.cap_mm, width))
    return [text.text, *places, text.anchor, degrees, int(text.colour == PAPER)]


def _rounded(values: Iterable[float]) -> tuple[float, ...]:
    return tuple(round(value, _DECIMALS) for value in values)
