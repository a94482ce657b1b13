"""A measured squeeze in the kit: its derivatives, and what it does to the fit and to post."""

from __future__ import annotations

import copy
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from focuschart.chart.charts import solve
from focuschart.chart.model import Chart
from focuschart.chart.rack import positions
from focuschart.chart.solve import solve_at
from focuschart.errors import InputError, KitError
from focuschart.kit.edit import with_entries
from focuschart.kit.load import load_rigs
from focuschart.optics.attachment import MovingGroup
from focuschart.scale.laws import AttachmentLaw
from focuschart.store.squeezes import Bars, measured_bars
from tests.command import run
from tests.designs.bench import drawn_facts, noisy_readings
from tests.designs.kits import chart_of
from tests.designs.recorded import STOP, load_designs
from tests.designs.trials import MARKS_MM
from tests.kits import charts, kit_text, loaded, plain_kit
from tests.rig_truth import true_settings
from tests.sample_parts import metric

BENCH = (*map(metric, (1.0, 1.2, 1.5, 2.0, 3.0, 5.0)), metric(60.0, 3.0))
ERROR = 0.003
"""One standard deviation of a squeeze measured on a frame."""
SQUEEZE = {"rig": "portrait", "distance": "2 m", "squeeze": 1.85, "squeeze_error": ERROR}


@given(
    moving=st.sampled_from(("front", "rear")),
    front_mm=st.floats(50.0, 150.0),
    squeeze=st.floats(1.2, 2.2),
    near=st.floats(0.0, 1.0 / 900.0),
)
def test_derivatives_of_the_true_squeeze(
    moving: MovingGroup, front_mm: float, squeeze: float, near: float
) -> None:
    law = AttachmentLaw(squeeze, front_mm * (squeeze - 1.0), 11.0, moving)
    position = np.array([np.inf if near == 0.0 else 1.0 / near])
    constants = np.array([front_mm, 2.0, squeeze])
    value, gradient = law.squeeze_at(position, constants)
    assert value == pytest.approx(law.matched(position, constants).squeeze, rel=1e-14)
    for k, step in enumerate((1e-3, 1e-3, 1e-6)):
        off = step * np.eye(3)[k]
        up, down = (law.squeeze_at(position, constants + sign * off)[0] for sign in (1.0, -1.0))
        assert gradient[:, k] == pytest.approx((up - down) / (2.0 * step), rel=1e-5, abs=1e-7)


def test_at_infinity_only_the_squeeze_itself_counts() -> None:
    law = AttachmentLaw(2.0, 88.0, 11.0, "front")
    value, gradient = law.squeeze_at(np.array([np.inf]), np.array([85.0, 3.0, 1.97]))
    assert value[0] == pytest.approx(1.97, rel=1e-14)
    assert gradient[0] == pytest.approx([0.0, 0.0, 1.0], abs=1e-14)


def read_with(*squeezes: dict[str, Any]) -> Chart:
    return charts({**copy.deepcopy(plain_kit()), "squeezes": list(squeezes)})["portrait"]


def test_post_is_told_what_was_measured_and_marks_narrow() -> None:
    without, measured = read_with(), read_with(SQUEEZE)
    at = int(np.argmin(np.abs(measured.distances_mm - 2000.0)))
    assert measured.distances_mm[at] == 2000.0
    assert measured.squeeze[at] == pytest.approx(1.85, abs=2.0 * ERROR)
    assert measured.squeeze_95[at] <= 1.96 * ERROR
    assert np.all(measured.squeeze_95 < 0.5 * without.squeeze_95)
    assert without.attachment is not None
    assert measured.attachment is not None
    assert np.all(measured.attachment.arc_95_mm <= without.attachment.arc_95_mm + 1e-9)


def test_all_that_is_solved_from_a_chart_has_the_measured_squeeze() -> None:
    chart = read_with(SQUEEZE)
    racked = positions(chart, chart.distances_mm, units="metric")
    assert racked.squeeze == pytest.approx(chart.squeeze, rel=1e-12)
    assert solve_at(chart, chart.distances_mm).squeeze == pytest.approx(chart.squeeze, rel=1e-12)


def test_an_unread_attachment_holds_to_it_too() -> None:
    """The prior of S ± 3 % and a squeeze to 0.003, as two Gaussians of one number: its own."""
    chart = charts({**unread(plain_kit()), "squeezes": [SQUEEZE]})["portrait"]
    assert chart.attachment is None
    at = int(np.argmin(np.abs(chart.distances_mm - 2000.0)))
    assert chart.squeeze[at] == pytest.approx(1.85, abs=ERROR)
    assert chart.squeeze_95[at] == pytest.approx(1.96 * ERROR, rel=0.02)


def test_a_squeeze_that_cannot_be_leaves_the_entered_one() -> None:
    kit = plain_kit()
    wrong = {**kit, "squeezes": [{**SQUEEZE, "squeeze": 1.01}]}
    chart, without = (
        solve(load_rigs(kit_text(each), source="kit.toml"))[0] for each in (wrong, unread(kit))
    )
    assert chart.attachment is None
    assert "desqueezed" in str(chart.refused["attachment"])
    assert chart.squeeze == pytest.approx(without.squeeze, rel=1e-12)


def unread(kit: dict[str, Any]) -> dict[str, Any]:
    """Return a kit without readings of its attachment."""
    readings = [{k: v for k, v in each.items() if k != "attachment"} for each in kit["readings"]]
    return {**kit, "readings": readings}


