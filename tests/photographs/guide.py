"""The picture of the guide: a ruler and its index photographed well, and in five other ways.

`python -m tests.photographs.guide` renders it anew, with POV-Ray.
"""

from __future__ import annotations

import math
import tempfile
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.photographs.draw import Spoiled, ordinary, spoiled
from tests.photographs.prints import printed_pieces
from tests.photographs.scene import Scene, render
from tests.photographs.sets import DIAMETERS_MM, PARTS, kit

FILE = Path(__file__).parents[2] / "focuschart" / "guide" / "photographs.jpg"
_KIT, _SEED = 2, 16
_PANEL = (440, 330)
_GAP, _LAST = 10, 6
_QUALITY = 72
_SHOWN = 0.36
"""The share of a photograph that is shown: it is its middle, but for the one that was cut."""
_CUT = (0.17, 0.0)


def _scenes(folder: Path) -> Iterator[tuple[Scene, Spoiled]]:
    """Yield the good one, one from aside, one from afar, a blurred one, a reflex, one cut."""
    prints = printed_pieces(kit(_KIT), folder, prefix="g-")
    part, bare = PARTS["attachment"], DIAMETERS_MM[_KIT][1]
    keys = (f"{part}/ruler", f"{part}/bench-index")
    scene, _, _ = ordinary(prints, keys, bare, np.random.default_rng(_SEED))
    level = replace(scene.phone, around=0.0, along=0.0, roll=0.0, distance_mm=200.0)
    level = replace(level, at=(0.0, level.at[1], 0.0))
    light = replace(scene.light, key=1.1, fill=0.6, shine=0.0, key_at=(-250.0, 450.0, 200.0))
    scene, how = replace(scene, phone=level, light=light), Spoiled(noise=0.006, quality=90)
    yield scene, how
    yield replace(scene, phone=replace(level, around=math.radians(48.0))), how
    yield replace(scene, phone=replace(level, distance_mm=620.0)), how
    yield scene, replace(how, blur_px=16.0)
    flash = replace(light, key=2.2, shine=1.0, key_at=(0.0, 420.0, 30.0))
    yield replace(scene, light=flash), replace(how, gain=1.3)
    yield scene, how


def _panel(scene: Scene, how: Spoiled, folder: Path, number: int) -> NDArray[np.uint8]:
    png = render(scene, folder, f"guide-{number}")
    picture: Any = cv2.imread(str(png), cv2.IMREAD_GRAYSCALE)
    data = spoiled(np.asarray(picture, np.uint8), how, np.random.default_rng(number))
    seen: Any = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_GRAYSCALE)
    aside = _CUT if number == _LAST else (0.0, 0.0)
    (top, bottom), (left, right) = (
        (int(size * (0.5 + off - _SHOWN / 2.0)), int(size * (0.5 + off + _SHOWN / 2.0)))
        for size, off in zip(seen.shape, aside[::-1], strict=True)
    )
    part = seen[top:bottom, left:right]
    small = np.asarray(cv2.resize(part, _PANEL, interpolation=cv2.INTER_AREA), np.uint8)
    where, face = (12, _PANEL[1] - 14), cv2.FONT_HERSHEY_SIMPLEX
    for colour, thick in ((0, 7), (255, 2)):
        cv2.putText(small, str(number), where, face, 1.2, colour, thick, cv2.LINE_AA)
    return small


def guide_picture(folder: Path) -> NDArray[np.uint8]:
    """Return the six panels in two rows, numbered."""
    panels = [_panel(*each, folder, n) for n, each in enumerate(_scenes(folder), start=1)]
    wide, high = _PANEL
    sheet = np.full((2 * high + _GAP, 3 * wide + 2 * _GAP), 255, np.uint8)
    for n, panel in enumerate(panels):
        left, top = n % 3 * (wide + _GAP), n // 3 * (high + _GAP)
        sheet[top : top + high, left : left + wide] = panel
    return sheet


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as made:
        sheet = guide_picture(Path(made))
    cv2.imwrite(str(FILE), sheet, [cv2.IMWRITE_JPEG_QUALITY, _QUALITY])
