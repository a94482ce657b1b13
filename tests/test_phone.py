"""The page for a phone: its tables against the solver, its text, its file and a build's page."""

from __future__ import annotations

import base64
import copy
import hashlib
import json
import math
import re
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from focuschart.chart.gauge import gauge
from focuschart.chart.locked import locked_ring, nearest_mm
from focuschart.chart.model import Chart
from focuschart.chart.solve import solve_at
from focuschart.layout.page import Text
from focuschart.layout.strip.marker import marker_strip
from focuschart.pages.strips import marker_of
from focuschart.phone.page import Parts, page
from focuschart.phone.rig import rig_data
from focuschart.phone.steps import slider_mm
from focuschart.phone.table import Tables, cubic, distance_mm, nearness, tables_of
from focuschart.store.documents import load_face
from focuschart.store.kits import load
from focuschart.store.phone import PHONE, phone_page, phone_rigs
from tests.command import run
from tests.kits import charts, kit_text, loaded, plain_kit

ROOT = Path(__file__).parent.parent
SAMPLES = ("two-lenses", "mild-street", "feet-and-inches")
ARC_MM, LIMIT_SHARE = 0.02, 0.002
"""How true the page must be: the task's own figures."""


def sample_charts() -> list[Chart]:
    from focuschart.chart.charts import solve

    return [
        chart
        for name in SAMPLES
        for chart in solve(load(ROOT / "sample_kits" / f"{name}.toml"))
    ]  # fmt: skip


@pytest.fixture(scope="module")
def tabled() -> list[tuple[Chart, Tables]]:
    return [(chart, tables_of(chart)) for chart in sample_charts()]


def drawn_mm(chart: Chart, count: int) -> np.ndarray:
    """Return distances drawn evenly in nearness, a few centimetres to infinity apart."""
    drawn = np.random.default_rng(15).uniform(0.0, 1.0 / nearest_mm(chart.rig), count)
    return np.concatenate(([np.inf], 1.0 / np.sort(drawn)))


def test_any_distance_is_as_true_as_the_solver(tabled: list[tuple[Chart, Tables]]) -> None:
    for chart, tables in tabled:
        asked = drawn_mm(chart, 1500)
        solved, at = solve_at(chart, asked), nearness(asked, tables.pole_mm)
        for which, (_, marks) in solved.rings().items():
            assert marks is not None
            assert np.abs(tables.settings.read(which, at) - marks.arc_mm).max() < ARC_MM
        assert np.abs(tables.settings.read("squeeze", at) - solved.squeeze).max() < 1e-4
        zones = {
            "vertical": solved.vertical, "horizontal": solved.horizontal,
            "locked": locked_ring(solved).zone,
        }  # fmt: skip
        for name, zone in zones.items():
            for end, limits in (("Near", zone.near_mm), ("Far", zone.far_mm)):
                for stop, limit in zip(chart.stops, limits, strict=True):
                    read = tables.zones.read(f"{name}{end}:{stop:g}", at)
                    finite = np.isfinite(limit)
                    told = distance_mm(read[finite], tables.pole_mm)
                    wrong = np.sum(np.abs(told / limit[finite] - 1.0) > LIMIT_SHARE)
                    wrong += np.sum(read[~finite] > 1e-8)
                    # A hair's breadth from where a limit reaches infinity nothing can be as true.
                    assert wrong <= 1, (chart.rig.rig_id, name, end, stop)


def test_how_sure_a_distance_is_is_as_true_too(tabled: list[tuple[Chart, Tables]]) -> None:
    for chart, tables in tabled:
        asked = drawn_mm(chart, 400)
        solved = solve_at(chart, asked)
        assert solved.pair_95 is not None
        read = tables.zones.read("need", nearness(asked, tables.pole_mm))
        assert read == pytest.approx(solved.pair_95[0] * chart.working_stop, rel=0.005)


def test_marks_solved_again_are_the_charts_own(tabled: list[tuple[Chart, Tables]]) -> None:
    for chart, _ in tabled:
        again = solve_at(chart, chart.distances_mm)
        assert again.taking is not None
        assert chart.taking is not None
        assert np.array_equal(again.taking.arc_mm, chart.taking.arc_mm)
        assert again.pair_95 is not None
        assert chart.pair_95 is not None
        assert np.array_equal(again.pair_95, chart.pair_95)


