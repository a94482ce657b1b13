"""Building again: what has not changed is left, what has is made as a build from nothing would."""

from __future__ import annotations

import json
import multiprocessing
import os
import re
import signal
import subprocess
import sys
import time
import tomllib
from collections.abc import Callable, Sequence
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from click.testing import CliRunner, Result
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from focuschart.cli import main
from focuschart.layout.sheet.papers import PAPERS
from focuschart.store.record import RECORD
from focuschart.store.rig_pack import workers_for
from tests.killed import ROOT, killed
from tests.kits import kit_text, plain_kit
from tests.readback import MM_PER_POINT, pdf_sizes
from tests.rig_parts import full_kit
from tests.terminal import HEARING_CTRL_C

Edit = Callable[[dict[str, Any]], None]


def two_rigs() -> dict[str, Any]:
    """The plain kit with a second rig that borrows the attachment."""
    kit = plain_kit()
    kit["rigs"]["spare"] = {**kit["rigs"]["portrait"], "name": "Spare", "taking_lens": "spare"}
    return kit


def build(kit: dict[str, Any], out: Path, *more: str) -> Result:
    path = out / "bag.toml"
    out.mkdir(exist_ok=True)
    path.write_text(kit_text(kit), encoding="utf-8")
    result = CliRunner().invoke(main, ["build", str(path), "--out", str(out), *more])
    assert result.exit_code == 0, result.output
    return result


@cache
def built_files(text: str) -> dict[str, bytes]:
    """Return what a build of a kit writes where there is nothing, by path from its folder."""
    with TemporaryDirectory() as folder:
        out = Path(folder)
        build(tomllib.loads(text), out)
        files = (path for path in out.rglob("*") if path.is_file())
        return {str(path.relative_to(out)): path.read_bytes() for path in files}


def build_first(kit: dict[str, Any], out: Path) -> None:
    """Put into a folder what a first build writes there, for tests of the next one."""
    for name, data in built_files(kit_text(kit)).items():
        path = out / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)


def printed(out: Path) -> dict[str, bytes]:
    """Every file of the rigs' packs but the records, which also tell of former prints."""
    files = (path for path in (out / "bag").rglob("*/*") if path.name != RECORD)
    return {str(path.relative_to(out)): path.read_bytes() for path in files}


EDITS: dict[str, Edit] = {
    "figure": lambda kit: kit["readings"][1].update(taking=56.4),
    "attachment figure": lambda kit: kit["readings"][2].update(attachment=104.4),
    "reading out": lambda kit: kit["readings"].pop(3),
    "mark": lambda kit: kit["distances"].append("3 m"),
    "stop": lambda kit: kit.update(stops=[2.8, 8]),
    "clamp": lambda kit: kit["clamps"]["clamp"].update(thickness="15 mm"),
    "idle clamp": lambda kit: kit["clamps"]["idle"].update(thickness="30 mm"),
    "mass": lambda kit: kit["cameras"]["body"].update(mass="700 g"),
    "width": lambda kit: kit["attachments"]["double"]["ring"].update(strip_width="15 mm"),
    "name": lambda kit: kit["rigs"]["spare"].update(name="Second"),
    "rig's distances": lambda kit: kit["rigs"]["spare"].update(distances=["1.5 m", "4 m"]),
    "rig gone": lambda kit: kit["rigs"].pop("spare", None),
    "units": lambda kit: kit.update(units="imperial"),
}


@settings(max_examples=6, suppress_health_check=[HealthCheck.too_slow])
@given(names=st.lists(st.sampled_from(sorted(EDITS)), min_size=1, max_size=3, unique=True))
def test_after_any_edit_only_stale_leaves_the_files_of_a_build_from_nothing(
    tmp_path_factory: pytest.TempPathFactory, names: Sequence[str]
) -> None:
    again, fresh = (tmp_path_factory.mktemp(name) for name in ("again", "fresh"))
    kit = two_rigs()
    build_first(kit, again)
    for name in sorted(names, key=lambda name: name == "rig gone", reverse=True):
        if "spare" in kit["rigs"] or name not in ("name", "rig's distances"):
            EDITS[name](kit)
    build(kit, again, "--only-stale")
    build(kit, fresh)
    assert printed(again) == printed(fresh)


