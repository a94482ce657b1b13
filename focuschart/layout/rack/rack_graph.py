"""Two rings over a move: how far each has turned, to one scale, with the steps marked on both."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from focuschart.layout.page import BLACK, PAPER, Face, Path, Point, Shape, Text, box, circle, line
from focuschart.layout.text.typeset import LEADING, SMALLEST_CAP_MM, widest

_TITLE = "Both rings over the move, mm turned since the start"
_TITLE_CAP_MM = 2.0
_CAP_MM = SMALLEST_CAP_MM + 0.1
_ROW_MM = LEADING * _CAP_MM
_THIN_MM, _FIRM_MM, _HEAVY_MM = 0.12, 0.25, 0.5
_PALE = "#d0d0d0"
_SIGN_MM = 0.75

_Place = Callable[[float, float], Point]
"""Maps a time (s) and a turn (mm) to a point on paper."""


@dataclass(frozen=True, slots=True)
class Curve:
    """One ring over the move: its name, and mm turned since the start at evenly spaced times."""

    label: str
    turned_mm: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Graph:
    """Two rings over a move of `seconds`; `stops_s` are the times when the steps are reached."""

    seconds: float
    stops_s: tuple[float, ...]
    curves: tuple[Curve, Curve]


def graph_shapes(graph: Graph, room: Point, face: Face) -> Iterator[Shape]:
    """Yield both curves over time from the room's upper left corner, to one scale of mm turned."""
    most = max(abs(turned) for curve in graph.curves for turned in curve.turned_mm)
    rise = _even_step(most)
    figures = [rise * n for n in range(int(most / rise + 1.0 - 1e-9) + 1)]
    left = widest([f"{each:g}" for each in figures], face=face, cap_mm=_CAP_MM) + 2.0
    names = widest([curve.label for curve in graph.curves], face=face, cap_mm=_CAP_MM) + 3.0
    wide, foot = room[0] - left - names, -room[1] + 2.0 * _ROW_MM
    high = -2.5 * _ROW_MM - foot

    def at(seconds: float, turned: float) -> Point:
        return left + wide * seconds / graph.seconds, foot + high * turned / figures[-1]

    yield Text(_TITLE, 0.0, -_TITLE_CAP_MM, _TITLE_CAP_MM, key="graph")
    for n, turned in enumerate(figures):
        x, y = at(0.0, turned)
        yield line((x, y), (left + wide, y), stroke_mm=_THIN_MM, colour=_PALE, key=f"rise:{n}")
        yield Text(f"{turned:g}", x - 1.2, y - _CAP_MM / 2.0, _CAP_MM, "end", key=f"mm:{n}")
    yield from _times(graph, at, foot, high)
    for number, curve in enumerate(graph.curves):
        yield from _curve(curve, number, graph, at)
    yield from _names(graph, at)


def _even_step(most: float) -> float:
    """Return a round step that divides the range up to `most` into four to ten."""
    power = 10.0 ** math.floor(math.log10(most / 4.0))
    return max(power * step for step in (1.0, 2.0, 5.0) if power * step <= most / 4.0)


def _times(graph: Graph, at: _Place, foot: float, high: float) -> Iterator[Shape]:
    step = _even_step(graph.seconds)
    for n in range(int(graph.seconds / step + 1e-9) + 1):
        x, _ = at(n * step, 0.0)
        yield line((x, foot), (x, foot - 1.0), stroke_mm=_FIRM_MM, key=f"tick:{n}")
        last = n == int(graph.seconds / step + 1e-9)
        text = f"{n * step:g} s" if last else f"{n * step:g}"
        yield Text(text, x, foot - 1.8 - _CAP_MM, _CAP_MM, "middle", key=f"s:{n}")
    for n, seconds in enumerate(graph.stops_s):
        x, _ = at(seconds, 0.0)
        yield line((x, foot), (x, foot + high), stroke_mm=_THIN_MM, colour=_PALE, key=f"step:{n}")
    ends = at(0.0, 0.0), at(graph.seconds, 0.0)
    yield line(*ends, stroke_mm=_FIRM_MM, key="axis")


def _curve(curve: Curve, number: int, graph: Graph, at: _Place) -> Iterator[Shape]:
    """Yield a curve, the first heavy with discs at its steps, the second light with squares."""
    count = len(curve.turned_mm) - 1
    points = tuple(
        at(graph.seconds * n / count, turned) for n, turned in enumerate(curve.turned_mm)
    )
    stroke = _HEAVY_MM if number == 0 else _FIRM_MM
    yield Path(points, stroke_mm=stroke, key=f"curve:{number}")
    for n, seconds in enumerate(graph.stops_s):
        place = seconds / graph.seconds * count
        low = min(int(place), count - 1)
        first, second = curve.turned_mm[low : low + 2]
        x, y = at(seconds, first + (place - low) * (second - first))
        yield _symbol(number, (x, y), f"curve:{number}:step:{n}")


def _symbol(number: int, middle: Point, key: str) -> Path:
    (x, y), r = middle, _SIGN_MM
    if number:
        return box(x - r, y - r, 2.0 * r, 2.0 * r, stroke_mm=_FIRM_MM, fill=PAPER, key=key)
    return Path(circle(middle, r, chords=16), True, None, fill=BLACK, key=key)


def _names(graph: Graph, at: _Place) -> Iterator[Text]:
    """Yield the curves' names at their ends, moved apart where they would overlap."""
    ends = [at(graph.seconds, curve.turned_mm[-1]) for curve in graph.curves]
    low, high = sorted((0, 1), key=lambda n: ends[n][1])
    push = max(0.0, _ROW_MM - (ends[high][1] - ends[low][1])) / 2.0
    for n, shift in ((low, -push), (high, push)):
        x, y = ends[n]
        yield Text(graph.curves[n].label, x + 2.0, y + shift - _CAP_MM / 2.0, _CAP_MM,
                   key=f"curve:{n}:name")  # fmt: skip
