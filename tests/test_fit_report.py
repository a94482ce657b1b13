"""The report on the readings, as a user reads it: figures against the chart's, and plain words."""

from __future__ import annotations

import json
import math
import os
import re
import subprocess
import sys
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner
from scipy.special import chdtri

from focuschart.bench.advice import Advice, Pair, next_measurement
from focuschart.bench.shared import Shared
from focuschart.chart.charts import build_charts
from focuschart.chart.model import Chart
from focuschart.cli import main
from focuschart.kit.schema import Kit
from focuschart.report.charts import as_text
from focuschart.report.data import as_json
from focuschart.report.fit import fit_report
from focuschart.report.lines import WIDTH
from focuschart.rig.assemble import Rig
from focuschart.rig.ring import RINGS, Which
from focuschart.scale.budget import error_budget
from tests.benches import Bench, bench_kit
from tests.command import run
from tests.kits import charts, kit_text, loaded, plain_kit

ROOT = Path(__file__).parent.parent
SAMPLES = sorted((ROOT / "sample_kits").glob("*.toml"))
Edit = Callable[[dict[str, Any]], object]
Parts = Mapping[str, list[str]]

LABELS = {
    "infinity on the ruler": "arc_infinity_mm",
    "arc per travel": "arc_per_travel",
    "hyperbola's scale": "arc_per_travel",
    "focal length": "focal_length_mm",
    "hiatus": "hiatus_mm",
    "front group's focal length": "front_focal_mm",
    "front group ahead of its glass": "offset_mm",
    "hyperbola's offset": "offset_mm",
    "squeeze": "squeeze",
}
ROW = re.compile(
    r"  [a-z0-9-]+  +(?P<subject>\S.*?)  +f/[\d.]+  +"
    r"(?P<figure>-?\d+\.\d)  +(?P<off>[+-]\d+\.\d\d)  +"
    r"(?P<focus>-|[+-][\d.]+ (?:mm|m|in|ft))  +(?P<tolerances>[+-]\d+\.\d\d)  "
    r"\[(?P<lane>[.:|o]{17})\](?P<marked> <)?"
)


def edited(edit: Edit) -> dict[str, Any]:
    kit = plain_kit()
    edit(kit)
    return kit


def report(kit: dict[str, Any], only: tuple[str, ...] = ()) -> str:
    bag = loaded(kit)
    return fit_report(bag, list(build_charts(bag, only=only)))


def parts(text: str) -> Parts:
    """The report's rings, rigs and other lines, by their first line."""
    found: dict[str, list[str]] = {}
    name = ""
    for line in text.splitlines():
        heads = (": how sure", ": no marks", "readings; ±", "Ignored by your word")
        if any(head in line for head in heads):
            name = line
        found.setdefault(name, []).append(line)
    return found


def part(text: str, head: str) -> list[str]:
    (lines,) = (lines for name, lines in parts(text).items() if head in name)
    return lines


def flat(lines: list[str]) -> str:
    """Lines as one, so that a sentence is found wherever it was broken."""
    return " ".join(" ".join(lines).split())


def rows(lines: list[str]) -> list[re.Match[str]]:
    return [found for line in lines if (found := ROW.fullmatch(line))]


def written(tmp_path: Path, kit: Mapping[str, Any]) -> Path:
    path = tmp_path / "kit.toml"
    path.write_text(kit_text(kit), encoding="utf-8")
    return path


def command(*arguments: object, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "focuschart", *map(str, arguments)], check=False, text=True,
        capture_output=True, cwd=ROOT, env={**os.environ, **environment}, timeout=60,
    )  # fmt: skip


PLAIN = report(plain_kit())


# --- rings ------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_constants_are_those_of_the_chart_s_data(path: Path) -> None:
    text = run("fit", path).output
    for rig in json.loads(run("chart", path, "--format", "json").output)["rigs"]:
        for which, section in (("taking", "taking_lens"), ("attachment", "attachment")):
            lines = part(text, f".{rig[section]})")
            known = dict(rig["scales"][which])
            known.pop("arc_constant_mm2", None)
            known.pop("lens_shift_mm", None)
            for line in lines:
                found = re.fullmatch(r"  (\D+?)  +(-?[\d.]+)  ±  +([\d.]+)( .*)?", line)
                if found:
                    constant = known.pop(LABELS[found[1]])
                    assert found[2] == f"{constant['value']:.3f}"
                    assert found[3] == f"{constant['standard_error']:.3f}"
            # Of a curve's departure the report says how far it goes, not what it is made of.
            assert not [name for name in known if not name.startswith("departure_")]


