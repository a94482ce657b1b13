"""What was printed against what would be printed now: shifts, verdicts, words and records."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from focuschart.chart.charts import build_charts
from focuschart.errors import InputError
from focuschart.kit.load import load_kit
from focuschart.kit.schema import Kit
from focuschart.prints.code import revision
from focuschart.prints.difference import Comparison, compare
from focuschart.prints.facts import PRINTS
from focuschart.prints.printed import Marked, Printed, print_data, print_from, printed
from focuschart.prints.replaced import if_replaced
from focuschart.prints.topics import Topic
from focuschart.report.compare import as_json, as_text
from focuschart.rig.ring import RINGS
from tests.kits import loaded, plain_kit
from tests.rig_parts import full_kit

Edit = Callable[[dict[str, Any]], None]


def prints(kit: Kit) -> list[Printed]:
    return [p for chart in build_charts(kit) for p in printed(chart)]


def edited(edit: Edit) -> list[Printed]:
    kit = plain_kit()
    edit(kit)
    return prints(loaded(kit))


@cache
def plain() -> tuple[Printed, ...]:
    return tuple(prints(loaded(plain_kit())))


def against_plain(edit: Edit) -> dict[str, Comparison]:
    return by_name(compare(plain(), edited(edit), units="metric"))


def by_name(found: Iterable[Comparison]) -> dict[str, Comparison]:
    return {one.told.name: one for one in found}


def longer_clamp(kit: dict[str, Any]) -> None:
    kit["clamps"]["clamp"].update(thickness="15 mm")


def reading(kit: dict[str, Any], number: int = 2, **change: object) -> None:
    kit["readings"][number].update(change)


def squeezed(kit: dict[str, Any]) -> None:
    measured = {"rig": "portrait", "distance": "2 m", "squeeze": 1.84, "squeeze_error": 0.003}
    kit["squeezes"] = [measured]


# --- laws of comparing ----------------------------------------------------------------------------


def test_nothing_changes_against_itself() -> None:
    found = compare(plain(), prints(loaded(plain_kit())), units="metric")
    assert len(found) == len(PRINTS)
    assert all(one.verdict == "current" and not one.changes for one in found)
    assert not any(one.to_print for one in found)


EDITS = st.tuples(
    st.floats(-0.5, 0.5), st.floats(-0.5, 0.5), st.floats(8.0, 16.0), st.sampled_from((0.03, 0.025))
)


def slightly(change: tuple[float, float, float, float]) -> list[Printed]:
    taking, attachment, clamp, circle = change

    def edit(kit: dict[str, Any]) -> None:
        reading(kit, taking=65.6 + taking, attachment=104.0 + attachment)
        kit["clamps"]["clamp"].update(thickness=f"{clamp:.3f} mm")
        kit.update(circle_of_confusion=f"{circle} mm")

    return edited(edit)


@settings(max_examples=15, deadline=None)
@given(one=EDITS, two=EDITS)
def test_the_way_back_is_as_long_as_the_way_there(
    one: tuple[float, float, float, float], two: tuple[float, float, float, float]
) -> None:
    a, b = slightly(one), slightly(two)
    there, back = (by_name(compare(*sides, units="metric")) for sides in ((a, b), (b, a)))
    assert there.keys() == back.keys()
    for name, way in there.items():
        other = back[name]
        assert way.verdict == other.verdict
        assert way.shifts.keys() == other.shifts.keys()
        for ring, shift in way.shifts.items():
            assert_allclose(shift.shift_mm, -other.shifts[ring].shift_mm, atol=1e-12)
            assert_allclose(shift.tolerance_mm, other.shifts[ring].tolerance_mm, rtol=1e-12)


@settings(max_examples=10, deadline=None)
@given(change=EDITS)
def test_a_record_gives_back_what_was_noted(change: tuple[float, float, float, float]) -> None:
    for one in slightly(change):
        again = print_from(one.rig_id, json.loads(json.dumps(print_data(one))))
        assert replace(again, rings={}) == replace(one, rings={})
        for ring, marked in one.rings.items():
            other = again.rings[ring]
            assert (other.labels, other.sign) == (marked.labels, marked.sign)
            assert_allclose(other.arc_mm, marked.arc_mm, rtol=5.1e-7, atol=1e-6)
            assert_allclose(other.tolerance_mm, marked.tolerance_mm, rtol=5.1e-7, atol=1e-6)
        (found,) = compare([again], [one], units="metric")
        assert found.verdict == "current"


def test_tolerances_grow_in_proportion_to_the_stop() -> None:
    for one in plain():
        for marked in one.rings.values():
            shares = np.array(one.stops) / one.stops[0]
            assert_allclose(
                marked.tolerance_mm, np.outer(shares, marked.tolerance_mm[0]), rtol=1e-9
            )


# --- verdicts -------------------------------------------------------------------------------------

STOPS = (2.8, 4.0, 5.6, 8.0)
PLACES = 4


def shifted(ring: str, sign: float, tolerance: np.ndarray[Any, Any]) -> Printed:
    """Return the plain strip of one ring with places and tolerances of our own."""
    facts = {"contradicted": False}
    labels = tuple(str(number) for number in range(1, PLACES + 1))
    marked = Marked(labels, np.zeros(PLACES), np.outer(np.array(STOPS) / 2.8, tolerance), sign)
    name = "taking" if ring == "taking" else "attachment"
    return Printed("rig", name, "Rig", "", STOPS, facts, {}, {ring: marked})  # type: ignore[arg-type]


def moved(one: Printed, shift_mm: np.ndarray[Any, Any]) -> Printed:
    rings = {k: replace(m, arc_mm=m.arc_mm + shift_mm) for k, m in one.rings.items()}
    return replace(one, code="other", rings=rings)


ARRAYS = st.lists(st.floats(-0.3, 0.3), min_size=PLACES, max_size=PLACES).map(np.array)
TOLERANCES = st.lists(st.floats(0.2, 2.0), min_size=PLACES, max_size=PLACES).map(np.array)
SIGNS = st.sampled_from((-1.0, 1.0))


@settings(max_examples=300, deadline=None)
@given(taking=ARRAYS, attachment=ARRAYS, tolerances=st.tuples(TOLERANCES, TOLERANCES),
       signs=st.tuples(SIGNS, SIGNS))  # fmt: skip
def test_verdicts_follow_from_the_rule_mark_by_mark(
    taking: np.ndarray[Any, Any], attachment: np.ndarray[Any, Any],
    tolerances: tuple[np.ndarray[Any, Any], np.ndarray[Any, Any]], signs: tuple[float, float],
) -> None:  # fmt: skip
    """By loops over marks and stops: each ring, then both, on account of what moved more."""
    one, two = (
        shifted(ring, sign, tolerance)
        for ring, sign, tolerance in zip(RINGS, signs, tolerances, strict=True)
    )
    found = compare([one, two], [moved(one, taking), moved(two, attachment)], units="metric")

    def worst(ring: int, stop: float) -> float:
        shifts = (taking, attachment)[ring]
        shares = (s / (t * stop / 2.8) for s, t in zip(shifts, tolerances[ring], strict=True))
        return float(max(map(abs, shares)))

    def apart(stop: float) -> float:
        share = stop / 2.8
        errors = (
            signs[1] * attachment[i] / (tolerances[1][i] * share)
            - signs[0] * taking[i] / (tolerances[0][i] * share)
            for i in range(PLACES)
        )
        return float(max(map(abs, errors)))

    good = [[stop for stop in STOPS if worst(ring, stop) < 0.25] for ring in (0, 1)]
    if all(good):
        blamed = 0 if worst(0, 2.8) >= worst(1, 2.8) else 1
        good[blamed] = [stop for stop in good[blamed] if apart(stop) < 0.25]
    for comparison, stops in zip(found, good, strict=True):
        wanted = "reprint" if not stops else "keep" if len(stops) == len(STOPS) else "keep from"
        assert comparison.verdict == wanted
        assert comparison.stop == (min(stops) if stops else None)
        assert comparison.to_print == (wanted != "keep")


@settings(max_examples=300, deadline=None)
@given(taking=ARRAYS, attachment=ARRAYS, tolerances=st.tuples(TOLERANCES, TOLERANCES))
def test_whoever_prints_what_is_said_is_within_a_quarter_at_every_stop(
    taking: np.ndarray[Any, Any], attachment: np.ndarray[Any, Any],
    tolerances: tuple[np.ndarray[Any, Any], np.ndarray[Any, Any]],
) -> None:  # fmt: skip
    """A strip that is printed again is off by nothing, whatever the other ring's does."""
    old = [shifted(ring, 1.0, t) for ring, t in zip(RINGS, tolerances, strict=True)]
    new = [moved(one, shift) for one, shift in zip(old, (taking, attachment), strict=True)]
    one, two = compare(old, new, units="metric")
    for stop in STOPS:
        errors = [
            shift / (tolerance * stop / 2.8) * (found.stop is not None and stop >= found.stop)
            for found, shift, tolerance in zip(
                (one, two), (taking, attachment), tolerances, strict=True
            )
        ]
        assert np.all(np.abs(errors[1] - errors[0]) < 0.25)


