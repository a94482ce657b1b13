"""Whether parts meet, from camera to front: joints, step rings, openings, a front that turns."""

from __future__ import annotations

import re
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from focuschart.kit.fields import Thread
from focuschart.rig.chain import Finding, findings, front, joints, openings, shopping_list
from focuschart.rig.threads import MOST_DOWN_MM, MOST_UP_MM, USUAL_PITCH_MM, bridge
from tests.kits import loaded, plain_kit
from tests.rig_parts import changed_kit, full_kit

USUAL = [Thread(diameter, pitch) for diameter, pitch in USUAL_PITCH_MM.items()]
RING = re.compile(
    r"([\d.]+) to ([\d.]+) mm step-(up|down) ring, ([\d.]+) mm pitch(?: to ([\d.]+) mm)?"
)


def joint(kit: dict[str, Any], index: int) -> Finding:
    return joints(loaded(kit), "portrait")[index]


def test_a_rig_that_fits_does_so_at_every_joint() -> None:
    found = joints(loaded(full_kit()), "portrait")
    assert [f.verdict for f in found] == ["fits"] * 4
    assert found[0].place == 'camera "Body" to taking lens "85 mm"'
    assert found[-1].place == 'attachment "2x" to filter "Clear"'


def test_nothing_is_guessed_of_a_plain_kit() -> None:
    found = list(findings(loaded(plain_kit()), "portrait"))
    verdicts = {f.place: f.verdict for f in found}
    assert verdicts.pop("the front moves") == "fits"
    assert set(verdicts.values()) == {"cannot tell"}
    assert shopping_list(loaded(plain_kit())) == {}


MISSING: dict[tuple[str, ...], tuple[int, str]] = {
    ("cameras", "body", "mount"): (0, "cameras.body.mount not given"),
    ("taking_lenses", "long", "front_thread"): (
        1, "taking_lenses.long.front_thread not given; if it has no thread, a clamp of 72 mm"),
    ("clamps", "clamp", "thread"): (1, "clamps.clamp.thread not given"),
    ("clamps", "clamp", "bore"): (2, "clamps.clamp.bore not given"),
    ("attachments", "double", "barrel_diameter"): (2, "double.barrel_diameter not given"),
    ("filters", "clear", "thread"): (3, "filters.clear.thread not given"),
}  # fmt: skip


@pytest.mark.parametrize("path", MISSING, ids=".".join)
def test_a_size_not_given_is_named_at_its_joint_alone(path: tuple[str, ...]) -> None:
    index, reason = MISSING[path]
    found = joints(loaded(changed_kit(*path, to=None)), "portrait")
    assert reason in found[index].reason
    assert [f.verdict for f in found].count("cannot tell") == 1
    assert found[index].verdict == "cannot tell"


def test_a_pitch_not_given_may_be_any() -> None:
    found = joint(changed_kit("clamps", "clamp", "thread", to="67 mm"), 1)
    assert found.verdict == "cannot tell"
    assert "a pitch is not given" in found.reason


@pytest.mark.parametrize(
    ("thread", "wanted"),
    [
        ("72 mm x 0.75", ("67 to 72 mm step-up ring, 0.75 mm pitch",)),
        ("62 mm x 0.75", ("67 to 62 mm step-down ring, 0.75 mm pitch",)),
        ("86 mm x 1", ("67 to 86 mm step-up ring, 0.75 mm pitch to 1 mm",)),
        ("67 mm x 1", ("67 to 67 mm ring, 0.75 mm pitch to 1 mm, made to order",)),
        ("63.5 mm x 0.75", ("67 to 63.5 mm step-down ring, 0.75 mm pitch, made to order",)),
        ("72 mm", ("67 to 72 mm step-up ring, pitch to be found out",)),
    ],
)
def test_threads_that_differ_want_a_ring(thread: str, wanted: tuple[str, ...]) -> None:
    found = joint(changed_kit("clamps", "clamp", "thread", to=thread), 1)
    assert found.verdict == "does not meet"
    assert found.wanted == wanted


