"""focuschart printer: what is stored, what is refused, and pages made for a printer."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from focuschart.cli import main
from focuschart.errors import GlyphError, InputError, PageError
from focuschart.layout.page import Face, Page, line
from focuschart.layout.printer.correct import LARGEST_ERROR, LARGEST_OFFSET_MM
from focuschart.store import printers
from focuschart.store.printers import (
    LONGEST_NAME,
    Setting,
    for_setting,
    printers_file,
    printers_to_change,
    read_printers,
    setting_for,
)
from tests.readback import pdf_sizes, svg_keyed
from tests.sheets import FACE, page_of

ROOT = Path(__file__).parent.parent
LYING = (297.0, 210.0)  # ISO 216, A4
BARS = ("--long", "284.6 mm", "--short", "196.7 mm")


@pytest.fixture(autouse=True)
def config(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Keep every test out of the real home."""
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.chdir(tmp_path)
    return printers_file()


def run(*arguments: object) -> Result:
    result = CliRunner().invoke(main, ["printer", *map(str, arguments)])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    assert "Traceback" not in result.output
    return result


def refused(*arguments: object) -> str:
    """Run what must end in one sentence and exit status 2, with nothing changed."""
    file = printers_file()
    before = file.read_bytes() if file.is_file() else None
    result = run(*arguments)
    assert result.exit_code == 2
    assert result.output.count("\n") == 1
    assert (file.read_bytes() if file.is_file() else None) == before
    assert not list(file.parent.glob(".*.tmp"))
    return result.output


# --- set, list, forget ---------------------------------------------------------------------------


def test_a_printer_is_stored_listed_and_forgotten(tmp_path: Path, config: Path) -> None:
    assert config.parent == (tmp_path / "config" / "focuschart").resolve()
    assert "No printer is stored" in run("list").output
    result = run("set", "Up stairs", *BARS)
    assert result.exit_code == 0
    assert "Up stairs, A4: long edge × 0.9979, short edge × 1.0015" in result.output
    assert "true within" not in result.output
    assert (
        run(
            "set", "Up stairs", "--paper", "A3", "--long", "407.3 mm", "--short", "284 mm"
        ).exit_code
        == 0
    )
    assert run("list").output.splitlines() == [
        "Up stairs, A3: long edge × 0.9993, short edge × 1.0000",
        "Up stairs, A4: long edge × 0.9979, short edge × 1.0015",
    ]
    assert "Forgotten: Up stairs, A3." in run("forget", "Up stairs", "--paper", "A3").output
    assert list(read_printers()["Up stairs"]) == ["A4"]
    assert run("forget", "Up stairs").exit_code == 0
    assert read_printers() == {}


def test_bars_and_backs_are_entered_one_after_the_other() -> None:
    assert run("set", "p", *BARS).exit_code == 0
    result = run("set", "p", "--back-right", "0.6 mm", "--back-up", "-0.3 mm")
    assert "p, A4: back +0.6 mm right, -0.3 mm up" in result.output
    assert read_printers()["p"]["A4"] == Setting(284, 284.6, 197, 196.7, 0.6, -0.3)
    assert run("set", "p", "--long", "284 mm", "--short", "197 mm").exit_code == 0
    assert read_printers()["p"]["A4"] == Setting(284, 284, 197, 197, 0.6, -0.3)


@pytest.mark.parametrize(
    ("long", "short"),
    [("28.46 cm", "19.67 cm"), ("11 1/5 in", "7.75 in"), (" 284.6mm ", "0.1967 m")],
)
def test_lengths_have_units(long: str, short: str) -> None:
    assert run("set", "p", "--long", long, "--short", short).exit_code == 0
    stored = read_printers()["p"]["A4"]
    assert stored.long_measured == pytest.approx(284.5, abs=0.11)
    assert stored.short_measured == pytest.approx(196.8, abs=0.11)


