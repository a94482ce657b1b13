"""focuschart read as a user runs it: what it writes, what it refuses, and what it never touches."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterable
from pathlib import Path

import pytest
from click.testing import Result
from hypothesis import given, settings
from hypothesis import strategies as st

from focuschart.kit.load import load_kit
from focuschart.store import files
from tests.command import run
from tests.kits import kit_text, plain_kit
from tests.locks import held_elsewhere

ROOT = Path(__file__).parent.parent
SAMPLE = ROOT / "sample_kits" / "two-lenses.toml"
HAD = len(load_kit(SAMPLE.read_text(encoding="utf-8"), source="").readings)
SET_UP = ("--rig", "portrait-85", "--distance", "2 m")
# Figures that agree with the sample's own, so that no cause for a contradiction is sought.
BOTH = (*SET_UP, "--taking", "42.1", "--attachment", "131")
WROTE = (
    '\n[[readings]]\nrig = "portrait-85"\ndistance = "2 m"\nstop = 2.8\ntaking = 42.1\n'
    "attachment = 131.0\n"
)


def read(kit: Path, *options: object) -> Result:
    return run("read", kit, *options)


@pytest.fixture
def kit(tmp_path: Path) -> Path:
    path = tmp_path / "kit.toml"
    path.write_bytes(SAMPLE.read_bytes())
    return path


Snapshot = dict[str, tuple[bytes | None, int, int]]


def snapshot(folder: Path) -> Snapshot:
    """Return all that is in a folder: bytes, time of change and permissions."""
    return {
        path.name: (
            path.read_bytes() if path.is_file() else None,
            path.lstat().st_mtime_ns,
            path.lstat().st_mode,
        )
        for path in folder.iterdir()
    }


def refused(kit: Path, *options: object) -> str:
    """Return what a run that must fail says; nothing in the folder may have changed."""
    before = snapshot(kit.parent)
    result = read(kit, *options)
    assert result.exit_code == 2
    assert snapshot(kit.parent) == before
    return result.output


# --- what it writes ---------------------------------------------------------------------------


def test_a_reading_is_added_and_said(kit: Path) -> None:
    kit.write_text(SAMPLE.read_text().replace("[2.8, 4, 5.6, 8]", "[4, 2.8, 8]"))
    old = kit.read_text()
    result = read(kit, *BOTH)
    assert result.exit_code == 0
    assert kit.read_text() == old + WROTE
    assert kit.with_name("kit.toml.bak").read_text() == old
    assert result.output.splitlines()[:2] == [
        f'Written to {kit}: portrait-85, "2 m", f/2.8, taking 42.1, attachment 131',
        f"The kit as it was before: {kit}.bak",
    ]


@pytest.mark.parametrize(
    ("options", "lines"),
    [
        (("--distance", "2m", "--taking", -3, "--stop", 4),
         ['distance = "2m"', "stop = 4.0", "taking = -3.0"]),
        (("--distance", "inf", "--attachment", "31.25"),
         ['distance = "inf"', "stop = 2.8", "attachment = 31.25"]),
        (("--distance", "6' 3\"", "--distance-error", "1/2 in", "--taking", 45),
         ['distance = "6\' 3\\""', 'distance_error = "1/2 in"', "stop = 2.8", "taking = 45.0"]),
    ],
)  # fmt: skip
def test_what_was_typed_is_what_is_written(
    kit: Path, options: Iterable[object], lines: list[str]
) -> None:
    assert read(kit, "--rig", "portrait-85", *options, "--anyway").exit_code == 0
    written = kit.read_text().splitlines()[len(SAMPLE.read_text().splitlines()) :]
    assert written == ["", "[[readings]]", 'rig = "portrait-85"', *lines]


def test_repeats_are_paired_in_order(kit: Path) -> None:
    options = ("--taking", 45.5, "--attachment", 131, "--attachment", 132, "--taking", 45.7)
    result = read(kit, *SET_UP, *options, "--taking", 45.6)
    assert result.output.count(f"Written to {kit}: ") == 3
    new = load_kit(kit.read_text(), source="").readings[HAD:]
    assert [(r.taking, r.attachment) for r in new] == [(45.5, 131), (45.7, 132), (45.6, None)]
    assert {(r.rig, r.distance, r.stop) for r in new} == {("portrait-85", 2000.0, 2.8)}


def test_the_readings_of_a_session_make_marks(tmp_path: Path) -> None:
    """The sample's own readings, entered one by one into its kit without any."""
    kit = tmp_path / "kit.toml"
    text = SAMPLE.read_text()
    kit.write_text(text.partition("[[readings]]")[0].rstrip() + "\n")
    for reading in load_kit(text, source="").readings:
        error = reading.distance_error
        spread = ("--distance-error", f"{error} mm") if error else ()
        options = ("--distance", f"{reading.distance} mm", *spread, "--stop", reading.stop)
        figures = ("--taking", reading.taking, "--attachment", reading.attachment)
        assert read(kit, "--rig", reading.rig, *options, *figures).exit_code == 0
    assert load_kit(kit.read_text(), source="") == load_kit(text, source="")
    charts = [run("chart", each, "--format", "json").output for each in (kit, SAMPLE)]
    assert charts[0] == charts[1]


