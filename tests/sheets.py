"""Sheets that several tests draw."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable
from typing import Any

from focuschart.layout.page import Page, Path, Shape, Text, box, line, rounded_box
from focuschart.layout.sheet.finish import Finish
from focuschart.layout.sheet.pieces import Item
from focuschart.layout.sheet.sheets import imposed
from focuschart.renderers import RENDERERS
from focuschart.renderers.glyphs import TypeFace
from focuschart.renderers.pdf import render_pdf

A4 = (210.0, 297.0)  # ISO 216
NASTY = '<b>&"x'
FACE = TypeFace.load()


def page_of(*shapes: Shape, size: tuple[float, float] = A4) -> Page:
    return Page(*size, "a page", shapes)


def pdf_of(*pages: Page, face: TypeFace = FACE) -> bytes:
    return render_pdf(pages, face=face, title="pages")


def sheets(items: Iterable[Item], *, finish: Finish | None = None, **on: Any) -> list[Page]:
    """Return pages that hold all items; see `imposed`."""
    return list(imposed(items, finish=finish, **on).pages)


def scene() -> tuple[Page, ...]:
    """Everything a page can hold, on two sheets of different sizes."""
    wave = tuple((50 + i, 60 + 5 * math.sin(i / 3)) for i in range(40))
    arrow = ((20.0, 55.0), (40.0, 55.0), (30.0, 68.0))
    star = tuple(
        (105 + 10 * math.cos(0.8 * math.pi * k), 40 + 10 * math.sin(0.8 * math.pi * k))
        for k in range(5)
    )
    shapes: list[Shape] = [
        line((20, 15), (120, 15), key="bar"),
        line((10, 20), (10, 120)),
        box(20, 20, 50, 30, stroke_mm=0.3),
        rounded_box(30, 75, 85.6, 53.98, radius=3.18, group="cut", key="card"),
        line((15, 72), (120, 72), group="fold", key="fold"),
        line((0, 10), (8, 10), group="crop", key="crop"),
        Path(arrow, closed=True, stroke_mm=None, fill="#303030", key="arrow"),
        Path(star, closed=True, stroke_mm=0.25, fill="#203040"),
        Path(wave, stroke_mm=0.3, colour="#006000", key="wave"),
    ]
    shapes += [
        Text(f"∞ 3½ m ±0.5 Ø {NASTY}", 15, 134 + 4 * k, 1.6 + 0.2 * k, rotation=0.05 * k)
        for k in range(8)
    ]
    return (
        page_of(*shapes, size=(127.0, 190.5)),
        page_of(Text("1.2 m", 10, 10, 3), size=(85.60, 53.98)),
    )


def digest() -> str:
    """Return a hash over the scene in every format."""
    documents = (
        document
        for name in sorted(RENDERERS)
        for document in RENDERERS[name](scene(), face=FACE, title="t")
    )
    return hashlib.sha256(
        b"".join(suffix.encode() + data for suffix, data in documents)
    ).hexdigest()
