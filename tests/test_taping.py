"""Tapings seen at a setting that does not move: in the kit, in the fit, and while taping."""

from __future__ import annotations

import copy
import json
import math
from typing import Any

import pytest

from focuschart.bench.offsets import Taping, held_offsets
from focuschart.chart.charts import build_charts
from focuschart.kit.edit import with_entries
from focuschart.kit.unmoved import Unmoved
from focuschart.photo.assign import Shot, with_rigs
from focuschart.photo.read import RingRead
from focuschart.photo.strips import Barrel, Kind, Ring, TaggedStrip
from focuschart.photo.taping import ruler_figures, taped
from focuschart.report.photos import places, slips
from tests.kits import kit_text, loaded, plain_kit

CODE = "22222-2"


def unmoved(figure: float, error: float = 0.01, **more: Any) -> Unmoved:
    said = {"rig": "portrait", "setting": "stop", "taking": figure, "taking_error": error, **more}
    return Unmoved.model_validate(said)


def test_an_offset_is_the_strips_figure_less_the_rulers() -> None:
    strip: dict[str, Any] = {"strips": {"taking": CODE}, "taping": 3}
    ((taping, offset, sigma),) = held_offsets(
        [unmoved(12.0), unmoved(12.2, **strip)], "taking", ruler_mm=0.3
    )
    assert taping == Taping(CODE, 3)
    assert offset == pytest.approx(0.2)
    # Independent errors add by their variances (GUM, JCGM 100:2008, 5.1.2).
    assert sigma == pytest.approx(math.hypot(0.01, 0.01))


def test_settings_are_weighted_by_their_errors() -> None:
    """The weighted mean of independent measurements (GUM, JCGM 100:2008, H.9.2 has the like)."""
    strip: dict[str, Any] = {"strips": {"taking": CODE}}
    far: dict[str, Any] = {"setting": "other"}
    ((_, offset, sigma),) = held_offsets(
        [
            unmoved(12.0, 0.03), unmoved(12.3, 0.04, **strip),
            unmoved(50.0, 0.06, **far), unmoved(50.1, 0.08, **far, **strip),
        ],
        "taking", ruler_mm=0.3,
    )  # fmt: skip
    assert offset == pytest.approx((0.3 / 0.05**2 + 0.1 / 0.1**2) / (1 / 0.05**2 + 1 / 0.1**2))
    assert sigma == pytest.approx((1 / 0.05**2 + 1 / 0.1**2) ** -0.5)


def test_without_the_ruler_at_the_same_setting_nothing_is_known() -> None:
    strip: dict[str, Any] = {"strips": {"taking": CODE}}
    assert not held_offsets([unmoved(12.0), unmoved(12.2, setting="b", **strip)], "taking",
                            ruler_mm=0.3)  # fmt: skip


def read_kit(*settings: dict[str, Any]) -> Any:
    return plain_kit() | {"unmoved": list(settings)} if settings else plain_kit()


def test_the_fit_has_the_offset_of_a_strip_seen_unmoved() -> None:
    chart_rig = next(iter(plain_kit()["rigs"]))
    both = {"rig": chart_rig, "setting": "stop", "taking_error": 0.015}
    kit = read_kit({**both, "taking": 12.0}, {**both, "taking": 12.15, "strips": {"taking": CODE}})
    (chart,) = list(build_charts(loaded(kit)))[:1]
    marks = chart.rings()["taking"][1]
    assert marks is not None
    shifts = marks.measured.readings.shifts
    assert shifts.tapings == (Taping(CODE, 1),)
    offset, sigma = marks.measured.scale.offset_mm(0)
    # 0.15 ± 0.021 measured, 0 ± 0.28 thought before.
    assert offset == pytest.approx(0.15, abs=0.002)
    assert sigma == pytest.approx(math.hypot(0.015, 0.015), rel=0.02)
    without = next(iter(build_charts(loaded(read_kit())))).rings()["taking"][1]
    assert without is not None
    assert marks.arc_mm == pytest.approx(without.arc_mm, abs=1e-6), "no mark moves"


def test_a_figure_with_its_own_error_narrows_the_fit() -> None:
    kit = copy.deepcopy(plain_kit())
    (wide, *_) = build_charts(loaded(kit))
    for reading in kit["readings"]:
        reading |= {"taking_error": 0.015, "attachment_error": 0.015}
    (narrow, *_) = build_charts(loaded(kit))
    for which in ("taking", "attachment"):
        one, other = (chart.rings()[which][1] for chart in (wide, narrow))
        assert one is not None
        assert other is not None
        assert (other.arc_95_mm < one.arc_95_mm).all()