@pytest.mark.parametrize("prefix", [b"", b"\xef\xbb\xbf"], ids=["plain", "byte order mark"])
def test_every_other_byte_stays(kit: Path, prefix: bytes) -> None:
    old = prefix + SAMPLE.read_bytes().replace(b"\n", b"\r\n")
    kit.write_bytes(old)
    assert read(kit, *BOTH).exit_code == 0
    new = kit.read_bytes()
    assert new.startswith(old)
    assert new[len(old) :] == WROTE.replace("\n", "\r\n").encode()


def test_a_link_stays_one_and_permissions_are_kept(tmp_path: Path, kit: Path) -> None:
    kit.chmod(0o640)
    folder = tmp_path / "links"
    folder.mkdir()
    link = folder / "my.toml"
    link.symlink_to(Path("..") / "kit.toml")
    result = read(link, *BOTH)
    assert result.exit_code == 0
    assert link.is_symlink()
    assert link.read_text().endswith("attachment = 131.0\n")
    assert [path.name for path in folder.iterdir()] == ["my.toml"]
    copy = tmp_path / "kit.toml.bak"
    assert f"as it was before: {copy}" in result.output
    assert {path.stat().st_mode & 0o777 for path in (kit, copy)} == {0o640}


# --- the old file -----------------------------------------------------------------------------


def copies(kit: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in kit.parent.glob("*bak*") if path.is_file()}


def test_a_session_leaves_one_copy_of_the_file_as_it_was(kit: Path) -> None:
    before = kit.read_bytes()
    for figure in (42.1, 42.2, 42.3, 42.4):
        result = read(kit, *SET_UP, "--taking", figure, "--attachment", 131)
        assert f"The kit as it was before: {kit}.bak\n" in result.output
    assert copies(kit) == {"kit.toml.bak": before}


def test_a_kit_changed_by_hand_gets_a_copy_of_its_own(kit: Path) -> None:
    before = kit.read_bytes()
    read(kit, *BOTH)
    kit.write_bytes(kit.read_bytes().replace(b"# ", b"#  ", 1))
    changed = kit.read_bytes()
    assert "kit.toml.bak2" in read(kit, *BOTH).output
    assert "kit.toml.bak2" in read(kit, *BOTH).output
    assert copies(kit) == {"kit.toml.bak": before, "kit.toml.bak2": changed}


def test_a_new_session_gets_a_copy_of_its_own(kit: Path) -> None:
    before = kit.read_bytes()
    read(kit, *BOTH)
    yesterday = kit.stat().st_mtime - 24 * 3600
    os.utime(kit, (yesterday, yesterday))
    second = kit.read_bytes()
    read(kit, *BOTH)
    read(kit, *BOTH)
    assert copies(kit) == {"kit.toml.bak": before, "kit.toml.bak2": second}
    assert kit.with_name("kit.toml.bak2").stat().st_mtime == pytest.approx(yesterday)