def test_what_a_head_takes_of_the_picture_is_as_true(tabled: list[tuple[Chart, Tables]]) -> None:
    for chart, tables in tabled:
        asked = drawn_mm(chart, 400)
        solved, at = gauge(solve_at(chart, asked)), nearness(asked, tables.pole_mm)
        size = chart.kit.gauge
        assert size * tables.settings.read("gauge", at) == pytest.approx(solved.at, abs=5e-4)
        for name, shares in (("gaugeNear", solved.near), ("gaugeFar", solved.far)):
            for stop, share in zip(chart.stops, shares, strict=True):
                read = tables.zones.read(f"{name}:{stop:g}", at)
                assert size * read == pytest.approx(share, abs=2e-3)


@given(st.lists(st.floats(-5.0, 5.0), min_size=3, max_size=3), st.floats(0.0, 1.0))
def test_a_parabola_is_read_without_error(factors: list[float], at: float) -> None:
    """Bessel's interpolation reproduces parabolas (de Boor, ch. IV, from memory)."""
    rows = np.array([0.0, 0.1, 0.35, 0.4, 0.8, 1.0])
    assert float(cubic(np.array(at), rows, np.polyval(factors, rows))) == pytest.approx(
        float(np.polyval(factors, at)), abs=1e-9
    )


# --- the slider -----------------------------------------------------------------------------------


@settings(max_examples=60)
@given(
    st.lists(st.integers(60, 4000), min_size=1, max_size=12, unique=True),
    st.booleans(),
    st.integers(30, 400),
)
def test_the_slider_has_every_mark_and_rises_to_infinity(
    marks_cm: list[int], endless: bool, nearest_cm: int
) -> None:
    marks = sorted(10.0 * mark for mark in marks_cm) + ([math.inf] if endless else [])
    steps = slider_mm(marks, 10.0 * nearest_cm, "metric")
    assert set(marks) <= set(steps)
    assert steps == sorted(set(steps))
    assert steps[0] == min(10.0 * nearest_cm, marks[0])
    assert math.isinf(steps[-1])


def test_the_sliders_steps_are_finer_where_marks_are_denser() -> None:
    steps = slider_mm([1000.0, 1200.0, 2000.0, 10000.0, math.inf], 900.0, "metric")
    assert 1700.0 in steps
    gaps = np.diff(steps[:-1])
    assert np.all(np.diff(gaps) > -1e-6)


# --- the page -------------------------------------------------------------------------------------

PARTS = {kind: ROOT / "focuschart" / "phone" / f"page.{kind}" for kind in ("html", "css", "js")}


