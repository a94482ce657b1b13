"""The check of a rig: figures by other ways than the program's, verdicts, exit status, text, data.

All kits are invented. Their one rig, in mm from the sensor: flange 18, lens 74 long, clamp 12 and
attachment 95, so rims at 92, 104 and the foremost glass at 199; the front glass 12 thick, its
middle at 193; the rear one 88 behind it; the filter from 199 to 203. A = 88/(2 − 1), F = 176.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result
from numpy.testing import assert_allclose

import focuschart
from focuschart.chart.charts import build_charts
from focuschart.checks.picture import picture
from focuschart.checks.rig_check import RigCheck, check_rigs
from focuschart.cli import main
from focuschart.kit.load import load_kit
from focuschart.report import check_data as data
from focuschart.report.check import as_text
from focuschart.rig.assemble import assemble
from focuschart.rig.openings import openings, pupil_mm, train
from tests.kits import kit_text, loaded, plain_kit
from tests.rig_parts import changed_kit, full_kit

ROOT = Path(__file__).parent.parent
GRAVITY = 9.80665e-6  # N m for a gram on a mm (CGPM 1901)
RIG = ("rigs", "portrait")
LENS = ("taking_lenses", "long")
DOUBLE = ("attachments", "double")
Changes = Mapping[tuple[str, ...], object]
UNREAD: Changes = {("readings",): []}
"""Of a ring that was read the lens is as fitted, of one that was not as engraved: 85 mm."""


def with_(changes: Changes) -> dict[str, Any]:
    """Return the full kit with values changed, or taken away where None."""
    kit = full_kit()
    for path, value in changes.items():
        table: dict[str, Any] = kit
        for key in path[:-1]:
            table = table[key]
        if value is None:
            table.pop(path[-1], None)
        else:
            table[path[-1]] = value
    return kit


def checked(kit: Mapping[str, Any]) -> RigCheck:
    bag = loaded(kit)
    return next(check_rigs(bag, build_charts(bag)))


def run(tmp_path: Path, kit: Mapping[str, Any] | str, *more: str) -> Result:
    path = tmp_path / "kit.toml"
    path.write_text(kit if isinstance(kit, str) else kit_text(kit), encoding="utf-8")
    result = CliRunner().invoke(main, ["check", str(path), *more])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result


def spaced(text: str) -> str:
    """Return a text without its line breaks."""
    return " ".join(text.split())


def as_data(tmp_path: Path, kit: Mapping[str, Any]) -> dict[str, Any]:
    found = json.loads(run(tmp_path, kit, "--format", "json").stdout)
    rig: dict[str, Any] = found["rigs"][0]
    return rig


# --- coverage -------------------------------------------------------------------------------------

THIN: Changes = {
    (*DOUBLE, "front_glass"): "0.5 mm",
    (*DOUBLE, "rear_glass"): "0.5 mm",
    (*DOUBLE, "rear_clear_aperture"): None,
    (*DOUBLE, "front_clear_aperture"): None,
    ("clamps", "clamp", "clear_aperture"): None,
    ("filters", "clear", "clear_aperture"): None,
    ("deliveries",): None,
    ("readings",): [],
}
"""Glass so thin that it neither shifts nor clips; no opening known, until a test gives one. The
middle of the front glass is at 198.75, that of the rear one at 110.75."""


_P, _Q = (grid[np.hypot(*np.meshgrid(*[np.linspace(-1.0, 1.0, 1501)] * 2)) <= 1.0]
          for grid in np.meshgrid(*[np.linspace(-1.0, 1.0, 1501)] * 2))  # fmt: skip
"""Points that each stand for the same area of the pupil, a unit disc."""


def image_mm(distance: float, glass: float) -> float:
    """Return v of the 85 mm lens by 1/u + 1/v = 1/f, u + v = D less the plate shift."""
    if math.isinf(distance):
        return 85.0
    span = distance - 0.36 * glass
    return span / 2.0 * (1.0 - math.sqrt(1.0 - 4.0 * 85.0 / span))


@pytest.mark.parametrize("pupil", [30.0, 60.0])
def test_a_clamp_clips_at_both_its_rims(pupil: float) -> None:
    """Before the glass nothing bends: rays from the pupil past 92 and 104 mm, all carried alike."""
    path, radius = ("clamps", "clamp", "clear_aperture"), 14.0
    kit = with_({**THIN, path: f"{2.0 * radius} mm", (*LENS, "entrance_pupil"): f"{pupil} mm"})
    covered = checked(kit).coverage
    assert not isinstance(covered, tuple)
    for i, stop in enumerate((1.8, 2.8, 5.6)):
        for j, distance in enumerate((math.inf, 1200.0)):
            image, clear = image_mm(distance, 1.0), np.ones(_P.shape, bool)
            for way in (92.0 - pupil, 104.0 - pupil):
                beam = 85.0 / (2.0 * stop) * (1.0 - (1.0 / 85.0 - 1.0 / image) * way)
                x, y = 18.0 * way / image, 12.0 * way / image
                clear &= np.hypot(x + beam * _P, y + beam * _Q) <= radius
            assert 0.0 < np.mean(clear) < 1.0
            assert_allclose(covered.passed[i, j], np.mean(clear), atol=2e-3)
    assert covered.working == 1


def test_a_filter_clips_at_both_its_rims() -> None:
    """At infinity: x = (X/f)(e + d − de/F + S·r), y = (Y/f)(e + d + r), semi-axes a/S and a."""
    path, radius = ("filters", "clear", "clear_aperture"), 27.0
    found = checked(with_({**THIN, path: f"{2.0 * radius} mm"}))
    assert not isinstance(found.coverage, tuple)
    e, d, a, clear = 110.75 - 60.0, 88.0, 85.0 / 5.6, np.ones(_P.shape, bool)
    for ahead in (199.0 - 198.75, 203.0 - 198.75):
        x = 18.0 / 85.0 * (e + d - d * e / 176.0 + 2.0 * ahead)
        y = 12.0 / 85.0 * (e + d + ahead)
        clear &= np.hypot(x + a / 2.0 * _P, y + a * _Q) <= radius
    assert 0.1 < np.mean(clear) < 0.9
    assert_allclose(found.coverage.passed[1, 0], np.mean(clear), atol=0.01)


def test_openings_known_in_part_are_counted_and_the_others_named() -> None:
    found = checked(with_({**THIN, ("clamps", "clamp", "clear_aperture"): "40 mm"}))
    assert not isinstance(found.coverage, tuple)
    assert found.coverage.missing == (
        "attachments.double.rear_clear_aperture",
        "attachments.double.front_clear_aperture",
        "filters.clear.clear_aperture",
    )
    assert checked(with_({(*LENS, "entrance_pupil"): None})).coverage == (
        "taking_lenses.long.entrance_pupil",
    )


def test_a_filter_behind_one_of_unknown_thickness_is_not_placed() -> None:
    kit = with_({("filters", "clear", "thickness"): None, (*RIG, "front"): ["clear", "second"]})
    kit["filters"]["second"] = {"name": "Second", "clear_aperture": "72 mm", "thickness": "4 mm"}
    covered = checked(kit).coverage
    assert not isinstance(covered, tuple)
    assert covered.missing == ("filters.clear.thickness",)


def test_a_chain_that_nothing_places_names_the_length_that_would() -> None:
    kit = with_({
        (*RIG, "front_vertex"): "199 mm", (*LENS, "length"): None, (*DOUBLE, "length"): None,
        (*RIG, "front"): None,
    })  # fmt: skip
    covered = checked(kit).coverage
    assert not isinstance(covered, tuple)
    assert covered.missing == ("attachments.double.length",)


@pytest.mark.parametrize("front_moves", [True, False])
def test_the_pupil_moves_with_a_lens_that_extends(front_moves: bool) -> None:
    """The lens goes forward by v − f; a front that stands still lets the pupil come nearer."""
    rig = assemble(loaded(with_({(*LENS, "front_moves"): front_moves})), "portrait")
    distances = np.array([math.inf, 1200.0])
    pupil, stands = pupil_mm(rig, distances), train(rig, distances)
    assert pupil is not None
    assert stands is not None
    moved = image_mm(1200.0, 26.0) - 85.0
    assert_allclose(pupil, [60.0, 60.0 + moved])
    nearer = 0.0 if front_moves else moved
    # The middle of the rear glass is at 193 − 88, whatever the law's offset.
    assert_allclose(stands.pupil_to_rear_mm, [45.0, 45.0 - nearer])
    assert_allclose(np.asarray(stands.separation_mm)[0], 88.0)


def test_the_pupil_of_a_lens_that_focuses_inside_stays() -> None:
    kit = with_({(*LENS, "focusing"): "internal", (*LENS, "front_moves"): False})
    pupil = pupil_mm(assemble(loaded(kit), "portrait"), np.array([np.inf, 1200.0]))
    assert pupil is not None
    assert_allclose(pupil, 60.0)


def test_a_rear_group_that_moves_leaves_the_clamp_behind() -> None:
    """The barrel, and so the clamp, stays; the rear glass goes forward by what the groups close."""
    bag = loaded(with_({**THIN, (*DOUBLE, "moving_group"): "rear",
                        ("clamps", "clamp", "clear_aperture"): "60 mm"}))  # fmt: skip
    rig, distances = assemble(bag, "portrait"), np.array([math.inf, 1200.0])
    stands = train(rig, distances)
    assert stands is not None
    rear, separation = (np.asarray(x) for x in (stands.pupil_to_rear_mm, stands.separation_mm))
    assert_allclose(rear[1] - rear[0], 88.0 - separation[1])
    assert separation[1] < 85.0
    places = [rear + aperture.ahead_mm for aperture in openings(bag, rig, distances).apertures]
    assert_allclose(places, [[32.0, 32.0], [44.0, 44.0]])  # 92 and 104 from the pupil at 60


def test_a_crop_may_be_lit_where_the_sensor_is_black(tmp_path: Path) -> None:
    dark: Changes = {(*LENS, "entrance_pupil"): "20 mm", (*DOUBLE, "rear_clear_aperture"): "16 mm"}
    lit = with_({**dark, ("deliveries",): ["1"]})
    assert run(tmp_path, lit).exit_code == 0, run(tmp_path, lit).stdout
    assert "corner of the sensor mode is black" in run(tmp_path, lit).stdout
    assert run(tmp_path, with_({**dark, ("deliveries",): None})).exit_code == 1
    corners = as_data(tmp_path, lit)["coverage"]["corners"]
    assert [corner["name"] for corner in corners] == ["sensor mode", "1"]
    assert corners[0]["light"][1][0] < 1.0 / 32.0 < corners[1]["light"][1][0]


# --- load -----------------------------------------------------------------------------------------


def test_mass_balance_and_moments(tmp_path: Path) -> None:
    """By hand: masses and places of camera, lens, clamp, attachment, filter, support."""
    masses = np.array([700.0, 400.0, 100.0, 800.0, 30.0, 150.0])
    places = np.array([-5.0, 58.0, 98.0, 154.0, 201.0, 140.0])
    load = as_data(tmp_path, full_kit())["load"]
    assert_allclose(load["mass_g"], masses.sum())
    assert_allclose(load["centre_mm"], masses @ places / masses.sum())
    assert_allclose(load["plate_mm"], load["centre_mm"] - 10.0)
    assert_allclose(load["payload_margin_g"], 4000.0 - masses.sum())
    front = slice(1, 5)
    mount = GRAVITY * masses[front] @ (places[front] - 18.0)
    assert_allclose(load["sections"][0]["hanging_nm"], mount, atol=1e-6)
    more = GRAVITY * masses[2:5] @ (places[2:5] - 48.0)
    support = more / 0.092
    assert_allclose(load["sections"][0]["right_nm"], mount - support * 0.122, atol=1e-6)
    assert_allclose(load["sections"][0]["lifting_nm"], mount - support * 0.244, atol=1e-6)
    assert_allclose(load["support_n"], support, rtol=1e-6)
    assert_allclose(load["mount_n"], 9.80665e-3 * masses[front].sum() - support, rtol=1e-5)
    bare = GRAVITY * 400.0 * (58.0 - 48.0)
    assert load["sections"][1]["place"] == "helicoid"
    assert_allclose(load["sections"][1]["hanging_nm"], bare + more, atol=1e-6)
    assert_allclose(load["sections"][1]["right_nm"], bare, atol=1e-6)
    assert_allclose(load["sections"][1]["lifting_nm"], bare - more, atol=1e-6)


def test_a_unit_that_is_asked_for_stands_20_mm_before_all(tmp_path: Path) -> None:
    assert as_data(tmp_path, full_kit())["load_with_front_unit"] is None
    found = as_data(tmp_path, with_({(*RIG, "support"): None, (*RIG, "front_unit"): "600 g"}))
    bare, more = (
        found[key]["sections"][0]["hanging_nm"] for key in ("load", "load_with_front_unit")
    )
    assert found["load_with_front_unit"]["front_unit_g"] == 600.0
    assert_allclose(more - bare, GRAVITY * 600.0 * (203.0 + 20.0 - 18.0), atol=1e-6)


def test_what_a_front_unit_overloads_cannot_work(tmp_path: Path) -> None:
    near: Changes = {("carriers", "head", "payload"): "2.5 kg"}
    result = run(tmp_path, with_({**near, (*RIG, "front_unit"): "600 g"}))
    assert result.exit_code == 1
    assert "! with 600 g more in front: the rig weighs 2.78 kg" in result.stdout
    assert "bending moment, N m, 600 g more" in result.stdout
    assert "more" not in run(tmp_path, with_(near)).stdout


def test_a_mass_not_known_leaves_the_known_ones_told(tmp_path: Path) -> None:
    """2.18 kg without the clamp's 100 g."""
    unknown: Changes = {("clamps", "clamp", "mass"): None}
    assert as_data(tmp_path, with_(unknown))["load"]["mass_g"] is None
    assert "weighs at least 2.08 kg" in spaced(run(tmp_path, with_(unknown)).stdout)


