"""The commands hold and rack as a user runs them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import Result

from tests.command import run
from tests.kits import kit_text, plain_kit

ROOT = Path(__file__).parent.parent
SAMPLE = ROOT / "sample_kits" / "two-lenses.toml"


def racked(*more: object, start: str = "1.2 m", end: str = "3 m", rig: str = "portrait-85",
           kit: Path = SAMPLE) -> Result:  # fmt: skip
    return run("rack", kit, "--rig", rig, "--from", start, "--to", end, *more)


def refused(result: Result) -> str:
    """The one sentence of a refusal."""
    assert result.exit_code == 2
    assert result.stdout == ""
    (line,) = result.stderr.splitlines()
    assert line.startswith("focuschart: ")
    return line


def unread(tmp_path: Path, *, all_of_it: bool = True) -> Path:
    """A kit with one rig read and one not, or with none read."""
    kit = plain_kit()
    spare = {**kit["rigs"]["portrait"], "name": "Spare", "taking_lens": "spare"}
    kit["rigs"]["spare"] = spare
    if all_of_it:
        kit["readings"] = []
    path = tmp_path / "kit.toml"
    path.write_text(kit_text(kit), encoding="utf-8")
    return path


def test_hold_tells_every_rig() -> None:
    result = run("hold", SAMPLE)
    assert result.exit_code == 0
    for word in ("portrait-85", "portrait-58", "one hand", "at rest", "nearer", "f/8", "not"):
        assert word in result.stdout


def test_hold_tells_a_subject_asked_for() -> None:
    result = run("hold", SAMPLE, "--rig", "portrait-85", "--subject", "1.7 m", "--subject", "inf")
    moved = result.stdout.partition("Subject moved")[2]
    assert moved.count(" 1.7 m ") == 8
    assert "inf" not in moved
    assert "∞" in moved


def test_hold_as_data() -> None:
    data = json.loads(run("hold", SAMPLE, "--format", "json").stdout)
    assert [rig["rig"] for rig in data["rigs"]] == ["portrait-85", "portrait-58"]
    assert len(data["rigs"][0]["marks"]) == 8


def test_hold_says_which_rigs_cannot_have_it(tmp_path: Path) -> None:
    result = run("hold", unread(tmp_path, all_of_it=False))
    assert result.exit_code == 1
    assert "No zones: the taking ring has no readings" in result.stdout


def test_hold_refuses_a_rig_without_readings_asked_for_by_name(tmp_path: Path) -> None:
    line = refused(run("hold", unread(tmp_path, all_of_it=False), "--rig", "spare"))
    assert "rigs.spare: the zones in focus left out, the taking ring has no readings: " in line


def test_hold_refuses_a_kit_without_readings(tmp_path: Path) -> None:
    result = run("hold", unread(tmp_path))
    assert result.exit_code == 2
    assert result.stderr.count("rings have no readings") == 2


@pytest.mark.parametrize(
    ("subject", "told"),
    [
        ("0.3 m", "rigs.portrait-85: --subject 300 mm left out, nearer than the rings of"),
        ("three", '--subject is "three": write a number and a unit'),
    ],
)
def test_hold_refuses_subjects_out_of_reach(subject: str, told: str) -> None:
    assert told in refused(run("hold", SAMPLE, "--rig", "portrait-85", "--subject", subject))


def test_rack_prints_the_steps() -> None:
    result = racked("--steps", 4, "--seconds", 3)
    assert result.exit_code == 0
    for word in ("Rack from 1.2 m to 3 m", "4 equal steps", "move of 3 s", "hand", "lens scale"):
        assert word in result.stdout


def test_rack_as_data() -> None:
    data = json.loads(racked("--format", "json", start="inf").stdout)
    assert data["positions"][0]["distance_mm"] is None
    assert len(data["positions"]) == 9
    assert data["seconds"] == 2.0


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ({"start": "0.5 m"}, "--from is 500 mm: nearer than the rings of portrait-85 focus, choose "
         "900 mm or more"),
        ({"end": "0.5 m"}, "--to is 500 mm: nearer"),
        ({"end": "1.2 m"}, '--to is 1.2 m: the same as --from, choose another'),
        ({"end": "1200 mm"}, "--to is 1.2 m: the same as --from"),
        ({"start": "inf", "end": "inf"}, "the same as --from"),
        ({"start": "near"}, '--from is "near": write a number and a unit'),
        ({"end": "-3 m"}, '--to is "-3 m": write a number and a unit'),
        ({"end": "1.2001 m"}, "the taking ring hardly turns between these distances"),
        ({"rig": "nope"}, '--rig is "nope": no such rig; the kit has portrait-85'),
    ],
)  # fmt: skip
def test_rack_refuses_ends_it_cannot_reach(more: dict[str, str], told: str) -> None:
    assert told in refused(racked(**more))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("more", "told"),
    [
        (("--steps", 0), "--steps is 0: choose 1 to 40 steps"),
        (("--steps", -3), "--steps is -3"),
        (("--steps", 10_000), "--steps is 10000: choose 1 to 40"),
        (("--seconds", 0), "--seconds is 0: choose a time above 0"),
        (("--seconds", -1), "--seconds is -1"),
        (("--seconds", "nan"), "--seconds is nan"),
        (("--seconds", "inf"), "--seconds is inf"),
    ],
)
def test_rack_refuses_steps_and_times_that_make_no_move(
    more: tuple[object, ...], told: str
) -> None:
    assert told in refused(racked(*more))


def test_rack_refuses_a_rig_without_readings(tmp_path: Path) -> None:
    line = refused(racked(kit=unread(tmp_path), rig="portrait"))
    assert "rigs.portrait: the taking and attachment rings have no readings" in line


def test_rack_writes_a_sheet_for_each_move(tmp_path: Path) -> None:
    for end in ("3 m", "inf"):
        result = racked("--out", tmp_path, end=end)
        assert result.exit_code == 0
        assert "Written to" in result.stderr
    folders = sorted(path.name for path in tmp_path.iterdir())
    assert folders == [
        f"two-lenses-rack-portrait-85-1.2m-to-{end}" for end in ("3m", "inf")
    ]  # fmt: skip
    for folder in tmp_path.iterdir():
        names = {path.name for path in folder.iterdir()}
        assert names == {"rack.pdf", "rack-1.svg", "pack-record.json"}
        assert (folder / "rack.pdf").read_bytes().startswith(b"%PDF-")


def test_a_sheet_replaces_only_its_own(tmp_path: Path) -> None:
    assert racked("--out", tmp_path).exit_code == 0
    (folder,) = tmp_path.iterdir()
    before = (folder / "rack.pdf").read_bytes()
    assert racked("--out", tmp_path).exit_code == 0
    assert (folder / "rack.pdf").read_bytes() == before
    (folder / "rack.pdf").write_text("mine")
    assert "not as a build left it" in refused(racked("--out", tmp_path))
    assert (folder / "rack.pdf").read_text() == "mine"
    assert racked("--out", tmp_path, "--force").exit_code == 0
    assert (folder / "rack.pdf").read_bytes() == before


def test_nothing_is_written_where_the_sheet_cannot_be(tmp_path: Path) -> None:
    assert "unknown paper" in refused(racked("--out", tmp_path / "out", "--paper", "A9"))
    assert list(tmp_path.iterdir()) == []
