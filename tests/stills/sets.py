"""Sets of frames of the squeeze card with their truth: drawn at random, measured, recorded.

Rigs are the recorded designs (`tests/designs`), so that every frame's glass is another one.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any, NamedTuple, TypeVar

import numpy as np

from focuschart.photo.picture import photograph
from focuschart.photo.refusal import Unread
from focuschart.photo.squeeze import Card, SqueezeRead, squeeze_in
from focuschart.store.squeezes import measured_bars
from tests.designs.recorded import FOCAL_MM, load_designs
from tests.stills.frame import Camera, drawn, handed_over
from tests.stills.optics import Eye, Stand
from tests.stills.print import printed_card
from tests.tracer import Array

T = TypeVar("T", Stand, Camera)
RECORDED = Path(__file__).with_name("recorded")
SENSORS = ((1920, 1080, 36.0), (1920, 1080, 24.9), (3840, 2160, 36.0), (2880, 2160, 24.0),
           (4096, 3432, 27.8), (4448, 3096, 36.7), (2048, 1536, 22.0))  # fmt: skip
"""Frames in pixels, and the width on the sensor in mm: usual sizes (common practice, no source)."""
HEIGHT_SHARE = (0.3, 0.75)
"""Of the picture's height that the tags take."""
TAGS_MM, CARD_MM, MODULE_MM = 132.0, (220.0, 165.0), 4.0
LEAST_MM, FRONT_MM = 950.0, 120.0
DECENTRED_MM = 0.7
"""How well an attachment is centred by its clamp, one standard deviation (judgement)."""
BAR_MM = 100.0
BAR_SIGMA_MM = 0.05
"""How well a person reads a bar with a steel rule; it is written to the next 0.1 mm (judgement)."""
PUPIL_SIGMA_MM = 20.0
"""How well a kit knows where the entrance pupil is, and a tape the distance (judgement)."""


@dataclass(frozen=True)
class Taken:
    """One frame: its file's bytes, what its maker says of the card, and the truth."""

    data: bytes
    bars: str
    far_mm: float
    squeeze: float
    how: Mapping[str, Any]


class Trial(NamedTuple):
    """What was read in one frame, None where it was refused, and the refusal's code and words."""

    truth: float
    read: SqueezeRead | None
    refused: str

    @property
    def off(self) -> float:
        """By which share of the truth the reading is too large."""
        assert self.read is not None
        return self.read.squeeze / self.truth - 1.0


def taken(rng: np.random.Generator, **other: Any) -> Taken:
    """Return a frame drawn at random; `other` are fields of stand or camera to be otherwise."""
    designs = load_designs()
    rig = designs[int(rng.integers(len(designs)))].rig
    width, height, sensor_mm = SENSORS[int(rng.integers(len(SENSORS)))]
    far_mm = FOCAL_MM * TAGS_MM * width / (rng.uniform(*HEIGHT_SHARE) * height * sensor_mm)
    eye = replace(
        Eye.focused(rig, max(far_mm + FRONT_MM, LEAST_MM)),
        distortion=rng.uniform(-0.03, 0.03),
        mumps=tuple(rng.uniform(-0.02, 0.02, 4).tolist()),
        misaligned=math.radians(rng.normal(0.0, 0.3)),
        decentred_mm=tuple(rng.normal(0.0, DECENTRED_MM, 2).tolist()),
    )
    per_px = eye.pupil_mm / FOCAL_MM * sensor_mm / width
    seen_mm = per_px * np.array([width * eye.squeeze, height])
    module_px = MODULE_MM / per_px / np.array([eye.squeeze, 1.0])
    stand, camera = _stand(rng, seen_mm), _camera(rng, (width, height, sensor_mm), module_px)
    stand, camera = _otherwise(stand, other), _otherwise(camera, other)
    printed = 1.0 + rng.normal(0.0, 0.005, 2)
    across, up = np.round(BAR_MM * printed + rng.normal(0.0, BAR_SIGMA_MM, 2), 1)
    frame = drawn(printed_card(), printed, (eye, stand, camera), rng)
    how = {
        **asdict(stand), **asdict(camera), "distance_mm": eye.distance_mm, "printed": printed,
        "distortion": eye.distortion, "mumps": eye.mumps,
        "misaligned": eye.misaligned, "decentred_mm": eye.decentred_mm,
    }  # fmt: skip
    return Taken(
        handed_over(frame, camera), f"{across} mm x {up} mm",
        eye.pupil_mm + rng.normal(0.0, PUPIL_SIGMA_MM), eye.squeeze, how,
    )  # fmt: skip


