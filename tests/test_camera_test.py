"""The camera test: faults planted on traced rigs are named, sound strips are left alone."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from focuschart.bench.offsets import Taping
from focuschart.chart.camera_test import judged
from focuschart.chart.strip_errors import StripPrinted, StripRead, strips_read
from focuschart.errors import InputError
from focuschart.rig.ring import RINGS, Which
from tests.command import run
from tests.designs.kits import MARKS, chart_of
from tests.designs.trials import MARKS_MM
from tests.kits import kit_text, plain_kit
from tests.strip_trials import (
    BENCH,
    STRIPS,
    Trial,
    advised,
    printed,
    slipped,
    spread_after,
    taped,
    trial_of,
)

COUNT, HALF = 128, 64
CODES: Mapping[Which, StripRead] = {which: StripRead(Taping(STRIPS[which], 1)) for which in RINGS}
SLOW = 8.0
"""A working stop at which most strips may be kept."""


@cache
def trials(
    taking_mm: float = 0.0, times: float = 0.0, *, stop: float = 2.8, count: int = COUNT
) -> list[Trial]:
    strips = (slipped(taped(number), taking_mm, times) for number in range(count))
    return [trial_of(each, working_stop=stop) for each in strips]


def slipped_trials() -> list[Trial]:
    return [*trials(1.5, 0.0), *trials(0.0, 1.5)]


@pytest.mark.statistical
def test_a_stated_stop_to_keep_from_is_true() -> None:
    stated = [
        trial.inside(trial.result.keep_from_stop)
        for trial in (*trials(), *slipped_trials())
        if trial.result.keep_from_stop is not None
    ]
    assert len(stated) > 3 * COUNT - 30
    assert np.mean(stated) >= 0.95


@pytest.mark.statistical
def test_keep_is_hardly_ever_wrong() -> None:
    kept = [trial.inside(SLOW) for trial in trials(stop=SLOW, count=HALF) if trial.result.kept]
    assert len(kept) > HALF / 2
    assert np.mean(kept) >= 0.95


@pytest.mark.statistical
def test_hardly_ever_is_an_action_needless() -> None:
    """Where all marks were truly inside at the stop that was asked for."""
    for stop, every in ((2.8, trials()), (SLOW, trials(stop=SLOW, count=HALF))):
        assert np.mean([trial.acted and trial.inside(stop) for trial in every]) <= 0.06
    assert np.mean([_reprinted(trial) for trial in (*trials(), *slipped_trials())]) <= 0.02


def _reprinted(trial: Trial) -> bool:
    return any(ring.verdict == "reprint" for ring in trial.result.rings.values())


@pytest.mark.statistical
@pytest.mark.parametrize(
    ("taking_mm", "times", "which"), [(1.5, 0.0, "taking"), (0.0, 1.5, "attachment")]
)
def test_a_strip_that_slipped_is_named(taking_mm: float, times: float, which: str) -> None:
    named = [
        trial.result.rings[which].verdict in ("use-tick", "move")  # type: ignore[index]
        for trial in trials(taking_mm, times)
    ]
    assert np.mean(named) >= 0.9


@pytest.mark.statistical
def test_the_offset_is_held_as_often_as_is_said() -> None:
    """Of 93 to 97 % of tapings; and of slipped ones not far less."""
    every = (*trials(), *slipped_trials())
    held = [[trial.held(which) for trial in every] for which in RINGS]
    assert 0.93 <= np.mean(held) <= 0.97
    for which, own in (("taking", trials(1.5, 0.0)), ("attachment", trials(0.0, 1.5))):
        assert np.mean([trial.held(which) for trial in own]) >= 0.90  # type: ignore[arg-type]


@pytest.mark.statistical
def test_the_offset_of_a_strip_that_slipped_a_little_is_hardly_drawn_to_zero() -> None:
    """By 0.9 mm on average, three times what taping explains: 0.86 measured in 128."""
    held = [trial.held("attachment") for trial in trials(0.0, 0.5, count=HALF)]
    assert np.mean(held) >= 0.8


@pytest.mark.statistical
def test_with_the_tick_in_use_a_second_test_keeps_from_the_first_stop_or_wider() -> None:
    again = []
    for first in trials(1.5, 0.0)[:HALF]:
        ticks = advised(first.result)
        if first.acted and max(map(abs, ticks.values())) <= 1.5:
            second = trial_of(first.taped, before=first, ticks=ticks)
            again.append((first, second))
    assert len(again) > HALF / 2
    wider = [_no_slower(two.result.keep_from_stop, one.result.keep_from_stop) for one, two in again]
    assert np.mean(wider) >= 0.85
    assert np.mean([two.inside(two.result.keep_from_stop or 99.0) for _, two in again]) >= 0.95


def _no_slower(stop: float | None, than: float | None) -> bool:
    return stop is not None and (than is None or stop <= than)


@pytest.mark.statistical
def test_exchanged_strips_are_always_named() -> None:
    """By the codes as typed; what was read through them is not asked."""
    for number in range(100):
        built = taped(number).built
        own = printed(built)
        found = {"taking": own["attachment"], "attachment": own["taking"]}
        result = judged(built, CODES, found)  # type: ignore[arg-type]
        assert {ring.verdict for ring in result.rings.values()} == {"exchanged"}
        assert not result.kept


@pytest.mark.statistical
def test_an_inconclusive_test_names_the_mark_that_would_decide() -> None:
    """Read there once more, as the fit expects, no other mark's reading would tell much more."""
    for trial in [trial for trial in trials() if trial.result.decide_at_mm][:3]:
        assert trial.result.decide_at_mm is not None
        spreads = {mark: spread_after(trial, mark) for mark in MARKS}
        named = MARKS[MARKS_MM.tolist().index(trial.result.decide_at_mm)]
        assert spreads[named] <= 1.05 * min(spreads.values())
        assert max(spreads.values()) > 1.02 * spreads[named]


