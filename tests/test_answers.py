"""Answers to the interview: the one sentence a bad one gets, and any good ones make a kit."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from focuschart.kit.fields import ID_PATTERN
from focuschart.kit.interview import Interview
from focuschart.kit.load import load_kit
from focuschart.kit.questions import bag, unique_id
from tests.interviews import BAG, advance, key_of, kit_of


@given(name=st.text(min_size=1, max_size=60), taken=st.integers(0, 3))
def test_an_id_is_an_id_whatever_the_name(name: str, taken: int) -> None:
    ids: list[str] = []
    for _ in range(taken + 1):
        ids.append(unique_id(name, taken=ids, kind="lens"))
    assert len(set(ids)) == taken + 1
    assert all(re.fullmatch(ID_PATTERN, found) for found in ids)


@pytest.mark.parametrize(
    "name", ['The "fast" one', "back\\slash \\n", "Übergröße ½ ∞", "тест", "= [x] # '''", "٣"]
)
def test_names_come_back_as_typed(name: str) -> None:
    kit = kit_of(BAG | {"kit.name": name, "taking_lenses.1.name": name})
    assert kit["name"] == name
    assert [lens["name"] for lens in kit["taking_lenses"].values()] == [name]


BAD = [
    ("kit.name", "a\x07b", "must not hold control characters"),
    ("kit.name", "a\x7fb", "must not hold control characters"),
    ("kit.name", "a\udc80b", "must be a valid string"),
    ("kit.name", "a" * 61, "must have at most 60 characters"),
    ("kit.units", "furlongs", "answer metric, imperial or both"),
    ("cameras.1.sensor_width", "nan", '^"nan": write a number and a unit, for example'),
    ("cameras.1.sensor_width", "-3 mm", "write a number and a unit"),
    ("cameras.1.sensor_width", "72", "write a number and a unit"),
    ("cameras.1.sensor_width", "72mm;", "write a number and a unit"),
    ("cameras.1.sensor_width", "inf", "must be between 2 mm and 120 mm"),
    ("cameras.1.sensor_width", "skip", "write a number and a unit"),
    ("cameras.1.sensor_height", "skip", "write a number and a unit"),
    ("cameras.1.flange_focal_distance", "", "An answer is needed, for example 18 mm"),
    ("taking_lenses.1.name", "", "An answer is needed, for example 85 mm f/1.8"),
    ("taking_lenses.1.widest_stop", "nan", "write a plain number"),
    ("taking_lenses.1.widest_stop", "1,800", "could be 1.800 or 1800"),
    ("taking_lenses.1.widest_stop", "0.5", "must be 0.7 or more"),
    ("taking_lenses.1.front_moves", "perhaps", "answer yes or no"),
    ("taking_lenses.1.circumference", "skip", "write a number and a unit"),
    ("taking_lenses.1.nearer_turns", "left", "answer clockwise or anticlockwise"),
    ("taking_lenses.1.nearer_turns", "", "An answer is needed"),
    ("attachments.1.squeeze", "0.5", "must be 1.05 or more"),
    ("attachments.1.squeeze", "inf", "write a plain number"),
    ("attachments.1.squeeze", "1_0", "write a plain number"),
    ("attachments.1.front_glass", "12 kg", "write a number and a unit"),
    ("kit.distances", "1 m, 3 m", "focuses no nearer than 1.1 m, limited by attachment"),
    ("kit.distances", "2 m,, 3 m", "write a number and a unit"),
    ("kit.distances", "2 m, 2000 mm", "holds 2 m 2 times"),
    ("kit.distances", ", ".join(f"{n} m" for n in range(2, 60)), "more than 40 entries"),
    ("kit.stops", "1.4, 2.8", "opens to f/1.8 only"),
    ("kit.stops", "2.8, f", "write a plain number"),
    ("kit.stops", "2.8, 2.8", "holds f/2.8 2 times"),
    ("kit.write", "no", "< goes back"),
]


@pytest.mark.parametrize(("key", "answer", "sentence"), BAD)
def test_a_bad_answer_gets_one_sentence_and_is_asked_again(
    key: str, answer: str, sentence: str
) -> None:
    interview = advance(Interview(bag), BAG, until=key)
    with pytest.raises(ValueError, match=sentence) as caught:
        interview.answer(answer)
    assert "\n" not in str(caught.value)
    assert key_of(interview) == key
    load_kit(advance(interview, BAG).result, source="kit.toml")


@pytest.mark.parametrize("answer", ["3", "1, 1", "0", "one", "1;2", "-1"])
def test_a_chain_names_each_part_once_at_most(answer: str) -> None:
    links = {"links.1.kind": "c", "links.1.name": "Clamp", "links.1.thickness": "9 mm"}
    interview = advance(Interview(bag), BAG | links, until="rigs.0-0.chain")
    with pytest.raises(ValueError, match="each number from 1 to 1 once at most, or none"):
        interview.answer(answer)


LENGTHS = {
    "sensor_width": ("36 mm", "24.9 mm", "1 in"),
    "sensor_height": ("24 mm", "18 mm"),
    "flange_focal_distance": ("18 mm", "44 mm"),
    "focal_length": ("50 mm", "85 mm", "2 in"),
    "nearest": ("0.6 m", "2 ft 6 in", "1.5 m"),
    "length": ("95 mm", "skip"),
    "circumference": ("201 mm", "10 in"),
    "diameter": ("64 mm", "3 1/4 in"),
    "lead": ("skip", "32 mm"),
    "ruler_separation": ("60 mm", "88 mm"),
    "front_glass": ("9 mm", "12.5 mm"),
    "rear_glass": ("9 mm", "1/2 in"),
    "thickness": ("0 mm", "3 mm"),
    "front_vertex": ("215 mm", "9 in"),
}
WORDS = {
    "units": ("metric", "imperial", "both", ""),
    "distances": ("", "25 m, inf", "inf", "100 ft, 30 m"),
    "stops": ("", "22", "16, f/22"),
    "widest_stop": ("1.8", "f/4", "2.8"),
    "focusing": ("extends", "internal", "cam"),
    "front_moves": ("yes", "no"),
    "squeeze": ("1.33", "2", "1.75x"),
    "moving_group": ("front", "rear"),
    "size": ("circumference", "diameter"),
    "nearer_turns": ("clockwise", "anticlockwise"),
    "more": ("no", "no", "yes"),
    "kind": ("none", "none", "step ring", "clamp"),
    "wanted": ("yes", "no"),
    "chain": ("none", "1", ""),
    "write": ("",),
}
FACTS = {
    "facts": ("yes", "no", ""),
    "front_rotates": ("yes", "no", "skip"),
    "mass": ("640 g", "1,4 kg", "3 lb 2 oz", ""),
    "mount": ("bayonet", "screw", "skip"),
    "centre_of_gravity": ("−4 mm", "1,5 cm", "skip"),
    "tripod_thread": ("8 mm", ""),
    "mount_moment_limit": ("3 N m", "2,5 N m", ""),
    "helicoid_moment_limit": ("1 N m", ""),
    **dict.fromkeys(
        ("front_thread", "rear_thread", "thread", "thread_to_lens", "thread_to_front"),
        ("72 mm × 0,75", "67 mm", "skip"),
    ),
    **dict.fromkeys(
        ("front_clear_aperture", "rear_clear_aperture", "clear_aperture"), ("50 mm", "42,5 mm", "")
    ),
    **dict.fromkeys(("barrel_diameter", "bore"), ("90 mm", "")),
    "entrance_pupil": ("40 mm", ""),
    "helicoid": ("30 mm", ""),
}  # fmt: skip
NAMES = st.one_of(
    st.sampled_from(("85 mm", "Same", 'The "one"', "a\\b")),
    st.text(st.characters(categories=["L", "N", "P", "S", "Zs"]), min_size=1, max_size=60),
).filter(lambda name: name.strip() not in ("", "<", "?"))


def valid(key: str) -> st.SearchStrategy[str]:
    """Return answers that a question must take, whatever was answered before it."""
    field = key.rsplit(".", 1)[1]
    known = {**LENGTHS, **WORDS, **FACTS}
    return NAMES if field == "name" else st.sampled_from(known[field])


@settings(deadline=None, max_examples=60)
@given(data=st.data())
def test_any_valid_answers_with_steps_back_make_a_sound_kit(data: st.DataObject) -> None:
    interview, straight = Interview(bag), list[tuple[str, str]]()
    steps_back = data.draw(st.lists(st.integers(1, 80), max_size=12), label="back after")
    parts = 0
    for turn in range(400):
        if interview.question is None:
            break
        if turn in steps_back and straight:
            interview.back()
            straight.pop()
            continue
        key = key_of(interview)
        answer = data.draw(valid(key), label=key)
        if parts > 3 and key.endswith((".more", ".kind")):
            answer = "no" if key.endswith(".more") else "none"
        parts += answer in ("yes", "step ring", "clamp") and key.endswith((".more", ".kind"))
        straight.append((key, answer or interview.default))
        interview.answer(answer)
    load_kit(interview.result, source="kit.toml")
    assert interview.result == advance(Interview(bag), dict(straight)).result
