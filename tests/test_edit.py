"""Readings added to a kit's text: every byte that was there stays, and the kit says one more."""

from __future__ import annotations

import math
import re
import tomllib

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from focuschart.errors import InputError
from focuschart.kit.edit import readings_added, with_reading
from focuschart.kit.load import load_kit
from focuschart.kit.reading import Reading

# Every part is invented.
HEAD = (
    "format = 1",
    'name = "Bench"',
    'distances = ["1.2 m",\n"3 m", # near\n"inf"]',
    "stops = [2.8, 5.6]",
)
PARTS = (
    ("[cameras.body]", 'name = "Body"', 'sensor_width = "36 mm"', 'sensor_height = "24 mm"',
     'flange_focal_distance = "18 mm"'),
    ("[taking_lenses.long]", 'name = "[[readings]]"', 'focal_length = "85 mm"',
     "widest_stop = 1.8", 'nearest = "0.9 m"', 'length = "74 mm"',
     'ring.diameter = "64 mm"', 'ring . "nearer_turns" = "clockwise"'),
    ("[[taking_lenses.long.ring.engraved]]", 'distance = "3 m"', "ruler = 70"),
    ("[attachments.double]", "name = '2x'", "squeeze = 2", 'moving_group = "front"',
     'ruler_separation = "88 mm"', 'front_glass = "12 mm"', 'rear_glass = "14 mm"',
     'nearest = "1.1 m"', 'length = "95 mm"',
     'ring = { circumference = "258 mm", nearer_turns = "anticlockwise" }'),
    ("[rigs.portrait]", 'name = "A"', 'camera = "body"', 'taking_lens = "long"',
     'attachment = "double"'),
    ("[rigs.spare]", 'name = "B"', 'camera = "body"', 'taking_lens = "long"',
     'attachment = "double"', "chain = ['up']"),
    ("[step_rings.up]", 'name = "Up"', 'thickness = "3 mm"'),
)  # fmt: skip
READ = (("1.2 m", 55.0, 160.0), ("2 m", 70.0, 100.0), ("3 m", 80.0, 70.0), ("60 m", 90.0, 15.0))
NEW = {"rig": "portrait", "distance": "6 m", "stop": 2.8, "taking": 85.5, "attachment": 45.0}

COMMENTS = st.sampled_from(
    ["# x", "#", "  # [[readings]]", '\t#"', "#[[readings]]", "# ∞ é", "# ]"]
)
BLANKS = st.sampled_from(["", "", " ", "\t"])
FILLING = st.lists(COMMENTS | BLANKS, max_size=3)


@st.composite
def readings(draw: st.DrawFn) -> list[tuple[str, ...]]:
    """Return tables of readings, in a hand of their own."""
    header = draw(st.sampled_from(["[[readings]]", "[[ readings ]]", '[["readings"]]']))
    sign = draw(st.sampled_from(["=", " = ", " =", "= ", "\t= "]))
    quote = draw(st.sampled_from("\"'"))
    return [
        (header, f"rig{sign}{quote}portrait{quote}", f"distance{sign}{quote}{distance}{quote}",
         f"stop{sign}2.8", f"taking{sign}{taking}", f"attachment{sign}{attachment}")
        for distance, taking, attachment in READ[: draw(st.integers(0, len(READ)))]
    ]  # fmt: skip


@st.composite
def laid_out(draw: st.DrawFn, tables: list[tuple[str, ...]], head: tuple[str, ...] = HEAD) -> str:
    """Return the text of tables with comments, blank lines, indents and line ends as it comes."""
    lines: list[str] = []
    for table in (head, *tables):
        indent = draw(st.sampled_from(["", "", "  ", "\t"]))
        lines += draw(FILLING)
        for line in table:
            lines += [indent + line + draw(st.sampled_from(["", "", "  ", " # why"]))]
            lines += draw(FILLING) if draw(st.integers(0, 9)) == 0 else []
    lines += draw(FILLING)
    end = draw(st.sampled_from(["\n", "\r\n"]))
    text = end.join("\n".join(lines).split("\n"))
    return text + draw(st.sampled_from(["", end, end * 3]))


