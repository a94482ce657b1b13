"""Marks above the middle of the picture, held to exact skew rays through real glass."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from focuschart.optics.height import inclination_rad, power_share
from focuschart.scale.laws import AttachmentLaw
from tests.designs.bench import drawn_facts, exact_readings, noisy_readings
from tests.designs.kits import Readings, Stated, chart_of
from tests.designs.recorded import FOCAL_MM, STOP, Design, load_designs
from tests.designs.trials import MARKS_MM, arc_errors
from tests.rig_truth import true_settings
from tests.sample_parts import metric
from tests.skew import height_shift_mm
from tests.test_traced_truth import published_rig
from tests.tracer import AIR, PLANE, Array, Moving, Surface, focal_length_mm, rays_from, trace

DISTANCES = np.array([np.inf, 3000.0, 1000.0])
HEIGHTS_MM = (2.0, 4.0, 8.0)


def test_the_share_of_power_is_that_of_a_cylinder_of_glass() -> None:
    """A thin lens of index 1.6, radii ±120 mm: where light inclined by 0.1 meets the axis."""
    lens = (Surface(120.0, 1e-6, 1.6), Surface(-120.0, 0.0, AIR))
    rays = trace(lens, rays_from(1e-3, 0.0, 0.0, np.tan(0.1)))
    shortened = 1.0 + rays.points_mm[0, 0] / (rays.directions[0, 0] / rays.directions[0, 2]) / (
        focal_length_mm(lens)
    )
    assert power_share(0.1) == pytest.approx(shortened, rel=0.01)


def test_a_plane_plate_has_no_power_to_share() -> None:
    rays = trace((Surface(PLANE, 5.0, 1.6), Surface(PLANE, 0.0, AIR)), rays_from(1.0, 0, 0, 0.1))
    assert rays.directions[0, 0] == 0.0


@given(height=st.floats(0.0, 20.0), image=st.floats(10.0, 600.0))
def test_above_and_below_the_middle_are_alike(height: float, image: float) -> None:
    up, down = (power_share(inclination_rad(y, image_mm=image)) for y in (height, -height))
    assert up == down
    assert_allclose(up, 0.8125 * np.arctan(height / image) ** 2, rtol=1e-12)


def paraxial_law(design: Design) -> tuple[AttachmentLaw, Array]:
    """A design's law, and its constants A, δ and S as its prescription has them."""
    glass = design.attachment.front_glass_mm
    law = AttachmentLaw(design.squeeze, design.separation_mm, glass, design.moving)
    return law, np.array([design.front_focal_mm, 0.18 * glass, design.squeeze])


class Shift(NamedTuple):
    """Shifts of a ruler figure, mm, over heights × distances; tolerances at f/2.8."""

    stated: Array
    true: Array
    tolerance: Array


def shifts(design: Design) -> Shift:
    """What a design's ring is to be turned by for heights in the picture, stated and traced."""
    law, constants = paraxial_law(design)
    near = true_settings(design.rig, DISTANCES, stop=STOP).near
    image = np.array([design.rig.lens.image_mm(each) for each in near])
    middle = DISTANCES - design.front_vertex_mm + law.front_glass_mm / 2.0 - (image - FOCAL_MM)
    stated, true = [], []
    for height in HEIGHTS_MM:
        share = power_share(inclination_rad(height, image_mm=image))
        moved = law.travel(middle, constants, power_share=share).value
        travel = moved - law.travel(middle, constants).value
        stated.append(design.rig.arc_per_mm * travel)
        true.append(height_shift_mm(design.rig, DISTANCES, height, stop=STOP))
    tolerance = design.truth(DISTANCES).attachment_tolerance_mm
    return Shift(np.array(stated), np.array(true), np.broadcast_to(tolerance, (3, 3)))


@cache
def all_shifts() -> Shift:
    """Those of all 128 designs, in front of heights and distances."""
    return Shift(*(np.array(each) for each in zip(*map(shifts, load_designs()), strict=True)))


def test_the_shift_of_every_traced_design() -> None:
    """Within 30 % of itself at infinity in 95 % of designs, at 1 m in 83 %, the rest weak ones.

    A weak attachment's groups are strong elements that nearly cancel, so its thick glass counts
    more: none of 1.75x or stronger is further off.
    """
    stated, true, tolerance = all_shifts()
    off, counts = stated / true - 1.0, np.abs(true) > 0.1 * tolerance
    good = np.where(counts, np.abs(off) <= 0.3, True)
    assert np.all(np.mean(good, axis=0) >= [0.95, 0.86, 0.83])
    strong = np.array([design.squeeze >= 1.75 for design in load_designs()])
    assert np.all(good[strong])
    assert np.all(stated * true > 0.0)
    # Close to the 20 % that a mark's error counts.
    assert np.all(np.sqrt(np.mean(np.square(off), axis=0)) <= [0.14, 0.19, 0.22])