def test_a_strip_whose_marks_stand_is_not_printed_for_the_other_rings_sake() -> None:
    one, two = shifted("taking", 1.0, np.ones(PLACES)), shifted("attachment", 1.0, np.ones(PLACES))
    new = [moved(one, np.full(PLACES, 0.3)), moved(two, np.zeros(PLACES))]
    found = compare([one, two], new, units="metric")
    assert [comparison.verdict for comparison in found] == ["keep from", "keep"]


def test_shifts_of_both_rings_toward_nearer_cancel_and_opposite_ones_add() -> None:
    """r_a − r_t: the picture stays sharp where both scales shift alike, and blurs where not."""
    one, two = shifted("taking", 1.0, np.ones(PLACES)), shifted("attachment", -1.0, np.ones(PLACES))
    shift = np.full(PLACES, 0.2)
    alike = compare([one, two], [moved(one, shift), moved(two, -shift)], units="metric")
    opposite = compare([one, two], [moved(one, shift), moved(two, shift)], units="metric")
    assert [found.verdict for found in alike] == ["keep", "keep"]
    assert [found.verdict for found in opposite] == ["keep from", "keep"]
    assert opposite[0].stop == 5.6  # 0.4 × 2.8 / 5.6 = 0.2


REPRINTED: dict[str, tuple[Edit, str, str]] = {
    "another circumference": (
        lambda kit: kit["taking_lenses"]["long"]["ring"].update(diameter="65 mm"),
        "taking", "another shape"),
    "index on the other side": (
        lambda kit: kit["attachments"]["double"]["ring"].update(index_side="subject"),
        "attachment/index", "another shape"),
    "a mark more": (
        lambda kit: kit.update(distances=["1.2 m", "2 m", "3 m", "5 m", "inf"]),
        "taking", "lacks a mark"),
    "a stop more": (lambda kit: kit.update(stops=[2.8, 4, 5.6]), "taking/index", "lacks a stop"),
    "a stop more, on the card": (
        lambda kit: kit.update(stops=[2.8, 4, 5.6]), "card", "lacks a stop"),
    "a reading misread": (
        lambda kit: reading(kit, attachment=109.0), "taking", "its readings disagree"),
    "a finer circle": (
        lambda kit: kit.update(circle_of_confusion="0.02 mm"), "card", "circle of confusion"),
    "engraved anew": (
        lambda kit: kit["taking_lenses"]["long"]["ring"].update(
            engraved=[{"distance": "1.2 m", "ruler": 46}, {"distance": "inf", "ruler": 90}]),
        "card", "another shape or meaning"),
}  # fmt: skip