def test_what_is_known_may_pass_a_limit_by_itself(tmp_path: Path) -> None:
    """1.28 N m at the mount without the clamp's 100 g, which can only add to it."""
    unknown: Changes = {
        ("clamps", "clamp", "mass"): None,
        ("cameras", "body", "mount_moment_limit"): "1.2 N m",
    }
    supported = run(tmp_path, with_(unknown))
    assert supported.exit_code == 0
    assert "the bending moment is at least 1.28 N m unsupported" in spaced(supported.stdout)
    assert "≥ 1.28" in supported.stdout
    alone = run(tmp_path, with_({**unknown, (*RIG, "support"): None}))
    assert alone.exit_code == 1
    assert "bending moment at least 1.28 N m, its stated limit is 1.20 N m" in spaced(alone.stdout)


def test_an_unknown_lens_may_hang_behind_its_helicoid(tmp_path: Path) -> None:
    """So that its mass may relieve the helicoid, and nothing is said of what is known alone."""
    unknown: Changes = {
        **dict.fromkeys([(*LENS, "mass"), (*LENS, "centre_of_gravity"), (*RIG, "support")]),
        (*LENS, "helicoid_moment_limit"): "0.1 N m",
    }
    section = as_data(tmp_path, with_(unknown))["load"]["sections"][1]
    assert section["least_nm"] is None
    assert section["verdict"] == "cannot tell"