def test_a_lens_that_focuses_inside_has_no_travel_and_no_glass() -> None:
    """Its constants are those of a curve, and named so."""

    def inside(kit: dict[str, Any]) -> None:
        kit["taking_lenses"]["long"].update(focusing="internal", front_moves=False)

    lines = part(report(edited(inside)), "taking_lenses.long")
    labels = [line[2:].split("  ")[0] for line in lines[1:4]]
    assert labels == ["infinity on the ruler", "hyperbola's scale", "hyperbola's offset"]


def test_a_cam_also_says_how_far_it_leaves_the_hyperbola() -> None:
    def cam(kit: dict[str, Any]) -> None:
        kit["taking_lenses"]["long"]["focusing"] = "cam"

    (line,) = (line for line in report(edited(cam)).splitlines() if "departure" in line)
    assert re.fullmatch(r"  departure from the hyperbola +\d\.\d{3} +mm at most", line)


def test_each_ring_is_reported_once_however_many_rigs_share_it() -> None:
    def shared(kit: dict[str, Any]) -> None:
        for name, lens in (("second", "long"), ("third", "spare")):
            kit["rigs"][name] = {**kit["rigs"]["portrait"], "name": name, "taking_lens": lens}

    text = report(edited(shared))
    assert text.count("(taking_lenses.long)") == 1
    assert text.count("(attachments.double)") == 1
    assert text.count("how sure each pair") == 2
    assert "third (third): no marks to judge until both rings are read" in text


def test_a_lens_on_two_cameras_is_two_rings() -> None:
    """Each camera has its own infinity; the report says which is which."""

    def cameras(kit: dict[str, Any]) -> None:
        kit["cameras"]["other"] = {**kit["cameras"]["body"], "flange_focal_distance": "20 mm"}
        kit["rigs"]["second"] = {**kit["rigs"]["portrait"], "camera": "other"}
        kit["readings"] += [{**reading, "rig": "second"} for reading in kit["readings"]]

    text = report(edited(cameras))
    for camera in ("body", "other"):
        assert len(rows(part(text, f"(taking_lenses.long on cameras.{camera})"))) == 6
    assert len(rows(part(text, "(attachments.double)"))) == 12


@pytest.mark.parametrize("unread", RINGS)
def test_with_one_ring_unread_the_other_is_still_reported(unread: str) -> None:
    def half(kit: dict[str, Any]) -> None:
        for reading in kit["readings"]:
            del reading[unread]

    text = report(edited(half))
    assert len(rows(text.splitlines())) == 6
    assert f"Note: {unread} ring: no readings, so no marks" in flat([text])
    assert "Next:" not in text


def test_with_no_ring_read_there_is_nothing_but_what_to_do() -> None:
    text = report({**plain_kit(), "readings": []})
    assert text.startswith("Portrait (portrait): no marks to judge until both rings are read\n")
    assert text.count("tape its ruler strip on and read it") == 2


# --- readings ---------------------------------------------------------------------------------


@pytest.mark.parametrize("which", ["taking", "attachment"])
def test_each_reading_against_the_chart(which: str) -> None:
    """Marks at the readings: figure, mark, tolerance and slope from the chart's data alone."""
    kit = plain_kit()
    kit["stops"] = [2.8]
    distances = [1200.0, 1500.0, 2000.0, 3000.0, 6000.0, 60_000.0]
    kit["distances"] = [f"{d * f:.3f} mm" for d in distances for f in (0.999, 1.0, 1.001)]
    marks = [
        mark[which]
        for mark in json.loads(as_json(charts(kit).values()))["rigs"][0]["marks"]
    ]  # fmt: skip
    section = {"taking": "taking_lenses", "attachment": "attachments"}[which]
    found = rows(part(PLAIN, section))
    assert len(found) == 6
    for i, row in enumerate(found):
        near, mark, far = marks[3 * i : 3 * i + 3]
        figure = kit["readings"][i][which]
        off = figure - mark["arc_mm"]
        slope = (far["arc_mm"] - near["arc_mm"]) / (0.002 * distances[i])
        assert float(row["figure"]) == figure
        assert float(row["off"]) == pytest.approx(off, abs=0.0051)
        assert float(row["tolerances"]) == pytest.approx(off / mark["tolerance_mm"], abs=0.008)
        number, unit = row["focus"].split()
        millimetres = float(number) * {"mm": 1.0, "m": 1000.0}[unit]
        assert millimetres == pytest.approx(off / slope, abs=0.6 if unit == "mm" else 60.0)


def test_one_line_a_reading_and_columns_aligned() -> None:
    for name in ("taking_lenses", "attachments"):
        lines = part(PLAIN, name)
        head = next(line for line in lines if line.startswith("  rig "))
        body = lines[lines.index(head) + 1 :][:6]
        for title in ("subject", "stop", "figure", "mm off", "focus off", "tol off"):
            end = head.index(title) + len(title)
            assert all(line[end - 1] != " " and line[end : end + 2] == "  " for line in body)
        lanes = {(line.index("["), len(line)) for line in body}
        assert lanes == {(head.index("low"), len(head))}
        assert head.endswith("low  expected  high")


