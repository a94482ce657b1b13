"""What --help says is what is accepted, and what is accepted is in --help."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import click
import pytest

from focuschart.cli import main
from focuschart.cli.rack import LONGEST_S, MOST_STEPS
from focuschart.errors import FocusChartError
from focuschart.kit.fields import offset
from focuschart.layout.card.size import CARD_SIZES
from focuschart.layout.sheet.finish import MOST_COPIES
from focuschart.layout.sheet.look import LOOKS
from focuschart.layout.sheet.papers import PAPERS, whole_sheet
from focuschart.store.drawing import length_mm, printing_of
from tests.command import run

GUIDE = Path(__file__).parents[1] / "focuschart" / "guide"
_SAMPLE = Path(__file__).parents[1] / "sample_kits" / "two-lenses.toml"


def commands(group: click.Group = main, name: str = "") -> Iterator[tuple[str, click.Command]]:
    """Yield every command with its full name, those of groups too."""
    context = click.Context(group)
    for each in group.list_commands(context):
        command = group.get_command(context, each)
        assert command is not None
        if isinstance(command, click.Group):
            yield from commands(command, f"{name}{each} ")
        else:
            yield f"{name}{each}", command


def options() -> Iterator[tuple[str, click.Option]]:
    for name, command in commands():
        for option in command.params:
            if isinstance(option, click.Option):
                yield name, option


ALL = [pytest.param(name, option, id=f"{name} {option.opts[0]}") for name, option in options()]
QUOTED = re.compile(r'"([^"]+)"')


def named(help_text: str) -> Iterator[str]:
    """Yield the values that a help text offers: in quotes, or as bare words."""
    head = help_text.partition(":")[0].partition(";")[0]
    yield from QUOTED.findall(head)
    bare = re.sub(r"\([^)]*\)", "", QUOTED.sub("", head))
    yield from re.findall(r"\b(?:[A-Z][\w]*-?\d|Letter|plain|night|grey|glow)\b", bare)


def with_paper(value: str, name: str) -> Any:
    return whole_sheet(value) if name not in ("build", "bench") else printed("paper", value)


def printed(option: str, value: Any) -> None:
    printing_of({option: value}).require()


@pytest.mark.parametrize(("name", "option"), ALL)
def test_an_option_has_help_and_takes_what_it_offers(name: str, option: click.Option) -> None:
    assert option.help
    assert option.help[-1] in ".)"
    offered = list(named(option.help))
    if option.name == "paper" and name != "printer forget":
        assert {*PAPERS} <= {*offered}
        for value in offered:
            with_paper(value, name)
    elif option.name in ("card", "look"):
        assert {*(CARD_SIZES if option.name == "card" else LOOKS)} <= {*offered}
        for value in offered:
            printed(option.name, value)
    elif option.metavar in ("LENGTH", "DISTANCE"):
        for value in QUOTED.findall(option.help):
            if value.startswith("-") or option.name == "height":
                offset(60.0).read(value)
            else:
                length_mm(option.opts[0], value)


@pytest.mark.parametrize(
    ("option", "good", "bad"),
    [
        ("copies", (1, MOST_COPIES), (0, MOST_COPIES + 1)),
        ("bleed", ("0 mm", "10 mm"), ("10.1 mm",)),
        ("film", ("0 mm", "20 mm"), ("20.1 mm",)),
        ("card", ("40 x 40 mm", "200 x 200 mm"), ("39 x 60 mm", "90 x 201 mm")),
    ],
)
def test_limits_of_printing_are_those_of_the_help(
    option: str, good: tuple[Any, ...], bad: tuple[Any, ...]
) -> None:
    (said,) = [each.help for name, each in options() if (name, each.name) == ("build", option)]
    assert said is not None
    assert re.findall(r"\d+", str(good[-1]))[0] in said
    for value in good:
        printed(option, value)
    for value in bad:
        with pytest.raises(FocusChartError):
            printed(option, value)


def test_limits_of_a_rack_are_those_of_the_help() -> None:
    move = ("rack", _SAMPLE, "--rig", "portrait-85", "--from", "1.2 m", "--to", "3 m")
    said = " ".join(run("rack", "--help").output.split())
    assert f"1 to {MOST_STEPS}" in said
    assert f"up to {LONGEST_S:g}" in said
    for steps, status in ((1, 0), (MOST_STEPS, 0), (0, 2), (MOST_STEPS + 1, 2)):
        assert run(*move, "--steps", steps).exit_code == status
    for seconds, status in ((LONGEST_S, 0), (LONGEST_S + 1, 2), (0, 2)):
        assert run(*move, "--seconds", seconds).exit_code == status


@pytest.mark.parametrize(
    ("name", "command"), [pytest.param(*each, id=each[0]) for each in commands()]
)
def test_options_that_the_guide_names_are_there(name: str, command: click.Command) -> None:
    known = {flag for option in command.params for flag in option.opts}
    told = re.findall(rf"focuschart {name}\b([^`\n]*)", "".join(map(read, GUIDE.glob("*.md"))))
    for line in told:
        assert set(re.findall(r"--[a-z-]+", line)) <= {*known, "--help"}, line


def read(path: Path) -> str:
    return path.read_text("utf-8")
