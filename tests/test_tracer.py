"""The tests' own ray tracer, held to a published prescription, to optiland and to geometry."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from tests.real_focus import defocus, focus_error, pupil_points, real_matched_gap_mm
from tests.tracer import (
    AIR,
    PLANE,
    Moving,
    Rays,
    Surface,
    ThickAttachment,
    afocal_gap_mm,
    flipped,
    focal_length_mm,
    matched_gap_mm,
    matrix,
    on_plane,
    rays_from,
    refract,
    squeeze,
    trace,
    vergence,
)

PUBLISHED = Path(__file__).parent / "published"
# US patent 6,310,731, front six surfaces; `derived` holds its paraxial figures as printed in
# the project's list of check values, each to half a unit of its last figure.
PATENT: dict[str, Any] = json.loads((PUBLISHED / "us6310731.json").read_text())
# What optiland makes of it: tests/oracle/record_optiland.py; the header names the version.
OPTILAND: dict[str, Any] = json.loads((PUBLISHED / "optiland_rays.json").read_text())

# Thin pair -100/+200 mm focused by its separation, subject from the front group: separation and
# squeeze, worked out by hand from the thin lens law.
THIN_PAIR = [
    (10_000.0, 97.1055, 1.96172),
    (5_000.0, 94.4056, 1.92656),
    (3_000.0, 91.0717, 1.88388),
    (2_000.0, 87.2738, 1.83625),
    (1_500.0, 83.8263, 1.79390),
    (1_000.0, 77.7868, 1.72173),
]


def published_attachment() -> ThickAttachment:
    rows = [
        Surface(
            PLANE if row["radius_mm"] is None else row["radius_mm"],
            row["thickness_mm"] or 0.0,
            row["index_after"],
        )
        for row in PATENT["surfaces"]
    ]
    return ThickAttachment(tuple(rows[:3]), tuple(rows[3:]))


def thin_group(focal_mm: float) -> tuple[Surface, ...]:
    return Surface(focal_mm / 2.0, 0.0, 1.5), Surface(PLANE, 0.0, AIR)


ATTACHMENT = published_attachment()
THIN = ThickAttachment(thin_group(-100.0), thin_group(200.0))


def test_snell_law_at_a_plane_by_hand() -> None:
    """sin 30 degrees / 1.5 in the plane of incidence, whatever its azimuth."""
    azimuth = np.radians([0.0, 37.0, 90.0])
    slope = np.tan(np.radians(30.0))
    rays = rays_from(np.zeros(3), np.zeros(3), slope * np.cos(azimuth), slope * np.sin(azimuth))
    after = refract(rays, PLANE, AIR, 1.5)
    sines = np.hypot(after.directions[:, 0], after.directions[:, 1])
    np.testing.assert_allclose(sines, 0.5 / 1.5, rtol=1e-14)
    np.testing.assert_allclose(
        np.arctan2(after.directions[:, 1], after.directions[:, 0]), azimuth, atol=1e-14
    )


def test_rays_land_on_the_cylinder() -> None:
    """(z - R)^2 + x^2 = R^2 on both signs of R, and the side nearer the vertex."""
    for radius_mm in (-62.9, 50.0):
        rays = rays_from([3.0, -12.0, 20.0], [5.0, 0.0, -9.0], [0.1, -0.2, 0.0], [0.3, 0.0, 0.1])
        x, _, z = refract(rays, radius_mm, AIR, 1.7).points_mm.T
        np.testing.assert_allclose((z - radius_mm) ** 2 + x**2, radius_mm**2, rtol=1e-13)
        assert np.all(np.abs(z) < abs(radius_mm))


def test_a_ray_beside_the_cylinder_is_refused() -> None:
    with pytest.raises(ValueError, match="misses the cylinder of radius 50"):
        refract(rays_from(51.0, 0.0, 0.0, 0.0), 50.0, AIR, 1.5)


def test_total_reflection_is_refused() -> None:
    with pytest.raises(ValueError, match="total reflection"):
        refract(rays_from(0.0, 0.0, 2.0, 0.0), PLANE, 1.7, AIR)


def test_the_vertical_direction_cosine_is_kept() -> None:
    """A vertical cylinder has no normal component along y, so n m is invariant; air to air m."""
    rays = rays_from([4.0, -9.0], [7.0, 1.0], [0.1, -0.2], [0.15, -0.07])
    after = trace(ATTACHMENT.inward(71.3), rays)
    np.testing.assert_allclose(after.directions[:, 1], rays.directions[:, 1], atol=1e-15)


def test_light_retraces_its_path() -> None:
    rays = rays_from([4.0, -9.0, 6.0], [7.0, 1.0, -8.0], [0.05, -0.1, 0.02], [0.15, -0.07, 0.0])
    surfaces = ATTACHMENT.inward(71.3)
    points, directions = trace(surfaces, rays)
    mirror = np.array([1.0, 1.0, -1.0])
    back = trace(flipped(surfaces), Rays(points * mirror, -directions * mirror))
    home = on_plane(back)
    np.testing.assert_allclose(home.points_mm, rays.points_mm, atol=1e-11)
    np.testing.assert_allclose(home.directions, -rays.directions * mirror, atol=1e-13)


def test_rays_agree_with_optiland() -> None:
    """Thirty rays, most of them skew; optiland iterates to 1e-13 mm, so only rounding is left."""
    record = OPTILAND["rays"]
    x, y, z, slope_x, slope_y = np.array(record["starts"]).T
    start = rays_from(x, y, slope_x, slope_y)
    lifted = Rays(start.points_mm + z[:, None] * [0.0, 0.0, 1.0], start.directions)
    end = on_plane(trace(ATTACHMENT.inward(record["gap_mm"]), lifted), record["behind_mm"])
    expected = np.array(record["ends"])
    np.testing.assert_allclose(end.points_mm[:, :2], expected[:, :2], rtol=0.0, atol=1e-10)
    np.testing.assert_allclose(end.directions, expected[:, 2:], rtol=0.0, atol=1e-12)
    assert np.ptp(expected[:, 0]) > 40.0


@pytest.mark.parametrize("row", OPTILAND["focus"], ids=lambda row: f"{row['distance_mm']:.0f}mm")
def test_focus_agrees_with_optiland(row: dict[str, Any]) -> None:
    """Crossings of the axis near it and at open aperture, in mm of a focus metres away."""
    for meridian, name in enumerate(("horizontal_focus_mm", "vertical_focus_mm")):
        heights, zero = np.array(row["heights_mm"]), np.zeros(3)
        slopes = heights / row["distance_mm"]
        x, y, tx, ty = (
            (heights, zero, slopes, zero) if meridian == 0 else (zero, heights, zero, slopes)
        )
        end = on_plane(trace(ATTACHMENT.inward(row["gap_mm"]), rays_from(x, y, tx, ty)))
        steps = end.points_mm[:, meridian] / end.directions[:, meridian]
        crossings = -steps * end.directions[:, 2]
        np.testing.assert_allclose(crossings, row[name], rtol=1e-9)


@pytest.mark.parametrize("row", OPTILAND["focus"], ids=lambda row: f"{row['distance_mm']:.0f}mm")
def test_matched_gap_and_squeeze_agree_with_optiland(row: dict[str, Any]) -> None:
    """optiland solves with rays 0.01 mm off axis: their aberration moves the gap by 5e-7 mm.

    (It fell from 1e-5 mm with rays 0.05 mm off axis, as the square of the height.)
    """
    gap_mm = matched_gap_mm(ATTACHMENT, distance_mm=row["distance_mm"])
    assert gap_mm == pytest.approx(row["gap_mm"], abs=1e-6)
    ratio = squeeze(
        ATTACHMENT, row["gap_mm"], distance_mm=row["distance_mm"], pupil_to_rear_mm=40.0
    )
    assert ratio == pytest.approx(row["squeeze"], abs=1e-7)


def test_published_attachment_at_infinity() -> None:
    derived = PATENT["derived"]
    front_mm, rear_mm = focal_length_mm(ATTACHMENT.front), focal_length_mm(ATTACHMENT.rear)
    assert front_mm == pytest.approx(derived["front_focal_mm"], abs=5e-5)
    assert rear_mm == pytest.approx(derived["rear_focal_mm"], abs=5e-5)
    assert -rear_mm / front_mm == pytest.approx(derived["focal_ratio"], abs=5e-6)
    gap_mm = afocal_gap_mm(ATTACHMENT)
    assert gap_mm == pytest.approx(derived["afocal_gap_mm"], abs=5e-5)
    ratio = squeeze(ATTACHMENT, gap_mm, distance_mm=float("inf"), pupil_to_rear_mm=25.0)
    assert ratio == pytest.approx(derived["focal_ratio"], abs=5e-6)


@pytest.mark.parametrize("row", PATENT["derived"]["focused"], ids=lambda r: str(r["distance_mm"]))
def test_published_attachment_focused(row: dict[str, float]) -> None:
    gap_mm = matched_gap_mm(ATTACHMENT, distance_mm=row["distance_mm"])
    change_mm = gap_mm - afocal_gap_mm(ATTACHMENT)
    assert change_mm == pytest.approx(row["gap_change_mm"], abs=5e-4)
    ratio = squeeze(ATTACHMENT, gap_mm, distance_mm=row["distance_mm"], pupil_to_rear_mm=25.0)
    assert ratio == pytest.approx(row["squeeze"], abs=5e-5)


def test_thin_pair_matrix() -> None:
    """[[2, 100], [0, 1/2]] by sympy's physics.optics.gaussopt."""
    np.testing.assert_allclose(
        matrix(THIN.inward(100.0), powered=True), np.array([[2.0, 100.0], [0.0, 0.5]])
    )
    np.testing.assert_allclose(
        matrix(THIN.inward(100.0), powered=False), np.array([[1.0, 100.0], [0.0, 1.0]])
    )