def test_four_stored_at_once_are_four() -> None:
    command = [sys.executable, "-m", "focuschart", "printer", "set"]
    runs = [
        subprocess.Popen([*command, f"p{n}", *BARS], env={**os.environ, "PYTHONPATH": str(ROOT)})
        for n in range(4)
    ]
    assert [run.wait(timeout=60) for run in runs] == [0] * 4
    assert set(read_printers()) == {"p0", "p1", "p2", "p3"}
    assert not list(printers_file().parent.glob(".*"))


def test_a_true_printer_is_stored_all_the_same() -> None:
    result = run("set", "p", "--long", "284.05 mm", "--short", "196.97 mm")
    assert "the printer is true within 0.02 %, no correction is needed" in result.output
    assert "p" in read_printers()
    assert "true within" not in run("set", "p", "--long", "284.06 mm", "--short", "197 mm").output


@pytest.mark.parametrize("length", ["278.3 mm", "289.7 mm", "852 mm", "142 mm", "3 mm"])
def test_a_scaled_page_is_told_from_a_printers_error(length: str) -> None:
    run("set", "p", *BARS)
    said = refused("set", "p", "--long", length, "--short", "197 mm")
    assert f'--long "{length}"' in said
    assert 'beyond 2 %: "fit to page" is on in the print dialogue' in said
    assert "nothing was stored" in said


@pytest.mark.parametrize(
    "length",
    ["0 mm", "-284 mm", "nan", "inf", "-inf", "", "284", "3", "1/0 mm", "nan mm", "284 kg"],
)
def test_what_is_no_length_is_refused(length: str) -> None:
    for options in (
        ("--long", length, "--short", "197 mm"),
        ("--short", length, "--long", "284 mm"),
    ):
        assert "nothing was stored" in refused("set", "p", *options)
    if not length.startswith("0"):
        refused("set", "p", "--back-right", length, "--back-up", "0 mm")


@pytest.mark.parametrize(
    ("options", "complaint"),
    [
        ((), "nothing to store"),
        (("--long", "284 mm"), "give both bars"),
        (("--short", "197 mm"), "give both bars"),
        (("--back-up", "0 mm"), "give both --back-right and --back-up"),
        (("--back-right", "6 mm", "--back-up", "0 mm"), "turned over the wrong edge"),
        ((*BARS, "--paper", "B9"), "unknown paper"),
        ((*BARS, "--paper", "roll 100 mm"), "whole sheets"),
        ((*BARS, "--paper", "200 x 200 mm"), "is square"),
    ],
)
def test_half_a_measurement_is_refused(options: tuple[str, ...], complaint: str) -> None:
    assert complaint in refused("set", "p", *options)


@pytest.mark.parametrize("name", ["", "  ", "a\nb", "a\x1b[1mb", "\u202eabc", "x" * 41, "a\udcffb"])
def test_a_name_must_be_readable(name: str) -> None:
    assert f"name it with 1 to {LONGEST_NAME} letters" in refused("set", name, *BARS)
    assert f"name it with 1 to {LONGEST_NAME} letters" in refused("forget", name)


def test_two_spellings_of_a_letter_are_one_name() -> None:
    run("set", "Bu\u0308ro", *BARS)
    assert list(read_printers()) == ["Büro"]
    assert run("forget", "Büro").exit_code == 0


def test_what_is_not_stored_cannot_be_forgotten() -> None:
    assert "is not stored" in refused("forget", "p")
    run("set", "p", *BARS)
    assert "was measured on A4, not on A3" in refused("forget", "p", "--paper", "A3")
    assert "unknown paper" in refused("forget", "p", "--paper", "B9")


# --- the file ------------------------------------------------------------------------------------

