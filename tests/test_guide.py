"""README, the guide and their pictures: what they show is there, and is what the program makes."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import numpy as np
import pytest

from focuschart.cli import _COMMANDS
from focuschart.kit.load import load_kit
from focuschart.kit.reading import Reading
from tests.command import run
from tests.guide_keys import guide_keys
from tests.pictures import FOLDER, pictures

ROOT = Path(__file__).parents[1]
README = ROOT / "README.md"
GUIDE = ROOT / "focuschart" / "guide"
PAGES = [README, ROOT / "DEVELOPERS.md", *sorted(GUIDE.glob("*.md"))]
TOPICS = sorted(path.stem for path in GUIDE.glob("*.md") if path != GUIDE / "README.md")
_MOST_LINES = 200
_NUMBER = re.compile(r"-?\d+\.?\d*")
_SAME_MM = 0.02


def anchors(page: Path) -> set[str]:
    """Return the anchors that a code host gives the headings of a page."""
    heads = re.findall(r"^#+ (.+)$", page.read_text("utf-8"), re.MULTILINE)
    return {re.sub(r"[^\w -]", "", head).lower().replace(" ", "-") for head in heads}


def test_readme_is_three_screens() -> None:
    assert len(README.read_text("utf-8").splitlines()) <= _MOST_LINES


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_lead_somewhere(page: Path) -> None:
    links = re.findall(r"\]\(([^)]+)\)", page.read_text("utf-8"))
    for link in links:
        if link.startswith("https://"):
            continue
        path, _, anchor = link.partition("#")
        target = (page.parent / path).resolve() if path else page
        assert target.exists(), link
        assert not anchor or anchor in anchors(target), link


def test_the_guide_lists_its_topics() -> None:
    listed = run("guide")
    assert listed.exit_code == 0
    names = [line.split()[0] for line in listed.output.splitlines()[:-1]]
    assert sorted(names) == TOPICS
    linked = re.findall(r"\(focuschart/guide/([a-z-]+)\.md\)", README.read_text("utf-8"))
    assert set(linked) == set(names)


@pytest.mark.parametrize("topic", TOPICS)
def test_the_guide_shows_a_topic(topic: str) -> None:
    assert run("guide", topic).output == (GUIDE / f"{topic}.md").read_text("utf-8")


def test_an_unknown_topic_gets_the_nearest() -> None:
    refused = run("guide", "papers")
    assert refused.exit_code == 2
    assert refused.output == (
        'focuschart: the guide has no topic "papers": did you mean "paper"? '
        '"focuschart guide" lists all\n'
    )
    assert run("guide", "README").exit_code == 2


def test_the_keys_are_those_of_the_schema() -> None:
    """Renewed by `python -m tests.guide_keys`."""
    assert (GUIDE / "keys.md").read_text("utf-8") == guide_keys()


def test_the_commands_are_those_there_are() -> None:
    told = re.findall(r"^\| `focuschart ([a-z]+)", (GUIDE / "commands.md").read_text("utf-8"), re.M)
    assert told == list(_COMMANDS)


def test_pictures_are_what_is_built() -> None:
    """Renewed by `python -m tests.pictures`. Another release of a library may round otherwise."""
    made = dict(pictures())
    assert {path.name for path in FOLDER.iterdir()} == made.keys()
    for name, svg in made.items():
        shown, drawn = (FOLDER / name).read_text("utf-8"), svg.decode("utf-8")
        assert _NUMBER.sub("", shown) == _NUMBER.sub("", drawn), name
        numbers = [np.array(_NUMBER.findall(text), dtype=float) for text in (shown, drawn)]
        assert np.abs(numbers[0] - numbers[1]).max() < _SAME_MM, name


def blocks(topic: str) -> list[str]:
    """Return the examples of TOML of a topic."""
    return re.findall(r"```toml\n(.*?)```", (GUIDE / f"{topic}.md").read_text("utf-8"), re.DOTALL)


def test_the_examples_of_the_guide_are_kits_and_readings() -> None:
    kit = load_kit(blocks("kit")[0], source="kit.md")
    assert list(kit.rigs) == ["portrait"]
    (readings,) = blocks("readings")
    assert len(tomllib.loads(readings)["readings"]) == 3
    for reading in tomllib.loads(readings)["readings"]:
        Reading.model_validate(reading)
