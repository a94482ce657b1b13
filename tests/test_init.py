"""focuschart init: the starter kit, and the command on and off a terminal."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

import pytest
from click.testing import CliRunner
from pydantic import BaseModel

from focuschart.cli import main
from focuschart.errors import INTERRUPTED
from focuschart.kit.first_rig import first_rig
from focuschart.kit.interview import Interview
from focuschart.kit.kit_text import starter
from focuschart.kit.load import load_kit
from focuschart.kit.questions import bag
from tests.interviews import BAG, FIRST, key_of
from tests.kits import tables
from tests.terminal import Terminal


def test_the_starter_passes() -> None:
    assert load_kit(STARTER, source="starter.toml").rigs


@pytest.mark.parametrize("table", list(tables()), ids=lambda table: table.__name__)
def test_the_starter_shows_every_key(table: type[BaseModel]) -> None:
    for key in table.model_fields:
        shown = rf"^#?{key} = |[{{,] {key} = |^#?\[+{key}[.\]]|^\[[a-z_.-]+\.{key}\]"
        assert re.search(shown, STARTER, re.MULTILINE), key


STARTER = starter()
PARTS, READINGS = STARTER.split("#\n#[[readings]]", 1)


@pytest.mark.parametrize("line", re.findall(r"^#[a-z_]+ = .*", PARTS, re.MULTILINE))
def test_what_the_starter_switches_off_can_be_switched_on(line: str) -> None:
    text = PARTS.replace(line, line[1:])
    if line.startswith("#circumference"):
        text = re.sub(r"^diameter.*\n", "", text, count=1, flags=re.MULTILINE)
    if line.startswith("#mode ="):
        text = text.replace("#modes", "modes")
    key = line[1:].split(" ", 1)[0]
    assert load_kit(text, source="on.toml") != load_kit(STARTER, source="off.toml") or key in {
        "include", "gauge", "strip_width", "strip_thickness", "ruler_thickness", "read_from",
        "index_side",
    }, "only a key that shows its default changes nothing"  # fmt: skip


def test_the_starters_readings_can_be_switched_on() -> None:
    text = PARTS + re.sub(r"^#", "", "#[[readings]]" + READINGS, flags=re.MULTILINE)
    assert len(load_kit(text, source="on.toml").readings) == 2


def test_the_starter_command_writes_it_and_never_overwrites(tmp_path: Path) -> None:
    path = tmp_path / "deep" / "kit.toml"
    run = CliRunner().invoke(main, ["init", str(path), "--starter"])
    assert run.exit_code == 0, run.output
    assert path.read_text(encoding="utf-8") == STARTER
    path.write_text("mine")
    again = CliRunner().invoke(main, ["init", str(path), "--starter"])
    assert again.exit_code == 2
    assert "is there already, choose another name or --force" in again.output
    assert path.read_text() == "mine"
    forced = CliRunner().invoke(main, ["init", str(path), "--starter", "--force"])
    assert forced.exit_code == 0
    assert path.read_text(encoding="utf-8") == STARTER


def test_a_folder_is_no_place_for_a_kit(tmp_path: Path) -> None:
    run = CliRunner().invoke(main, ["init", str(tmp_path), "--force"])
    assert run.exit_code == 2
    assert "is a folder" in run.output


def test_without_a_terminal_it_names_the_starter(tmp_path: Path) -> None:
    path = tmp_path / "kit.toml"
    run = CliRunner().invoke(main, ["init", str(path)], input="Bag\n")
    assert run.exit_code == 2
    assert "use --starter" in run.output
    assert run.output.count("\n") == 1
    assert not path.exists()


def test_an_existing_file_is_refused_before_any_question(tmp_path: Path) -> None:
    path = tmp_path / "kit.toml"
    path.write_text("mine")
    run = CliRunner().invoke(main, ["init", str(path)])
    assert run.exit_code == 2
    assert "is there already" in run.output


def test_the_command_alone_costs_click_only() -> None:
    code = (
        "import sys, focuschart.cli.init as i; heavy = {'pydantic', 'numpy'} & set(sys.modules);"
        "sys.exit(str(heavy) if heavy else 0)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def lines_of(answers: Mapping[str, str]) -> list[tuple[str, str]]:
    """Return the prompts of a whole interview, and what to type at each."""
    interview, lines = Interview(bag), list[tuple[str, str]]()
    while interview.question:
        answer = answers.get(key_of(interview), "")
        lines.append((interview.prompt().rpartition("\n")[2], f"{answer}\n"))
        interview.answer(answer)
    return lines


def test_on_a_terminal_it_asks_and_writes(tmp_path: Path) -> None:
    first, *rest = lines_of(BAG | {"kit.name": "Tasche für Köln"})
    again = "[Tasche für Köln]: "
    with Terminal("init", "--more", folder=tmp_path) as terminal:
        terminal.type([first, (rest[0][0], "<\n"), (again, "?\n"), ("Printed on every", "")])
        terminal.type([(again, "\n"), *rest])
        assert terminal.status() == 0, terminal.shown
    assert "Written to kit.toml." in terminal.shown
    kit = load_kit((tmp_path / "kit.toml").read_text(encoding="utf-8"), source="kit.toml")
    assert kit.name == "Tasche für Köln"


def test_the_first_rig_is_asked_for_on_a_terminal(tmp_path: Path) -> None:
    interview, lines = Interview(first_rig), list[tuple[str, str]]()
    while interview.question:
        answer = FIRST.get(key_of(interview), "")
        lines.append((interview.prompt().rpartition("\n")[2], f"{answer}\n"))
        interview.answer(answer)
    with Terminal("init", folder=tmp_path) as terminal:
        terminal.type(lines)
        assert terminal.status() == 0, terminal.shown
    assert "fifteen questions" in terminal.shown
    assert "sensor mark                                       foremost glass" in terminal.shown
    assert (tmp_path / "kit.toml").read_text(encoding="utf-8") == interview.result


def test_a_name_taken_in_the_meantime_costs_no_answer(tmp_path: Path) -> None:
    *most, last = lines_of(BAG)
    with Terminal("init", "--more", "bag.toml", folder=tmp_path) as terminal:
        terminal.type(most)
        (tmp_path / "bag.toml").write_text("mine")
        terminal.type([last, ("to which file instead [bag.toml]: ", "other.toml\n")])
        assert terminal.status() == 0, terminal.shown
    assert (tmp_path / "bag.toml").read_text() == "mine"
    assert load_kit((tmp_path / "other.toml").read_text(), source="other.toml").rigs


@pytest.mark.parametrize(("key", "status"), [("\x03", 130), ("\x04", 2)], ids=["ctrl-c", "ctrl-d"])
def test_stopping_writes_nothing(tmp_path: Path, key: str, status: int) -> None:
    *answered, (prompt, _) = lines_of(BAG)[:10]
    with Terminal("init", "--more", folder=tmp_path) as terminal:
        terminal.type([*answered, (prompt, key)])
        assert terminal.status() == status, terminal.shown
    assert terminal.shown.count("Stopped, nothing was written.") == 1
    assert "Traceback" not in terminal.shown
    assert list(tmp_path.iterdir()) == []


def test_closed_input_is_answered_in_one_sentence(tmp_path: Path) -> None:
    command = f'exec "{sys.executable}" -m focuschart init "{tmp_path / "kit.toml"}" <&-'
    run = subprocess.run(["sh", "-c", command], capture_output=True, text=True, check=False)
    assert run.returncode == 2
    assert run.stderr.startswith("focuschart: init asks its questions on a terminal")
    assert run.stderr.count("\n") == 1


def test_ctrl_c_during_imports_is_answered_in_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "click.py").write_text("raise KeyboardInterrupt")
    code = "from focuschart.__main__ import main; main()"
    run = subprocess.run(
        [sys.executable, "-c", code], env={**os.environ, "PYTHONPATH": str(tmp_path)},
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert run.returncode == INTERRUPTED
    assert run.stderr == "\nStopped, nothing was written.\n"
