"""The frozen page: shapes in millimetres, from the sheet's lower left corner, y upward.

Everything that is printed is a `Path` or a `Text` on a `Page`; renderers see nothing else.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import chain
from typing import Literal, NamedTuple, Protocol

from focuschart.errors import PageError

Group = Literal["print", "fold", "crop", "cut", "film"]
Anchor = Literal["start", "middle", "end"]
Point = tuple[float, float]
Span = tuple[float, float]
"""From and to along one axis, mm."""

GROUPS: tuple[Group, ...] = ("print", "fold", "crop", "cut", "film")
"""Drawing order; one colour per operation, so that a cutter can tell them apart.

`cut` cuts the paper, `film` the laminate outside it.
"""

OPERATION_COLOUR: dict[Group, str] = {
    "fold": "#0000ff",
    "crop": "#000000",
    "cut": "#ff0000",
    "film": "#00a000",
}
OPERATION_STROKE_MM = 0.1

ANCHOR_SHARE: dict[Anchor, float] = {"start": 0.0, "middle": 0.5, "end": 1.0}
"""The share of a text's width that lies before its anchor."""

BLACK = "#000000"
PAPER = "#ffffff"


class Room(NamedTuple):
    """An upright rectangle from its lower left corner, mm."""

    x: float
    y: float
    width: float
    height: float

    @property
    def top(self) -> float:
        """Its upper edge."""
        return self.y + self.height

    @property
    def right(self) -> float:
        """Its right edge."""
        return self.x + self.width

    def lowered(self, by_mm: float) -> Room:
        """Return the room without its uppermost part."""
        return self._replace(height=self.height - by_mm)

    def raised(self, by_mm: float) -> Room:
        """Return the room without its lowest part."""
        return Room(self.x, self.y + by_mm, self.width, self.height - by_mm)


class Face(Protocol):
    """A typeface as the layout needs it: widths, and the glyphs it lacks."""

    def width_mm(self, text: str, *, cap_mm: float) -> float:
        """Return the advance width of `text` set with capitals `cap_mm` high."""

    def missing(self, text: str) -> str:
        """Return the characters of `text` that the face cannot show."""


_COLOUR = re.compile(r"#[0-9a-f]{6}")
_KEPT = frozenset(OPERATION_COLOUR.values()) - {BLACK}


def _require_ink(colour: str, what: str) -> None:
    """Raise PageError for a malformed colour, and for the colours of cutting and folding."""
    if not _COLOUR.fullmatch(colour):
        raise PageError(f"{what} has colour {colour!r}, which is not written like #00ff7f")
    if colour in _KEPT:
        raise PageError(f"{what} is printed in {colour}, which is kept for cutting and folding")


def _require_printable(text: str, what: str) -> None:
    # The quick test first; it also fails for harmless spaces of other widths, so then look closer.
    if not text.isprintable() and any(unicodedata.category(c).startswith("C") for c in text):
        raise PageError(f"{what} {text!r} holds a control character")


def _require_finite(values: Iterable[float], what: str) -> None:
    if not all(map(math.isfinite, values)):
        raise PageError(f"{what} has a coordinate or size that is not a finite number")


