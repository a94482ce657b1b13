"""A print's facts: whatever changes the print changes its code, and nothing else does.

Every key of a kit is changed, each in several ways, and every print drawn before and after, with
one and the same code on it, since a code is as wide as its signs.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from copy import deepcopy
from dataclasses import dataclass
from functools import cache
from typing import Any, get_args

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import BaseModel

from focuschart.chart.charts import build_charts
from focuschart.chart.gauge import gauge
from focuschart.chart.locked import locked_ring
from focuschart.chart.model import Chart
from focuschart.errors import FocusChartError
from focuschart.kit.dependencies import dependencies
from focuschart.kit.schema import Kit
from focuschart.layout.page import Path, Text
from focuschart.layout.sheet.block import Block
from focuschart.pages.pack import print_of
from focuschart.pages.setup import Setup
from focuschart.prints.code import revision
from focuschart.prints.facts import PRINTS, facts_of
from focuschart.rig.loads import starts_mm
from focuschart.rig.ring import RINGS
from tests.kits import loaded, plain_kit
from tests.pieces import card_items, strip_items

Table = dict[str, Any]
Where = tuple[str | int, ...]
Numbers = np.ndarray[Any, np.dtype[np.float64]]
Drawn = dict[str, tuple[list[str], Numbers]]

SAME_MM = 1e-7
"""Two fits of one problem agree to better than this; far finer than any print."""
SEEN_MM = 0.002
"""A tenth of the finest step of a printer of 1200 dots an inch, which is 0.021 mm."""


def full_kit() -> Table:
    """The plain kit with every key of the schema in it; all figures are invented."""
    kit = plain_kit()
    kit.update(
        units="both",
        circle_of_confusion="0.03 mm",
        gauge="230 mm",
        deliveries=["2.39"],
        lean_limit="1 deg",
    )
    kit["cameras"]["body"].update(
        pixels=[6000, 4000], readout_time="20 ms", mount="screw", mass="600 g",
        centre_of_gravity="-5 mm", tripod_thread="8 mm", mount_moment_limit="3 N m",
    )  # fmt: skip
    mode = {"sensor_width": "36 mm", "sensor_height": "24 mm", "pixels": [6000, 4000],
            "readout_time": "20 ms", "circle_of_confusion": "0.03 mm"}  # fmt: skip
    kit["cameras"]["body"].update(modes={"open": mode}, circle_of_confusion="0.031 mm")
    kit["cameras"]["other"] = {**kit["cameras"]["body"], "name": "Other body"}
    for lens in kit["taking_lenses"].values():
        lens.update(
            focusing="extends", front_moves=True, largest_magnification="1:8.5", mount="screw",
            front_thread="67 mm x 0.75",
            front_rotates=False, front_clear_aperture="52 mm", barrel_diameter="70 mm",
            entrance_pupil="60 mm", mass="400 g", centre_of_gravity="40 mm", helicoid="30 mm",
            helicoid_moment_limit="1 N m",
        )  # fmt: skip
    kit["taking_lenses"]["long"]["ring"].update(
        turns=1, read_from="behind", index_side="camera", strip_width="12 mm",
        strip_thickness="0.2 mm", ruler_thickness="0.2 mm", stock="white", mirrored=False,
        backlash="0.8 mm",
        engraved=[{"distance": "1.2 m", "ruler": 46}, {"distance": "inf", "ruler": 90}],
    )  # fmt: skip
    kit["attachments"]["double"].update(
        rear_thread="62 mm x 0.75", barrel_diameter="62 mm", front_thread="77 mm x 0.75",
        rear_clear_aperture="52 mm", front_clear_aperture="70 mm", mass="800 g",
        centre_of_gravity="50 mm",
    )  # fmt: skip
    kit["attachments"]["double"]["ring"] = {
        "front_diameter": "82 mm", "rear_diameter": "84 mm", "width": "30 mm", "lead": "30.7 mm",
        "backlash": "0.5 mm", "nearer_turns": "anticlockwise",
    }  # fmt: skip
    kit["attachments"]["more"] = {**deepcopy(kit["attachments"]["double"]), "name": "2x B"}
    kit["clamps"]["clamp"].update(
        clear_aperture="60 mm", mass="90 g", thread="67 mm x 0.75", bore="63 mm"
    )
    kit["step_rings"] = {
        "up": {
            "name": "Up", "thickness": "5 mm", "thread_to_lens": "67 mm x 0.75",
            "thread_to_front": "72 mm x 0.75", "clear_aperture": "60 mm", "mass": "20 g",
        }
    }  # fmt: skip
    front = {"thread": "77 mm x 0.75", "thickness": "4 mm", "clear_aperture": "72 mm",
             "mass": "30 g"}  # fmt: skip
    kit["filters"] = {"clear": {"name": "Clear", **front}}
    kit["close_up_lenses"] = {"near": {"name": "Near", "power": 0.5, **front}}
    kit["supports"] = {"rods": {"name": "Rods", "position": "150 mm", "mass": "100 g"}}
    kit["carriers"] = {
        "head": {"name": "Head", "payload": "5 kg", "plate_range": ["-50 mm", "90 mm"]}
    }
    kit["rigs"]["portrait"].update(
        desqueeze=2.0,
        front=["clear"],
        support="rods",
        carrier="head",
        mode="open",
        front_unit="600 g",
        index_set_at={"taking": "2 m", "attachment": "2 m"},
        focus_height="4 mm",
    )
    kit["rigs"]["other"] = {**kit["rigs"]["portrait"], "name": "Other", "front_vertex": "205 mm",
                            "distances": ["2 m"]}  # fmt: skip
    kit["rigs"]["third"] = {**kit["rigs"]["portrait"], "name": "Third", "taking_lens": "spare"}
    kit["bench"] = {"ruler_error": "0.3 mm", "eye_error": 0.15, "taping_error": "0.2 mm",
                    "setting_error": "0.15 mm", "print_scale": "0.07 %",
                    "side": "nearer"}  # fmt: skip
    kit["focus_height"] = "3 mm"
    for reading in kit["readings"]:
        reading.update(ignore=False, height="4 mm")
    kit["readings"].append({"rig": "third", "distance": "2.5 m", "stop": 2.8, "attachment": 87.1})
    kit["readings"].append({"rig": "portrait", "distance": "2 m", "stop": 2.8, "taking": 65.5})
    kit["readings"].append(
        {
            "rig": "portrait",
            "distance": "2 m",
            "stop": 2.8,
            "taking": 65.6,
            "side": "nearer",
            "taping": 2,
            "strips": {"taking": "K7QF3-S"},
        }
    )
    read = {"taking_error": 0.02, "attachment_error": 0.03, "photo": "1f0c9a52b7d4"}
    kit["readings"][0].update(read)
    stop = {"rig": "portrait", "setting": "infinity stop", "taking": 12.1, "attachment": 20.3}
    kit["unmoved"] = [{**stop, **read, "taping": 1}]
    squeeze = {"rig": "portrait", "distance": "2 m", "squeeze": 1.84, "squeeze_error": 0.01}
    kit["squeezes"] = [{**squeeze, "photo": read["photo"], "ignore": False}]
    return kit


def drawn(chart: Chart) -> Drawn:
    """Return words and places of every print."""
    blocks: dict[str, list[Block]] = {name: [] for name in PRINTS}
    for item in strip_items([chart]):
        key = item.key.partition("/")[2]
        name = next(n for n in sorted(PRINTS, key=len, reverse=True) if key.startswith(n))
        blocks[name].append(item.block)
    for item in card_items(chart, size="A6"):
        blocks[print_of(item.key)[1]].append(item.block)
    return {name: measured(found) for name, found in blocks.items()}


def measured(blocks: list[Block]) -> tuple[list[str], Numbers]:
    words: list[str] = []
    places: list[float] = []
    for block in blocks:
        places += [block.width_mm, block.height_mm]
        for shape in (*block.shapes, *block.outline):
            if isinstance(shape, Path):
                words.append(f"{shape.key} {len(shape.points)} {shape.colour} {shape.fill}")
                places += [number for point in shape.points for number in point]
            else:
                assert isinstance(shape, Text)
                words.append(shape.text)
                places += [shape.x, shape.y, shape.cap_mm, shape.rotation]
    return words, np.array(places)


def moved_mm(one: Drawn, two: Drawn, name: str) -> float:
    """Return how far anything of a print has moved, infinity where its words differ."""
    (words, places), (others, elsewhere) = one[name], two[name]
    if words != others or places.shape != elsewhere.shape:
        return np.inf
    return float(np.max(np.abs(places - elsewhere), initial=0.0))


@dataclass(frozen=True, slots=True)
class Seen:
    """Codes and drawings of one rig, all numbers behind its prints, and what its pack hangs on."""

    codes: dict[str, str]
    drawn: Drawn
    numbers: Numbers
    setup: Numbers
    facts: str


def seen(table: Table) -> Seen | None:
    """Return what the rig "portrait" prints, None for a kit that is refused."""
    try:
        kit = loaded(table)
        (chart,) = build_charts(kit, only=["portrait"])
        found = drawn(chart)
    except FocusChartError:
        return None
    codes: dict[str, str] = {n: revision(n, inputs) for n, inputs in facts_of(chart).items()}
    facts = dict(dependencies(kit, ["portrait"]))["portrait"]
    return Seen(codes, found, numbers(chart), setup_numbers(kit, chart), facts)


def numbers(chart: Chart) -> Numbers:
    """Return all that a chart tells of its marks, unrounded."""
    rings = [marks for _, marks in chart.rings().values() if marks is not None]
    of_rings = [
        array
        for marks in rings
        for array in (marks.arc_mm, marks.arc_95_mm, marks.tolerance_mm, marks.near_arc_mm,
                      marks.far_arc_mm)
    ]  # fmt: skip
    pair = np.array([]) if chart.pair_95 is None else chart.pair_95
    parts = [
        *of_rings,
        chart.squeeze,
        chart.squeeze_95,
        chart.frame.near_mm,
        chart.frame.far_mm,
        pair,
        gauge(chart).at,
    ]
    return np.concatenate([np.nan_to_num(np.ravel(part), posinf=0.0) for part in parts])


def setup_numbers(kit: Kit, chart: Chart) -> Numbers:
    """Return all that setup cards tell, unrounded."""
    setup = Setup.of_chart(chart)
    held, shown, zone = setup.balance, setup.picture, locked_ring(chart).zone
    pans = [] if shown.pans is None else [shown.pans.rate_rad_s, shown.pans.lean_rad]
    parts: list[Any] = [
        *starts_mm(kit, setup.table), *pans,
        [] if shown.fastest_pan_rad_s is None else shown.fastest_pan_rad_s, shown.squeeze_95,
        held.mass_g, held.plate_mm, held.support_n, held.mount_n, held.payload_margin_g,
        *((each.hanging_nm, each.right_nm, each.lifting_nm) for each in held.sections),
        *(each.least_nm for each in held.sections),
        *(each.limit_nm for each in held.sections),
        *((each.frame.width_mm, each.frame.height_mm) for each in shown.deliveries),
        zone.near_mm, zone.far_mm,
    ]  # fmt: skip
    for each in (table.close_up for table in setup.reach.close_ups):
        parts += [each.subject_mm, each.limits.near_mm, each.frame.width_mm]
    return np.concatenate([np.nan_to_num(np.ravel(part), posinf=0.0) for part in parts])


# --- every key, changed ---------------------------------------------------------------------------

FACTOR = 1.02
QUANTITY = re.compile(r"^(-?[\d.]+) ?(mm|m|g|kg|N m|ms|deg|%)$")
IDS = {
    "camera": ["other"], "taking_lens": ["spare"], "attachment": ["more"], "support": [],
    "carrier": [], "rig": ["other"], "mode": [],
}  # fmt: skip
LISTS: dict[str, list[Any]] = {
    "distances": [["1.2 m", "2 m", "4 m", "inf"], ["1.2 m", "2 m", "5 m"]],
    "stops": [[2.8, 8], [4, 5.6], [2.8, 5.6, 8]],
    "chain": [[], ["clamp", "up"], ["up", "clamp"], ["idle"]],
    "front": [[], ["near"], ["clear", "near"]],
    "deliveries": [[], ["2.39", "16:9"]],
    "pixels": [[5000, 3000]],
    "plate_range": [["-40 mm", "90 mm"]],
}


def other_values(key: str, value: Any) -> Iterator[Any]:
    """Yield other values for a key, numbers a fiftieth larger."""
    if key in IDS or key in LISTS:
        yield from IDS.get(key, LISTS.get(key, []))
    elif isinstance(value, bool):
        yield not value
    elif isinstance(value, int):
        yield value + 1
    elif isinstance(value, float):
        yield value * FACTOR
    elif found := QUANTITY.match(str(value)):
        number, unit = float(found[1]), found[2]
        yield f"{FACTOR * number:.9g} {unit}"
    else:
        yield from WORDS.get(key, [f"{value} B"])


WORDS = {
    "moving_group": ["rear"],
    "nearer_turns": ["clockwise"],
    "focusing": ["internal", "cam"],
    "read_from": ["left"],
    "index_side": ["subject"],
    "units": ["metric", "imperial"],
    "front_thread": ["72 mm x 0.75"],
    "rear_thread": ["60 mm x 0.75"],
    "thread": ["70 mm x 0.75"],
    "thread_to_lens": ["70 mm x 0.75"],
    "thread_to_front": ["74 mm x 0.75"],
    "lean_limit": ["2 deg"],
    "side": ["farther"],
    "photo": ["2a1d8b63c9e5"],
}
TOGETHER: dict[str, Table] = {
    "internal": {"focusing": "internal", "front_moves": False},
    "cam": {"focusing": "cam", "front_moves": False},
}
"""Values that need another key too."""


TABLES = ("readings", "engraved", "unmoved", "squeezes")
"""Lists of tables."""


def leaves(table: Any, where: Where = ()) -> Iterator[Where]:
    """Yield where every key stands that holds no table."""
    items = table.items() if isinstance(table, dict) else enumerate(table)
    for key, value in items:
        if isinstance(value, dict) or (isinstance(value, list) and key in TABLES):
            yield from leaves(value, (*where, key))
        elif isinstance(key, str) or isinstance(value, dict):
            yield (*where, key)
        else:
            yield from leaves(value, (*where, key))


def at(table: Any, where: Where) -> Any:
    for key in where:
        table = table[key]
    return table


def edits(where: Where) -> Iterator[tuple[str, Table]]:
    """Yield the full kit with one key taken out, then with each other value."""
    key = where[-1]
    assert isinstance(key, str)
    kit = full_kit()
    del at(kit, where[:-1])[key]
    yield "taken out", kit
    for value in other_values(key, at(full_kit(), where)):
        kit = full_kit()
        at(kit, where[:-1]).update(TOGETHER.get(str(value), {key: value}))
        yield str(value), kit


EVERY = [where for where in leaves(full_kit()) if where != ("format",)]


def test_the_full_kit_has_every_key_of_the_schema() -> None:
    """Sizes exclude one another: a tape's and a caliper's, of a cylinder and of a taper."""
    sizes = {"circumference", "front_circumference", "rear_circumference"}
    keys = {str(where[-1]) for where in EVERY} | sizes | {
        "format", "include", "ring", "readings", "unmoved", "squeezes", "modes", "strips", "ticks",
        "index_set_at",
    }  # fmt: skip
    models = [Kit]
    known: set[str] = set()
    while models:
        model = models.pop()
        for name, field in model.model_fields.items():
            known.add(name)
            models += [found for found in parts_of(field.annotation) if found not in models]
    sections = {name for name in Kit.model_fields if isinstance(full_kit().get(name), dict)}
    assert known - keys - sections == {"engraved"}


def parts_of(annotation: Any) -> Iterator[type[Any]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in get_args(annotation):
        yield from parts_of(inner)


@pytest.fixture(autouse=True)
def _one_code(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("focuschart.prints.code.revision", lambda *_: "22222-2")


@cache
def unedited() -> Seen:
    found = seen(full_kit())
    assert found is not None
    return found


OTHERS = (("cameras", "other"), ("attachments", "more"), ("taking_lenses", "spare", "ring"))
"""Parts of other rigs, changed as wholes elsewhere in this file."""
WALKED = [where for where in EVERY if not any(where[: len(part)] == part for part in OTHERS)]
ALONE = {
    # No other value is allowed while all else stays.
    ("attachments", "double", "ring", "nearer_turns"),
    ("taking_lenses", "long", "ring", "engraved", 1, "distance"),
    ("readings", 6, "attachment"),
}
NOT_SEEN = {
    # The shortest zone of any mark is drawn, and it is not at the mark that was taken out.
    ("distances", "attachment/index"),
    # A wide crop takes the sensor's height alone, a wider sensor's too.
    ("sensor_width", "setup"),
    # The end of the taking ring shows only where it cuts off what one hand can hold.
    ("nearest", "setup"),
    # The ends of the plate show only where the rig balances beyond them.
    ("plate_range", "setup"),
    # The rig of a reading that is alone in its set-up: no other shares its tape's error.
    *(("rig", name) for name in PRINTS),
}


@pytest.mark.parametrize("where", WALKED, ids=lambda where: ".".join(map(str, where)))
def test_a_code_changes_with_its_print_and_with_nothing_else(where: Where) -> None:
    """A code may change where the marks move, or their errors, by less than print shows.

    And no print, nor anything behind it, changes while the facts stay by which a build knows that
    a rig's pack is current.
    """
    before, tried = unedited(), False
    for value, kit in edits(where):
        after = seen(kit)
        if after is None:
            continue
        tried = True
        if after.facts == before.facts:
            assert after.codes == before.codes
            assert not any(differs(before, after, name) for name in PRINTS)
        for name in PRINTS:
            moved = moved_mm(before.drawn, after.drawn, name)
            same = before.codes[name] == after.codes[name]
            assert not (same and moved > SEEN_MM), f"{name}, {value}: moved under the same code"
            if not same and moved < SAME_MM and (str(where[-1]), name) not in NOT_SEEN:
                assert differs(before, after, name), (
                    f"{name}, {value}: another code for the same print"
                )
    assert tried == (where not in ALONE)


def differs(one: Seen, two: Seen, name: str) -> bool:
    """Return whether any number behind a print differs."""
    was, now = (each.setup if name == "setup" else each.numbers for each in (one, two))
    return was.shape != now.shape or bool(np.max(np.abs(was - now)) > 1e-12)


# --- edits that change nothing --------------------------------------------------------------------


def reordered(kit: Table) -> None:
    """Turn every list and table round whose order says nothing."""
    for key, value in kit.items():
        if isinstance(value, dict):
            kit[key] = dict(reversed(value.items()))
    kit["readings"].reverse()
    kit["distances"].reverse()
    kit["taking_lenses"]["long"]["ring"]["engraved"].reverse()


def otherwise_written(kit: Table) -> None:
    kit["readings"][2].update(distance="200 cm")
    kit["clamps"]["clamp"].update(thickness="1.2 cm")
    kit["taking_lenses"]["long"].update(focal_length="0.085 m")


def measured_round(kit: Table) -> None:
    ring = kit["taking_lenses"]["long"]["ring"]
    ring["circumference"] = f"{np.pi * 64.0:.12f} mm"
    del ring["diameter"]


def length_as_a_whole(kit: Table) -> None:
    kit["rigs"]["portrait"]["front_vertex"] = "199 mm"


def another_attachment(kit: Table) -> None:
    kit["attachments"]["more"].update(squeeze=1.5, ruler_separation="60 mm")
    kit["rigs"]["fourth"] = {**kit["rigs"]["third"], "attachment": "more"}


NOTHING = (reordered, otherwise_written, measured_round, length_as_a_whole, another_attachment)


@pytest.mark.parametrize("edit", NOTHING, ids=lambda edit: edit.__name__)
def test_the_same_facts_have_the_same_codes(edit: Callable[[Table], None]) -> None:
    kit = full_kit()
    edit(kit)
    after = seen(kit)
    assert after is not None
    assert after.codes == unedited().codes
    for name in PRINTS:
        assert moved_mm(unedited().drawn, after.drawn, name) < SEEN_MM


def test_figures_read_at_once_are_not_the_same_as_figures_read_one_by_one() -> None:
    """They share the tape's error and the lens's, by which the pair's error on the card falls."""
    kit = full_kit()
    for reading in kit["readings"][:6]:
        kit["readings"].append({k: v for k, v in reading.items() if k != "taking"})
        del reading["attachment"]
    before, after = unedited(), seen(kit)
    assert after is not None
    changed = {name for name in PRINTS if before.codes[name] != after.codes[name]}
    assert changed == {"card"}
    assert differs(before, after, "card")