@pytest.mark.parametrize("name", REPRINTED)
def test_what_is_wrong_wherever_the_marks_stand_is_printed_again(name: str) -> None:
    edit, which, why = REPRINTED[name]
    found = against_plain(edit)[which]
    assert found.verdict == "reprint"
    assert why in found.why


def test_a_strip_that_says_check_readings_is_printed_again_once_they_agree() -> None:
    wrong = edited(lambda kit: reading(kit, attachment=109.0))
    found = by_name(compare(wrong, plain(), units="metric"))
    for name in ("taking", "attachment", "card"):
        assert "CHECK READINGS" in found[name].why
    assert found["taking/index"].verdict == "current"


def test_new_and_gone_prints() -> None:
    def unread(kit: dict[str, Any]) -> None:
        for one in kit["readings"]:
            del one["attachment"]

    found = against_plain(unread)
    assert {n for n, one in found.items() if one.verdict == "gone"} == {
        "attachment", "attachment/index", "card", "setup",
    }  # fmt: skip
    back = by_name(compare(edited(unread), plain(), units="metric"))
    for name in ("card", "setup"):
        assert back[name].verdict == "new"
        assert back[name].to_print


# --- words ----------------------------------------------------------------------------------------


def second_rig(kit: dict[str, Any]) -> None:
    """A rig on which the attachment was read too."""
    kit["rigs"]["other"] = {**kit["rigs"]["portrait"], "front_vertex": "203 mm", "name": "Other"}
    kit["readings"].append({"rig": "other", "distance": "2.5 m", "stop": 2.8, "attachment": 86.0})


