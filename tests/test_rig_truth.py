"""The traced rigs, held to the thin lens law in the limit and to plain geometry."""

from __future__ import annotations

from math import inf, sqrt

import numpy as np
import pytest

from tests.rig_truth import (
    ExtendingLens,
    InternalLens,
    RigTruth,
    attachment_arc_for,
    blur,
    tolerances,
    true_settings,
)
from tests.sample_truth import SAMPLE_RIGS, bench_readings
from tests.tracer import AIR, PLANE, Moving, Surface, ThickAttachment

A_MM, F_MM = 100.0, 200.0
THIN = ThickAttachment(
    (Surface(-A_MM / 2.0, 0.0, 1.5), Surface(PLANE, 0.0, AIR)),
    (Surface(F_MM / 2.0, 0.0, 1.5), Surface(PLANE, 0.0, AIR)),
)
LENS = ExtendingLens(85.0, 6.0, arc_per_mm=7.5, zero_arc_mm=12.0)
PINHOLE = 2000.0  # a stop that leaves the paraxial rays only


def thin_rig(moving: Moving = "front") -> RigTruth:
    return RigTruth(LENS, THIN, moving, rear_vertex_mm=130.0, arc_per_mm=-10.0, zero_arc_mm=250.0)


def focused_subject_mm(separation_mm: float) -> float:
    """Subject to front group for a separation: the thin match solved for s, by hand."""
    d = separation_mm
    root = sqrt(d**2 + 4.0 * A_MM * F_MM)
    return d * (2.0 * A_MM + d + root) / (2.0 * (F_MM - A_MM - d))


@pytest.mark.parametrize("moving", ["front", "rear"])
@pytest.mark.parametrize("distance_mm", [900.0, 2000.0, 12_000.0])
def test_thin_rig_obeys_the_thin_law(moving: Moving, distance_mm: float) -> None:
    rig = thin_rig(moving)
    sharp = true_settings(rig, distance_mm, stop=PINHOLE)
    x_mm = (sharp.taking_arc_mm[0] - 12.0) / 7.5
    v_mm = 85.0 + x_mm
    u_mm = 1.0 / (1.0 / 85.0 - 1.0 / v_mm)
    assert u_mm + v_mm + 6.0 == pytest.approx(distance_mm, abs=1e-3)
    gap_mm = float(sharp.gap_mm[0])
    front_mm = 130.0 + x_mm + (gap_mm if moving == "front" else F_MM - A_MM)
    assert focused_subject_mm(gap_mm) == pytest.approx(distance_mm - front_mm, rel=1e-4)
    assert sharp.attachment_arc_mm[0] == pytest.approx(250.0 - 10.0 * (100.0 - gap_mm))


def test_thin_rig_at_infinity() -> None:
    sharp = true_settings(thin_rig(), [inf], stop=PINHOLE)
    assert sharp.taking_arc_mm[0] == pytest.approx(12.0, abs=1e-6)
    assert sharp.attachment_arc_mm[0] == pytest.approx(250.0, abs=1e-3)
    assert sharp.squeeze[0] == pytest.approx(2.0, abs=1e-6)


@pytest.mark.parametrize("lens", [LENS, InternalLens(50.0, 8.0, 15.0, 110_000.0, 60.0)])
def test_arc_and_vergence_are_inverse(lens: ExtendingLens | InternalLens) -> None:
    for near in (0.0, 1e-4, 1e-3):
        assert lens.near_at(lens.arc_mm(near)) == pytest.approx(near, abs=1e-15)


def test_internal_lens_follows_its_hyperbola() -> None:
    lens = InternalLens(50.0, 8.0, 15.0, 110_000.0, 60.0)
    u_mm = 1942.0  # 2 m from the sensor less the 58 mm of its front principal plane
    assert lens.arc_mm(1.0 / u_mm) == pytest.approx(15.0 + 110_000.0 / (2000.0 + 60.0))


def test_blur_of_a_misfocused_lens_is_the_cone_at_the_sensor() -> None:
    """Lens 0.1 mm too long on a distant subject: a round cone f/N wide at v, cut at v + 0.1.

    The afocal pair leaves it round on the sensor, so after desqueezing it is S times as wide.
    """
    found = blur(thin_rig(), inf, taking_arc_mm=12.75, attachment_arc_mm=250.0, stop=100.0)
    expected_mm = (85.0 / 100.0) * 0.1 / 85.0
    assert found.vertical_disc_mm == pytest.approx(expected_mm, rel=1e-3)
    assert found.vertical_width_mm == pytest.approx(expected_mm, rel=0.01)
    assert found.horizontal_disc_mm == pytest.approx(expected_mm, rel=0.02)


