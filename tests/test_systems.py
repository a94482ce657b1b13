"""Systems without POSIX's extras, and names that no system refuses."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import types
import unicodedata
from pathlib import Path, PureWindowsPath

import pytest
from hypothesis import given
from hypothesis import strategies as st

from focuschart.kit.fields import ID_PATTERN
from focuschart.store.files import exclusive
from focuschart.store.folders import folder_name, rig_folder
from tests.command import run
from tests.kits import kit_text, plain_kit

ROOT = Path(__file__).parents[1]
DEVICES = ("con", "prn", "aux", "nul", "com1", "com9", "lpt1", "lpt9")
"""Microsoft, "Naming Files, Paths, and Namespaces"."""

WITHOUT = """
import os, signal, sys

for module in ("fcntl", "grp", "pty", "pwd", "readline", "resource", "termios"):
    sys.modules[module] = None
for name in ("O_NONBLOCK", "fork", "killpg", "link", "sched_getaffinity"):
    if hasattr(os, name):
        delattr(os, name)
del signal.pthread_sigmask

import multiprocessing

multiprocessing.set_start_method("spawn")
"""
"""Run at the start of every process, workers too: what Windows lacks is taken away."""


@pytest.fixture(scope="module")
def elsewhere(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a kit of six rigs, enough for two workers, and the file that takes away."""
    folder = tmp_path_factory.mktemp("elsewhere")
    (folder / "site").mkdir()
    (folder / "site" / "sitecustomize.py").write_text(WITHOUT)
    kit = plain_kit()
    (rig,) = kit["rigs"].values()
    kit["rigs"] = {"portrait": rig} | {f"rig-{n}": rig | {"name": f"Rig {n}"} for n in range(5)}
    (folder / "bag.toml").write_text(kit_text(kit), encoding="utf-8")
    return folder


COMMANDS = (
    "init --starter starter.toml",
    "check starter.toml",
    "bench bag.toml --rig portrait",
    "read bag.toml --rig portrait --distance 4m --taking 78.6 --attachment 58.6",
    "read bag.toml --undo",
    "fit bag.toml --rig portrait",
    "chart bag.toml --format json",
    "build bag.toml",
    "build bag.toml --only-stale",
    "test bag.toml --rig portrait",
    "hold bag.toml --rig portrait",
    "rack bag.toml --rig portrait --from 2m --to 5m",
    "compare output/bag bag.toml",
    "printer sheet",
    "guide kit",
    "schema",
)


def test_the_commands_work_without_what_only_posix_has(elsewhere: Path) -> None:
    environment = {**os.environ, "PYTHONPATH": f"{elsewhere / 'site'}{os.pathsep}{ROOT}"}
    for command in COMMANDS:
        done = subprocess.run(
            [sys.executable, "-m", "focuschart", *command.split()],
            check=False, capture_output=True, text=True, cwd=elsewhere, env=environment,
        )  # fmt: skip
        assert (done.returncode, done.stderr) == (0, ""), command
    assert (elsewhere / "output" / "bag" / "rig-4" / "strips.pdf").read_bytes()[:5] == b"%PDF-"
    lacking = "import os, signal, fcntl"
    refused = subprocess.run(
        [sys.executable, "-c", lacking], check=False, env=environment, capture_output=True
    )
    assert b"import of fcntl halted" in refused.stderr


def test_a_lock_is_windows_own_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of the C run-time library: a range that another has locked is refused as not permitted."""
    calls = []

    def locking(_: int, mode: int, size: int) -> None:
        calls.append((mode, size))
        if len(calls) > 1:
            raise PermissionError(13, "Permission denied")

    fake = types.ModuleType("msvcrt")
    fake.LK_NBLCK, fake.locking = 2, locking  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "msvcrt", fake)
    monkeypatch.setattr("focuschart.store.files.sys.platform", "win32")
    with exclusive(tmp_path / "one"):
        assert calls == [(2, 1)]
        with (
            pytest.raises(Exception, match="another run is writing there"),
            exclusive(tmp_path / "two"),
        ):
            pass


# --- names ----------------------------------------------------------------------------------------


def refused_by_windows(name: str) -> bool:
    """Whether Windows refuses a name, or takes it for another: by Python's own rules of paths."""
    plain = not set(name) & set('<>:"/\\|?*') and all(ord(sign) > 31 for sign in name)
    return not plain or name[-1] in ". " or PureWindowsPath(name).is_reserved()


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
@given(st.text(st.characters(exclude_characters="/\0"), min_size=1, max_size=80))
def test_a_kits_folder_is_allowed_everywhere(stem: str) -> None:
    name = folder_name(Path(f"x{stem}.toml").with_stem(stem) if stem.strip(".") else Path("x.toml"))
    assert not refused_by_windows(name)
    assert name == unicodedata.normalize("NFC", name)
    assert len(name.encode()) <= 130


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
@given(st.one_of(st.from_regex(ID_PATTERN, fullmatch=True), st.sampled_from(DEVICES)))
def test_a_rigs_folder_is_allowed_everywhere(rig_id: str) -> None:
    assert not refused_by_windows(rig_folder(rig_id))


@given(st.lists(st.one_of(st.from_regex(ID_PATTERN, fullmatch=True), st.sampled_from(DEVICES))))
def test_no_two_rigs_share_a_folder_where_case_means_nothing(ids: list[str]) -> None:
    assert len({rig_folder(each).casefold() for each in ids}) == len(set(ids))


@pytest.mark.parametrize(
    ("stem", "name"),
    [
        ("Müller's bag", "Müller-s-bag"),
        ("Mu\u0308ller", "Müller"),
        ("カメラ 1", "カメラ-1"),
        ("сумка", "сумка"),
        ("बैग", "बैग"),
        ("two-lenses", "two-lenses"),
        ("a. ", "a"),
        ("NUL", "NUL_"),
        ("com1", "com1_"),
        ("...", "kit"),
        ("🎬", "kit"),
    ],
)
def test_letters_of_all_scripts_stay(stem: str, name: str) -> None:
    assert folder_name(Path(f"{stem}.toml")) == name


def device_kit(folder: Path, second: str) -> Path:
    """Write a kit with two rigs, the first and the file named like devices."""
    kit = plain_kit()
    (rig,) = kit["rigs"].values()
    kit["rigs"] = {"con": rig, second: rig | {"name": "Second"}}
    for reading in kit["readings"]:
        reading["rig"] = "con"
    path = folder / "nul.toml"
    path.write_text(kit_text(kit), encoding="utf-8")
    return path


def test_rigs_named_like_devices_are_built_known_and_taken_away(tmp_path: Path) -> None:
    kit, out = device_kit(tmp_path, "aux"), tmp_path / "out"
    assert run("build", kit, "--out", out).exit_code == 0
    assert {path.name for path in (out / "nul_").iterdir() if path.is_dir()} == {"con_", "aux_"}
    assert "Nothing has changed of con, aux" in run("build", kit, "--out", out).output
    compared = run("compare", out / "nul_", kit, "--format", "json")
    assert {each["rig"] for each in json.loads(compared.output)["prints"]} == {"con", "aux"}
    said = run("build", device_kit(tmp_path, "other"), "--out", out).output
    assert "aux  is no rig of this kit any more" in said
    assert {path.name for path in (out / "nul_").iterdir() if path.is_dir()} == {"con_", "other"}