def test_a_ring_of_the_kit_that_closes_the_gap_is_not_bought() -> None:
    kit = changed_kit("clamps", "clamp", "thread", to="72 mm x 0.75")
    kit["step_rings"]["up"] = {
        "name": "67 up", "thickness": "3 mm",
        "thread_to_lens": "67 mm x 0.75", "thread_to_front": "72 mm x 0.75",
    }  # fmt: skip
    found = joint(kit, 1)
    assert 'step ring "67 up" closes it' in found.reason
    assert shopping_list(loaded(kit)) == {}
    kit["rigs"]["portrait"]["chain"] = ["up", "clamp"]
    assert {f.verdict for f in joints(loaded(kit), "portrait")} == {"fits"}


@pytest.mark.parametrize(
    ("bore", "verdict"),
    [
        ("64 mm", "fits"),
        ("66 mm", "fits"),
        ("63.9 mm", "does not meet"),
        ("70 mm", "does not meet"),
    ],
)
def test_a_clamp_takes_barrels_a_little_smaller_than_its_bore(bore: str, verdict: str) -> None:
    found = joint(changed_kit("clamps", "clamp", "bore", to=bore), 2)
    assert found.verdict == verdict
    wanted = ("clamp with a bore of 64 mm, to screw into 67 mm x 0.75",)
    assert found.wanted == (() if verdict == "fits" else wanted)


def test_an_attachment_without_thread_wants_a_clamp() -> None:
    kit = changed_kit("attachments", "double", "rear_thread", to=None)
    kit["rigs"]["portrait"]["chain"] = []
    found = joint(kit, 1)
    assert found.verdict == "does not meet"
    assert found.wanted == ("clamp with a bore of 64 mm, to screw into 67 mm x 0.75",)


def test_an_attachment_screwed_on_needs_its_thread_only() -> None:
    kit = changed_kit("attachments", "double", "rear_thread", to="67 mm x 0.75")
    kit["rigs"]["portrait"]["chain"] = []
    assert joint(kit, 1).verdict == "fits"


def test_a_clamp_holds_no_ring() -> None:
    kit = full_kit()
    kit["step_rings"]["up"] = {"name": "Up", "thickness": "3 mm"}
    kit["rigs"]["portrait"]["chain"] = ["clamp", "up"]
    found = joint(kit, 2)
    assert found.verdict == "does not meet"
    assert 'put step ring "Up" behind the clamp' in found.reason


def test_mounts_are_compared_by_name() -> None:
    assert joint(changed_kit("cameras", "body", "mount", to="BAYONET"), 0).verdict == "fits"
    found = joint(changed_kit("cameras", "body", "mount", to="breech"), 0)
    assert found.verdict == "does not meet"
    assert found.wanted == ("adapter from bayonet to breech",)


@given(female=st.sampled_from(USUAL), male=st.sampled_from(USUAL))
def test_a_row_of_rings_leads_from_one_thread_to_the_other(female: Thread, male: Thread) -> None:
    """Each ring takes up where the last one ends, steps one way, and is in stock."""
    if female == male:
        return
    rings = [RING.fullmatch(text) for text in bridge(female, male)]
    assert all(rings)
    ends = [(float(r[1]), float(r[2])) for r in rings if r]
    assert (ends[0][0], ends[-1][1]) == (female.diameter_mm, male.diameter_mm)
    assert all(before[1] == after[0] for before, after in pairwise(ends))
    rising = male.diameter_mm > female.diameter_mm
    most = MOST_UP_MM if rising else MOST_DOWN_MM
    assert all(0.0 < (b - a if rising else a - b) <= most for a, b in ends)


@given(female=st.sampled_from(USUAL), male=st.sampled_from(USUAL))
def test_no_row_of_rings_is_shorter(female: Thread, male: Thread) -> None:
    """By another way: the sizes reached ring by ring, up and down, until the other is there."""
    reached, count = {female.diameter_mm}, 0
    while male.diameter_mm not in reached:
        count += 1
        reached |= {
            b for b in USUAL_PITCH_MM for a in reached if -MOST_DOWN_MM <= b - a <= MOST_UP_MM
        }
    assert female == male or len(bridge(female, male)) == count


