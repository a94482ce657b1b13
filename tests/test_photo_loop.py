"""The loop with strips, by the command: rulers and strips photographed at one setting.

The photographs are renders of POV-Ray 3.7, drawn by `python -m tests.photographs.markers slide`:
the ruler from two sides, the marker strip with its index 0.3 mm too far to the right, and the same
with the index moved 0.3 mm to the left as seen from behind the camera.
"""

from __future__ import annotations

import json
import math
import re
import shutil
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result

from focuschart.cli import main
from tests.photographs.prints import KITS
from tests.photographs.sets import RECORDED

OFF_MM = 0.3
LEFT, RIGHT, STRIP, SLID = (
    RECORDED / f"loop-{name}.jpg"
    for name in ("ruler-left", "ruler-right", "strip-off", "strip-slid")
)
STOP = ("--unmoved", "infinity stop", "--rig", "portrait-85")


@pytest.fixture
def kit(tmp_path: Path) -> Path:
    """Return a sample kit with its pack's record beside it."""
    pack = tmp_path / "packs" / "two-lenses" / "portrait-85"
    pack.mkdir(parents=True)
    shutil.copy(RECORDED / "loop-record.json", pack / "pack-record.json")
    return Path(shutil.copy(KITS / "two-lenses.toml", tmp_path))


def run(kit: Path, *words: object, answer: str = "") -> Result:
    out = ("--out", kit.parent / "packs")
    return CliRunner().invoke(main, ["photo", *map(str, (kit, *words, *out))], input=answer)


def entries(kit: Path) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = tomllib.loads(kit.read_text()).get("unmoved", [])
    return found


def test_two_photographs_from_two_sides_agree_and_it_is_said_by_how_much(kit: Path) -> None:
    done = run(kit, LEFT, RIGHT, *STOP, "--yes")
    assert done.exit_code == 0, done.output
    assert "2 photographs agree" in done.output
    arcs = [entry["taking"] for entry in entries(kit)]
    assert len(arcs) == 2
    assert arcs == pytest.approx([4.0, 4.0], abs=0.03)
    said = re.search(r"agree, (\d\.\d\d) ±", done.output)
    assert said is not None
    assert float(said[1]) == pytest.approx(abs(arcs[0] - arcs[1]), abs=0.006)


def test_the_index_is_told_which_way_to_slide_until_it_is_true(kit: Path) -> None:
    assert run(kit, LEFT, RIGHT, *STOP, "--yes").exit_code == 0
    before = kit.read_text()
    off = run(kit, STRIP, "--place")
    assert off.exit_code == 1, off.output
    assert "slide the index 0.30 ± " in off.output or "slide the index 0.31 ± " in off.output
    assert "to the left, seen from behind the camera" in off.output
    # The index of this photograph was moved so, in the scene.
    slid = run(kit, SLID, "--place")
    assert slid.exit_code == 0, slid.output
    assert "taped true" in slid.output
    assert kit.read_text() == before


def test_a_strips_offset_is_entered_and_judged(kit: Path) -> None:
    assert run(kit, LEFT, RIGHT, *STOP, "--yes").exit_code == 0
    assert run(kit, STRIP, *STOP, "--yes").exit_code == 0
    ruler, _, strip = entries(kit)
    assert strip["strips"] == {"taking": "ZXD3K-R"}
    off = strip["taking"] - ruler["taking"]
    sigma = math.hypot(strip["taking_error"], ruler["taking_error"])
    # 0.02 to 0.03 mm is what was agreed.
    assert sigma < 0.03
    assert off == pytest.approx(OFF_MM, abs=min(3.0 * sigma, 0.03))


def test_the_same_setting_again_is_told_to_have_slipped_or_not(kit: Path) -> None:
    assert run(kit, LEFT, *STOP, "--yes").exit_code == 0
    assert "it has not slipped" in run(kit, RIGHT, *STOP, "--dry-run").output
    text = kit.read_text()
    figure = next(line for line in text.splitlines()[::-1] if line.startswith("taking = "))
    kit.write_text(text.replace(figure, "taking = 4.4"))
    again = run(kit, RIGHT, *STOP, "--dry-run").output
    assert "it has slipped: say --taped-again" in again


def test_photographs_entered_before_are_known_again(kit: Path) -> None:
    assert run(kit, LEFT, *STOP, "--yes").exit_code == 0
    again = run(kit, LEFT, RIGHT, *STOP, "--yes")
    assert again.exit_code == 0
    assert "Entered before, left out" in again.output
    assert len(entries(kit)) == 2


