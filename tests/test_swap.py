"""A taking lens or ring swapped on the day: other parts, the same readings, what they are worth."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from focuschart.chart.charts import build_charts
from focuschart.chart.model import Chart
from focuschart.errors import KitError
from focuschart.kit.load import load_kit
from focuschart.kit.parts import StepRing
from focuschart.kit.schema import Kit
from focuschart.kit.swap import Change, Swap, front_moved_mm, swap_lines, swapped
from tests.command import run
from tests.kits import kit_text, loaded, plain_kit

SAMPLES = Path(__file__).parent.parent / "sample_kits"
SAMPLE = SAMPLES / "two-lenses.toml"
RENTAL = SAMPLES / "rental" / "portrait-day.toml"

MARKS = ("arc_mm", "arc_95_mm", "tolerance_mm", "near_arc_mm", "far_arc_mm")


def sample(name: str = "two-lenses") -> Kit:
    return load_kit((SAMPLES / f"{name}.toml").read_text(encoding="utf-8"), source=name)


def swap(kit: Kit, *rigs: str, lens: str | None = None, **rings: str | None) -> Swap:
    """Swap parts; underscores in a ring's id stand for hyphens."""
    exchanges = {old.replace("_", "-"): new for old, new in rings.items()}
    return swapped(kit, rigs, Change(lens, exchanges))


def chart_of(kit: Kit, rig: str) -> Chart:
    (chart,) = build_charts(kit, only=(rig,))
    return chart


def with_ring(kit: Kit, ring: str, thickness_mm: float) -> Kit:
    """Return the kit with one more step ring."""
    made = StepRing.model_construct(name=ring, thickness=thickness_mm)
    return kit.model_copy(update={"step_rings": {**kit.step_rings, ring: made}})


def same_numbers(one: Chart, other: Chart) -> None:
    for which in ("taking", "attachment"):
        marks, others = one.rings()[which][1], other.rings()[which][1]
        assert marks is not None
        assert others is not None
        for name in MARKS:
            np.testing.assert_allclose(
                getattr(marks, name), getattr(others, name), rtol=1e-5, atol=1e-4
            )
    np.testing.assert_allclose(one.squeeze, other.squeeze, rtol=1e-7)


# --- what stays -------------------------------------------------------------------------------


def test_the_kit_stays_and_the_swapped_rig_comes_beside_its_own() -> None:
    kit = sample()
    made = swap(kit, "portrait-85", lens="fifty-eight")
    assert made.rigs == {"portrait-85-swap": "portrait-85"}
    assert made.kit.model_copy(update={"rigs": kit.rigs}) == kit
    rig = made.kit.rigs["portrait-85-swap"]
    assert rig.name == "Portrait 85 [swap: 58 mm f/2]"
    assert rig.taking_lens == "fifty-eight"
    assert kit == sample()


@given(st.floats(0.0, 40.0))
@settings(max_examples=10, deadline=None)
def test_a_ring_of_the_same_thickness_changes_no_number(thickness_mm: float) -> None:
    kit = sample()
    ring = kit.step_rings["up-6"].model_copy(update={"thickness": thickness_mm})
    kit = with_ring(kit.model_copy(update={"step_rings": {"up-6": ring}}), "twin", thickness_mm)
    made = swap(kit, "portrait-85", up_6="twin").kit
    same_numbers(chart_of(made, "portrait-85-swap"), chart_of(kit, "portrait-85"))


@given(st.floats(0.0, 30.0), st.booleans())
@settings(max_examples=10, deadline=None)
def test_there_and_back_is_where_it_was(thickness_mm: float, measured: bool) -> None:
    kit = sample()
    if measured:
        rigs = {key: rig.model_copy(update={"front_vertex": kit.front_vertex_mm(rig)})
                for key, rig in kit.rigs.items()}  # fmt: skip
        kit = kit.model_copy(update={"rigs": rigs})
    kit = with_ring(kit, "other", thickness_mm)
    there = swap(kit, "portrait-85", lens="fifty-eight", up_6="other").kit
    back = swap(there, "portrait-85-swap", lens="eighty-five", other="up-6").kit
    same_numbers(chart_of(back, "portrait-85-swap-swap"), chart_of(kit, "portrait-85"))


def test_a_lens_never_read_changes_nothing_for_the_rigs_that_were() -> None:
    """A shift of its own is all it adds to the fit, and no reading tells of that."""
    kit = loaded(plain_kit())
    made = swap(kit, lens="spare").kit
    same_numbers(chart_of(made, "portrait"), chart_of(kit, "portrait"))


# --- what it moves ----------------------------------------------------------------------------