def test_equally_short_rows_are_even() -> None:
    """49 to 82 mm is two rings of 20 mm at most: 18 and 15 mm, not 13 and 20."""
    rings = bridge(Thread(49.0, 0.75), Thread(82.0, 0.75))
    assert rings[0].startswith("49 to 67 mm")
    assert rings[1].startswith("67 to 82 mm")


OPENINGS = [
    (("clamps", "clamp", "clear_aperture"), "45 mm", 0, "caution", "is 45 mm, narrower .* 48 mm"),
    (("clamps", "clamp", "clear_aperture"), None, 0, "cannot tell", "clamp.clear_aperture not"),
    (("taking_lenses", "long", "front_clear_aperture"), None, 0, "cannot tell", "front_clear"),
    (("filters", "clear", "clear_aperture"), "69 mm", 1, "caution", "narrower .* 70 mm"),
    (("attachments", "double", "front_clear_aperture"), "73 mm", 1, "caution", "73 mm"),
]


@pytest.mark.parametrize(("path", "to", "index", "verdict", "reason"), OPENINGS)
def test_openings(
    path: tuple[str, ...], to: str | None, index: int, verdict: str, reason: str
) -> None:
    found = openings(loaded(changed_kit(*path, to=to)), "portrait")
    assert found[index].verdict == verdict
    assert re.search(reason, found[index].reason)
    assert found[1 - index].verdict == "fits"


def test_a_thread_smaller_than_the_glass_narrows_whatever_its_opening() -> None:
    kit = changed_kit("filters", "clear", "clear_aperture", to=None)
    kit["filters"]["clear"]["thread"] = "67 mm x 0.75"
    found = openings(loaded(kit), "portrait")[1]
    assert found.verdict == "caution"
    assert "less than 67 mm" in found.reason


def test_a_turning_front_wants_a_clamp_on_rods() -> None:
    turning, moving = front(loaded(full_kit()), "portrait")
    assert (turning.verdict, moving.verdict) == ("fits", "caution")
    assert 'slide freely on support "Rods"' in moving.reason
    kit = changed_kit("taking_lenses", "long", "front_rotates", to=True)
    turning, _ = front(loaded(kit), "portrait")
    assert turning.verdict == "caution"
    assert turning.wanted == ("clamp on rods with a bore of 64 mm",)


def test_how_far_the_front_moves_is_the_thin_lenss_extension() -> None:
    """85 mm at 1.2 m, less the glass's plate shift of 0.36 × 26 mm: v − f by Newton's x x' = f²."""
    _, moving = front(loaded(full_kit()), "portrait")
    found = re.search(r"moves ([\d.]+) mm", moving.reason)
    assert found
    moved = float(found[1])
    subject = 1200.0 - 0.36 * 26.0 - (85.0 + moved)  # from the lens
    assert moved * (subject - 85.0) == pytest.approx(85.0**2, rel=0.01)


def test_a_front_that_stands_still_asks_for_nothing() -> None:
    kit = changed_kit("taking_lenses", "long", "focusing", to="internal")
    kit["taking_lenses"]["long"]["front_moves"] = False
    _, moving = front(loaded(kit), "portrait")
    assert moving.verdict == "fits"


def test_the_shopping_list_names_each_thing_once_with_its_rigs() -> None:
    kit = changed_kit("clamps", "clamp", "thread", to="72 mm x 0.75")
    kit["rigs"]["second"] = {**kit["rigs"]["portrait"], "name": "Second"}
    kit["rigs"]["screwed"] = {**kit["rigs"]["portrait"], "name": "Screwed", "chain": []}
    assert shopping_list(loaded(kit)) == {
        "67 to 72 mm step-up ring, 0.75 mm pitch": ["portrait", "second"],
        "67 to 62 mm step-down ring, 0.75 mm pitch": ["screwed"],
    }


def test_every_finding_is_one_printable_sentence() -> None:
    for kit in (full_kit(), plain_kit()):
        for found in findings(loaded(kit), "portrait"):
            assert found.reason
            assert found.reason.isprintable()
