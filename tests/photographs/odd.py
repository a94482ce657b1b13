"""Photographs of uncommon rings: tapered, tiny, large, of two turns, at the seam, by night."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import replace
from functools import cache, partial
from pathlib import Path
from typing import Any

import numpy as np

from focuschart.kit.load import load_rigs
from focuschart.kit.schema import Kit
from focuschart.layout.strip.band import LEAD_IN_MM
from focuschart.layout.strip.cone import cone_of
from focuschart.pages.strips import ruler_band
from focuschart.store.kits import Disk
from tests.photographs.draw import Spoiled, ordinary
from tests.photographs.prints import KITS, printed_pieces
from tests.photographs.scene import Piece, Scene, Taper, Wrapped

RINGS: dict[str, str] = {
    "small": 'diameter = "45 mm"',
    "large": 'diameter = "120 mm"',
    "narrow": 'diameter = "78 mm"\nstrip_width = "9.5 mm"',
    "subject": 'diameter = "78 mm"\nindex_side = "subject"',
    "two-turns": 'diameter = "78 mm"\nturns = 2\nstrip_width = "24 mm"',
    "two-turns-narrow": 'diameter = "78 mm"\nturns = 2\nstrip_width = "19 mm"',
    "tapered": 'rear_diameter = "62 mm"\nfront_diameter = "58 mm"\nwidth = "14 mm"',
    "tapered-subject": 'rear_diameter = "58 mm"\nfront_diameter = "62 mm"\nwidth = "14 mm"\n'
    'index_side = "subject"',
    "seam": 'diameter = "78 mm"',
    "night": 'diameter = "78 mm"',
}  # fmt: skip
"""The ring of the taking lens, as the kit has it, in each kind."""
_KEY = "taking/eighty-five"


@cache
def kit_of(kind: str) -> Kit:
    """Return the sample kit with another ring on its taking lens."""
    text = (KITS / "two-lenses.toml").read_text()
    text = text[: text.index("[[readings]]")].replace('diameter = "78 mm"', RINGS[kind])
    # Its engraved figures are those of another ring.
    text = re.sub(r"(?m)^engraved = \[\n(?:  .*\n)*\]\n", "", text)
    return load_rigs(text, source="render.toml", shelf=Disk())


def odd(kind: str, folder: Path, rng: np.random.Generator) -> tuple[Scene, Spoiled, dict[str, Any]]:
    """Draw an ordinary photograph of a ring of a kind."""
    ring = kit_of(kind).taking_lenses["eighty-five"].ring
    prints = _prints(kind, folder)
    mean_mm = ring.as_ruler.strip_length_mm / math.pi - 0.2
    keys = (f"{_KEY}/ruler", f"{_KEY}/bench-index")
    scene, how, truth = ordinary(prints, keys, mean_mm, rng)
    strip, index = scene.strips
    arc = truth["arc_mm"]
    if kind == "seam":
        arc = rng.choice([rng.uniform(-7.0, 8.0), strip.once_mm - LEAD_IN_MM - rng.uniform(0, 14)])
        strip = replace(strip, zero_mm=arc + LEAD_IN_MM)
    if kind.startswith("tapered"):
        strip = _tapered(strip, kit_of(kind))
    if ring.index_side == "subject":
        high = ring.strip_width
        strip = replace(strip, pivot_mm=high)
        index = replace(index, foot_mm=high + truth["gap_mm"], pivot_mm=0.0)
    near = 0.7 if "narrow" in kind else 1.0
    phone = replace(scene.phone, distance_mm=near * scene.phone.distance_mm)
    barrels = () if kind.startswith("tapered") or ring.index_side == "subject" else scene.barrels
    scene = replace(scene, strips=(strip, index), phone=phone, barrels=barrels)
    turn = strip.once_mm if "turns" in kind else None
    return scene, how, {**truth, "arc_mm": arc, "thing": kind, "once_mm": turn}


@cache
def _prints(kind: str, folder: Path) -> Mapping[str, tuple[Piece, ...]]:
    look = "night" if kind == "night" else "plain"
    return printed_pieces(kit_of(kind), folder, prefix=f"{kind}-", look=look, only=_KEY)


def _tapered(strip: Wrapped, kit: Kit) -> Wrapped:
    """Return a strip that was cut as a sector, on its cone."""
    ring = kit.taking_lenses["eighty-five"].ring
    band = ruler_band(ring)
    cone = cone_of(band)
    assert cone is not None
    (piece,) = strip.pieces
    x, y = np.meshgrid(np.linspace(0.0, band.total_mm, 2001), np.array([0.0, band.width_mm]))
    flat = np.column_stack((x.ravel(), y.ravel()))
    low = cone.rolled(flat, band.total_mm / 2.0).min(axis=0)
    place = partial(cone.rolled, middle_mm=band.total_mm / 2.0)
    steep = (cone.lower_mm - cone.upper_mm) / (2.0 * math.pi * band.width_mm)
    return replace(
        strip, taper=Taper(steep, place, (float(low[0]), float(low[1])), band.total_mm,
                           band.width_mm, at_top=ring.index_side == "subject"),
        pieces=(piece,),
    )  # fmt: skip
