"""Scenes for POV-Ray: the program's own printed rulers and bench indexes on a barrel, by a phone.

The frame of POV-Ray is left-handed: x to the right, y up, z along the barrel's axis toward the
subject. Lengths are mm, angles radians.
"""

from __future__ import annotations

import math
import subprocess
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Piece:
    """A printed piece: its picture, its size, and where its left edge is on the whole strip.

    `shown` are the shares of its width between which it is cut off; `up_mm` is how far it was taped
    on above its place, `on_mm` how far to the right.
    """

    picture: str
    width_mm: float
    height_mm: float
    from_mm: float = 0.0
    shown: tuple[float, float] = (0.0, 1.0)
    up_mm: float = 0.0
    on_mm: float = 0.0


class Lift(NamedTuple):
    """Where a strip leaves its barrel: beyond `from_mm`, on the right (`toward` 1) or left (−1).

    `share` is 1 where it goes straight on, 0 where it follows the barrel after all.
    """

    from_mm: float
    toward: float
    share: float


class Bump(NamedTuple):
    """A bubble under a strip: its middle, its standard deviation and its height."""

    at_mm: float
    wide_mm: float
    high_mm: float


class Taper(NamedTuple):
    """A cone under a strip that was cut as a sector.

    `steepness` is the sine of the angle between surface and axis, positive where it narrows upward;
    `place` maps points of the flat strip (n × 2) to the paper, where `corner` is the lower left one
    of the piece. The flat strip is `long_mm` by `high_mm`. Sizes of the ring are those of its lower
    edge, or with `at_top` those of its upper one.
    """

    steepness: float
    place: Callable[[Floats], Floats]
    corner: tuple[float, float]
    long_mm: float
    high_mm: float
    at_top: bool


@dataclass(frozen=True)
class Wrapped:
    """A strip on a cylinder.

    `zero_mm` is the millimetre of the strip at angle 0, at its lower edge; `foot_mm` the place of
    that edge along the axis; `turn` the slope by which the strip lies askew, about the point at
    angle 0; `once_mm` the length once round, which fits the cylinder. `lens_mm` is how far its axis
    is from that of the scene. `flare_mm` is by how much its
    upper edge stands farther out.
    """

    pieces: tuple[Piece, ...]
    once_mm: float
    radius_mm: float
    zero_mm: float
    foot_mm: float
    turn: float = 0.0
    pivot_mm: float = 0.0
    lens_mm: tuple[float, float] = (0.0, 0.0)
    loose: tuple[Lift | Bump, ...] = ()
    flare_mm: float = 0.0
    taper: Taper | None = None

    def rise_mm(self, x: Floats) -> Floats:
        """Return how far the strip is off its barrel at `x`, mm from the place at angle 0."""
        high = np.zeros_like(x)
        for each in self.loose:
            if isinstance(each, Lift):
                beyond = np.maximum(each.toward * x - each.from_mm, 0.0)
                high += np.hypot(self.radius_mm, np.sqrt(each.share) * beyond) - self.radius_mm
            else:
                high += each.high_mm * np.exp(-0.5 * np.square((x - each.at_mm) / each.wide_mm))
        return high

    def angle(self, x: Floats) -> Floats:
        """Return the angle at which the strip's millimetres `x` lie, its length kept."""
        if not self.loose:
            return x * 2.0 * math.pi / self.once_mm
        every = np.linspace(x.min() - 1.0, x.max() + 1.0, 4001)
        high = self.rise_mm(every)
        slope = np.clip(np.gradient(high, every), -0.99, 0.99)
        per_mm = 2.0 * math.pi / self.once_mm / (1.0 + high / self.radius_mm)
        per_mm *= np.sqrt(1.0 - slope**2)
        whole = np.concatenate(((0.0,), np.cumsum((per_mm[1:] + per_mm[:-1]) / 2.0)))
        whole *= every[1] - every[0]
        return np.asarray(np.interp(x, every, whole - np.interp(0.0, every, whole)))


