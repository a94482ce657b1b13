"""One rig never stops another: what cannot be made is named with its cure, the rest is made."""

from __future__ import annotations

import json
from collections.abc import Callable
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result

from focuschart.errors import PageError
from tests import readback
from tests.command import run
from tests.kits import kit_text, plain_kit

Table = dict[str, Any]
Fault = Callable[[Table], object]


def bag() -> Table:
    """The plain kit with a second rig of which every part but the camera is its own, unread."""
    kit = plain_kit()
    kit["attachments"]["other"] = {**deepcopy(kit["attachments"]["double"]), "name": "Other 2x"}
    kit["rigs"]["other"] = {**kit["rigs"]["portrait"], "name": "Other", "taking_lens": "spare",
                            "attachment": "other"}  # fmt: skip
    return kit


def twins() -> Table:
    """The plain kit with a second rig of the same parts, read as well as the first."""
    kit = plain_kit()
    kit["rigs"]["other"] = {**kit["rigs"]["portrait"], "name": "Other"}
    return kit


def read(kit: Table, *readings: tuple[str, float | None, float | None]) -> None:
    for distance, taking, attachment in readings:
        figures = {"taking": taking, "attachment": attachment}
        kit["readings"].append(
            {"rig": "other", "distance": distance, "stop": 2.8}
            | {key: figure for key, figure in figures.items() if figure is not None}
        )


FAULTS: dict[str, tuple[Fault, str, str]] = {
    "too few readings": (
        lambda kit: read(kit, ("2 m", 60.0, 100.0)), "taking ring", "different distances read"),
    "mark out of reach": (
        lambda kit: kit["taking_lenses"]["spare"].update(nearest="1.5 m"), "mark 1.2 m",
        "focuses no nearer than 1.5 m"),
    "stop too wide": (
        lambda kit: kit["taking_lenses"]["spare"].update(widest_stop=4), "stop f/2.8",
        "opens to f/4 only"),
    "no such camera": (
        lambda kit: kit["rigs"]["other"].update(camera="nobody"), "the rig", "no such part"),
    "misspelt key": (
        lambda kit: kit["rigs"]["other"].update(chian=["clamp"]), "the rig", "did you mean chain"),
    "impossible length": (
        lambda kit: kit["rigs"]["other"].update(front_vertex="60 mm"), "the rig",
        "the rear glass would stand behind the mount"),
    "reading out of reach": (
        lambda kit: read(kit, ("0.3 m", 60.0, None)), "taking ring", "focuses no nearer"),
    "readings the other way": (
        lambda kit: read(kit, ("1.2 m", 80.0, None), ("2 m", 60.0, None), ("5 m", 40.0, None)),
        "taking ring", "run the other way"),
    "every mark out of reach": (
        lambda kit: kit["rigs"]["other"].update(distances=["0.5 m"]), "the rig",
        "none of its distances can be set"),
}  # fmt: skip
UNREAD = {"mark out of reach", "stop too wide", "every mark out of reach"}


def written(kit: Table, folder: Path) -> Path:
    folder.mkdir(exist_ok=True)
    path = folder / "bag.toml"
    path.write_text(kit_text(kit), encoding="utf-8")
    return path


def faulty(name: str) -> Table:
    kit = bag()
    FAULTS[name][0](kit)
    return kit


def pack(folder: Path, rig: str) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted((folder / "bag" / rig).iterdir())}


def names(result: Result) -> list[tuple[str, str]]:
    return [(one["rig"], one["what"]) for one in json.loads(result.stdout)["left_out"]]


@pytest.mark.parametrize("name", FAULTS)
@pytest.mark.parametrize("command", ["chart", "hold", "fit", "check", "bench"])
def test_a_rig_asked_for_is_as_if_the_other_were_not_there(
    command: str, name: str, tmp_path: Path
) -> None:
    alone, both = (written(kit, tmp_path / folder)
                   for folder, kit in (("alone", plain_kit()), ("both", faulty(name))))  # fmt: skip
    results = []
    for path in (alone, both):
        more = ("--out", path.parent) if command == "bench" else ()
        result = run(command, path, "--rig", "portrait", *more)
        assert result.exit_code == 0, result.stderr
        results.append(result.stdout.replace(str(path.parent), ""))
    assert results[0] == results[1]


