"""Sets of photographs with their truth: drawn at random, rendered by POV-Ray, and measured."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import asdict, replace
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

import cv2
import numpy as np

from focuschart.kit.schema import Kit
from focuschart.photo.known import bench_strips
from focuschart.photo.picture import photograph
from focuschart.photo.read import Outcome, rings_in
from focuschart.photo.strips import TaggedStrip
from tests.photographs.draw import both, ordinary, spoiled
from tests.photographs.hostile import THINGS, hostile
from tests.photographs.odd import RINGS, kit_of, odd
from tests.photographs.prints import kit_with, printed_pieces
from tests.photographs.scene import Piece, Scene, render

DIAMETERS_MM = ((60.0, 92.0), (68.0, 84.0), (78.0, 76.0), (90.0, 100.0))
"""Of the taking lens's ring and of the attachment's, bare, in each of four kits."""
PARTS = {"taking": "taking/eighty-five", "attachment": "attachment/brass-double"}
WHICH = ("taking", "attachment")


@cache
def kit(number: int) -> Kit:
    """Return one of the four kits."""
    return kit_with(*DIAMETERS_MM[number])


@cache
def strips(name: int | str) -> list[TaggedStrip]:
    """Return the tagged strips that a kit knows: one of the four, or that of an odd ring."""
    return list(bench_strips(kit(name) if isinstance(name, int) else kit_of(name)))


def rendered_set(kind: str, count: int, folder: Path, *, first: int) -> None:
    """Render `count` photographs of a kind into a folder, each with its truth beside it.

    `first` starts the random numbers.
    """
    folder.mkdir(parents=True, exist_ok=True)
    if kind == "odd":
        prints = []
    elif kind == "marker":
        sample = kit_with(*SAMPLE_MM)
        prints = [printed_pieces(sample, folder, prefix="m-", document="strips")]
    else:
        prints = [
            printed_pieces(kit(number), folder, prefix=f"k{number}-")
            for number in range(len(DIAMETERS_MM))
        ]
    rng = np.random.default_rng(first)
    for number in range(count):
        name = f"{kind}-{number:03d}"
        scene, how, truth = _drawn(kind, number, prints, folder, rng)
        png = render(scene, folder, name)
        picture = cv2.imread(str(png), cv2.IMREAD_GRAYSCALE)
        assert picture is not None
        for left in (png, png.with_suffix(".pov")):
            left.unlink()
        (folder / f"{name}.jpg").write_bytes(spoiled(np.asarray(picture, np.uint8), how, rng))
        told = {**truth, "how": asdict(how)}
        (folder / f"{name}.json").write_text(json.dumps(told, default=float))


def _drawn(
    kind: str,
    count: int,
    prints: list[Mapping[str, tuple[Piece, ...]]],
    folder: Path,
    rng: np.random.Generator,
) -> tuple[Scene, Any, dict[str, Any]]:
    if kind == "marker":
        return _of_marker(prints[0], rng)
    if kind == "odd":
        name = [*RINGS][count % len(RINGS)]
        scene, how, truth = odd(name, folder, rng)
        return scene, how, {"arcs": {"taking": truth["arc_mm"]}, **truth, "kit": name}
    number, one = int(rng.integers(len(prints))), int(rng.integers(2))
    if kind == "both":
        scene, how, truth = both(prints[number], DIAMETERS_MM[number], rng)
        return scene, how, {**truth, "kit": number}
    part = PARTS[WHICH[one]]
    keys, bare = (f"{part}/ruler", f"{part}/bench-index"), DIAMETERS_MM[number][one]
    thing = [*THINGS][count % len(THINGS)] if kind == "hostile" else kind
    small = thing == "small-print"
    shown = _scaled(prints[number], 0.97) if small else prints[number]
    if kind == "hostile":
        scene, how, truth = hostile(shown, keys, bare, rng, thing=thing)
    else:
        scene, how, truth = ordinary(shown, keys, bare, rng)
    if small:
        scene = _on_same_ring(scene, 0.97)
    return scene, how, {"arcs": {WHICH[one]: truth["arc_mm"]}, **truth, "kit": number}


SAMPLE_MM = (78.0, 92.0)
"""The rings of the sample kit as it is, whose readings give it marker strips."""


def _of_marker(
    prints: Mapping[str, tuple[Piece, ...]], rng: np.random.Generator
) -> tuple[Scene, Any, dict[str, Any]]:
    """Draw a photograph of a marker strip of the sample kit."""
    one = int(rng.integers(2))
    key = f"portrait-85/{WHICH[one]}"
    scene, how, truth = ordinary(prints, (key, f"{key}/index"), SAMPLE_MM[one], rng)
    # Small tags ask for a nearer phone.
    scene = replace(scene, phone=replace(scene.phone, distance_mm=0.7 * scene.phone.distance_mm))
    return scene, how, {"arcs": {WHICH[one]: truth["arc_mm"]}, **truth, "kit": None}


def _scaled(
    prints: Mapping[str, tuple[Piece, ...]], scale: float
) -> Mapping[str, tuple[Piece, ...]]:
    """Return prints as a printer makes them that fits pages to its paper."""
    return {
        key: tuple(
            Piece(p.picture, scale * p.width_mm, scale * p.height_mm, scale * p.from_mm)
            for p in pieces
        )
        for key, pieces in prints.items()
    }


def _on_same_ring(scene: Scene, scale: float) -> Scene:
    """Return a scene whose ring's strip has the zero place of a smaller print."""
    ring, *others = scene.strips
    return replace(scene, strips=(replace(ring, zero_mm=scale * ring.zero_mm), *others))


