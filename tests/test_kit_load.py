"""Kit files: what passes, and the one sentence each mistake gets."""

from __future__ import annotations

import re
import tomllib
import tracemalloc
from pathlib import Path

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from focuschart.errors import MOST_LISTED, KitError
from focuschart.kit.json_schema import json_schema
from focuschart.kit.load import load_kit
from focuschart.kit.parse import MOST_PARTS, parse_kit
from focuschart.kit.schema import Kit
from focuschart.prints.code import codes
from focuschart.prints.facts import PRINTS, facts_of
from focuschart.prints.topics import Topic
from tests.kits import charts, kit_text, loaded, plain_kit
from tests.rig_parts import changed_kit, full_kit

SAMPLES = sorted((Path(__file__).parent.parent / "sample_kits").glob("*.toml"))

SOUND = """
format = 1
name = "Bench"
distances = ["1.2 m", "3 m", "inf"]
stops = [2.8, 5.6]

[cameras.body]
name = "Body"
sensor_width = "36 mm"
sensor_height = "24 mm"
flange_focal_distance = "18 mm"

[taking_lenses.eighty-five]
name = "85 mm"
focal_length = "85 mm"
widest_stop = 1.8
nearest = "0.9 m"
length = "74 mm"
ring = { diameter = "64 mm", lead = "32 mm", nearer_turns = "clockwise" }

[attachments.double]
name = "2x"
squeeze = 2
moving_group = "front"
ruler_separation = "88 mm"
front_glass = "12 mm"
rear_glass = "14 mm"
nearest = "1.1 m"
length = "95 mm"
ring = { circumference = "258 mm", nearer_turns = "anticlockwise" }

[step_rings.up]
name = "72 to 77"
thickness = "3 mm"

[rigs.portrait]
name = "Portrait"
camera = "body"
taking_lens = "eighty-five"
attachment = "double"
chain = ["up"]
"""


def problems(text: str) -> list[str]:
    with pytest.raises(KitError) as caught:
        load_kit(text, source="bag.toml")
    return str(caught.value).splitlines()


def changed(old: str, new: str) -> str:
    assert SOUND.count(old) == 1, old
    return SOUND.replace(old, new)


def reading(distance: str, taking: float, attachment: float, extra: str = "") -> str:
    return (
        f'\n[[readings]]\nrig = "portrait"\ndistance = "{distance}"\nstop = 2.8\n'
        f"taking = {taking}\nattachment = {attachment}\n{extra}\n"
    )


def test_lengths_come_in_millimetres() -> None:
    kit = load_kit(SOUND, source="bag.toml")
    assert kit.taking_lenses["eighty-five"].nearest == 900.0
    assert kit.distances == [1200.0, 3000.0, float("inf")]


def test_the_front_vertex_is_the_sum_of_the_chain() -> None:
    kit = load_kit(SOUND, source="bag.toml")
    assert kit.front_vertex_mm(kit.rigs["portrait"]) == 18 + 74 + 3 + 95