@pytest.mark.parametrize("name", FAULTS)
def test_the_fault_is_named_with_its_cure_and_the_rest_is_charted(
    name: str, tmp_path: Path
) -> None:
    _, what, why = FAULTS[name]
    path = written(faulty(name), tmp_path)
    result = run("chart", path, "--format", "json")
    assert result.exit_code == 1
    assert ("other", what) in names(result)
    told = [one for one in json.loads(result.stdout)["left_out"] if one["what"] == what]
    assert all(list(one) == ["rig", "what", "why", "cure"] for one in told)
    assert why in " ".join(f"{one['why']}: {one['cure']}" for one in told)
    assert "portrait" in [rig["rig"] for rig in json.loads(result.stdout)["rigs"]]
    lines = result.stderr.splitlines()
    assert any(f"{path}: rigs.other: {what} left out, " in line for line in lines)


@pytest.mark.parametrize("name", FAULTS)
def test_a_pack_has_the_same_bytes_whatever_is_wrong_with_another_rig(
    name: str, tmp_path: Path
) -> None:
    alone, both = tmp_path / "alone", tmp_path / "both"
    assert run("build", written(plain_kit(), alone), "--out", alone).exit_code == 0
    result = run("build", written(faulty(name), both), "--out", both)
    assert result.exit_code == 1
    assert "rigs.other: " in result.stderr
    assert pack(both, "portrait") == pack(alone, "portrait")


def sharing(kit: Table) -> None:
    kit["rigs"]["other"]["attachment"] = "double"


def nothing_more(_: Table) -> None:
    pass


def sharing_with_readings_of_its_lens(kit: Table) -> None:
    sharing(kit)
    read(kit, *((f"{d} m", 60.0 + 25.0 / d, None) for d in (1.2, 2.0, 5.0, 9.0)))


def same_lens_with_readings_of_its_attachment(kit: Table) -> None:
    kit["rigs"]["other"]["taking_lens"] = "long"
    read(kit, *((f"{d} m", None, 30.0 + 150.0 / d) for d in (1.2, 2.0, 5.0, 9.0)))


ADDED: tuple[Fault, ...] = (
    nothing_more, sharing, sharing_with_readings_of_its_lens,
    same_lens_with_readings_of_its_attachment,
)  # fmt: skip


@pytest.mark.parametrize("add", ADDED, ids=lambda add: add.__name__)
def test_what_is_added_to_the_bag_changes_no_byte_of_a_rigs_pack(
    add: Fault, tmp_path: Path
) -> None:
    alone, both = tmp_path / "alone", tmp_path / "both"
    run("build", written(plain_kit(), alone), "--out", alone)
    kit = bag()
    add(kit)
    result = run("build", written(kit, both), "--out", both)
    assert result.exit_code in (0, 1), result.stderr
    assert pack(both, "portrait") == pack(alone, "portrait")
    assert (both / "bag" / "other").exists()


def test_a_ring_not_read_at_all_is_no_failure_of_a_build(tmp_path: Path) -> None:
    result = run("build", written(bag(), tmp_path), "--out", tmp_path)
    assert result.exit_code == 0
    assert result.stderr == ""
    assert "rulers.pdf" in pack(tmp_path, "other")
    assert "strips.pdf" not in pack(tmp_path, "other")


def test_what_a_pack_lacks_is_said_again_when_nothing_has_changed(tmp_path: Path) -> None:
    path = written(faulty("too few readings"), tmp_path)
    first, second = (run("build", path, "--out", tmp_path) for _ in range(2))
    assert "Nothing has changed of portrait, other" in second.stdout
    assert (first.exit_code, second.exit_code) == (1, 1)
    assert first.stderr == second.stderr


def test_the_pack_of_a_rig_that_cannot_be_built_any_more_stays(tmp_path: Path) -> None:
    run("build", written(bag(), tmp_path), "--out", tmp_path)
    before = pack(tmp_path, "other")
    kit = faulty("no such camera")
    assert run("build", written(kit, tmp_path), "--out", tmp_path).exit_code == 1
    assert pack(tmp_path, "other") == before


@pytest.mark.parametrize("command", ["chart", "hold", "fit", "build", "bench", "check"])
def test_where_nothing_can_be_made_the_status_is_2(command: str, tmp_path: Path) -> None:
    path = written(faulty("impossible length"), tmp_path)
    more = ("--out", tmp_path) if command in ("build", "bench") else ()
    result = run(command, path, "--rig", "other", *more)
    assert result.exit_code == 2
    assert "rigs.other: the rig left out, rigs.other.front_vertex is " in result.stderr
    assert not list(tmp_path.rglob("*.pdf"))