def test_a_kit_put_back_by_hand_needs_no_second_copy(kit: Path) -> None:
    before = kit.read_bytes()
    read(kit, *BOTH)
    kit.write_bytes(before)
    os.utime(kit, (0.0, 0.0))
    assert read(kit, *BOTH).exit_code == 0
    assert copies(kit) == {"kit.toml.bak": before}


def _folder(path: Path) -> None:
    path.mkdir()


def _loop(path: Path) -> None:
    path.symlink_to(path.name)


OTHERS: dict[str, Callable[[Path], object]] = {
    "notes": lambda path: path.write_text("my notes"),
    "empty": lambda path: path.write_bytes(b""),
    "number": lambda path: path.write_text("readings = 3"),
    "bytes": lambda path: path.write_bytes(b"\xff"),
    "fifo": os.mkfifo,
    "folder": _folder,
    "loop": _loop,
}


@pytest.mark.parametrize("what", OTHERS)
def test_a_file_of_the_copy_s_name_is_left_alone(kit: Path, what: str) -> None:
    before = kit.read_bytes()
    OTHERS[what](kit.with_name("kit.toml.bak7"))
    theirs = snapshot(kit.parent)["kit.toml.bak7"]
    assert f"{kit}.bak8\n" in read(kit, *BOTH).output
    assert snapshot(kit.parent)["kit.toml.bak7"] == theirs
    assert kit.with_name("kit.toml.bak8").read_bytes() == before


# --- taking back --------------------------------------------------------------------------------


def test_the_last_reading_is_taken_back_and_no_other_byte(kit: Path) -> None:
    kit.write_bytes(b"\xef\xbb\xbf" + kit.read_bytes().replace(b"\n", b"\r\n"))
    states = [kit.read_bytes()]
    for figure in (42.1, 42.2):
        read(kit, *SET_UP, "--taking", figure)
        states.append(kit.read_bytes())
    for figure in (42.2, 42.1):
        result = read(kit, "--undo")
        assert result.exit_code == 0
        assert f'Taken back from {kit}: portrait-85, "2 m", f/2.8, taking {figure}' in result.output
        states.pop()
        assert kit.read_bytes() == states[-1]
    assert "was not written by this command" in refused(kit, "--undo")


def test_an_earlier_session_s_reading_is_taken_back_too(kit: Path) -> None:
    before = kit.read_bytes()
    read(kit, *BOTH)
    yesterday = kit.stat().st_mtime - 24 * 3600
    os.utime(kit, (yesterday, yesterday))
    read(kit, *BOTH)
    assert [read(kit, "--undo").exit_code for _ in range(2)] == [0, 0]
    assert kit.read_bytes() == before


@pytest.mark.parametrize(
    "changed",
    [
        lambda text: text.replace("# ", "#  ", 1),
        lambda text: text + WROTE.replace("42.1", "43 # by hand"),
    ],
    ids=["elsewhere", "one by hand after it"],
)
def test_a_file_changed_meanwhile_is_left_alone(kit: Path, changed: Callable[[str], str]) -> None:
    read(kit, *BOTH)
    kit.write_text(changed(kit.read_text()))
    assert "was changed since: take it out by hand" in refused(kit, "--undo")


def test_without_a_copy_nothing_is_taken_back(kit: Path) -> None:
    assert "was not written by this command" in refused(kit, "--undo")
    assert "--undo stands alone" in refused(kit, "--undo", *BOTH)


# --- what it refuses --------------------------------------------------------------------------