def planted(which: Which, error_mm: float) -> re.Match[str]:
    """The row of a reading after an error was planted in it, all others exact and plenty."""
    bench = Bench(np.random.default_rng(0))
    distances = np.geomspace(1200.0, 20_000.0, 14)
    figures = {w: bench.arc_mm(w, distances.tolist()) for w in RINGS}
    readings: list[dict[str, Any]] = [
        {"rig": "portrait", "distance": f"{d:.4f} mm", "stop": 2.8,
         **{w: round(float(figures[w][i]), 3) for w in figures}}
        for i, d in enumerate(distances)
    ]  # fmt: skip
    readings[7][which] += error_mm
    section = {"taking": "taking_lenses", "attachment": "attachments"}[which]
    return rows(part(report(bench_kit(readings=readings)), section))[7]


def test_the_plot_s_o_is_where_the_residual_says_and_clipped_at_its_ends() -> None:
    """Eight places a side for four standard deviations of ruler, eye and tape."""
    low = planted("taking", -9.0)
    assert (low["lane"], low["marked"]) == ("o...:...|...:....", " <")
    high = planted("taking", 9.0)
    assert (high["lane"], high["marked"]) == ("....:...|...:...o", " <")
    none = planted("taking", 0.0)
    assert (none["lane"], none["marked"]) == ("....:...o...:....", None)
    # The ruler's 0.3 mm, a little eye and tape: two places right are one standard deviation.
    one = planted("taking", 0.36)
    assert one["lane"] in ("....:...|.o.:....", "....:...|o..:....")
    assert planted("taking", -0.36)["lane"] == one["lane"][::-1]


def test_every_lane_has_one_o_and_stands_by_its_sign() -> None:
    for text in (PLAIN, *(run("fit", path).output for path in SAMPLES)):
        for row in rows(text.splitlines()):
            assert row["lane"].count("o") == 1
            side = row["lane"].index("o") - 8
            assert side * float(row["off"]) >= 0.0


def test_infinity_has_no_distance_to_be_off_by() -> None:
    def far(kit: dict[str, Any]) -> None:
        figures = {"taking": 90.1, "attachment": 12.4}
        kit["readings"].append({"rig": "portrait", "distance": "inf", "stop": 2.8, **figures})

    found = rows(report(edited(far)).splitlines())
    assert {row["focus"] for row in found if row["subject"] == "∞"} == {"-"}
    assert all(row["focus"] != "-" for row in found if row["subject"] != "∞")


def test_beyond_its_own_distance_an_error_of_a_far_reading_says_nothing() -> None:
    """A target at 5 km, and a figure as for infinity or behind it."""

    def far(kit: dict[str, Any]) -> None:
        kit["readings"].append(
            {"rig": "portrait", "distance": "5000 m", "stop": 2.8, "taking": 90.6}
        )

    found = rows(report(edited(far)).splitlines())
    assert [row["focus"] for row in found if row["subject"] == "5000 m"] == ["-"]


def test_no_figure_is_minus_zero() -> None:
    for path in SAMPLES:
        assert not re.search(r"-0(\.0+)?\b(?!\.)", run("fit", path).output)


@pytest.mark.parametrize(
    ("units", "found"),
    [("imperial", r"[+-]\d+\.\d (in|ft)"), ("metric", r"[+-]\d+(\.\d)? m?m"),
     ("both", r"[+-]\d+(\.\d)? m?m")],
)  # fmt: skip
def test_distances_are_off_in_the_kit_s_units(units: str, found: str) -> None:
    for row in rows(report({**plain_kit(), "units": units}).splitlines()):
        assert re.fullmatch(found, row["focus"])


def test_inches_and_feet_say_what_millimetres_say() -> None:
    scale = {"mm": 1.0, "m": 1000.0, "in": 25.4, "ft": 304.8}

    def off(units: str) -> list[tuple[float, float]]:
        found = [row["focus"].split() for row in rows(report({**plain_kit(), "units": units})
                                                      .splitlines())]  # fmt: skip
        least = {"mm": 0.5, "m": 50.0, "in": 1.27, "ft": 15.3}
        return [(float(number) * scale[unit], least[unit]) for number, unit in found]

    for (metric, coarse), (imperial, fine) in zip(off("metric"), off("imperial"), strict=True):
        assert metric == pytest.approx(imperial, abs=coarse + fine)


# --- what is said of the readings -------------------------------------------------------------


def test_without_repeats_it_says_so() -> None:
    assert PLAIN.count("No repeats: how well you read and focus is taken on trust.") == 2