def test_an_ignored_squeeze_counts_for_nothing() -> None:
    without, ignored = read_with(), read_with({**SQUEEZE, "ignore": True})
    assert ignored.squeeze == pytest.approx(without.squeeze, rel=1e-12)
    assert ignored.squeeze_95 == pytest.approx(without.squeeze_95, rel=1e-12)


@pytest.mark.statistical
def test_the_measured_squeeze_is_held_as_often_as_is_said() -> None:
    """Against the ratio of traced magnifications at 1 m, 2 m and 1 km, measured at 2 m.

    Where the rig is in focus at its stop, that is, which is not where paraxial rays meet.
    """
    ends, holds, widths = [0, 3, 7], [], []
    traced_mm = np.minimum(MARKS_MM[ends], 1e6)
    for design in load_designs()[::2]:
        noise = np.random.default_rng([97, design.number])
        true = true_settings(design.rig, traced_mm, stop=STOP).squeeze
        shown = {"distance": "2 m", "squeeze": round(float(true[1] + noise.normal(0.0, ERROR)), 5),
                 "squeeze_error": ERROR}  # fmt: skip
        readings = noisy_readings(design, BENCH, noise)
        chart = chart_of(design, readings, drawn_facts(noise), squeezes=[shown])
        holds.append(np.abs(chart.squeeze[ends] - true) <= chart.squeeze_95[ends])
        widths.append(chart.squeeze_95[ends])
    assert np.all((np.mean(holds, axis=0) >= 0.92) & (np.mean(holds, axis=0) <= 0.99))
    assert np.median(widths, axis=0)[1] < 0.006


# --- kept in the kit ------------------------------------------------------------------------------


def test_one_is_added_to_the_text_and_nothing_else_changes() -> None:
    text = kit_text(plain_kit()) + "# the end\n"
    new = with_entries(text, "squeezes", {**SQUEEZE, "photo": None})
    assert new.startswith(text)
    assert new.count("[[squeezes]]") == 1
    assert loaded(plain_kit() | {"squeezes": [SQUEEZE]}).squeezes[0].squeeze == 1.85


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ({"squeeze": 1.0}, r"squeezes\[0\].squeeze .*1: is far from the attachment's own"),
        ({"distance": "0.3 m"}, r"squeezes\[0\].distance .*focuses no nearer than"),
        ({"rig": "another"}, r"squeezes\[0\].rig .*another.*no such rig in the kit"),
        ({"squeeze_error": 0.0}, r"squeezes\[0\].squeeze_error"),
    ],
)
def test_what_cannot_be_is_refused(wrong: dict[str, Any], message: str) -> None:
    with pytest.raises(KitError, match=message):
        read_with({**SQUEEZE, **wrong})


# --- from a still, by the command -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "across", "up"),
    [
        ("99.8 mm x 100.1 mm", 0.998, 1.001),
        ("99,8 × 100,1 mm", 0.998, 1.001),
        ("9.98 cm x 3.94 in", 0.998, 1.00076),
    ],
)
def test_bars_as_typed(text: str, across: float, up: float) -> None:
    bars = measured_bars(text)
    assert (bars.across, bars.up) == pytest.approx((across, up), rel=1e-9)
    assert bars.sigma < Bars().sigma


@pytest.mark.parametrize(
    ("text", "rule"),
    [
        ("99.8 mm", "give both bars"),
        ("98 x 99 x 100", "give both bars"),
        ("99.8 mm x 1,001 mm", "could be 1.001 or 1001"),
        ("90 mm x 90 mm", "print at 100 %"),
        ("wide x high", "write a number and a unit"),
    ],
)
def test_bars_that_cannot_be(text: str, rule: str) -> None:
    with pytest.raises(InputError, match=f"^--bars is .*{rule}"):
        measured_bars(text)


@pytest.mark.parametrize(
    ("options", "rule"),
    [
        (("--bars", "100 x 100"), "--bars belongs to --squeeze"),
        (("--squeeze", "still.png", "--place"), "in place of photographs, --place"),
        (("--squeeze", "still.png"), "--squeeze needs --distance"),
        (("still.png", "--squeeze", "still.png"), "in place of photographs"),
        (("--squeeze", "still.png", "--distance", "5 cm"), "focuses no nearer than"),
        (("--squeeze", "still.png", "--distance", "inf"), "give that of the card"),
        (("--squeeze", "still.png", "--distance", "2 m"), "no JPEG or PNG picture"),
        ((), "Missing argument 'PHOTO...'"),
    ],
)
def test_what_belongs_together(tmp_path: Path, options: tuple[str, ...], rule: str) -> None:
    (tmp_path / "still.png").write_bytes(b"not a picture")
    file = tmp_path / "kit.toml"
    file.write_text(kit_text(plain_kit()), "utf-8")
    given = [str(tmp_path / each) if each == "still.png" else each for each in options]
    found = run("photo", str(file), *given)
    assert found.exit_code == 2
    assert rule in found.stderr
    assert not found.stdout
    assert file.read_text("utf-8") == kit_text(plain_kit())


def test_without_opencv_the_command_says_how_to_get_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "cv2", None)
    still, file = tmp_path / "still.png", tmp_path / "kit.toml"
    still.write_bytes(b"")
    file.write_text(kit_text(plain_kit()), "utf-8")
    found = run("photo", file, "--squeeze", still, "--distance", "2 m", "--bars", "100 x 100")
    assert found.exit_code == 2
    assert "pip install opencv-python-headless" in found.stderr
    assert found.stderr.count("\n") == 1
