"""The commands compare and identify, as a user runs them on kits, records and much else."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.command import run
from tests.kits import kit_text, plain_kit

RECORD = "pack-record.json"
Edit = Callable[[dict[str, Any]], None]


def refused(*arguments: object) -> str:
    """Return the one sentence with which a command refuses."""
    result = run(*arguments)
    assert result.exit_code == 2
    lines = result.output.strip().splitlines()
    assert len(lines) == 1
    assert lines[0].startswith("focuschart: ")
    assert len(lines[0]) < 600
    return lines[0]


def write(path: Path, edit: Edit = lambda _: None) -> Path:
    kit = plain_kit()
    edit(kit)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(kit_text(kit), encoding="utf-8")
    return path


def thicker(kit: dict[str, Any]) -> None:
    kit["clamps"]["clamp"].update(thickness="13 mm")


def slipped(kit: dict[str, Any]) -> None:
    """Every figure of the taking ring 2 mm too high, as by a ruler that slipped."""
    for one in kit["readings"]:
        one["taking"] += 2.0


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a kit, and its packs in out/bag; to be copied, not changed."""
    folder = tmp_path_factory.mktemp("made")
    write(folder / "bag.toml")
    assert run("build", folder / "bag.toml", "--out", folder / "out").exit_code == 0
    return folder


@pytest.fixture
def bag(made: Path, tmp_path: Path) -> Path:
    shutil.copytree(made, tmp_path / "here")
    return tmp_path / "here"


def record_of(bag: Path) -> Path:
    return bag / "out" / "bag" / "portrait" / RECORD


def codes(bag: Path) -> dict[str, str]:
    notes = json.loads(record_of(bag).read_text(encoding="utf-8"))["notes"]
    return {one["print"]: one["code"] for one in notes["prints"]}


# --- compare --------------------------------------------------------------------------------------

SIDES = ("bag.toml", "out", "out/bag", "out/bag/portrait", f"out/bag/portrait/{RECORD}")


@pytest.mark.parametrize("old", SIDES)
@pytest.mark.parametrize("new", SIDES)
def test_a_kit_and_its_own_build_agree_however_they_are_given(
    made: Path, old: str, new: str
) -> None:
    result = run("compare", made / old, made / new)
    assert result.exit_code == 0
    assert result.output.endswith("\n0 to print, 6 current.\n")


def test_a_shift_within_a_quarter_of_the_tolerance_may_stay(bag: Path) -> None:
    result = run("compare", bag / "out", write(bag / "new.toml", thicker))
    assert result.exit_code == 0
    assert 'Changed: clamp "Clamp" (clamp) 1 mm thicker; front glass 1 mm farther' in result.output
    assert "Caution: the readings count as made with the rig as it is now." in result.output


def test_a_larger_one_must_be_printed(bag: Path) -> None:
    result = run("compare", bag / "bag.toml", write(bag / "new.toml", slipped))
    assert result.exit_code == 1
    assert "taking ring's strip" in result.output
    assert "print again: its marks have moved" in result.output


def test_of_a_heavier_camera_only_the_setup_cards_must_be_printed(bag: Path) -> None:
    def weighed(kit: dict[str, Any], mass: str) -> None:
        kit["cameras"]["body"].update(mass=mass)
        kit["supports"] = {"rods": {"name": "Rods", "position": "150 mm"}}
        kit["rigs"]["portrait"].update(support="rods")

    old, new = (
        write(bag / f"{mass}.toml", lambda kit, mass=mass: weighed(kit, f"{mass} g"))  # type: ignore[misc]
        for mass in (640, 700)
    )
    result = run("compare", old, new)
    assert result.exit_code == 1
    assert "Changed: camera mass 640, now 700 g.\n" in result.output
    assert "print again: what it tells of the rig has changed" in result.output
    assert "\n1 to print, 5 current.\n" in result.output


def test_the_data_for_other_programs(bag: Path) -> None:
    result = run("compare", bag / "out", write(bag / "new.toml", thicker), "--format", "json")
    data = json.loads(result.output)
    assert data.keys() == {"format", "prints", "if_replaced"}
    assert [one["print"] for one in data["prints"]] == list(codes(bag))
    strip = next(one for one in data["prints"] if one["print"] == "attachment")
    assert strip["verdict"] == "keep"
    assert strip["old_code"] == codes(bag)["attachment"]
    row = strip["shifts"]["attachment"][-1]
    assert row["mark"] is None
    assert row["shift_mm"] / row["in_tolerances"]["2.8"] == pytest.approx(
        0.5 * row["shift_mm"] / row["in_tolerances"]["5.6"], rel=1e-3
    )
    assert [row["mark"] for row in data["if_replaced"]["portrait"]] == [
        1200.0,
        2000.0,
        5000.0,
        None,
    ]