def repeated(*taking: float) -> str:
    kit = plain_kit()
    again = {key: v for key, v in kit["readings"][2].items() if key != "attachment"}
    kit["readings"] += [{**again, "taking": figure} for figure in taking]
    return flat(part(report(kit), "taking_lenses"))


@pytest.mark.parametrize(
    ("figures", "said"),
    [
        ((65.4,), r"Repeats scatter by 0\.14 mm \(1 repeat; 95 %: 0\.06 to 4\.5\d mm\), 0\.31 mm "
                  r"is supposed\. "),
        ((66.3, 65.0, 66.2, 65.0), r"\(4 repeats; .*is supposed: focus and read more carefully\."),
        ((65.6,) * 6, r"by 0\.00 mm .* well done if you turned both rings away each time, else"),
    ],
)  # fmt: skip
def test_repeats_are_judged_by_their_range(figures: tuple[float, ...], said: str) -> None:
    assert re.search(said, repeated(*figures))


def test_readings_that_scatter_hardly_by_chance_widen_the_errors_and_say_so() -> None:
    """Between one in a hundred and one in a thousand."""
    for error in np.arange(0.2, 2.0, 0.05):
        kit = plain_kit()
        for reading, sign in zip(kit["readings"], (1, -1, 1, 1, -1, 1), strict=True):
            reading["taking"] = round(reading["taking"] + sign * float(error), 2)
        chart = charts(kit)["portrait"]
        scale = chart.ring("taking")[1].measured.scale
        if scale.sum_of_squares > chdtri(scale.problem.freedom, 0.01) and not scale.contradicted:
            break
    said = flat(part(report(kit), "taking_lenses"))
    assert f"scatter {(scale.sum_of_squares / scale.problem.freedom) ** 0.5:.1f} times" in said
    widened = f"{scale.noise_factor**0.5:.1f}"
    assert float(widened) > 1.5
    assert f"hardly by chance, so each is taken as {widened} times less sure" in said


def test_a_reading_that_disagrees_is_named_with_its_probable_cause() -> None:
    kit = edited(lambda kit: kit["readings"][2].update(attachment=119.0))
    text = report(kit)
    lens, front = part(text, "taking_lenses"), part(text, "attachments")
    said = flat(front)
    assert "The reading portrait at 2 m (attachment 119) disagrees with the others" in said
    assert "Probably portrait at 2 m (attachment 119): the attachment's figure is misread" in said
    assert [row["figure"] for row in rows(front) if row["marked"]] == ["119.0"]
    # The lens's ring has no part in it.
    assert not [line for line in lens if "isagree" in line or "Probably" in line]
    rig = part(text, "(portrait)")
    assert "Readings disagree: trust no mark until they are checked." in rig
    assert not [line for line in rig if "Next" in line or line.endswith(" sure")]


def test_a_wrong_distance_is_named_at_both_rings() -> None:
    """Both rings show it."""
    bench = Bench(np.random.default_rng(3))
    readings = bench.read()
    readings[2]["distance"] = "2.4 m"
    text = report(bench_kit(readings=readings))
    for name in ("taking_lenses", "attachments"):
        assert re.search(r"portrait at 2\.4 m \(taking .*\): the distance is wrong, about (1\.9|2)",
                         flat(part(text, name)))  # fmt: skip


def test_ignored_readings_are_named_once_and_not_fitted() -> None:
    def ignore(kit: dict[str, Any]) -> None:
        kit["readings"].insert(1, {**kit["readings"][2], "taking": 3.0, "ignore": True})

    text = report(edited(ignore))
    ignored = "Ignored by your word: portrait at 2 m (taking 3, attachment 104).\n\n"
    assert text.count(ignored) == 1
    assert "Ignored" not in PLAIN
    assert text.replace(ignored, "") == PLAIN


def test_a_ring_with_all_its_readings_ignored_is_unread_and_they_are_named() -> None:
    def ignore(kit: dict[str, Any]) -> None:
        for reading in kit["readings"]:
            reading["ignore"] = True

    text = report(edited(ignore))
    names = "portrait at 1.2 m (taking 45.9, attachment 159.8), portrait at 1.5 m"
    assert f"Ignored by your word: {names}" in flat(text.splitlines())
    assert "no marks to judge until both rings are read" in text


def test_readings_ignored_on_other_rings_are_not_named() -> None:
    def ignore(kit: dict[str, Any]) -> None:
        kit["rigs"]["spare"] = {**kit["rigs"]["portrait"], "taking_lens": "spare"}
        reading = {"rig": "spare", "distance": "2 m", "stop": 2.8, "taking": 9.0, "ignore": True}
        kit["readings"].append(reading)

    assert "Ignored" not in report(edited(ignore), ("portrait",))
    assert "Ignored by your word: spare at 2 m (taking 9)." in report(edited(ignore), ("spare",))


# --- marks ------------------------------------------------------------------------------------