def test_photographs_of_one_setting_that_contradict_each_other_are_not_averaged(kit: Path) -> None:
    done = run(kit, STRIP, SLID, *STOP, "--yes", "--format", "json")
    assert done.exit_code == 2, done.output
    photos = json.loads(done.stdout)["photos"]
    assert [each["code"] for photo in photos for each in photo["refused"]] == ["inconsistent"] * 2
    assert "photograph it again from both sides" in photos[0]["refused"][0]["why"]
    assert not entries(kit)
    assert run(kit, STRIP, SLID, *STOP, "--yes", "--anyway").exit_code == 0
    assert len(entries(kit)) == 2


def test_at_a_distance_photographs_that_differ_may_have_been_focused_anew(kit: Path) -> None:
    done = run(kit, STRIP, SLID, "--distance", "60 m", "--dry-run")
    assert done.exit_code == 0, done.output
    assert "2 photographs differ by 0.3" in done.output
    assert "If the ring was focused anew" in done.output


def test_what_cannot_be_read_is_refused_by_its_file_and_the_rest_is_read(kit: Path) -> None:
    import cv2

    folder = kit.parent / "pictures"
    folder.mkdir()
    shutil.copy(LEFT, folder / "1.jpg")
    (folder / "2.heic").write_bytes(b"\0\0\0\x18ftypheic" + bytes(40))
    (folder / "3.jpg").write_bytes(b"")
    (folder / "4.jpg").write_bytes(LEFT.read_bytes()[:50_000])
    (folder / "5.png").write_bytes(b"\x89PNG\r\n\x1a\nno picture")
    cv2.imwrite(str(folder / "6.png"), np.zeros((12_000, 10_000), np.uint8))
    done = run(kit, folder, "--distance", "2 m", "--rig", "portrait-85", "--dry-run",
               "--format", "json")  # fmt: skip
    assert done.exit_code == 1, done.output
    photos = {Path(each["file"]).name: each for each in json.loads(done.stdout)["photos"]}
    assert photos["1.jpg"]["rings"]
    causes = {"2.heic": "HEIC", "3.jpg": "no JPEG or PNG", "4.jpg": "not whole",
              "5.png": "no JPEG or PNG", "6.png": "megapixels"}  # fmt: skip
    for name, cause in causes.items():
        (refused,) = photos[name]["refused"]
        assert (refused["code"], refused["strip"]) == ("few-tags", "")
        assert cause in refused["why"]
        assert ":" in refused["why"], "it has a cure"
    (folder / "1.jpg").unlink()
    assert run(kit, folder, "--distance", "2 m", "--yes").exit_code == 2


def test_a_damaged_record_is_one_sentence(kit: Path) -> None:
    record = kit.parent / "packs" / "two-lenses" / "portrait-85" / "pack-record.json"
    record.write_text('{"x": ')
    done = run(kit, STRIP, "--place")
    assert done.exit_code == 2
    assert done.output.count("\n") == 1
    assert "pack-record.json: is not the record of a pack" in done.output


def two_turns(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let a photograph show a ring of two turns, both of whose rows may be at the index."""
    from focuschart.photo.assign import Shot
    from focuschart.photo.read import RingRead
    from focuschart.photo.strips import Barrel, TaggedStrip
    from focuschart.store import photos

    strip = TaggedStrip("22222-2", "taking", "ruler", "eighty-five", "", "Lens", (), (8.0, 0.0),
                        "camera", Barrel(245.0, 0.2), 2)  # fmt: skip
    shot = Shot("a.jpg", "a" * 12, None, (RingRead(strip, strip, 12.0, 0.01, 0.0),), (), None)
    monkeypatch.setattr(photos, "shots_of", lambda *_: iter([shot]))


def test_an_open_turn_is_asked_for_and_refused_where_nothing_may_be_asked(
    kit: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    two_turns(monkeypatch)
    text = kit.read_text()
    kit.write_text(text[: text.index("[[readings]]")])
    words = (LEFT, "--distance", "2 m", "--dry-run")
    asked = run(kit, *words, answer="3\n2\n")
    assert asked.exit_code == 0, asked.output
    assert "row 1 to 2 from the index's side" in asked.output
    assert "257.00 ±" in asked.output
    assert "12.00 ±" in run(kit, *words, answer="1\n").output
    refused = run(kit, *words, "--yes")
    assert refused.exit_code == 2
    assert "unknown-strip: which of 2 turns of Lens" in refused.output
