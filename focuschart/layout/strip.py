"""The marker strip: every subject distance where the ring must stand for it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from focuschart.errors import PageError
from focuschart.layout.block import Block, Span, cut_box
from focuschart.layout.caption import Caption, gaps, set_captions
from focuschart.layout.page import Face, Path, Shape, line
from focuschart.layout.ring import RingBand
from focuschart.layout.typeset import LEADING, SMALLEST_CAP_MM

TICK_STROKE_MM = 0.25
_LABEL_GAP_MM = 0.8
_LARGEST_CAP_MM = 2.6


@dataclass(frozen=True, slots=True)
class Mark:
    """One distance on the ring. Arcs in mm; rank 0 keeps its label first where room is short."""

    label: str
    arc_mm: float
    low_arc_mm: float
    high_arc_mm: float
    sure_mm: float
    rank: int


@dataclass(frozen=True, slots=True)
class MarkerStrip:
    """All a marker strip shows; the first caption, its code, must find room."""

    key: str
    band: RingBand
    marks: tuple[Mark, ...]
    captions: tuple[Caption, ...]


@dataclass(frozen=True, slots=True)
class _Levels:
    """Heights from the index's edge, and the size of the labels."""

    tick: float
    bands: tuple[float, float]
    labels: tuple[float, ...]
    cap: float


def marker_strip(strip: MarkerStrip, *, face: Face) -> Block:
    """Return a marker strip with its tab.

    Raises PageError when the marks take more than one turn, or leave no room for the code.
    """
    band = strip.band
    _require_one_turn(strip)
    levels = _levels(strip, face)
    labels, label_spans = _labels(strip, levels, face)
    marks = [
        shape
        for index, mark in enumerate(strip.marks)
        for shape in _mark(strip, mark, levels, index)
    ]
    taken = [*label_spans, *(_extent(shape) for shape in marks), band.zero_span, band.seam_span]
    free = gaps(taken, band.length_mm)
    captions, caption_spans = set_captions(
        strip.captions, free, height_mm=band.width_mm, face=face, where=strip.key
    )
    shapes = (*band.frame(), *marks, *labels, *captions)
    outline = cut_box(band.total_mm, band.width_mm)
    return Block(band.total_mm, band.width_mm, shapes, outline, (*taken, *caption_spans))


def _extent(path: Path) -> Span:
    """Return the span along the strip that a mark's path takes."""
    xs = [x for x, _ in path.points]
    return min(xs), max(xs)


def _require_one_turn(strip: MarkerStrip) -> None:
    arcs = [mark.arc_mm for mark in strip.marks]
    if max(arcs) - min(arcs) >= strip.band.length_mm:
        raise PageError(
            f"{strip.key}: the marks run over {max(arcs) - min(arcs):.0f} mm, more than one turn "
            f"of {strip.band.length_mm:.0f} mm, which one strip cannot show: mark fewer distances"
        )


def _levels(strip: MarkerStrip, face: Face) -> _Levels:
    """Share the width out between tick, bands and labels."""
    width = strip.band.width_mm
    tick = max(2.4, 0.32 * width)
    room = width - tick - 0.5
    bands = (0.7, 1.5)
    if strip.band.reader == "behind":
        rows = 2 if room >= 2.0 * LEADING * SMALLEST_CAP_MM else 1
        cap = min(_LARGEST_CAP_MM, room / (rows * LEADING))
        heights = tuple(tick + (row + 0.5) * room / rows for row in range(rows))
    else:
        longest = max(face.width_mm(mark.label, cap_mm=1.0) for mark in strip.marks)
        cap = min(_LARGEST_CAP_MM, (room - 0.4) / longest)
        heights = (tick + room / 2.0,)
    if cap < SMALLEST_CAP_MM:
        raise PageError(
            f"{strip.key}: a strip {width:g} mm wide leaves no room for labels "
            f"{SMALLEST_CAP_MM} mm high: raise the ring's strip_width"
        )
    return _Levels(tick, bands, heights, cap)


def _labels(strip: MarkerStrip, levels: _Levels, face: Face) -> tuple[list[Shape], list[Span]]:
    """Place labels by rank, on the row nearest the tick that is free; the rest stay ticks."""
    shapes: list[Shape] = []
    rows: list[list[Span]] = [[] for _ in levels.labels]
    for number, mark in sorted(enumerate(strip.marks), key=lambda pair: pair[1].rank):
        x = strip.band.x(mark.arc_mm)
        half = _half_width(strip, mark, levels, face)
        centre = min(max(x, half + 0.3), strip.band.length_mm - half - 0.3)
        span = (centre - half - _LABEL_GAP_MM / 2, centre + half + _LABEL_GAP_MM / 2)
        row = next((i for i, row in enumerate(rows) if not _meets(span, row)), None)
        if row is not None:
            rows[row].append(span)
            y = strip.band.y(levels.labels[row])
            shapes.append(
                strip.band.text(mark.label, centre, y, cap_mm=levels.cap, key=f"label:{number}")
            )
    return shapes, [span for row in rows for span in row]


def _half_width(strip: MarkerStrip, mark: Mark, levels: _Levels, face: Face) -> float:
    if strip.band.reader == "behind":
        return face.width_mm(mark.label, cap_mm=levels.cap) / 2.0
    return levels.cap / 2.0


def _meets(span: Span, others: Sequence[Span]) -> bool:
    return any(span[0] < high and low < span[1] for low, high in others)


def _mark(strip: MarkerStrip, mark: Mark, levels: _Levels, index: int) -> Iterator[Path]:
    """Yield the tick, the zone kept sharp as a bar, and a fine bracket for the mark's own error."""
    band, x = strip.band, strip.band.x(mark.arc_mm)
    start, end = (x, band.y(0.0)), (x, band.y(levels.tick))
    yield line(start, end, stroke_mm=TICK_STROKE_MM, key=f"mark:{index}")
    height = band.y(levels.bands[index % 2])
    for part, (low, high) in enumerate(band.along(mark.low_arc_mm, mark.high_arc_mm)):
        if high > low:
            yield line((low, height), (high, height), stroke_mm=0.5, key=f"zone:{index}.{part}")
    top = band.y(levels.tick)
    sure = band.along(mark.arc_mm - mark.sure_mm, mark.arc_mm + mark.sure_mm)
    for part, (low, high) in enumerate(sure):
        yield line((low, top), (high, top), stroke_mm=0.12, key=f"sure:{index}.{part}")