CELL = re.compile(r"(\d+\.\d\d) (sure|nearly|not)")


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_marks_have_at_every_stop_the_chart_s_error_and_its_word(path: Path) -> None:
    text = run("fit", path).output
    for rig in json.loads(run("chart", path, "--format", "json").output)["rigs"]:
        lines = [line for line in part(text, f"({rig['rig']})") if CELL.search(line)]
        assert len(lines) == len(rig["marks"])
        for line, mark in zip(lines, rig["marks"], strict=True):
            cells = CELL.findall(line)
            errors = list(mark["pair_95"].values())
            assert [figure for figure, _ in cells] == [f"{error:.2f}" for error in errors]
            assert cells[0][1] == mark["verdict"]
            for error, (_, word) in zip(errors, cells, strict=True):
                assert (word == "sure") == (error <= 1.0)
                assert (word == "not") == (error > math.sqrt(2.0))
            assert line.endswith("extrapolated") == mark["extrapolated"]


def with_errors(*errors: float) -> list[str]:
    """The marks' lines of a chart whose pairs err by just so much at its first stop."""
    chart = charts(plain_kit())["portrait"]
    assert chart.pair is not None
    pair = replace(chart.pair)
    pair.__dict__["pair_95"] = np.array(errors) * chart.stops[0] / chart.stops[:, np.newaxis]
    judged = replace(chart, pair=pair)
    return [line for line in fit_report(loaded(plain_kit()), [judged]).splitlines()
            if CELL.search(line)]  # fmt: skip


def test_the_words_change_at_one_criterion_and_a_stop_beyond() -> None:
    words = [CELL.findall(line)[0][1] for line in with_errors(0.9999, 1.0001, 1.414, 1.415)]
    assert words == ["sure", "nearly", "nearly", "not"]
    # Twice the stop, twice the tolerance.
    words = [CELL.findall(line)[1][1] for line in with_errors(1.999, 2.001, 2.828, 2.829)]
    assert words == ["sure", "nearly", "nearly", "not"]


def test_marks_nearer_than_the_nearest_reading_are_flagged() -> None:
    text = report({**plain_kit(), "distances": ["1.1 m", "1.2 m", "inf"]})
    lines = [line for line in text.splitlines() if CELL.search(line)]
    assert [line.endswith("  extrapolated") for line in lines] == [True, False, False]


# --- where it comes from ----------------------------------------------------------------------


def budget(lines: list[str]) -> dict[str, list[int]]:
    """Percentages by source, the blocks of a long table joined."""
    found: dict[str, list[int]] = {}
    for line in lines:
        row = re.fullmatch(r"  ((?:lens|attachment), \w+(?: lens)?)  ([ \d]+)", line)
        if row:
            found.setdefault(row[1], []).extend(map(int, row[2].split()))
    return found


def expected_shares(chart: Chart) -> dict[str, Any]:
    """Each source's part of both rings' variance, from the budgets of both scales."""
    squares = {}
    for name, which in zip(("lens", "attachment"), RINGS, strict=True):
        _, marks = chart.ring(which)
        at = (
            chart.rig.lens_position_mm if which == "taking" else chart.rig.glass_position_mm
        )(chart.distances_mm)  # fmt: skip
        pool = marks.measured.lens_number(chart.rig.lens_id)
        for source, variance in error_budget(marks.measured.scale, at, pool=pool).items():
            squares[f"{name}, {source}"] = variance / marks.tolerance_mm[0] ** 2
        # By default, a strip and an index each taped within 0.2 mm, half a play of 0.3 mm, each
        # setting within 0.15 mm, and lengths printed within 0.07 %.
        by_hand = {
            "taping": 2 * 0.2**2 + 0.15**2 + 0.0 * marks.arc_mm,
            "setting": 0.15**2 + 0.0 * marks.arc_mm,
            "printing": np.square(0.0007 * marks.arc_mm),
        }
        for source, variance in by_hand.items():
            squares[f"{name}, {source}"] = variance / marks.tolerance_mm[0] ** 2
    total = sum(squares.values())
    return {name: 100.0 * square / total for name, square in squares.items()}


