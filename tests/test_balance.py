"""Weights on a beam: the laws of equilibrium, standard beams, and a rig worked by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from numpy.testing import assert_allclose

from focuschart.optics.arrays import Floats
from focuschart.rig.balance import FRONT_UNIT_G, Balance, Section, balance
from focuschart.rig.statics import (
    GRAVITY,
    centre_of_gravity_mm,
    hanging_moment_nm,
    propped_moment_nm,
    support_force_n,
    weight_n,
)
from tests.kits import loaded, plain_kit
from tests.rig_parts import changed_kit, full_kit

MASSES = arrays(float, 4, elements=st.floats(1.0, 3000.0))
CENTRES = arrays(float, 4, elements=st.floats(-200.0, 500.0))
PLACE = st.floats(-200.0, 500.0)
NEWTON_G = 1000.0 / GRAVITY
"""The mass, in g, that weighs 1 N."""


def propped(section_mm: float, support_mm: float, masses_g: Floats, centres_mm: Floats) -> float:
    """The moment of a beam on a pin at 0 and a support, all loads ahead of the section hanging."""
    loads = {"masses_g": masses_g, "centres_mm": centres_mm}
    force = support_force_n(support_mm, pin_mm=0.0, **loads)
    ahead = centres_mm > section_mm
    hanging = hanging_moment_nm(section_mm, masses_g=masses_g[ahead], centres_mm=centres_mm[ahead])
    return float(
        propped_moment_nm(section_mm, hanging_nm=hanging, support_mm=support_mm, support_n=force)
    )


@given(masses=MASSES, centres=CENTRES, pin=PLACE, support=PLACE, about=PLACE)
def test_forces_and_moments_of_a_supported_beam_sum_to_zero(
    masses: Floats, centres: Floats, pin: float, support: float, about: float
) -> None:
    """About any point."""
    assume(abs(support - pin) > 10.0)
    up = float(support_force_n(support, pin_mm=pin, masses_g=masses, centres_mm=centres))
    at_pin = float(weight_n(masses)) - up
    down = float(hanging_moment_nm(about, masses_g=masses, centres_mm=centres))
    turning = (up * (support - about) + at_pin * (pin - about)) / 1000.0
    assert turning == pytest.approx(down, rel=1e-9, abs=1e-6)


@given(masses=MASSES, centres=CENTRES)
def test_about_its_centre_of_gravity_a_rig_balances(masses: Floats, centres: Floats) -> None:
    centre = centre_of_gravity_mm(masses, centres_mm=centres)
    moment = hanging_moment_nm(centre, masses_g=masses, centres_mm=centres)
    assert float(moment) == pytest.approx(0.0, abs=1e-9)
    assert centres.min() - 1e-9 <= centre <= centres.max() + 1e-9


@given(masses=MASSES, centres=CENTRES, section=PLACE)
def test_all_the_weight_may_stand_at_the_centre_of_gravity(
    masses: Floats, centres: Floats, section: float
) -> None:
    centre = float(centre_of_gravity_mm(masses, centres_mm=centres))
    moment = float(hanging_moment_nm(section, masses_g=masses, centres_mm=centres))
    assert moment == pytest.approx(float(weight_n(masses)) * (centre - section) / 1000.0, abs=1e-9)


@given(masses=MASSES, more=MASSES, centres=CENTRES, section=PLACE, support=st.floats(10.0, 500.0))
def test_loads_superpose(
    masses: Floats, more: Floats, centres: Floats, section: float, support: float
) -> None:
    both = propped(section, support, masses + more, centres)
    apart = propped(section, support, masses, centres) + propped(section, support, more, centres)
    assert both == pytest.approx(apart, rel=1e-9, abs=1e-7)


@given(masses=MASSES, centres=CENTRES, section=PLACE, shift=st.floats(-300.0, 300.0))
def test_where_the_axis_begins_does_not_matter(
    masses: Floats, centres: Floats, section: float, shift: float
) -> None:
    here = hanging_moment_nm(section, masses_g=masses, centres_mm=centres)
    there = hanging_moment_nm(section + shift, masses_g=masses, centres_mm=centres + shift)
    assert_allclose(there, here, atol=1e-9)
    moved = centre_of_gravity_mm(masses, centres_mm=centres + shift)
    assert_allclose(moved, centre_of_gravity_mm(masses, centres_mm=centres) + shift, atol=1e-9)


@given(masses=MASSES, centres=arrays(float, 4, elements=st.floats(1.0, 500.0)),
       support=st.floats(10.0, 500.0))  # fmt: skip
def test_a_support_takes_all_the_moment_off_the_mount(
    masses: Floats, centres: Floats, support: float
) -> None:
    assert propped(0.0, support, masses, centres) == pytest.approx(0.0, abs=1e-9)


# Beam diagrams and formulas of the AISC Steel Construction Manual, Table 3-23 (from memory), on
# a span l with a load P; their sagging moments are negative here, where droop is positive.
LOAD_N, SPAN_MM = 12.0, 240.0
P_MASS = np.array([LOAD_N * NEWTON_G])


@pytest.mark.parametrize("arm_mm", [40.0, 110.0, 240.0])
def test_cantilever_with_a_load_at_any_point(arm_mm: float) -> None:
    """M at the fixed end is P b."""
    found = hanging_moment_nm(0.0, masses_g=P_MASS, centres_mm=np.array([arm_mm]))
    assert float(found) == pytest.approx(LOAD_N * arm_mm / 1000.0, rel=1e-12)


@pytest.mark.parametrize("a_mm", [40.0, 120.0, 200.0])
def test_simple_beam_with_a_load_at_any_point(a_mm: float) -> None:
    """R2 = P a / l, and M at the load is P a b / l."""
    at, b_mm = np.array([a_mm]), SPAN_MM - a_mm
    force = support_force_n(SPAN_MM, pin_mm=0.0, masses_g=P_MASS, centres_mm=at)
    assert float(force) == pytest.approx(LOAD_N * a_mm / SPAN_MM, rel=1e-12)
    sagging = LOAD_N * a_mm * b_mm / SPAN_MM / 1000.0
    assert propped(a_mm, SPAN_MM, P_MASS, at) == pytest.approx(-sagging, rel=1e-12)


@pytest.mark.parametrize("a_mm", [30.0, 90.0])
def test_beam_overhanging_one_support_with_a_load_at_its_end(a_mm: float) -> None:
    """R1 = P a / l downward, R2 = P (l + a) / l, M at the support is P a and P a x / l before."""
    at = np.array([SPAN_MM + a_mm])
    force = float(support_force_n(SPAN_MM, pin_mm=0.0, masses_g=P_MASS, centres_mm=at))
    assert force == pytest.approx(LOAD_N * (SPAN_MM + a_mm) / SPAN_MM, rel=1e-12)
    assert LOAD_N - force == pytest.approx(-LOAD_N * a_mm / SPAN_MM, rel=1e-9)
    for x_mm in (SPAN_MM / 4.0, SPAN_MM):
        expected = LOAD_N * a_mm * x_mm / SPAN_MM / 1000.0
        assert propped(x_mm, SPAN_MM, P_MASS, at) == pytest.approx(expected, rel=1e-9)


def test_front_load_on_a_filter_thread() -> None:
    """0.45 kg centred 110 mm ahead of the thread: 0.45 × 9.80665 × 0.110 = 0.485 N m, by hand."""
    found = hanging_moment_nm(50.0, masses_g=np.array([450.0]), centres_mm=np.array([160.0]))
    assert float(found) == pytest.approx(0.485, abs=0.0005)


def test_nothing_weighs_nowhere() -> None:
    none = np.zeros(2)
    assert math.isnan(float(centre_of_gravity_mm(none, centres_mm=none)))


# The full kit by hand, mm from the sensor and g: camera −5, 700; lens 18 + 40 = 58, 400; clamp
# 92 + 6 = 98, 100; attachment 104 + 50 = 154, 800; filter 199 + 2 = 201, 30; rods 140, 150.
# Mount at 18, helicoid 48, joints 92, 104 and 199, support 140.
PLACES = {"lens mount": 18.0, "helicoid": 48.0}
G = GRAVITY * 1e-6


def by_place(found: Balance) -> dict[str, Section]:
    return {section.place: section for section in found.sections}


def test_a_rig_worked_by_hand() -> None:
    found = balance(loaded(full_kit()), "portrait")
    assert found.missing == ()
    assert found.mass_g == pytest.approx(2180.0)
    turning = 700 * -5 + 400 * 58 + 100 * 98 + 800 * 154 + 30 * 201 + 150 * 140
    assert found.centre_mm == pytest.approx(turning / 2180.0)
    assert found.plate_mm == pytest.approx(turning / 2180.0 - 10.0)
    assert found.payload_margin_g == pytest.approx(1820.0)
    assert (found.plate_verdict, found.payload_verdict) == ("fits", "fits")


def test_moments_of_a_rig_worked_by_hand() -> None:
    sections = by_place(balance(loaded(full_kit()), "portrait"))
    assert [round(section.position_mm) for section in sections.values()] == [18, 48, 92, 104, 199]
    mount = G * (400 * 40 + 100 * 80 + 800 * 136 + 30 * 183)
    helicoid = G * (100 * 50 + 800 * 106 + 30 * 153)
    force = mount / 0.122
    assert sections["lens mount"].hanging_nm == pytest.approx(mount)
    assert sections["lens mount"].acting_nm == pytest.approx(0.0, abs=1e-12)
    assert sections["helicoid"].hanging_nm == pytest.approx(helicoid)
    assert sections["helicoid"].acting_nm == pytest.approx(helicoid - force * 0.092)
    outer = sections['attachment "2x" to filter "Clear"']
    assert outer.hanging_nm == outer.acting_nm == pytest.approx(G * 30 * 2)
    assert {sections[place].verdict for place in PLACES} == {"fits"}


def test_without_a_support_the_mount_carries_it_all() -> None:
    found = balance(loaded(changed_kit("rigs", "portrait", "support", to=None)), "portrait")
    assert math.isnan(found.support_n)
    assert found.mass_g == pytest.approx(2030.0)
    for section in found.sections:
        assert section.acting_nm == section.hanging_nm


def test_limits_are_kept_or_not() -> None:
    kit = changed_kit("rigs", "portrait", "support", to=None)
    kit["cameras"]["body"]["mount_moment_limit"] = "1.3 N m"
    kit["carriers"]["head"] |= {"payload": "2 kg", "plate_range": ["-40 mm", "40 mm"]}
    found = balance(loaded(kit), "portrait")
    assert by_place(found)["lens mount"].verdict == "does not meet"
    assert by_place(found)["helicoid"].verdict == "fits"
    assert (found.payload_verdict, found.plate_verdict) == ("does not meet", "does not meet")
    assert found.payload_margin_g == pytest.approx(-30.0)


def test_a_unit_on_the_front_adds_its_moment_everywhere() -> None:
    """Centred 20 mm before the filter's 203 mm."""
    kit = loaded(changed_kit("rigs", "portrait", "support", to=None))
    before, after = balance(kit, "portrait"), balance(kit, "portrait", front_unit_g=FRONT_UNIT_G)
    assert after.mass_g - before.mass_g == pytest.approx(FRONT_UNIT_G)
    for old, new in zip(before.sections, after.sections, strict=True):
        added = G * FRONT_UNIT_G * (223.0 - old.position_mm)
        assert new.acting_nm - old.acting_nm == pytest.approx(added)


