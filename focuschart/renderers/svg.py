"""One page to SVG: all lengths in mm, texts as outlines, no transformations."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np
import svgwrite

from focuschart.layout.page import GROUPS, Group, Page, Path, Point, Text
from focuschart.renderers.glyphs import TypeFace
from focuschart.renderers.outline import TextDrawer
from focuschart.renderers.pen import pen_of

if TYPE_CHECKING:
    from svgwrite.base import BaseElement

_DECIMALS = 4
_PIXELS_PER_MM = 96 / 25.4
"""CSS pixels (W3C, CSS Values 4, 6.2)."""
_LAYERS = "http://www.inkscape.org/namespaces/inkscape"
"""The attributes by which vector editors tell a layer from a group (common practice, no source);
other readers ignore them, as SVG 1.1 allows."""


def render_svg(page: Page, *, face: TypeFace) -> bytes:
    """Return the page as SVG 1.1; the user unit is 1 mm, y runs down from the sheet's top.

    The visible area ends up to 0.27 mm before the sheet's right and lower edge, see
    `_whole_pixels_mm`.

    Each group (`print`, `fold`, `crop`, `cut` and the rest) is a layer of that name, even if empty,
    so that a cutter's template finds it. A shape's key is its `data-key`; the words of a text are
    the `aria-label` of its outline. Raises GlyphError for a text that `face` cannot print.
    """
    drawing, texts = _drawing(page), TextDrawer(face, page)
    for group in GROUPS:
        drawing.add(_layer(drawing, group, page, texts))
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{drawing.tostring()}\n'.encode()


def _drawing(page: Page) -> svgwrite.Drawing:
    """Return the drawing without its layers; its style makes browsers print it at true size."""
    wide, high = (_number(_whole_pixels_mm(mm)) for mm in (page.width_mm, page.height_mm))
    # Checking every attribute would take many times as long as writing it.
    drawing = svgwrite.Drawing(
        size=(f"{wide}mm", f"{high}mm"), viewBox=f"0 0 {wide} {high}", debug=False
    )
    drawing["xmlns:inkscape"] = _LAYERS
    drawing.set_desc(title=page.title)
    paper = f"{_number(page.width_mm)}mm {_number(page.height_mm)}mm"
    drawing.embed_stylesheet(f"@page{{size:{paper};margin:0}}svg{{display:block}}")
    return drawing


def _whole_pixels_mm(length_mm: float) -> float:
    """Return a length rounded down to whole CSS pixels (96 per inch), mm.

    A browser may stretch a drawing to whole pixels: in Chromium, an A4 sheet of exact width grew by
    0.12 mm in 280. A drawing of whole pixels keeps its scale to 1 in 10 000 000.
    """
    return max(math.floor(length_mm * _PIXELS_PER_MM + 1e-6), 1) / _PIXELS_PER_MM


def _layer(drawing: svgwrite.Drawing, group: Group, page: Page, texts: TextDrawer) -> BaseElement:
    layer = drawing.g(id=group)
    layer["inkscape:groupmode"], layer["inkscape:label"] = "layer", group
    for element in _elements(drawing, group, page, texts):
        layer.add(element)
    return layer


def _elements(
    drawing: svgwrite.Drawing, group: Group, page: Page, texts: TextDrawer
) -> Iterator[BaseElement]:
    """Yield one element per shape; the points of all paths are computed in one array, for speed."""
    shapes = page.in_group(group)
    points = [point for shape in shapes if isinstance(shape, Path) for point in shape.points]
    written = iter(_written(points, page))
    for shape in shapes:
        keyed = {"data_key": shape.key} if shape.key else {}
        if isinstance(shape, Text):
            outline = texts.path_data(shape)
            yield drawing.path(outline, aria_label=shape.text, fill=shape.colour, **keyed)
        else:
            track = [next(written) for _ in shape.points]
            yield _track(drawing, shape, track, {**_pen_attributes(shape), **keyed})


def _written(points: list[Point], page: Page) -> list[tuple[str, str]]:
    """Return points as text, in the coordinates of the file, with the page's scale applied."""
    x, y = (np.array(points).reshape(-1, 2) * (page.scale_x, page.scale_y) + page.shift_mm).T
    placed = np.column_stack((x, page.height_mm - y))
    # Adding zero turns a negative zero into a plain one.
    return [(f"{x:.10g}", f"{y:.10g}") for x, y in (placed.round(_DECIMALS) + 0.0).tolist()]


def _track(
    drawing: svgwrite.Drawing, path: Path, points: list[tuple[str, str]], looks: dict[str, Any]
) -> BaseElement:
    """Return the simplest element for a path: a line, a polyline, or a closed path."""
    if path.closed:
        steps = "L".join(",".join(point) for point in points)
        return drawing.path(f"M{steps}Z", **looks)
    if len(points) == 2:
        return drawing.line(*points, **looks)
    return drawing.polyline(points, **looks)


def _pen_attributes(path: Path) -> dict[str, str]:
    """Return stroke and fill as attributes of the element: cutters may not read styles."""
    pen = pen_of(path)
    attributes = {"fill": pen.fill or "none", "stroke": pen.colour or "none"}
    if pen.colour is not None:
        attributes["stroke_width"] = _number(pen.width_mm)
        attributes["stroke_linejoin"] = "miter" if pen.mitred else "round"
    if pen.dash_mm:
        attributes["stroke_dasharray"] = " ".join(map(_number, pen.dash_mm))
    return attributes


def _number(value: float) -> str:
    """Return a length in mm to a ten-thousandth, without trailing zeros or a negative zero."""
    return f"{round(value, _DECIMALS) + 0.0:.10g}"