def _otherwise(one: T, other: Mapping[str, Any]) -> T:
    return replace(one, **{name: value for name, value in other.items() if hasattr(one, name)})


def _stand(rng: np.random.Generator, seen_mm: Array) -> Stand:
    """Return how a card stands of which all is seen, in a frame that shows so much (2)."""
    room = np.maximum(seen_mm - 1.15 * np.array(CARD_MM), 0.0) / 2.0
    x, y = np.clip(0.15 * seen_mm * rng.uniform(-1.0, 1.0, 2), -room, room).tolist()
    tilt_x, tilt_y, roll = np.radians((5.0, 5.0, 2.0) * rng.uniform(-1.0, 1.0, 3)).tolist()
    return Stand((x, y), tilt_x, tilt_y, roll)


def _camera(rng: np.random.Generator, sensor: tuple[int, int, float], module_px: Array) -> Camera:
    """Return a camera out of focus by up to half a module, more one way than the other."""
    width, height, sensor_mm = sensor
    return Camera(
        width, height, sensor_mm / width,
        off_px=tuple((rng.normal(0.0, 0.004, 2) * width).tolist()),
        blur_px=tuple((rng.uniform(0.05, 0.5, 2) * module_px).tolist()),
        soft_px=rng.uniform(0.4, 0.8),
        noise=rng.uniform(0.002, 0.04),
        gamma=rng.uniform(1.8, 2.6),
        exposure=rng.uniform(0.5, 1.1),
        slope=tuple(rng.uniform(-0.3, 0.3, 2).tolist()),
        crf=int(rng.integers(16, 29)) if rng.random() < 0.7 else None,
        jpeg=int(rng.integers(70, 96)) if rng.random() < 0.4 else None,
    )  # fmt: skip


def drawn_set(folder: Path, *, count: int, first: int, **other: Any) -> None:
    """Draw frames into a folder, each with its truth beside it; `first` starts the randomness."""
    folder.mkdir(parents=True, exist_ok=True)
    for number in range(count):
        frame = taken(np.random.default_rng([first, number]), **other)
        write(frame, folder / f"still-{number:03d}.json")


def write(frame: Taken, path: Path) -> None:
    """Keep a frame and, in `path`, its truth."""
    path.with_suffix(".png" if frame.data.startswith(b"\x89PNG") else ".jpg").write_bytes(
        frame.data
    )
    told = {key: value for key, value in asdict(frame).items() if key != "data"}
    path.write_text(json.dumps(told, default=np.ndarray.tolist) + "\n")


def kept(folder: Path) -> Iterator[tuple[str, Taken]]:
    """Yield the frames in a folder with their names."""
    for path in sorted(folder.glob("*.json")):
        jpeg = path.with_suffix(".jpg")
        file = jpeg if jpeg.exists() else path.with_suffix(".png")
        yield path.stem, Taken(file.read_bytes(), **json.loads(path.read_text()))


def measured(frame: Taken) -> Trial:
    """Read a frame."""
    card = Card(*measured_bars(frame.bars), far_mm=frame.far_mm)
    try:
        return Trial(frame.squeeze, squeeze_in(photograph(frame.data), card), "")
    except Unread as error:
        return Trial(frame.squeeze, None, f"{error.refused.code}: {error.refused.why}")


def figures(trials: list[Trial]) -> str:
    """Return how many were read, and bias, spread, worst and holding of those, in percent."""
    read = [trial for trial in trials if trial.read is not None]
    off = np.array([trial.off for trial in read])
    stated = np.array([trial.read.squeeze_95 / trial.truth for trial in read if trial.read])
    return (
        f"{len(read)} of {len(trials)} read; bias {off.mean():+.3%}, sigma {off.std(ddof=1):.3%}, "
        f"worst {np.abs(off).max():.3%}, within 0.3 %: {np.mean(np.abs(off) <= 0.003):.0%}; "
        f"stated 95 % {np.median(stated):.3%}, which holds {np.mean(np.abs(off) <= stated):.0%}"
    )
