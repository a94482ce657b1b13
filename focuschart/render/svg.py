"""One page to SVG, by svgwrite: millimetres throughout, texts as outlines, nothing transformed."""

from __future__ import annotations

from typing import Any

import numpy as np
import svgwrite

from focuschart.layout.page import GROUPS, Page, Path, Shape, Text
from focuschart.render.glyphs import POINTS_OF, Outline, TypeFace
from focuschart.render.pen import baseline_of, pen_of

_DECIMALS = 4


def render_svg(page: Page, *, face: TypeFace) -> bytes:
    """Return the page as SVG 1.1, one user unit to the millimetre, y down.

    All four groups are there under their names (`print`, `fold`, `crop`, `cut`), empty or not, so
    that a cutter's template finds them. A shape's key is its `data-key`, the wording of a text the
    `aria-label` of its outline. Raises GlyphError if `face` cannot set a text.
    """
    drawing = _new_drawing(page)
    for group in GROUPS:
        layer = drawing.add(drawing.g(id=group))
        for shape in page.in_group(group):
            layer.add(_element(drawing, shape, page=page, face=face))
    xml: str = drawing.tostring()
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{xml}\n'.encode()


def _new_drawing(page: Page) -> Any:
    """Return an empty drawing that a browser prints at its true size."""
    width, height = _number(page.width_mm), _number(page.height_mm)
    drawing = svgwrite.Drawing(
        size=(f"{width}mm", f"{height}mm"),
        viewBox=f"0 0 {width} {height}",
        profile="full",
        debug=False,
    )
    drawing.set_desc(title=page.title)
    drawing.embed_stylesheet(f"@page{{size:{width}mm {height}mm;margin:0}}svg{{display:block}}")
    return drawing


def _element(drawing: Any, shape: Shape, *, page: Page, face: TypeFace) -> Any:
    keyed = {"data_key": shape.key} if shape.key else {}
    if isinstance(shape, Text):
        outline = _placed(shape, page=page, face=face)
        label = {"aria_label": shape.text, "fill": shape.colour}
        return drawing.path(d=_path_data(outline), **label, **keyed)
    points = [(_number(x), _number(page.height_mm - y)) for x, y in shape.points]
    return _track(drawing, points, closed=shape.closed, **_pen_attributes(shape), **keyed)


def _track(drawing: Any, points: list[tuple[str, str]], *, closed: bool, **extra: str) -> Any:
    """Return the plainest element for a path: a line, a polyline, or a closed path."""
    if closed:
        steps = "L".join(",".join(point) for point in points)
        return drawing.path(d=f"M{steps}Z", **extra)
    if len(points) == 2:
        return drawing.line(start=points[0], end=points[1], **extra)
    return drawing.polyline(points=points, **extra)


def _pen_attributes(path: Path) -> dict[str, str]:
    """Return stroke and fill as attributes of the element itself, where every cutter looks."""
    pen = pen_of(path)
    attributes = {"fill": pen.fill or "none", "stroke": pen.colour or "none"}
    if pen.colour is not None:
        attributes |= {"stroke_width": _number(pen.width_mm), "stroke_linejoin": "round"}
    if pen.dash_mm:
        attributes["stroke_dasharray"] = " ".join(map(_number, pen.dash_mm))
    return attributes


def _placed(text: Text, *, page: Page, face: TypeFace) -> Outline:
    """Return the outline of a text in the coordinates of the file."""
    outline = face.outline(text.text, cap_mm=text.cap_mm)
    start = baseline_of(text, face=face)
    turn = np.array([[start.cos, start.sin], [-start.sin, start.cos]])
    x, y = (outline.points @ turn + np.array([start.x, start.y])).T
    return Outline(outline.commands, np.column_stack((x, page.height_mm - y)))


def _path_data(outline: Outline) -> str:
    """Return all contours at once: one template filled by one call, as texts have many points."""
    template = "".join(
        command + " ".join(["%.10g,%.10g"] * POINTS_OF[command]) for command in outline.commands
    )
    return template % tuple((np.round(outline.points, _DECIMALS) + 0.0).ravel())


def _number(value: float) -> str:
    """Return a length in mm to a ten-thousandth, without trailing zeros or a negative zero."""
    digits = f"{round(value, _DECIMALS) + 0.0:.{_DECIMALS}f}"
    return digits.rstrip("0").rstrip(".")