@st.composite
def table_kits(draw: st.DrawFn) -> str:
    """Return a kit whose tables stand in any order, its readings together or not."""
    tables = [*draw(st.permutations(PARTS[:2])), *draw(st.permutations(PARTS[2:]))]
    at = 0
    for reading in draw(readings()):
        at = draw(st.integers(at, len(tables)))
        tables.insert(at, reading)
        at += 1
    return draw(laid_out(tables))


@st.composite
def array_kits(draw: st.DrawFn) -> str:
    """Return a kit with its readings in one array."""
    pad, sign, comma = draw(st.sampled_from([(" ", " = ", ", "), ("", "=", ",")]))
    entries = [
        f"{{{pad}" + comma.join(line.replace(" = ", sign) for line in (
            'rig = "portrait"', f'distance = "{distance}"', "stop = 2.8", f"taking = {taking}"))
        + f"{pad}}}" for distance, taking, _ in READ[: draw(st.integers(0, len(READ)))]
    ]  # fmt: skip
    gaps = st.sampled_from(["", " ", "\n", "\n  ", " # x\n\t", "\n\n  # ] }\n  "])
    body = "".join(
        f"{draw(gaps)}{entry}{draw(gaps)}{',' if more else draw(st.sampled_from(['', ',']))}"
        for entry, more in zip(entries, [True] * (len(entries) - 1) + [False], strict=True)
    ) if entries else ""  # fmt: skip
    return draw(laid_out(list(PARTS), (*HEAD, f"readings = [{body}{draw(gaps)}] # end")))


def added(old: str, new: str) -> str:
    """Return the one stretch that a text has more than another one."""
    pairs = enumerate(zip(old, new, strict=False))
    start = next((i for i, (a, b) in pairs if a != b), len(old))
    # Where the stretch begins like what follows it, it may as well begin at an earlier line.
    for at in range(start, -1, -1):
        extra = len(new) - len(old)
        if new[:at] + new[at + extra :] == old and new[at - 1 : at] in ("\n", ""):
            return new[at : at + extra]
    at = start
    assert new[:at] + new[at + len(new) - len(old) :] == old
    return new[at : at + len(new) - len(old)]


def headers(text: str) -> list[str]:
    return re.findall(r"^[ \t]*(\[.*?\]+)", text, re.MULTILINE)


# --- laws -------------------------------------------------------------------------------------


@given(table_kits())
def test_the_new_lines_taken_out_leave_the_very_text(text: str) -> None:
    stretch = added(text, with_reading(text, NEW))
    assert tomllib.loads(stretch) == {"readings": [NEW]}
    assert not stretch.count("#")


@given(table_kits() | array_kits(), st.lists(st.sampled_from(["taking", "attachment"]), max_size=3))
def test_the_kit_says_what_it_said_and_the_readings(text: str, rings: list[str]) -> None:
    new = [{**NEW, ring: None} for ring in rings] or [NEW]
    before = load_kit(text, source="old")
    after = load_kit(with_reading(text, *new), source="new")
    told = [{**reading, "distance": "6 m"} for reading in new]
    assert after.readings == [*before.readings, *map(Reading.model_validate, told)]
    assert after.model_copy(update={"readings": before.readings}) == before


@given(table_kits())
def test_a_reading_stands_under_the_last_one(text: str) -> None:
    before, after = headers(text), headers(with_reading(text, NEW))
    tables = [i for i, header in enumerate(before) if "[[taking" not in header]
    last = max((i for i in tables if header_of_a_reading(before[i])), default=len(before) - 1)
    like = before[last] if header_of_a_reading(before[last]) else "[[readings]]"
    assert after == [*before[: last + 1], like, *before[last + 1 :]]