@pytest.mark.parametrize("case", ["plain", "two lenses", "no lead", "many marks"])
def test_the_shares_follow_the_budget_and_sum_to_a_hundred(case: str) -> None:
    kit = plain_kit()
    if case == "two lenses":
        # Its attachment borrowed from the other lens: the shift between lenses has a share.
        kit["rigs"]["spare"] = {**kit["rigs"]["portrait"], "taking_lens": "spare"}
        for reading in list(kit["readings"]):
            kit["readings"].append({**reading, "rig": "spare"})
            del kit["readings"][-1]["attachment"]
    elif case == "no lead":
        del kit["attachments"]["double"]["ring"]["lead"]
    elif case == "many marks":
        kit["distances"] = [f"{1.0 + i / 4:g} m" for i in range(39)] + ["inf"]
    rig = "spare" if case == "two lenses" else "portrait"
    found = budget(part(report(kit), f"({rig})"))
    expected = expected_shares(charts(kit)[rig])
    assert (case == "two lenses") == ("attachment, other lens" in found)
    for source, percent in expected.items():
        if source in found:
            assert np.max(np.abs(np.array(found[source]) - percent)) <= 0.51
        else:
            assert np.max(percent) < 0.51
    sums = np.sum(list(found.values()), axis=0)
    assert sums.shape == (len(kit["distances"]),)
    assert np.max(np.abs(sums - 100)) <= 0.5 * len(expected)


def test_the_shares_sum_to_what_the_chart_states() -> None:
    """A cross-check of the budget itself: both rings' variance is what their arcs are stated to."""
    chart = charts(plain_kit())["portrait"]
    stated, total = np.zeros((2, len(chart.distances_mm)))
    for which in ("taking", "attachment"):
        _, marks = chart.ring(which)
        stated += np.square(marks.bench_arc_95_mm / 1.96 / marks.tolerance_mm[0])
        at = (
            chart.rig.lens_position_mm if which == "taking" else chart.rig.glass_position_mm
        )(chart.distances_mm)  # fmt: skip
        variance = np.add.reduce(list(error_budget(marks.measured.scale, at).values()))
        total += variance / marks.tolerance_mm[0] ** 2
    np.testing.assert_allclose(total, stated, rtol=3e-3)


# --- what to trust, what to do ----------------------------------------------------------------


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_trust_and_notes_are_the_chart_s_own_sentences(path: Path) -> None:
    text = flat([run("fit", path).output])
    for line in run("chart", path).output.splitlines():
        if line.startswith(("Least sure", "All marks", "No stop", "Note")):
            assert " ".join(line.split()) in text
    for rig in json.loads(run("chart", path, "--format", "json").output)["rigs"]:
        assert f"are within tolerance from f/{rig['trusted_from_stop']:g}" in text


ADVICE = re.compile(
    r"Next: read the (taking lens|attachment)'s ring (at [^,]+|on a far target, its distance known "
    r"to 5 %), (once|twice|four times): the least sure mark goes from (\d+\.\d\d) to (\d+\.\d\d) "
    r"tolerances\."
)


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_the_advice_promises_to_better_the_least_sure_mark(path: Path) -> None:
    text = flat([run("fit", path).output])
    found = ADVICE.findall(text)
    sure = re.findall(r"the pair is within (\d+\.\d\d) tolerances", text)
    assert len(found) == len(sure)
    for (*_, before, after), stated in zip(found, sure, strict=True):
        assert before == stated
        assert float(after) < float(before)


def test_advice_is_for_a_stop_the_lens_has(monkeypatch: pytest.MonkeyPatch) -> None:
    """Another lens read at f/1.8 is no reason to read at f/1.8 one that opens to f/4."""
    asked: list[tuple[str, float]] = []

    def advised(kit: Kit, rig: Rig, pair: Pair, together: Shared, stop: float) -> Advice:
        asked.append((rig.rig_id, stop))
        return next_measurement(kit, rig, pair, together, stop)

    def slow(kit: dict[str, Any]) -> None:
        kit["taking_lenses"]["spare"] = {**kit["taking_lenses"]["long"]}
        kit["taking_lenses"]["long"]["widest_stop"] = 4
        kit["rigs"]["fast"] = {**kit["rigs"]["portrait"], "taking_lens": "spare"}
        kit["stops"] = [5.6]
        kit["readings"] = [{**reading, "rig": rig, "stop": stop} for reading in kit["readings"]
                           for rig, stop in (("portrait", 4), ("fast", 1.8))]  # fmt: skip

    monkeypatch.setattr("focuschart.chart.advice.next_measurement", advised)
    report(edited(slow))
    assert asked == [("portrait", 4.0), ("fast", 1.8)]


# --- the page ---------------------------------------------------------------------------------


@pytest.mark.parametrize("units", ["metric", "imperial", "both"])
def test_no_line_is_wider_than_a_terminal_shows(units: str) -> None:
    def many(kit: dict[str, Any]) -> None:
        kit["units"] = units
        kit["distances"] = [f"{1.0 + i / 4:g} m" for i in range(20)] + ["inf"]
        kit["stops"] = [2.8, 4, 5.6, 8, 11, 16, 22, 32]
        kit["readings"][2]["attachment"] = 112.0

    for text in (report(edited(many)), *(run("fit", path).output for path in SAMPLES)):
        assert max(map(len, text.splitlines())) <= WIDTH