def ring(kit: dict[str, Any], section: str, part: str, **change: object) -> None:
    kit[section][part]["ring"].update(change)


WORDS: dict[str, tuple[Edit, str, str]] = {
    "thicker": (longer_clamp, "attachment", 'clamp "Clamp" (clamp) 3 mm thicker; '
                "front glass 3 mm farther from the sensor"),
    "thinner": (lambda k: k["clamps"]["clamp"].update(thickness="10 mm"), "attachment",
                'clamp "Clamp" (clamp) 2 mm thinner; front glass 2 mm nearer to the sensor'),
    "longer": (lambda k: k["taking_lenses"]["long"].update(length="75 mm"), "attachment",
               'lens "85 mm" 1 mm longer; front glass 1 mm farther from the sensor'),
    "other clamp": (lambda k: k["rigs"]["portrait"].update(chain=["idle"]), "attachment",
                    'clamp "Clamp" (clamp) taken out, 12 mm; clamp "Clamp" (idle) added, 9 mm; '
                    "front glass 3 mm nearer to the sensor"),
    "as a whole": (lambda k: k["rigs"]["portrait"].update(front_vertex="203 mm"), "attachment",
                   "its length measured as a whole now; front glass 4 mm farther from the sensor"),
    "figure": (lambda k: reading(k, taking=65.9), "taking",
               "taking figure at 2 m 65.6, now 65.9 mm"),
    "added": (lambda k: k["readings"].append(
        {"rig": "portrait", "distance": "4 m", "stop": 2.8, "taking": 78.0}), "taking",
        "a taking reading added at 4 m"),
    "taken out": (lambda k: k["readings"].pop(2), "taking", "a taking reading taken out at 2 m"),
    "several": (lambda k: k["readings"].extend(
        {"rig": "portrait", "distance": f"{d} m", "stop": 2.8, "taking": t}
        for d, t in ((2, 65.5), (2.5, 70.5), (4, 78.0), (5, 80.6), (8, 84.2))), "taking",
        "5 taking readings added at 2 m, 2.5 m, 4 m and 2 more"),
    "error": (lambda k: reading(k, distance_error="5 mm"), "taking",
              "error, stop, height, side or taping of a taking reading at 2 m"),
    "marks": (lambda k: k.update(distances=["1.2 m", "2 m", "4 m", "6 m"]), "taking",
              "marks 4 m, 6 m new; marks 5 m, ∞ no more"),
    "working stop": (lambda k: k.update(stops=[4, 5.6]), "taking", "working stop f/2.8, now f/4"),
    "stops": (lambda k: k.update(stops=[2.8, 8]), "card", "stops f/2.8, f/5.6, now f/2.8, f/8"),
    "units": (lambda k: k.update(units="imperial"), "taking", "units metric, now imperial"),
    "names": (lambda k: k["taking_lenses"]["long"].update(name="Eighty-five"), "taking",
              'taking lens "85 mm", now "Eighty-five"'),
    "circumference": (lambda k: ring(k, "attachments", "double", diameter="83 mm"), "attachment",
                      "attachment ring's once round 258.239, now 261.381 mm"),
    "no lead": (lambda k: k["attachments"]["double"]["ring"].pop("lead"), "attachment",
                "attachment ring's lead 30.7, now not given"),
    "squeeze": (lambda k: k["attachments"]["double"].update(squeeze=1.95), "attachment",
                "attachment squeeze 2, now 1.95"),
    "group": (lambda k: k["attachments"]["double"].update(moving_group="rear"), "attachment",
              "attachment moving group front, now rear"),
    "glass": (lambda k: k["attachments"]["double"].update(rear_glass="15 mm"), "attachment",
              "glass of front and rear group 12 and 14, now 12 and 15 mm"),
    "mirrored": (lambda k: ring(k, "attachments", "double", mirrored=True), "attachment/index",
                 "attachment ring's prints mirrored now"),
    "ruler": (lambda k: ring(k, "taking_lenses", "long", strip_thickness="0.3 mm"),
              "taking/index", "how thick the taking ring's strip is against its ruler"),
    "width": (lambda k: ring(k, "attachments", "double", strip_width="14 mm"), "attachment",
              "attachment ring's strip width 12, now 14 mm"),
}  # fmt: skip


