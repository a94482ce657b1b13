"""Pictures of the program's own printed pages, cut into the pieces that are taped on a barrel."""

from __future__ import annotations

import math
import re
import subprocess
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
from PIL import Image

from focuschart.chart.charts import build_charts
from focuschart.kit.load import load_rigs
from focuschart.kit.schema import Kit
from focuschart.layout.page import Page, Point
from focuschart.layout.page import Path as Outline
from focuschart.layout.sheet.look import with_look
from focuschart.pages.pack import Paper, pack_document
from focuschart.store.kits import Disk
from tests.photographs.scene import Piece
from tests.sheets import FACE, pdf_of

PX_PER_MM = 30.0
KITS = Path(__file__).parent.parent.parent / "sample_kits"


def kit_with(taking_mm: float, attachment_mm: float) -> Kit:
    """Return the sample kit with other diameters of its rings."""
    text = (KITS / "two-lenses.toml").read_text()
    text = text.replace('diameter = "78 mm"', f'diameter = "{taking_mm:g} mm"')
    text = text.replace('diameter = "92 mm"', f'diameter = "{attachment_mm:g} mm"')
    return load_rigs(text, source="render.toml", shelf=Disk())


def printed_pieces(
    kit: Kit,
    folder: Path,
    *,
    prefix: str,
    document: str = "rulers",
    look: str = "plain",
    only: str = "",
) -> Mapping[str, tuple[Piece, ...]]:
    """Return the pieces of each print of a document by key, their pictures in the folder.

    `only` are the keys that begin so.
    """
    charts = list(build_charts(kit))
    sheets = pack_document(document, kit, charts, face=FACE, on=Paper("A4"))
    found: dict[str, list[tuple[int, Piece]]] = {}
    for imposition in sheets.values():
        for page in imposition.pages:
            if not any(shape.key.startswith(only) for shape in page.in_group("cut")):
                continue
            drawn = folder / f"{prefix}page.pdf"
            seen = with_look(page, look)
            drawn.write_bytes(pdf_of(replace(seen, shapes=seen.in_group("print"))))
            for shape in page.in_group("cut"):
                assert isinstance(shape, Outline)
                if not shape.key.startswith(only):
                    continue
                key = shape.key.removesuffix("/outline")
                whole, _, number = key.rpartition("/") if key[-1].isdigit() else (key, "", "0")
                name = prefix + re.sub(r"\W", "-", key)
                piece = _cut(shape.points, drawn, page, folder, name)
                found.setdefault(whole, []).append((int(number), piece))
    return {key: _joined(pieces) for key, pieces in found.items()}


def _cut(points: tuple[Point, ...], page: Path, sheet: Page, folder: Path, name: str) -> Piece:
    """Write the picture of a piece; poppler draws it, twice as fine as it is kept."""
    corners = np.array(points)
    low, high = corners.min(axis=0), corners.max(axis=0)
    turned = (high - low)[1] > (high - low)[0]
    fine = 2.0 * PX_PER_MM
    left, top = (np.array([low[0], sheet.height_mm - high[1]]) * fine).tolist()
    first = (math.floor(left) - 4, math.floor(top) - 4)
    size = [math.ceil(side * fine) + 12 for side in (high - low).tolist()]
    subprocess.run(
        ["pdftoppm", "-gray", "-r", f"{fine * 25.4}", "-x", f"{first[0]}", "-y", f"{first[1]}",
         "-W", f"{size[0]}", "-H", f"{size[1]}", "-singlefile", page, page.with_suffix("")],
        check=True,
    )  # fmt: skip
    picture = Image.open(page.with_suffix(".pgm"))
    width, height = (high - low).tolist()
    box = (left - first[0], top - first[1], left - first[0] + width * fine,
           top - first[1] + height * fine)  # fmt: skip
    kept = (round(width * PX_PER_MM), round(height * PX_PER_MM))
    cut = picture.resize(kept, Image.Resampling.BOX, box)
    if turned:
        cut, (width, height) = cut.transpose(Image.Transpose.ROTATE_270), (height, width)
    path = folder / f"{name}.png"
    # A print is not perfectly black nor white: 4 and 82 % of the light come back (from memory).
    linear = 0.04 + 0.78 * (np.asarray(cut, float) / 255.0)
    srgb = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    Image.fromarray(np.round(255 * srgb).astype(np.uint8)).save(path)
    return Piece(path.name, width, height)


def _joined(pieces: list[tuple[int, Piece]]) -> tuple[Piece, ...]:
    start, joined = 0.0, []
    for _, piece in sorted(pieces, key=lambda pair: pair[0]):
        joined.append(replace(piece, from_mm=start))
        start += piece.width_mm
    return tuple(joined)
