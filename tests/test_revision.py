"""The revision code: what it catches when copied by hand, and what changes it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from focuschart.chart.model import Chart
from focuschart.prints import code as prints
from focuschart.prints.code import (
    ALPHABET,
    chart_code,
    coded,
    is_code,
    read_code,
    revision,
    was_made,
)
from focuschart.prints.facts import PRINTS
from focuschart.prints.topics import Topic
from tests.kits import charts, plain_kit

Edit = Callable[[dict[str, Any]], None]

SIGNS = 31
NUMBERS = st.integers(0, SIGNS**5 - 1)


def edited(edit: Edit) -> dict[str, Any]:
    kit = plain_kit()
    edit(kit)
    return kit


def codes(kit: dict[str, Any]) -> tuple[str, ...]:
    """Return the codes of all prints of the rig."""
    return codes_of(charts(kit)["portrait"])


def codes_of(chart: Chart) -> tuple[str, ...]:
    made = prints.codes(chart)
    return tuple(made[name] for name in PRINTS)


PLAIN = codes(plain_kit())


def test_signs_cannot_be_taken_for_one_another() -> None:
    assert len(set(ALPHABET)) == len(ALPHABET) == SIGNS
    assert not set(ALPHABET) & set("0O1IL")
    assert not [sign for sign in ALPHABET if sign != sign.upper()]


@given(number=NUMBERS)
def test_codes_are_five_signs_and_a_check(number: int) -> None:
    code = coded(number)
    assert is_code(code)
    assert len(code) == 7
    assert code[5] == "-"


@given(numbers=st.sets(NUMBERS, min_size=2, max_size=2))
def test_different_numbers_have_different_codes(numbers: set[int]) -> None:
    first, second = numbers
    assert coded(first)[:5] != coded(second)[:5]


def test_numbers_wrap_after_all_codes() -> None:
    assert coded(SIGNS**5 + 7) == coded(7)


@pytest.mark.parametrize("number", [0, 1, 12_345_678, 28_629_150, 20_202_020, 9_999_999])
def test_every_wrong_sign_is_caught(number: int) -> None:
    """All 6 × 30 of them, the check sign's own included."""
    code = coded(number)
    for place in (0, 1, 2, 3, 4, 6):
        for sign in set(ALPHABET) - {code[place]}:
            assert not is_code(code[:place] + sign + code[place + 1 :])


def test_every_swap_of_two_signs_is_caught() -> None:
    """All ordered pairs of different signs in all ten pairs of places."""
    places = [31**place for place in range(5)]
    for first in range(5):
        for second in range(first + 1, 5):
            for a in range(SIGNS):
                for b in set(range(SIGNS)) - {a}:
                    code = coded(a * places[first] + b * places[second])
                    signs = list(code)
                    signs[first], signs[second] = signs[second], signs[first]
                    assert not is_code("".join(signs))


@pytest.mark.parametrize(
    "text", ["", "-", "22222", "22222-", "2222-2", "222222-2", "22222-22", "0O1IL-2", "22222 2",
             "22222-2-", "abcde-f"]
)  # fmt: skip
def test_what_is_no_code(text: str) -> None:
    assert not is_code(text)


def test_the_same_kit_has_the_same_codes() -> None:
    assert all(map(is_code, PLAIN))
    assert codes(plain_kit()) == PLAIN


def test_every_print_of_a_rig_has_a_code_of_its_own() -> None:
    assert len(set(PLAIN)) == len(PRINTS)


def test_no_more_codes_meet_than_chance_has_it() -> None:
    """The pairs that meet among n codes of m are Poisson distributed about n²/2m, here 7.0.

    More than 17 happen once in 2700 such sets; the set is always the same one.
    """
    number = 20_000
    found = [revision("taking", {Topic.NEAREST: figure / 10.0}) for figure in range(number)]
    met = number - len(set(found))
    assert met <= 17
    counts = np.zeros((5, SIGNS))
    for code in found:
        for place in range(5):
            counts[place, ALPHABET.index(code[place])] += 1.0
    expected = number / SIGNS
    chi_square = np.sum((counts - expected) ** 2 / expected, axis=1)
    assert np.all(chi_square < 59.7)  # a thousandth of χ² with 30 degrees (Abramowitz and Stegun)


def test_a_code_vouches_for_its_facts() -> None:
    code = revision("taking", {Topic.NEAREST: 1.5})
    assert was_made(code, "taking", {Topic.NEAREST: 1.5})
    assert not was_made(code, "taking", {Topic.NEAREST: 1.6})
    assert not was_made(code, "attachment", {Topic.NEAREST: 1.5})


@given(number=NUMBERS)
def test_codes_are_read_as_people_copy_them(number: int) -> None:
    code = coded(number)
    plain = code.replace("-", "")
    for text in (
        code.lower(),
        plain,
        f" {code} ",
        f"{plain[:2]} {plain[2:]}",
        f"{code[:3]}\t{code[3:]}",
    ):
        assert read_code(text) == code


@pytest.mark.parametrize("text", ["", "O" * 6, "22222-O", "2222I-2", "2222l-2", "2" * 10_000, "é"])
def test_what_nobody_can_have_copied_is_no_code(text: str) -> None:
    assert read_code(text) is None


def reading(kit: dict[str, Any], **change: object) -> None:
    kit["readings"][2].update(change)


def ring(kit: dict[str, Any], section: str, part: str) -> dict[str, Any]:
    found = kit[section][part]["ring"]
    assert isinstance(found, dict)
    return found