def test_only_the_support_keeps_a_moment_within_its_limit(tmp_path: Path) -> None:
    """0.964 N m unsupported, 0.039 rightly set, 0.886 the other way raised too hard."""
    result = run(tmp_path, with_({(*LENS, "helicoid_moment_limit"): "0.9 N m"}))
    assert result.exit_code == 0
    assert (
        "caution: helicoid: never without the support, rightly set: the bending moment is 0.96 N m "
        "unsupported, its stated limit 0.90 N m"
    ) in spaced(result.stdout)
    assert "raised until the focus ring turns as freely as without" in spaced(result.stdout)
    both = run(tmp_path, with_({(*LENS, "helicoid_moment_limit"): "0.5 N m"}))
    assert both.exit_code == 0
    assert "0.96 N m unsupported and 0.89 N m with it raised too hard" in spaced(both.stdout)
    alone: Changes = {(*LENS, "helicoid_moment_limit"): "0.9 N m", (*RIG, "support"): None}
    assert run(tmp_path, with_(alone)).exit_code == 1


# --- reach and picture ----------------------------------------------------------------------------


def true_squeeze(distance: float) -> float:
    """Return S(D) of the unread attachment."""
    return squeezed(distance)


def squeezed(
    distance: float, *, front: float = 88.0, offset: float = 0.18 * 12.0, s: float = 2.0
) -> float:
    """Return S(D) by bisection of A s/(A + s) + d = F L/(F + L).

    The rear group stays: L is to the front glass, less the offset, and A(S − 1) beyond.
    """
    reach = distance - 193.0 - (image_mm(distance, 26.0) - 85.0) + front * (s - 1.0) - offset
    target = s * front * reach / (s * front + reach)
    low, high = 0.0, front * (s - 1.0)
    for _ in range(100):
        d = (low + high) / 2.0
        before = reach - d
        low, high = (d, high) if front * before / (front + before) + d < target else (low, d)
    return s * (front + reach - d) / (s * front + reach)


