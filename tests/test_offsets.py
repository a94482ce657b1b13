"""What shifts figures beside law and lens: a ring's play, and tapings."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose

from tests.kits import charts, plain_kit

PLAY_MM = 0.4


def from_both_sides(*, set_from: str | None = None) -> dict[str, Any]:
    """The plain kit with every figure read from both sides, a play of 0.4 mm between them.

    A ring that comes from the nearer side has gone on toward farther by half its play: toward
    lower figures where these rise as it turns nearer.
    """
    kit = plain_kit()
    parts = {"taking": kit["taking_lenses"]["long"], "attachment": kit["attachments"]["double"]}
    rises = {name: part["ring"]["nearer_turns"] == "anticlockwise" for name, part in parts.items()}
    readings = []
    for reading in kit["readings"]:
        for side, sign in (("nearer", -0.5), ("farther", 0.5)):
            moved = {
                ring: reading[ring] + sign * PLAY_MM * (1.0 if rises[ring] else -1.0)
                for ring in rises
                if ring in reading
            }
            readings.append({**reading, **moved, "side": side})
    kit["readings"] = readings
    if set_from:
        kit["bench"] = {"side": set_from}
    return kit


@pytest.mark.parametrize("ring", ["taking", "attachment"])
def test_the_play_is_found_from_readings_of_both_sides(ring: str) -> None:
    chart = charts(from_both_sides())["portrait"]
    _, marks = chart.ring(ring)  # type: ignore[arg-type]
    play, error = marks.measured.scale.offset_mm(0)
    assert play == pytest.approx(PLAY_MM, abs=0.25)
    assert abs(play - PLAY_MM) < 2.0 * error


@pytest.mark.parametrize("ring", ["taking", "attachment"])
def test_marks_are_for_the_side_used_on_set(ring: str) -> None:
    arcs = {}
    for side in (None, "nearer", "farther"):
        chart = charts(from_both_sides(set_from=side))["portrait"]
        _, marks = chart.ring(ring)  # type: ignore[arg-type]
        arcs[side] = marks.nearer_sign * marks.arc_mm
        play, _ = marks.measured.scale.offset_mm(0)
    assert_allclose(arcs["farther"] - arcs["nearer"], play, rtol=1e-6)
    assert_allclose(arcs["farther"] + arcs["nearer"], 2.0 * arcs[None], rtol=1e-6)
    assert np.all(arcs["nearer"] < arcs[None])


def test_a_ruler_taped_anew_has_an_offset_of_its_own() -> None:
    """However far its zero line lies from the first one's, no reading is accused for it."""
    kit, usual = plain_kit(), charts(plain_kit())["portrait"]
    again = [{**reading, "taking": reading["taking"] + 12.0, "taping": 2}
             for reading in kit["readings"][:3]]  # fmt: skip
    kit["readings"] = [*kit["readings"], *again]
    chart = charts(kit)["portrait"]
    assert not chart.contradicted
    assert chart.taking is not None
    assert usual.taking is not None
    offset, error = chart.taking.measured.scale.offset_mm(0)
    assert abs(offset - 12.0) < 2.0 * error
    assert_allclose(chart.taking.arc_mm, usual.taking.arc_mm, atol=0.4)
