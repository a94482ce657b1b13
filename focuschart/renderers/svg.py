"""One page to SVG: millimetres throughout, texts as outlines, nothing transformed."""

from __future__ import annotations

import math
from collections.abc import Iterator
from xml.sax.saxutils import escape

import numpy as np

from focuschart.layout.page import GROUPS, Group, Page, Path, Point, Text
from focuschart.renderers.glyphs import TypeFace
from focuschart.renderers.outline import TextDrawer
from focuschart.renderers.pen import pen_of

_DECIMALS = 4
_PIXELS_PER_MM = 96 / 25.4
"""W3C, CSS Values 4, 6.2."""

_HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<svg xmlns="http://www.w3.org/2000/svg"'
    ' xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape" version="1.1"'
    ' baseProfile="full" width="{wide}mm" height="{high}mm" viewBox="0 0 {wide} {high}">'
    "<title>{title}</title><defs><style>"
    "@page{{size:{width}mm {height}mm;margin:0}}svg{{display:block}}</style></defs>"
)
"""The rule for the page gives a browser's print the paper's true size.

The editor's namespace is the open convention by which vector editors tell a layer from a group
(common practice, no source); SVG 1.1 lets every other reader pass over foreign attributes.
"""


def render_svg(page: Page, *, face: TypeFace) -> bytes:
    """Return the page as SVG 1.1, one user unit to the millimetre, y down from the sheet's top.

    What the drawing shows ends up to 0.27 mm before the sheet's right and lower edge, see
    `_whole_pixels_mm`.

    All groups are there as layers under their names (`print`, `fold`, `crop`, `cut` and the rest),
    empty or not, so that a cutter's template finds them. A shape's key is its `data-key`, the
    wording of a text the `aria-label` of its outline. Raises GlyphError for a text that `face`
    cannot set.
    """
    head = _HEAD.format(
        width=_number(page.width_mm),
        height=_number(page.height_mm),
        wide=_number(_whole_pixels_mm(page.width_mm)),
        high=_number(_whole_pixels_mm(page.height_mm)),
        title=escape(page.title),
    )
    texts = TextDrawer(face, page)
    layers = (_layer(group, page, texts) for group in GROUPS)
    return "".join((head, *layers, "</svg>\n")).encode()


def _whole_pixels_mm(length_mm: float) -> float:
    """Return the longest whole number of CSS pixels, 96 to the inch, within a length.

    A browser may stretch a drawing to whole pixels: measured in Chromium, an A4 sheet of exact
    width grew by 0.12 mm in 280. One that is whole already keeps its scale to 1 in 10 000 000.
    """
    return max(math.floor(length_mm * _PIXELS_PER_MM + 1e-6), 1) / _PIXELS_PER_MM


def _layer(group: Group, page: Page, texts: TextDrawer) -> str:
    start = f'<g id="{group}" inkscape:groupmode="layer" inkscape:label="{group}">'
    return "".join((start, *_elements(group, page, texts), "</g>"))


def _elements(group: Group, page: Page, texts: TextDrawer) -> Iterator[str]:
    """Yield one element a shape; all points of the paths are placed and written at once."""
    shapes = page.in_group(group)
    points = [point for shape in shapes if isinstance(shape, Path) for point in shape.points]
    written = iter(_written(points, page))
    for shape in shapes:
        keyed = f' data-key="{_quoted(shape.key)}"' if shape.key else ""
        if isinstance(shape, Text):
            label = f'aria-label="{_quoted(shape.text)}" fill="{shape.colour}"'
            yield f'<path d="{texts.path_data(shape)}" {label}{keyed}/>'
        else:
            track = _track(shape, [next(written) for _ in shape.points])
            yield f"<{track} {_pen_attributes(shape)}{keyed}/>"


def _written(points: list[Point], page: Page) -> list[tuple[str, str]]:
    """Return points as text in the coordinates of the file, the page's scale in them."""
    x, y = (np.array(points).reshape(-1, 2) * (page.scale_x, page.scale_y) + page.shift_mm).T
    placed = np.column_stack((x, page.height_mm - y))
    # Adding zero turns a negative zero into a plain one.
    return [(f"{x:.10g}", f"{y:.10g}") for x, y in (placed.round(_DECIMALS) + 0.0).tolist()]


def _track(path: Path, points: list[tuple[str, str]]) -> str:
    """Return the plainest element for a path: a line, a polyline, or a closed path."""
    steps = [",".join(point) for point in points]
    if path.closed:
        return f'path d="M{"L".join(steps)}Z"'
    if len(points) == 2:
        (x1, y1), (x2, y2) = points
        return f'line x1="{x1}" y1="{y1}" x2="{x2}" y2="{y2}"'
    return f'polyline points="{" ".join(steps)}"'


def _pen_attributes(path: Path) -> str:
    """Return stroke and fill as attributes of the element itself, where every cutter looks."""
    pen = pen_of(path)
    attributes = f'fill="{pen.fill or "none"}" stroke="{pen.colour or "none"}"'
    if pen.colour is not None:
        join = "miter" if pen.mitred else "round"
        attributes += f' stroke-width="{_number(pen.width_mm)}" stroke-linejoin="{join}"'
    if pen.dash_mm:
        attributes += f' stroke-dasharray="{" ".join(map(_number, pen.dash_mm))}"'
    return attributes


def _quoted(text: str) -> str:
    return escape(text, {'"': "&quot;"})


def _number(value: float) -> str:
    """Return a length in mm to a ten-thousandth, without trailing zeros or a negative zero."""
    return f"{round(value, _DECIMALS) + 0.0:.10g}"