def test_settings_are_added_to_the_text_and_nothing_else_changes() -> None:
    text = kit_text(plain_kit()) + "# the end\n"
    said = {"rig": "portrait", "setting": "stop", "taking": 12.0, "photo": None}
    new = with_entries(text, "unmoved", said, {**said, "taping": 2})
    assert new.startswith(text)
    assert new.count("[[unmoved]]") == 2
    assert "photo" not in new[len(text) :]


# --- while taping ---------------------------------------------------------------------------------


def figure(ring: Ring, kind: Kind, arc: float, *, code: str = CODE, turns: int = 1) -> RingRead:
    strip = TaggedStrip(
        code, ring, kind, "long", "", "Lens", (), (8.0, 0.0), "camera", Barrel(250.0, 0.2), turns
    )
    return RingRead(strip, strip, arc, 0.01, 0.0)


def shot(*rings: RingRead, sign: str = "a", minute: int | None = None) -> Shot:
    from datetime import datetime

    taken = None if minute is None else datetime(2031, 5, 6, 7, minute)
    return Shot(f"{sign}.jpg", sign, taken, rings, (), None)


RIGS: dict[str, dict[Ring, str]] = {"portrait": {"taking": "long", "attachment": "double"}}


@pytest.mark.parametrize(
    ("off", "words"),
    [
        (0.30, "slide the index 0.30 ± 0.03 mm to the left, seen from behind the camera"),
        (-0.30, "slide the index 0.30 ± 0.03 mm to the right"),
        (0.04, "taped true, within 0.04 ± 0.03 mm. Leave it."),
        (0.52, "set marks by the tick −0.5 of its comb"),
        (-1.05, "set marks by the tick +1 of its comb"),
    ],
)
def test_it_says_which_way_to_slide_the_index_or_which_tick_to_use(off: float, words: str) -> None:
    """A strip that shows too much has its index too far right, where figures are larger."""
    shots = [shot(figure("taking", "ruler", 20.0)), shot(figure("taking", "marker", 20.0 + off))]
    photos = with_rigs(shots, RIGS, rig=None)
    (sentence,) = places(list(taped(photos, ruler_figures(photos))))
    assert words in sentence


def test_a_ruler_that_slipped_is_told_from_one_that_did_not() -> None:
    one, two = slips([("Lens", 0.02, 0.015), ("Lens", 0.4, 0.015)])
    assert "has not slipped" in one
    assert "it has slipped: say --taped-again" in two


# --- which rig ------------------------------------------------------------------------------------


def test_the_rig_is_that_of_the_pair_seen() -> None:
    rigs: dict[str, dict[Ring, str]] = {**RIGS, "other": {"taking": "long", "attachment": "wide"}}
    alone = with_rigs([shot(figure("taking", "ruler", 1.0))], rigs, rig=None)
    assert [each.code for each in alone[0].refused] == ["unknown-strip"]
    assert "--rig" in alone[0].refused[0].why
    chosen = with_rigs([shot(figure("taking", "ruler", 1.0))], rigs, rig="other")
    assert [each.rig for each in chosen[0].figures] == ["other"]


# --- recorded photographs -------------------------------------------------------------------------


def test_marker_strips_are_read_by_the_tags_in_a_packs_record() -> None:
    """Truth by the scenes; the record is that of the pages which the pictures show."""
    from focuschart.photo.known import recorded_strip
    from focuschart.photo.picture import photograph
    from focuschart.photo.read import rings_in
    from tests.photographs.prints import kit_with
    from tests.photographs.sets import RECORDED, SAMPLE_MM
    from tests.test_photo import truth_of

    kit = kit_with(*SAMPLE_MM)
    noted = json.loads((RECORDED / "marker-strips.json").read_text())
    strips = [recorded_strip(data, kit, rig_id="portrait-85", former=False) for data in noted]
    markers = sorted(RECORDED.glob("marker-*.jpg"))
    assert markers
    for path in markers:
        outcome = rings_in(photograph(path.read_bytes()), [s for s in strips if s is not None])
        assert not outcome.refused
        for ring in outcome.rings:
            assert ring.strip.kind == "marker"
            assert ring.arc_mm == pytest.approx(truth_of(path)["arcs"][ring.strip.ring], abs=0.08)