@given(st.floats(0.0, 40.0), st.floats(0.0, 40.0), st.booleans())
@settings(deadline=None)
def test_the_front_moves_by_the_difference_of_the_parts(
    old_mm: float, new_mm: float, measured: bool
) -> None:
    tables = plain_kit()
    tables["clamps"]["clamp"]["thickness"] = f"{old_mm:.3f} mm"
    tables["clamps"]["idle"]["thickness"] = f"{new_mm:.3f} mm"
    if measured:
        tables["rigs"]["portrait"]["front_vertex"] = "210 mm"
    kit = loaded(tables)
    for lens, more_mm in ((None, 0.0), ("spare", 6.0)):
        made = swap(kit, "portrait", lens=lens, clamp="idle")
        moved = front_moved_mm(made.kit, made.kit.rigs["portrait"], made.kit.rigs["portrait-swap"])
        assert moved == pytest.approx(new_mm - old_mm + more_mm, abs=1.1e-3)
    out = swap(kit, "portrait", clamp=None)
    gone = front_moved_mm(out.kit, out.kit.rigs["portrait"], out.kit.rigs["portrait-swap"])
    assert gone == pytest.approx(-old_mm, abs=1e-3)
    assert out.kit.rigs["portrait-swap"].chain == []


def test_a_swap_to_the_parts_of_another_rig_gives_that_rigs_marks() -> None:
    # For one height: the other rig has a smaller sensor, so a lower upper third.
    kit = sample().model_copy(update={"focus_height": 4.0})
    made = swap(kit, "portrait-85", lens="fifty-eight").kit
    own = chart_of(made, "portrait-85-swap")
    other = chart_of(made, "portrait-58")
    shared = np.isin(other.distances_mm, own.distances_mm)
    assert own.attachment is not None
    assert other.attachment is not None
    np.testing.assert_allclose(own.attachment.arc_mm, other.attachment.arc_mm[shared])


def moves_mm(kit: Kit, rig: str, **change: Any) -> float:
    """Return how far a swap moves the attachment's mark that it moves most, mm on the ruler."""
    made = swap(kit, rig, **change)
    old, new = (chart_of(made.kit, key) for key in (rig, f"{rig}-swap"))
    both = np.intersect1d(old.distances_mm, new.distances_mm)
    assert len(both) > 4
    marks = []
    for chart in (old, new):
        assert chart.attachment is not None
        marks.append(chart.attachment.arc_mm[np.isin(chart.distances_mm, both)])
    return float(np.max(np.abs(marks[1] - marks[0])))


def with_shorter_lens(kit: Kit, rig: str) -> Kit:
    """Return the kit with an invented lens, a fifth shorter than the rig's own in every way."""
    own = kit.rigs[rig].taking_lens
    lens = kit.taking_lenses[own]
    length = lens.length or 76.0
    lenses = {
        own: lens.model_copy(update={"length": length}),
        "shorter": lens.model_copy(
            update={"length": 0.8 * length, "focal_length": 0.8 * lens.focal_length}
        ),
    }
    return kit.model_copy(update={"taking_lenses": {**kit.taking_lenses, **lenses}})


@pytest.mark.parametrize(
    ("name", "rig", "lens"),
    [
        ("two-lenses", "portrait-85", "fifty-eight"),
        ("two-lenses", "portrait-58", "eighty-five"),
        ("feet-and-inches", "feature-100", "shorter"),
        ("mild-street", "street-50", "shorter"),
    ],
)
def test_a_step_ring_moves_the_marks_less_than_a_taking_lens_does(
    name: str, rig: str, lens: str
) -> None:
    """Common practice, no source: 1 to 10 mm of ring matter less than another lens does."""
    by_lens, by_ring = ring_against_lens(name, rig, lens)
    assert by_ring == sorted(by_ring)
    assert by_ring[0] > 0.0
    assert by_ring[-1] < by_lens


def ring_against_lens(name: str, rig: str, lens: str) -> tuple[float, list[float]]:
    """Return what a swap of the lens moves the mark that moves most, and what 1 to 10 mm do."""
    kit = with_shorter_lens(sample(name), rig)
    chain = kit.rigs[rig].chain
    if not chain:  # measured as a whole: a ring of no thickness gives it one to swap
        own = kit.rigs[rig].model_copy(update={"chain": ["none-yet"]})
        kit = with_ring(kit.model_copy(update={"rigs": {**kit.rigs, rig: own}}), "none-yet", 0.0)
    old = kit.rigs[rig].chain[0]
    links = {**kit.step_rings, **kit.clamps}
    by_ring = [
        moves_mm(with_ring(kit, "other", links[old].thickness + more), rig, **{old: "other"})
        for more in (1.0, 3.0, 6.0, 10.0)
    ]
    return moves_mm(kit, rig, lens=lens), by_ring