def test_a_table_too_wide_goes_on_below() -> None:
    """Every block has its own head, and no column is lost."""

    def many(kit: dict[str, Any]) -> None:
        kit["distances"] = [f"{1.2 + i / 10:g} m" for i in range(24)]

    lines = part(report(edited(many)), "(portrait)")
    heads = [line for line in lines if line.startswith("  subject") and "f/" not in line]
    assert re.findall(r"[\d.]+ m", " ".join(heads)) == [f"{1.2 + i / 10:g} m" for i in range(24)]
    assert len(heads) == 3


def test_a_part_ends_with_one_empty_line_and_the_report_with_none() -> None:
    assert "\n\n\n" not in PLAIN
    assert PLAIN.endswith("\n")
    assert not PLAIN.endswith("\n\n")
    assert not [line for line in PLAIN.splitlines() if line != line.rstrip()]


def test_signs_beyond_ascii_are_those_any_terminal_has() -> None:
    """Latin-1's plus-minus and the infinity sign; nothing drawn with boxes or blocks."""
    for path in SAMPLES:
        assert {sign for sign in run("fit", path).output if ord(sign) > 126} <= {"±", "∞"}


# --- the command ------------------------------------------------------------------------------


def test_the_command_prints_the_report(tmp_path: Path) -> None:
    result = run("fit", written(tmp_path, plain_kit()))
    assert result.exit_code == 0
    assert result.output == said(tmp_path)


def said(folder: Path) -> str:
    """The report with the next step."""
    return f"{PLAIN}Read more first, or print the strips:\n  focuschart build {folder}/kit.toml\n"


def test_a_rig_asked_for_comes_alone_with_its_rings() -> None:
    sample = ROOT / "sample_kits" / "two-lenses.toml"
    text = run("fit", sample, "--rig", "portrait-58").output
    assert [head for head in parts(text) if "(portrait-85)" in head or "eighty-five" in head] == []
    # The attachment's readings on the other rig count all the same.
    assert len(rows(part(text, "attachments.brass-double"))) == 15
    both = run("fit", sample, "--rig", "portrait-58", "--rig", "portrait-85").output
    assert both == run("fit", sample).output
    refused = run("fit", sample, "--rig", "nowhere")
    assert refused.exit_code == 2
    assert 'is "nowhere": no such rig; the kit has portrait-85, portrait-58' in refused.output


def test_colour_only_on_a_terminal_and_on_every_verdict() -> None:
    sample = ROOT / "sample_kits" / "two-lenses.toml"
    plain = run("fit", sample).output
    assert "\x1b[" not in plain
    shown = CliRunner().invoke(main, ["fit", str(sample)], color=True).output
    assert re.sub(r"\x1b\[\d+m", "", shown) == plain
    coloured = re.findall(r"\x1b\[(\d+)m([a-z-]+)\x1b\[0m", shown)
    assert len(coloured) == len(CELL.findall(plain))
    assert set(coloured) == {("31", "not"), ("33", "nearly"), ("32", "sure")}