class Elements(HTMLParser):
    """The elements of a page, and the text inside its scripts and its style."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.inside: dict[str, list[str]] = {}
        self._open = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        self._open = tag

    def handle_endtag(self, _: str) -> None:
        self._open = ""

    def handle_data(self, data: str) -> None:
        self.inside.setdefault(self._open, []).append(data)


@pytest.fixture(scope="module")
def sample() -> str:
    kit = load(ROOT / "sample_kits" / "two-lenses.toml")
    from focuschart.chart.charts import solve

    return phone_page(kit, phone_rigs(solve(kit), face=load_face(None)))


def test_the_policy_names_its_one_script_and_its_one_style_by_digest(sample: str) -> None:
    """CSP Level 3, 6.7.2.3: an inline element matches by the base64 SHA-256 of its text."""
    elements = Elements(sample)
    policy = next(a["content"] for t, a in elements.tags if a.get("http-equiv"))
    assert policy is not None
    for directive, text in (
        ("script-src", elements.inside["script"][0]), ("style-src", elements.inside["style"][0]),
    ):  # fmt: skip
        digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
        assert f"{directive} 'sha256-{digest}';" in policy
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    scripts = [a for t, a in elements.tags if t == "script"]
    assert [a.get("type") for a in scripts] == [None, "application/json"]
    assert sum(t == "style" for t, _ in elements.tags) == 1
    assert not any(key.startswith("on") or key == "style" for _, a in elements.tags for key in a)


def test_the_page_asks_for_nothing_and_stores_nothing(sample: str) -> None:
    for _, attributes in Elements(sample).tags:
        assert not {"src", "srcset", "action"} & attributes.keys()
        assert attributes.get("href") in (None, "data:,")
    script, style = PARTS["js"].read_text(), PARTS["css"].read_text()
    words = r"fetch|XMLHttpRequest|localStorage|sessionStorage|indexedDB|cookie|eval\(|innerHTML"
    assert not re.search(words, script)
    assert "url(" not in style
    assert "@import" not in style


def test_ten_rigs_take_at_most_400_kilobytes(sample: str) -> None:
    from focuschart.chart.charts import solve

    kit = load(ROOT / "sample_kits" / "two-lenses.toml")
    kit = kit.model_copy(update={"stops": [2.0, 2.8, 4.0, 5.6, 8.0, 11.0, 16.0, 22.0]})
    largest = max(
        phone_rigs(solve(kit), face=load_face(None)), key=lambda rig: len(json.dumps(rig))
    )
    text = phone_page(kit, [largest] * 10)
    assert len(sample.encode()) < len(text.encode()) <= 400_000


HOSTILE = (
    "</script><script>alert(1)</script>", "<img src=x onerror=alert(1)>", "\"'`&amp;{{data}}",
    "\u05e9\u05dc\u05d5\u05dd \u0645\u0631\u062d\u0628\u0627", "line\u2028separator",
)  # fmt: skip


def data_of(text: str) -> dict[str, Any]:
    found = re.search(r'<script type="application/json" id="data">(.*?)</script>', text, re.DOTALL)
    assert found is not None
    data: dict[str, Any] = json.loads(found[1])
    return data


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_name_is_text_wherever_it_stands(name: str) -> None:
    (chart,) = charts(plain_kit()).values()
    rig = {**rig_data(chart, face=load_face(None)), "name": name}
    parts = Parts(*(PARTS[kind].read_text() for kind in ("html", "css", "js")))
    text = page(parts, [rig], kit=name, units="metric", gauge_mm=230.0)
    plain = page(parts, [{**rig, "name": "A"}], kit="A", units="metric", gauge_mm=230.0)
    assert [t for t, _ in Elements(text).tags] == [t for t, _ in Elements(plain).tags]
    assert data_of(text)["rigs"][0]["name"] == name
    assert data_of(text)["kit"] == name


def test_a_name_that_no_strip_can_carry_still_has_a_page() -> None:
    kit = plain_kit()
    kit["rigs"]["portrait"]["name"] = HOSTILE[3]
    kit["attachments"]["double"]["name"] = HOSTILE[3]
    (chart,) = charts(kit).values()
    strip = rig_data(chart, face=load_face(None))["rings"]["attachment"]["strip"]
    assert "why" not in strip
    assert {text[0] for text in strip["texts"]} >= {"1.2", "2", "5", "∞"}


def test_strips_have_the_labels_and_ticks_of_the_printed_ones() -> None:
    (chart,) = charts(plain_kit()).values()
    face = load_face(None)
    for which in ("taking", "attachment"):
        printed = marker_strip(marker_of(chart, which), face=face)
        strip = rig_data(chart, face=face)["rings"][which]["strip"]
        words = [shape for shape in printed.shapes if isinstance(shape, Text)]
        labels = {(w.text, round(w.x, 2)) for w in words if w.key.startswith("label:")}
        assert len(labels) == len(chart.distances_mm)
        assert labels <= {(text[0], text[1]) for text in strip["texts"]}
        ticks = [s for s in printed.shapes if s.key.startswith(("mark:", "fine:", "scale:"))]
        places = sum(len(stroke[3]) for stroke in strip["strokes"]) + len(strip["paths"])
        assert places >= len(ticks) > 10


# --- rigs that lack a scale -----------------------------------------------------------------------


def test_what_is_missing_is_said_and_nothing_empty_is_shown() -> None:
    kit = plain_kit()
    for reading in kit["readings"]:
        del reading["attachment"]
    (chart,) = charts(kit).values()
    rig = rig_data(chart, face=load_face(None))
    assert list(rig["rings"]) == ["taking"]
    assert any("attachment ring has no readings" in sentence for sentence in rig["missing"])
    assert "need" not in rig["zones"]["columns"]
    assert not any("locked" in name for name in rig["zones"]["columns"])
    assert any(name.startswith("verticalNear") for name in rig["zones"]["columns"])


# --- the command and the build --------------------------------------------------------------------


def bag(folder: Path, kit: dict[str, Any] | None = None) -> Path:
    path = folder / "bag.toml"
    path.write_text(kit_text(kit or plain_kit()), encoding="utf-8")
    return path


def two_rigs() -> dict[str, Any]:
    kit = plain_kit()
    kit["rigs"]["second"] = {**kit["rigs"]["portrait"], "name": "Second"}
    return kit


def rigs_on(path: Path) -> list[str]:
    return [rig["id"] for rig in data_of(path.read_text(encoding="utf-8"))["rigs"]]


def test_the_command_writes_the_rigs_asked_for_and_nothing_over_a_file(tmp_path: Path) -> None:
    kit, out = bag(tmp_path, two_rigs()), tmp_path / "card.html"
    assert run("phone", kit, "--out", out, "--rig", "second").exit_code == 0
    assert rigs_on(out) == ["second"]
    before = out.read_bytes()
    refused = run("phone", kit, "--out", out)
    assert refused.exit_code == 2
    assert re.search(
        r"card\.html: is there already, choose another name or --force", refused.output
    )
    assert out.read_bytes() == before
    assert run("phone", kit, "--out", out, "--force").exit_code == 0
    assert rigs_on(out) == ["portrait", "second"]


def test_a_build_writes_the_page_and_leaves_it_where_nothing_changed(tmp_path: Path) -> None:
    kit, out = bag(tmp_path, two_rigs()), tmp_path / "out"
    assert run("build", kit, "--out", out).exit_code == 0
    written = out / "bag" / PHONE
    assert rigs_on(written) == ["portrait", "second"]
    status = written.stat()
    assert run("build", kit, "--out", out).exit_code == 0
    assert (written.stat().st_mtime_ns, written.stat().st_ino) == (
        status.st_mtime_ns,
        status.st_ino,
    )
    written.unlink()
    assert run("build", kit, "--out", out).exit_code == 0
    assert rigs_on(written) == ["portrait", "second"]


def test_a_page_changed_by_hand_stays_and_nothing_else_is_written(tmp_path: Path) -> None:
    kit, out = bag(tmp_path), tmp_path / "out"
    run("build", kit, "--out", out)
    written = out / "bag" / PHONE
    written.write_text("mine")
    changed = plain_kit()
    changed["distances"] = ["1.2 m", "3 m", "inf"]
    before = (out / "bag" / "portrait" / "chart.json").read_bytes()
    refused = run("build", bag(tmp_path, changed), "--out", out)
    assert refused.exit_code == 2
    assert "phone.html: is there already and not as a build left it" in refused.output
    assert written.read_text() == "mine"
    assert (out / "bag" / "portrait" / "chart.json").read_bytes() == before
    assert run("build", kit, "--out", out, "--force").exit_code == 0
    assert rigs_on(written) == ["portrait"]


def test_a_build_of_some_rigs_keeps_the_others_on_the_page(tmp_path: Path) -> None:
    out, written = tmp_path / "out", tmp_path / "out" / "bag" / PHONE
    run("build", bag(tmp_path, two_rigs()), "--out", out)
    run("build", bag(tmp_path, two_rigs()), "--out", out, "--rig", "second")
    assert rigs_on(written) == ["portrait", "second"]
    changed = copy.deepcopy(two_rigs())
    changed["rigs"]["portrait"]["name"] = "Renamed"
    run("build", bag(tmp_path, changed), "--out", out, "--rig", "second")
    assert rigs_on(written) == ["second"]
    left = data_of(written.read_text(encoding="utf-8"))["left"]
    assert left == ["Renamed: no pack of it is up to date, build it."]


def test_stale_sheets_and_the_page_leave_each_other_alone(tmp_path: Path) -> None:
    out, folder = tmp_path / "out", tmp_path / "out" / "bag"
    run("build", bag(tmp_path), "--out", out)
    changed = plain_kit()
    changed["distances"] = ["1.2 m", "3 m", "inf"]
    result = run("build", bag(tmp_path, changed), "--out", out, "--only-stale")
    assert result.exit_code == 0, result.output
    sheets = {path.name for path in folder.glob("to-print-*.pdf")}
    assert sheets
    assert data_of((folder / PHONE).read_text(encoding="utf-8"))["rigs"][0]["marks"] == [
        1200.0, 3000.0, None,
    ]  # fmt: skip
    run("build", bag(tmp_path), "--out", out)
    assert {path.name for path in folder.glob("to-print-*.pdf")} == sheets
    assert len(data_of((folder / PHONE).read_text(encoding="utf-8"))["rigs"][0]["marks"]) == 4


def test_a_kit_of_very_many_rigs_has_no_page(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    out, written = tmp_path / "out", tmp_path / "out" / "bag" / PHONE
    run("build", bag(tmp_path), "--out", out)
    assert written.exists()
    monkeypatch.setattr("focuschart.store.phone.MOST_ON_PHONE", 1)
    run("build", bag(tmp_path, two_rigs()), "--out", out)
    assert not written.exists()


def test_the_page_of_a_solved_kit_is_the_same_again() -> None:
    kit = loaded(plain_kit())
    (chart,) = charts(plain_kit()).values()
    one, two = (phone_page(kit, phone_rigs([chart], face=load_face(None))) for _ in range(2))
    assert one == two