def test_a_measured_front_vertex_wins_over_the_sum() -> None:
    kit = load_kit(changed('chain = ["up"]', 'chain = ["up"]\nfront_vertex = "201 mm"'),
                   source="bag.toml")  # fmt: skip
    assert kit.front_vertex_mm(kit.rigs["portrait"]) == 201.0


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_sample_kits_pass_and_fit_the_json_schema(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert load_kit(text, source=str(path)).readings
    jsonschema.validate(tomllib.loads(text), json_schema())


def test_the_json_schema_is_itself_valid_and_refuses_what_the_loader_refuses() -> None:
    jsonschema.Draft202012Validator.check_schema(json_schema())
    for text in (changed('"85 mm"\nw', '"85"\nw'), changed("squeeze = 2", "squeeze = 9")):
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate(tomllib.loads(text), json_schema())


MISTAKES = {
    "unquoted unit": ('sensor_width = "36 mm"', "sensor_width = 36 mm", 'quotes: "36 mm"'),
    "bare number": ('sensor_width = "36 mm"', "sensor_width = 36",
                    r"cameras\.body\.sensor_width is 36: must be quoted text with a unit"),
    "no unit": ('"36 mm"', '"36"', r'sensor_width is "36": write a number and a unit'),
    "wrong unit": ('"36 mm"', '"36 kg"', r'sensor_width is "36 kg": write a number and a unit'),
    "negative": ('"36 mm"', '"-36 mm"', r'sensor_width is "-36 mm": write a number'),
    "zero": ('"36 mm"', '"0 mm"', r"sensor_width is .* must be between 2 mm and 120 mm"),
    "nan": ('"36 mm"', '"nan"', r'sensor_width is "nan": write a number'),
    "infinite": ('"36 mm"', '"inf"', r"sensor_width is .* must be between"),
    "nan number": ("squeeze = 2", "squeeze = nan", r"squeeze is nan: must be"),
    "squeeze below one": ("squeeze = 2", "squeeze = 0.5", r"squeeze is 0.5: must be 1.05 or more"),
    "squeeze as text": ("squeeze = 2", 'squeeze = "2x"', r'is "2x": write 2, without quotes'),
    "squeeze as truth": ("squeeze = 2", "squeeze = true", r"squeeze is true: must be a plain"),
    "ring of 2 mm": ('"64 mm"', '"2 mm"', r"ring\.diameter is \"2 mm\": must be between 20 mm"),
    "ring of 2 m": ('"258 mm"', '"2 m"', r"ring\.circumference is \"2 m\": must be between 60 mm"),
    "two sizes": ('circumference = "258 mm"', 'circumference = "258 mm", diameter = "82 mm"',
                  r"attachments\.double\.ring is a table: give either circumference or diameter"),
    "misspelt key": ("widest_stop", "widest_stap", r"widest_stap .*did you mean widest_stop\?"),
    "missing key": ("widest_stop = 1.8\n", "", r"eighty-five\.widest_stop: is missing"),
    "missing camera": ('camera = "body"', 'camera = "bodi"',
                       r'\.portrait\.camera is "bodi": no such part in the kit; did you mean bod'),
    "missing link": ('chain = ["up"]', 'chain = ["down"]', r'rigs\.portrait\.chain\[0\] is "down"'),
    "path as id": ("[step_rings.up]", '[step_rings.up]\nname = "a"\nthickness = "1 mm"\n'
                   '[step_rings."../../up"]', r'"../../up": an id has small letters, digits'),
    "same id twice": ("[step_rings.up]", "[cameras.body]", "the same id or key stands here twice"),
    "wrong word": ('"front"', '"middle"', "must be 'front' or 'rear'"),
    "nearer than the lens": ('"1.2 m"', '"0.5 m"', r"distances\[0\] .*no nearer than 1.1 m"),
    "stop too wide": ("[2.8, 5.6]", "[1.4, 5.6]", r"stops\[0\] is 1.4: .* opens to f/1.8 only"),
    "same stop twice": ("[2.8, 5.6]", "[2.8, 2.8]", r"stops: holds f/2.8 2 times"),
    "no distances": ('["1.2 m", "3 m", "inf"]', "[]", r"distances is a list: needs at least 1"),
    "control character": ('name = "2x"', 'name = "2x\\u0007"', "must not hold control characters"),
    "blank name": ('name = "2x"', 'name = "  "', "must not be blank"),
    "no length": ('length = "95 mm"\n', "",
                  r"attachments\.double\.length: is missing: add it, or measure rigs\.portrait"),
    "old format": ("format = 1", "format = 2", r"format is 2: must be 1"),
    "internal front moves": ('nearest = "0.9 m"', 'nearest = "0.9 m"\nfocusing = "internal"',
                             "a lens that focuses inside has front_moves = false"),
}  # fmt: skip


@pytest.mark.parametrize("name", MISTAKES)
def test_a_mistake_gets_one_sentence(name: str) -> None:
    old, new, expected = MISTAKES[name]
    found = problems(changed(old, new))
    assert len(found) == 1, found
    assert found[0].startswith("bag.toml")
    assert re.search(expected, found[0]), found[0]


def test_all_problems_come_at_once() -> None:
    text = (
        changed("squeeze = 2", "squeeze = 0.5")
        .replace('"36 mm"', "36")
        .replace('camera = "body"', 'camera = "bodi"')
        .replace("stops = [2.8, 5.6]", "stops = [2.8, 2.8]")
    )
    found = "\n".join(problems(text))
    for key in ("squeeze", "sensor_width", "rigs.portrait.camera", "stops: holds"):
        assert key in found


def test_subject_behind_the_front_glass() -> None:
    text = changed('nearest = "0.9 m"', 'nearest = "0.2 m"').replace('"1.1 m"', '"0.2 m"')
    text = text.replace('focal_length = "85 mm"', 'focal_length = "20 mm"')
    found = problems(text.replace('"1.2 m"', '"200 mm"'))
    assert len(found) == 1
    assert "limited by the front glass" in found[0]


def test_readings_against_the_stated_direction() -> None:
    found = problems(SOUND + reading("1.2 m", 90, 160) + reading("3 m", 20, 70))
    assert [line for line in found if "nearer_turns" in line and "the other way" in line]


@pytest.mark.parametrize(
    ("marks", "expected"),
    [
        ('{ distance = "1 m", ruler = 90 }, { distance = "2 m", ruler = 20 }',
         r"attachments\.double\.ring\.engraved: .* other way"),
        ('{ distance = "1 m", ruler = 90 }, { distance = "2 m", ruler = 90 }',
         r"attachments\.double\.ring\.engraved: .* twice"),
        ('{ distance = "1 m", ruler = 90 }, { distance = "1 m", ruler = 80 }',
         r"attachments\.double\.ring\.engraved: .* twice"),
    ],
)  # fmt: skip
def test_engraved_figures_that_cannot_be(marks: str, expected: str) -> None:
    text = changed('"anticlockwise" }', f'"clockwise", engraved = [{marks}] }}')
    found = problems(text)
    assert len(found) == 1, found
    assert re.search(expected, found[0]), found[0]


def test_readings_over_more_than_one_turn() -> None:
    found = problems(SOUND + reading("1.2 m", 20, 300) + reading("3 m", 90, 10))
    assert any("one turn is 258" in line for line in found)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (reading("1.2 m", 20, 160).replace('"portrait"', '"landscape"'),
         r'readings\[0\]\.rig is "landscape"'),
        (reading("0.5 m", 20, 160), r"readings\[0\]\.distance .*focuses no nearer"),
        (reading("3 m", 20, 160).replace("2.8", "1.2"), r"readings\[0\]\.stop .*opens to f/1.8"),
        (reading("inf", 20, 160, 'distance_error = "3 m"'), r"distance_error: goes with"),
        ('\n[[readings]]\nrig = "portrait"\ndistance = "2 m"\nstop = 2.8\n',
         r"readings\[0\] is a table: give the ruler figure"),
        (reading("2 m", 20, 160).replace("20", "inf"), r"readings\[0\]\.taking is inf: must be"),
    ],
)  # fmt: skip
def test_a_faulty_reading_gets_one_sentence(text: str, expected: str) -> None:
    found = problems(SOUND + text)
    assert len(found) == 1, found
    assert re.search(expected, found[0]), found[0]