def new_rig(kit: dict[str, Any]) -> None:
    kit["clamps"]["new"] = {"name": "Clamp", "thickness": "15 mm"}
    kit["rigs"]["new"] = {**kit["rigs"]["portrait"], "chain": ["new"]}


def test_a_rig_is_compared_with_the_one_that_took_its_place(bag: Path) -> None:
    new = write(bag / "new.toml", new_rig)
    result = run("compare", bag / "out", new, "--rig", "portrait=new")
    assert "Portrait (portrait → new)" in result.output
    assert 'clamp "Clamp" (clamp) taken out, 12 mm; clamp "Clamp" (new) added, 15 mm' in " ".join(
        result.output.split()
    )
    assert "Caution" not in result.output
    assert result.exit_code == 1
    assert "keep from f/5.6 on, or print again" in result.output
    both = run("compare", bag / "out", new, "--rig", "portrait=new", "--rig", "portrait=portrait")
    assert "3 good from a smaller stop on, 1 moved but may stay, 8 current." in both.output


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("portrait", 'write "old=new"'),
        ("=portrait", 'write "old=new"'),
        ("none=portrait", 'OLD prints nothing for a rig "none", but for portrait'),
        ("portrait=none", 'NEW prints nothing for a rig "none", but for portrait'),
        ("portrait=" + "x" * 10_000, "NEW prints nothing"),
    ],
)
def test_a_rig_that_is_not_there_is_named(made: Path, text: str, wanted: str) -> None:
    assert wanted in refused("compare", made / "out", made / "bag.toml", "--rig", text)


def test_packs_of_several_kits_are_not_thrown_together(bag: Path) -> None:
    """Rigs of one id in two kits are not one rig."""
    other = write(bag / "other.toml", slipped)
    assert run("build", other, "--out", bag / "out").exit_code == 0
    sentence = refused("compare", bag / "out", bag / "bag.toml")
    assert "holds packs of several kits, give the folder of one" in sentence
    assert run("compare", bag / "out" / "bag", bag / "bag.toml").exit_code == 0


# --- bad input ------------------------------------------------------------------------------------


def in_notes(**notes: object) -> Callable[[dict[str, Any]], None]:
    return lambda data: data["notes"].update(notes)


def of_print(**change: object) -> Callable[[dict[str, Any]], None]:
    return lambda data: data["notes"]["prints"][0].update(change)


BAD_RECORDS: dict[str, Callable[[dict[str, Any]], None]] = {
    "made by another": lambda data: data.update(made_by="another"),
    "no kit": lambda data: data.pop("kit"),
    "no notes": lambda data: data.update(notes=[]),
    "no prints": in_notes(prints=[]),
    "prints of text": in_notes(prints=["taking"]),
    "former of numbers": in_notes(former=[1, 2]),
    "a later format": of_print(code="22222-2"),
    "no arcs": of_print(rings={"taking": {}}),
    "facts of a later version": of_print(inputs={"new topic": 1}),
    "large arrays": of_print(stops=[1.0] * 100_000),
}


@pytest.mark.parametrize("name", BAD_RECORDS)
def test_a_record_that_is_not_ours_is_refused_in_one_sentence(bag: Path, name: str) -> None:
    path = record_of(bag)
    data = json.loads(path.read_text(encoding="utf-8"))
    BAD_RECORDS[name](data)
    path.write_text(json.dumps(data), encoding="utf-8")
    for old in ("out", f"out/bag/portrait/{RECORD}"):
        assert str(bag / "out") in refused("compare", bag / old, bag / "bag.toml")
        assert str(bag / "out") in refused("compare", bag / "bag.toml", bag / old)
    if "former" in name or name == "no prints":
        return
    assert str(bag / "out") in refused("identify", "22222-2", "--out", bag / "out")


BAD_BYTES = {
    "empty": b"",
    "binary": bytes(range(256)) * 50,
    "cut off": b'{"made_by": "focuschart", "kit": ',
    "a list": b"[]",
    "not a number": b'{"made_by": "focuschart", "kit": "bag.toml", "files": {}, "notes": NaN}',
    "deep": b"[" * 100_000,
    "too large": b" " * 5_000_000,
    "digits": b"9" * 10_000,
}


@pytest.mark.parametrize("name", BAD_BYTES)
def test_bytes_that_are_no_record_nor_kit_are_refused_in_one_sentence(bag: Path, name: str) -> None:
    record_of(bag).write_bytes(BAD_BYTES[name])
    refused("compare", bag / "out", bag / "bag.toml")
    refused("compare", record_of(bag), bag / "bag.toml")
    refused("identify", "22222-2", "--out", bag / "out")
    (bag / "odd.toml").write_bytes(BAD_BYTES[name])
    if name not in ("a list", "empty"):
        refused("compare", bag / "odd.toml", bag / "bag.toml")