def test_only_what_must_be_printed_is_put_on_sheets_of_its_own(tmp_path: Path) -> None:
    kit = two_rigs()
    build_first(kit, tmp_path)
    # Moves the long lens's ring; a little the depth of field on this rig's attachment; no other.
    EDITS["figure"](kit)
    result = build(kit, tmp_path, "--only-stale")
    folder = tmp_path / "bag"
    keys = re.findall(r'data-key="([^"/]+/[^"/]+)/', (folder / "to-print-strips-1.svg").read_text())
    assert "portrait/taking" in keys
    assert {key.partition("/")[0] for key in keys} == {"portrait"}
    assert "attachment's strip: keep, it holds at every stop" in " ".join(result.output.split())
    again = build(kit, tmp_path, "--only-stale")
    assert "nothing to print" in again.output
    assert (folder / "to-print-strips.pdf").exists()


def test_a_heavier_camera_puts_its_setup_cards_alone_on_a_sheet(tmp_path: Path) -> None:
    kit = full_kit()
    build_first(kit, tmp_path)
    EDITS["mass"](kit)
    assert "nothing to print" in build(kit, tmp_path, "--only-stale").output
    kit["cameras"]["body"].update(mass="710 g")
    build(kit, tmp_path, "--only-stale")
    folder = tmp_path / "bag"
    keys = re.findall(r'data-key="([^"/]+/[^"/]+)/', (folder / "to-print-cards-1.svg").read_text())
    assert set(keys) == {"portrait/setup"}
    assert not (folder / "to-print-strips.pdf").exists()


def test_documents_with_the_same_pages_are_not_drawn_again(tmp_path: Path) -> None:
    kit = two_rigs()
    build_first(kit, tmp_path)
    rulers = tmp_path / "bag" / "portrait" / "rulers.pdf"
    strips = rulers.with_name("strips.pdf")
    before = rulers.stat().st_mtime_ns, strips.stat().st_mtime_ns
    EDITS["attachment figure"](kit)
    build(kit, tmp_path)
    assert rulers.stat().st_mtime_ns == before[0]
    assert strips.stat().st_mtime_ns > before[1]


def test_all_files_of_documents_that_are_not_drawn_again_stay(tmp_path: Path) -> None:
    again, fresh, more = tmp_path / "again", tmp_path / "fresh", ("--cut-files", "--preview")
    kit = plain_kit()  # one rig: pictures take the longest of all
    build(kit, again, *more)
    EDITS["attachment figure"](kit)
    for out in (again, fresh):
        build(kit, out, *more)
    assert printed(again) == printed(fresh)
    assert "bag/portrait/rulers-cut-1.svg" in printed(again)


DAMAGED: dict[str, dict[str, Any]] = {
    "numbers": {"former": [1, 2]},
    "text": {"former": "none", "prints": "none"},
    "a code that is none": {"former": [{"code": []}, {}], "prints": [None]},
    "nothing": {"former": None, "prints": {"taking": 1}, "documents": [1], "facts": 7},
}


@pytest.mark.parametrize("more", [(), ("--only-stale",)])
@pytest.mark.parametrize("name", DAMAGED)
def test_a_damaged_record_keeps_nobody_from_building(
    tmp_path: Path, name: str, more: Sequence[str]
) -> None:
    kit = plain_kit()
    build_first(kit, tmp_path)
    record = tmp_path / "bag" / "portrait" / RECORD
    data = json.loads(record.read_text(encoding="utf-8"))
    data["notes"].update(DAMAGED[name])
    record.write_text(json.dumps(data), encoding="utf-8")
    EDITS["figure"](kit)
    build(kit, tmp_path, *more)
    notes = json.loads(record.read_text(encoding="utf-8"))["notes"]
    assert all(isinstance(one, dict) for key in ("former", "prints") for one in notes[key])
    assert "taking" in {one["print"] for one in notes["prints"]}