@pytest.mark.parametrize("name", WORDS)
def test_changes_are_said_in_words(name: str) -> None:
    edit, which, wanted = WORDS[name]
    assert "; ".join(against_plain(edit)[which].changes) == wanted


RAW = ("{", "}", "[", "None", "True", "False", "nan", "': ", "',")


def part(section: str, part_id: str, **change: object) -> Edit:
    return lambda kit: kit[section][part_id].update(change)


def all_forgotten(kit: dict[str, Any]) -> None:
    kit.clear()
    kit.update(plain_kit())


SETUP_WORDS: dict[str, tuple[Edit, str]] = {
    "mass": (part("cameras", "body", mass="640 g"), "camera mass 700, now 640 g"),
    "mass forgotten": (lambda k: k["clamps"]["clamp"].pop("mass"),
                       'clamp "Clamp" mass 100, now not given'),
    "support moved": (part("supports", "rods", position="150 mm"),
                      "support position 140, now 150 mm"),
    "no support": (lambda k: k["rigs"]["portrait"].pop("support"), 'support "Rods" taken out'),
    "another head": (part("carriers", "head", name="Other", payload="5 kg"),
                     'carrier "Head", now "Other"; carrier payload 4000, now 5000 g'),
    "plate": (part("carriers", "head", plate_range=["-50 mm", "90 mm"]),
              "carrier plate range -40 and 90, now -50 and 90 mm"),
    "close-up lens": (lambda k: k["close_up_lenses"].update(two={"name": "+2", "power": 2.0}),
                      'close-up lens "+2" added'),
    "its power": (part("close_up_lenses", "plus", power=1.1),
                  'close-up lens "+1" power 1, now 1.1 dioptres'),
    "on the rig": (part("rigs", "portrait", front=["clear", "plus"]),
                   'close-up lens "+1" put on the front'),
    "off the rig": (part("rigs", "portrait", front=[]), 'filter "Clear" taken off the front'),
    "one delivery": (lambda k: k.update(deliveries=["2.39"]), "deliveries 2.39 and 16:9, now 2.39"),
    "none": (lambda k: k.update(deliveries=[]), "deliveries 2.39 and 16:9, now none"),
    "lean": (lambda k: k.update(lean_limit="1 deg"), "lean limit not given, now 1 deg"),
    "limit": (part("cameras", "body", mount_moment_limit="3 N m"),
              "camera mount moment limit 2, now 3 N m"),
    "readout": (part("cameras", "body", readout_time="20 ms"), "camera readout time 18, now 20 ms"),
    "nearest": (part("taking_lenses", "long", nearest="0.85 m"),
                "taking lens nearest 900, now 850 mm"),
    "thicker and heavier": (part("clamps", "clamp", thickness="13 mm", mass="110 g"),
                            'clamp "Clamp" (clamp) 1 mm thicker; front glass 1 mm farther from the '
                            'sensor; clamp "Clamp" mass 100, now 110 g'),
    "squeeze": (part("attachments", "double", squeeze=1.95), "attachment squeeze 2, now 1.95"),
    "name": (part("attachments", "double", name="2x B"), 'attachment "2x", now "2x B"'),
    "all forgotten": (all_forgotten,
                      'how the rig stands is told no more; close-up lens "+1" taken out; '
                      "deliveries 2.39 and 16:9, now none"),
}  # fmt: skip


@pytest.mark.parametrize("name", SETUP_WORDS)
def test_what_setup_cards_tell_is_printed_again_and_said_in_words(name: str) -> None:
    edit, wanted = SETUP_WORDS[name]
    kit = full_kit()
    before = prints(loaded(kit))
    edit(kit)
    for old, new in ((before, prints(loaded(kit))), (prints(loaded(kit)), before)):
        found = by_name(compare(old, new, units="metric"))
        assert found["setup"].why == "what it tells of the rig has changed"
        text = as_text(list(found.values()), units="metric", replaced={})
        assert not [mark for mark in RAW if mark in text]
        if old is before:
            assert "; ".join(found["setup"].changes) == wanted