def test_what_is_not_there_is_refused_in_one_sentence(bag: Path) -> None:
    (bag / "hollow").mkdir()
    (bag / "out" / "loop").symlink_to(bag / "out")
    (bag / "round").symlink_to(bag / "round")
    assert "holds no pack-record.json" in refused("compare", bag / "hollow", bag / "bag.toml")
    for old in ("none.toml", "none/none", f"hollow/{RECORD}", f"out/{RECORD}", "round"):
        refused("compare", bag / old, bag / "bag.toml")
    assert run("compare", bag / "out", bag / "bag.toml").exit_code == 0
    (bag / "out" / "twin").symlink_to(bag / "out" / "bag")
    assert "several kits" in refused("compare", bag / "out", bag / "bag.toml")
    (bag / "hollow" / RECORD).mkdir()
    refused("compare", bag / "hollow", bag / "bag.toml")
    refused("compare", bag / "hollow" / RECORD, bag / "bag.toml")


def test_every_problem_of_a_kit_is_told(bag: Path) -> None:
    def wrong(kit: dict[str, Any]) -> None:
        kit["rigs"]["portrait"].update(camera="none", taking_lens="none")

    result = run("compare", bag / "out", write(bag / "wrong.toml", wrong))
    assert result.exit_code == 2
    assert result.output.count("\n") == 2
    assert "Traceback" not in result.output


# --- identify -------------------------------------------------------------------------------------


def test_every_code_of_a_build_is_known_and_current(made: Path) -> None:
    for name, code in codes(made).items():
        result = run("identify", code, "--out", made / "out")
        assert result.exit_code == 0
        assert f"(portrait/{name})" in result.output
        assert "Current: the last printed; give the kit to be sure." in result.output
        result = run("identify", code.lower().replace("-", ""), made / "bag.toml", "--out", made)
        assert result.exit_code == 0
        assert "Current: as the kit says now." in result.output


def test_a_strip_of_a_former_build_is_told_with_its_shifts(bag: Path) -> None:
    code = codes(bag)["attachment"]
    write(bag / "bag.toml", thicker)
    last = run("identify", code, "--out", bag / "out")
    assert last.exit_code == 0
    stale = run("identify", code, bag / "bag.toml", "--out", bag / "out")
    assert stale.exit_code == 1
    assert "Stale:" in stale.output
    assert 'clamp "Clamp" (clamp) 1 mm thicker' in stale.output
    assert run("build", bag / "bag.toml", "--out", bag / "out").exit_code == 0
    former = run("identify", code, "--out", bag / "out")
    assert former.exit_code == 1
    assert stale.output == f"{former.output}{step(bag / 'bag.toml')}"


def step(kit: Path) -> str:
    """The next step, as it is said where the kit was given."""
    command = f"focuschart build {kit} --only-stale"
    return f"Print what must be printed again:\n  {command}\n"


def test_a_strip_of_a_rig_that_is_no_more_is_stale(bag: Path) -> None:
    def renamed(kit: dict[str, Any]) -> None:
        kit["rigs"] = {"other": kit["rigs"]["portrait"]}
        for one in kit["readings"]:
            one["rig"] = "other"

    result = run("identify", codes(bag)["card"], write(bag / "new" / "bag.toml", renamed), "--out",
                 bag / "out")  # fmt: skip
    assert result.exit_code == 1
    assert "nothing of that name is printed any more" in result.output


def test_rigs_of_one_name_in_two_kits_are_kept_apart(bag: Path) -> None:
    """The code of one kit's strip is not judged by the other kit's."""
    other = write(bag / "another.toml", slipped)
    assert run("build", other, "--out", bag / "out").exit_code == 0
    for kits in ([], [other, bag / "bag.toml"]):
        result = run("identify", codes(bag)["taking"], *kits, "--out", bag / "out")
        assert result.exit_code == 0
        assert "Current" in result.output


NO_CODES = ["0O1IL-2", "OOOOOO", "lllll-l", "", " ", "-", "2" * 10_000, "22222-3", "22222", "\0",
            "22222-22", "\N{FULLWIDTH DIGIT TWO}2222-2", "日本"]  # fmt: skip


@pytest.mark.parametrize("code", NO_CODES)
def test_what_is_no_code_is_refused_in_one_sentence(made: Path, code: str) -> None:
    sentence = refused("identify", "--out", made / "out", "--", code)
    assert "is no code, or was copied wrong" in sentence


def test_a_code_that_nobody_knows_is_refused_in_one_sentence(made: Path) -> None:
    for out in ("out", "none", "bag.toml"):
        sentence = refused("identify", "22222-2", "--out", made / out)
        assert "22222-2: neither a kit given nor a record in" in sentence