def header_of_a_reading(header: str) -> bool:
    return re.sub("[ \"']", "", header) == "[[readings]]"


@given(table_kits() | array_kits())
def test_line_ends_stay_of_one_kind(text: str) -> None:
    new = with_reading(text, NEW)
    if "\r\n" in text:
        assert new.count("\n") == new.count("\r\n")
    else:
        assert "\r" not in new


@given(array_kits())
def test_an_array_loses_no_character(text: str) -> None:
    left = iter(with_reading(text, NEW))
    assert all(character in left for character in text)


@given(table_kits() | array_kits())
def test_two_at_once_are_one_after_the_other(text: str) -> None:
    other = {**NEW, "taking": 85.7}
    assert with_reading(text, NEW, other) == with_reading(with_reading(text, NEW), other)


@given(table_kits() | array_kits(), st.data())
def test_what_was_only_added_to_is_known_again(text: str, data: st.DataObject) -> None:
    new = with_reading(text, NEW, NEW)
    assert readings_added(text, new) == [NEW, NEW]
    assert readings_added(text, text) == []
    assert readings_added(new, text) is None
    at = data.draw(st.integers(0, len(text)))
    assert not readings_added(text[:at] + " " + text[at:], new)


@given(st.text())
@example("[[readings]]\nrig = 1\n")
def test_any_text_either_has_readings_added_or_not(old: str) -> None:
    assert readings_added(old, 'a = "∞"\n') in ([] if old == 'a = "∞"\n' else None, None)


@given(st.text(), st.text(), st.floats())
def test_whatever_is_told_is_written_as_told(rig: str, distance: str, figure: float) -> None:
    """The loader judges it, not the editor."""
    told = {"rig": rig, "distance": distance, "taking": figure}
    said = tomllib.loads(with_reading("x = 1\n[[readings]]\nrig = 'a'\n", told))["readings"][1]
    assert (said["rig"], said["distance"]) == (rig, distance)
    assert said["taking"] == figure or math.isnan(figure)


# --- layouts ----------------------------------------------------------------------------------

TOLD = {"attachment": 3.5, "rig": "p", "distance_error": None, "distance": "2 m"}
LAYOUTS = {
    "none yet": ("a = 1\n", '\n[[readings]]\nrig = "p"\ndistance = "2 m"\nattachment = 3.5\n'),
    "nothing": ("", '[[readings]]\nrig = "p"\ndistance = "2 m"\nattachment = 3.5\n'),
    "no newline": ("a = 1", '\n\n[[readings]]\nrig = "p"\ndistance = "2 m"\nattachment = 3.5\n'),
    "close": ("a = 1\n[[readings]]\nrig='q'\n",
              "[[readings]]\nrig='p'\ndistance=\"2 m\"\nattachment=3.5\n"),
    "column": ("\n\n  [[readings]]\n  rig        = 'q'\n  attachment = 4\n",
               "\n  [[readings]]\n  rig        = 'p'\n  distance   = \"2 m\"\n"
               "  attachment = 3.5\n"),
    "windows": ("a = 1\r\n\r\n[[readings]]\r\nrig = 'q'\r\n",
                "\r\n[[readings]]\r\nrig = 'p'\r\ndistance = \"2 m\"\r\nattachment = 3.5\r\n"),
    "close, remark": ('a = 1\n[[readings]]\nrig = "q"\n# tape slipped?\n',
                      '\n[[readings]]\nrig = "p"\ndistance = "2 m"\nattachment = 3.5\n'),
    "remark": ("\n[[readings]]\nrig = 'q'\n# tape slipped?\n",
               "\n[[readings]]\nrig = 'p'\ndistance = \"2 m\"\nattachment = 3.5\n"),
}  # fmt: skip


@pytest.mark.parametrize("case", LAYOUTS)
def test_it_follows_the_hand_of_the_file(case: str) -> None:
    text, stretch = LAYOUTS[case]
    assert with_reading(text, TOLD) == text + stretch