def test_squeeze_for_post_and_frame_at_a_mark(tmp_path: Path) -> None:
    picture = as_data(tmp_path, with_({("readings",): []}))["picture"]
    assert picture["distances_mm"] == [1200.0, 2000.0, 5000.0, None]
    expected = [true_squeeze(distance) for distance in (1200.0, 2000.0, 5000.0)]
    assert_allclose(picture["squeeze"], [*expected, 2.0], atol=1e-6)
    assert_allclose(picture["widening_percent"][1], 100.0 * (2.0 / expected[1] - 1.0), atol=1e-4)
    scope, video = picture["deliveries"]
    image = image_mm(2000.0, 26.0)
    enlarged = (2000.0 - 0.36 * 26.0 - image) / image
    assert_allclose(scope["sensor_width_mm"], 2.39 * 24.0 / np.array([*expected, 2.0]), rtol=1e-6)
    assert_allclose(scope["frame_width_mm"][1], 2.39 * 24.0 * enlarged, rtol=1e-6)
    assert_allclose(scope["frame_height_mm"][1], 24.0 * enlarged, rtol=1e-6)
    assert scope["frame_width_mm"][-1] is None
    # 6000 × 4000 pixels, wider by the mark's squeeze in post; to the nearest even number.
    wide = [2 * round(3000.0 * factor) for factor in [*expected, 2.0]]
    assert picture["pixels"] == [[columns, 4000] for columns in wide]
    assert scope["width_px"] == [9560] * 4
    assert scope["height_px"] == [4000] * 4
    assert scope["left_px"] == [(columns - 9560) // 2 for columns in wide]
    assert video["width_px"] == [7112] * 4
    assert picture["desqueeze"] == picture["squeeze"]
    assert picture["one_factor"] is None


def test_every_frame_has_its_ratio_at_every_mark(tmp_path: Path) -> None:
    """A 2.39 picture finished as advised shows 2.39:1 of the subject; by one factor it does not."""
    own, one = (
        as_data(tmp_path, with_({(*RIG, "desqueeze"): factor}))["picture"] for factor in (None, 2.0)
    )
    for shown, squeeze in ((own, own["squeeze"]), (one, [2.0] * 4)):
        assert shown["desqueeze"] == squeeze
        for each, ratio in zip(shown["deliveries"], (2.39, 16.0 / 9.0), strict=True):
            true = np.array(own["squeeze"][:3]) / squeeze[:3]
            frames = [np.array(each[f"frame_{side}_mm"][:3]) for side in ("width", "height")]
            assert_allclose(frames[0] / frames[1], ratio * true, rtol=1e-5)
    assert [own["widened_by"], one["widened_by"], one["one_factor"]] == [2.0, 2.0, 2.0]
    text = spaced(run(tmp_path, with_({(*RIG, "desqueeze"): 1.9})).stdout)
    assert "desqueezed, all by 1.9: 2.85:1, 11400 × 4000 pixels" in text
    assert "too wide at 1.9×" in text


@pytest.mark.parametrize("factor", [1.0, 3.5, "2"])
def test_a_factor_out_of_reach_is_refused(tmp_path: Path, factor: object) -> None:
    result = run(tmp_path, with_({(*RIG, "desqueeze"): factor}))
    assert result.exit_code == 2
    assert "rigs.portrait.desqueeze" in result.stderr


def test_the_squeeze_comes_with_its_own_95(tmp_path: Path) -> None:
    """Unread, S is known to 3 %: at infinity 1.96 · 3 % of 2, and little else nearer."""
    picture = as_data(tmp_path, with_({("readings",): []}))["picture"]
    assert_allclose(picture["squeeze_95"][-1], 1.96 * 0.06, rtol=1e-3)
    # From priors: A ± 20 %, δ ± 5 mm, S ± 3 %, each by its own on S(D) by bisection.
    parts = []
    for key, value in (("front", 88.0 * 1.001), ("offset", 0.18 * 12.0 + 0.01), ("s", 2.0 * 1.001)):
        moved = squeezed(1200.0, **{key: value})
        step = {"front": 0.088, "offset": 0.01, "s": 0.002}[key]
        sigma = {"front": 0.2 * 88.0, "offset": 5.0, "s": 0.06}[key]
        parts.append((moved - true_squeeze(1200.0)) / step * sigma)
    assert_allclose(picture["squeeze_95"][0], 1.96 * math.hypot(*parts), rtol=2e-3)
    text = run(tmp_path, with_({("readings",): []})).stdout
    assert "2.00 ± 0.12" in text


def test_without_deliveries_the_whole_frame_is_shown(tmp_path: Path) -> None:
    picture = as_data(tmp_path, with_({("deliveries",): None}))["picture"]
    (whole,) = picture["deliveries"]
    assert [whole["sensor_width_mm"], whole["sensor_height_mm"]] == [[36.0] * 4, [24.0] * 4]
    assert [whole["width_px"][-1], whole["height_px"][-1]] == [12000, 4000]


def test_pans_are_of_the_delivered_picture(tmp_path: Path) -> None:
    """One width of the 2.39 picture in 7 s: 2 atan(S W/2f)/7; 18 ms for 24 mm of rows.

    At infinity; nearer the angle of the frame there, seen from the sensor, and its swing.
    """
    pans = as_data(tmp_path, with_(UNREAD))["picture"]["pans"]
    rate = 2.0 * math.atan(2.39 * 24.0 / 2.0 / 85.0) / 7.0
    rates, leans, plain = (
        np.array(pans[key]) for key in ("rate_rad_s", "lean_rad", "spherical_lean_rad")
    )
    assert_allclose(rates[:, -1], [rate, 2.0 * rate, 4.0 * rate], atol=1e-6)
    assert_allclose(leans[0, -1], math.atan(rate * 85.0 * 0.018 / 24.0), atol=1e-6)
    assert_allclose(plain[0, -1], math.atan(rate * 42.5 * 0.018 / 24.0), atol=1e-6)
    assert pans["delivery"] == "2.39"
    picture = as_data(tmp_path, with_(UNREAD))["picture"]
    wide, high = (picture["deliveries"][0][f"frame_{side}_mm"][0] for side in ("width", "height"))
    near = 2.0 * math.atan(wide / 2.0 / 1200.0) / 7.0
    assert_allclose(rates[0, 0], near, atol=1e-6)
    shift = near * 1200.0 * 24.0 / high * 0.018 / 24.0
    assert_allclose(leans[0, 0], math.atan(shift), atol=1e-6)
    assert_allclose(plain[0, 0], math.atan(shift / picture["squeeze"][0]), atol=1e-6)
    assert "24 frames/s and a 180° shutter" in spaced(run(tmp_path, full_kit()).stdout)


def test_the_samples_pans_at_a_metre() -> None:
    """Worked by hand for the 85 mm at 1 m, 5.3° a second, 24 ms for 24 mm of rows.

    u + v = 1000 − 0.36 · 25 = 991 gives v/u = 0.1046; 0.0925 · 104.6 · 24 ms/24 mm is 0.56°, and
    by 2 in place of 1.704 0.65°. The frame there is 0.549 m wide: 2 atan(0.549/2)/7 s = 4.4°/s.
    """
    text = (ROOT / "sample_kits" / "two-lenses.toml").read_text(encoding="utf-8")
    one = text.replace('front = ["clear"]', 'front = ["clear"]\ndesqueeze = 2', 1)
    rates, leans = [], []
    for kit in (text, one):
        bag = load_kit(kit, source="kit.toml")
        (chart,) = build_charts(bag, only=["portrait-85"])
        pans = picture(chart).pans
        assert pans is not None
        rates.append(np.degrees(pans.rate_rad_s[0, 0]))
        share = math.radians(5.327) / pans.rate_rad_s[0, 0]
        leans.append(math.degrees(math.atan(share * math.tan(pans.lean_rad[0, 0]))))
    assert_allclose(leans, [0.56, 0.65], atol=0.006)
    assert_allclose(rates[0], 4.4, atol=0.05)


def test_the_fastest_pan_leans_as_far_as_is_allowed(tmp_path: Path) -> None:
    """tan 1° = rate · 85 mm · 18 ms / 24 mm, by hand."""
    kit = with_(UNREAD) | {"lean_limit": "1 deg"}
    pans = as_data(tmp_path, kit)["picture"]["pans"]
    assert_allclose(pans["lean_limit_rad"], math.radians(1.0), atol=1e-6)
    fastest = math.tan(math.radians(1.0)) * 24.0 / 1.53
    assert_allclose(pans["fastest_rad_s"][-1], fastest, atol=1e-6)
    assert pans["fastest_rad_s"][0] < fastest
    assert "lean 1°, the limit, at 15.6° a second" in spaced(run(tmp_path, kit).stdout)
    still = as_data(tmp_path, full_kit())["picture"]["pans"]
    assert still["lean_limit_rad"] is still["fastest_rad_s"] is None
    kit["cameras"]["body"]["readout_time"] = "0 ms"
    assert "no pan makes upright edges lean" in spaced(run(tmp_path, kit).stdout)
    assert as_data(tmp_path, kit)["picture"]["pans"]["fastest_rad_s"] == [None] * 4


def test_deliveries_may_be_named(tmp_path: Path) -> None:
    """DCI, Digital Cinema System Specification: 4096 by 1716 and 3996 by 2160."""
    kit = full_kit() | {"deliveries": ["scope", "flat"]}
    scope, flat = as_data(tmp_path, kit)["picture"]["deliveries"]
    assert [scope["name"], flat["name"]] == ["scope", "flat"]
    assert_allclose(scope["sensor_width_mm"][-1], 24.0 * 4096.0 / 1716.0 / 2.0, atol=1e-6)
    assert_allclose(flat["sensor_width_mm"][-1], 24.0 * 3996.0 / 2160.0 / 2.0, atol=1e-6)
    assert "frame scope" in run(tmp_path, kit).stdout


def test_a_close_up_lens_shows_a_metre_before_the_glass_at_infinity(tmp_path: Path) -> None:
    table = as_data(tmp_path, with_(UNREAD))["reach"]["close_up_lenses"][0]
    assert not table["mounted"]
    assert_allclose(table["subject_mm"][-1], 199.0 + 1000.0)
    assert_allclose(table["frame_height_mm"][-1], 24.0 * 1000.0 / 85.0, rtol=1e-6)
    # At 1.2 m the lens carries the glass out, and the front group has come back in.
    near = checked(with_(UNREAD))
    place = near.reach.close_ups[0].close_up.subject_mm[0]
    glass = 199.0 + image_mm(1200.0, 26.0) - 85.0 - closed_by(1200.0)
    assert_allclose(place, glass + 1.0 / (1e-3 + 1.0 / (1200.0 - glass)), atol=1e-6)


def closed_by(distance: float) -> float:
    """Return 88 − d from S(D) = 2(88 + s)/(176 + L)."""
    reach = distance - 193.0 - (image_mm(distance, 26.0) - 85.0) + 88.0 - 0.18 * 12.0
    return 88.0 - (reach + 88.0 - true_squeeze(distance) * (176.0 + reach) / 2.0)


def test_a_close_up_lens_on_the_rig_is_said_to_change_the_marks(tmp_path: Path) -> None:
    kit = with_({(*RIG, "front"): ["clear", "plus"]})
    found = as_data(tmp_path, kit)
    assert [table["mounted"] for table in found["reach"]["close_up_lenses"]] == [True]
    assert any("nearer than the marks say" in caution for caution in found["cautions"])
    assert not any("nearer than" in text for text in as_data(tmp_path, full_kit())["cautions"])


# --- verdicts -------------------------------------------------------------------------------------

FAULTS: dict[str, tuple[Changes, str]] = {
    "mount": ({("cameras", "body", "mount"): "screw"}, "the mounts are screw and bayonet"),
    "thread": ({("clamps", "clamp", "thread"): "72 mm x 0.75"}, "72 mm x 0.75 does not screw into"),
    "clamp": ({("clamps", "clamp", "bore"): "62 mm"}, "too tight"),
    "payload": (
        {("carriers", "head", "payload"): "2 kg"},
        "the rig weighs 2.18 kg, the payload of what carries it is 2 kg",
    ),
    "payload, a mass unknown": (
        {("carriers", "head", "payload"): "1 kg", ("clamps", "clamp", "mass"): None},
        "the rig weighs 2.08 kg or more",
    ),
    "plate": (
        {("carriers", "head", "plate_range"): ["-40 mm", "50 mm"]},
        "the rig balances +72 mm from the tripod thread, the plate reaches from -40 to +50 mm",
    ),
    "mount moment": (
        {("cameras", "body", "mount_moment_limit"): "1 N m", (*RIG, "support"): None},
        "lens mount: bending moment 1.36 N m, its stated limit is 1.00 N m",
    ),
    "helicoid moment": (
        {(*LENS, "helicoid_moment_limit"): "0.03 N m"},
        "helicoid: bending moment 0.04 N m even with the support rightly set, its stated limit is "
        "0.03 N m",
    ),
    "black corner": (
        {(*LENS, "entrance_pupil"): "0 mm", (*DOUBLE, "rear_clear_aperture"): "10 mm"},
        "the corner of the 2.39 picture is black at f/2.8, f/5.6, focused from the nearest mark to "
        "infinity",
    ),
}


@pytest.mark.parametrize(("changes", "told"), FAULTS.values(), ids=FAULTS)
def test_each_fault_is_named_first_and_ends_with_status_1(
    tmp_path: Path, changes: Changes, told: str
) -> None:
    result = run(tmp_path, with_(changes))
    assert result.exit_code == 1
    lines = result.stdout.splitlines()
    assert lines[0] == "Portrait (portrait): cannot work as it is"
    assert lines[1].startswith("  ! ")
    assert told in " ".join(line.strip() for line in lines[: lines.index("Fit")])
    found = run(tmp_path, with_(changes), "--format", "json")
    assert found.exit_code == 1
    rig = json.loads(found.stdout)["rigs"][0]
    assert rig["works"] is False
    assert any(told in fault for fault in rig["faults"])


FEW = with_({})["readings"][:2]
TORN = [{**reading, "attachment": 30.0 + 9.0 * (i % 2)} if i else reading
        for i, reading in enumerate(with_({})["readings"])]  # fmt: skip


@pytest.mark.parametrize(("readings", "why"), [
    (FEW, "attachments.double (readings): 2 different distances read, the fit needs 3"),
    ([], "taking_lenses.long: no readings; attachments.double: no readings"),
])  # fmt: skip
def test_readings_that_give_no_marks_do_not_stop_the_check(
    tmp_path: Path, readings: list[dict[str, Any]], why: str
) -> None:
    """Only marks and a fitted squeeze need them, so the squeeze is that of the entered values."""
    kit = with_({("readings",): readings})
    result = run(tmp_path, kit)
    assert result.exit_code == 0
    assert why in spaced(result.stdout)
    found = as_data(tmp_path, kit)
    assert len(found["marks_missing"]) == 2
    expected = [true_squeeze(distance) for distance in (1200.0, 2000.0, 5000.0)]
    assert_allclose(found["picture"]["squeeze"][:3], expected, atol=1e-6)
    assert as_data(tmp_path, full_kit())["marks_missing"] == []


def test_readings_that_disagree_do_not_stop_the_check(tmp_path: Path) -> None:
    kit = full_kit() | {"readings": TORN}
    result = run(tmp_path, kit)
    assert result.exit_code == 0, result.stderr
    assert "marks (squeeze is as entered): attachments.double (readings)" in spaced(result.stdout)


def test_parts_that_do_not_add_up_to_the_whole_are_told(tmp_path: Path) -> None:
    """18 + 74 + 12 + 95 = 199 mm."""
    told = "front_vertex is 230 mm, but its parts add up to 199 mm"
    assert told in spaced(run(tmp_path, with_({(*RIG, "front_vertex"): "230 mm"})).stdout)
    for measured in ("196 mm", None):
        text = spaced(run(tmp_path, with_({(*RIG, "front_vertex"): measured})).stdout)
        assert "add up to" not in text


def test_texts_name_parts_and_not_their_ids(tmp_path: Path) -> None:
    text = run(tmp_path, with_({(*DOUBLE, "name"): "Brass", (*DOUBLE, "nearest"): "1.1 m"})).stdout
    assert 'nearest subject 1.1 m from the sensor, by attachment "Brass"' in text


def test_what_is_not_counted_is_said(tmp_path: Path) -> None:
    assert "not counted: the front rim's lead over the foremost glass" in spaced(
        run(tmp_path, full_kit()).stdout
    )


@pytest.mark.parametrize(
    ("pupil", "clear", "where"),
    [
        ("20 mm", "24 mm", "from the nearest mark to infinity"),
        ("20 mm", "26 mm", "at the nearest mark"),
        ("40 mm", "24 mm", ""),
    ],
)
def test_a_corner_black_at_any_stop_of_the_kit_and_any_mark_is_a_fault(
    tmp_path: Path, pupil: str, clear: str, where: str
) -> None:
    """At f/5.6, which is not the working stop; less than 1/32 of the light of the middle."""
    kit = with_({(*LENS, "entrance_pupil"): pupil, (*DOUBLE, "rear_clear_aperture"): clear})
    told = f"the corner of the 2.39 picture is black at f/5.6, focused {where}"
    assert run(tmp_path, kit).exit_code == (1 if where else 0)
    found = as_data(tmp_path, kit)
    assert found["works"] is not bool(where)
    assert found["faults"] == ([told] if where else [])
    light = np.array(found["coverage"]["delivered"][0]["light_at_marks"])
    assert np.any(light[2] < 1.0 / 32.0) == bool(where)
    assert np.all(light[:2] > 1.0 / 32.0)
    # The same as in the table of infinity and the nearest mark, by the mark's own crop.
    table = np.array(found["coverage"]["corners"][1]["light"])
    assert_allclose(table, light[:, [-1, 0]], atol=1e-6)


def test_a_stop_that_the_kit_does_not_ask_for_is_no_fault(tmp_path: Path) -> None:
    kit = with_({(*LENS, "entrance_pupil"): "20 mm", (*DOUBLE, "rear_clear_aperture"): "24 mm"})
    assert run(tmp_path, kit | {"stops": [2.8]}).exit_code == 0


def test_a_mark_between_may_be_the_black_one(tmp_path: Path) -> None:
    """Infinity and the nearest mark do not suffice: pupil, glass and squeeze move against another.

    So every mark is looked at; here one is added to a rig that is black there alone.
    """
    kit = with_({
        (*LENS, "entrance_pupil"): "20 mm", (*DOUBLE, "rear_clear_aperture"): "26 mm",
        (*RIG, "distances"): ["2 m", "inf"],
    })  # fmt: skip
    assert run(tmp_path, kit).exit_code == 0
    kit["rigs"]["portrait"]["distances"] = ["1.2 m", "2 m", "inf"]
    assert run(tmp_path, kit).exit_code == 1


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({(*DOUBLE, "mass"): "-800 g"}, 'mass is "-800 g": must be between 0 g and 50 kg'),
        ({(*RIG, "chain"): ["clamp", "clamp"]}, 'names "clamp" 2 times'),
        ({(*RIG, "chain"): ["double"]}, 'chain[0] is "double": no such part'),
        ({(*RIG, "front"): ["clear", "long"]}, 'front[1] is "long": no such part'),
        ({("supports", "rods", "position"): "300 mm"}, "and behind 199 mm, its front"),
        ({("cameras", "body", "pixels"): [6000, 3880]}, "must have the sensor's ratio"),
        ({("deliveries",): ["scope", "scope"]}, '"scope" and "scope": keep one'),
        ({("lean_limit",): 1}, 'must be quoted text with a unit, for example "1 deg"'),
        ({("lean_limit",): "90 deg"}, "must be between 0.01 deg and 45 deg"),
    ],
)
def test_each_contradiction_gets_one_clear_sentence(
    tmp_path: Path, changes: Changes, told: str
) -> None:
    result = run(tmp_path, with_(changes))
    assert result.exit_code == 2
    assert told in result.stderr
    assert len(result.stderr.strip().splitlines()) == 1


