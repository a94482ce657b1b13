"""One way to set a marker strip: ticks, labels, turns' numbers, captions where there is room."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from focuschart.layout.page import Face, Path, Shape, Span
from focuschart.layout.strip.band import RingBand, Stretch
from focuschart.layout.strip.labels import Label, Lettering, Mark, label_shapes
from focuschart.layout.strip.ticks import Between, fine_ticks, mark_shapes, tick_mm
from focuschart.layout.strip.turns import turn_badges
from focuschart.layout.text.caption import Caption, Captions, Field, gaps, set_captions

_CODE_EVERY_MM = 180.0
_WHOLE_MM = 200.0
"""A strip no longer than this bears its code once: no A4 or Letter splits it, with any film."""
_LANE_MM = 2.8
"""The least room above all labels in which a line of captions does not crowd them."""
_COLUMN_MM = 9.0
"""Narrower columns without a mark hold no caption."""


@dataclass(frozen=True, slots=True)
class MarkerStrip:
    """All a marker strip shows; the first caption, its code, must find room."""

    key: str
    band: RingBand
    marks: tuple[Mark, ...]
    captions: tuple[Caption, ...]
    between: tuple[Between, ...] = ()


@dataclass(frozen=True, slots=True)
class Design:
    """One way to set a strip: its shapes, what no join may cross, and its captions."""

    shapes: tuple[Shape, ...]
    keep: tuple[Span, ...]
    captions: Captions
    nameless: tuple[int, ...]

    @property
    def lacking(self) -> int:
        """How many turns and needed captions found no room."""
        return len(self.nameless) + sum(caption.needed for caption in self.captions.missing)

    def marked(self, captions: Sequence[Caption]) -> bool:
        """Return whether the turns' numbers and the first caption, the code, found room."""
        return not self.nameless and not set(captions[:1]) & set(self.captions.missing)


def design(
    strip: MarkerStrip, way: Lettering, labels: list[Label], *, cap: float, fine: bool, face: Face
) -> Design:
    """Return a strip with some labels, captions of a height, and fine ticks or none."""
    band, labelled = strip.band, {label.number for label in labels}
    marks = list(mark_shapes(strip.marks, labelled, band))
    between = list(fine_ticks(strip.between, strip.marks, labelled, band)) if fine else []
    words = [label.span for label in labels]
    badges = turn_badges(band, words, tick_mm(band), face=face)
    words += [span for span, _ in badges]
    ticks = [span for span, _ in (*marks, *between)]
    fields = list(fields_of(band, words, ticks, way.top_mm))
    places = _code_places(band.total_mm)
    captions = set_captions(strip.captions, fields, face=face, cap_mm=cap, along=places)
    shapes = (
        *band.frame(),
        *(path for _, path in (*marks, *between)),
        *(shape for _, badge in badges for shape in badge),
        *label_shapes(labels, band, way, tick_mm(band)),
        *captions.shapes,
    )
    numbered = {span.turn for span, _ in badges} if band.turns > 1 else {0}
    nameless = tuple(turn for turn in range(band.turns) if turn not in numbered)
    return Design(shapes, tuple(_kept(band, words, marks, captions)), captions, nameless)


def _kept(
    band: RingBand,
    words: Sequence[Stretch],
    marks: Sequence[tuple[Stretch, Path]],
    captions: Captions,
) -> Iterator[Span]:
    """Yield the spans that no join may cross; bars of zones may well go on behind it."""
    ticks = [span for span, path in marks if path.key.startswith("mark:")]
    yield from ((span.low, span.high) for span in (*words, *ticks))
    yield from (*captions.spans, band.zero_span, band.seam_span)


def fields_of(
    band: RingBand, words: Sequence[Stretch], ticks: Sequence[Stretch], top_mm: float
) -> Iterator[Field]:
    """Yield what is free: in each row whole columns, else between labels, else above them all."""
    for turn in range(band.turns):
        own = [(span.low, span.high) for span in words if span.turn == turn]
        marked = [(span.low, span.high) for span in ticks if span.turn == turn]
        fixed = [band.zero_span, band.seam_span]
        columns = gaps([*own, *marked, *fixed], band.length_mm)
        whole = [gap for gap in columns if gap[1] - gap[0] >= _COLUMN_MM]
        yield _field(band, turn, whole, (0.0, band.row_mm))
        fixed += [(low - 2.0, high + 2.0) for low, high in whole]
        lane = top_mm if band.row_mm - top_mm >= _LANE_MM else band.row_mm
        between = gaps([*own, *fixed], band.length_mm)
        yield _field(band, turn, between, (tick_mm(band) + 0.3, lane))
        if lane < band.row_mm:
            badges = [(s.low, s.high) for s in words if s.turn == turn and s.badge]
            above = gaps([*badges, *fixed], band.length_mm)
            yield _field(band, turn, above, (lane + 0.3, band.row_mm))._replace(spare=True)


def _field(band: RingBand, turn: int, free: Sequence[Span], heights: tuple[float, float]) -> Field:
    ends = [band.row_y(turn, height) for height in heights]
    return Field(free, min(ends), heights[1] - heights[0])


def _code_places(total_mm: float) -> list[float]:
    """Return the places along a long strip near which it bears its code: the ends and between."""
    if total_mm <= _WHOLE_MM:
        return []
    count = 1 + round(total_mm / _CODE_EVERY_MM)
    return [total_mm * place / (count - 1) for place in range(count)]
