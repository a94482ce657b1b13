"""The commands as a user runs them: what they write and refuse, and what they never touch."""

from __future__ import annotations

import csv
import json
import math
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from focuschart.cli import main
from focuschart.store import record as pack_files
from tests.command import run

ROOT = Path(__file__).parent.parent
SAMPLES = ROOT / "sample_kits"
SAMPLE = SAMPLES / "two-lenses.toml"
PACK = {
    "00-read-me-first.pdf", "00-read-me-first-1.svg", "barrels.pdf", "barrels-1.svg",
    "strips.pdf", "strips-1.svg", "cards.pdf", "cards-1.svg", "cards-2.svg",
    "rulers.pdf", "rulers-1.svg", "rigs.pdf", "rigs-1.svg", "chart.txt", "chart.json",
    "chart.csv", "pack-record.json",
}  # fmt: skip
RIGS = ("portrait-58", "portrait-85")


def build(out: Path, *more: object, kit: Path = SAMPLE) -> Result:
    return run("build", kit, "--out", out, *more)


@pytest.fixture(scope="module")
def pack(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("out")
    assert build(out).exit_code == 0
    return out / "two-lenses"


@pytest.fixture
def built(pack: Path, tmp_path: Path) -> Path:
    """A folder that holds what a first build writes, for tests of the next one."""
    shutil.copytree(pack, tmp_path / pack.name)
    return tmp_path


def bytes_in(folder: Path) -> dict[str, bytes]:
    files = (path for path in folder.rglob("*") if path.is_file())
    return {str(path.relative_to(folder)): path.read_bytes() for path in files}


def names_in(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


# --- build ------------------------------------------------------------------------------------


def test_build_writes_the_whole_pack_and_says_how_sure(tmp_path: Path) -> None:
    result = build(tmp_path)
    assert result.exit_code == 0
    assert names_in(tmp_path / "two-lenses") == {*RIGS, "phone.html", "pack-record.json"}
    for rig in RIGS:
        assert names_in(tmp_path / "two-lenses" / rig) == PACK
        assert rig in result.output
    assert "tolerances at f/2.8 (95 %)" in result.output


def test_a_second_build_gives_the_same_bytes(pack: Path, tmp_path: Path) -> None:
    assert build(tmp_path).exit_code == 0
    assert bytes_in(tmp_path / "two-lenses") == bytes_in(pack)


def test_bytes_do_not_depend_on_the_hash_seed(pack: Path, tmp_path: Path) -> None:
    subprocess.run(
        [sys.executable, "-m", "focuschart", "build", str(SAMPLE), "--out", str(tmp_path)],
        check=True, capture_output=True, cwd=ROOT, env={**os.environ, "PYTHONHASHSEED": "7"},
    )  # fmt: skip
    assert bytes_in(tmp_path / "two-lenses") == bytes_in(pack)


def test_a_build_replaces_its_own_files_and_removes_what_is_stale(tmp_path: Path) -> None:
    kit = tmp_path / "bag.toml"
    shutil.copy(SAMPLE, kit)
    assert build(tmp_path, kit=kit).exit_code == 0
    cards = tmp_path / "bag" / "portrait-85" / "cards-1.svg"
    assert cards.exists()
    kit.write_text(kit.read_text().partition("[[readings]]")[0])
    assert build(tmp_path, kit=kit).exit_code == 0
    assert not cards.exists()
    assert cards.with_name("rulers-1.svg").exists()


def test_a_rig_that_left_the_kit_leaves_with_its_pack_and_the_users_files_stay(
    tmp_path: Path,
) -> None:
    kit = tmp_path / "bag.toml"
    shutil.copy(SAMPLE, kit)
    assert build(tmp_path, kit=kit).exit_code == 0
    (tmp_path / "bag" / "portrait-58" / "notes.txt").write_text("mine")
    kit.write_text(kit.read_text().replace("portrait-58", "portrait-60"))
    assert build(tmp_path, "--rig", "portrait-85", kit=kit).exit_code == 0
    assert names_in(tmp_path / "bag" / "portrait-58") > PACK
    result = build(tmp_path, kit=kit)
    assert "portrait-58  is no rig of this kit any more" in result.output
    assert names_in(tmp_path / "bag" / "portrait-58") == {"notes.txt"}
    assert names_in(tmp_path / "bag" / "portrait-60") == PACK


def test_a_build_of_what_has_not_changed_touches_nothing(built: Path) -> None:
    times = {path: path.stat().st_mtime_ns for path in built.rglob("*")}
    result = build(built)
    assert "Nothing has changed of portrait-85, portrait-58: left as it was." in result.output
    assert {path: path.stat().st_mtime_ns for path in built.rglob("*")} == times


def test_a_file_the_user_changed_stays(built: Path) -> None:
    noted = built / "two-lenses" / "portrait-85" / "chart.txt"
    noted.write_text("my notes")
    before = bytes_in(noted.parent)
    result = build(built, "--card", "A6")
    assert result.exit_code == 2
    assert "chart.txt: is there already and not as a build left it" in result.output
    assert bytes_in(noted.parent) == before
    assert build(built, "--force").exit_code == 0
    assert "my notes" not in noted.read_text()


_OURS = '{"made_by": "focuschart", "kit": "two-lenses.toml", "files": '
FOREIGN = {
    "empty": "{}",
    "list": "[]",
    "no-json": "no json",
    "no-files": '{"made_by": "focuschart"}',
    "path": _OURS + '{"../x": []}}',
    "digests": _OURS + '{"chart.txt": [["a"]]}}',
    "other-kit": '{"made_by": "focuschart", "kit": "other.toml", "files": {}}',
    "deep": "[" * 200_000,
}


@pytest.mark.parametrize("record", FOREIGN.values(), ids=FOREIGN)
def test_a_foreign_record_is_refused(tmp_path: Path, record: str) -> None:
    folder = tmp_path / "two-lenses" / "portrait-58"
    folder.mkdir(parents=True)
    (folder / pack_files.RECORD).write_text(record)
    result = build(tmp_path)
    assert result.exit_code == 2
    assert "is not the record of a pack of this kit" in result.output
    assert bytes_in(tmp_path) == {f"two-lenses/portrait-58/{pack_files.RECORD}": record.encode()}


def test_an_output_folder_that_is_a_file(tmp_path: Path) -> None:
    target = tmp_path / "file"
    target.write_text("keep me")
    result = build(target)
    assert result.exit_code == 2
    assert "cannot be written" in result.output
    assert target.read_text() == "keep me"


def test_a_full_disk_half_way_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    calls = iter(range(100))
    sync = os.fsync

    def full(descriptor: int) -> None:
        if next(calls) == 5:
            raise OSError(28, "No space left on device")
        sync(descriptor)

    monkeypatch.setattr(os, "fsync", full)
    result = build(tmp_path / "new")
    assert result.exit_code == 2
    assert "No space left on device: nothing in it was changed" in result.output
    assert list(tmp_path.iterdir()) == []


def test_a_full_disk_leaves_the_old_pack_as_it_was(
    built: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = bytes_in(built / "two-lenses")

    def full(_descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    assert build(built, "--card", "A6").exit_code == 2
    assert bytes_in(built / "two-lenses") == before


def test_a_build_cut_off_between_files_still_knows_its_own(
    built: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    replace, calls = Path.replace, iter(range(100))

    def cut_off(self: Path, target: Path) -> Path:
        if next(calls) == 4:
            raise KeyboardInterrupt
        return replace(self, target)

    monkeypatch.setattr(Path, "replace", cut_off)
    CliRunner().invoke(main, ["build", str(SAMPLE), "--out", str(built), "--card", "A6"])
    monkeypatch.undo()
    assert names_in(built / "two-lenses" / "portrait-85") >= PACK
    assert build(built, "--card", "A6").exit_code == 0


def test_what_a_killed_build_left_is_swept_the_day_after(tmp_path: Path) -> None:
    """And nothing else: a younger one may be a build at work, the rest is the user's."""
    folder = tmp_path / "two-lenses" / "portrait-85"
    folder.mkdir(parents=True)
    names = (".strips.pdf.0123456789ab.tmp", ".strips.pdf.ba9876543210.tmp", ".notes.tmp")
    old, young, own = (folder / name for name in names)
    for path in (old, young, own):
        path.write_text("half")
    for path in (old, own):
        os.utime(path, (0.0, 0.0))
    assert build(tmp_path).exit_code == 0
    assert (old.exists(), young.exists(), own.exists()) == (False, True, True)


@pytest.mark.parametrize("command", ["build", "chart"])
def test_stopping_by_hand_is_said_and_leaves_nothing(
    command: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def interrupted(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("focuschart.chart.charts.build_charts", interrupted)
    monkeypatch.chdir(tmp_path)
    result = run(command, SAMPLE)
    assert result.exit_code == 130
    assert "Stopped, nothing was written." in result.output
    assert list(tmp_path.iterdir()) == []


def test_a_folder_in_the_way_leaves_the_old_pack_even_by_force(built: Path) -> None:
    folder = built / "two-lenses" / "portrait-85"
    (folder / "chart.csv").unlink()
    (folder / "chart.csv" / "x").mkdir(parents=True)
    before = {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}
    result = build(built, "--force", "--paper", "A3")
    assert result.exit_code == 2
    assert "chart.csv is a folder: nothing in it was changed" in result.output
    assert {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()} == before


def test_a_slip_leaves_no_mark_trusted(tmp_path: Path) -> None:
    kit = tmp_path / "slip.toml"
    text = (SAMPLES / "mild-street.toml").read_text()
    assert text.count("taking = 103.0\n") == 1
    kit.write_text(text.replace("taking = 103.0\n", "taking = 93.0\n"))
    result = build(tmp_path, kit=kit)
    assert "Readings disagree: trust no mark until they are checked" in result.output
    assert re.search(r"the reading street-50 at .* \(taking 93\) disagrees", result.output)
    folder = tmp_path / "slip" / "street-50"
    data = json.loads((folder / "chart.json").read_text())
    assert data["rigs"][0]["trusted_from_stop"] is None
    assert {mark["verdict"] for mark in data["rigs"][0]["marks"]} == {"not"}
    cards = "".join(path.read_text() for path in folder.glob("cards-*.svg"))
    assert 'aria-label="READINGS DISAGREE' in cards
    assert 'aria-label="CHECK READINGS"' in (folder / "strips-1.svg").read_text()


@pytest.mark.parametrize("width", ["6 mm", "8 mm", "10 mm"])
def test_narrow_strips_still_have_their_ruler(tmp_path: Path, width: str) -> None:
    kit = tmp_path / "narrow.toml"
    text = SAMPLE.read_text().partition("[[readings]]")[0]
    ring = 'diameter = "72 mm"'
    kit.write_text(text.replace(ring, f'{ring}\nstrip_width = "{width}"'))
    assert build(tmp_path, kit=kit).exit_code == 0


@pytest.mark.parametrize("device", ["fifo", "/dev/zero"])
def test_a_font_that_is_no_file_is_refused(tmp_path: Path, device: str) -> None:
    font = tmp_path / device  # an absolute device stays itself
    if device == "fifo":
        os.mkfifo(font)
    result = build(tmp_path / "out", "--font", font)
    assert result.exit_code == 2
    assert "is not a file" in result.output


def test_a_full_standard_output_is_one_sentence() -> None:
    command = f'"{sys.executable}" -m focuschart chart "{SAMPLE}" >/dev/full'
    done = subprocess.run(["bash", "-c", command], check=False, capture_output=True, text=True,
                          cwd=ROOT)  # fmt: skip
    assert done.returncode == 2
    assert done.stderr == "focuschart: the output cannot be written, No space left on device\n"


def test_output_is_utf_8_whatever_the_locale() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "focuschart", "chart", str(SAMPLE)], check=True,
        capture_output=True, cwd=ROOT, env={**os.environ, "PYTHONIOENCODING": "cp1252"},
    )  # fmt: skip
    assert "∞" in done.stdout.decode("utf-8")


def test_a_ring_without_readings_gets_a_ruler_and_a_reason(tmp_path: Path) -> None:
    kit = tmp_path / "unread.toml"
    kit.write_text(SAMPLE.read_text().partition("[[readings]]")[0])
    result = build(tmp_path, kit=kit)
    assert result.exit_code == 0
    assert names_in(tmp_path / "unread" / "portrait-85") == {
        "00-read-me-first.pdf", "00-read-me-first-1.svg", "rulers.pdf", "rulers-1.svg", "rigs.pdf",
        "rigs-1.svg", "chart.txt", "chart.json", "chart.csv", "pack-record.json",
    }  # fmt: skip
    assert "taking ring: no readings, so no marks; tape its ruler strip on" in result.output


def test_too_few_readings_are_named_with_their_ring(tmp_path: Path) -> None:
    head, *readings = SAMPLE.read_text().split("[[readings]]")
    kit = tmp_path / "few.toml"
    kit.write_text("[[readings]]".join([head, *readings[:2]]))
    result = build(tmp_path, kit=kit)
    assert result.exit_code == 1
    assert "taking_lenses.eighty-five" in result.output
    assert "2 different distances read, the fit needs 3" in result.output
    made = {path.name for path in (tmp_path / "few" / "portrait-85").iterdir()}
    assert "rulers.pdf" in made
    assert "strips.pdf" not in made


@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        ("שלום", "from right to left"),
        ("cafe\u0301", "combin"),
        ("東京", "U\\+6771"),
    ],
)
def test_a_label_the_font_lacks_is_refused(tmp_path: Path, name: str, sentence: str) -> None:
    kit = tmp_path / "label.toml"
    kit.write_text(SAMPLE.read_text().replace("Portrait 85", name))
    result = build(tmp_path, "--rig", "portrait-85", kit=kit)
    assert result.exit_code == 2
    assert "rigs.portrait-85.name" in result.output
    assert re.search(sentence, result.output)


def test_markup_in_a_label_is_only_text(tmp_path: Path) -> None:
    kit = tmp_path / "markup.toml"
    kit.write_text(SAMPLE.read_text().replace("Portrait 85", "<b>&amp;</svg><a href='x'>"))
    assert build(tmp_path, kit=kit).exit_code == 0
    assert "&lt;b&gt;&amp;amp;" in (tmp_path / "markup" / "portrait-85" / "cards-1.svg").read_text()


@pytest.mark.parametrize(
    ("option", "value", "sentence"),
    [
        ("--paper", "A9", 'unknown paper "A9": choose A4, A3, Letter'),
        ("--card", "big", 'unknown card size "big"'),
        ("--card", "41x41", "too small for its text"),
        ("--rig", "../x", "no such rig; the kit has portrait-85, portrait-58"),
        ("--font", "/nowhere.ttf", "/nowhere.ttf"),
        ("--font", str(SAMPLE), "TrueType"),
    ],
)
def test_a_bad_option_is_one_sentence(
    tmp_path: Path, option: str, value: str, sentence: str
) -> None:
    result = build(tmp_path, option, value)
    assert result.exit_code == 2
    assert sentence in result.output
    assert list(tmp_path.iterdir()) == []


# --- reading kits -----------------------------------------------------------------------------


def unreadable(tmp_path: Path) -> dict[str, Path]:
    latin = tmp_path / "latin.toml"
    latin.write_bytes("name = 'é'".encode("latin-1"))
    huge = tmp_path / "huge.toml"
    huge.write_bytes(b"#" * 10_000_000)
    fifo = tmp_path / "fifo"
    os.mkfifo(fifo)
    return {
        "missing": tmp_path / "none.toml",
        "folder": tmp_path,
        "device": Path("/dev/zero"),
        "fifo": fifo,
        "latin": latin,
        "huge": huge,
    }


@pytest.mark.parametrize(
    ("case", "sentence"),
    [
        ("missing", "cannot be read, No such file or directory: check the path"),
        ("folder", "is not a file, give the path of one"),
        ("device", "is not a file"),
        ("fifo", "is not a file"),
        ("latin", "byte 8 is not UTF-8, save the file as UTF-8 text"),
        ("huge", "is over 4 MB, too large"),
    ],
)
@pytest.mark.parametrize("command", ["chart", "build"])
def test_an_unreadable_kit_is_one_sentence(
    tmp_path: Path, command: str, case: str, sentence: str
) -> None:
    result = run(command, unreadable(tmp_path)[case])
    assert result.exit_code == 2
    assert sentence in result.output
    assert len(result.output.splitlines()) == 1


def test_a_byte_order_mark_does_no_harm(tmp_path: Path) -> None:
    kit = tmp_path / "bom.toml"
    kit.write_bytes(b"\xef\xbb\xbf" + SAMPLE.read_bytes())
    assert run("chart", kit).exit_code == 0


# --- chart ------------------------------------------------------------------------------------


def test_the_table_shows_both_settings_and_both_engraved_scales() -> None:
    lines = run("chart", SAMPLE, "--rig", "portrait-85").output.splitlines()
    row = next(line for line in lines if line.startswith("1.2 m"))
    for cell in ("66.7", "200.4", "just short of 1 m", "not"):
        assert cell in row
    assert "portrait-58" not in "\n".join(lines)


def test_columns_are_aligned() -> None:
    lines = run("chart", SAMPLE, "--rig", "portrait-85").output.splitlines()
    head = next(i for i, line in enumerate(lines) if line.startswith("subject"))
    column = lines[head].index("squeeze") + len("squeeze")
    assert all(line[column - 5 : column].strip()[1] == "." for line in lines[head + 1 : head + 9])


def test_colour_only_on_a_terminal() -> None:
    assert "\x1b[" not in run("chart", SAMPLE).output
    shown = CliRunner().invoke(main, ["chart", str(SAMPLE)], color=True)
    assert "\x1b[31mnot\x1b[0m" in shown.output


RING_KEYS = {"arc_mm", "arc_95_mm", "bench_arc_95_mm", "tolerance_mm", "engraved_mm",
             "engraved_text"}  # fmt: skip


@pytest.mark.parametrize("path", sorted(SAMPLES.glob("*.toml")), ids=lambda path: path.stem)
def test_json_is_the_documented_interface(path: Path) -> None:
    data = json.loads(run("chart", path, "--format", "json").output, parse_constant=pytest.fail)
    assert data["format"] == 2
    for rig in data["rigs"]:
        assert {"rig", "taking_lens", "attachment", "revision", "marks", "scales"} <= rig.keys()
        assert rig["scales"]["attachment"]["arc_constant_mm2"]["standard_error"] > 0
        distances = [mark["distance_mm"] or math.inf for mark in rig["marks"]]
        assert distances == sorted(distances)
        for mark in rig["marks"]:
            assert mark["taking"].keys() == RING_KEYS | {"extension_mm"}
            assert mark["attachment"].keys() == RING_KEYS | {"separation_mm", "separation_95_mm"}
            for limits in mark["depth"].values():
                near, far = limits["frame"]
                assert near <= (mark["distance_mm"] or math.inf) <= (far or math.inf)


def test_csv_and_json_say_the_same() -> None:
    rows = list(csv.DictReader(run("chart", SAMPLE, "--format", "csv").output.splitlines()))
    data = json.loads(run("chart", SAMPLE, "--format", "json").output)
    marks = [(rig["rig"], mark) for rig in data["rigs"] for mark in rig["marks"]]
    assert len(rows) == len(marks)
    for row, (rig, mark) in zip(rows, marks, strict=True):
        assert row["rig"] == rig
        assert float(row["taking_arc_mm"]) == mark["taking"]["arc_mm"]
        assert (row["distance_mm"] == "") == (mark["distance_mm"] is None)
        assert float(row["f2.8_near_mm"]) == mark["depth"]["2.8"]["frame"][0]


def test_the_schema_command_prints_a_schema() -> None:
    assert json.loads(run("schema").output)["title"] == "Kit"


# --- the terminal -----------------------------------------------------------------------------


def test_help_names_every_command_and_loads_nothing_heavy() -> None:
    code = (
        "import sys; sys.argv = ['focuschart', '--help']\n"
        "from focuschart.cli import main\n"
        "try: main()\n"
        "finally: print([m for m in ('numpy', 'scipy', 'pydantic', 'reportlab', 'tomlkit',"
        " 'fontTools', 'svgwrite') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True,
                          cwd=ROOT)  # fmt: skip
    for command in ("init", "chart", "build", "schema"):
        assert command in done.stdout
    assert done.stdout.splitlines()[-1] == "[]"


@pytest.mark.parametrize(
    ("given", "name", "expected"),
    [
        ({}, "OPENBLAS_NUM_THREADS", "1"),
        ({}, "OMP_NUM_THREADS", "1"),
        ({"OPENBLAS_NUM_THREADS": "3"}, "OPENBLAS_NUM_THREADS", "3"),
        ({"OMP_NUM_THREADS": "2"}, "OPENBLAS_NUM_THREADS", "None"),
    ],
)
def test_matrices_are_one_threads_work_unless_the_environment_says(
    given: dict[str, str], name: str, expected: str
) -> None:
    code = (
        "import os, sys; sys.argv = ['focuschart', '--help']\n"
        "from focuschart.__main__ import main\n"
        "try: main()\n"
        f"finally: print(os.environ.get('{name}'), 'numpy' in sys.modules)"
    )
    environment = {key: value for key, value in os.environ.items() if "_THREADS" not in key}
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True,
                          cwd=ROOT, env=environment | given)  # fmt: skip
    assert done.stdout.splitlines()[-1] == f"{expected} False"


def test_a_reader_who_leaves_early_sees_no_traceback() -> None:
    command = f'"{sys.executable}" -m focuschart chart "{SAMPLE}" | head -n 1'
    done = subprocess.run(["bash", "-c", command], check=True, capture_output=True, text=True,
                          cwd=ROOT)  # fmt: skip
    assert done.stdout.startswith("Portrait 85")
    assert done.stderr == ""


def test_more_rigs_than_one_folder_should_hold_are_refused(tmp_path: Path) -> None:
    rig = SAMPLE.read_text().partition("[rigs.portrait-85]")[2].partition("[rigs")[0]
    many = "".join(f"[rigs.rig-{i}]{rig}" for i in range(300))
    head, mark, rest = SAMPLE.read_text().partition("[rigs.portrait-85]")
    kit = tmp_path / "many.toml"
    kit.write_text(head + many + mark + rest)
    result = build(tmp_path, "--only-stale", kit=kit)
    assert result.exit_code == 2
    assert "302 are more than the 200 of one pack: choose some with --rig" in result.output