def test_pixels_may_be_two_per_cent_off_the_sensors_ratio(tmp_path: Path) -> None:
    assert run(tmp_path, with_({("cameras", "body", "pixels"): [6000, 3940]})).exit_code == 0


def test_a_missing_ring_is_on_the_shopping_list(tmp_path: Path) -> None:
    kit = with_({("clamps", "clamp", "thread"): "72 mm x 0.75"})
    want = "67 to 72 mm step-up ring, 0.75 mm pitch"
    assert f"To get\n  {want} (for Portrait)" in run(tmp_path, kit).stdout
    shopping = json.loads(run(tmp_path, kit, "--format", "json").stdout)["shopping_list"]
    assert shopping == {want: ["portrait"]}


def facts() -> Iterator[tuple[str, ...]]:
    """Yield every fact of the full kit that the plain one does without."""
    plain = plain_kit()
    for section, tables in full_kit().items():
        for part, keys in tables.items() if isinstance(tables, dict) else ():
            known = plain.get(section, {}).get(part, {"name", "position", "power"})
            yield from ((section, part, key) for key in keys if key not in known)


@pytest.mark.parametrize("path", list(facts()), ids=".".join)
def test_a_fact_that_is_not_given_is_no_fault(tmp_path: Path, path: tuple[str, ...]) -> None:
    result = run(tmp_path, changed_kit(*path, to=None))
    assert result.exit_code == 0, result.stdout
    assert "!" not in result.stdout


