"""The index strip for the fixed barrel: a witness line, and brackets of depth for each stop."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from focuschart.layout.page import BLACK, Anchor, Face, Path, Shape, Text, line
from focuschart.layout.sheet.beside import Note
from focuschart.layout.sheet.block import Block, Limit, cut_box
from focuschart.layout.strip.band import Side
from focuschart.layout.strip.marker_tags import HEAD_MM, INDEX_HALF_MM, index_tags
from focuschart.layout.tag.tag import tag_shapes
from focuschart.layout.text.typeset import SMALLEST_CAP_MM, shortened, widest

WITNESS_STROKE_MM = 0.35
_ROW_MM = 2.5
_HEAD_MM = 3.9
_COMB_STROKE_MM = 0.13
_WHOLE_MM, _HALF_MM = 2.9, 1.1
"""Lengths of the comb's ticks."""
_FOOT_MM = 3.2
_SIDE_MM = 1.5
_POINTER_MM = 1.9
_POINTER_WORD = "ring"
_POINTER_WORD_MM = 1.7
"""From the triangle's tip to its word."""
_BELOW_TAGS_MM = HEAD_MM - 0.4


@dataclass(frozen=True, slots=True)
class Bracket:
    """What stays sharp at one stop: arcs to the left and right of the witness line, mm ≥ 0."""

    label: str
    left_mm: float
    right_mm: float


@dataclass(frozen=True, slots=True)
class IndexStrip:
    """Everything an index strip shows; `index_side` is the side of the ring on which it lies.

    `ruler_mm` is the length on it of one millimetre of the ruler, `comb` has the figures of the
    ticks beside the witness line, in these, `ids` those of its tags.
    """

    index_side: Side
    brackets: tuple[Bracket, ...]
    caption: str
    code: str
    ruler_mm: float = 1.0
    comb: tuple[float, ...] = ()
    ids: tuple[int, ...] = ()


def index_strip(strip: IndexStrip, *, face: Face) -> Block:
    """Return an index strip; its witness line touches the edge next to the ring.

    It is never split: a join would cross its brackets or words.
    """
    labels = widest([b.label for b in strip.brackets], face=face, cap_mm=SMALLEST_CAP_MM)
    reach = max([2.0, *(max(b.left_mm, b.right_mm) for b in strip.brackets)])
    code = face.width_mm(strip.code, cap_mm=SMALLEST_CAP_MM)
    half = max(reach + labels + 2.0 * _SIDE_MM, code / 2.0 + _SIDE_MM, 14.0)
    if strip.ids:
        half = max(half, reach + _pointer_mm(face), INDEX_HALF_MM)
    head = HEAD_MM if strip.ids else _HEAD_MM
    height = head + _ROW_MM * len(strip.brackets) + 2.0 * _FOOT_MM
    shapes: list[Shape] = [
        line((half, height), (half, 2.0 * _FOOT_MM - 0.6), stroke_mm=WITNESS_STROKE_MM,
             key="witness"),
        *_comb(strip, half, height),
    ]  # fmt: skip
    for row, bracket in enumerate(strip.brackets):
        shapes += _bracket(bracket, half, height - head - (row + 0.4) * _ROW_MM)
    shapes += _words(strip, half, face)
    shapes += _pointer(height - _BELOW_TAGS_MM if strip.ids else height)
    if strip.index_side == "subject":
        shapes = [_upside_down(shape, height) for shape in shapes]
    tags = tuple(index_tags(strip.index_side, half, height, strip.ids))
    shapes += [shape for tag in tags for shape in tag_shapes(tag)]
    ring = ((2.0 * half, height), (0.0, height))
    if strip.index_side == "subject":
        ring = ((0.0, 0.0), (2.0 * half, 0.0))
    limit = Limit(Path(ring, stroke_mm=None), 0.0)
    outline, whole = cut_box(2.0 * half, height), (0.0, 2.0 * half)
    return Block(2.0 * half, height, tuple(shapes), outline, keep=(whole,), limits=(limit,),
                 notes=(Note("this edge to the ring", strip.index_side == "camera"),),
                 tags=tags)  # fmt: skip


def _comb(strip: IndexStrip, middle: float, edge: float) -> Iterator[Shape]:
    """Yield the ticks of the comb to either side of the witness line, and a figure at 1.

    Plus is to the right, where the ruler's figures are larger for a reader behind the camera: a
    strip whose marks lie 0.5 mm too far to the right is set by the tick +0.5.
    """
    sides: tuple[tuple[str, Anchor], ...] = (("-", "end"), ("+", "start"))
    for sign, anchor in sides:
        for figure in strip.comb:
            high = _WHOLE_MM if figure == 1.0 else _HALF_MM
            x = middle + float(f"{sign}{figure}") * strip.ruler_mm
            yield line((x, edge), (x, edge - high), stroke_mm=_COMB_STROKE_MM,
                       key=f"comb:{sign}{figure:g}")  # fmt: skip
        if 1.0 in strip.comb:
            aside = float(f"{sign}1") * (strip.ruler_mm + 0.35)
            words, foot = sign.replace("-", "−") + "1", edge - _WHOLE_MM
            yield Text(words, middle + aside, foot, SMALLEST_CAP_MM, anchor,
                       key=f"comb-figure:{sign}1")  # fmt: skip


def _bracket(bracket: Bracket, middle: float, y: float) -> Iterator[Shape]:
    left, right = middle - bracket.left_mm, middle + bracket.right_mm
    corners = ((left, y + 0.9), (left, y), (right, y), (right, y + 0.9))
    yield Path(corners, stroke_mm=0.2, key=f"bracket:{bracket.label}")
    yield Text(bracket.label, right + _SIDE_MM / 2.0, y - 0.3, SMALLEST_CAP_MM,
               key=f"stop:{bracket.label}")  # fmt: skip


def _words(strip: IndexStrip, middle: float, face: Face) -> Iterator[Shape]:
    caption = shortened(
        strip.caption, face=face, cap_mm=SMALLEST_CAP_MM, width_mm=2.0 * middle - 1.0
    )
    yield Text(caption, middle, _FOOT_MM + 0.3, SMALLEST_CAP_MM, "middle", key="caption")
    yield Text(strip.code, middle, 0.8, SMALLEST_CAP_MM, "middle", key="code")


def _pointer(edge: float) -> Iterator[Shape]:
    """Yield the triangle that points at the ring, which stays on the strip once it is cut."""
    foot, x = edge - _POINTER_MM - 0.6, _SIDE_MM + 1.1
    corners = ((x, edge - 0.6), (x - 1.1, foot), (x + 1.1, foot))
    yield Path(corners, True, None, fill=BLACK, key="to-ring")
    yield Text(_POINTER_WORD, x + _POINTER_WORD_MM, foot, SMALLEST_CAP_MM, key="to-ring-word")


def _pointer_mm(face: Face) -> float:
    """Return what the triangle with its word takes from the strip's left end."""
    word = face.width_mm(_POINTER_WORD, cap_mm=SMALLEST_CAP_MM)
    return _SIDE_MM + 1.1 + _POINTER_WORD_MM + word + _SIDE_MM / 2.0


def _upside_down(shape: Shape, height: float) -> Shape:
    """Return a shape mirrored in y, for an index on the other side of the ring; text upright."""
    if isinstance(shape, Text):
        return shape.moved(0.0, height - 2.0 * shape.y - shape.cap_mm)
    points = tuple((x, height - y) for x, y in shape.points)
    return Path(points, shape.closed, shape.stroke_mm, shape.colour, shape.fill, shape.group,
                shape.key)  # fmt: skip
