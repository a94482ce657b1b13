"""Marks that no ring can show are never trusted, however small their error looks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from focuschart.chart.verdict import off_the_ring, remarks, sure_from, trusted_from, verdicts
from tests.kits import charts, plain_kit


@pytest.mark.parametrize("arc_mm", [445_000.0, -300.0, float("nan")])
def test_a_mark_beyond_its_ring_is_to_be_measured_again(arc_mm: float) -> None:
    kit = plain_kit()
    kit["stops"] = [16]
    chart = charts(kit)["portrait"]
    assert not np.any(off_the_ring(chart))
    assert verdicts(chart)[0] != "not"
    assert chart.taking is not None
    arcs = chart.taking.arc_mm.copy()
    arcs[0] = arc_mm
    chart = replace(chart, taking=replace(chart.taking, arc_mm=arcs))
    assert verdicts(chart)[0] == "not"
    assert sure_from(chart)[0] is None
    assert trusted_from(chart) is None
    said = "the mark of 1.2 m lies further than its ring turns"
    assert any(said in remark for remark in remarks(chart, "metric"))