@pytest.mark.parametrize(
    ("changes", "gone"),
    [
        (FAULTS["thread"][0], (*LENS, "front_thread")),
        (FAULTS["clamp"][0], (*DOUBLE, "barrel_diameter")),
        (FAULTS["plate"][0], ("cameras", "body", "tripod_thread")),
        (FAULTS["plate"][0], ("clamps", "clamp", "mass")),
        (FAULTS["helicoid moment"][0], (*LENS, "helicoid")),
        (FAULTS["black corner"][0], (*LENS, "entrance_pupil")),
    ],
)
def test_a_verdict_needs_every_fact_it_rests_on(
    tmp_path: Path, changes: Changes, gone: tuple[str, ...]
) -> None:
    result = run(tmp_path, with_({**changes, gone: None}))
    assert result.exit_code == 0, result.stdout
    assert ".".join(gone) in result.stdout


def test_a_kit_without_any_of_the_facts_is_checked(tmp_path: Path) -> None:
    result = run(tmp_path, plain_kit())
    assert result.exit_code == 0
    unknown = result.stdout.partition("Cannot tell")[2]
    for word in ("mount", "entrance_pupil", "cameras.body.mass", "rigs.portrait.carrier", "pixels"):
        assert word in unknown
    found = as_data(tmp_path, plain_kit())
    assert found["works"] is True
    assert found["faults"] == found["cautions"] == found["coverage"]["corners"] == []
    assert found["load"]["mass_g"] is None
    assert found["picture"]["pans"] is None