@pytest.mark.parametrize(
    "text",
    ["", "]", "a = ", "\x00", "[" * 5000, "x = " + "[" * 5000, "a=1\na=2", "format = 1", '"' * 7,
     "readings = 3\nrigs = 4\ncameras = []", "[rigs]\nx = 3\n[readings]\ny = 2"],
)  # fmt: skip
def test_rubbish_is_refused_not_crashed_on(text: str) -> None:
    assert all(line.startswith("bag.toml") for line in problems(text))


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("squeeze = 1" + "0" * 5000, "far too many digits"),
        (SOUND.replace("squeeze = 2", "squeeze = 0x" + "f" * 9000), "a number of many digits"),
        ('["line 999"]\n["line 999"]', "the same id or key stands here twice"),
        (SOUND.replace('"88 mm"', '"188 mm"'), "ruler_separation .* less than the length of what"),
        (SOUND.replace('camera = "body"', r'camera = "a\nb\u001b[31m"'), "no such part"),
        (SOUND.replace("[2.8, 5.6]", "[2.8, 2.8000001]"), "stops: holds f/2.8 2 times"),
    ],
    ids=["digits", "hex", "line", "separation", "control", "stops"],
)
def test_hostile_text_gets_a_plain_sentence(text: str, expected: str) -> None:
    found = problems(text)
    assert any(re.search(expected, line) for line in found), found
    assert all(line.isprintable() for line in found)


