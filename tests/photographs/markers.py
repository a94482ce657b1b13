"""Photographs of the sample kits' own marker strips on their rings, and of rulers at one setting.

    python -m tests.photographs.markers render 60 /tmp/set 101
    python -m tests.photographs.markers stops 20 /tmp/set 102
    python -m tests.photographs.markers slide 3 /tmp/set 103
    python -m tests.photographs.markers measure /tmp/set

`stops` renders each ring at a setting that does not move: through the ruler from two sides, and
through its marker strip, which is taped off by a known amount. `slide` renders what is recorded:
an index 0.3 mm too far to the right, and moved to the left.

Measured: `render 64` from 601, during which the recognition was settled: 61 read, standard
deviation 0.006, worst 0.014 mm, three refused. `stops 8` from 701: all 24 read, 0.007, worst
0.022 mm. Drawn afterwards and measured once, 15 from 9901 and 20 from 9903: all read, 0.0055, worst
0.019. Of 112 trials with the strip or its index taken from what is known, and every strip of
all kits known beside, none was read.
"""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Iterator, Mapping
from dataclasses import asdict, replace
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

import cv2
import numpy as np

from focuschart.chart.charts import build_charts
from focuschart.kit.load import load_rigs
from focuschart.kit.ring import Ring as KitRing
from focuschart.kit.schema import Kit
from focuschart.layout.strip.band import LEAD_IN_MM
from focuschart.pages.strips import tagged_prints
from focuschart.photo.known import bench_strips, recorded_strip, tag_data
from focuschart.photo.picture import photograph
from focuschart.photo.read import rings_in
from focuschart.photo.strips import Ring, TaggedStrip
from focuschart.prints.code import codes
from focuschart.store.kits import Disk
from tests.photographs.draw import SIZE, THICKNESS_MM, Spoiled, spoiled, usual_light, usual_spoiling
from tests.photographs.prints import KITS, printed_pieces
from tests.photographs.scene import Phone, Piece, Scene, Wrapped, render
from tests.photographs.sets import Seen, figures_of
from tests.sheets import FACE

BAGS = ("two-lenses", "feet-and-inches", "mild-street")
WHICH: tuple[Ring, ...] = ("taking", "attachment")


@cache
def kit(bag: str) -> Kit:
    """Return a sample kit."""
    path = KITS / f"{bag}.toml"
    return load_rigs(path.read_text(), source=str(path), shelf=Disk())


@cache
def strips(bag: str) -> list[TaggedStrip]:
    """Return the strips that a kit and the records of its packs know."""
    found = list(bench_strips(kit(bag)))
    for chart in build_charts(kit(bag)):
        for name, (tags, origin) in tagged_prints(chart, face=FACE):
            ring = chart.ring("taking" if "taking" in name else "attachment")[0]
            data = {"print": name, "title": f"{chart.rig.name}, {name}",
                    "code": codes(chart)[name], "tagged": tag_data(tags, origin, ring)}  # fmt: skip
            strip = recorded_strip(data, kit(bag), rig_id=chart.rig.rig_id, former=False)
            assert strip is not None
            found.append(strip)
    return found


class Shown(NamedTuple):
    """A ring of a rig of a sample kit."""

    bag: str
    rig: str
    which: Ring

    @property
    def ring(self) -> KitRing:
        """The kit's ring."""
        own = kit(self.bag)
        rig = own.rigs[self.rig]
        if self.which == "taking":
            return own.taking_lenses[rig.taking_lens].ring
        return own.attachments[rig.attachment].ring

    def keys(self, *, ruler: bool) -> tuple[str, str]:
        """Return the keys of the strip on the ring and of the index beside it."""
        rig = kit(self.bag).rigs[self.rig]
        part = rig.taking_lens if self.which == "taking" else rig.attachment
        if ruler:
            return f"{self.which}/{part}/ruler", f"{self.which}/{part}/bench-index"
        return f"{self.rig}/{self.which}", f"{self.rig}/{self.which}/index"


