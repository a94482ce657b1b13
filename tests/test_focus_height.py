"""The height in the picture that marks are for: keys of the kit, and what they move."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from focuschart.chart.height import heights, heights_text
from focuschart.chart.marks import RingMarks
from focuschart.chart.model import Chart
from focuschart.errors import KitError
from focuschart.layout.page import Text
from focuschart.report.charts import as_text
from focuschart.report.data import rig_data
from tests.fit_cases import arc_sigma_mm, fitted_mm
from tests.kits import charts, loaded, plain_kit
from tests.pieces import card_items, strip_items


def height_mm(kit: dict[str, Any], rig: str = "portrait") -> float:
    found = loaded(kit)
    return found.focus_height_mm(found.rigs[rig])


def test_marks_are_for_the_upper_third_unless_kit_or_rig_say_otherwise() -> None:
    kit = plain_kit()
    del kit["focus_height"]
    assert height_mm(kit) == pytest.approx(4.0)
    kit["focus_height"] = "3 mm"
    assert height_mm(kit) == 3.0
    kit["rigs"]["portrait"]["focus_height"] = "0 mm"
    assert height_mm(kit) == 0.0


def test_the_third_is_that_of_the_rigs_sensor_mode() -> None:
    kit = plain_kit()
    del kit["focus_height"]
    kit["cameras"]["body"]["modes"] = {"crop": {"sensor_width": "24 mm", "sensor_height": "15 mm"}}
    kit["rigs"]["cropped"] = {**kit["rigs"]["portrait"], "mode": "crop"}
    assert height_mm(kit, "cropped") == 2.5


def refusal(kit: dict[str, Any]) -> str:
    with pytest.raises(KitError) as found:
        loaded(kit)
    assert len(found.value.problems) == 1
    return str(found.value)


WHY = (
    'outside the picture of rig "portrait", whose sensor ends 12 mm from the middle: give a lesser '
    "height"
)


def test_a_height_outside_the_picture_is_refused() -> None:
    kit = plain_kit()
    kit["rigs"]["portrait"]["focus_height"] = "12.5 mm"
    assert f'rigs.portrait.focus_height is "12.5 mm": {WHY}' in refusal(kit)
    del kit["rigs"]["portrait"]["focus_height"]
    kit["focus_height"] = "13 mm"
    assert f'focus_height is "13 mm": {WHY}' in refusal(kit)
    kit["focus_height"] = "12 mm"
    loaded(kit)


def test_a_height_of_marks_is_above_the_middle() -> None:
    kit = plain_kit()
    kit["focus_height"] = "-4 mm"
    assert 'focus_height is "-4 mm"' in refusal(kit)


def test_a_target_outside_the_picture_was_not_read() -> None:
    kit = plain_kit()
    kit["readings"][2]["height"] = "-12.5 mm"
    assert f'readings[2].height is "-12.5 mm": {WHY}' in refusal(kit)


# --- what it moves --------------------------------------------------------------------------------


def chart_for(height: str | None, *, read_at: str | None = None) -> Chart:
    kit = plain_kit()
    kit["focus_height"] = height
    if height is None:
        del kit["focus_height"]
    for reading in kit["readings"]:
        reading.update({} if read_at is None else {"height": read_at})
    return charts(kit)["portrait"]


def attachment(chart: Chart) -> RingMarks:
    return chart.ring("attachment")[1]


def test_in_the_middle_marks_are_those_of_the_scale_itself() -> None:
    chart = chart_for("0 mm")
    marks = attachment(chart)
    scale = marks.measured.scale
    position = chart.rig.glass_position_mm(chart.distances_mm)
    assert_array_equal(marks.height_shift_mm, 0.0)
    assert_array_equal(marks.arc_mm, fitted_mm(scale, position))
    assert_array_equal(marks.bench_arc_95_mm, 1.96 * arc_sigma_mm(scale, position))


def test_above_the_middle_only_the_attachment_moves_and_is_less_sure() -> None:
    middle, third = chart_for("0 mm"), chart_for(None)
    one, two = attachment(middle), attachment(third)
    assert_array_equal(third.ring("taking")[1].arc_mm, middle.ring("taking")[1].arc_mm)
    assert_array_equal(third.frame.near_mm, middle.frame.near_mm)
    assert_allclose(two.height_shift_mm, two.arc_mm - one.arc_mm)
    # Figures rise toward near, and every mark turns nearer: 1.5 mm and less.
    assert np.all((two.height_shift_mm > 0.5) & (two.height_shift_mm < 2.0))
    own = np.square(two.bench_arc_95_mm) - np.square(1.96 * 0.2 * two.height_shift_mm)
    assert_allclose(np.sqrt(own), one.bench_arc_95_mm, rtol=0.02)
    # The separation told is that at the mark.
    travel = (two.arc_mm - one.arc_mm) / two.measured.scale.arc_per_travel
    assert_allclose(middle.separation_mm - third.separation_mm, travel, rtol=1e-9)


@pytest.mark.parametrize("read_at", ["4 mm", "-4 mm"])
def test_readings_at_the_height_of_the_marks_leave_little_to_suppose(read_at: str) -> None:
    """The figures then show what the glass adds: marks are as sure as those of the middle."""
    read = attachment(chart_for("4 mm", read_at=read_at))
    middle = attachment(chart_for("0 mm"))
    assert np.max(np.abs(read.height_shift_mm)) < 0.1
    assert_allclose(read.arc_mm, middle.arc_mm, atol=0.15)
    assert_allclose(read.bench_arc_95_mm, middle.bench_arc_95_mm, rtol=0.05)
    # And marks for the middle then carry the error the other way.
    back = attachment(chart_for("0 mm", read_at=read_at))
    assert np.all(back.height_shift_mm < -0.5)


def test_the_edge_lies_eight_times_as_far_from_the_third_as_the_middle() -> None:
    """The shift goes with the square of the height: 0, 1 and 9."""
    found = heights(chart_for("4 mm"))
    assert found is not None
    assert found.off["third"] == 0.0
    assert found.off["edge"] == pytest.approx(8.0 * found.off["middle"], rel=0.03)
    assert found.stop is not None
    assert found.stop / 2.8 >= found.off["edge"] > found.stop / 2.8 / 1.5


def test_chart_data_card_and_strip_say_for_which_height_they_are() -> None:
    chart = chart_for(None)
    assert rig_data(chart)["focus_height_mm"] == 4.0
    said = heights_text(chart)
    assert re.fullmatch(
        r"For 4 mm above the middle; middle \d\.\d, edge \d\.\d tol off: f/\d+ covers\.", said
    )
    assert said in as_text([chart], units="metric").splitlines()
    texts = {
        item.key.partition("/")[2]: " ".join(
            shape.text for shape in item.block.shapes if isinstance(shape, Text)
        )
        for item in (*strip_items([chart]), *card_items(chart, size="A6"))
    }
    assert "height 4.0 mm" in texts["attachment"]
    assert "height" not in texts["taking"]
    assert any(said in text for key, text in texts.items() if key.startswith("card/"))
    assert heights_text(chart_for("0 mm")).startswith("For the middle; third ")
