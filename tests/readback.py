"""Reads drawings back by other people's code: lengths in mm, y up from the lower left corner."""

from __future__ import annotations

import io
import re
import xml.etree.ElementTree as ET
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import Any

import numpy as np
import pdfplumber
import pypdfium2
import resvg_py
from numpy.typing import NDArray
from pdfminer.pdftypes import resolve1
from PIL import Image

MM_PER_POINT = 25.4 / 72  # ISO 32000-1, 8.3.2; 1959 international yard

Ink = NDArray[np.bool_]
Floats = NDArray[np.float64]

_SVG = "{http://www.w3.org/2000/svg}"


@dataclass(frozen=True)
class PdfPath:
    """One path painted in a PDF; colours are RGB from 0 to 1, None where not painted."""

    points: Floats
    closed: bool
    width_mm: float
    stroke: tuple[float, ...] | None
    fill: tuple[float, ...] | None


@dataclass(frozen=True)
class SvgShape:
    """One element of an SVG; for curves `points` holds the control points as well."""

    group: str
    tag: str
    points: Floats
    closed: bool
    attributes: dict[str, str]


@lru_cache(maxsize=1)
def _pages(data: bytes) -> list[Any]:
    """Return the pages of a PDF, each read once for all that a test asks of it."""
    return list(pdfplumber.open(io.BytesIO(data)).pages)


def pdf_paths(data: bytes) -> list[list[PdfPath]]:
    """Return the paths of each page in the order drawn within lines, boxes and others."""
    return [[_pdf_path(page, item) for item in _drawn(page)] for page in _pages(data)]


def _drawn(page: Any) -> list[dict[str, Any]]:
    return [*page.lines, *page.rects, *page.curves]


def _pdf_path(page: Any, item: dict[str, Any]) -> PdfPath:
    points = np.array([point for _, *points in item["path"] for point in points], dtype=float)
    points[:, 1] = float(page.height) - points[:, 1]
    return PdfPath(
        points=points * MM_PER_POINT,
        closed=item["path"][-1][0] == "h",
        width_mm=float(item["linewidth"]) * MM_PER_POINT,
        stroke=item["stroking_color"] if item["stroke"] else None,
        fill=item["non_stroking_color"] if item["fill"] else None,
    )


def pdf_lines(data: bytes) -> list[Floats]:
    """Return for each page the straight stroked segments, an array of (x1, y1, x2, y2, width)."""
    return [
        np.array([row for path in paths if path.stroke for row in _segments(path)]).reshape(-1, 5)
        for paths in pdf_paths(data)
    ]


def _segments(path: PdfPath) -> list[list[float]]:
    points = np.vstack((path.points, path.points[:1])) if path.closed else path.points
    return [[*start, *end, path.width_mm] for start, end in pairwise(points)]


def pdf_texts(data: bytes) -> list[list[str]]:
    """Return the upright lines of text on each page, read from the top."""
    return [[line["text"] for line in page.extract_text_lines()] for page in _pages(data)]


def pdf_content(data: bytes) -> str:
    """Return the drawing operators of the first page, as they are written."""
    parts = _pages(data)[0].page_obj.contents
    return "".join(resolve1(part).get_data().decode("latin-1") for part in parts)


def pdf_sizes(data: bytes) -> Floats:
    """Return width and height of each page's MediaBox in points, shape (pages, 2)."""
    boxes = [page.mediabox for page in _pages(data)]
    return np.array([(right - left, top - low) for left, low, right, top in boxes], dtype=float)


def svg_shapes(data: bytes) -> list[SvgShape]:
    """Return every shape in the four groups, in drawing order."""
    root = ET.fromstring(data)
    height = _paper_height(root)
    return [
        _svg_shape(group.attrib["id"], element, height=height)
        for group in root.iterfind(f"{_SVG}g")
        for element in group
    ]


def _paper_height(root: ET.Element) -> float:
    """Return the sheet's height, mm, from the rule for printing: the drawing may end before it."""
    found = re.search(r"@page\{size:\S+mm (\S+)mm", root.findtext(f".//{_SVG}style") or "")
    return float(found[1]) if found else float(root.attrib["viewBox"].split()[3])