def test_close_up_lenses_in_another_order_are_not_others() -> None:
    kit = full_kit()
    two = {"two": {"name": "+2", "power": 2.0}}
    one = kit.pop("close_up_lenses")
    old, new = (prints(loaded({**kit, "close_up_lenses": all_})) for all_ in (one | two, two | one))
    found = by_name(compare(old, new, units="metric"))
    assert found["setup"].changes == ("close-up lenses in another order",)


def test_a_length_measured_as_a_whole_leaves_the_places_of_the_chain_to_tell() -> None:
    kit = full_kit()
    kit["rigs"]["portrait"].update(front_vertex="199 mm")
    before = prints(loaded(kit))
    kit["clamps"]["clamp"].update(thickness="13 mm")
    found = by_name(compare(before, prints(loaded(kit)), units="metric"))
    assert found["setup"].changes == ('clamp "Clamp" thickness 12, now 13 mm',)
    assert {one.verdict for name, one in found.items() if name != "setup"} == {"current"}


def test_where_nothing_is_told_of_how_the_rig_stands_its_setup_cards_may_stay() -> None:
    found = against_plain(lambda k: k["clamps"]["clamp"].update(thickness="12.5 mm"))
    assert found["setup"].verdict == found["card"].verdict == "keep"
    assert found["setup"].changes == found["card"].changes


def test_another_lens_is_named_with_what_it_brings() -> None:
    found = against_plain(lambda k: k["rigs"]["portrait"].update(taking_lens="spare"))
    assert "another shape" in found["taking"].why
    assert "; ".join(found["attachment"].changes) == (
        "taking ring's lead 32.6, now not given; "
        'lens "85 mm" taken out, 74 mm; lens "85 mm, the other" added, 80 mm; front glass 6 mm '
        "farther from the sensor; whether the attachment was read on this taking lens"
    )


@pytest.mark.parametrize("name", [*WORDS, *REPRINTED])
def test_no_report_shows_raw_data_or_says_a_thing_twice(name: str) -> None:
    edit = {**WORDS, **REPRINTED}[name][0]
    kit = plain_kit()
    second_rig(kit)
    before = prints(loaded(kit))
    edit(kit)
    for old, new in ((before, prints(loaded(kit))), (prints(loaded(kit)), before)):
        found = compare(old, new, units="metric")
        assert any(one.changes for one in found)
        text = as_text(found, units="metric", replaced={})
        assert not [mark for mark in RAW if mark in text]
        for one in found:
            assert len(set(one.changes)) == len(one.changes)
        json.loads(as_json(found, replaced={}))


def test_another_rig_that_moved_is_named() -> None:
    kit = plain_kit()
    second_rig(kit)
    before = prints(loaded(kit))
    kit["rigs"]["other"].update(front_vertex="205 mm")
    found = by_name(
        one for one in compare(before, prints(loaded(kit)), units="metric")
        if one.rigs == ("portrait", "portrait")
    )  # fmt: skip
    assert found["attachment"].changes == ("length of rig other, on which it was read too",)
    assert found["taking"].verdict == "current"


def test_facts_that_are_the_same_under_another_code_are_another_programs() -> None:
    old = [replace(one, code=revision(one.name, one.inputs, make=99)) for one in plain()]
    found = compare(old, plain(), units="metric")
    assert {one.changes for one in found} == {("made by another version of focuschart",)}
    assert {one.verdict for one in found} == {"keep"}


# --- a part replaced after the readings -----------------------------------------------------------


def replaced_as_new_rig(kit: dict[str, Any], thickness: str) -> None:
    """The right way: the new ring and the new rig have ids of their own, and the readings stay."""
    kit["clamps"]["new"] = {"name": "Clamp", "thickness": thickness}
    kit["rigs"]["new"] = {**kit["rigs"]["portrait"], "chain": ["new"]}