def test_tolerances_of_a_thin_rig_at_infinity() -> None:
    """Travel c N of the lens, c N F^2 / (S f^2) of the attachment, times arc per travel."""
    found = tolerances(thin_rig(), inf, stop=100.0, circle_mm=0.03, nominal_squeeze=2.0)
    assert found.taking_arc_mm == pytest.approx(0.03 * 100.0 * 7.5, rel=1e-4)
    travel_mm = 0.03 * 100.0 * F_MM**2 / (2.0 * 85.0**2)
    assert found.attachment_arc_mm == pytest.approx(travel_mm * 10.0, rel=2e-3)


@pytest.mark.parametrize("name", SAMPLE_RIGS)
def test_tolerance_is_where_the_blur_reaches_its_criterion(name: str) -> None:
    """A ring off by three tolerances blurs its meridian by three criteria, at a small stop.

    Two independent ways to the figure: slope of the fitted defocus, width of the ray bundle.
    """
    rig, circle_mm, ratio = SAMPLE_RIGS[name], 0.03, SAMPLE_RIGS[name].facts.nominal_squeeze
    stop = 11.0
    sharp = true_settings(rig.truth, 2000.0, stop=stop)
    rings = {
        "taking_arc_mm": float(sharp.taking_arc_mm[0]),
        "attachment_arc_mm": float(sharp.attachment_arc_mm[0]),
    }
    allowed = tolerances(rig.truth, 2000.0, stop=stop, circle_mm=circle_mm, nominal_squeeze=ratio)
    for ring, criterion in ((0, circle_mm), (1, circle_mm / ratio)):
        key = list(rings)[ring]
        off = rings | {key: rings[key] + 3.0 * allowed[ring]}
        seen = blur(rig.truth, 2000.0, stop=stop, **off)
        width_mm = (seen.vertical_width_mm, seen.horizontal_width_mm)[ring]
        assert width_mm == pytest.approx(3.0 * criterion, rel=0.06)


@pytest.mark.parametrize("name", SAMPLE_RIGS)
def test_attachment_focused_on_a_well_focused_lens_is_the_true_setting(name: str) -> None:
    rig = SAMPLE_RIGS[name]
    for distance_mm in (inf, 1500.0):
        sharp = true_settings(rig.truth, distance_mm, stop=rig.stop)
        arc_mm = attachment_arc_for(
            rig.truth,
            distance_mm,
            taking_arc_mm=float(sharp.taking_arc_mm[0]),
            stop=rig.stop,
        )
        assert arc_mm == pytest.approx(float(sharp.attachment_arc_mm[0]), abs=1e-6)


@pytest.mark.parametrize("name", SAMPLE_RIGS)
def test_sample_glass_is_sharp_and_its_scale_fits_one_turn(name: str) -> None:
    """In focus, both meridians within three criteria; each ring within 85 % of a turn."""
    rig = SAMPLE_RIGS[name]
    nearest_mm = min(target.distance_mm for target in rig.targets)
    places = np.array([inf, 2000.0, nearest_mm])
    sharp = true_settings(rig.truth, places, stop=rig.stop)
    for place_mm, taking_mm, attachment_mm in zip(places, *sharp[:2], strict=True):
        seen = blur(
            rig.truth,
            float(place_mm),
            taking_arc_mm=float(taking_mm),
            attachment_arc_mm=float(attachment_mm),
            stop=rig.stop,
        )
        desqueezed_mm = seen.horizontal_width_mm * rig.facts.nominal_squeeze
        assert max(desqueezed_mm, seen.vertical_width_mm) < 3.0 * rig.facts.circle_mm
    for arcs, ring in zip(
        sharp[:2], (rig.facts.taking_ring, rig.facts.attachment_ring), strict=True
    ):
        assert np.ptp(arcs) < 0.85 * np.pi * ring.diameter_mm
        assert np.all(np.sign(np.diff(arcs)) == ring.sign)


@pytest.mark.parametrize("name", SAMPLE_RIGS)
def test_bench_readings_repeat_and_scatter_as_stated(name: str) -> None:
    """The same seed gives the same figures, another does not; all lie near the truth."""
    rig = SAMPLE_RIGS[name]
    readings = bench_readings(rig)
    assert readings == bench_readings(rig)
    assert readings != bench_readings(rig, seed=rig.seed + 1)
    assert 7 <= len(readings) <= 9
    taped = [reading for reading in readings if reading.target.error_mm is None]
    distances = [reading.target.distance_mm for reading in taped]
    sharp = true_settings(rig.truth, distances, stop=rig.stop)
    for reading, taking_mm, attachment_mm in zip(taped, *sharp[:2], strict=True):
        assert reading.taking_arc_mm == pytest.approx(taking_mm, abs=2.0)
        assert reading.attachment_arc_mm == pytest.approx(attachment_mm, abs=6.0)
    assert any(reading.target.error_mm is not None for reading in readings)