SHARE = st.floats(1 - LARGEST_ERROR, 1 + LARGEST_ERROR)
MM = st.floats(-LARGEST_OFFSET_MM, LARGEST_OFFSET_MM)
WITH_BARS = st.builds(lambda a, b: Setting(284, 284 * a, 197, 197 * b), SHARE, SHARE)
WITH_BACKS = st.builds(lambda a, b: Setting(back_right=a, back_up=b), MM, MM)
WITH_BOTH = st.builds(lambda a, b, c: Setting(284, 284 * a, 197, 197 * a, b, c), SHARE, MM, MM)
PAPERS = st.sampled_from(["A4", "A3", "Letter", "210 x 148 mm"])
NAMES = st.text(st.characters(exclude_categories=["C", "Z", "M"]), min_size=1, max_size=20).filter(
    lambda name: name.isprintable() and printers.checked_name(name) == name
)


@settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    stored=st.dictionaries(
        NAMES, st.dictionaries(PAPERS, WITH_BARS | WITH_BACKS | WITH_BOTH, min_size=1), max_size=5
    )
)
def test_what_is_written_is_read(stored: printers.Printers) -> None:
    with printers_to_change() as kept:
        kept.clear()
        kept.update(stored)
    assert read_printers() == stored


_OURS = '{"made_by": "focuschart", "holds": "printers", "format": 1, "printers": '
_BARS = '"long_bar": 284, "long_measured": 284, "short_bar": 197, "short_measured": '
DAMAGED = {
    "empty": "",
    "no-json": "mine",
    "cut-off": _OURS + '{"p": {"A4": {',
    "deep": "[" * 200_000,
    "no-printers": '{"made_by": "focuschart", "holds": "printers", "format": 1}',
    "list": _OURS + "[]}",
    "no-papers": _OURS + '{"p": 3}}',
    "no-setting": _OURS + '{"p": {"A4": {}}}}',
    "paper": _OURS + '{"p": {"B9": {' + _BARS + "197}}}}",
    "name": _OURS + '{"a\\u0007b": {"A4": {' + _BARS + "197}}}}",
    "key": _OURS + '{"p": {"A4": {"scale": 1.0}}}}',
    "half": _OURS + '{"p": {"A4": {"long_bar": 284, "long_measured": 284}}}}',
    "text": _OURS + '{"p": {"A4": {' + _BARS + '"197"}}}}',
    "truth": _OURS + '{"p": {"A4": {"back_right": true, "back_up": 0}}}}',
    "nan": _OURS + '{"p": {"A4": {' + _BARS + "NaN}}}}",
    "zero": _OURS + '{"p": {"A4": {' + _BARS + "0}}}}",
    "three": _OURS + '{"p": {"A4": {' + _BARS + "591}}}}",
    "offset": _OURS + '{"p": {"A4": {"back_right": 50, "back_up": 0}}}}',
    "huge": _OURS + '{"p": {"A4": {"back_right": 1' + "0" * 400 + ', "back_up": 0}}}}',
}
FOREIGN = {
    "list": "[]",
    "object": "{}",
    "other": '{"made_by": "another program", "holds": "printers", "format": 1, "printers": {}}',
    "record": '{"made_by": "focuschart", "kit": "k.toml", "files": {}}',
}


def untouched(file: Path, text: str) -> list[str]:
    """Put a text in the file's place, try every command, and see that it stays."""
    file.parent.mkdir(parents=True)
    file.write_text(text, encoding="utf-8")
    commands: list[tuple[object, ...]] = [("list",), ("set", "p", *BARS), ("forget", "p")]
    said = [refused(*command) for command in commands]
    assert file.read_text(encoding="utf-8") == text
    assert all(str(file) in words and "move it away" in words for words in said)
    return said


@pytest.mark.parametrize("text", DAMAGED.values(), ids=DAMAGED)
def test_a_damaged_file_is_left_alone(config: Path, text: str) -> None:
    assert all("is damaged" in said for said in untouched(config, text))


@pytest.mark.parametrize("text", FOREIGN.values(), ids=FOREIGN)
def test_a_foreign_file_is_left_alone(config: Path, text: str) -> None:
    assert all("was not written by focuschart" in said for said in untouched(config, text))