@pytest.mark.parametrize("thickness", ["9 mm", "13 mm", "15 mm", "22 mm"])
def test_the_caution_says_how_far_off_marks_are_against_the_right_way(thickness: str) -> None:
    """The same shift, found by a kit that keeps the old rig for its readings."""
    wrong, right = plain_kit(), plain_kit()
    wrong["clamps"]["clamp"].update(thickness=thickness)
    replaced_as_new_rig(right, thickness)
    kit = loaded(wrong)
    every = compare(plain(), prints(kit), units="metric")
    found = if_replaced(kit, every, every=every)
    (strip,) = (one for one in plain() if one.name == "attachment")
    (true,) = (p for p in prints(loaded(right)) if (p.rig_id, p.name) == ("new", "attachment"))
    stated = found["portrait"].shifts["attachment"].shift_mm
    wanted = true.rings["attachment"].arc_mm - strip.rings["attachment"].arc_mm
    assert_allclose(stated, wanted, atol=1e-6)
    assert np.max(np.abs(wanted)) > 0.05


def test_one_change_has_one_answer_by_whichever_option_it_is_asked() -> None:
    """A thicker ring in two rigs that share an attachment: a kit edited, one rig of it, new ids."""
    path = Path(__file__).parent.parent / "sample_kits" / "two-lenses.toml"
    text = path.read_text(encoding="utf-8")
    assert text.count('thickness = "6 mm"') == 1
    thicker = load_kit(text.replace('thickness = "6 mm"', 'thickness = "9 mm"'), source="kit.toml")
    before = load_kit(text, source="kit.toml")
    rigs = {
        f"{rig_id}-b": rig.model_copy(update={"chain": ["up-9", *rig.chain[1:]]})
        for rig_id, rig in before.rigs.items()
    }
    ring = before.step_rings["up-6"].model_copy(update={"thickness": 9.0})
    added = before.model_copy(
        update={"rigs": {**before.rigs, **rigs}, "step_rings": {**before.step_rings, "up-9": ring}}
    )
    old, asked = prints(before), ("portrait-85", "portrait-85-b")
    (by_ids,) = (
        one.shifts["attachment"].shift_mm
        for one in compare(old, prints(added), units="metric", rigs=[asked])
        if one.told.name == "attachment"
    )
    every = compare(old, prints(thicker), units="metric")
    one_rig = [one for one in every if one.told.rig_id == "portrait-85"]
    for found in (every, one_rig):
        told = if_replaced(thicker, found, every=every)
        assert_allclose(told["portrait-85"].shifts["attachment"].shift_mm, by_ids, atol=1e-9)
    assert np.max(np.abs(by_ids)) == pytest.approx(0.58, abs=0.01)


def test_only_readings_of_the_rig_itself_from_before_ask_for_the_caution() -> None:
    right = plain_kit()
    replaced_as_new_rig(right, "15 mm")
    assert not any(
        one.reinterpreted for one in compare(plain(), prints(loaded(right)), units="metric")
    )
    assert against_plain(longer_clamp)["attachment"].reinterpreted
    assert not against_plain(lambda kit: reading(kit, taking=65.9))["taking"].reinterpreted
    across = compare(plain(), prints(loaded(right)), units="metric", rigs=[("portrait", "new")])
    assert not any(one.reinterpreted for one in across)


@pytest.mark.parametrize("length", ["74 mm", "80 mm"])
def test_another_lens_is_cautioned_without_a_figure(length: str) -> None:
    """The readings of its rig would count as made on it, as long as the old one or not."""
    kit = plain_kit()
    kit["taking_lenses"]["spare"].update(length=length)
    kit["rigs"]["portrait"].update(taking_lens="spare")
    new = prints(loaded(kit))
    found = compare(plain(), new, units="metric")
    moved = if_replaced(loaded(kit), found, every=found)
    assert moved["portrait"].shifts == {}
    assert "use --ring or --taking-lens." in " ".join(
        as_text(found, units="metric", replaced=moved).split()
    )


def test_readings_that_fit_no_scale_with_the_old_part_are_cautioned_without_a_figure() -> None:
    kit = plain_kit()
    kit["clamps"]["clamp"].update(thickness="20 mm")
    found = compare(plain(), prints(loaded(kit)), units="metric")
    far = [
        replace(one, old=replace(one.old, inputs={**one.old.inputs, Topic.FRONT_GLASS: 1190.0}))
        for one in found
        if one.old
    ]
    moved = if_replaced(loaded(kit), far, every=far)
    assert moved["portrait"].shifts == {}


