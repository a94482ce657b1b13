"""Intervals held to further traced rigs: rear groups that move, hiatus, a lens with a bent cam.

`tests/designs/further.py` says what they are; bounds are the issue's, 93 to 97 % of stated 95 %
on average and no class below 90 %.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from numpy.testing import assert_allclose

from tests.designs.recorded import FURTHER, SLOW_STOP, STOP, TWO_GROUPS_MM, Design, load_designs
from tests.designs.trials import Trial, drawn_trials
from tests.rig_truth import TwoGroupLens, true_settings
from tests.test_designs import FAR_TARGET, held

KINDS = ("rear", "hiatus", "internal")
DRAWS = 8


@cache
def designs() -> list[Design]:
    return load_designs(FURTHER)


@cache
def mornings(kind: str) -> Trial:
    chosen = [design for design in designs() if design.kind == kind]
    return drawn_trials(chosen, FAR_TARGET, draws=DRAWS, read_at=STOP, working_stop=SLOW_STOP)


def test_the_record_spans_what_it_should() -> None:
    assert [sum(d.kind == kind for d in designs()) for kind in KINDS] == [12, 12, 12]
    hiatus = [design.hiatus_mm for design in designs() if design.kind == "hiatus"]
    assert (min(hiatus), max(hiatus)) == (-30.0, 30.0)
    assert {design.bend for design in designs() if design.kind == "internal"} == {
        0.0, 0.02, -0.02, 0.04, -0.04,
    }  # fmt: skip
    assert all(design.moving == "rear" for design in designs() if design.kind == "rear")


@pytest.mark.parametrize("number", [3, 20, 31])
def test_the_record_is_that_of_its_glass(number: int) -> None:
    design, distances = designs()[number], np.array([1430.0, np.inf])
    traced, found = true_settings(design.rig, distances, stop=STOP), design.truth(distances)
    assert_allclose(found.taking_arc_mm, traced.taking_arc_mm, atol=0.01)
    assert_allclose(found.attachment_arc_mm, traced.attachment_arc_mm, atol=0.01)


def test_two_groups_make_the_lens_they_should() -> None:
    """Gauss: 1/f = 1/f1 + 1/f2 - e/(f1 f2); the image distance of two thin lenses in a row."""
    front, rear, length = TWO_GROUPS_MM
    lens = TwoGroupLens(85.0, front, rear, length, 12.0, 95.0, 0.0, 900.0)
    gap = lens.gap_mm(0.0)
    assert_allclose(1.0 / (1.0 / front + 1.0 / rear - gap / (front * rear)), 85.0, rtol=2e-3)
    near = 1.0 / 1500.0
    gap = lens.gap_mm(near)
    first = 1.0 / (1.0 / front - near) - gap
    assert_allclose(1.0 / (1.0 / first + 1.0 / rear), length - gap, rtol=1e-9)
    assert_allclose(lens.near_at(lens.arc_mm(near)), near, rtol=1e-6)


@pytest.mark.statistical
def test_intervals_hold_as_often_as_they_say() -> None:
    shares = {(kind, ring): float(np.nanmean(held(mornings(kind), ring)))
              for kind in KINDS for ring in ("taking", "attachment")}  # fmt: skip
    assert 0.93 <= np.mean(list(shares.values())) <= 0.975
    assert min(shares.values()) >= 0.90
    assert max(np.mean(mornings(kind).refused) for kind in KINDS) < 0.02