MISSING = {
    ("taking_lenses", "long", "mass"): {"lens mount"},
    ("taking_lenses", "long", "centre_of_gravity"): {"lens mount"},
    ("taking_lenses", "long", "helicoid"): {"helicoid"},
    ("clamps", "clamp", "mass"): {
        "lens mount", "helicoid", 'taking lens "85 mm" to clamp "Clamp"'
    },
    ("cameras", "body", "mass"): set(),
}  # fmt: skip


@pytest.mark.parametrize("key", MISSING, ids=".".join)
def test_what_is_missing_is_named_where_it_counts(key: tuple[str, str, str]) -> None:
    kit = changed_kit(*key, to=None)
    del kit["rigs"]["portrait"]["support"]
    found = balance(loaded(kit), "portrait")
    untold = {section.place for section in found.sections if math.isnan(section.acting_nm)}
    assert untold == MISSING[key]
    for section in found.sections:
        assert section.missing == ((".".join(key),) if section.place in untold else ())
    assert found.missing == (() if key[2] == "helicoid" else (".".join(key),))


def test_a_rig_measured_as_a_whole_needs_the_attachments_length_to_be_placed() -> None:
    kit = changed_kit("rigs", "portrait", "front_vertex", to="201 mm")
    del kit["taking_lenses"]["long"]["length"]
    found = balance(loaded(kit), "portrait")
    assert [round(s.position_mm) for s in found.sections] == [18, 48, 94, 106, 201]
    del kit["attachments"]["double"]["length"]
    found = balance(loaded(kit), "portrait")
    assert found.missing == ("attachments.double.length",)
    assert math.isnan(found.centre_mm)
    assert found.mass_g == pytest.approx(2180.0)


def test_a_filter_of_unknown_thickness_hides_what_stands_before_it() -> None:
    kit = changed_kit("filters", "clear", "thickness", to=None)
    kit["close_up_lenses"]["plus"] |= {"thickness": "6 mm", "mass": "40 g"}
    kit["rigs"]["portrait"]["front"] = ["clear", "plus"]
    found = balance(loaded(kit), "portrait", front_unit_g=FRONT_UNIT_G)
    assert found.missing == ("filters.clear.thickness",)
    assert found.sections[-1].missing == ("filters.clear.thickness",)
    assert math.isnan(found.sections[-1].acting_nm)


def test_a_plain_kit_can_tell_nothing_and_says_why() -> None:
    found = balance(loaded(plain_kit()), "portrait")
    assert {section.verdict for section in found.sections} == {"cannot tell"}
    assert (found.plate_verdict, found.payload_verdict) == ("cannot tell", "cannot tell")
    assert len(found.missing) == 7
    assert all(found.sections[0].missing)
