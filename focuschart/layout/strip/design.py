"""One design of a marker strip: ticks, labels, numbers of turns, captions where they fit."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from focuschart.layout.page import Face, Path, Shape, Span
from focuschart.layout.sheet.block import Loose
from focuschart.layout.strip.band import RingBand, Stretch
from focuschart.layout.strip.labels import Label, Lettering, Mark, label_shapes
from focuschart.layout.strip.marker_tags import kept_free
from focuschart.layout.strip.millimetres import crowded, figures, millimetres
from focuschart.layout.strip.ticks import Between, fine_ticks, mark_shapes, tick_mm
from focuschart.layout.strip.turns import turn_badges
from focuschart.layout.text.caption import Caption, Captions, Field, gaps, set_captions

_CODE_EVERY_MM = 180.0
_WHOLE_MM = 200.0
"""A strip up to this length has its code once: it is never split on A4 or Letter."""
_LANE_MM = 2.8
"""Least height above all labels for a line of captions."""
_COLUMN_MM = 9.0
"""Least width of a column without marks that holds captions."""


@dataclass(frozen=True, slots=True)
class MarkerStrip:
    """Everything a marker strip shows; the first caption, its code, must fit.

    `ids` are those of the tags for which it has room, the first first.
    """

    key: str
    band: RingBand
    marks: tuple[Mark, ...]
    captions: tuple[Caption, ...]
    between: tuple[Between, ...] = ()
    ids: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Design:
    """A design: shapes, spans that no join may cross, captions, and turns without a number."""

    shapes: tuple[Shape, ...]
    keep: tuple[Span, ...]
    captions: Captions
    unnumbered: tuple[int, ...]
    way: Lettering
    labels: Sequence[Label]
    fine: bool
    loose: tuple[Loose, ...] = ()
    """Texts that move aside for a join."""

    @property
    def lacking(self) -> int:
        """The number of turns without number and of needed captions that do not fit."""
        return len(self.unnumbered) + sum(caption.needed for caption in self.captions.missing)

    def without_code_mm(self, length_mm: float) -> float:
        """Return the longest part of the strip on which the first caption has no room."""
        first = self.captions.first
        if first is None:
            return 0.0
        rooms = [(r.low, r.high) for r in first.rooms if r.high - r.low >= first.width_mm]
        return max((high - low for low, high in gaps([*first.taken, *rooms], length_mm)), default=0)

    def marked(self, captions: Sequence[Caption]) -> bool:
        """Return whether all turns have their number and the first caption, the code, fits."""
        return not self.unnumbered and not set(captions[:1]) & set(self.captions.missing)


def design(
    strip: MarkerStrip,
    way: Lettering,
    labels: Sequence[Label],
    *,
    cap: float,
    fine: bool,
    face: Face,
    figured: bool = True,
) -> Design:
    """Return the design with these labels, captions `cap` mm high, and fine ticks if `fine`.

    With `figured` a scale of millimetres has its figures, all or where they are clear.
    """
    band, labelled = strip.band, {label.number for label in labels}
    marks = list(mark_shapes(strip.marks, labelled, band))
    between = list(fine_ticks(strip.between, strip.marks, labelled, band)) if fine else []
    words = [label.span for label in labels]
    badges = turn_badges(band, words, tick_mm(band), face=face)
    words += [span for span, _ in badges]
    ticks = [span for span, _ in (*marks, *between)]
    shapes: tuple[Shape, ...] = (
        *band.frame(),
        *(path for _, path in (*marks, *between)),
        *(shape for _, badge in badges for shape in badge),
        *label_shapes(labels, band, way, tick_mm(band)),
    )
    tagged = list(kept_free(band, shapes, face=face)) if strip.ids else []
    fields = [
        list(fields_of(band, taken, ticks, way.top_mm)) for taken in ((*words, *tagged), words)
    ]
    captions = _most_captions(strip, fields, cap=cap, face=face)
    shapes = (*shapes, *captions.shapes)
    numbered = {span.turn for span, _ in badges} if band.turns > 1 else {0}
    unnumbered = tuple(turn for turn in range(band.turns) if turn not in numbered)
    scale = figures(band, shapes, face=face) if band.scale_mm and figured else []
    shapes = (*shapes, *millimetres(band), *(figure.text for figure in scale))
    if captions.first is not None:
        free = captions.first.clear_of([figure.text for figure in scale], face=face)
        captions = captions._replace(first=free)
    texts = [*captions.shapes, *(shape for _, badge in badges for shape in badge)]
    keep = (*_kept(band, words, marks, captions),
            *crowded(scale, texts, face=face))  # fmt: skip
    loose = tuple(each.loose for each in scale)
    return Design(shapes, keep, captions, unnumbered, way, labels, fine, loose)


def _most_captions(
    strip: MarkerStrip, fields: Sequence[list[Field]], *, cap: float, face: Face
) -> Captions:
    """Return the captions as set in those fields that take most of them, the first of equal ones.

    So fields that leave room for tags come first, and never cost a caption.
    """
    places = _code_places(strip.band.total_mm)
    found = (
        set_captions(strip.captions, each, face=face, cap_mm=cap, along=places) for each in fields
    )
    return min(found, key=lambda each: len(each.missing))


def _kept(
    band: RingBand,
    words: Sequence[Stretch],
    marks: Sequence[tuple[Stretch, Path]],
    captions: Captions,
) -> Iterator[Span]:
    """Yield the spans that no join may cross; bars of zones may be split."""
    ticks = [span for span, path in marks if path.key.startswith("mark:")]
    yield from ((span.low, span.high) for span in (*words, *ticks))
    yield from (*captions.spans, band.zero_span, band.seam_span)


def fields_of(
    band: RingBand, words: Sequence[Stretch], ticks: Sequence[Stretch], top_mm: float
) -> Iterator[Field]:
    """Yield the free fields of each row: whole columns, then between labels, then above them."""
    for turn in range(band.turns):
        own = [(span.low, span.high) for span in words if span.turn == turn]
        marked = [(span.low, span.high) for span in ticks if span.turn == turn]
        fixed = [band.zero_span, band.seam_span]
        columns = gaps([*own, *marked, *fixed], band.length_mm)
        whole = [gap for gap in columns if gap[1] - gap[0] >= _COLUMN_MM]
        yield _field(band, turn, whole, (0.0, band.room_mm))
        fixed += [(low - 2.0, high + 2.0) for low, high in whole]
        lane = top_mm if band.room_mm - top_mm >= _LANE_MM else band.room_mm
        between = gaps([*own, *fixed], band.length_mm)
        yield _field(band, turn, between, (tick_mm(band) + 0.3, lane))
        if lane < band.room_mm:
            badges = [(s.low, s.high) for s in words if s.turn == turn and s.badge]
            above = gaps([*badges, *fixed], band.length_mm)
            yield _field(band, turn, above, (lane + 0.3, band.room_mm))._replace(spare=True)


def _field(band: RingBand, turn: int, free: Sequence[Span], heights: tuple[float, float]) -> Field:
    ends = [band.row_y(turn, height) for height in heights]
    return Field(free, min(ends), heights[1] - heights[0])


def _code_places(total_mm: float) -> list[float]:
    """Return the x near which a long strip repeats its code: both ends, and evenly between."""
    if total_mm <= _WHOLE_MM:
        return []
    count = 1 + round(total_mm / _CODE_EVERY_MM)
    return [total_mm * place / (count - 1) for place in range(count)]
