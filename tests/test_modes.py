"""Sensor modes are one camera: each with its own size, pixels, readout and circle of confusion."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest

from focuschart.errors import KitError
from focuschart.kit.dependencies import dependencies
from focuschart.prints.code import codes
from focuschart.rig.assemble import Sensor, assemble
from tests.kits import charts, loaded
from tests.rig_parts import full_kit

OPEN = {"sensor_width": "36 mm", "sensor_height": "24 mm", "pixels": [6000, 4000]}
CROP = {"sensor_width": "24 mm", "sensor_height": "16 mm", "readout_time": "9 ms"}


def two_modes(**keys: object) -> dict[str, Any]:
    """Return the full kit with a camera of two modes, a rig in each, and no mode of the body."""
    kit = full_kit()
    body = kit["cameras"]["body"]
    for key in ("sensor_width", "sensor_height", "pixels", "readout_time"):
        del body[key]
    body["modes"] = {"open": dict(OPEN), "crop": {**CROP, **keys}}
    kit["rigs"]["portrait"]["mode"] = "open"
    kit["rigs"]["cropped"] = {**kit["rigs"]["portrait"], "name": "Cropped", "mode": "crop"}
    return kit


def refusal(kit: dict[str, Any]) -> str:
    with pytest.raises(KitError) as found:
        loaded(kit)
    assert len(found.value.problems) == 1
    return str(found.value)


def test_a_rig_has_the_sensor_of_its_mode_and_nothing_of_another() -> None:
    kit = loaded(two_modes())
    keys = ["cameras.body.modes.open", "cameras.body.modes.crop"]
    assert [assemble(kit, rig).sensor for rig in ("portrait", "cropped")] == [
        Sensor(keys[0], 36.0, 24.0, (6000, 4000), None),
        Sensor(keys[1], 24.0, 16.0, None, 0.009),
    ]


def test_a_body_with_a_size_of_its_own_needs_no_mode_named() -> None:
    kit = full_kit()
    kit["cameras"]["body"]["modes"] = {"crop": CROP}
    assert assemble(loaded(kit), "portrait").sensor.key == "cameras.body"


@pytest.mark.parametrize(
    ("own", "whole", "expected"),
    [
        (None, None, math.hypot(24.0, 16.0) / 1500.0),
        (None, "0.03 mm", math.hypot(24.0, 16.0) / 1500),
        ("0.011 mm", None, 0.011),
        ("0.011 mm", "0.03 mm", 0.011),
    ],
)
def test_the_circle_is_the_modes_own_else_by_its_diagonal_never_the_kits(
    own: str | None, whole: str | None, expected: float
) -> None:
    kit = two_modes(**({} if own is None else {"circle_of_confusion": own}))
    kit.update({} if whole is None else {"circle_of_confusion": whole})
    assert assemble(loaded(kit), "cropped").circle_mm == pytest.approx(expected)


def test_the_bodys_own_circle_wins_over_the_kits() -> None:
    kit = {**full_kit(), "circle_of_confusion": "0.03 mm"}
    kit["cameras"]["body"]["circle_of_confusion"] = "0.02 mm"
    assert assemble(loaded(kit), "portrait").circle_mm == 0.02


def test_readings_of_one_mode_serve_the_other() -> None:
    """A ring is read on a body. With one circle of confusion the marks are the same."""
    found = charts({**two_modes(), "circle_of_confusion": "0.029 mm"})
    for which in ("taking", "attachment"):
        one, two = (found[rig].ring(which)[1] for rig in ("portrait", "cropped"))
        assert one.arc_mm.tolist() == two.arc_mm.tolist()


REFUSED: dict[str, tuple[Callable[[Any], object], str]] = {
    "unknown": (lambda kit: kit["rigs"]["cropped"].update(mode="wide"),
                'rigs.cropped.mode is "wide": no such sensor mode of camera "body"; it has crop, '
                "open"),
    "not named": (lambda kit: kit["rigs"]["cropped"].pop("mode"),
                  'rigs.cropped.mode: is missing: camera "body" has modes, name one of crop, open'),
    "half a size": (lambda kit: kit["cameras"]["body"].update(sensor_width="36 mm"),
                    "give sensor_height too, for sensor_width, which describe one"),
    "pixels without a size": (lambda kit: kit["cameras"]["body"].update(pixels=[6000, 4000]),
                              "give sensor_width and sensor_height too, for pixels"),
    "pixels of another ratio": (
        lambda kit: kit["cameras"]["body"]["modes"]["open"].update(pixels=[6000, 3000]),
        "cameras.body.modes.open.pixels"),
    "a mode without a height": (
        lambda kit: kit["cameras"]["body"]["modes"]["crop"].pop("sensor_height"),
        "cameras.body.modes.crop.sensor_height"),
}  # fmt: skip


@pytest.mark.parametrize("case", REFUSED)
def test_what_is_wrong_with_a_mode_is_one_sentence(case: str) -> None:
    edit, told = REFUSED[case]
    kit = two_modes()
    edit(kit)
    assert told in refusal(kit)


def test_neither_a_size_nor_a_mode() -> None:
    kit = full_kit()
    del kit["cameras"]["body"]["sensor_width"]
    del kit["cameras"]["body"]["sensor_height"]
    del kit["cameras"]["body"]["pixels"]
    del kit["cameras"]["body"]["readout_time"]
    told = "give sensor_width and sensor_height too, unless the camera has modes"
    assert told in refusal(kit)


def test_another_mode_beside_it_changes_nothing_of_a_rig() -> None:
    alone, beside = two_modes(), two_modes()
    for kit in (alone, beside):
        del kit["rigs"]["cropped"]
    del alone["cameras"]["body"]["modes"]["crop"]
    assert list(dependencies(loaded(alone), ["portrait"])) == list(
        dependencies(loaded(beside), ["portrait"])
    )


def test_a_mode_of_the_same_values_has_the_codes_of_the_bodys_own() -> None:
    own = full_kit()
    named = full_kit()
    body = named["cameras"]["body"]
    keys = ("sensor_width", "sensor_height", "pixels", "readout_time")
    body["modes"] = {"open": {key: body.pop(key) for key in keys}}
    named["rigs"]["portrait"]["mode"] = "open"
    assert codes(charts(own)["portrait"]) == codes(charts(named)["portrait"])