@dataclass(frozen=True)
class Phone:
    """A camera: width and height in pixels, focal length in pixels, and where it stands.

    It looks at the place `at` from `distance_mm`, `around` the axis from straight above, `along`
    it toward the camera's side, and is rolled by `roll`.
    """

    size: tuple[int, int]
    focal_px: float
    distance_mm: float
    around: float = 0.0
    along: float = 0.0
    roll: float = 0.0
    at: tuple[float, float, float] = (0.0, 0.0, 0.0)

    def axes(self) -> tuple[Floats, Floats, Floats, Floats]:
        """Return location, direction, right and up."""
        away = np.array([
            math.sin(self.around) * math.cos(self.along),
            math.cos(self.around) * math.cos(self.along),
            -math.sin(self.along),
        ])  # fmt: skip
        location, look = np.array(self.at) + self.distance_mm * away, -away
        up = np.array([0.0, 0.0, 1.0])
        up = up - look * (up @ look)
        up /= np.linalg.norm(up)
        right = np.cross(up, look)
        c, s = math.cos(self.roll), math.sin(self.roll)
        return location, look, c * right + s * up, c * up - s * right


@dataclass(frozen=True)
class Light:
    """Two lamps and what is left: strengths; `shine` is that of highlights on film.

    `mirror` is the share of light that the film reflects, `window` the middle of a bright pane.
    """

    key: float = 0.7
    fill: float = 0.35
    ambient: float = 0.15
    shine: float = 0.0
    key_at: tuple[float, float, float] = (-300.0, 500.0, -200.0)
    fill_at: tuple[float, float, float] = (400.0, 400.0, 300.0)
    mirror: float = 0.0
    window: tuple[float, float, float] | None = None


@dataclass(frozen=True)
class Scene:
    """What is photographed."""

    strips: tuple[Wrapped, ...]
    barrels: tuple[tuple[float, float, float], ...]
    phone: Phone
    light: Light = field(default_factory=Light)
    finger: tuple[float, float, float] | None = None


def _vector(values: Iterable[float]) -> str:
    return "<" + ",".join(f"{float(v):.7g}" for v in values) + ">"


def _mesh(strip: Wrapped, piece: Piece, light: Light) -> Iterator[str]:
    """Yield a piece as a mesh with its picture, fine enough to be round within 2 µm."""
    # The tab goes underneath.
    long, high = piece.width_mm, piece.height_mm
    if strip.taper is not None:
        long, high = strip.taper.long_mm, strip.taper.high_mm
    end = min(piece.shown[1], (strip.once_mm - piece.from_mm) / long)
    count = max(int((end - piece.shown[0]) * long / 0.8), 2)
    grid_u, grid_v = np.meshgrid(np.linspace(piece.shown[0], end, count + 1), np.array([0.0, 1.0]))
    x = piece.from_mm + grid_u * long - strip.zero_mm + piece.on_mm
    y = grid_v * high + piece.up_mm
    round_mm = x - strip.turn * (y - strip.pivot_mm)
    along, angle = y + strip.turn * x, strip.angle(round_mm)
    radius = strip.radius_mm + strip.rise_mm(round_mm)
    uv = np.stack((grid_u, grid_v), axis=-1).reshape(-1, 2)
    if strip.taper is not None:
        steep = strip.taper.steepness
        radius = radius - steep * (along - high * strip.taper.at_top)
        along = along * math.sqrt(1.0 - steep**2)
        on_paper = strip.taper.place(uv * (long, high)) - strip.taper.corner
        uv = on_paper / (piece.width_mm, piece.height_mm)
    along = strip.foot_mm + along
    xs, ys = strip.lens_mm[0] + radius * np.sin(angle), strip.lens_mm[1] + radius * np.cos(angle)
    if strip.flare_mm:
        out = math.asin(strip.flare_mm / high)
        up, off = along - strip.foot_mm, ys - strip.radius_mm
        ys = strip.radius_mm + off * math.cos(out) + up * math.sin(out)
        along = strip.foot_mm + up * math.cos(out) - off * math.sin(out)
    points = np.stack((xs, ys, along), axis=-1).reshape(-1, 3)
    normals = np.stack((np.sin(angle), np.cos(angle), 0.0 * angle), axis=-1).reshape(-1, 3)
    yield f"mesh2 {{ vertex_vectors {{ {len(points)}, {','.join(map(_vector, points))} }}"
    yield f"normal_vectors {{ {len(normals)}, {','.join(map(_vector, normals))} }}"
    yield f"uv_vectors {{ {len(uv)}, {','.join(map(_vector, uv))} }}"
    n = count + 1
    faces = [
        f"<{a},{b},{c}>"
        for i in range(count)
        for a, b, c in ((i, i + 1, n + i), (i + 1, n + i + 1, n + i))
    ]
    yield f"face_indices {{ {len(faces)}, {','.join(faces)} }}"
    shine = f"specular {light.shine} roughness 0.01" if light.shine else ""
    shine += f" reflection {light.mirror}" if light.mirror else ""
    yield (
        f'texture {{ uv_mapping pigment {{ image_map {{ png "{piece.picture}" interpolate 2 }} }} '
        f"finish {{ ambient {light.ambient} diffuse 0.8 {shine} }} }} }}"
    )