def svg_keyed(data: bytes) -> dict[str, SvgShape]:
    """Return the shapes that carry a data-key; raises ValueError if a key is there twice."""
    keyed = [s for s in svg_shapes(data) if "data-key" in s.attributes]
    found = {shape.attributes["data-key"]: shape for shape in keyed}
    if len(found) < len(keyed):
        raise ValueError("two shapes of one page carry the same data-key")
    return found


def _svg_shape(group: str, element: ET.Element, *, height: float) -> SvgShape:
    tag = element.tag.removeprefix(_SVG)
    numbers = re.findall(r"-?\d+(?:\.\d+)?", _coordinates(tag, element))
    points = np.array(numbers, dtype=float).reshape(-1, 2)
    points[:, 1] = height - points[:, 1]
    closed = tag == "path" and element.get("d", "").endswith("Z")
    return SvgShape(group, tag, points, closed, dict(element.attrib))


def _coordinates(tag: str, element: ET.Element) -> str:
    if tag == "line":
        return " ".join(element.attrib[name] for name in ("x1", "y1", "x2", "y2"))
    return element.get({"path": "d", "polyline": "points"}[tag], "")


HALF = 128
TRACE = 224
"""Grey levels, 255 white: a pixel half covered by black ink, and one just touched by it."""


def grey_pdf(data: bytes, page: int, dpi: float) -> NDArray[np.uint8]:
    """Return page number `page`, from 0, in grey; row 0 on top."""
    document = pypdfium2.PdfDocument(data)
    try:
        image = document[page].render(scale=dpi / 72, grayscale=True)
        return np.array(image.to_numpy(), dtype=np.uint8).squeeze()
    finally:
        document.close()


def grey_svg(data: bytes, dpi: float) -> NDArray[np.uint8]:
    """Return an SVG in grey; row 0 on top."""
    png = resvg_py.svg_to_bytes(svg_string=data.decode(), background="#ffffff", dpi=dpi)
    return np.asarray(Image.open(io.BytesIO(bytes(png))).convert("L"), dtype=np.uint8)


def raster_pdf(data: bytes, page: int, dpi: float) -> Ink:
    """Return where page number `page`, from 0, has ink; row 0 on top."""
    ink: Ink = grey_pdf(data, page, dpi) < HALF
    return ink


def raster_svg(data: bytes, dpi: float) -> Ink:
    """Return where an SVG has ink; row 0 on top."""
    ink: Ink = grey_svg(data, dpi) < HALF
    return ink


def ink_outside(a: Ink, b: Ink, pixels: int) -> int:
    """Return how many ink pixels of `a` lie further than `pixels` from all ink of `b`."""
    rows, columns = (min(sizes) for sizes in zip(a.shape, b.shape, strict=True))
    row, column = np.nonzero(a[:rows, :columns] & ~b[:rows, :columns])
    around = np.pad(b[:rows, :columns], pixels)
    for down, right in np.ndindex(2 * pixels + 1, 2 * pixels + 1):
        alone = ~around[row + down, column + right]
        row, column = row[alone], column[alone]
    return len(row)


def ink_differs_by(a: Ink, b: Ink, pixels: int) -> int:
    """Return how many ink pixels of either lie further than `pixels` from all ink of the other."""
    return ink_outside(a, b, pixels) + ink_outside(b, a, pixels)


def grown(ink: Ink, pixels: int) -> Ink:
    """Return the ink spread over a square of 2·pixels + 1; one axis after the other is quicker."""
    grown = ink.copy()
    for _ in range(pixels):
        for view in (grown, grown.T):
            before = view.copy()
            view[1:] |= before[:-1]
            view[:-1] |= before[1:]
    return grown


def ink_box_mm(ink: Ink, dpi: float) -> tuple[float, float, float, float]:
    """Return left, bottom, right and top of all ink, in mm from the raster's lower left corner."""
    rows, columns = np.flatnonzero(ink.any(axis=1)), np.flatnonzero(ink.any(axis=0))
    edges = (columns[0], ink.shape[0] - 1 - rows[-1], columns[-1] + 1, ink.shape[0] - rows[0])
    left, bottom, right, top = (float(edge) * 25.4 / dpi for edge in edges)
    return (left, bottom, right, top)
