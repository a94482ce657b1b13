"""The registration sheet: shows against the light how far the back is printed off the front.

Each scale is a vernier: strokes on the front are spaced a little wider than those on the back
(P. Vernier, 1631, with a pitch so wide that only one pair can coincide).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from focuschart.errors import PageError
from focuschart.layout.page import Face, Page, Path, Point, Room, Shape, Text, line
from focuschart.layout.printer.calibration import paper_key
from focuschart.layout.printer.correct import behind
from focuschart.layout.sheet.furniture import EDGE_MM
from focuschart.layout.sheet.papers import paper_size
from focuschart.layout.text.paragraphs import largest_cap, set_words

STEP_MM = 0.2
"""Difference of the two pitches: the offset that one stroke counts."""
FRONT_PITCH_MM = 5.0
BACK_PITCH_MM = FRONT_PITCH_MM - STEP_MM
STROKES_EACH_WAY = 10
"""Measures up to 2 mm either way, well below half a pitch, so that only one pair coincides."""

_STROKE_MM = 0.2
_TICK_MM, _ZERO_MM = 6.0, 9.0
_FIGURE_CAP_MM = 2.0
_CROSS_MM = 6.0
_HALF_MM = STROKES_EACH_WAY * FRONT_PITCH_MM + 3.0
_TOP_MM = 8.0
_CAPS_MM = (3.0, 2.8, 2.6, 2.4, 2.2, 2.0, 1.8, 1.6)


class _Scale(NamedTuple):
    """One scale as the front shows it: its middle, its direction, and the sign of its figures.

    A back printed too far in the direction `along`, seen from the front, is off by `sign` times as
    much in the directions of the back.
    """

    name: str
    middle: Point
    along: Point
    sign: float

    def at(self, along_mm: float, off_mm: float) -> Point:
        """Return the point `along_mm` along the scale and `off_mm` to its left."""
        (x, y), (dx, dy) = self.middle, self.along
        return x + along_mm * dx - off_mm * dy, y + along_mm * dy + off_mm * dx


def registration_pages(paper: str, *, face: Face) -> list[Page]:
    """Return front and back; raises PageError for a paper that is unknown or too small."""
    width, height = sorted(paper_size(paper), reverse=True)
    name = paper_key(paper)
    if height < 2 * (_HALF_MM + EDGE_MM) or width < 2 * _HALF_MM + 70.0:
        raise _too_small(name)
    right = width - EDGE_MM - 22.0
    scales = (
        _Scale("right", (EDGE_MM + _HALF_MM + 4.0, 0.36 * height - 6.0), (1.0, 0.0), 1.0),
        # Turned over the long edge, what is up on the back is down on the front.
        _Scale("up", (right, height / 2), (0.0, 1.0), -1.0),
    )
    corners = [(x, y) for x in (12.0, width - 12.0) for y in (12.0, height - 12.0)]
    words = Room(
        EDGE_MM + 14.0, height / 2 + 2.0, right - EDGE_MM - 34.0, height / 2 - 2.0 - _TOP_MM
    )
    front = [shape for scale in scales for shape in _front(scale)]
    front += [*_crosses(corners), *_words(name, words, face)]
    back: list[Shape] = [shape for scale in scales for shape in _back(scale, height)]
    back += [*_crosses([behind(corner, height_mm=height) for corner in corners])]
    says = "Back: hold it away from you, against the light"
    back.append(Text(says, width / 2, height - 14.0, 2.4, "middle", key="back"))
    title = f"Registration sheet, {name}"
    return [
        Page(width, height, f"{title}: front", tuple(front)),
        Page(width, height, f"{title}: back", tuple(back)),
    ]


def _too_small(paper: str) -> PageError:
    return PageError(f"{paper} paper is too small for the registration sheet: choose a larger one")


# --- scales --------------------------------------------------------------------------------------


def _front(scale: _Scale) -> Iterator[Shape]:
    """Yield the front's strokes, each with the figure to enter if it coincides with the back's."""
    ends = scale.at(-_HALF_MM, 0), scale.at(_HALF_MM, 0)
    yield line(*ends, stroke_mm=_STROKE_MM, key=f"base:{scale.name}")
    for count in range(-STROKES_EACH_WAY, STROKES_EACH_WAY + 1):
        along, tall = count * FRONT_PITCH_MM, _ZERO_MM if count == 0 else _TICK_MM
        start, stop = scale.at(along, 0), scale.at(along, tall)
        yield line(start, stop, stroke_mm=_STROKE_MM, key=f"front:{scale.name}:{count}")
        if count % 2 == 0:
            yield _figure(scale, along, scale.sign * count * STEP_MM)
    yield _heading(scale)


def _figure(scale: _Scale, along: float, value: float) -> Text:
    """Return the figure of a stroke, upright, beyond the end of the stroke."""
    says = "0" if value == 0 else f"{value:+.1f}".replace("-", "−")
    if scale.along[0]:
        x, y = scale.at(along, _ZERO_MM + 1.0)
        return Text(says, x, y, _FIGURE_CAP_MM, "middle", key=f"figure:{scale.name}:{says}")
    x, y = scale.at(along, _ZERO_MM + 1.0)
    return Text(says, x, y - _FIGURE_CAP_MM / 2, _FIGURE_CAP_MM, "end",
                key=f"figure:{scale.name}:{says}")  # fmt: skip


def _heading(scale: _Scale) -> Text:
    """Return the name of the option that a scale's figure is entered with."""
    says = f"--back-{scale.name}, mm"
    if scale.along[0]:
        x, y = scale.at(0.0, -_ZERO_MM - 5.0)
        return Text(says, x, y, 2.4, "middle", key=f"heading:{scale.name}")
    x, y = scale.at(_HALF_MM, 0.0)
    return Text(says, x, y + 3.0, 2.4, "middle", key=f"heading:{scale.name}")


