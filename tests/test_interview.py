"""The interview: what it asks, how it goes back, and the kit its answers make."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping

import pytest

from focuschart.kit.interview import Interview, conduct
from focuschart.kit.load import load_kit
from focuschart.kit.questions import bag
from tests.interviews import BAG, SECOND_ATTACHMENT, SECOND_LENS, advance, back, key_of, kit_of


def test_a_metric_bag() -> None:
    kit = kit_of(BAG)
    assert kit["name"] == "Night bag"
    assert kit["units"] == "metric"
    # 1 m, the first of the usual marks, is nearer than the attachment's 1.1 m.
    assert kit["distances"] == ["1.2 m", "1.5 m", "2 m", "3 m", "5 m", "10 m", "inf"]
    assert kit["cameras"]["body"] == {
        "name": "Body",
        "sensor_width": "36 mm",
        "sensor_height": "24 mm",
        "flange_focal_distance": "18 mm",
    }
    assert kit["taking_lenses"]["85-mm-f-1-8"] == {
        "name": "85 mm f/1.8",
        "focal_length": "85 mm",
        "widest_stop": 1.8,
        "nearest": "0.9 m",
        "focusing": "extends",
        "front_moves": True,
        "length": "74 mm",
        "ring": {"circumference": "201 mm", "nearer_turns": "anticlockwise"},
    }
    assert kit["attachments"]["brass-2x"]["ring"] == {
        "diameter": "82 mm",
        "nearer_turns": "clockwise",
        "lead": "28 mm",
    }
    assert kit["rigs"] == {
        "85-mm-f-1-8-with-brass-2x": {
            "name": "85 mm f/1.8 with Brass 2x",
            "camera": "body",
            "taking_lens": "85-mm-f-1-8",
            "attachment": "brass-2x",
            "chain": [],
        }
    }


def test_an_imperial_bag_in_its_owners_words() -> None:
    imperial = BAG | {
        "kit.units": "imperial",
        "attachments.1.nearest": "3 ft 8 in",
        "taking_lenses.1.nearest": "2' 9\"",
        "attachments.1.front_glass": "1/2 in",
    }
    kit = kit_of(imperial)
    assert kit["distances"][:2] == ["4 ft", "5 ft"]
    assert kit["distances"][-1] == "inf"
    assert kit["taking_lenses"]["85-mm-f-1-8"]["nearest"] == "2' 9\""
    assert kit["attachments"]["brass-2x"]["front_glass"] == "1/2 in"


def test_two_lenses_with_two_attachments_and_a_chain() -> None:
    kit = kit_of(
        BAG | SECOND_LENS | SECOND_ATTACHMENT
        | {"taking_lenses.2.name": "58 mm", "attachments.2.name": "Grey",
           "links.1.kind": "step ring", "links.1.name": "Up", "links.1.thickness": "3 mm",
           "links.2.kind": "clamp", "links.2.name": "Clamp", "links.2.thickness": "1/2 in",
           "rigs.0-0.chain": "2, 1", "rigs.0-1.wanted": "no", "rigs.1-0.chain": "none",
           "rigs.1-1.name": "Last"}
    )  # fmt: skip
    assert kit["step_rings"] == {"up": {"name": "Up", "thickness": "3 mm"}}
    assert kit["clamps"] == {"clamp": {"name": "Clamp", "thickness": "1/2 in"}}
    found = {i: (r["taking_lens"], r["attachment"], r["chain"]) for i, r in kit["rigs"].items()}
    assert found == {
        "85-mm-f-1-8-with-brass-2x": ("85-mm-f-1-8", "brass-2x", ["clamp", "up"]),
        "58-mm-with-brass-2x": ("58-mm", "brass-2x", []),
        "last": ("58-mm", "grey", ["up", "clamp"]),
    }


def test_the_last_pair_is_a_rig_if_no_other_is() -> None:
    kit = kit_of(BAG | SECOND_LENS | {"rigs.0-0.wanted": "no"})
    assert len(kit["rigs"]) == 1


def test_a_lens_that_focuses_inside_keeps_its_front_still() -> None:
    kit = kit_of(BAG | {"taking_lenses.1.focusing": "internal"})
    assert kit["taking_lenses"]["85-mm-f-1-8"]["front_moves"] is False


@pytest.mark.parametrize("part", ["taking_lenses.1.length", "attachments.1.length"])
def test_a_skipped_length_is_asked_for_on_the_rig(part: str) -> None:
    interview = advance(Interview(bag), BAG | {part: "skip"}, until="rigs.0-0.front_vertex")
    with pytest.raises(ValueError, match="An answer is needed, for example 202 mm"):
        interview.answer("")
    interview.answer("202 mm")
    kit = load_kit(advance(interview, BAG).result, source="kit.toml")
    (rig,) = kit.rigs.values()
    assert kit.front_vertex_mm(rig) == 202.0


def test_what_is_skipped_stands_switched_off_in_the_file() -> None:
    text = advance(Interview(bag), BAG).result
    assert re.search(r'^#lead = "" +# Travel', text, re.MULTILINE)


def test_parts_of_one_name_get_ids_of_their_own() -> None:
    kit = kit_of(
        BAG | SECOND_LENS
        | {"links.1.kind": "s", "links.1.name": "Ring", "links.1.thickness": "3 mm",
           "links.2.kind": "c", "links.2.name": "Ring", "links.2.thickness": "12 mm"}
    )  # fmt: skip
    assert list(kit["taking_lenses"]) == ["85-mm-f-1-8", "85-mm-f-1-8-2"]
    assert list(kit["step_rings"]) == ["ring"]
    assert list(kit["clamps"]) == ["ring-2"]
    assert len(kit["rigs"]) == 2


def test_going_back_keeps_every_answer() -> None:
    interview = advance(Interview(bag), BAG, until="kit.write")
    back(interview, until="kit.name")
    interview.answer("Day bag")
    kit = tomllib.loads(advance(interview, {}).result)
    assert kit == kit_of(BAG) | {"name": "Day bag"}


def test_going_back_from_the_second_lens_into_the_first() -> None:
    answers = BAG | SECOND_LENS | {"taking_lenses.2.name": "58 mm"}
    interview = advance(Interview(bag), answers, until="taking_lenses.2.nearest")
    back(interview, until="taking_lenses.1.focal_length")
    assert interview.default == "85 mm"
    interview.answer("90 mm")
    advance(interview, {}, until="taking_lenses.2.nearest")
    kit = tomllib.loads(advance(interview, answers).result)
    assert {lens["focal_length"] for lens in kit["taking_lenses"].values()} == {"90 mm", "85 mm"}
    assert len(kit["rigs"]) == 2


def test_a_second_lens_can_be_taken_back() -> None:
    answers = BAG | SECOND_LENS
    interview = advance(Interview(bag), answers, until="taking_lenses.2.nearest")
    back(interview, until="taking_lenses.1.more")
    assert interview.default == "yes"
    interview.answer("no")
    assert tomllib.loads(advance(interview, BAG).result) == kit_of(BAG)


def test_defaults_follow_the_answers_they_hang_on() -> None:
    interview = advance(Interview(bag), BAG, until="kit.write")
    back(interview, until="kit.units")
    interview.answer("imperial")
    advance(interview, {}, until="taking_lenses.1.name")
    interview.answer("Eighty-five")
    kit = tomllib.loads(advance(interview, {}).result)
    assert kit["distances"][0] == "4 ft"
    assert kit["rigs"].keys() == {"eighty-five-with-brass-2x"}


def test_an_answer_that_no_longer_fits_is_shown_not_taken() -> None:
    own = BAG | {"kit.distances": "1.3 m, 4 m"}
    interview = advance(Interview(bag), own, until="kit.write")
    back(interview, until="attachments.1.nearest")
    interview.answer("2 m")
    advance(interview, {}, until="kit.distances")
    assert "1.3 m, 4 m no longer fits" in interview.notice
    assert interview.default == "2 m, 3 m, 5 m, 10 m, inf"


def test_the_sensors_height_follows_its_width() -> None:
    kit = kit_of(BAG | {"cameras.1.sensor_width": "24.9 mm"})
    assert kit["cameras"]["body"]["sensor_height"] == "18.7 mm"


def test_the_default_stops_are_within_reach_of_every_lens() -> None:
    assert kit_of(BAG | {"taking_lenses.1.widest_stop": "4.5"})["stops"] == [5.6, 8, 11]
    assert kit_of(BAG | {"taking_lenses.1.widest_stop": "32"})["stops"] == [32]


def held(answers: Mapping[str, str]) -> tuple[str, list[str]]:
    """Return the result of a whole conversation and what was said in it."""
    mirror, said = Interview(bag), list[str]()

    def ask(prompt: str) -> str:
        assert prompt == mirror.prompt()
        line = answers.get(key_of(mirror), "")
        mirror.answer(line)
        return line

    return conduct(bag, ask=ask, say=said.append), said


def test_a_conversation_says_how_to_go_back_first() -> None:
    text, said = held(BAG)
    assert tomllib.loads(text) == kit_of(BAG)
    assert len(said) == 1
    assert "< goes back" in said[0]


def test_a_conversation_explains_goes_back_and_asks_again() -> None:
    lines = ["<", "?", "Bag", "<", "", "miles"]
    said: list[str] = []
    prompts: list[str] = []

    def ask(prompt: str) -> str:
        prompts.append(prompt)
        if not lines:
            raise EOFError
        return lines.pop(0)

    with pytest.raises(EOFError):
        conduct(bag, ask=ask, say=said.append)
    first, units = "Name of the kit [My bag]: ", prompts[-1]
    assert prompts == [first, first, first, units, "Name of the kit [Bag]: ", units, units]
    assert said[1:] == [
        "  This is the first question.",
        "  Printed on every sheet and card.",
        '  "miles": answer metric, imperial or both',
    ]


def test_every_question_explains_itself() -> None:
    interview = Interview(bag)
    while interview.question:
        assert len(interview.question.help) > 20
        interview.answer(BAG.get(key_of(interview), ""))
