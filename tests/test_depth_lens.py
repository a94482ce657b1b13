"""Depth of field from the lens as it is: its readings, its largest magnification, or neither."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from focuschart.chart.model import Chart
from focuschart.errors import KitError
from focuschart.optics.depth_of_field import Aperture, Limits, vertical_limits
from focuschart.optics.thin_lens import PLATE_SHIFT, ThinLens, effective_hiatus_mm
from focuschart.units import MM_PER_FOOT, MM_PER_INCH
from tests.command import run
from tests.kits import charts, kit_text, plain_kit

TABLES = json.loads((Path(__file__).parent / "published" / "depth_tables.json").read_text())
SUBJECTS_MM = np.array([600.0, 800.0, 1200.0, 2000.0])
GLASS_MM = 26.0
CIRCLE_MM, STOP = 0.0288, 2.8


def exact_depth(lens: ThinLens) -> Limits:
    """The limits of a thin lens with a hiatus behind glass, from its conjugates alone."""
    plate = PLATE_SHIFT * GLASS_MM
    image = lens.image_mm(SUBJECTS_MM - plate)
    return vertical_limits(
        Aperture(lens.focal_length_mm, image, STOP, CIRCLE_MM),
        lens_datum_mm=image + lens.hiatus_mm + plate,
    )


def kit_of(lens: ThinLens, *, lead: bool = True, read: bool = True) -> dict[str, Any]:
    """A kit whose taking ring was read on a lens that moves as a whole, without any error."""
    kit = plain_kit()
    kit.update(distances=["0.6 m", "0.8 m", "1.2 m", "2 m"], circle_of_confusion="0.0288 mm")
    kit["attachments"]["double"]["nearest"] = "0.5 m"
    long = kit["taking_lenses"]["long"]
    long["nearest"] = "0.6 m"
    turn = -np.pi * (64.0 + 0.2) / 32.6
    if not lead:
        del long["ring"]["lead"]
    kit["readings"] = []
    for metres in (0.6, 0.8, 1.2, 2.0, 4.0, 60.0) if read else ():
        extension = float(lens.extension_mm(1000.0 * metres - PLATE_SHIFT * GLASS_MM))
        reading = {"rig": "portrait", "distance": f"{metres} m", "stop": 2.8,
                   "taking": round(130.0 + turn * extension, 4)}  # fmt: skip
        kit["readings"].append(reading | ({"distance_error": "3 m"} if metres > 30 else {}))
    return kit


def depths_mm(limits: Limits) -> np.ndarray[Any, np.dtype[np.float64]]:
    return np.asarray(np.atleast_2d(limits.far_mm)[0] - np.atleast_2d(limits.near_mm)[0])


@pytest.mark.parametrize("lead", [True, False])
@pytest.mark.parametrize("hiatus_mm", [-27.0, 0.0, 25.0])
def test_a_fitted_lens_has_its_own_depth_of_field(hiatus_mm: float, *, lead: bool) -> None:
    """By the engraved focal length alone these are 13 % too wide and 11 % too narrow at 0.6 m."""
    lens = ThinLens(85.0, hiatus_mm)
    chart = charts(kit_of(lens, lead=lead))["portrait"]
    assert chart.lens_known_by == "readings"
    assert_allclose(depths_mm(chart.vertical), depths_mm(exact_depth(lens)), rtol=0.01)


def test_the_taking_rings_tolerance_is_that_of_the_fitted_lens() -> None:
    lens = ThinLens(85.0, 25.0)
    chart = charts(kit_of(lens))["portrait"]
    _, taking = chart.ring("taking")
    m = lens.magnification(SUBJECTS_MM - PLATE_SHIFT * GLASS_MM)
    travel = CIRCLE_MM * STOP * (1.0 + m) / (1.0 - m * m) / 2.0  # c·N·v/(f(1 − m²)), over S
    arc = travel * abs(taking.measured.scale.arc_per_travel)
    assert_allclose(taking.tolerance_mm[0], arc, rtol=0.01)


def with_magnification(nearest: str, magnification: str | None, **lens: Any) -> Chart:
    """The chart of an unread rig with little glass."""
    kit = plain_kit()
    kit["readings"] = []
    kit["distances"] = [nearest, "1 m", "5 m", "inf"]
    kit["taking_lenses"]["long"].update(
        nearest=nearest, length="40 mm", focusing="internal", front_moves=False, **lens
    )
    if magnification is not None:
        kit["taking_lenses"]["long"]["largest_magnification"] = magnification
    kit["attachments"]["double"].update(
        nearest="0.2 m", ruler_separation="40 mm", front_glass="0.5 mm", rear_glass="0.5 mm",
        length="60 mm",
    )  # fmt: skip
    return charts(kit)["portrait"]


def test_a_lens_of_life_size_is_charted_to_its_nearest_mark() -> None:
    chart = with_magnification("0.29 m", "1:1", focal_length="90 mm")
    assert chart.lens_known_by == "magnification"
    assert chart.rig.optic == ThinLens(90.0, -70.0)
    assert chart.distances_mm[0] == 290.0
    # At life size the depth of field is 4cN to each side of both, 2·c·N(1 + m)/m².
    circle = chart.rig.circle_mm
    assert_allclose(depths_mm(chart.vertical)[0], 4.0 * circle * STOP, rtol=0.01)


def test_without_its_magnification_such_a_lens_has_the_marks_a_thin_lens_has() -> None:
    kit = plain_kit()
    kit["taking_lenses"]["long"].update(focal_length="90 mm", nearest="0.29 m")
    chart = charts(kit)["portrait"]
    assert np.all(np.isfinite(chart.vertical.near_mm))


@given(
    focal_mm=st.floats(20.0, 200.0), m=st.floats(0.01, 1.0), span=st.floats(-0.3, 0.3)
)  # fmt: skip
def test_the_effective_hiatus_gives_the_magnification_at_the_nearest(
    focal_mm: float, m: float, span: float
) -> None:
    nearest = focal_mm * (2.0 + m + 1.0 / m) * (1.0 + span)
    hiatus = float(effective_hiatus_mm(nearest, focal_length_mm=focal_mm, magnification=m))
    found = ThinLens(focal_mm, hiatus).magnification(nearest * (1.0 + 1e-9) + 1e-6)
    assert_allclose(found, m, rtol=2e-3)  # at life size the slope is infinite


def test_an_unknown_lens_promises_no_more_than_nineteen_in_twenty_keep() -> None:
    """Each limit against lenses drawn from all that is known of one: f ± 2 %, hiatus ± 30 mm."""
    chart = charts(kit_of(ThinLens(85.0), read=False))["portrait"]
    assert chart.lens_known_by == "engraving"
    rng = np.random.default_rng(7)
    drawn = [
        exact_depth(ThinLens(85.0 * (1.0 + 0.02 * a), 30.0 * b))
        for a, b in rng.standard_normal((4000, 2))
    ]
    near = np.mean([one.near_mm <= chart.vertical.near_mm[0] for one in drawn], axis=0)
    far = np.mean([one.far_mm >= chart.vertical.far_mm[0] for one in drawn], axis=0)
    assert_allclose(near, 0.95, atol=0.02)
    assert_allclose(far, 0.95, atol=0.02)


# --- printed tables -------------------------------------------------------------------------------


def printed(text: str, unit: str) -> tuple[float, float]:
    """A printed limit and the unit of its last digit, mm."""
    if unit == "m":
        return 1000.0 * float(text), 10.0
    feet, _, inches = text.partition("'")
    last = MM_PER_INCH if inches else MM_PER_FOOT
    return float(feet) * MM_PER_FOOT + float(inches or 0) * MM_PER_INCH, last


def charted(name: str) -> dict[str, Any]:
    """What `chart --format json` says of an unread rig with the lens of a table."""
    table = TABLES[name]
    kit = plain_kit()
    above, _, below = table["circle"].partition("/")
    kit.update(
        distances=[f"{key} {table['unit']}" for key in table["rows"]], stops=table["stops"],
        circle_of_confusion=f"{float(above) / float(below):.6f} mm", readings=[],
    )  # fmt: skip
    kit["taking_lenses"]["long"].update(
        focal_length=f"{table['focal_length_mm']} mm", nearest=table["nearest"],
        largest_magnification=table["largest_magnification"], focusing="internal",
        front_moves=False, widest_stop=table["stops"][0],
    )  # fmt: skip
    kit["attachments"]["double"].update(nearest="0.2 m", front_glass="0.5 mm", rear_glass="0.5 mm")
    path = Path("kit.toml")
    path.write_text(kit_text(kit), encoding="utf-8")
    result = run("chart", path, "--format", "json")
    assert result.exit_code == 0, result.stderr
    found: dict[str, Any] = json.loads(result.stdout)
    return found


@pytest.mark.parametrize("name", TABLES)
def test_depth_of_field_is_that_of_printed_tables(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two entries in three within a unit of the last digit; 0.5 % in the root mean square."""
    monkeypatch.chdir(tmp_path)
    table = TABLES[name]
    marks = charted(name)["rigs"][0]["marks"]
    units_off, relative = [], []
    for row, mark in zip(table["rows"].values(), marks, strict=True):
        for stop, cell in zip(table["stops"], row, strict=True):
            for text, ours in zip(cell.split("-"), mark["depth"][f"{stop:g}"]["vertical"],
                                  strict=True):  # fmt: skip
                theirs, last = printed(text, table["unit"])
                units_off.append(abs(ours - theirs) / last)
                relative.append(ours / theirs - 1.0)
    assert np.mean(np.array(units_off) <= 1.0 + 1e-9) >= 2 / 3
    assert np.sqrt(np.mean(np.square(relative))) <= 0.005