MISTAKES = {
    "too near": (("--distance", "50 cm", "--anyway"), "--distance is \"500 mm\": rig "
                 "\"portrait-85\" focuses no nearer than"),
    "stop too wide": (("--stop", 1), "--stop is 1: the taking lens of rig \"portrait-85\" opens"),
    "no unit": (("--distance", "2"), '--distance is "2": write a number and a unit'),
    "no length": (("--distance-error", "x"), '--distance-error is "x": write a number and a unit'),
    "nan": (("--taking", "nan"), "--taking is nan: must be a finite number"),
    "infinite": (("--attachment", "inf"), "--attachment is inf: must be a finite number"),
    "negative infinite": (("--attachment", "-1e999"), "--attachment is -inf: must be"),
    "off the ruler": (("--taking", 1e9), "must be 2000 or less"),
    "off the ring": (("--taking", 900), "--taking is 900: its ring's ruler shows -8 to 245.7 mm "
                     "once round: read it again, or say --anyway"),
    "left of the ruler": (("--attachment", -9), "--attachment is -9: its ring's ruler shows"),
    "against its neighbour": (("--taking", 80), "--taking is 80: the ring's figures rise as it "
                              "turns nearer, but not from here to portrait-85 at 1.5 m (taking "),
    "infinity with an error": (("--distance", "inf", "--distance-error", "3 m", "--anyway"),
                               "--distance-error: goes with a measured distance"),
    "unknown rig": (("--rig", "x"), '--rig is "x": no such rig; the kit has portrait-85'),
    "no id": (("--rig", "../A b\n"), '--rig is "../A b\\n": no such rig'),
    "no text": (("--distance", "\udcff\x00"), "--distance is"),
}  # fmt: skip


@pytest.mark.parametrize("name", MISTAKES)
def test_a_mistake_is_one_sentence_and_changes_nothing(kit: Path, name: str) -> None:
    options, sentence = MISTAKES[name]
    said = refused(kit, *BOTH, *options)
    assert len(said.splitlines()) == 1
    assert said.startswith(f"focuschart: {kit}: ")
    assert sentence in said


def test_mistakes_of_repeats_are_said_once(kit: Path) -> None:
    figures = ("--taking", 40, "--taking", 41, "--taking", 42)
    said = refused(kit, "--rig", "portrait-85", "--distance", "1 mm", "--stop", 0.1, *figures)
    assert [line.split(" is ")[0].split(": ")[-1] for line in said.splitlines()] == [
        "--distance", "--stop",
    ]  # fmt: skip


def test_one_ring_at_least_is_read(kit: Path) -> None:
    assert "give --taking, --attachment or both" in refused(kit, *SET_UP)


@pytest.mark.parametrize("options", [BOTH[2:], (*BOTH[:2], *BOTH[4:]), (*BOTH, "--side", "up")])
def test_a_missing_or_odd_option_changes_nothing(kit: Path, options: Iterable[str]) -> None:
    assert "Error: " in refused(kit, *options)


def test_a_kit_with_problems_of_its_own_is_told_of_those(kit: Path) -> None:
    kit.write_text(SAMPLE.read_text().replace("squeeze = 2", "squeeze = 9"))
    said = refused(kit, *BOTH, "--distance", "1 mm")
    assert "squeeze is 9: must be 3 or less" in said
    assert "--distance" not in said


UNREADABLE: dict[str, tuple[Callable[[Path], object], str]] = {
    "missing": (lambda _: None, "cannot be read, No such file or directory: check the path"),
    "folder": (_folder, "is not a file, give the path of one"),
    "fifo": (os.mkfifo, "is not a file"),
    "loop": (_loop, "cannot be read, Too many levels of symbolic links"),
    "dangling": (lambda path: path.symlink_to("nowhere"), "cannot be read, No such file"),
    "latin": (lambda path: path.write_bytes("name = 'é'".encode("latin-1")), "is not UTF-8"),
    "huge": (lambda path: path.write_bytes(b"#" * 5_000_000), "is over 4 MB, too large"),
    "empty": (lambda path: path.write_bytes(b""), "format: is missing, add it"),
    "rubbish": (lambda path: path.write_bytes(b"[[readings"), "not valid TOML"),
    "no table": (lambda path: path.write_bytes(b"readings = 3"), "readings is 3: must be a list"),
}