SHOWN = tuple(Shown(bag, rig, which) for bag in BAGS for rig in kit(bag).rigs for which in WHICH)
Prints = Mapping[str, tuple[Piece, ...]]


def printed(folder: Path) -> dict[str, Prints]:
    """Return the pieces of all strips of each kit, their pictures in the folder."""
    folder.mkdir(parents=True, exist_ok=True)
    return {
        bag: {
            key: pieces
            for document in ("rulers", "strips")
            for key, pieces in printed_pieces(
                kit(bag), folder, prefix=f"{bag}-{document}-", document=document
            ).items()
        }
        for bag in BAGS
    }


def on_ring(
    shown: Shown, pieces: tuple[Piece, ...], index: tuple[Piece, ...], *, arc_mm: float,
    step_mm: float, gap_mm: float, skew: float, tilt: float,
) -> tuple[Wrapped, Wrapped]:  # fmt: skip
    """Return a strip and its index, on either side of it."""
    once = shown.ring.strip_length_mm
    radius = once / (2.0 * math.pi) + THICKNESS_MM / 2.0
    wide, high, outside = pieces[0].height_mm, index[0].height_mm, radius + step_mm
    behind = shown.ring.index_side == "camera"
    strip = Wrapped(pieces, once, radius, arc_mm + LEAD_IN_MM, 0.0, skew, 0.0 if behind else wide)
    foot = -gap_mm - high if behind else wide + gap_mm
    return strip, Wrapped(
        index, 2.0 * math.pi * (outside - THICKNESS_MM / 2.0), outside, index[0].width_mm / 2.0,
        foot, tilt, high if behind else 0.0,
    )  # fmt: skip


def photographed(
    shown: Shown, prints: Prints, rng: np.random.Generator, *, arc_mm: float, ruler: bool
) -> tuple[Scene, Spoiled]:
    """Draw an ordinary photograph of one ring: square on within some 10°, both strips sharp."""
    keys = shown.keys(ruler=ruler)
    drawn = {
        "step_mm": rng.uniform(-1.5, 1.5), "gap_mm": rng.uniform(0.3, 1.2),
        "skew": math.radians(rng.normal(0.0, 0.25)), "tilt": math.radians(rng.normal(0.0, 0.5)),
    }  # fmt: skip
    pair = on_ring(shown, prints[keys[0]], prints[keys[1]], arc_mm=arc_mm, **drawn)
    radius, focal = pair[0].radius_mm - THICKNESS_MM, SIZE[0] * rng.uniform(0.66, 0.95)
    usual = rng.uniform(150.0, 250.0) if ruler else rng.uniform(105.0, 165.0)
    behind = shown.ring.index_side == "camera"
    at = 0.0 if behind else pair[0].pieces[0].height_mm
    phone = Phone(
        SIZE, focal, usual * focal / (0.785 * SIZE[0]),
        around=math.radians(rng.normal(0.0, 8.0)), along=math.radians(rng.normal(0.0, 9.0)),
        roll=math.radians(rng.normal(0.0, 6.0)),
        at=(rng.normal(0.0, 5.0), radius, at + rng.normal(0.0, 5.0)),
    )  # fmt: skip
    light = usual_light(rng)
    fixed = (-70.0, 0.0) if behind else (at, at + 70.0)
    turning = (0.0, 60.0) if behind else (at - 60.0, at)
    barrels = ((radius, *turning), (radius + drawn["step_mm"], *fixed))
    how = usual_spoiling(rng)
    return Scene(pair, barrels, phone, light), how


def taken(scene: Scene, how: Spoiled, folder: Path, name: str, rng: np.random.Generator) -> Path:
    """Render a scene and return the phone's JPEG of it."""
    png = render(scene, folder, name)
    picture = cv2.imread(str(png), cv2.IMREAD_GRAYSCALE)
    assert picture is not None
    for left in (png, png.with_suffix(".pov")):
        left.unlink()
    path = folder / f"{name}.jpg"
    path.write_bytes(spoiled(np.asarray(picture, np.uint8), how, rng))
    return path