@pytest.mark.parametrize(("distance_mm", "separation_mm", "ratio"), THIN_PAIR)
@pytest.mark.parametrize("moving", ["front", "rear"])
def test_thin_pair_focused(
    moving: Moving, distance_mm: float, separation_mm: float, ratio: float
) -> None:
    """The same separation from either end, once the distance is taken to the group that stays."""
    to_fixed_mm = distance_mm + (separation_mm if moving == "front" else 0.0)
    gap_mm = matched_gap_mm(THIN, distance_mm=to_fixed_mm, moving=moving)
    assert gap_mm == pytest.approx(separation_mm, abs=1e-4)
    found = squeeze(THIN, gap_mm, distance_mm=distance_mm, pupil_to_rear_mm=30.0)
    assert found == pytest.approx(ratio, abs=1e-5)


@pytest.mark.parametrize("distance_mm", [float("inf"), 3000.0, 900.0])
def test_a_small_pupil_focuses_paraxially(distance_mm: float) -> None:
    real_mm = real_matched_gap_mm(
        ATTACHMENT, distance_mm=distance_mm, focal_mm=85.0, stop=400.0, pupil_to_rear_mm=40.0
    )
    assert real_mm == pytest.approx(matched_gap_mm(ATTACHMENT, distance_mm=distance_mm), abs=1e-5)