def test_a_strip_made_narrower_leaves_index_and_card_alone() -> None:
    kit = full_kit()
    kit["taking_lenses"]["long"]["ring"].update(strip_width="11 mm")
    after = seen(kit)
    assert after is not None
    changed = {name for name in PRINTS if unedited().codes[name] != after.codes[name]}
    assert changed == {"taking"}


STANDS: dict[str, Callable[[Table], None]] = {
    "support": lambda kit: kit["rigs"]["portrait"].update(support="rods"),
    "readout time": lambda kit: kit["cameras"]["body"].update(readout_time="20 ms"),
    "limit of the mount": lambda kit: kit["cameras"]["body"].update(mount_moment_limit="3 N m"),
    "limit of the helicoid": lambda kit: kit["taking_lenses"]["long"].update(
        helicoid_moment_limit="1 N m"
    ),
}


@pytest.mark.parametrize("fact", ["none", *STANDS])
def test_a_part_counts_for_setup_cards_only_where_its_place_is_printed(fact: str) -> None:
    """A rig of which nothing else is told has cards of its frames and of the attachment locked."""
    kit = {**plain_kit(), "supports": {"rods": {"name": "Rods", "position": "150 mm"}}}
    if fact in STANDS:
        STANDS[fact](kit)
    before = seen(kit)
    kit["clamps"]["clamp"].update(name="Another")
    after = seen(kit)
    assert before is not None
    assert after is not None
    moved = moved_mm(before.drawn, after.drawn, "setup")
    assert (moved < SAME_MM) == (before.codes["setup"] == after.codes["setup"]) == (fact == "none")
    others = [name for name in PRINTS if name != "setup"]
    assert all(before.codes[name] == after.codes[name] for name in others)