@dataclass(frozen=True, slots=True)
class Path:
    """A polyline or, when closed, a polygon. `colour` counts in group print only.

    `ground` marks the background of a piece on the back of a sheet. Nothing is cut on a back, so
    `look` recolours what lies on a ground as it recolours what lies inside a cut on a front.
    """

    points: tuple[Point, ...]
    closed: bool = False
    stroke_mm: float | None = 0.2
    colour: str = BLACK
    fill: str | None = None
    group: Group = "print"
    key: str = ""
    ground: bool = False

    def __post_init__(self) -> None:
        """Raise PageError for a path that a renderer or cutter could not draw as described."""
        _require_finite(chain.from_iterable(self.points), "a path")
        _require_finite((self.stroke_mm or 0.0,), "a path")
        _require_printable(self.key, "key")
        if self.group == "print":
            _require_ink(self.colour, "a path")
            _require_ink(self.fill or PAPER, "a path")
        if self.stroke_mm is not None and self.stroke_mm <= 0:
            raise PageError("a path's stroke needs a width above zero")
        if len(self.points) < (3 if self.closed else 2):
            raise PageError("a path needs two points or more, three if it is closed")
        if self.group != "print" and self.fill is not None:
            raise PageError(f"a {self.group} path cannot be filled")
        if self.group in ("cut", "film") and not self.closed:
            raise PageError(f"a {self.group} path must be closed")

    def moved(self, dx_mm: float, dy_mm: float) -> Path:
        """Return the path shifted."""
        return replace(self, points=tuple([(x + dx_mm, y + dy_mm) for x, y in self.points]))


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text; (x, y) lies on the baseline at the anchor, rotation in radians.

    If `mirrored`, the glyphs are drawn as in a mirror, so the text runs against its direction.
    """

    text: str
    x: float
    y: float
    cap_mm: float
    anchor: Anchor = "start"
    rotation: float = 0.0
    colour: str = BLACK
    key: str = ""
    mirrored: bool = False

    def __post_init__(self) -> None:
        """Raise PageError on control characters, colours and sizes that cannot be drawn."""
        _require_finite((self.x, self.y, self.cap_mm, self.rotation), f"text {self.text!r}")
        if self.cap_mm <= 0:
            raise PageError(f"text {self.text!r} has no height")
        _require_ink(self.colour, f"text {self.text!r}")
        _require_printable(self.text, "text")
        _require_printable(self.key, "key")

    @property
    def group(self) -> Group:
        """Text is always printed, never cut."""
        return "print"

    def moved(self, dx_mm: float, dy_mm: float) -> Text:
        """Return the text shifted."""
        return replace(self, x=self.x + dx_mm, y=self.y + dy_mm)


Shape = Path | Text


@dataclass(frozen=True, slots=True)
class Page:
    """One sheet of paper at true scale.

    To undo a printer's error, renderers draw all shapes `scale_x` and `scale_y` times as large
    about the sheet's centre; the sheet itself keeps its size.
    """

    width_mm: float
    height_mm: float
    title: str
    shapes: tuple[Shape, ...]
    scale_x: float = 1.0
    scale_y: float = 1.0

    def __post_init__(self) -> None:
        """Raise PageError for a sheet without area, a title or a scale that cannot be drawn."""
        _require_printable(self.title, "page title")
        _require_finite((self.width_mm, self.height_mm), f"page {self.title!r}")
        if self.width_mm <= 0 or self.height_mm <= 0:
            raise PageError(f"page {self.title!r} has no area")
        _require_finite((self.scale_x, self.scale_y), f"page {self.title!r}")
        if self.scale_x <= 0 or self.scale_y <= 0:
            raise PageError(f"page {self.title!r} has a scale that is not above zero")

    @property
    def shift_mm(self) -> Point:
        """The offset to add to scaled coordinates so that the sheet's centre does not move."""
        return (1.0 - self.scale_x) * self.width_mm / 2, (1.0 - self.scale_y) * self.height_mm / 2

    def in_group(self, group: Group) -> tuple[Shape, ...]:
        """Return the shapes of one operation, in drawing order."""
        return tuple(shape for shape in self.shapes if shape.group == group)


def moved(shapes: Iterable[Shape], dx_mm: float, dy_mm: float) -> tuple[Shape, ...]:
    """Return all shapes shifted together."""
    return tuple(shape.moved(dx_mm, dy_mm) for shape in shapes)


def line(
    start: Point, end: Point, *, stroke_mm: float = 0.2, key: str = "", group: Group = "print",
    colour: str = BLACK,
) -> Path:  # fmt: skip
    """Return a straight stroke."""
    return Path((start, end), stroke_mm=stroke_mm, key=key, group=group, colour=colour)


def box(
    x: float, y: float, width: float, height: float, *, group: Group = "print",
    stroke_mm: float | None = 0.2, fill: str | None = None, key: str = "", colour: str = BLACK,
) -> Path:  # fmt: skip
    """Return an upright rectangle from its lower left corner."""
    corners = ((x, y), (x + width, y), (x + width, y + height), (x, y + height))
    return Path(corners, True, stroke_mm, colour, fill, group, key)


def circle(middle: Point, radius: float, *, chords: int) -> tuple[Point, ...]:
    """Return the corners of a regular polygon with `chords` sides that approximates a circle."""
    angles = (2.0 * math.pi * step / chords for step in range(chords))
    return tuple(
        (middle[0] + radius * math.cos(angle), middle[1] + radius * math.sin(angle))
        for angle in angles
    )


def rgb(colour: str) -> tuple[float, float, float]:
    """Return red, green and blue of a colour like "#00ff7f", each from 0 to 1."""
    red, green, blue = bytes.fromhex(colour.removeprefix("#"))
    return red / 255, green / 255, blue / 255


def rounded_box(
    x: float, y: float, width: float, height: float, *, radius: float, group: Group = "print",
    key: str = "",
) -> Path:  # fmt: skip
    """Return a rectangle with round corners, each of 16 chords (within 0.2 % of the radius)."""
    centres = (
        (x + width - radius, y + radius), (x + width - radius, y + height - radius),
        (x + radius, y + height - radius), (x + radius, y + radius),
    )  # fmt: skip
    points = tuple(
        (cx + radius * math.cos(angle), cy + radius * math.sin(angle))
        for quadrant, (cx, cy) in enumerate(centres)
        for angle in ((quadrant - 1 + step / 16) * math.pi / 2 for step in range(17))
    )
    return Path(points, closed=True, group=group, key=key)