def povray(scene: Scene) -> str:
    """Return the scene in POV-Ray's language."""
    phone, light = scene.phone, scene.light
    location, look, right, up = phone.axes()
    width, height = phone.size
    lines = [
        "#version 3.7; global_settings { assumed_gamma 1.0 ambient_light rgb 1 }",
        f"camera {{ perspective location {_vector(location)} "
        f"direction {_vector(look * phone.focal_px)} right {_vector(right * width)} "
        f"up {_vector(up * height)} }}",
        f"light_source {{ {_vector(light.key_at)} rgb {light.key} "
        "area_light <60,0,0>,<0,0,60>,4,4 adaptive 1 }",
        f"light_source {{ {_vector(light.fill_at)} rgb {light.fill} shadowless }}",
        "background { rgb 0.18 }",
    ]
    for radius, start, end in scene.barrels:
        lines.append(
            f"cylinder {{ <0,0,{start}>,<0,0,{end}>,{radius} pigment {{ rgb 0.035 }} "
            f"finish {{ ambient {light.ambient} diffuse 0.8 specular 0.25 roughness 0.05 }} }}"
        )
    if scene.finger is not None:
        x, y, z = scene.finger
        lines.append(
            f"cylinder {{ <{x},{y},{z}>,<{x * 3 + 30},{y},{z - 60}>,7 pigment "
            f"{{ rgb <0.62,0.42,0.33> }} finish {{ ambient {light.ambient} diffuse 0.8 }} }}"
        )
    if light.window is not None:
        x, y, z = light.window
        lines.append(
            f"box {{ <{x - 120},{y},{z - 60}>,<{x + 120},{y + 5},{z + 60}> no_shadow pigment "
            "{ rgb 4 } finish { ambient 1 diffuse 0 } }"
        )
    for strip in scene.strips:
        for piece in strip.pieces:
            lines += _mesh(strip, piece, light)
    return "\n".join(lines) + "\n"


def window(scene: Scene) -> tuple[int, int, int, int]:
    """Return the columns and rows that show the strips, with a margin: from, to, from, to."""
    location, look, right, up = scene.phone.axes()
    width, height = scene.phone.size
    seen = []
    for strip in scene.strips:
        tall = max(piece.height_mm for piece in strip.pieces)
        whole = sum(piece.width_mm for piece in strip.pieces)
        reach = min(whole, 0.5 * strip.once_mm) / strip.once_mm * 2.0 * math.pi
        for angle in np.linspace(-reach / 2.0, reach / 2.0, 21):
            for along in (strip.foot_mm - 3.0, strip.foot_mm + tall + 3.0):
                r = strip.radius_mm + 0.5
                x, y = strip.lens_mm
                at = np.array([x + r * math.sin(angle), y + r * math.cos(angle), along]) - location
                depth = at @ look
                seen.append((at @ right / depth, -(at @ up) / depth))
    ends = np.array(seen) * scene.phone.focal_px + (width / 2.0, height / 2.0)
    low, high = ends.min(axis=0) - 60, ends.max(axis=0) + 60
    return (max(int(low[0]), 1), min(int(high[0]), width), max(int(low[1]), 1),
            min(int(high[1]), height))  # fmt: skip


def render(scene: Scene, folder: Path, name: str) -> Path:
    """Render a scene with POV-Ray into a PNG of `folder` and return its path."""
    source, out = folder / f"{name}.pov", folder / f"{name}.png"
    source.write_text(povray(scene))
    width, height = scene.phone.size
    left, right, top, bottom = window(scene)
    subprocess.run(
        [
            "nice", "-n", "12", "povray", f"+I{source}", f"+O{out}", f"+L{folder}",
            f"+W{width}", f"+H{height}", f"+SC{left}", f"+EC{right}", f"+SR{top}", f"+ER{bottom}",
            "-D", "-GA", "+A0.08", "+AM2", "+R2", "+WT1", "File_Gamma=sRGB",
        ],
        check=True, capture_output=True,
    )  # fmt: skip
    return out