RECORDED = Path(__file__).parent / "recorded"
_SHRUNK, _SHRUNK_MARKER, _QUALITY = 0.6, 0.9, 70


def record(folder: Path) -> None:
    """Keep the photographs of a folder, smaller, and their truth for the tests."""
    RECORDED.mkdir(exist_ok=True)
    for path in sorted(folder.glob("*.jpg")):
        picture = cv2.imread(str(path), cv2.IMREAD_GRAYSCALE)
        assert picture is not None
        share = _SHRUNK_MARKER if path.stem.startswith("marker") else _SHRUNK
        small = cv2.resize(picture, None, fx=share, fy=share, interpolation=cv2.INTER_AREA)
        kept = RECORDED / path.name
        cv2.imwrite(str(kept), small, [cv2.IMWRITE_JPEG_QUALITY, _QUALITY])
        truth = json.loads(path.with_suffix(".json").read_text())
        kept.with_suffix(".json").write_text(json.dumps(truth, indent=1) + "\n")


class Seen(NamedTuple):
    """A photograph of a set: its name, its truth, and what is read in it."""

    name: str
    truth: dict[str, Any]
    outcome: Outcome


def read_set(folder: Path) -> Iterator[Seen]:
    """Yield all photographs in a folder as they are read with their own kits."""
    for path in sorted(folder.glob("*.jpg")):
        truth = json.loads(path.with_suffix(".json").read_text())
        outcome = rings_in(photograph(path.read_bytes()), strips(truth["kit"]))
        yield Seen(path.stem, truth, outcome)


class Figures(NamedTuple):
    """What a set shows: errors and stated sigmas of all figures read (n), mm, and the counts."""

    error_mm: np.ndarray
    sigma_mm: np.ndarray
    asked: int
    refused: dict[str, int]

    def __str__(self) -> str:
        """Return the figures that are agreed on."""
        size = np.abs(self.error_mm)
        if not len(size):
            return f"none of {self.asked} read, refused {self.refused}"
        inside = np.mean(size < 1.96 * self.sigma_mm)
        return (
            f"{len(size)} of {self.asked} read; bias {np.mean(self.error_mm):+.4f}, standard "
            f"deviation {np.std(self.error_mm):.4f}, 95 % {np.quantile(size, 0.95):.4f}, worst "
            f"{size.max():.4f} mm; stated 95 % holds {100.0 * inside:.1f} %; refused {self.refused}"
        )


def figures_of(seen: Iterator[Seen]) -> Figures:
    """Return the errors of a set."""
    rows, asked, refused = [], 0, dict[str, int]()
    for each in seen:
        arcs = each.truth.get("arcs") or {each.truth["ring"].split("/")[0]: each.truth["arc_mm"]}
        asked += len(arcs)
        rows += [(r.arc_mm - arcs[r.strip.ring], r.sigma_mm) for r in each.outcome.rings]
        for one in each.outcome.refused:
            refused[one.code] = refused.get(one.code, 0) + 1
    table = np.array(rows).reshape(-1, 2)
    return Figures(table[:, 0], table[:, 1], asked, refused)