def test_a_kit_is_frozen() -> None:
    kit: Kit = load_kit(SOUND, source="bag.toml")
    with pytest.raises(ValueError, match="frozen"):
        kit.name = "other"


def test_what_weighs_holds_and_fits_is_read_and_fits_the_json_schema() -> None:
    kit = loaded(full_kit())
    assert kit.attachments["double"].mass == 800.0
    assert kit.cameras["body"].centre_of_gravity == -5.0
    jsonschema.validate(tomllib.loads(kit_text(full_kit())), json_schema())


def test_what_weighs_holds_and_fits_moves_no_mark_and_changes_no_code() -> None:
    """But for the card's: it says where the corners are clean, where the kit tells it."""
    plain, full = charts(plain_kit())["portrait"], charts(full_kit())["portrait"]
    same = [name for name in PRINTS if codes(plain)[name] == codes(full)[name]]
    assert same == [name for name in PRINTS if name not in ("card", "setup")]
    facts = {key: value for key, value in facts_of(full)["card"].items() if key != "corners"}
    framed = {Topic.GAUGE: facts_of(plain)["card"][Topic.GAUGE]}  # by the kit's own gauge
    assert {**facts, **framed} == facts_of(plain)["card"]
    for (_, before), (_, after) in zip(plain.rings().values(), full.rings().values(), strict=True):
        assert before is not None
        assert after is not None
        assert before.arc_mm.tolist() == after.arc_mm.tolist()