# --- text and data --------------------------------------------------------------------------------


def many(count: int) -> dict[str, Any]:
    """Return the full kit with `count` rigs, all names as long as they may be."""
    kit = full_kit()
    for section in ("cameras", "taking_lenses", "attachments", "clamps", "filters", "supports"):
        for table in kit[section].values():
            table["name"] = (table["name"] + " wxyz" * 12)[:60]
    rig = kit["rigs"]["portrait"] | {"name": "Portrait " + "m" * 51}
    kit["rigs"] = {"portrait": rig} | {f"rig-{i}": rig for i in range(1, count)}
    return kit | {"deliveries": ["2.3900000000000", "16.000:9.000", "1.85", "1"]}


@pytest.mark.parametrize("units", ["metric", "imperial", "both"])
def test_text_keeps_to_a_hundred_columns(tmp_path: Path, units: str) -> None:
    kit = many(1) | {"units": units, "stops": [2.8, 22.0, 11.3]}
    kit["clamps"]["clamp"]["thread"] = "72 mm x 0.75"
    lines = run(tmp_path, kit).stdout.splitlines()
    assert max(map(len, lines)) <= 100
    assert all(line == line.rstrip() for line in lines)


def test_a_rig_takes_one_screen(tmp_path: Path) -> None:
    lines = run(tmp_path, full_kit()).stdout.splitlines()
    assert len(lines) <= 50