def test_the_bag_of_a_rig_that_tells_nothing_else_counts_where_its_close_ups_are_printed() -> None:
    kit = plain_kit()
    kit["close_up_lenses"] = {"near": {"name": "Near", "power": 0.5}}
    before = seen(kit)
    kit["rigs"]["portrait"].update(front_vertex="203 mm")
    found = [before, seen(kit)]
    kit["rigs"]["portrait"].update(front=["near"])
    found.append(seen(kit))
    kit["close_up_lenses"]["near"].update(mass="30 g", thickness="4 mm", thread="77 mm x 0.75")
    found.append(seen(kit))
    codes = [each.codes["setup"] for each in found if each]
    assert len(set(codes)) == len(found)


# --- many edits at once ---------------------------------------------------------------------------


@settings(max_examples=25, deadline=None)
@given(data=st.data())
def test_marks_never_move_by_a_hundredth_of_a_tolerance_under_one_code(data: st.DataObject) -> None:
    """The same kit, a few keys changed by anything from nothing to some percent."""
    kit = full_kit()
    for where in data.draw(st.lists(st.sampled_from(WALKED), max_size=3, unique=True)):
        found = QUANTITY.match(str(at(kit, where)))
        if found:
            share = data.draw(st.sampled_from((1e-13, 1e-10, 1e-7, 1e-4, 1e-2)))
            text = f"{float(found[1]) * (1.0 + share):.17g} {found[2]}"
            at(kit, where[:-1])[where[-1]] = text
    before, after = marks(full_kit()), marks(kit)
    if after is None or before is None:
        return
    for which, (was, now) in zip(RINGS, zip(before, after, strict=True), strict=True):
        if was[0] == now[0] and was[1].shape == now[1].shape:
            assert np.max(np.abs(now[1] - was[1]) / was[2]) < 0.01, which


def marks(table: Table) -> list[tuple[str, Numbers, Numbers]] | None:
    """Return each marker strip's code, arcs and tolerances."""
    try:
        (chart,) = build_charts(loaded(table), only=["portrait"])
    except FocusChartError:
        return None
    return [
        (revision(which, facts_of(chart)[which]), ring.arc_mm, ring.tolerance_mm[0])
        for which in RINGS
        for _, ring in [chart.ring(which)]
    ]