# --- how sure it is ---------------------------------------------------------------------------


def test_marks_on_a_lens_never_read_are_less_sure() -> None:
    made = swap(loaded(plain_kit()), lens="spare").kit
    read, unread = (chart_of(made, key).attachment for key in ("portrait", "portrait-swap"))
    assert read is not None
    assert unread is not None
    assert not unread.measured.read_on("spare")
    # The same focal length and circle, and so the same shift twice: from the lens that was read to
    # the mean, and from there to the other; nothing else is known of either.
    assert np.all(unread.bench_arc_95_mm > 1.2 * read.bench_arc_95_mm)
    added = np.sqrt(np.square(unread.bench_arc_95_mm) - np.square(read.bench_arc_95_mm))
    assert np.ptp(added) < 0.1 * np.mean(added)


def test_the_ring_of_a_lens_never_read_has_no_marks() -> None:
    chart = chart_of(swap(loaded(plain_kit()), lens="spare").kit, "portrait-swap")
    assert chart.taking is None
    assert chart.attachment is not None
    assert chart.pair_95 is None


# --- what does not fit ------------------------------------------------------------------------


def test_marks_and_stops_out_of_reach_are_left_out_and_said() -> None:
    tables = plain_kit()
    tables["distances"] = ["1.2 m", "2 m", "5 m", "inf"]
    tables["taking_lenses"]["spare"].update(nearest="1.5 m", widest_stop=4)
    made = swap(loaded(tables), lens="spare")
    assert made.kit.rigs["portrait-swap"].distances == [2000.0, 5000.0, np.inf]
    assert made.kit.rigs["portrait"].distances is None
    assert made.kit.stops == [5.6]
    text = " ".join(swap_lines(made))
    assert "1.2 m, nearer than 1.5 m, limited by taking lens" in text
    assert "Left out: f/2.8" in text


def test_a_support_ahead_of_the_new_front_is_left_out_and_said() -> None:
    kit = sample()
    far = kit.supports["rods"].model_copy(update={"position": 220.0})
    rigs = {"portrait-85": kit.rigs["portrait-85"]}
    kit = kit.model_copy(update={"supports": {"rods": far}, "rigs": rigs, "readings": []})
    made = swap(kit, "portrait-85", lens="fifty-eight")
    assert made.kit.rigs["portrait-85"].support == "rods"
    assert made.kit.rigs["portrait-85-swap"].support is None
    assert "Rod support" in " ".join(swap_lines(made))


def test_without_rigs_those_are_swapped_that_all_of_it_applies_to() -> None:
    kit = sample()
    assert list(swap(kit, lens="fifty-eight").rigs.values()) == ["portrait-85"]
    assert list(swap(kit, up_6=None).rigs.values()) == ["portrait-85", "portrait-58"]


def test_names_and_ids_stay_within_their_length() -> None:
    tables = plain_kit()
    rig = tables["rigs"].pop("portrait")
    ids = ["a" * 39 + end for end in "bc"]
    tables["rigs"] = {rig_id: {**rig, "name": "R" * 60} for rig_id in ids}
    tables["readings"] = []
    tables["clamps"]["idle"]["name"] = "I" * 60
    made = swap(loaded(tables), clamp="idle").kit
    assert len(made.rigs) == 4
    assert {len(key) for key in made.rigs} == {40}
    names = [rig.name for key, rig in made.rigs.items() if key not in ids]
    assert all(re.fullmatch(r"R+\.\.\. \[swap: I+\.\.\.\]", name) for name in names)
    assert max(map(len, names)) == 60


def refused(kit: Kit, *rigs: str, lens: str | None = None, **rings: str | None) -> str:
    with pytest.raises(KitError) as caught:
        swap(kit, *rigs, lens=lens, **rings)
    (sentence,) = str(caught.value).splitlines()
    return sentence


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"lens": "none"}, '--taking-lens is "none": no such taking lens in the kit; it has'),
        ({"lens": "eighty-five"}, 'rig "portrait-85" carries it already'),
        ({"up_6": "up-6"}, '--ring is "up-6": is swapped for itself: name another'),
        ({"up_6": "nothing"}, '--ring is "nothing": no such step ring or clamp in the kit'),
        ({"nothing": "up-6"}, '--ring is "nothing": no such step ring or clamp in the kit'),
        ({"up_6": "rear-clamp"}, 'rig "portrait-85" would have it twice'),
        ({"spare": "up-6"}, "has no such part in its chain, which has up-6, rear-clamp"),
    ],
)
def test_what_cannot_be_swapped_is_one_sentence(change: dict[str, Any], said: str) -> None:
    assert said in refused(with_ring(sample(), "spare", 3.0), "portrait-85", **change)