def test_a_foot_sign_needs_the_other_quotes() -> None:
    text = "[[readings]]\ndistance = '3 m'\n[b]\n"
    assert with_reading(text, {"distance": "6' 3\""}) == (
        "[[readings]]\ndistance = '3 m'\n\n[[readings]]\ndistance = \"6' 3\\\"\"\n[b]\n"
    )


WROTE = '[[readings]]\nrig = "p"\ndistance = "2 m"\nattachment = 3.5\n'


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ('\n[[readings]]\nrig = "q"\n', "\n# The spare\n[b]\n"),
        ('\n[[readings]]\nrig = "q"\n# tape slipped?\n', "\n\n# The spare\n\n[b]\n"),
        ('\n[[readings]]\nrig = "q"\n', "# The spare\n[b]\n"),
        ('\n[[readings]]\nrig = "q"\n\n# later\n', "\n\n"),
    ],
)
def test_comments_stay_with_what_they_speak_of(before: str, after: str) -> None:
    assert with_reading(before + after, TOLD) == f"{before}\n{WROTE}{after}"


ARRAYS = {
    "empty": ("readings = []", "readings = [{n}]"),
    "empty, remark": ("readings = [ # none\n]", "readings = [{n} # none\n]"),
    "line": ('readings = [{ rig = "q" }]', 'readings = [{ rig = "q" }, {n}]'),
    "line, comma": ('readings = [{ rig = "q" },]', 'readings = [{ rig = "q" }, {n},]'),
    "tight": ('readings = [{rig="q",stop=2}]',
              'readings = [{rig="q",stop=2}, {rig="p",distance="2 m",attachment=3.5}]'),
    "lines": ('readings = [\n  { rig = "q" }\n]', 'readings = [\n  { rig = "q" },\n  {n}\n]'),
    "lines, comma": ('readings = [\n  { rig = "q" }, # x\n  # y\n]',
                     'readings = [\n  { rig = "q" }, # x\n  {n},\n  # y\n]'),
    "lines, remark": ('readings = [\r\n\t{ rig = "q" } # ,\r\n]\r\n',
                      'readings = [\r\n\t{ rig = "q" }, # ,\r\n\t{n}\r\n]\r\n'),
    "lines, tight": ('readings = [\n { rig = "q" }]', 'readings = [\n { rig = "q" },\n {n}]'),
}  # fmt: skip


@pytest.mark.parametrize("case", ARRAYS)
def test_an_array_is_added_to_in_its_own_style(case: str) -> None:
    before, after = ARRAYS[case]
    table = '{ rig = "p", distance = "2 m", attachment = 3.5 }'
    assert with_reading(before, TOLD) == after.replace("{n}", table)


@pytest.mark.parametrize(
    "text",
    ["readings = 3", "[readings]\nx = 1", "readings = [1]", "readings.x = 1",
     '"readings" = [{ a = 1 }, 2]'],
)  # fmt: skip
def test_readings_that_are_none_are_refused(text: str) -> None:
    with pytest.raises(InputError, match=r"laid out so that none can be added safely: write each"):
        with_reading(text, NEW)


@pytest.mark.parametrize(
    "text",
    [
        '[["read\\u0069ngs"]]\nrig = "q"\n[b]\n',
        '[[readings]]\nrig = """\\\n[[readings]]\n"""\n[b]\n',
    ],
)
def test_a_place_that_cannot_be_told_is_the_end_of_the_file(text: str) -> None:
    assert with_reading(text, TOLD) == f"{text}\n{WROTE}"


def test_nothing_told_is_nothing_done() -> None:
    assert with_reading("a = 1") == "a = 1"


def test_the_order_of_keys_is_the_readme_s() -> None:
    order = ["rig", "distance", "distance_error", "stop", "taking", "attachment"]
    lines = with_reading("", dict.fromkeys(reversed(order), 1)).splitlines()
    assert lines == ["[[readings]]", *(f"{key} = 1" for key in order)]
