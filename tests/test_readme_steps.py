"""README's steps, read literally in a fresh clone: every command line as it stands there."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text("utf-8")
STEPS = README[
    README.index("\n## From an empty folder") : README.index("\n**Where people go wrong")
]
_NEEDS_A_PERSON = "focuschart init"
_FIRST_RIG_THEN_STOP = "1\nq\n"
"""What a person types who is asked for line after line of the form and goes to the bench first."""


@pytest.fixture(scope="module")
def clone(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A clone of the files as they are now, without a build."""
    folder = tmp_path_factory.mktemp("clone")
    listed = ("git", "ls-files", "-z", "--cached", "--others", "--exclude-standard")
    try:
        found = subprocess.run(listed, cwd=ROOT, check=True, capture_output=True, text=True).stdout
    except (OSError, subprocess.CalledProcessError):
        pytest.skip("this is not a clone")
    for name in found.split("\0"):
        if name.startswith(("sample_kits/", "output/")) and (ROOT / name).is_file():
            target = folder / name
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes((ROOT / name).read_bytes())
    return folder


def lines() -> Iterator[str]:
    """Yield the command lines of the steps, in their order, that of the sample kit among them."""
    for inline, block in re.findall(r"`(cp [^`]+)`|```sh\n(.*?)```", STEPS, re.DOTALL):
        yield from (line.strip() for line in (inline or block).splitlines())


def test_the_steps_work_as_they_stand(clone: Path) -> None:
    commands = list(lines())
    names = [command.split()[1] for command in commands if command.startswith("focuschart ")]
    assert names == ["init", "bench", "read", "fit", "build", "test"]
    here = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
    for command in commands:
        if command == _NEEDS_A_PERSON:  # tests/test_interview.py answers it
            continue
        done = subprocess.run(
            ["bash", "-c", command], cwd=clone, check=False, capture_output=True, text=True,
            env={**os.environ, "PATH": here}, input=_FIRST_RIG_THEN_STOP,
        )  # fmt: skip
        assert (done.returncode, done.stderr) == (0, ""), command
    for name in ("bench/rulers.pdf", "/portrait-85/strips.pdf", "/portrait-85/barrels.pdf"):
        joint = "-" if name.startswith("bench") else ""
        assert (clone / f"output/kit{joint}{name}").is_file()


def test_a_fresh_clone_holds_no_pack(clone: Path) -> None:
    """So that the first command does its work, instead of saying that nothing has changed."""
    built = subprocess.run(
        ("git", "ls-files", "output"), cwd=ROOT, check=True, capture_output=True, text=True
    ).stdout.split()
    assert built in (["output/README.md"], [])
    assert (clone / "output" / "README.md").is_file()


def test_two_lines_set_up_and_windows_has_the_same() -> None:
    """`.ci/run` runs these two as they stand."""
    first, second = re.findall(r"^python3 -m venv .*$", README, re.MULTILINE)
    windows = re.findall(r"^py -m venv .*$", README, re.MULTILINE)
    for posix, other in zip((first, second), windows, strict=True):
        same = (
            posix.replace("python3 ", "py ")
            .replace(" && ", "; ")
            .replace(".venv/bin/", ".venv/Scripts/")
        )
        assert other.replace("\\", "/") == same
    assert " --out output" in first
    assert "-m pytest -n auto" in second