@pytest.mark.parametrize("case", UNREADABLE)
def test_an_unreadable_kit_is_said_and_left(tmp_path: Path, case: str) -> None:
    make, sentence = UNREADABLE[case]
    path = tmp_path / "odd.toml"
    make(path)
    assert sentence in refused(path, *BOTH)


def test_a_kit_that_would_grow_too_large_is_left(kit: Path) -> None:
    kit.write_bytes(SAMPLE.read_bytes().ljust(3_999_990, b"#"))
    assert "longer than 4 MB" in refused(kit, *BOTH)


def test_a_write_protected_kit_is_left(kit: Path) -> None:
    """Its folder would let it be replaced, and the administrator may write to anything."""
    kit.chmod(0o444)
    assert "is write-protected: allow writing to it" in refused(kit, *BOTH)


# --- what goes wrong half-way -----------------------------------------------------------------


@pytest.mark.parametrize("error", [OSError(28, "No space left on device"),
                                   PermissionError(13, "Permission denied"), KeyboardInterrupt()],
                         ids=["full", "forbidden", "stopped"])  # fmt: skip
@pytest.mark.parametrize("call", [0, 1])
@pytest.mark.parametrize("step", ["os.fsync", "pathlib.Path.replace", "shutil.copystat"])
def test_a_failure_half_way_changes_nothing(
    kit: Path, monkeypatch: pytest.MonkeyPatch, step: str, call: int, error: BaseException
) -> None:
    module, name = step.rsplit(".", 1)
    owner: object = Path if module == "pathlib.Path" else sys.modules[module]
    calls, real = iter(range(100)), getattr(owner, name)

    def failing(*arguments: object, **more: object) -> object:
        if next(calls) == call:
            raise error
        return real(*arguments, **more)

    monkeypatch.setattr(owner, name, failing)
    before = snapshot(kit.parent)
    result = read(kit, *BOTH)
    assert snapshot(kit.parent) == before
    if isinstance(error, OSError):
        assert result.exit_code == 2
        assert f"cannot be written, {error.strerror}: nothing in it was changed" in result.output
    else:
        assert result.exit_code == 130
        assert "Stopped, nothing was written." in result.output