def test_a_step_ring_moves_marks_less_than_another_lens_does() -> None:
    """That it does is common practice, no source; the figures are the program's own.

    It has 0.1 to 1.1 mm for rings of 1 to 10 mm and 3.7 mm for the lens. Most of that is the lens's
    length, by which the front stands elsewhere; at the same length it would be 0.4.
    """
    kit = plain_kit()
    shifts = [0.0]
    for thickness in range(1, 11):
        with_ring = copy.deepcopy(kit)
        replaced_as_new_rig(with_ring, f"{12 + thickness} mm")
        shifts.append(shift_of("new", with_ring))
    assert np.all(np.diff(shifts) > 0.0)
    assert shifts[1] < 0.15
    kit["taking_lenses"]["spare"].update(focal_length="58 mm", length="44 mm")
    kit["rigs"]["lens"] = {**kit["rigs"]["portrait"], "taking_lens": "spare"}
    other = shift_of("lens", kit)
    assert shifts[-1] < 1.3 < other


def shift_of(rig: str, kit: dict[str, Any]) -> float:
    found = compare(plain(), prints(loaded(kit)), units="metric", rigs=[("portrait", rig)])
    return float(np.max(np.abs(by_name(found)["attachment"].shifts["attachment"].shift_mm)))


# --- records that are not ours --------------------------------------------------------------------


Where = tuple[str | int, ...]
GONE: Any = object()
NO_PLACES: tuple[Any, ...] = (float("nan"), "x", None, 1e308, {}, 10**400, [[]])
DAMAGE: dict[str, tuple[Where, Any]] = {
    **{f"no {key}": ((key,), GONE) for key in ("rings", "stops", "inputs", "lengths", "code",
                                               "print", "title")},
    "another fact": (("inputs", "units"), "imperial"),
    "facts as text": (("inputs",), "none"),
    "another code": (("code",), "22222-2"),
    "another print": (("print",), "attachment"),
    "title of two lines": (("title",), "Portrait\nStale"),
    "escape in a part": (("lengths", "\x1b[2J"), 1.0),
    "half a sign": (("title",), "\ud800"),
    "no ring": (("rings",), {}),
    "no stop": (("stops",), []),
    "stop 0": (("stops", 0), 0.0),
    "a stop more": (("stops",), [2.8, 4.0, 5.6]),
    "sign": (("rings", "taking", "sign"), 0),
    "label": (("rings", "taking", "labels", 0), "somewhere"),
    "labels alike": (("rings", "taking", "labels", 0), "2000"),
    "tolerance": (("rings", "taking", "tolerance_mm", 0, 0), 0.0),
    "tiny tolerance": (("rings", "taking", "tolerance_mm", 0, 0), 1e-320),
    "label of an index": (("rings", "taking", "labels", 0), "near at f/2.8"),
    "length": (("lengths", "clamp"), float("inf")),
    "deep": (("rings", "taking", "arc_mm"), [[1.0]] * 4),
    "shorter": (("rings", "taking", "arc_mm"), [1.0]),
    **{f"arc {value!s:.9}": (("rings", "taking", "arc_mm", 0), value)
       for value in NO_PLACES},
}  # fmt: skip


@pytest.mark.parametrize("name", DAMAGE)
def test_what_no_build_noted_is_refused(name: str) -> None:
    where, value = DAMAGE[name]
    data = json.loads(json.dumps(print_data(plain()[0])))
    inner: Any = data
    for key in where[:-1]:
        inner = inner[key]
    if value is GONE:
        del inner[where[-1]]
    else:
        inner[where[-1]] = value
    with pytest.raises(InputError, match="not what focuschart prints"):
        print_from("portrait", data)


@pytest.mark.parametrize("data", [None, 1, "text", [], [1], {}, {"print": "taking"}])
def test_plain_nonsense_is_refused(data: object) -> None:
    with pytest.raises(InputError, match="not what focuschart prints"):
        print_from("portrait", data)


def test_a_measured_squeeze_is_told() -> None:
    found = against_plain(squeezed)
    told = {name for name, one in found.items() if "the squeeze as measured" in one.changes}
    assert {"attachment", "attachment/index", "card", "setup"} <= told
    assert found["taking"].verdict == "current"