def test_a_later_versions_file_is_left_alone(config: Path) -> None:
    text = _OURS.replace('"format": 1', '"format": 2') + "{}}"
    assert all("another version of focuschart" in said for said in untouched(config, text))


def test_bytes_that_are_no_text_are_left_alone(config: Path) -> None:
    config.parent.mkdir(parents=True)
    config.write_bytes(b"\xff\xfe\x00")
    assert "is not UTF-8" in refused("set", "p", *BARS)


def test_a_folder_in_the_files_place_is_refused(config: Path) -> None:
    config.mkdir(parents=True)
    assert "is not a file" in refused("set", "p", *BARS)


def test_a_file_in_the_folders_place_is_refused(config: Path) -> None:
    config.parent.parent.mkdir(parents=True)
    config.parent.write_text("mine")
    assert "cannot be written" in refused("set", "p", *BARS)
    assert config.parent.read_text() == "mine"


def test_a_full_disk_changes_nothing(config: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    assert "No space left on device" in refused("set", "p", *BARS)
    assert not config.parent.exists()
    monkeypatch.undo()


def test_a_link_to_the_file_stays_a_link(tmp_path: Path, config: Path) -> None:
    kept = tmp_path / "kept" / "printers.json"
    kept.parent.mkdir()
    config.parent.mkdir(parents=True)
    config.symlink_to(kept)
    assert run("set", "p", *BARS).exit_code == 0
    assert config.is_symlink()
    assert json.loads(kept.read_text(encoding="utf-8"))["printers"]["p"]


@pytest.mark.parametrize("relative", ["", "somewhere"])
def test_a_relative_config_home_is_ignored(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, relative: str
) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", relative)
    assert run("set", "p", *BARS).exit_code == 0
    assert (tmp_path / "home" / ".config" / "focuschart" / "printers.json").is_file()


# --- sheets --------------------------------------------------------------------------------------


@pytest.mark.parametrize("paper", ["A4", "Letter", "210 x 148 mm"])
def test_sheets_are_written_in_every_format(tmp_path: Path, paper: str) -> None:
    name = paper.replace(" ", "")
    result = run("sheet", "--paper", paper, "--out", tmp_path)
    assert result.exit_code == 0
    folder = tmp_path / f"calibration-{name}"
    written = {"calibration.pdf", "calibration-1.svg"}
    assert written <= {path.name for path in folder.iterdir()}
    assert run("registration", "--paper", paper, "--out", tmp_path).exit_code == 0
    data = (tmp_path / f"registration-{name}" / "registration.pdf").read_bytes()
    assert len(pdf_sizes(data)) == 2


def test_sheets_overwrite_nothing_of_the_users(tmp_path: Path) -> None:
    assert run("sheet").exit_code == 0
    assert run("sheet").exit_code == 0
    mine = tmp_path / "output" / "calibration-A4" / "calibration-1.svg"
    mine.write_text("mine")
    assert "is there already" in refused("sheet")
    assert mine.read_text() == "mine"
    assert run("sheet", "--force").exit_code == 0


def test_sheets_refuse_in_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("mine")
    for sheet in ("sheet", "registration"):
        assert "cannot be written" in refused(sheet, "--out", tmp_path / "taken")
        assert "too small" in refused(sheet, "--paper", "100 x 72 mm")
        assert "unknown paper" in refused(sheet, "--paper", "B9")
        refused(sheet, "--font", tmp_path / "nothing.ttf")


# --- pages for a printer -------------------------------------------------------------------------


def documents(*names: str, count: int = 2) -> dict[str, list[Page]]:
    page = page_of(line((20, 20), (120, 20), key="bar"), size=LYING)
    return {name: [page] * count for name in names}


def for_printer(
    pages: dict[str, list[Page]], *, printer: str | None, paper: str, face: Face = FACE,
    two_sided: Sequence[str] = (),
) -> dict[str, list[Page]]:  # fmt: skip
    setting = setting_for(printer, paper)
    return for_setting(pages, setting, printer=printer, face=face, two_sided=two_sided)


def made(page: Page) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """Return the bar as it is drawn."""
    bar = page.shapes[0]
    return np.array(bar.points) * (page.scale_x, page.scale_y) + page.shift_mm  # type: ignore[union-attr]


def test_pages_without_a_printer_stay() -> None:
    before = documents("strips")
    assert for_printer(before, printer=None, paper="A4", face=FACE) == before


def test_pages_are_made_for_the_printer() -> None:
    run("set", "p", *BARS)
    after = for_printer(documents("strips", "cards"), printer="p", paper="210 x 297 mm", face=FACE)
    assert list(after) == ["strips", "cards"]
    for page in (page for pages in after.values() for page in pages):
        assert np.ptp(made(page)[:, 0]) * 284.6 / 284 == pytest.approx(100, abs=1e-9)


def test_only_backs_of_two_sided_documents_are_shifted() -> None:
    run("set", "p", *BARS, "--back-right", "0.6 mm", "--back-up", "-0.3 mm")
    after = for_printer(documents("strips", "cards", count=4), printer="p", paper="A4", face=FACE,
                        two_sided=["cards"])  # fmt: skip
    front, *others = (made(page) for page in (*after["strips"], *after["cards"]))
    shifts = [(points - front).mean(axis=0) for points in others]
    wanted = (-0.6 * 284 / 284.6, 0.3 * 197 / 196.7)
    for number, shift in enumerate(shifts):
        assert shift == pytest.approx(wanted if number in (4, 6) else (0, 0), abs=1e-9)


def test_pages_cannot_be_made_for_what_was_not_measured() -> None:
    with pytest.raises(InputError, match="none of that name is stored: print"):
        for_printer(documents("s"), printer="p", paper="A4", face=FACE)
    run("set", "backs", "--back-right", "0.6 mm", "--back-up", "0 mm")
    run("set", "Büro", *BARS)
    run("set", "打印机", *BARS)
    with pytest.raises(InputError, match="known are Büro, backs"):
        for_printer(documents("s"), printer="p", paper="A4", face=FACE)
    with pytest.raises(InputError, match="only its backs were measured on A4"):
        for_printer(documents("s"), printer="backs", paper="A4", face=FACE)
    with pytest.raises(InputError, match="was measured on A4, not on A3"):
        for_printer(documents("s"), printer="Büro", paper="A3", face=FACE)
    with pytest.raises(PageError, match="whole sheets"):
        for_printer(documents("s"), printer="Büro", paper="roll 100 mm", face=FACE)
    with pytest.raises(GlyphError, match="no glyph for"):
        for_printer(documents("s"), printer="打印机", paper="A4", face=FACE)


def test_rulers_for_the_bench_are_corrected_as_strips_are(tmp_path: Path) -> None:
    kit = ROOT / "sample_kits" / "two-lenses.toml"
    run("set", "p", *BARS)
    written: dict[str, list[float]] = {}
    for command, folder in (("bench", "two-lenses-bench"), ("build", "two-lenses/portrait-85")):
        arguments = [command, str(kit), "--rig", "portrait-85", "--printer", "p"]
        done = CliRunner().invoke(main, [*arguments, "--out", str(tmp_path / "out")])
        assert done.exit_code == 0, done.output
        svg = (tmp_path / "out" / folder / "rulers-1.svg").read_text(encoding="utf-8")
        ticks = {key: shape for key, shape in svg_keyed(svg.encode()).items() if "/mm:" in key}
        (first,), (last,) = (
            [
                shape.points[0]
                for key, shape in ticks.items()
                if key.endswith(f"taking/eighty-five/ruler/mm:{n}")
            ]
            for n in (0, 200)
        )
        written[command] = [float(np.hypot(*np.subtract(last, first)))]
    assert written["bench"] == pytest.approx(written["build"])
    assert written["bench"] != pytest.approx([200.0], abs=0.1)
