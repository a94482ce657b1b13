"""The height in the picture that marks are for: keys of the kit, and what they move."""

from __future__ import annotations

from typing import Any

import pytest

from focuschart.errors import KitError
from tests.kits import loaded, plain_kit


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