LABELS = "labels 190 x 70 mm, 1 x 3 on A4, left 12 mm, top 30 mm"


@pytest.mark.parametrize(("paper", "used"), [("roll 100 mm", "{n} mm of roll 100 mm"),
                                             (LABELS, "{n} sheets? of labels 190 x 70 mm"),
                                             ("A3", "{n} sheets? of A3")])  # fmt: skip
def test_the_sheets_of_each_document_are_told_and_whole_pages_have_whole_sheets(
    tmp_path: Path, paper: str, used: str
) -> None:
    told = build(full_kit(), tmp_path, "--paper", paper, "--preview").output
    share = used.replace("{n}", r"[1-9]\d*")
    line = f"  Paper: strips {share}; cards {share}; rulers {share}"
    assert re.search(f"^{line}$", told, re.MULTILINE), told
    sheet = sorted(PAPERS["A3" if paper == "A3" else "A4"])
    for name in ("rigs", "barrels"):
        data = (tmp_path / "bag" / "portrait" / f"{name}.pdf").read_bytes()
        for size in pdf_sizes(data):
            assert sorted(size * MM_PER_POINT) == pytest.approx(sheet, abs=0.01)


def test_cards_larger_than_a_label_go_on_the_labels_sheet(tmp_path: Path) -> None:
    small = "labels 99.1 x 38.1 mm, 2 x 7 on A4, left 4.65 mm, top 15.15 mm"
    told = build(full_kit(), tmp_path, "--paper", small).output
    assert re.search(
        r"strips \d sheets? of labels 99.1 x 38.1 mm.*; cards \d sheets? of 210 x 297 mm;", told
    )


def test_a_former_print_stays_on_record(tmp_path: Path) -> None:
    kit = two_rigs()
    build_first(kit, tmp_path)
    record = tmp_path / "bag" / "portrait" / RECORD
    codes = {one["print"]: one["code"] for one in json.loads(record.read_text())["notes"]["prints"]}
    EDITS["figure"](kit)
    build(kit, tmp_path)
    notes = json.loads(record.read_text())["notes"]
    former = {one["code"] for one in notes["former"]}
    assert {codes["taking"], codes["attachment"]} <= former
    kept = {one["code"] for one in notes["prints"]}
    assert kept.isdisjoint(former)


def test_a_build_with_nothing_to_do_touches_nothing(tmp_path: Path) -> None:
    build_first(two_rigs(), tmp_path)
    before = {path: path.stat().st_mtime_ns for path in (tmp_path / "bag").rglob("*")}
    assert "left as it was" in build(two_rigs(), tmp_path).output
    assert {path: path.stat().st_mtime_ns for path in (tmp_path / "bag").rglob("*")} == before


# --- two processes --------------------------------------------------------------------------------


def six_rigs() -> dict[str, Any]:
    """The plain kit with rigs enough for two processes."""
    kit = plain_kit()
    for number in range(1, 6):
        kit["rigs"][f"rig-{number}"] = {**kit["rigs"]["portrait"], "name": f"Rig {number}"}
    return kit


SCRIPT = """
import multiprocessing, os, pathlib, time
from focuschart.cli import main
from focuschart.store import rig_pack as rig_packs
from focuschart.errors import PageError

def make(press, chart, known, whole=rig_packs.make):
    pathlib.Path("working").touch()
    if chart.rig.rig_id == "rig-3":
        {mishap}
    return whole(press, chart, known)

rig_packs.make = make
rig_packs.processors = lambda: 2
if __name__ == "__main__":
    multiprocessing.set_start_method("{start}")
    main(["build", "bag.toml", "--out", "."])
"""