def test_two_rigs_without_readings_have_no_zones_and_no_fit(tmp_path: Path) -> None:
    kit = bag()
    kit["readings"] = []
    for command in ("hold", "fit"):
        result = run(command, written(kit, tmp_path))
        assert result.exit_code == 2
        assert result.stdout == ""
        assert result.stderr.count("no readings: tape on the ruler") == 2


def test_a_half_read_kit_is_the_normal_state_of_a_bench_day(tmp_path: Path) -> None:
    path = written(bag(), tmp_path)
    for command in ("hold", "fit"):
        result = run(command, path)
        assert result.exit_code == 1
        assert "Portrait" in result.stdout
        assert "rigs.other: " in result.stderr
    assert run("chart", path).exit_code == 0


def test_a_subject_too_near_for_one_rig_is_told_of_the_others(tmp_path: Path) -> None:
    kit = plain_kit()
    kit["rigs"]["far"] = {**kit["rigs"]["portrait"], "name": "Far", "attachment": "far"}
    kit["attachments"]["far"] = {**deepcopy(kit["attachments"]["double"]), "nearest": "1.8 m"}
    kit["rigs"]["far"]["distances"] = ["2 m", "5 m"]
    kit["readings"] += [
        {**reading, "rig": "far"} for reading in kit["readings"] if reading["distance"] != "1.2 m"
        and reading["distance"] != "1.5 m"
    ]  # fmt: skip
    result = run("hold", written(kit, tmp_path), "--subject", "1.5 m", "--format", "json")
    assert result.exit_code == 1
    assert names(result) == [("far", "--subject 1.5 m")]
    portrait, far = json.loads(result.stdout)["rigs"]
    assert 1500.0 in [one["distance_mm"] for one in portrait["marks"][0]["subjects"]]
    assert 1500.0 not in [one["distance_mm"] for one in far["marks"][0]["subjects"]]


def test_a_rack_is_made_whatever_is_wrong_with_another_rig(tmp_path: Path) -> None:
    for name in FAULTS:
        path = written(faulty(name), tmp_path)
        result = run("rack", path, "--rig", "portrait", "--from", "1.2 m", "--to", "3 m",
                     "--format", "json")  # fmt: skip
        assert result.exit_code == 0, result.stderr
        assert json.loads(result.stdout)["left_out"] == []


