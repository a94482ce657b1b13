"""The pictures that README shows, made from the sample kit: `python -m tests.pictures` renews them.

A test holds the files to what is drawn now.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import focuschart
from focuschart.layout.page import Page
from focuschart.store.documents import load_face
from tests.drawings import reading, taping

_ROOT = Path(__file__).parents[1]
FOLDER = _ROOT / "sample_kits" / "pictures"
_KIT, _RIG = _ROOT / "sample_kits" / "two-lenses.toml", "portrait-85"
_WHITE = b'<rect width="100%" height="100%" fill="#ffffff"/>'
_PRINTS = {"strips": ("strips", "297 x 120 mm"), "card": ("cards", "210 x 95 mm")}
"""Picture → the document whose first page it is, on a paper that leaves little blank."""


def pictures() -> Iterator[tuple[str, bytes]]:
    """Yield each picture's name and its SVG, on white: a code host may show it on black."""
    for name, page in _pages():
        (svg,) = focuschart.render([page], "svg")
        assert isinstance(svg, bytes)
        yield f"{name}.svg", re.sub(rb"<svg[^>]*>", rb"\g<0>" + _WHITE, svg, count=1)


def _pages() -> Iterator[tuple[str, Page]]:
    kit = focuschart.load(_KIT)
    charts = focuschart.solve(kit, rigs=[_RIG])
    for name, (document, paper) in _PRINTS.items():
        yield name, focuschart.draw(kit, charts, document, paper=paper, way="landscape")[0]
    face = load_face(None)
    yield "taping", taping(charts[0], face)
    yield "reading", reading(charts[0], face)


def write() -> None:
    """Write all pictures, and remove any that is drawn no more."""
    FOLDER.mkdir(exist_ok=True)
    made = dict(pictures())
    for path in FOLDER.iterdir():
        if path.name not in made:
            path.unlink()
    for name, svg in made.items():
        (FOLDER / name).write_bytes(svg)


if __name__ == "__main__":
    write()
