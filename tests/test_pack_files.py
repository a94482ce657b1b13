"""A pack is whole at every moment: killed between any two steps, each file is old or new."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

import pytest

from focuschart.errors import InputError, OutputError
from focuschart.store import files
from focuschart.store.files import exclusive
from focuschart.store.record import (
    RECORD,
    clear,
    is_complete,
    known_record,
    read_record,
    write_pack,
)
from tests.locks import held_elsewhere

OLD = {"strips.pdf": b"old strips" * 999, "cards.pdf": b"old cards", "rigs.pdf": b"old rigs"}
NEW = {"strips.pdf": b"new strips" * 999, "cards.pdf": b"old cards", "rulers.pdf": b"new rulers"}
KIT = "bag.toml"
STEPS = ("fsync", "replace", "unlink", "link")


def write(folder: Path, files: Mapping[str, bytes], **notes: object) -> bool:
    return write_pack(folder, files, kit=KIT, force=False, notes=notes)


def bytes_in(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.suffix != ".tmp"}


def killed(step: int, work: Callable[[], object]) -> bool:
    """Run in a process of its own that dies, without any clearing up, before its nth step."""
    child = os.fork()
    if child == 0:
        left = iter(range(step))
        for name in STEPS:
            _die_when_out(name, left)
        work()
        os._exit(0)
    _, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status) != 0


def _die_when_out(name: str, left: Iterator[int]) -> None:
    real = getattr(os, name)

    def counted(*arguments: object, **options: object) -> object:
        if next(left, None) is None:
            os._exit(9)
        return real(*arguments, **options)

    setattr(os, name, counted)


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a process to kill")
def test_a_build_killed_at_any_step_leaves_whole_files_and_the_next_finishes_it(
    tmp_path: Path,
) -> None:
    deaths = 0
    for step in range(100):
        folder = tmp_path / f"pack-{step}"
        write(folder, OLD, made="old")
        was_killed = killed(step, lambda folder=folder: write(folder, NEW, made="new"))  # type: ignore[misc]
        deaths += was_killed
        for name, data in bytes_in(folder).items():
            if name != RECORD:
                assert data in (OLD.get(name), NEW.get(name)), f"{name}, step {step}"
        record = read_record(folder)
        assert record is not None
        assert record.notes == {"made": "new" if record.notes["made"] == "new" else "old"}
        assert record.finished or record.notes == {"made": "old"}
        if record.notes == {"made": "new"}:
            assert {name: bytes_in(folder)[name] for name in NEW} == NEW
        write(folder, NEW, made="new")
        left = bytes_in(folder)
        assert {name: left[name] for name in left if name != RECORD} == NEW
        if not was_killed:
            break
    assert 8 <= deaths < 100


def test_a_full_disk_at_the_last_record_says_what_was_replaced_and_the_next_build_finishes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write(tmp_path, OLD, made="old")
    publish = files.publish

    def full(staged: Mapping[Path, Path]) -> None:
        if len(staged) == 1:
            raise OSError(28, "No space left on device")
        publish(staged)

    monkeypatch.setattr("focuschart.store.record.publish", full)
    said = "cannot be written, No space left on device: rulers.pdf, strips.pdf replaced"
    with pytest.raises(OutputError, match=said):
        write(tmp_path, NEW, made="new")
    record = read_record(tmp_path)
    assert record is not None
    assert (record.finished, record.notes) == (False, {"made": "old"})
    assert not list(tmp_path.glob(".*"))
    monkeypatch.undo()
    assert write(tmp_path, NEW, made="new")
    after = read_record(tmp_path)
    assert after is not None
    assert (after.finished, after.notes) == (True, {"made": "new"})


def test_two_builds_at_once_never_mix(tmp_path: Path) -> None:
    write(tmp_path, OLD)
    with held_elsewhere(tmp_path), pytest.raises(OutputError, match="another run is writing"):
        write(tmp_path, NEW)
    assert bytes_in(tmp_path)["strips.pdf"] == OLD["strips.pdf"]


def test_a_killed_run_s_lock_stops_nobody(tmp_path: Path) -> None:
    pack = tmp_path / "pack"
    with held_elsewhere(pack) as process:
        assert (tmp_path / ".pack.lock").exists()
        process.kill()
        process.wait()
        assert write(pack, OLD)
    assert [path.name for path in tmp_path.iterdir()] == ["pack"]


def test_a_run_locks_what_it_has_locked_already(tmp_path: Path) -> None:
    with exclusive(tmp_path / "pack"), exclusive(tmp_path / "pack"):
        assert write(tmp_path / "pack", OLD)
    assert not (tmp_path / ".pack.lock").exists()


def test_where_no_lock_can_be_had_the_run_goes_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def none(_descriptor: int) -> None:
        raise OSError(37, "No locks available")

    monkeypatch.setattr(files, "_lock_open", none)
    assert write(tmp_path / "pack", OLD)
    assert [path.name for path in tmp_path.iterdir()] == ["pack"]


def test_an_unchanged_pack_is_not_touched(tmp_path: Path) -> None:
    assert write(tmp_path, OLD)
    before = {path: path.stat().st_mtime_ns for path in tmp_path.iterdir()}
    assert not write(tmp_path, OLD)
    assert {path: path.stat().st_mtime_ns for path in tmp_path.iterdir()} == before


def test_files_that_are_kept_are_neither_written_nor_removed(tmp_path: Path) -> None:
    write(tmp_path, OLD)
    card = tmp_path / "cards.pdf"
    before = card.stat().st_mtime_ns
    write_pack(tmp_path, {"strips.pdf": b"x"}, kit=KIT, force=False, kept=["cards.pdf"])
    assert card.stat().st_mtime_ns == before
    assert set(bytes_in(tmp_path)) == {"strips.pdf", "cards.pdf", RECORD}
    assert is_complete(tmp_path, known_record(tmp_path, KIT, force=False))


def test_what_a_killed_build_left_is_cleared_once_a_day_old_and_nothing_else(
    tmp_path: Path,
) -> None:
    write(tmp_path, OLD)
    left = [tmp_path / f".{name}.0123456789ab.tmp" for name in ("cards.pdf", RECORD)]
    mine = tmp_path / ".mine.pdf.0123456789ab.tmp"
    for path in (*left, mine):
        path.write_bytes(b"half")
        os.utime(path, (0, 0))
    fresh = tmp_path / ".rigs.pdf.0123456789ab.tmp"
    fresh.write_bytes(b"half")
    clear(tmp_path, known_record(tmp_path, KIT, force=False))
    assert not any(path.exists() for path in left)
    assert mine.exists()
    assert fresh.exists()


def test_a_pack_with_a_file_missing_or_changed_is_not_whole(tmp_path: Path) -> None:
    write(tmp_path, OLD)
    record = known_record(tmp_path, KIT, force=False)
    (tmp_path / "cards.pdf").write_bytes(b"mine")
    assert not is_complete(tmp_path, record)
    (tmp_path / "cards.pdf").unlink()
    assert not is_complete(tmp_path, record)


@pytest.mark.parametrize("change", [{"files": {"../x": []}}, {"kit": 3}, {"notes": []}])
def test_a_record_that_was_changed_is_refused(tmp_path: Path, change: dict[str, object]) -> None:
    write(tmp_path, OLD)
    path = tmp_path / RECORD
    path.write_text(json.dumps({**json.loads(path.read_text()), **change}))
    with pytest.raises(InputError, match="is not the record of a pack"):
        read_record(tmp_path)
    with pytest.raises(OutputError, match="is not the record of a pack of this kit"):
        write(tmp_path, NEW)
    assert (tmp_path / "strips.pdf").read_bytes() == OLD["strips.pdf"]