# --- by hand --------------------------------------------------------------------------------------


def test_another_rigs_strip_of_the_same_ring_is_named() -> None:
    chart = taped(0).built
    own = printed(chart)
    kit = chart.kit.model_copy(update={"rigs": {**chart.kit.rigs, "b": chart.kit.rigs["r"]}})
    other = {**own, "taking": own["taking"]._replace(rig_id="b")}
    result = judged(replace(chart, kit=kit), CODES, other)
    verdicts = {which: ring.verdict for which, ring in result.rings.items()}
    assert verdicts == {"taking": "exchanged", "attachment": "inconclusive"}
    assert result.cause == "the taking ring bears the strip for the taking ring of rigs.b"


def built(folder: Path) -> tuple[Path, dict[str, str]]:
    """Build the plain kit's pack; return the kit file and the codes of its strips."""
    path = folder / "kit.toml"
    path.write_text(kit_text(plain_kit()), encoding="utf-8")
    assert run("build", path, "--out", folder / "packs").exit_code == 0
    (record,) = (folder / "packs").glob("*/*/pack-record.json")
    prints = json.loads(record.read_text(encoding="utf-8"))["notes"]["prints"]
    return path, {one["print"]: one["code"] for one in prints}


def test_a_test_from_build_to_result(tmp_path: Path) -> None:
    path, codes = built(tmp_path)
    out = tmp_path / "packs"
    assert run("test", path, "--result", "--out", out).exit_code == 2
    pages = run("test", path, "--out", out)
    assert pages.exit_code == 0, pages.output
    assert (out / "kit-test" / "camera-test.pdf").exists()
    figures = json.loads(run("chart", path, "--format", "json").stdout)["rigs"][0]["marks"]
    strips = ["--taking-strip", codes["taking"], "--attachment-strip", codes["attachment"]]
    for mark in (figures[0], figures[1], figures[0], figures[1]):
        read = run(
            "read", path, "--rig", "portrait", "--distance", f"{mark['distance_mm']:g} mm",
            "--taking", f"{mark['taking']['arc_mm'] + 1.0:.2f}",
            "--attachment", f"{mark['attachment']['arc_mm']:.2f}", *strips,
        )  # fmt: skip
        assert read.exit_code == 0, read.output
    result = run("test", path, "--result", "--out", out, "--format", "json")
    assert result.exit_code == 1, result.output
    data = json.loads(result.stdout)
    assert data["format"] == 1
    (rig,) = data["rigs"]
    assert set(rig) == {"rig", "keep_from_stop", "cause", "rings"}
    assert rig["rings"]["taking"]["strip"] == codes["taking"]
    assert rig["rings"]["taking"]["offset_mm"] == pytest.approx(1.0, abs=0.4)
    assert set(rig["rings"]["taking"]) == {
        "strip", "taping", "offset_mm", "offset_95_mm", "verdict", "move_mm",
    }  # fmt: skip
    assert run("build", path, "--out", out).exit_code == 0
    text = run("test", path, "--result", "--out", out)
    assert codes["taking"] in text.output