def test_a_card_too_small_is_left_out_and_the_strips_are_built(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def crowded(*_: object, **__: object) -> None:
        raise PageError("a card of ID-1 has no room")

    monkeypatch.setattr("focuschart.pages.cards.settings_cards", crowded)
    result = run("build", written(plain_kit(), tmp_path), "--out", tmp_path)
    assert result.exit_code == 1
    assert "rigs.portrait: settings card left out, " in result.stderr
    assert {"strips.pdf", "rulers.pdf", "chart.json"} <= set(pack(tmp_path, "portrait"))
    found = readback.pdf_texts(pack(tmp_path, "portrait")["cards.pdf"])
    assert "attachment locked" in " ".join(map(" ".join, found))


def test_a_card_asked_for_need_not_do_for_every_rig(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is refused, and nothing written, only where it does for none."""
    from focuschart.pages.cards import settings_cards

    crowded = ["portrait"]

    def drawn(chart: Any, **options: Any) -> Any:
        if chart.rig.rig_id in crowded:
            raise PageError("a card has no room")
        return settings_cards(chart, **options)

    for name in ("settings_cards", "setup_cards"):
        monkeypatch.setattr(f"focuschart.pages.cards.{name}", drawn)
    path = written(twins(), tmp_path)
    some = run("build", path, "--out", tmp_path, "--card", "A6")
    assert some.exit_code == 1, some.stderr
    assert "rigs.portrait: cards.pdf left out, a card has no room" in some.stderr
    assert "cards.pdf" not in pack(tmp_path, "portrait")
    assert "rigs.other" not in some.stderr
    crowded += ["other"]
    none = run("build", path, "--out", tmp_path / "none", "--card", "A6")
    assert none.exit_code == 2
    assert "a card has no room" in none.stderr
    assert not (tmp_path / "none").exists()


def test_a_name_the_font_lacks_costs_one_rig_its_sheet(tmp_path: Path) -> None:
    kit = twins()
    kit["supports"] = {"post": {"name": "Stütze \u4e2d", "position": "60 mm"}}
    kit["rigs"]["other"]["support"] = "post"
    result = run("build", written(kit, tmp_path), "--out", tmp_path)
    assert result.exit_code == 1, result.stderr
    assert {"strips.pdf", "cards.pdf"} <= set(pack(tmp_path, "portrait"))
    assert "no glyph for" in result.stderr
    assert "rigs.other: " in result.stderr


def test_parts_that_contradict_a_measured_whole_are_said(tmp_path: Path) -> None:
    kit = plain_kit()
    summed = 18.0 + 74.0 + 12.0 + 95.0
    for length, said in ((summed - 9.0, False), (summed - 11.0, True), (summed + 11.0, True)):
        kit["rigs"]["portrait"]["front_vertex"] = f"{length} mm"
        result = run("chart", written(kit, tmp_path))
        assert ("than its front_vertex: measure again" in result.stdout) == said


def test_a_ring_read_at_too_few_distances_is_not_called_unread(tmp_path: Path) -> None:
    text = run("chart", written(faulty("too few readings"), tmp_path), "--rig", "other").stdout
    assert "taking ring: 1 different distances read, the fit needs" in text
    assert "no readings, so no marks" not in text


@pytest.mark.parametrize(
    "wrong",
    [{"mode": "nix"}, {"distances": []}, {"desqueeze": 0}, {"chain": ["clamp", "clamp"]}],
    ids=str,
)
def test_readings_of_a_rig_that_cannot_be_put_together_stop_no_other(
    wrong: Table, tmp_path: Path
) -> None:
    kit = bag()
    kit["rigs"]["other"].update(wrong)
    read(kit, ("2 m", 60.0, 100.0))
    path = written(kit, tmp_path)
    for command in ("fit", "chart", "hold", "check"):
        assert run(command, path, "--rig", "portrait").exit_code == 0
        result = run(command, path)
        assert result.exit_code == 1
        assert "rigs.other: the rig and its readings left out, " in result.stderr


def test_a_swap_on_a_rig_that_cannot_be_put_together_is_refused(tmp_path: Path) -> None:
    path = written(faulty("no such camera"), tmp_path)
    result = run("chart", path, "--rig", "other", "--ring", "clamp=idle")
    assert result.exit_code == 2
    assert "rigs.other.camera" in result.stderr
    assert run("chart", path, "--rig", "portrait", "--ring", "clamp=idle").exit_code == 0


def test_a_check_of_a_rig_without_a_mark_in_reach_says_so(tmp_path: Path) -> None:
    path = written(faulty("every mark out of reach"), tmp_path)
    result = run("check", path, "--rig", "other")
    assert result.exit_code == 2
    assert "none of its distances can be set" in result.stderr


def test_compare_and_identify_take_a_half_read_kit(tmp_path: Path) -> None:
    run("build", written(plain_kit(), tmp_path), "--out", tmp_path)
    half = written(faulty("too few readings"), tmp_path / "half")
    result = run("compare", tmp_path / "bag", half, "--rig", "portrait=portrait")
    assert result.exit_code == 0
    assert "rigs.other: taking ring left out" in result.stderr


def test_of_many_faults_the_first_twenty_are_said(tmp_path: Path) -> None:
    kit = plain_kit()
    for number in range(30):
        kit["rigs"][f"rig-{number}"] = {**kit["rigs"]["portrait"], "camera": "nobody"}
    lines = run("chart", written(kit, tmp_path)).stderr.splitlines()
    assert len(lines) == 21
    assert lines[-1] == "focuschart: and 10 more"


def test_a_strip_wider_than_a_label_leaves_the_others_on_theirs(tmp_path: Path) -> None:
    kit = plain_kit()
    kit["attachments"]["double"]["ring"]["strip_width"] = "40 mm"
    labels = "labels 99 x 36 mm, 2 x 7 on A4, left 4 mm, top 15 mm, pitch 101 x 38 mm"
    result = run("build", written(kit, tmp_path), "--out", tmp_path, "--paper", labels)
    assert result.exit_code == 1, result.output
    told = [line.split("rigs.portrait: ")[1].split(",")[0] for line in result.stderr.splitlines()]
    assert told == ["attachment marker strip left out", "attachment ruler strip left out"]
    assert {"strips.pdf", "cards.pdf", "rulers.pdf"} <= set(pack(tmp_path, "portrait"))