def test_nothing_goes_to_standard_error_and_nothing_is_written(tmp_path: Path) -> None:
    done = command("fit", written(tmp_path, plain_kit()), PYTHONWARNINGS="default")
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout == said(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["kit.toml"]


def test_two_at_once_read_one_kit(tmp_path: Path) -> None:
    path = str(written(tmp_path, plain_kit()))
    arguments = [sys.executable, "-m", "focuschart", "fit", path]
    at_once = [subprocess.Popen(arguments, stdout=subprocess.PIPE, text=True, cwd=ROOT)
               for _ in range(2)]  # fmt: skip
    assert [process.communicate()[0] for process in at_once] == [said(tmp_path)] * 2


def test_stopping_by_hand_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("focuschart.chart.charts.build_charts", interrupted)
    result = run("fit", SAMPLES[0])
    assert result.exit_code == 130
    assert "Stopped, nothing was written." in result.output


@pytest.mark.parametrize(("tail", "status"), [("| head -n 1", 0), (">/dev/full", 2)])
def test_an_output_that_closes_or_is_full(tail: str, status: int) -> None:
    line = f'"{sys.executable}" -m focuschart fit "{SAMPLES[0]}" {tail}'
    done = subprocess.run(["bash", "-c", line], check=False, capture_output=True, text=True,
                          cwd=ROOT)  # fmt: skip
    assert done.returncode == status
    assert "Traceback" not in done.stderr
    assert len(done.stderr.splitlines()) <= 1


# --- bad input --------------------------------------------------------------------------------


def read_at(*distances: str) -> Edit:
    """Readings at these distances only, figures from the plain kit in turn."""

    def edit(kit: dict[str, Any]) -> None:
        kit["readings"] = [{**kit["readings"][i], "distance": distance}
                           for i, distance in enumerate(distances)]  # fmt: skip

    return edit


REFUSED: dict[str, tuple[Edit, str]] = {
    "past one turn": (
        lambda kit: kit["readings"][0].update(attachment=400.0),
        r"attachments\.double\.ring: the readings span 384\.5 mm, but one turn is 258\.2 mm",
    ),
    "absurd": (
        lambda kit: kit["readings"][0].update(taking=1e9),
        r"readings\[0\]\.taking is 1000000000\.0: must be 2000 or less",
    ),
    "torn repeats": (
        lambda kit: kit["readings"].append({**kit["readings"][2], "taking": 60.0}),
        r"portrait at 2 m \(taking 60\) and portrait at 2 m \(taking 65\.6\) repeat one set-up but "
        r"differ by 5\.6 mm",
    ),
    "two distances": (
        read_at("1.2 m", "1.5 m", "1.5 m"),
        r"taking_lenses\.long \(readings\): 2 different distances read, the fit needs 3",
    ),
    "ignore is text": (
        lambda kit: kit["readings"][0].update(ignore="yes"),
        r'readings\[0\]\.ignore is "yes": must be true or false',
    ),
    "nearer than the nearest": (
        lambda kit: kit["readings"][0].update(distance="0.99 m"),
        r'the distance of the reading portrait at 0\.99 m \(taking 45\.9, attachment 159\.8\) is '
        r'"990 mm": rig "portrait" focuses no nearer than 1 m',
    ),
    "unknown rig": (
        lambda kit: kit["readings"][0].update(rig="nowhere"),
        r'readings\[0\]\.rig is "nowhere": no such rig in the kit; it has portrait',
    ),
    "too many": (
        lambda kit: kit.update(readings=kit["readings"] * 40),
        r"taking_lenses\.long\.ring: 240 readings of one ring, keep 200 at most",
    ),
    "swapped columns": (
        lambda kit: [reading.update(taking=reading["attachment"], attachment=reading["taking"])
                     for reading in kit["readings"]],
        r'taking_lenses\.long\.ring\.nearer_turns is "clockwise": the readings run the other way',
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", REFUSED)
def test_what_cannot_be_fitted_is_one_sentence_each(tmp_path: Path, case: str) -> None:
    edit, sentence = REFUSED[case]
    path = written(tmp_path, edited(edit))
    result = run("fit", path)
    # The ring that can be fitted is, where another cannot.
    assert result.exit_code in (1, 2)
    assert re.search(sentence, result.stderr)
    for line in result.stderr.splitlines():
        assert line.removeprefix("focuschart: ").startswith(f"{path}: ")


def stops(*values: float) -> Edit:
    def edit(kit: dict[str, Any]) -> None:
        kit["taking_lenses"]["long"]["widest_stop"] = 0.7
        kit["stops"] = list(values)
        for reading in kit["readings"]:
            reading["stop"] = values[0]

    return edit


FITTED: dict[str, Edit] = {
    "fastest": stops(0.7, 64),
    "slowest": stops(64),
    "smallest circle": lambda kit: kit.update(circle_of_confusion="0.001 mm"),
    "largest circle": lambda kit: kit.update(circle_of_confusion="0.2 mm"),
    "little squeeze": lambda kit: kit["attachments"]["double"].update(squeeze=1.05),
    "much squeeze": lambda kit: kit["attachments"]["double"].update(squeeze=3.0),
    "far target without error": lambda kit: kit["readings"][-1].pop("distance_error"),
    "far target hardly known": lambda kit: kit["readings"][-1].update(distance_error="1000 m"),
    "no distance known": lambda kit: [reading.update(distance_error="1000 m")
                                      for reading in kit["readings"]],
    "at the nearest": lambda kit: kit.update(distances=["1 m", "2 m"]),
    "three near one another": read_at("2 m", "2.001 m", "2.002 m"),
    "below zero": lambda kit: [reading.update(taking=reading["taking"] - 150.0)
                               for reading in kit["readings"]],
    "copied": lambda kit: kit.update(readings=kit["readings"] * 33),
    "many infinities": lambda kit: kit.update(readings=kit["readings"] + [
        {"rig": "portrait", "distance": "inf", "stop": 2.8, "taking": 90.1, "attachment": 12.4}
    ] * 20),
}  # fmt: skip


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("case", FITTED)
def test_extremes_have_a_report_of_finite_figures(case: str) -> None:
    kit = edited(FITTED[case])
    if case == "three near one another":
        for reading, taking, front in zip(
            kit["readings"], (65.6, 65.6, 65.7), (104.0, 104.0, 103.9), strict=True
        ):
            reading.update(taking=taking, attachment=front)
    text = report(kit)
    assert not re.search(r"(?<!\")\b(nan|inf)\b", text)
    assert len(rows(text.splitlines())) == 2 * len(kit["readings"])
    assert as_text(charts(kit).values(), units="metric")
