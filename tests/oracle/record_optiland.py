"""Record what optiland makes of the published attachment, for the tracer to be held to.

Run in an environment that has optiland (the `oracle` extra), from anywhere:

    python tests/oracle/record_optiland.py

It writes tests/published/optiland_rays.json and prints the seconds one solved distance takes.
The prescription is read from tests/published/us6310731.json. Nothing here uses our own tracer.
"""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from datetime import UTC, datetime
from importlib.metadata import version
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np
from optiland.materials import IdealMaterial
from optiland.optic import Optic
from optiland.rays import RealRays
from scipy.optimize import brentq

PUBLISHED = Path(__file__).resolve().parent.parent / "published"
SOURCE = PUBLISHED / "us6310731.json"
RECORD = PUBLISHED / "optiland_rays.json"

BEHIND_MM = 20.0  # the plane on which rays are recorded, behind the last vertex
WAVELENGTH_UM = 0.5876
NEWTON = {"tol": 1e-13, "max_iter": 200}
NEAR_AXIS_MM = 0.01
NEAR_AXIS_SLOPE = 1e-4

Rows = list[list[float]]


def prescription() -> list[dict[str, float | None]]:
    """Published surfaces; radius null for a plane, thickness null for the air gap."""
    surfaces: list[dict[str, float | None]] = json.loads(SOURCE.read_text())["surfaces"]
    return surfaces


def attachment(gap_mm: float) -> Optic:
    """The published surfaces as biconics with power in x only, then the recording plane."""
    optic = Optic()
    optic.surfaces.add(index=0, thickness=np.inf)
    rows = prescription()
    for number, row in enumerate(rows, start=1):
        last = number == len(rows)
        thickness = gap_mm if row["thickness_mm"] is None else row["thickness_mm"]
        optic.surfaces.add(
            index=number,
            surface_type="biconic",
            radius_x=np.inf if row["radius_mm"] is None else row["radius_mm"],
            radius_y=np.inf,
            thickness=BEHIND_MM if last else thickness,
            material=IdealMaterial(row["index_after"]),
            is_stop=number == 1,
            **NEWTON,
        )
    optic.surfaces.add(index=len(rows) + 1)
    return optic


def traced(optic: Optic, starts: Rows) -> Rows:
    """Rows (x, y on the recording plane, direction cosines) for rows (x, y, z, slopes x, y)."""
    x, y, z, slope_x, slope_y = np.array(starts, dtype=float).T
    length = np.sqrt(1.0 + slope_x**2 + slope_y**2)
    ones = np.ones(len(x))
    rays = RealRays(
        x, y, z, slope_x / length, slope_y / length, 1.0 / length, ones, WAVELENGTH_UM * ones
    )
    optic.surfaces.trace(rays, skip=1)
    rows: Rows = np.array([rays.x, rays.y, rays.L, rays.M, rays.N]).T.tolist()
    return rows


def skew_starts() -> Rows:
    """Rays through points of the front vertex plane, on and off axis, all started 60 mm ahead."""
    heights = ((0.0, 0.0), (4.0, 0.0), (0.0, 15.0), (11.0, -6.0), (-14.0, 13.0), (-2.5, -18.0))
    slopes = ((0.0, 0.0), (0.07, 0.0), (0.0, -0.09), (-0.15, 0.11), (0.21, -0.04))
    return [
        [x - 60.0 * tx, y - 60.0 * ty, -60.0, tx, ty]
        for (x, y), (tx, ty) in product(heights, slopes)
    ]


def aimed(distance_mm: float, subject: tuple[float, float], front: tuple[float, float]) -> Rows:
    """One ray from a subject point through a point of the front vertex plane."""
    slopes = [(there - here) / distance_mm for here, there in zip(subject, front, strict=True)]
    return [[*front, 0.0, *slopes]]


def focus_mm(optic: Optic, distance_mm: float, meridian: int, height_mm: float) -> float:
    """Where a ray of the axial fan crosses the axis, from the last vertex (virtual: negative)."""
    front = (height_mm, 0.0) if meridian == 0 else (0.0, height_mm)
    row = traced(optic, aimed(distance_mm, (0.0, 0.0), front))[0]
    return BEHIND_MM - row[meridian] * row[4] / row[2 + meridian]


def squeeze(optic: Optic, distance_mm: float, image_mm: float) -> float:
    """Vertical over horizontal magnification of the virtual image at `image_mm`."""
    off_axis = (NEAR_AXIS_SLOPE * distance_mm, NEAR_AXIS_SLOPE * distance_mm)
    row = traced(optic, aimed(distance_mm, off_axis, (0.0, 0.0)))[0]
    x, y = (row[k] + row[2 + k] / row[4] * (image_mm - BEHIND_MM) for k in (0, 1))
    return y / x


def mismatch(distance_mm: float) -> Callable[[float], float]:
    """Difference of the two image vergences as a function of the air gap."""

    def difference(gap_mm: float) -> float:
        optic = attachment(gap_mm)
        horizontal, vertical = (
            1.0 / focus_mm(optic, distance_mm, meridian, NEAR_AXIS_MM) for meridian in (0, 1)
        )
        return horizontal - vertical

    return difference


def solve_gap_mm(distance_mm: float) -> float:
    """Air gap that puts both near-axis foci together, by a general root find."""
    return float(brentq(mismatch(distance_mm), 40.0, 75.0, xtol=1e-9))


def time_one_solve(distance_mm: float = 2000.0) -> float:
    """Seconds one solved distance takes."""
    start = time.perf_counter()
    solve_gap_mm(distance_mm)
    return time.perf_counter() - start


def focus_record(distance_mm: float) -> dict[str, Any]:
    """The solved gap, both foci near the axis and at open aperture, and the squeeze."""
    gap_mm = solve_gap_mm(distance_mm)
    optic = attachment(gap_mm)
    heights = (NEAR_AXIS_MM, 5.0, 10.0)
    foci = [[focus_mm(optic, distance_mm, k, height) for height in heights] for k in (0, 1)]
    return {
        "distance_mm": distance_mm,
        "gap_mm": gap_mm,
        "heights_mm": heights,
        "horizontal_focus_mm": foci[0],
        "vertical_focus_mm": foci[1],
        "squeeze": squeeze(optic, distance_mm, foci[1][0]),
    }


def record() -> dict[str, Any]:
    """Everything written to the published record."""
    gap_mm, starts = 71.3, skew_starts()
    return {
        "provenance": {
            "made_by": Path(__file__).name,
            "optiland": version("optiland"),
            "numpy": version("numpy"),
            "date": datetime.now(UTC).date().isoformat(),
            "prescription": SOURCE.name,
            "note": "biconic surfaces, Newton intersection to 1e-13 mm; distances from the "
            "front vertex, foci from the last vertex",
        },
        "rays": {
            "gap_mm": gap_mm,
            "behind_mm": BEHIND_MM,
            "start_columns": ["x_mm", "y_mm", "z_mm", "slope_x", "slope_y"],
            "starts": starts,
            "end_columns": ["x_mm", "y_mm", "cosine_x", "cosine_y", "cosine_z"],
            "ends": traced(attachment(gap_mm), starts),
        },
        "focus": [focus_record(d) for d in (10000.0, 5000.0, 3000.0, 2000.0, 1500.0, 1000.0)],
    }


def main() -> None:
    """Write the record, then say how long one solve takes."""
    RECORD.write_text(json.dumps(record(), indent=1) + "\n")
    print(f"{time_one_solve():.3f} s per solved distance")


if __name__ == "__main__":
    main()