def test_far_readings_alone_teach_nothing_of_the_lens() -> None:
    """Three of them leave the hiatus as it was supposed: limits stay rounded inward."""
    kit = kit_of(ThinLens(85.0), read=False)
    for metres in (6.0, 10.0, 20.0):
        extension = float(ThinLens(85.0).extension_mm(1000.0 * metres - PLATE_SHIFT * GLASS_MM))
        arc = round(130.0 - np.pi * 64.2 / 32.6 * extension, 4)
        kit["readings"].append(
            {"rig": "portrait", "distance": f"{metres} m", "stop": 2.8, "taking": arc}
        )
    chart = charts(kit)["portrait"]
    assert chart.taking is not None
    assert chart.lens_known_by == "engraving"


@pytest.mark.parametrize("magnification", ["1:80", "1:2", "1:1000"])
def test_a_magnification_that_no_such_lens_has_is_refused(magnification: str) -> None:
    kit = plain_kit()
    kit["taking_lenses"]["long"]["largest_magnification"] = magnification
    with pytest.raises(KitError, match=r"largest_magnification is .* about 1:8\.\d: give what"):
        charts(kit)


def test_glass_that_takes_a_mark_out_of_the_lens_s_reach_leaves_it_out(tmp_path: Path) -> None:
    kit = plain_kit()
    kit["readings"] = []
    kit["distances"] = ["0.29 m", "0.5 m", "inf"]
    kit["taking_lenses"]["long"].update(
        focal_length="90 mm", nearest="0.29 m", length="40 mm", focusing="internal",
        front_moves=False, largest_magnification="1:1",
    )  # fmt: skip
    kit["attachments"]["double"].update(nearest="0.2 m", ruler_separation="40 mm", length="70 mm")
    path = tmp_path / "kit.toml"
    path.write_text(kit_text(kit), encoding="utf-8")
    result = run("chart", path, "--format", "json")
    assert result.exit_code == 1
    data = json.loads(result.stdout)
    assert [one["what"] for one in data["left_out"]] == ["mark 290 mm"]
    assert "glass takes it out of the taking lens's reach" in data["left_out"][0]["why"]
    for mark in data["rigs"][0]["marks"]:
        for near, far in mark["depth"]["2.8"].values():
            assert far is None or near < far