def test_figures_read_at_a_tick_are_those_of_the_line_and_as_much_more(tmp_path: Path) -> None:
    """A strip 1 mm off, set by the tick +1, shows 2 mm more there and is off no longer."""
    path, codes = built(tmp_path)
    out = tmp_path / "packs"
    figures = json.loads(run("chart", path, "--format", "json").stdout)["rigs"][0]["marks"]
    strips = ["--taking-strip", codes["taking"], "--attachment-strip", codes["attachment"]]
    for mark in (figures[0], figures[1], figures[2], figures[0], figures[1], figures[2]):
        read = run(
            "read", path, "--rig", "portrait", "--distance", f"{mark['distance_mm']:g} mm",
            "--taking", f"{mark['taking']['arc_mm']:.2f}", "--taking-tick", "1 mm",
            "--attachment", f"{mark['attachment']['arc_mm']:.2f}", *strips,
        )  # fmt: skip
        assert read.exit_code == 0, read.output
    assert '"1 mm"' in path.read_text(encoding="utf-8")
    result = run("test", path, "--result", "--out", out, "--format", "json")
    ring = json.loads(result.stdout)["rigs"][0]["rings"]["taking"]
    assert ring["offset_mm"] == pytest.approx(-1.0, abs=0.4)
    assert ring["verdict"] in ("keep", "inconclusive")
    assert "set by the tick +1.00" in run("test", path, "--result", "--out", out).output


def test_strips_typed_the_wrong_way_round_are_named(tmp_path: Path) -> None:
    path, codes = built(tmp_path)
    strips = ["--taking-strip", codes["attachment"], "--attachment-strip", codes["taking"]]
    read = run("read", path, "--rig", "portrait", "--distance", "2 m", "--taking", "65",
               "--attachment", "120", *strips)  # fmt: skip
    assert read.exit_code == 0, read.output
    result = run("test", path, "--result", "--out", tmp_path / "packs", "--format", "json")
    assert result.exit_code == 1, result.output
    rings = json.loads(result.stdout)["rigs"][0]["rings"]
    assert {ring["verdict"] for ring in rings.values()} == {"exchanged"}


def test_exchanged_strips_are_named_though_their_figures_fit_nothing(tmp_path: Path) -> None:
    path, codes = built(tmp_path)
    strips = ["--taking-strip", codes["attachment"], "--attachment-strip", codes["taking"]]
    for distance, one, two in (("1.2 m", 12.0, 150.0), ("2 m", 90.0, 5.0), ("5 m", 20.0, 140.0)):
        read = run("read", path, "--rig", "portrait", "--distance", distance, "--taking", one,
                   "--attachment", two, *strips, "--anyway")  # fmt: skip
        assert read.exit_code == 0, read.output
    result = run("test", path, "--result", "--out", tmp_path / "packs", "--format", "json")
    assert result.exit_code == 1, result.output
    rings = json.loads(result.stdout)["rigs"][0]["rings"]
    assert {ring["verdict"] for ring in rings.values()} == {"exchanged"}


def test_strips_without_a_mark_of_the_rig_are_refused() -> None:
    strips = taped(0)
    chart = chart_of(strips.design, strips.bench, strips.facts,
                     through=[{"strips": dict(STRIPS)}] * len(BENCH))  # fmt: skip
    distances, figures = np.array([777.0, 888.0]), np.array([10.0, 20.0])
    other = {which: StripPrinted("r", which, distances, figures) for which in RINGS}
    with pytest.raises(InputError, match="K7QF3-S and 22222-2 show no mark of this rig"):
        judged(chart, strips_read(chart), other)


def test_a_code_that_nothing_knows_is_refused(tmp_path: Path) -> None:
    path, _ = built(tmp_path)
    read = run("read", path, "--rig", "portrait", "--distance", "2 m", "--taking", "65",
               "--attachment", "120", "--taking-strip", "22222-2",
               "--attachment-strip", "33333-3")  # fmt: skip
    assert read.exit_code == 0, read.output
    result = run("test", path, "--result", "--out", tmp_path / "packs")
    assert result.exit_code == 2
    assert "22222-2" in result.stderr


def test_strips_seen_at_a_setting_that_does_not_move_are_judged_without_a_reading(
    tmp_path: Path,
) -> None:
    path, codes = built(tmp_path)
    lines = ['[[unmoved]]', 'rig = "portrait"', 'setting = "infinity stop"', "taking = 12.0",
             "taking_error = 0.012", "attachment = 20.0", "attachment_error = 0.012"]  # fmt: skip
    ruler = "\n".join(lines)
    strips = ", ".join(
        f'{ring} = "{code}"' for ring, code in codes.items() if ring in ("taking", "attachment")
    )
    strip = ruler.replace("12.0", "12.53") + f"\nstrips = {{ {strips} }}"
    path.write_text(f"{path.read_text()}\n{ruler}\n\n{strip}\n")
    result = run("test", path, "--result", "--out", tmp_path / "packs", "--format", "json")
    assert result.exit_code == 1, result.output
    (rig,) = json.loads(result.stdout)["rigs"]
    # Independent errors add by their variances (GUM, JCGM 100:2008, 5.1.2).
    half = 1.96 * 0.012 * 2.0**0.5
    for ring, off in (("taking", 0.53), ("attachment", 0.0)):
        assert rig["rings"][ring]["offset_mm"] == pytest.approx(off, abs=0.01)
        assert rig["rings"][ring]["offset_95_mm"] == pytest.approx(half, rel=0.1)