def test_zero_defocus_is_the_least_rms_blur() -> None:
    """Searching the gap for the least rms lands within 0.01 mm: a thousandth of its stroke.

    The two differ only by what the gap does to the aberration itself, here 0.09 mm of focus
    shift to begin with.
    """
    pupil, distance_mm, e_mm = pupil_points(85.0 / 5.6), 2000.0, 40.0
    solved_mm = real_matched_gap_mm(
        ATTACHMENT, distance_mm=distance_mm, focal_mm=85.0, stop=2.8, pupil_to_rear_mm=e_mm
    )

    def rms(gap_mm: float) -> float:
        near = vergence(ATTACHMENT, gap_mm, near=1.0 / distance_mm, powered=False)
        errors = focus_error(
            ATTACHMENT,
            gap_mm,
            pupil=pupil,
            pupil_to_rear_mm=e_mm,
            lens_near=near / (1.0 + near * e_mm),
            distance_mm=distance_mm,
        )
        return float(np.sqrt(np.sum(pupil.weights * errors.horizontal**2)))

    least = minimize_scalar(
        rms, bounds=(solved_mm - 1.0, solved_mm + 1.0), method="bounded", options={"xatol": 1e-6}
    )
    assert least.x == pytest.approx(solved_mm, abs=0.01)
    paraxial_mm = matched_gap_mm(ATTACHMENT, distance_mm=distance_mm)
    assert abs(paraxial_mm - solved_mm) > 0.05


def test_pupil_quadrature_is_that_of_a_disc() -> None:
    """Mean x^2 and y^2 of a disc are r^2/4, mean x^2 y^2 is r^4/24, mean x^4 is r^4/8."""
    x, y, weights = pupil_points(15.0)
    assert np.sum(weights) == pytest.approx(1.0)
    assert np.sum(weights * x**2) == pytest.approx(15.0**2 / 4.0)
    assert np.sum(weights * y**2) == pytest.approx(15.0**2 / 4.0)
    assert np.sum(weights * x**2 * y**2) == pytest.approx(15.0**4 / 24.0)
    assert np.sum(weights * x**4) == pytest.approx(15.0**4 / 8.0)
    assert np.max(np.hypot(x, y)) == pytest.approx(15.0)


def test_defocus_is_the_fitted_slope() -> None:
    x, _, weights = pupil_points(10.0)
    assert defocus(0.003 * x, x, weights) == pytest.approx(0.003)
