"""The printed squeeze card as a picture: the program's own page, drawn by poppler."""

from __future__ import annotations

import subprocess
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import cv2
import numpy as np
from numpy.typing import NDArray

from focuschart.layout.page import Path as Outline
from focuschart.pages.bench import Bench, bench_pages
from tests.kits import charts, loaded, plain_kit
from tests.sheets import FACE, pdf_of

DPI = 600
PX_PER_MM = DPI / 25.4
DARK, BRIGHT = 0.04, 0.82
"""Shares of the light that black and white of a print give back (from memory)."""


@dataclass(frozen=True)
class Print:
    """The card alone, as linear light, and the middle of its tags in pixels of that picture."""

    light: NDArray[np.float32]
    middle: tuple[float, float]


@cache
def printed_card() -> Print:
    """Return the card cut out of its page."""
    kit = loaded(plain_kit())
    chosen = list(charts(plain_kit()).values())
    (page,) = bench_pages(kit, chosen, face=FACE, bench=Bench())["squeeze-card"]
    (outline,) = (shape for shape in page.in_group("cut") if isinstance(shape, Outline))
    with TemporaryDirectory() as folder:
        pdf = Path(folder, "card.pdf")
        pdf.write_bytes(pdf_of(replace(page, shapes=page.in_group("print"))))
        subprocess.run(
            ["pdftoppm", "-r", str(DPI), "-gray", "-singlefile", "-png", pdf, pdf.with_suffix("")],
            check=True,
        )
        sheet = cv2.imread(str(pdf.with_suffix(".png")), cv2.IMREAD_GRAYSCALE)
    assert sheet is not None
    corners = np.array(outline.points) * (1.0, -1.0) + (0.0, page.height_mm)
    low, high = (np.round(f(corners, axis=0) * PX_PER_MM).astype(int) for f in (np.min, np.max))
    cut = sheet[low[1] : high[1], low[0] : high[0]]
    return Print(np.asarray(DARK + (BRIGHT - DARK) / 255.0 * cut, np.float32), _middle(cut))


def _middle(card: NDArray[np.generic]) -> tuple[float, float]:
    """Return the mean of all corners of tags, as OpenCV finds them by its own dictionary."""
    small = cv2.resize(np.asarray(card, np.uint8), None, fx=0.25, fy=0.25)
    known = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_250)
    corners, _, _ = cv2.aruco.ArucoDetector(known).detectMarkers(small)
    x, y = np.reshape(corners, (-1, 2)).mean(axis=0).tolist()
    return 4.0 * x + 1.5, 4.0 * y + 1.5