CHANGES: dict[str, Edit] = {
    "taking figure": lambda kit: reading(kit, taking=65.7),
    "attachment figure": lambda kit: reading(kit, attachment=104.1),
    "reading's distance": lambda kit: reading(kit, distance="2.01 m"),
    "reading's error": lambda kit: reading(kit, distance_error="5 mm"),
    "reading's stop": lambda kit: reading(kit, stop=4.0),
    "one reading fewer": lambda kit: kit["readings"].pop(2),
    "mark": lambda kit: kit.update(distances=["1.2 m", "2 m", "4 m", "inf"]),
    "stop": lambda kit: kit.update(stops=[2.8, 8]),
    "units": lambda kit: kit.update(units="imperial"),
    "circle": lambda kit: kit.update(circle_of_confusion="0.025 mm"),
    "sensor": lambda kit: kit["cameras"]["body"].update(sensor_width="24 mm"),
    "flange": lambda kit: kit["cameras"]["body"].update(flange_focal_distance="20 mm"),
    "clamp": lambda kit: kit["clamps"]["clamp"].update(thickness="13 mm"),
    "chain": lambda kit: kit["rigs"]["portrait"].update(chain=["idle"]),
    "front vertex": lambda kit: kit["rigs"]["portrait"].update(front_vertex="203 mm"),
    "focal length": lambda kit: kit["taking_lenses"]["long"].update(focal_length="86 mm"),
    "lead": lambda kit: ring(kit, "taking_lenses", "long").update(lead="33 mm"),
    "circumference": lambda kit: ring(kit, "attachments", "double").update(diameter="82.4 mm"),
    "strip's width": lambda kit: ring(kit, "attachments", "double").update(strip_width="14 mm"),
    "ruler": lambda kit: ring(kit, "attachments", "double").update(ruler_thickness="0.1 mm"),
    "squeeze": lambda kit: kit["attachments"]["double"].update(squeeze=1.95),
    "moving group": lambda kit: kit["attachments"]["double"].update(moving_group="rear"),
    "glass": lambda kit: kit["attachments"]["double"].update(rear_glass="15 mm"),
    "rig's name": lambda kit: kit["rigs"]["portrait"].update(name="Long end"),
    "lens's name": lambda kit: kit["taking_lenses"]["long"].update(name="85"),
}


@pytest.mark.parametrize("change", CHANGES)
def test_what_moves_a_mark_or_a_text_changes_the_code(change: str) -> None:
    found = codes(edited(CHANGES[change]))
    assert all(map(is_code, found))
    assert found != PLAIN


def test_all_those_codes_differ() -> None:
    found = [codes(edited(edit)) for edit in CHANGES.values()]
    assert len(set(found)) == len(found)


def spare_rig(kit: dict[str, Any]) -> None:
    """A second rig that borrows the attachment, on a lens nobody has read."""
    kit["rigs"]["spare"] = {**kit["rigs"]["portrait"], "name": "Spare", "taking_lens": "spare"}


UNRELATED: dict[str, Edit] = {
    "idle clamp": lambda kit: kit["clamps"]["idle"].update(thickness="30 mm"),
    "idle lens": lambda kit: kit["taking_lenses"]["spare"].update(focal_length="58 mm"),
    "order of distances": lambda kit: kit["distances"].reverse(),
    "same length written otherwise": lambda kit: reading(kit, distance="200 cm"),
    "marks of its own alike": lambda kit: kit["rigs"]["portrait"].update(
        distances=["1.2 m", "2 m", "5 m", "inf"]
    ),
    "another rig": spare_rig,
    "default written out": lambda kit: ring(kit, "attachments", "double").update(
        strip_width="12 mm"
    ),
}


@pytest.mark.parametrize("edit", UNRELATED)
def test_an_edit_elsewhere_leaves_code_and_marks_alone(edit: str) -> None:
    changed = charts(edited(UNRELATED[edit]))["portrait"]
    plain = charts(plain_kit())["portrait"]
    assert codes_of(changed) == PLAIN
    for (_, before), (_, after) in zip(
        plain.rings().values(), changed.rings().values(), strict=True
    ):
        assert before is not None
        assert after is not None
        assert_allclose(after.arc_mm, before.arc_mm, atol=0.005)
        assert_allclose(after.arc_95_mm, before.arc_95_mm, rtol=0.01)


def test_a_borrowing_rig_is_stale_when_the_lent_readings_change() -> None:
    """Its attachment was read on another rig."""

    def both(kit: dict[str, Any]) -> None:
        spare_rig(kit)
        reading(kit, attachment=104.3)

    before, after = charts(edited(spare_rig)), charts(edited(both))
    assert chart_code(before["spare"]) != chart_code(after["spare"])
    assert chart_code(before["spare"]) != chart_code(before["portrait"])


def test_a_borrowing_rig_ignores_readings_of_the_lens_it_does_not_use() -> None:
    """The figures of a lens's own ring say nothing of another lens."""

    def only_taking(kit: dict[str, Any]) -> None:
        spare_rig(kit)
        kit["readings"].append({"rig": "portrait", "distance": "4 m", "stop": 2.8, "taking": 79.0})

    before, after = charts(edited(spare_rig)), charts(edited(only_taking))
    assert chart_code(after["spare"]) == chart_code(before["spare"])
    assert chart_code(after["portrait"]) != chart_code(before["portrait"])


def nearer_end(kit: dict[str, Any]) -> None:
    kit["attachments"]["double"].update(nearest="1.19 m")


def test_a_ring_that_stops_earlier_changes_the_code() -> None:
    """The band of the nearest mark ends where the ring ends."""
    plain, changed = charts(plain_kit())["portrait"], charts(edited(nearer_end))["portrait"]
    assert plain.attachment is not None
    assert changed.attachment is not None
    moved = np.abs(changed.attachment.near_arc_mm - plain.attachment.near_arc_mm)
    assert np.max(moved) > 0.5
    assert prints.codes(changed)["attachment"] != prints.codes(plain)["attachment"]