def test_the_shift_matters_and_what_is_left_of_it_does_not() -> None:
    """At 4 mm and f/2.8 two thirds of a tolerance at infinity, of which a tenth is left."""
    stated, true, tolerance = (each[:, 1] for each in all_shifts())
    before, left = np.abs(true) / tolerance, np.abs(stated - true) / tolerance
    assert np.median(before[:, 0]) > 0.6
    assert np.median(left[:, 0]) < 0.1
    assert np.max(left) < 0.35


@pytest.mark.parametrize("moving", ["front", "rear"])
def test_the_shift_of_the_published_attachment(moving: Moving) -> None:
    """US patent 6,310,731 on an 85 mm lens, 4 mm above the middle: thick, so 17 % off."""
    rig = published_rig(moving)
    front = -focal_length_mm(rig.attachment.front)
    squeeze = focal_length_mm(rig.attachment.rear) / front
    law = AttachmentLaw(squeeze, front * (squeeze - 1.0), rig.attachment.front_glass_mm, moving)
    share = power_share(inclination_rad(4.0, image_mm=85.0))
    moved = law.travel(np.inf, np.array([front, 0.0, squeeze]), power_share=share).value
    assert_allclose(
        rig.arc_per_mm * moved, height_shift_mm(rig, np.array([np.inf]), 4.0, stop=STOP)[0],
        rtol=0.2,
    )  # fmt: skip


# --- charts ---------------------------------------------------------------------------------------

READ = (*map(metric, (1.0, 1.3, 2.0, 5.0)), metric(60.0, 3.0))
THIRD_MM = 4.0


@cache
def third_mm(number: int) -> Array:
    """The traced shift of a design's ring at the marks, 4 mm above the middle."""
    return height_shift_mm(load_designs()[number].rig, MARKS_MM, THIRD_MM, stop=STOP)


def errors(
    design: Design, readings: Readings, stated: Stated, *, read_at_mm: float = 0.0
) -> tuple[Array, Array]:
    """Errors of an attachment's marks 4 mm above the middle, and their stated half-widths, mm."""
    chart = chart_of(design, readings, stated, height_mm=THIRD_MM, read_at_mm=read_at_mm)
    truth = design.truth(MARKS_MM)
    above = replace(truth, attachment_arc_mm=truth.attachment_arc_mm + third_mm(design.number))
    assert chart.attachment is not None
    return arc_errors(design, chart, above)[1], chart.attachment.bench_arc_95_mm


def read_above(design: Design) -> Readings:
    """Exact readings with the target 4 mm above the middle."""
    found = exact_readings(design, READ)
    distances = np.array([target.distance_mm for target in READ])
    shift = height_shift_mm(design.rig, distances, THIRD_MM, stop=STOP)
    return replace(found, attachment_arc_mm=found.attachment_arc_mm + shift)


def test_marks_read_on_the_third_itself_are_as_true_as_those_of_the_middle() -> None:
    """What the glass adds stands in the readings then, and little of it is left for the errors."""
    for design in load_designs()[::8]:
        tolerance = design.truth(MARKS_MM).attachment_tolerance_mm
        above, above_95 = errors(design, read_above(design), Stated(), read_at_mm=THIRD_MM)
        middle, middle_95 = errors(design, exact_readings(design, READ), Stated())
        assert np.max(np.abs(above) / tolerance) < 0.2
        assert np.all(above_95 < middle_95)
        assert np.max(np.abs(above)) < np.max(np.abs(middle)) + 0.05


@pytest.mark.statistical
def test_intervals_hold_the_truth_above_the_middle_as_often_as_they_say() -> None:
    """Read in the middle, marked for 4 mm above it: what glass adds is a part of the error.

    Measured, 0.986 here and 0.962 to 0.993 of other draws; of marks for the middle itself 0.967 to
    0.985. What is too wide is not the part for the height but `scale/scatter.py`, which allows for
    a bench noisier than supposed: without it the middle holds 0.95, and 4 mm 0.963 on average.
    """
    held = []
    for design in load_designs()[::2]:
        noise = np.random.default_rng([97, design.number])
        for _ in range(5):
            readings = noisy_readings(design, READ, noise)
            off, stated_95 = errors(design, readings, drawn_facts(noise))
            held.append(np.abs(off) <= stated_95)
    assert 0.95 <= np.mean(held) <= 0.99
    assert np.all(np.mean(held, axis=0) > 0.93)
