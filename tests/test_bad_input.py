"""What nobody should type, or find on a disk: one sentence, status 2, nothing lost."""

from __future__ import annotations

import io
import math
import os
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import TYPE_CHECKING, cast

import numpy as np
import pytest
from fontTools.ttLib import TTFont

from focuschart.errors import GlyphError, KitError, PageError
from focuschart.kit.load import load_kit
from focuschart.layout.card.size import card_size
from focuschart.layout.page import Page, Text
from focuschart.layout.printer.calibration import nominal_bars
from focuschart.layout.sheet.papers import parse_paper
from focuschart.renderers.fonts import default_font_path
from focuschart.renderers.glyphs import TypeFace
from focuschart.renderers.pdf import render_pdf
from focuschart.report.check import _frame_rows
from tests.command import run
from tests.killed import ROOT
from tests.kits import kit_text, plain_kit

if TYPE_CHECKING:
    from focuschart.checks.picture import Picture

TAKEN = [
    "to-print-strips.pdf",
    "to-print-cards-1.svg",
]


def program(
    *arguments: object, cwd: Path, errors: Path | None = None
) -> subprocess.CompletedProcess[bytes]:
    """Run the program itself, for what a test's own output hides."""
    command = [sys.executable, "-m", "focuschart", *map(str, arguments)]
    with (errors or Path(os.devnull)).open("wb") as sink:
        return subprocess.run(
            command, cwd=cwd, env={**os.environ, "PYTHONPATH": str(ROOT)}, check=False,
            stdout=subprocess.PIPE, stderr=sink if errors else subprocess.PIPE,
        )  # fmt: skip


@pytest.fixture
def kit(tmp_path: Path) -> Path:
    path = tmp_path / "bag.toml"
    path.write_text(kit_text(plain_kit()), encoding="utf-8")
    return path


# --- options ----------------------------------------------------------------------------------


def test_a_paper_of_thousands_of_letters_does_not_take_forever() -> None:
    for text in ("x" * 4000, "labels " + "x" * 4000 + "mm, " + "x" * 4000 + " on A4, left 1 mm, t"):
        with pytest.raises(PageError, match="paper"):
            parse_paper(text)


def test_sizes_are_shown_short_and_plain() -> None:
    with pytest.raises(PageError) as caught:
        card_size("\n" + "9" * 5000 + "x40")
    assert len(str(caught.value)) < 120
    assert "\n" not in str(caught.value)
    with pytest.raises(PageError, match=r"^100 x 100 mm is square"):
        nominal_bars("100\n x 100 mm")


@pytest.mark.parametrize("name", TAKEN)
def test_no_rig_is_written_where_its_sheets_to_print_cannot_be(kit: Path, name: str) -> None:
    out = kit.parent / "out"
    (out / "bag").mkdir(parents=True)
    (out / "bag" / name).write_text("mine")
    result = run("build", kit, "--out", out, "--only-stale")
    assert result.exit_code == 2
    assert f"{name}: is there already and not as a build left it" in result.output
    assert [path.name for path in (out / "bag").iterdir()] == [name]
    (out / "bag" / name).rename(out / "bag" / "to-print-list.txt")
    assert "print, it is new" in run("build", kit, "--out", out, "--only-stale").output
    assert (out / "bag" / "to-print-list.txt").read_text() == "mine"


@pytest.mark.parametrize("where", ["x" * 300, "x/" * 3000])
def test_a_path_too_long_for_any_system_is_named(kit: Path, where: str) -> None:
    told = run("identify", "22222-2", "--out", where).output + run("compare", where, kit).output
    assert "cannot be written" not in told
    assert told.count(where.rstrip("/")) == 2


# --- paths and outputs ------------------------------------------------------------------------


def test_a_path_that_is_no_text_goes_out_as_it_came_in(tmp_path: Path) -> None:
    name = os.fsdecode(b"out\xff")
    done = program("printer", "sheet", "--out", name, cwd=tmp_path)
    assert (done.returncode, done.stderr) == (0, b"")
    assert done.stdout.startswith(b"Written to out\xff/")


def test_the_name_of_a_file_does_not_steer_the_terminal(tmp_path: Path) -> None:
    done = program("check", "bag\x1b[2J\u202e.toml", cwd=tmp_path)
    assert done.returncode == 2
    assert done.stderr.decode().startswith("focuschart: bag\\x1b[2J\\u202e.toml: cannot be read")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_errors_that_cannot_be_written_still_end_in_status_2(tmp_path: Path) -> None:
    done = program("check", "none.toml", cwd=tmp_path, errors=Path("/dev/full"))
    assert done.returncode == 2


@pytest.mark.skipif(not Path("/proc/kmsg").exists(), reason="no file without an end")
def test_a_file_that_never_begins_is_not_waited_for() -> None:
    assert run("check", "/proc/kmsg").exit_code == 2


# --- the kit ----------------------------------------------------------------------------------


@pytest.mark.parametrize("turns", ["1.5", "2.0", '"2"', "true", "[2]", "nan"])
def test_turns_are_whole_in_our_own_words(turns: str) -> None:
    text = kit_text(plain_kit()).replace("nearer_turns", f"turns = {turns}, nearer_turns", 1)
    with pytest.raises(KitError, match=r"ring\.turns is .*: must be a whole number"):
        load_kit(text, source="bag.toml")


def test_the_path_of_an_included_file_is_not_repeated_at_length() -> None:
    text = f'include = ["{"x" * 9000}"]\n{kit_text(plain_kit())}'
    with pytest.raises(KitError, match=r"include\[0\] .*: is longer than 1000 char") as caught:
        load_kit(text, source="bag.toml")
    assert len(str(caught.value)) < 200


def test_a_squeeze_a_hair_under_its_nominal_is_no_minus_nought() -> None:
    shown = SimpleNamespace(
        distances_mm=np.array([math.inf]),
        squeeze=np.array([1.42]),
        widening_percent=np.array([-0.03]),
        widened_by=1.42,
        squeeze_95=np.array([0.04]),
        deliveries=(),
    )
    _, row = _frame_rows(cast("Picture", shown), "metric")
    assert row[2] == "0.0 %"


# --- fonts ------------------------------------------------------------------------------------


@pytest.mark.parametrize("table", ["name", "post"])
def test_a_font_without_a_table_that_a_pdf_needs_is_refused(table: str) -> None:
    font, file = TTFont(default_font_path()), io.BytesIO()
    del font[table]
    font.save(file)
    face = TypeFace(file.getvalue())
    page = Page(100.0, 100.0, "a page", (Text("12", 10.0, 10.0, cap_mm=3.0),))
    with pytest.raises(GlyphError, match=rf"put into a PDF .*{table}.*--font"):
        render_pdf([page], face=face, title="t")


def test_a_glyph_that_ends_too_soon_is_refused_when_it_is_put_into_a_pdf(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def cut_off(*_: object, **__: object) -> bytes:
        raise IndexError("list index out of range")

    monkeypatch.setattr("reportlab.pdfbase.ttfonts.TTFontFile.makeSubset", cut_off)
    page = Page(100.0, 100.0, "a page", (Text("12", 10.0, 10.0, cap_mm=3.0),))
    with pytest.raises(GlyphError, match=r"cannot be put into a PDF .*--font"):
        render_pdf([page], face=TypeFace.load(), title="t")
