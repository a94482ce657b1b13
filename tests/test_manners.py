"""Manners on the terminal: progress at once, what to open, the next step, paper in sheets."""

from __future__ import annotations

import io
import itertools
import re
import shlex
from pathlib import Path
from typing import Any

import click
import pytest

from focuschart.cli import main
from focuschart.cli.common import command_line, progress
from tests.command import run
from tests.kits import kit_text
from tests.rig_parts import full_kit
from tests.terminal import Terminal

SAMPLE = Path(__file__).parents[1] / "sample_kits" / "two-lenses.toml"
RIG = ("--rig", "portrait-85")
MOVE = (*RIG, "--from", "1.2 m", "--to", "3 m")


def write(path: Path, kit: dict[str, Any]) -> Path:
    path.write_text(kit_text(kit), encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("command", "then"),
    [
        (("check", SAMPLE), "build"),
        (("fit", SAMPLE), "build"),
        (("chart", SAMPLE, *RIG), "build"),
        (("hold", SAMPLE, *RIG), "rack"),
        (("rack", SAMPLE, *MOVE), "rack"),
        (("init", "bag.toml", "--starter"), "check"),
        (("bench", SAMPLE, *RIG), "read"),
        (("test", SAMPLE, *RIG), "test"),
        (("printer", "sheet"), "printer"),
        (("printer", "registration"), "printer"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_a_command_ends_with_the_next_one_to_copy(
    command: tuple[str, ...], then: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    said = run(*command).stdout.splitlines()
    assert said[-2].endswith(":")
    program, name, *arguments = shlex.split(said[-1])
    assert (program, name) == ("focuschart", then)
    wanted = main.get_command(click.Context(main), name)
    assert wanted is not None
    # As the command itself would read them; an option that it lacks is an error.
    wanted.make_context(name, list(arguments), resilient_parsing=False).close()


def test_data_is_data_alone() -> None:
    assert run("chart", SAMPLE, *RIG, "--format", "json").stdout.endswith("}\n")
    assert run("check", SAMPLE, *RIG, "--format", "json").stdout.endswith("}\n")


def test_a_build_names_what_to_open_in_order(tmp_path: Path) -> None:
    kit = write(tmp_path / "bag.toml", full_kit())
    for _ in range(2):
        said = run("build", kit, "--out", tmp_path, "--preview").stdout
        _, _, listed = said.partition("Open, in this order, in ")
        place, *lines = listed.splitlines()
        named = [match[1] for line in lines if (match := re.match(r"  ([\w.-]+)  +\w", line))]
        pdfs = {path.name for path in Path(place).glob("*.pdf")}
        assert {*named} == {*pdfs, "chart.txt"}
        before = ("barrels.pdf", "strips.pdf", "cards.pdf", "rulers.pdf", "rigs.pdf", "chart.txt")
        assert [name for name in named if name in before] == [n for n in before if n in named]
        assert said.splitlines()[0] == f"Strips and cards of portrait go into {tmp_path / 'bag'}"
        assert "waste" not in said


def test_a_build_without_readings_goes_on_with_reading(tmp_path: Path) -> None:
    kit = write(tmp_path / "bag.toml", full_kit() | {"readings": []})
    said = run("build", kit, "--out", tmp_path).stdout
    assert said.endswith(f"  focuschart read {kit}\n")


def test_a_bar_is_shown_for_what_takes_long(tmp_path: Path) -> None:
    write(tmp_path / "bag.toml", full_kit())
    with Terminal("build", "bag.toml", folder=tmp_path) as terminal:
        assert terminal.status() == 0
    assert "Building" in terminal.shown


@pytest.mark.parametrize(("passed_s", "slow", "shown"),
                         [(0.0, False, False), (0.6, False, True), (0.0, True, True)])  # fmt: skip
def test_a_bar_is_shown_once_a_second_has_passed_and_passes_everything_on(
    monkeypatch: pytest.MonkeyPatch, passed_s: float, slow: bool, shown: bool
) -> None:
    screen = io.StringIO()
    screen.isatty = lambda: True  # type: ignore[method-assign]
    monkeypatch.setattr("sys.stderr", screen)
    clock = (passed_s * tick for tick in itertools.count())
    monkeypatch.setattr("focuschart.cli.common.time.monotonic", lambda: next(clock))
    assert list(progress(iter(range(4)), 4, "Solving", slow=slow)) == [0, 1, 2, 3]
    assert ("Solving" in screen.getvalue()) == shown


def test_a_command_line_is_quoted_for_its_shell(monkeypatch: pytest.MonkeyPatch) -> None:
    words = ("focuschart", "rack", Path("my kit.toml"), "--from", "1.2 m")
    assert command_line(*words) == "focuschart rack 'my kit.toml' --from '1.2 m'"
    monkeypatch.setattr("focuschart.cli.common.os.name", "nt")
    texts = [str(word) for word in words]
    assert command_line(*texts) == 'focuschart rack "my kit.toml" --from "1.2 m"'


@pytest.mark.parametrize("group", [(), ("printer",)])
def test_commands_are_listed_whole_and_in_the_order_of_use(group: tuple[str, ...]) -> None:
    said = run(*group, "--help").output
    listed = said.partition("Commands:\n")[2]
    assert "..." not in listed
    names = re.findall(r"^  ([a-z]+) ", listed, re.MULTILINE)
    order = {(): ("guide", "init", "bench", "read", "fit", "build", "test", "compare"),
             ("printer",): ("sheet", "registration", "set", "list", "forget")}[group]  # fmt: skip
    assert [name for name in names if name in order] == list(order)
