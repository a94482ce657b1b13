"""A bag to answer the interview with, and how tests walk through it."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from typing import Any

from focuschart.kit.interview import Interview
from focuschart.kit.load import load_kit
from focuschart.kit.questions import bag

BAG = {
    "kit.name": "Night bag",
    "kit.facts": "no",
    "cameras.1.name": "Body",
    "cameras.1.flange_focal_distance": "18 mm",
    "taking_lenses.1.name": "85 mm f/1.8",
    "taking_lenses.1.focal_length": "85 mm",
    "taking_lenses.1.widest_stop": "f/1.8",
    "taking_lenses.1.nearest": "0.9 m",
    "taking_lenses.1.length": "74 mm",
    "taking_lenses.1.circumference": "201 mm",
    "taking_lenses.1.nearer_turns": "a",
    "attachments.1.name": "Brass 2x",
    "attachments.1.squeeze": "2x",
    "attachments.1.moving_group": "f",
    "attachments.1.ruler_separation": "88 mm",
    "attachments.1.front_glass": "12 mm",
    "attachments.1.rear_glass": "14 mm",
    "attachments.1.nearest": "1.1 m",
    "attachments.1.length": "95 mm",
    "attachments.1.size": "diameter",
    "attachments.1.diameter": "82 mm",
    "attachments.1.nearer_turns": "clockwise",
    "attachments.1.lead": "28 mm",
}
"""Answers by question; every question that is not here is answered by Enter."""

FIRST = {
    "cameras.1.sensor": "S35",
    "taking_lenses.1.engraved": "85 mm f/1,8",
    "taking_lenses.1.nearest": "0,9 m",
    "taking_lenses.1.size": "201 mm",
    "taking_lenses.1.nearer_turns": "a",
    "attachments.1.nearest": "3′ 8″",
    "attachments.1.size": "diameter 82,5 mm",
    "attachments.1.nearer_turns": "clockwise",
    "rigs.1.front_vertex": "20,2 cm",
}
"""Answers for the first rig; every question that is not here is answered by Enter."""

SECOND_LENS = {
    key.replace(".1.", ".2."): value
    for key, value in BAG.items()
    if key.startswith("taking_lenses.1.")
} | {"taking_lenses.1.more": "yes"}

SECOND_ATTACHMENT = {
    key.replace(".1.", ".2."): value
    for key, value in BAG.items()
    if key.startswith("attachments.1.")
} | {"attachments.1.more": "yes"}


def key_of(interview: Interview) -> str:
    return interview.question.key if interview.question else ""


def advance(interview: Interview, answers: Mapping[str, str], *, until: str = "") -> Interview:
    """Answer questions until one is reached, or all of them."""
    while key_of(interview) != until:
        assert interview.question, f"{until} is never asked"
        interview.answer(answers.get(key_of(interview), ""))
    return interview


def back(interview: Interview, *, until: str) -> None:
    while key_of(interview) != until:
        interview.back()


def kit_of(answers: Mapping[str, str]) -> dict[str, Any]:
    """Return the kit that the answers make, as its file has it, after `load_kit` took it."""
    text = advance(Interview(bag), answers).result
    load_kit(text, source="kit.toml")
    return tomllib.loads(text)