def test_figures_keep_their_units_on_the_line(tmp_path: Path) -> None:
    for line in run(tmp_path, many(1)).stdout.splitlines():
        assert line.split()[:1] not in (["mm"], ["kg"], ["g"], ["N"], ["%"]), line


def test_thirty_rigs(tmp_path: Path) -> None:
    found = json.loads(run(tmp_path, many(30), "--format", "json").stdout)
    rigs = found["rigs"]
    assert len(rigs) == 30
    assert [rig["rig"] for rig in rigs[1:]] == [f"rig-{i}" for i in range(1, 30)]
    first = {key: value for key, value in rigs[0].items() if key != "rig"}
    assert all({**rig, "rig": None} == {**first, "rig": None} for rig in rigs)


def test_only_the_rigs_asked_for(tmp_path: Path) -> None:
    kit = many(4)
    kit["clamps"]["clamp"]["thread"] = "72 mm x 0.75"
    arguments = ("--rig", "rig-2", "--rig", "rig-3", "--format", "json")
    found = json.loads(run(tmp_path, kit, *arguments).stdout)
    assert [rig["rig"] for rig in found["rigs"]] == ["rig-2", "rig-3"]
    assert list(found["shopping_list"].values()) == [["rig-2", "rig-3"]]


def test_a_rig_that_is_not_asked_for_does_not_decide_the_status(tmp_path: Path) -> None:
    kit = full_kit()
    kit["rigs"]["bare"] = {**kit["rigs"]["portrait"], "chain": []}
    del kit["rigs"]["bare"]["support"]
    assert run(tmp_path, kit).exit_code == 1
    assert run(tmp_path, kit, "--rig", "portrait").exit_code == 0
    assert run(tmp_path, kit, "--rig", "bare").exit_code == 1


def walk(value: object) -> Iterator[tuple[str, object]]:
    """Yield every key and value within data, however deep."""
    if isinstance(value, dict):
        for key, item in value.items():
            yield key, item
            yield from walk(item)
    elif isinstance(value, list):
        for item in value:
            yield from walk(item)


@pytest.mark.parametrize("kit", [full_kit(), plain_kit()], ids=["full", "plain"])
def test_every_key_is_documented_and_every_number_finite(
    tmp_path: Path, kit: dict[str, Any]
) -> None:
    for key, value in walk(as_data(tmp_path, kit)):
        assert f"`{key}`" in str(data.__doc__), key
        assert not isinstance(value, float) or math.isfinite(value)


def test_keys_and_their_order_do_not_depend_on_what_is_known(tmp_path: Path) -> None:
    full, plain = (as_data(tmp_path, kit) for kit in (full_kit(), plain_kit()))
    assert list(full) == list(plain)
    for key in ("coverage", "reach", "load", "picture"):
        assert list(full[key]) == list(plain[key])
    corner, sizes = full["coverage"]["corners"][0], full["coverage"]
    for name, rows in list(corner.items())[1:]:
        assert [len(row) for row in rows] == [len(sizes["distances_mm"])] * len(sizes["stops"]), (
            name
        )


def test_a_second_check_says_the_same(tmp_path: Path) -> None:
    for form in ("text", "json"):
        twice = [run(tmp_path, full_kit(), "--format", form).stdout for _ in range(2)]
        assert twice[0] == twice[1]


@pytest.mark.parametrize(
    ("kit", "told"),
    [
        (with_({(*RIG, "front"): ["nothing"]}), "rigs.portrait.front"),
        (with_({(*RIG, "carrier"): "nothing"}), "rigs.portrait.carrier"),
        (with_({("carriers", "head", "payload"): "4 N"}), "carriers.head.payload"),
        (with_({("deliveries",): ["wide"]}), "deliveries"),
        ("format = ", "kit.toml"),
    ],
)
def test_a_bad_kit_is_refused_in_one_sentence(
    tmp_path: Path, kit: Mapping[str, Any] | str, told: str
) -> None:
    result = run(tmp_path, kit)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert told in result.stderr
    assert len(result.stderr.strip().splitlines()) <= 2


def test_an_unknown_rig_and_a_missing_file_are_refused(tmp_path: Path) -> None:
    result = run(tmp_path, full_kit(), "--rig", "nothing")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "no such rig" in result.stderr
    missing = CliRunner().invoke(main, ["check", str(tmp_path / "none.toml")])
    assert missing.exit_code == 2
    assert "none.toml" in missing.stderr


def test_a_ring_named_for_its_sizes_is_still_a_ring() -> None:
    """A name such as "67 to 72" is no joint between two parts."""
    kit = with_({("clamps", "clamp", "name"): '67" to "72'})
    text = as_text(focuschart.check(loaded(kit)), units="metric")
    fits = next(line for line in text.splitlines() if "its opening is no narrower" in line)
    assert '67" to "72' in fits
    bends = [line for line in text.splitlines() if line.startswith("  behind clamp")]
    assert len(bends) == 1
    assert '  behind clamp "67" to "72"' in bends[0]