FAULTS: dict[str, tuple[tuple[str, ...], object, str]] = {
    "negative mass": (("attachments", "double", "mass"), "-800 g", r'mass is "-800 g": must be b'),
    "mass as length": (("cameras", "body", "mass"), "70 mm", r"write a number and a unit, .*640 g"),
    "bare mass": (("cameras", "body", "mass"), 700, r"mass is 700: must be quoted text"),
    "pixels of another mode": (("cameras", "body", "pixels"), [3840, 2160],
                               r"pixels is \[3840, 2160\]: must have the sensor's ratio, 1.500, "),
    "one pixel count": (("cameras", "body", "pixels"), [6000], "pixels is .*two whole numbers"),
    "bad thread": (("taking_lenses", "long", "front_thread"), "wide", "write diameter and pitch"),
    "glass wider than its thread": (("taking_lenses", "long", "front_clear_aperture"), "70 mm",
                                    "must be less than front_thread, 67 mm"),
    "thread wider than its barrel": (("taking_lenses", "long", "barrel_diameter"), "66 mm",
                                     "front_thread is .* must be less than barrel_diameter, 66"),
    "filter wider than its thread": (("filters", "clear", "clear_aperture"), "78 mm",
                                     "clear_aperture is .* must be less than thread, 77 mm"),
    "helicoid ahead of the lens": (("taking_lenses", "long", "helicoid"), "80 mm",
                                   "helicoid is .* must be less than length, 74 mm"),
    "centre ahead of the part": (("attachments", "double", "centre_of_gravity"), "96 mm",
                                 "centre_of_gravity is .* must be less than length, 95 mm"),
    "pupil ahead of the lens": (("taking_lenses", "long", "entrance_pupil"), "95 mm",
                                "entrance_pupil is .* behind the lens's front rim, 92 mm"),
    "support ahead of the front": (("supports", "rods", "position"), "210 mm",
                                   r"supports\.rods\.position is .*, and behind 199 mm, its front"),
    "support behind the mount": (("supports", "rods", "position"), "18 mm", "ahead of 18 mm"),
    "plate back to front": (("carriers", "head", "plate_range"), ["9 mm", "-9 mm"],
                            "plate_range: must run from behind to before"),
    "part used twice": (("rigs", "portrait", "chain"), ["clamp", "clamp"],
                        r'rigs\.portrait\.chain: names "clamp" 2 times'),
    "filter used twice": (("rigs", "portrait", "front"), ["clear", "clear"],
                          r'rigs\.portrait\.front: names "clear" 2 times'),
    "clamp in front": (("rigs", "portrait", "front"), ["clamp"],
                       r'front\[0\] is "clamp": no such part in the kit; it has clear, plus'),
    "no such support": (("rigs", "portrait", "support"), "rod", r'support is "rod": no such part'),
    "no such carrier": (("rigs", "portrait", "carrier"), "hed", r'carrier is "hed": no such part'),
    "one id for two": (("filters", "idle"), {"name": "Idle"},
                       r"filters\.idle: is the id of a clamp"),
    "same delivery twice": (("deliveries",), ["2.39", "2.39:1"], "deliveries: holds one ratio 2 "),
    "upright delivery": (("deliveries",), ["9:16"], r'deliveries\[0\] is "9:16": must be between'),
    "close-up without power": (("close_up_lenses", "plus", "power"), 0.0, "power is 0.0: must be"),
    "mount with a line break": (("cameras", "body", "mount"), "a\nb", "control characters"),
}  # fmt: skip


@pytest.mark.parametrize("fault", FAULTS)
def test_each_contradiction_of_parts_gets_one_sentence(fault: str) -> None:
    path, value, expected = FAULTS[fault]
    found = problems(kit_text(changed_kit(*path, to=value)))
    assert len(found) == 1, found
    assert re.search(expected, found[0]), found[0]


def test_of_many_problems_the_first_are_listed_and_the_others_counted() -> None:
    wrong = "".join(f'wrong-{n} = "x"\n' for n in range(3000))
    found = problems(wrong + SOUND)
    assert len(found) == MOST_LISTED + 1 == 21
    assert found[-1] == "and 2,980 more"


LONG = ".".join(["a"] * 10_000)


@pytest.mark.parametrize(
    ("text", "line"),
    [
        (f"{LONG} = 1", 1),
        (f"format = 1\n[{LONG}]", 2),
        (f"\n\n[[ {LONG} ]]", 3),
        (f"x = {{ y = 1, {LONG} = 2 }}", 1),
        (LONG.replace("a", '"a b"') + " = 1", 1),
        (LONG.replace(".", " . ").replace("a", "'a'") + " = 1", 1),
    ],
)
def test_a_key_of_very_many_parts_is_refused_before_it_is_parsed(text: str, line: int) -> None:
    tracemalloc.start()
    (found,) = problems(text)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert f"a key of more than {MOST_PARTS} parts, at line {line}" in found
    assert "shorten it" in found
    assert peak < 10 * len(text) + 100_000


@given(st.lists(st.sampled_from(["a", '"b c"', "'d'"]), min_size=1, max_size=MOST_PARTS))
def test_a_key_of_few_parts_is_parsed(parts: list[str]) -> None:
    assert parse_kit(".".join(parts) + " = 1", source="kit.toml")


@pytest.mark.parametrize("text", [f'name = "{LONG}"', f"# {LONG}", f"a = 1 # {LONG}"])
def test_a_text_or_a_comment_is_no_key(text: str) -> None:
    assert parse_kit(f"x = 1\n{text}", source="kit.toml")