def test_a_change_that_applies_to_no_rig_is_refused() -> None:
    assert "no rig in the kit" in refused(with_ring(sample(), "spare", 3.0), spare="up-6")


def test_a_lens_of_another_mount_is_refused() -> None:
    kit = sample()
    lens = kit.taking_lenses["fifty-eight"].model_copy(update={"mount": "screw"})
    kit = kit.model_copy(update={"taking_lenses": {**kit.taking_lenses, "fifty-eight": lens}})
    said = refused(kit, "portrait-85", lens="fifty-eight")
    assert said.endswith('has the mount screw, but camera "full-frame" has bayonet: '
                         "choose another lens")  # fmt: skip


@pytest.mark.parametrize("measured", [False, True])
def test_lenses_without_a_length_cannot_be_swapped(measured: bool) -> None:
    tables = plain_kit()
    del tables["taking_lenses"]["spare"]["length"]
    keys = "taking_lenses.spare.length"
    if measured:
        tables["rigs"]["portrait"]["front_vertex"] = "210 mm"
        del tables["taking_lenses"]["long"]["length"]
        keys = "taking_lenses.long.length and taking_lenses.spare.length"
    assert refused(loaded(tables), "portrait", lens="spare").endswith(f"stands, add {keys}")


def test_a_measured_rigs_ring_needs_no_lengths_of_lenses() -> None:
    tables = plain_kit()
    tables["rigs"]["portrait"]["front_vertex"] = "210 mm"
    del tables["taking_lenses"]["long"]["length"]
    made = swap(loaded(tables), "portrait", clamp="idle")
    assert made.kit.rigs["portrait-swap"].front_vertex == 207.0


def test_a_lens_too_slow_or_too_far_for_the_kit_is_refused() -> None:
    for change, said in (({"widest_stop": 8}, "opens to f/8 only"),
                         ({"nearest": "3 m"}, "would reach none")):  # fmt: skip
        tables = plain_kit()
        tables["distances"] = ["1.2 m", "2 m"]
        tables["taking_lenses"]["spare"].update(change)
        assert said in refused(loaded(tables), "portrait", lens="spare")


# --- the command ------------------------------------------------------------------------------


def test_chart_says_what_was_swapped_how_far_and_what_to_read() -> None:
    done = run("chart", RENTAL, "--rig", "portrait-85", "--taking-lens", "fifty-eight",
               "--ring", "up-6=up-10")  # fmt: skip
    assert done.exit_code == 0
    assert done.stdout.startswith("Portrait 85 [swap: 58 mm f/2")
    assert "Portrait 58" not in done.stdout
    assert "58 mm f/2 for 85 mm f/1.8; Deep step-up ring for Step-up ring" in done.stderr
    assert "stands 26 mm nearer to the sensor" in done.stderr
    assert "less sure" in done.stderr
    assert re.search(r"Next: read the attachment's ring at .* tolerances", done.stderr)


def test_check_looks_at_the_swapped_rig() -> None:
    done = run("check", RENTAL, "--rig", "portrait-85", "--ring", "rear-clamp=none")
    assert done.exit_code == 1
    assert "Portrait 85 [swap: no Rear clamp] (portrait-85-swap): cannot work" in done.stdout
    assert "stands 12 mm nearer to the sensor" in done.stderr


def test_a_lens_that_was_never_read_is_told_so(tmp_path: Path) -> None:
    kit = tmp_path / "kit.toml"
    kit.write_text(kit_text(plain_kit()))
    done = run("chart", kit, "--taking-lens", "spare")
    assert done.exit_code == 0
    assert "85 mm, the other was never read on this camera" in done.stderr


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--ring", "up-6"), '--ring is "up-6": write "old=new"'),
        (("--ring", "=up-6"), '--ring is "=up-6": write "old=new"'),
        (("--ring", "up-6=none", "--ring", "up-6=up-6"), '"up-6" is swapped twice, keep one'),
        (("--ring", "up-6=up-6"), "is swapped for itself"),
        (("--rig", "nobody", "--ring", "up-6=none"), "no such rig"),
        (("--taking-lens", "\x1b[31m"), "no such taking lens"),
    ],
)
def test_a_wrong_swap_ends_in_one_sentence_and_status_2(
    options: tuple[str, ...], said: str
) -> None:
    for command in ("chart", "check"):
        wrong = run(command, SAMPLE, *options)
        assert wrong.exit_code == 2
        assert wrong.stdout == ""
        (sentence,) = wrong.stderr.splitlines()
        assert said in sentence
        assert "\x1b" not in sentence