def test_a_kit_changed_meanwhile_is_noticed(kit: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    stage = files.stage

    def slow(folder: Path, staged: dict[str, bytes]) -> dict[Path, Path]:
        done = stage(folder, staged)
        kit.write_text("# saved by an editor\n")
        return done

    monkeypatch.setattr("focuschart.store.kit_edits.stage", slow)
    result = read(kit, *BOTH)
    assert result.exit_code == 2
    assert "was changed meanwhile: nothing was written, run it again" in result.output
    assert {path.name: path.read_text() for path in kit.parent.iterdir()} == {
        "kit.toml": "# saved by an editor\n"
    }


def test_of_two_runs_at_once_none_writes_over_the_other(kit: Path) -> None:
    with held_elsewhere(kit):
        assert "another run is writing there: wait until it is done" in refused(kit, *BOTH)
    assert read(kit, *BOTH).exit_code == 0


def test_what_killed_runs_left_is_swept_once_a_day_old(kit: Path) -> None:
    assert read(kit, *BOTH).exit_code == 0
    old = [kit.with_name(f".{name}.0123456789ab.tmp") for name in ("kit.toml", "kit.toml.bak")]
    for path in old:
        path.write_bytes(b"half")
        os.utime(path, (0, 0))
    fresh = kit.with_name(".kit.toml.ba9876543210.tmp")
    fresh.write_bytes(b"half")
    assert read(kit, *BOTH).exit_code == 0
    assert not any(path.exists() for path in old)
    assert fresh.exists()


def test_a_kit_taken_away_meanwhile_stays_away(kit: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    stage = files.stage

    def slow(folder: Path, staged: dict[str, bytes]) -> dict[Path, Path]:
        done = stage(folder, staged)
        kit.rename(kit.with_name("elsewhere"))
        return done

    monkeypatch.setattr("focuschart.store.kit_edits.stage", slow)
    assert read(kit, *BOTH).exit_code == 2
    assert [path.name for path in kit.parent.iterdir()] == ["elsewhere"]


@settings(max_examples=60, deadline=None)
@given(
    rig=st.sampled_from(["portrait-85", "portrait-58"]) | st.text(),
    distance=st.sampled_from(["2 m", "inf", "∞", "1/0 in", "6 ft 3 in"]) | st.text(),
    error=st.none() | st.sampled_from(["3 cm", "1 mm"]) | st.text(),
    figures=st.lists(st.floats() | st.sampled_from([40.0, 45.5]), max_size=3),
)
def test_no_option_leads_to_a_traceback(
    rig: str, distance: str, error: str | None, figures: list[float]
) -> None:
    spread = [] if error is None else [f"--distance-error={error}"]
    taking = [f"--taking={figure}" for figure in figures]
    with tempfile.TemporaryDirectory() as folder:
        kit = Path(folder) / "kit.toml"
        kit.write_bytes(SAMPLE.read_bytes())
        before = snapshot(kit.parent)
        result = read(kit, f"--rig={rig}", f"--distance={distance}", *spread, *taking)
        assert result.exit_code in (0, 2)
        if result.exit_code == 2:
            assert snapshot(kit.parent) == before
            assert all(line.isprintable() for line in result.output.splitlines())
        else:
            after = load_kit(kit.read_text(), source="").readings[HAD:]
            assert [reading.taking for reading in after] == figures


def test_help_names_it_and_loads_nothing_for_it() -> None:
    code = (
        "import sys; sys.argv = ['focuschart', '--help']\n"
        "from focuschart.cli import main\n"
        "try: main()\n"
        "finally: print([m for m in ('tomlkit', 'tomllib', 'pydantic') if m in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], check=True, capture_output=True, text=True, cwd=ROOT
    )
    assert "\n  read " in done.stdout
    assert done.stdout.splitlines()[-1] == "[]"


def test_it_says_at_once_how_a_reading_fits_the_others(tmp_path: Path) -> None:
    """A sound one is off by little; a figure far off is told with its probable cause."""
    kit = tmp_path / "kit.toml"
    kit.write_text(kit_text(plain_kit()), encoding="utf-8")
    sound = read(kit, "--rig", "portrait", "--distance", "2 m", "--taking", "65.7")
    assert re.search(r"portrait at 2 m \(taking 65\.7\): [+-]0\.\d\d mm", sound.output)
    off = read(kit, "--rig", "portrait", "--distance", "4 m", "--taking", "58.0", "--anyway")
    assert "it disagrees, read it again" in off.output
    assert "Probably portrait at 4 m (taking 58)" in off.output


def test_it_says_what_is_still_missing_for_marks(tmp_path: Path) -> None:
    kit = tmp_path / "kit.toml"
    kit.write_text(kit_text({**plain_kit(), "readings": []}), encoding="utf-8")
    result = read(kit, "--rig", "portrait", "--distance", "2 m", "--taking", "65.7")
    assert result.exit_code == 0
    assert "No marks yet, taking ring: taking_lenses.long (readings): 1 diff" in result.output


def test_a_figure_off_the_ring_is_written_where_one_insists(tmp_path: Path) -> None:
    """The ring then has no marks, and it is said so at once; the kit itself stays a sound one."""
    kit = tmp_path / "kit.toml"
    kit.write_text(kit_text(plain_kit()), encoding="utf-8")
    done = read(kit, "--rig", "portrait", "--distance", "2 m", "--taking", "900", "--anyway")
    assert done.exit_code == 0
    assert "taking = 900" in kit.read_text(encoding="utf-8")
    assert "No marks yet, taking ring: taking_lenses.long.ring: the readings span" in done.output