def _back(scale: _Scale, height: float) -> Iterator[Path]:
    """Yield the back's strokes, on the other side of the base line from the front's strokes."""
    for count in range(-STROKES_EACH_WAY, STROKES_EACH_WAY + 1):
        along, tall = count * BACK_PITCH_MM, _ZERO_MM if count == 0 else _TICK_MM
        ends = [behind(scale.at(along, off), height_mm=height) for off in (0.0, -tall)]
        yield line(*ends, stroke_mm=_STROKE_MM, key=f"back:{scale.name}:{count}")


def _crosses(places: list[Point]) -> Iterator[Path]:
    """Yield a cross at each place; against the light, each pair shows if the back is rotated."""
    half = _CROSS_MM / 2
    for number, (x, y) in enumerate(places):
        yield line((x - half, y), (x + half, y), stroke_mm=_STROKE_MM, key=f"cross:{number}:across")
        yield line((x, y - half), (x, y + half), stroke_mm=_STROKE_MM, key=f"cross:{number}:up")


# --- words ---------------------------------------------------------------------------------------


def _steps(paper: str) -> list[str]:
    """Return what to do."""
    return [
        f"1. Print both pages on one sheet of {paper} paper: two-sided, “flip on long edge”, at "
        "100 %, with the printer, tray and paper that the cards will be printed with.",
        "2. Hold the sheet against a window or a lamp, never against the sun, with this side "
        "toward you.",
        "3. On each scale look for the stroke above, or left of, the line that meets a stroke of "
        "the back exactly. Its figure is how far the back is off; between two strokes take the "
        "value between them. If the strokes of the back do not start at the line, or no pair "
        "meets, the sheet was turned over its short edge.",
        "4. In all four corners the crosses of the back must be off by the same amount; if they "
        "are not, the paper went in askew: print again. Take the mean of three sheets.",
        f'5. Enter: focuschart printer set "NAME" --paper "{paper}" --back-right "… mm" '
        '--back-up "… mm", with a minus sign where the figure has one.',
    ]


def _words(paper: str, room: Room, face: Face) -> Iterator[Shape]:
    """Yield title and steps in a room."""
    yield Text(f"Registration sheet for {paper} paper: front", room.x, room.top - 3.4, 3.4,
               key="title")  # fmt: skip
    steps, under = _steps(paper), room.lowered(7.0)
    width = min(under.width, 170.0)
    cap = largest_cap(steps, _CAPS_MM, width_mm=width, most_mm=under.height, face=face)
    if cap is None:
        raise _too_small(paper)
    yield from set_words(
        steps, x=under.x, top=under.top, cap_mm=cap, width_mm=width, face=face, key="step"
    )
