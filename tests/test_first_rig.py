"""The few questions for a first rig: their number, what they take, and what is supposed."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest

from focuschart.kit import pictures
from focuschart.kit.answers import listed
from focuschart.kit.first_rig import (
    SENSORS,
    first_rig,
    read_engraved,
    read_ring_size,
    read_sensor,
)
from focuschart.kit.interview import Interview, conduct
from focuschart.kit.load import load_kit
from tests.interviews import FIRST, advance, back, key_of

MOST_QUESTIONS = 15


def kit_of(answers: dict[str, str]) -> dict[str, Any]:
    text = advance(Interview(first_rig), answers).result
    load_kit(text, source="kit.toml")
    return tomllib.loads(text)


def test_fifteen_questions_at_most_and_the_last_writes() -> None:
    interview, asked = Interview(first_rig), list[str]()
    while interview.question:
        asked.append(key_of(interview))
        interview.answer(FIRST.get(key_of(interview), ""))
    assert len(asked) - 1 <= MOST_QUESTIONS
    assert asked[-1] == "kit.write.1"


def test_the_kit_of_a_first_rig() -> None:
    kit = kit_of(FIRST)
    assert kit["cameras"] == {
        "camera": {"name": "Camera", "sensor_width": "24.9 mm", "sensor_height": "18.7 mm"}
    }
    assert kit["taking_lenses"] == {
        "85-mm-f-1-8": {
            "name": "85 mm f/1.8", "focal_length": "85 mm", "widest_stop": 1.8,
            "nearest": "0.9 m", "focusing": "extends", "front_moves": True,
            "ring": {"circumference": "201 mm", "nearer_turns": "anticlockwise"},
        }
    }  # fmt: skip
    (attachment,) = kit["attachments"].values()
    assert attachment["nearest"] == "3' 8\""
    assert attachment["ring"] == {"diameter": "82.5 mm", "nearer_turns": "clockwise"}
    (rig,) = kit["rigs"].values()
    assert rig["front_vertex"] == "20.2 cm"
    assert kit["distances"] == ["1.2 m", "1.5 m", "2 m", "3 m", "5 m", "10 m", "inf"]
    assert kit["stops"] == [2.8, 4, 5.6]


def test_what_is_supposed_is_said_and_changed_by_its_number() -> None:
    lines = [FIRST.get(key, "") for key in asked_keys()][:-1]
    lines += ["4", "Grandmother's", "8", "88 mm", "12", "1,4", "4; 8", "99", ""]
    said: list[str] = []
    text = conduct(first_rig, ask=lambda _: lines.pop(0), say=said.append)
    kit = tomllib.loads(text)
    assert not lines
    assert kit["taking_lenses"]["grandmother-s"]["name"] == "Grandmother's"
    assert next(iter(kit["attachments"].values()))["ruler_separation"] == "88 mm"
    assert kit["stops"] == [4, 8]
    told = next(text for text in said if "Supposed" in text)
    assert "Camera: flange focal distance: not needed" in told
    assert "lead of the ring, its travel in one whole turn: not known" in told
    assert any("opens to f/1.8 only" in text for text in said)
    assert any("give a number from 1 to 12" in text for text in said)


def asked_keys() -> list[str]:
    interview, keys = Interview(first_rig), list[str]()
    while interview.question:
        keys.append(key_of(interview))
        interview.answer(FIRST.get(key_of(interview), ""))
    return keys


def test_going_back_from_the_end_keeps_every_answer() -> None:
    interview = advance(Interview(first_rig), FIRST, until="kit.write.1")
    back(interview, until="taking_lenses.1.engraved")
    assert interview.default == "85 mm f/1,8"
    interview.answer("58 mm f/2")
    kit = tomllib.loads(advance(interview, {}).result)
    assert kit["taking_lenses"].keys() == {"58-mm-f-2"}
    assert kit["cameras"]["camera"]["sensor_width"] == "24.9 mm"


@pytest.mark.parametrize(
    ("text", "size"),
    [
        ("full frame", SENSORS["full frame"]),
        ("Full-Frame", SENSORS["full frame"]),
        ("Super 35", SENSORS["super 35"]),
        ("s16", SENSORS["super 16"]),
        ("MFT", SENSORS["four thirds"]),
        ("36 x 24 mm", ("36 mm", "24 mm")),
        ("24,9 × 18,7", ("24.9 mm", "18.7 mm")),
        ("24.9 mm x 18.7 mm", ("24.9 mm", "18.7 mm")),
    ],
)
def test_a_sensor_by_name_or_size(text: str, size: tuple[str, str]) -> None:
    assert tuple(read_sensor(text).values()) == size


@pytest.mark.parametrize(
    ("text", "focal", "stop"),
    [
        ("85 mm f/1.8", "85 mm", 1.8),
        ("85mm F1,8", "85mm", 1.8),
        ("85 1.8", "85 mm", 1.8),
        ("58 mm 1:2", "58 mm", 2.0),
        ("50 ƒ/1.2", "50 mm", 1.2),
        ("2 in f/2", "2 in", 2.0),
    ],
)
def test_a_lens_as_engraved(text: str, focal: str, stop: float) -> None:
    found = read_engraved(text)
    assert (found["focal_length"], found["widest_stop"]) == (focal, stop)


@pytest.mark.parametrize(
    ("text", "ring"),
    [
        ("201 mm", {"circumference": "201 mm"}),
        ("20,1 cm", {"circumference": "20.1 cm"}),
        ("diameter 64 mm", {"diameter": "64 mm"}),
        ("Ø 64,5 mm", {"diameter": "64.5 mm"}),
        ("8 in", {"circumference": "8 in"}),
    ],
)
def test_a_ring_by_circumference_or_diameter(text: str, ring: dict[str, str]) -> None:
    assert read_ring_size(text) == ring


@pytest.mark.parametrize("read", [read_sensor, read_engraved, read_ring_size])
@pytest.mark.parametrize("text", ["", "x", "85", "1,234 mm", "large", "12 kg x 3"])
def test_what_is_neither_gets_a_sentence(read: Any, text: str) -> None:
    with pytest.raises(ValueError, match=r".") as caught:
        read(text)
    assert "\n" not in str(caught.value)


def test_pictures_keep_to_narrow_terminals_and_plain_signs() -> None:
    drawn = [value for name, value in vars(pictures).items() if name.isupper()]
    assert len(drawn) == 4
    for picture in drawn:
        assert picture.isascii()
        assert max(map(len, picture.splitlines())) <= 76


def test_lists_in_answers_part_as_in_options() -> None:
    assert listed("1,2 m, 2 m; inf") == ["1,2 m", "2 m", "inf"]