def start_build(folder: Path, start: str, mishap: str = "pass") -> subprocess.Popen[str]:
    """Start a build of six rigs in a session of its own; its workers meet a mishap at one rig."""
    if start not in multiprocessing.get_all_start_methods():
        pytest.skip(f"no {start} here")
    (folder / "bag.toml").write_text(kit_text(six_rigs()), encoding="utf-8")
    script = f"{HEARING_CTRL_C}\n{SCRIPT.format(start=start, mishap=mishap)}"
    (folder / "run.py").write_text(script, encoding="utf-8")
    return subprocess.Popen(
        [sys.executable, "run.py"], cwd=folder, env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("start", "mishap", "sentence"),
    [
        ("fork", "os._exit(3)", "a process that draws pages was ended from outside"),
        ("spawn", "os._exit(3)", "a process that draws pages was ended from outside"),
        ("spawn", "raise PageError('rig-3: too long')", "bag.toml: rig-3: too long"),
    ],
)
def test_what_befalls_a_worker_is_said_in_one_sentence(
    tmp_path: Path, start: str, mishap: str, sentence: str
) -> None:
    run = start_build(tmp_path, start, mishap)
    _, said = run.communicate(timeout=60)
    assert run.returncode == 2
    assert said.startswith(f"focuschart: {sentence}")
    assert said.count("\n") == 1
    assert not (tmp_path / "bag").exists()


@pytest.mark.parametrize("start", ["fork", "spawn"])
def test_ctrl_c_is_answered_by_one_process_alone(tmp_path: Path, start: str) -> None:
    run = start_build(tmp_path, start, "time.sleep(1)")
    while not (tmp_path / "working").exists() and run.poll() is None:
        time.sleep(0.01)
    os.killpg(run.pid, signal.SIGINT)
    _, said = run.communicate(timeout=60)
    assert (run.returncode, said) == (130, "\nStopped, nothing was written.\n")
    assert not (tmp_path / "bag").exists()


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a process to kill")
def test_killed_builds_leave_whole_files_and_the_next_goes_on() -> None:
    assert len(killed(3, rigs=6)) == 3


@pytest.mark.parametrize(
    ("rigs", "available", "workers"),
    [(5, 8, 1), (6, 8, 2), (6, 1, 1), (24, 8, 8), (24, 4, 4), (1000, 128, 61)],
)
def test_as_many_processes_as_the_machine_has_and_the_rigs_keep_busy(
    rigs: int, available: int, workers: int
) -> None:
    assert workers_for(rigs, available) == workers


@pytest.mark.parametrize("start", ["fork", "spawn"])
def test_many_rigs_are_made_by_two_processes_to_the_same_bytes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, start: str
) -> None:
    (tmp_path / "two").mkdir()
    run = start_build(tmp_path / "two", start)
    assert run.communicate(timeout=60)[1] == ""
    monkeypatch.setattr("focuschart.store.rig_pack.processors", lambda: 1)
    build_first(six_rigs(), tmp_path / "one")
    assert printed(tmp_path / "one") == printed(tmp_path / "two")
    assert len(printed(tmp_path / "one")) > 6 * 8


def test_sheets_to_print_are_offered_again_after_a_run_that_was_stopped(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kit = two_rigs()
    build(kit, tmp_path)
    EDITS["figure"](kit)
    (tmp_path / "bag.toml").write_text(kit_text(kit), encoding="utf-8")

    def stopped(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("focuschart.store.packs._write", stopped)
    arguments = ["build", str(tmp_path / "bag.toml"), "--out", str(tmp_path), "--only-stale"]
    assert CliRunner().invoke(main, arguments).exit_code == 130
    monkeypatch.undo()
    result = build(kit, tmp_path, "--only-stale")
    assert "Print to-print-strips.pdf and to-print-cards.pdf" in result.output


def test_packs_of_a_swap_and_of_another_kit_are_not_taken_away(tmp_path: Path) -> None:
    """A strip of a swap may be on a barrel; two bags may have files of one name."""
    kit = two_rigs()
    build(kit, tmp_path, "--rig", "portrait", "--ring", "clamp=idle")
    other = {**plain_kit(), "name": "Another bag"}
    other["rigs"]["other"] = other["rigs"].pop("portrait")
    for reading in other["readings"]:
        reading["rig"] = "other"
    build(other, tmp_path)
    build(kit, tmp_path)
    assert {path.name for path in (tmp_path / "bag").iterdir()} == {
        "portrait", "portrait-swap", "spare", "other", "phone.html", "pack-record.json",
    }  # fmt: skip
