"""Charts a rig at a time: the same text as of all at once, and all of it or nothing."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from focuschart.chart.charts import build_charts
from focuschart.chart.model import Chart
from focuschart.cli import main
from focuschart.errors import InputError, LeftOut
from focuschart.kit.load import load_kit
from focuschart.report.data import CHANGED, as_json, rig_data
from focuschart.rig.laws import attachment_law
from focuschart.rig.ring import RigRing
from tests.kits import charts, kit_text, plain_kit

TWO = plain_kit()
TWO["rigs"]["second"] = {**TWO["rigs"]["portrait"], "name": 'Second "é"'}


def chart(path: Path, form: str) -> str:
    path.write_text(kit_text(TWO), encoding="utf-8")
    result = CliRunner().invoke(main, ["chart", str(path), "--format", form])
    assert result.exit_code == 0, result.output
    return result.stdout


@pytest.mark.parametrize("count", [0, 1, 2])
def test_json_made_a_rig_at_a_time_is_that_of_all_rigs(count: int) -> None:
    found = list(charts(TWO).values())[:count]
    data = {
        "format": 2,
        "changed": CHANGED,
        "rigs": [rig_data(one) for one in found],
        "left_out": [],
    }
    assert as_json(found) == json.dumps(data, indent=1) + "\n"


@pytest.mark.parametrize("form", ["text", "json", "csv"])
def test_a_large_bag_is_printed_as_a_small_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, form: str
) -> None:
    whole = chart(tmp_path / "bag.toml", form)
    monkeypatch.setattr(sys.modules["focuschart.cli.chart"], "_KEPT_BYTES", 100)
    assert chart(tmp_path / "bag.toml", form) == whole


@pytest.mark.parametrize("form", ["text", "json", "csv"])
def test_nothing_is_printed_where_the_last_rig_ends_in_an_error(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, form: str
) -> None:
    first = charts(TWO)["portrait"]

    class Broken(Iterator[Chart]):
        left_out: tuple[LeftOut, ...] = ()
        rest = iter([first])

        def __next__(self) -> Chart:
            for chart in self.rest:
                return chart
            raise InputError("cannot be read")

    path = tmp_path / "bag.toml"
    path.write_text(kit_text(TWO), encoding="utf-8")
    monkeypatch.setattr("focuschart.chart.charts.build_charts", lambda _kit, **_: Broken())
    result = CliRunner().invoke(main, ["chart", str(path), "--format", form])
    assert result.exit_code == 2
    assert result.stdout == ""
    assert "cannot be read" in result.stderr


def test_marks_follow_from_the_constants_told() -> None:
    """Of an attachment read on two lenses, whose scales lie apart by a shift each."""
    path = Path(__file__).parent.parent / "sample_kits" / "two-lenses.toml"
    kit = load_kit(path.read_text(encoding="utf-8"), source=path.name)
    shifts = []
    for one in build_charts(kit):
        told = {key: entry["value"] for key, entry in rig_data(one)["scales"]["attachment"].items()}
        law = attachment_law(one.rig.attachment)
        constants = np.array([told[prior.name] for prior in law.priors])
        share = RigRing(one.rig, "attachment").power_share(
            one.distances_mm, rig_data(one)["focus_height_mm"]
        )
        position = one.rig.glass_position_mm(one.distances_mm)
        travel = law.travel(position, constants, power_share=share).value
        shifts.append(told["lens_shift_mm"])
        arcs = told["arc_infinity_mm"] + shifts[-1] + told["arc_per_travel"] * travel
        marks = [mark["attachment"]["arc_mm"] for mark in rig_data(one)["marks"]]
        # Constants and marks are told to seven digits: 5e-7 of some 250 mm, from each.
        assert arcs == pytest.approx(marks, abs=3e-4)
    assert min(map(abs, shifts)) > 1e-3