def _noted(path: Path, shown: Shown, arc_mm: float, how: Spoiled, **more: Any) -> None:
    told = {**shown._asdict(), "arcs": {shown.which: arc_mm}, "how": asdict(how), **more}
    path.with_suffix(".json").write_text(json.dumps(told, default=float))


def rendered_markers(count: int, folder: Path, *, first: int) -> None:
    """Render photographs of marker strips, the rings in turn, anywhere on them but at the seam."""
    rng, prints = np.random.default_rng(first), printed(folder)
    for number in range(count):
        shown = SHOWN[number % len(SHOWN)]
        arc = float(rng.uniform(-2.0, shown.ring.strip_length_mm - 16.0))
        scene, how = photographed(shown, prints[shown.bag], rng, arc_mm=arc, ruler=False)
        path = taken(scene, how, folder, f"marker-{number:03d}", rng)
        _noted(path, shown, arc, how, ring=shown.which)


def rendered_stops(count: int, folder: Path, *, first: int) -> None:
    """Render settings that do not move: the ruler from two sides, the strip as it is taped."""
    rng, prints = np.random.default_rng(first), printed(folder)
    for number in range(count):
        shown = SHOWN[number % len(SHOWN)]
        arc, off = float(rng.uniform(0.0, 12.0)), float(rng.uniform(-1.2, 1.2))
        for take, ruler in (("ruler-a", True), ("ruler-b", True), ("marker", False)):
            at = arc if ruler else arc + off
            scene, how = photographed(shown, prints[shown.bag], rng, arc_mm=at, ruler=ruler)
            path = taken(scene, how, folder, f"stop-{number:03d}-{take}", rng)
            _noted(path, shown, at, how, off_mm=off)


def rendered_slide(count: int, folder: Path, *, first: int) -> None:
    """Render one setting: the ruler from two sides, the strip, and this with its index slid.

    The index lies `count` tenths of a millimetre too far to the right, and is then moved as far to
    the left as a reader behind the camera sees it.
    """
    rng, prints = np.random.default_rng(first), printed(folder)
    shown, arc, off = SHOWN[0], 4.0, count / 10.0
    own = prints[shown.bag]
    takes = {"ruler-left": (True, arc), "ruler-right": (True, arc), "strip-off": (False, arc + off),
             "strip-slid": (False, arc + off)}  # fmt: skip
    for take, (ruler, at) in takes.items():
        scene, how = photographed(shown, own, rng, arc_mm=at, ruler=ruler)
        around = {"ruler-left": -0.25, "ruler-right": 0.25}.get(take, 0.1)
        ring, index = scene.strips
        if take == "strip-slid":
            index = replace(index, zero_mm=index.zero_mm + off)
        scene = replace(scene, strips=(ring, index), phone=replace(scene.phone, around=around))
        path = taken(scene, replace(how, quality=80), folder, f"loop-{take}", rng)
        _noted(path, shown, arc if take == "strip-slid" else at, how, off_mm=off)


def read_set(folder: Path) -> Iterator[Seen]:
    """Yield all photographs in a folder as they are read with their own kits."""
    for path in sorted(folder.glob("*.jpg")):
        truth = json.loads(path.with_suffix(".json").read_text())
        yield Seen(path.stem, truth, rings_in(photograph(path.read_bytes()), strips(truth["bag"])))


if __name__ == "__main__":
    if sys.argv[1] == "measure":
        sys.stdout.write(f"{figures_of(read_set(Path(sys.argv[2])))}\n")
    else:
        rendered = {
            "render": rendered_markers, "stops": rendered_stops, "slide": rendered_slide,
        }[sys.argv[1]]  # fmt: skip
        rendered(int(sys.argv[2]), Path(sys.argv[3]), first=int(sys.argv[4]))
