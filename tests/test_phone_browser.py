"""The page for a phone in a real browser, on screens of all sizes, by day and by night."""

from __future__ import annotations

import json
import math
import os
import random
import re
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from playwright.sync_api import Browser

from focuschart.chart.charts import solve
from focuschart.chart.locked import locked_ring, nearest_mm
from focuschart.chart.model import Chart
from focuschart.chart.verdict import sure_from
from focuschart.errors import UnitError
from focuschart.store.kits import load
from focuschart.units import format_limits, imperial_label, metric_label, parse_length
from tests import browser as screens
from tests.command import run
from tests.kits import kit_text, plain_kit

ROOT = Path(__file__).parent.parent
SAMPLES = ("two-lenses", "mild-street", "feet-and-inches")
KEYS = [
    "rig", "distance-mm", "stop", "taking-arc-mm", "attachment-arc-mm", "near-mm", "far-mm",
    "squeeze", "sure-from", "locked-near-mm", "locked-far-mm", "vertical-near-mm",
    "horizontal-far-mm",
]  # fmt: skip


@pytest.fixture(scope="module")
def running() -> Iterator[Browser]:
    with screens.browser() as started:
        yield started


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Return the page of each sample kit, and of one whose names are hostile."""
    folder = tmp_path_factory.mktemp("pages")
    found = {}
    for name in SAMPLES:
        found[name] = folder / f"{name}.html"
        run("phone", ROOT / "sample_kits" / f"{name}.toml", "--out", found[name])
    return found


def page_of(folder: Path, kit: dict[str, Any]) -> Path:
    (folder / "bag.toml").write_text(kit_text(kit), encoding="utf-8")
    run("phone", folder / "bag.toml", "--out", folder / "bag.html", "--force")
    return folder / "bag.html"


def with_marks(name: str, distances_mm: list[float], folder: Path) -> list[Chart]:
    """Return a sample kit's charts with these distances as its marks."""
    text = (ROOT / "sample_kits" / f"{name}.toml").read_text(encoding="utf-8")
    listed = ", ".join("inf" if math.isinf(d) else f'"{d!r} mm"' for d in distances_mm)
    listed = listed.replace("inf", '"inf"')
    changed, count = re.subn(r"^distances = .*$", f"distances = [{listed}]", text, flags=re.M)
    assert count
    path = folder / f"{name}.toml"
    path.write_text(changed, encoding="utf-8")
    return list(solve(load(path)))


def number(text: str | None) -> float:
    """Return a plain value; an empty one is infinity."""
    assert text is not None
    return float(text) if text else math.inf


# --- true to the solver ---------------------------------------------------------------------------


@pytest.mark.parametrize("name", SAMPLES)
def test_random_states_show_what_the_solver_gives(
    running: Browser, pages: dict[str, Path], name: str, tmp_path: Path
) -> None:
    """A hundred states and more: arcs within 0.02 mm, limits within 0.2 %, as the task asks."""
    draw = random.Random(name)
    nearest = max(nearest_mm(chart.rig) for chart in solve(load(ROOT / f"sample_kits/{name}.toml")))
    asked = sorted({round(1.0 / draw.uniform(5e-6, 1.0 / nearest), 3) for _ in range(24)})
    charts = with_marks(name, [*asked, math.inf], tmp_path)
    states = [
        (chart, j, i)
        for chart in charts
        for i in range(len(chart.distances_mm))
        for j in range(len(chart.stops))
    ]
    with screens.shown(running, pages[name]) as page:
        seen = page.visit([_address(*state) for state in states], KEYS)
        assert page.said == []
    assert len(states) >= 75
    for state, values in zip(states, seen, strict=True):
        _holds(values, *state)


def _address(chart: Chart, j: int, i: int) -> str:
    distance = chart.distances_mm[i]
    shown = "inf" if np.isinf(distance) else repr(float(distance))
    return f"rig={chart.rig.rig_id}&distance_mm={shown}&stop={chart.stops[j]:g}"


def _holds(values: dict[str, str | None], chart: Chart, j: int, i: int) -> None:
    state = _address(chart, j, i)
    assert values["rig"] == chart.rig.rig_id
    assert number(values["distance-mm"]) == chart.distances_mm[i]
    assert number(values["stop"]) == chart.stops[j]
    for which, (_, marks) in chart.rings().items():
        assert marks is not None
        assert number(values[f"{which}-arc-mm"]) == pytest.approx(marks.arc_mm[i], abs=0.02), state
    locked = locked_ring(chart).zone
    for key, limits in (
        ("near-mm", chart.frame.near_mm), ("far-mm", chart.frame.far_mm),
        ("vertical-near-mm", chart.vertical.near_mm),
        ("horizontal-far-mm", chart.horizontal.far_mm),
        ("locked-near-mm", locked.near_mm), ("locked-far-mm", locked.far_mm),
    ):  # fmt: skip
        assert number(values[key]) == pytest.approx(limits[j, i], rel=0.002), (state, key)
    assert number(values["squeeze"]) == pytest.approx(chart.squeeze[i], abs=1e-4)
    sure = sure_from(chart)[i]
    assert values["sure-from"] == ("" if sure is None else f"{sure:g}"), state


LIMITS_MM = [
    (np.float64(near), far)
    for near in (523.1, 987.6, 1674.49, 1999.9999, 3048.0, 12345.6, 45000.0)
    for far in (near * 1.0004, near * 1.01, near * 1.3, near * 9.0, math.inf)
]


def test_lengths_are_written_and_read_as_by_the_program(
    running: Browser, pages: dict[str, Path]
) -> None:
    typed = [
        "1.7 m", "175 cm", "980 mm", "5 ft 7 in", "5'7\"", "5 1/2 ft", "67in", "inf", "∞", ".9 m",
        "1/2 m", "5 in 7 ft", "12", "x", "", "1 m 2", "1/0 m", "1 m 20 cm",
    ]  # fmt: skip
    with screens.shown(running, pages["two-lenses"]) as page:
        for near, far in LIMITS_MM:
            for units in ("metric", "imperial"):
                shown = page.page.evaluate(
                    "([n, f, feet]) => limits(n, f ?? Infinity, feet)",
                    [float(near), None if math.isinf(far) else float(far), units == "imperial"],
                )
                assert tuple(shown) == format_limits(float(near), float(far), units)
            assert page.page.evaluate("metric", float(near)) == metric_label(float(near))
            assert page.page.evaluate("imperial", float(near)) == imperial_label(float(near))
        for text in typed:
            mm = page.page.evaluate(
                "t => { const d = parsed(t, false); return d === Infinity ? 'inf' : d }", text
            )
            try:
                expected: float | None = parse_length(text)
            except UnitError:
                expected = 12_000.0 if text == "12" else None
            found = None if mm is None else float(mm)
            assert found == (expected if expected is None else pytest.approx(expected)), text


# --- hands ----------------------------------------------------------------------------------------


def test_slider_keys_and_typing_set_the_distance_and_the_address(
    running: Browser, pages: dict[str, Path]
) -> None:
    start = "rig=portrait-85&distance_mm=1500&stop=4"
    with screens.shown(running, pages["two-lenses"], start) as page:
        page.page.click("#farther")
        assert page.value("distance-mm") == "1550"
        page.page.click("#nearer")
        page.page.click("#nearer")
        assert page.value("distance-mm") == "1450"
        page.page.focus("#slider")
        page.page.keyboard.press("ArrowRight")
        assert page.value("distance-mm") == "1500"
        page.page.keyboard.press("End")
        assert page.value("distance-mm") == ""
        page.page.keyboard.press("Home")
        assert page.value("distance-mm") == "900"
        page.page.fill("#distance", "1,733 m")
        page.page.keyboard.press("Enter")
        assert page.value("distance-mm") == "1733"
        assert page.page.evaluate("location.hash") == "#rig=portrait-85&distance_mm=1733&stop=4"
        page.page.click("#nearer")
        assert page.value("distance-mm") == "1700"
        page.page.check("#stop input[value='5.6']", force=True)
        assert page.value("stop") == "5.6"
        page.page.select_option("#rig", "portrait-58")
        assert page.value("rig") == "portrait-58"
        assert "stop=5.6" in page.page.evaluate("location.hash")
        assert page.said == []


def test_the_gauge_grows_with_its_size(running: Browser, pages: dict[str, Path]) -> None:
    with screens.shown(running, pages["two-lenses"], "distance_mm=2000&stop=8") as page:
        head = number(page.value("gauge-share"))
        assert number(page.value("gauge-near-share")) > head > number(page.value("gauge-far-share"))
        page.page.fill("#gauge", "1840")
        page.page.keyboard.press("Tab")
        assert number(page.value("gauge-share")) == pytest.approx(8.0 * head)
        assert "gauge_mm=1840" in page.page.evaluate("location.hash")
        page.go("distance_mm=900&stop=2.8")
        assert page.page.is_visible("#unseen")


def test_a_slip_in_typing_is_said_and_changes_nothing(
    running: Browser, pages: dict[str, Path]
) -> None:
    with screens.shown(running, pages["two-lenses"], "distance_mm=1500") as page:
        for typed, said in (("<b>x</b>", "is no distance: type for example 1.75"),
                            ("0.2 m", "This rig focuses from 0.9 m on.")):  # fmt: skip
            page.page.fill("#distance", typed)
            page.page.keyboard.press("Enter")
            assert said in page.page.inner_text("#refused")
            assert page.value("distance-mm") == "1500"
            assert page.page.input_value("#distance") == "1.5 m"


def test_a_stop_that_is_not_sure_is_marked(running: Browser, pages: dict[str, Path]) -> None:
    with screens.shown(running, pages["two-lenses"], "distance_mm=1500&stop=2.8") as page:
        sure = float(page.value("sure-from") or "inf")
        assert sure > 2.8
        assert page.text("sure-from") == f"NOT SURE: from f/{sure:g}"
        page.go(f"distance_mm=1500&stop={sure:g}")
        assert page.text("sure-from").startswith("Sure")


def test_the_strips_lie_with_the_set_distance_at_the_index(
    running: Browser, pages: dict[str, Path]
) -> None:
    """At a mark its label, at another distance its arc, is in the middle of the picture."""
    with screens.shown(
        running, pages["two-lenses"], "rig=portrait-85&distance_mm=2000", reduced_motion="reduce"
    ) as page:
        for figure in page.page.query_selector_all("#strips svg"):
            whole = figure.bounding_box()
            assert whole is not None
            middle = whole["x"] + whole["width"] / 2.0
            centres = [
                box["x"] + box["width"] / 2.0
                for text in figure.query_selector_all("text")
                if text.text_content() == "2" and (box := text.bounding_box())
            ]
            assert min(abs(centre - middle) for centre in centres) < 3.0


# --- addresses ------------------------------------------------------------------------------------

ODD = (
    "rig=<script>alert(1)</script>", "rig=portrait-86&distance_mm=1700", "distance_mm=NaN",
    "distance_mm=1e309", "distance_mm=-5", "distance_mm=0", "stop=0", "stop=1e9&rig=%E0%A4%A",
    "rig=__proto__", "distance_mm=99999999999999999999", "%", "&&&===", "rig=street-50&stop=2",
    "distance_mm=1700px", "gauge_mm=-1", "look=blue", "distance_mm=1.5.5", "a=1#b=2",
    "stop=Infinity",
)  # fmt: skip


def test_any_address_ends_in_a_plain_state(running: Browser, pages: dict[str, Path]) -> None:
    draw = random.Random(3)
    signs = "rigdstance_m=&%<>\"'#0123456789.-+eInf∞\\/ "
    fuzz = ["".join(draw.choices(signs, k=draw.randrange(40))) for _ in range(150)]
    with screens.shown(running, pages["two-lenses"]) as page:
        for values in page.visit([*ODD, *fuzz], KEYS):
            assert values["rig"] in ("portrait-85", "portrait-58")
            assert number(values["stop"]) in (2.8, 4.0, 5.6, 8.0)
            assert number(values["distance-mm"]) >= 900.0
            assert 0.0 < number(values["near-mm"]) < number(values["far-mm"])
            assert math.isfinite(number(values["taking-arc-mm"]))
        page.go("distance_mm=")
        assert page.value("distance-mm") == ""
        assert page.text("far-mm") == "∞"
        assert page.said == []
    for address in ODD:
        with screens.shown(running, pages["two-lenses"], address) as page:
            assert page.value("rig") in ("portrait-85", "portrait-58")
            assert page.said == []


# --- alone ----------------------------------------------------------------------------------------


def test_nothing_is_asked_for_and_nothing_said(running: Browser, pages: dict[str, Path]) -> None:
    for path in pages.values():
        with screens.shown(running, path) as page:
            page.page.click("#farther")
            page.page.click("#look")
            page.page.wait_for_timeout(300)
            assert page.requests == [path.as_uri()]
            assert page.said == []
            assert page.page.context.cookies() == []


def test_hostile_names_show_as_text(running: Browser, tmp_path: Path) -> None:
    name = "</script><img src=x onerror=alert(1)>\"'& שלום"
    kit = plain_kit()
    kit["name"] = kit["rigs"]["portrait"]["name"] = name
    kit["attachments"]["double"]["name"] = name
    with screens.shown(running, page_of(tmp_path, kit)) as page:
        assert page.page.inner_text("#rig option") == name
        assert page.page.inner_text("#kit") == name
        assert name in page.page.inner_text("#strips figure:first-child figcaption")
        assert page.page.query_selector("img") is None
        assert len(page.requests) == 1
        assert page.said == []


def test_a_rig_without_a_scale_says_so_and_shows_no_empty_widget(
    running: Browser, tmp_path: Path
) -> None:
    kit = plain_kit()
    for reading in kit["readings"]:
        del reading["attachment"]
    with screens.shown(running, page_of(tmp_path, kit), "distance_mm=2000") as page:
        assert "The attachment ring has no readings" in page.page.inner_text("#missing")
        assert len(page.page.query_selector_all("#strips figure")) == 1
        assert page.page.query_selector('[data-key="attachment-arc-mm"]') is None
        assert not page.page.is_visible("#locked")
        assert not page.page.is_visible('[data-key="sure-from"]')
        assert number(page.value("near-mm")) < 2000.0 < number(page.value("far-mm"))
        assert page.said == []


# --- looks ----------------------------------------------------------------------------------------

VIEWS = [
    (size, scale)
    for size in (screens.PHONE, screens.SMALL_PHONE, screens.ON_ITS_SIDE, screens.DESKTOP)
    for scale in (1, 3)
]


@pytest.mark.parametrize(("size", "scale"), VIEWS)
def test_it_fits_every_screen_with_targets_and_figures_as_large_as_asked(
    running: Browser, pages: dict[str, Path], size: dict[str, int], scale: int
) -> None:
    """44 px targets and figures of 12 mm (of 96 px an inch), as the task asks."""
    for path in pages.values():
        with screens.shown(running, path, viewport=size, device_scale_factor=scale) as page:
            assert page.page.evaluate("document.documentElement.scrollWidth") <= size["width"]
            for target in page.page.query_selector_all("button, select, input, #stop label"):
                if not (box := target.bounding_box()):
                    continue
                assert min(box["width"], box["height"]) >= 44.0, target.evaluate("e => e.outerHTML")
            figure = page.page.evaluate(_FIGURE_PX)
            assert figure >= 12.0 * 96.0 / 25.4 - 0.5
            assert page.page.evaluate(_CUT_OFF) is False
            assert page.said == []


_FIGURE_PX = """() => {
  const input = document.getElementById("distance"), style = getComputedStyle(input);
  const pen = document.createElement("canvas").getContext("2d");
  pen.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
  return pen.measureText("1").actualBoundingBoxAscent;
}"""
_CUT_OFF = """() => {
  const input = document.getElementById("distance");
  return input.scrollWidth > input.clientWidth + 1;
}"""


def test_turning_the_phone_keeps_the_state(running: Browser, pages: dict[str, Path]) -> None:
    state = "rig=portrait-58&distance_mm=1700&stop=8"
    with screens.shown(running, pages["two-lenses"], state) as page:
        before = page.value("taking-arc-mm")
        for size in (screens.ON_ITS_SIDE, screens.PHONE):
            page.page.set_viewport_size(size)  # type: ignore[arg-type]
            assert page.value("taking-arc-mm") == before
            assert page.page.is_visible("#farther")


def test_text_at_twice_the_size_loses_nothing(running: Browser, pages: dict[str, Path]) -> None:
    """WCAG 2.2, 1.4.4: text at 200 % without loss of content."""
    for path in pages.values():
        with screens.shown(running, path) as page:
            page.page.evaluate("document.documentElement.style.fontSize = '200%'")
            assert page.page.evaluate("document.documentElement.scrollWidth") <= 390
            assert page.page.evaluate(_CUT_OFF) is False
            cut = page.page.evaluate(
                "[...document.querySelectorAll('p, dd, dt, li, label, button, h2')].filter(e => "
                "e.offsetParent && !e.matches('.spoken') && e.scrollWidth > e.clientWidth + 1)"
                ".map(e => e.textContent)"
            )
            assert cut == []


def _brightest(png: bytes) -> int:
    from io import BytesIO

    from PIL import Image

    return int(np.asarray(Image.open(BytesIO(png)).convert("L")).max())


def test_night_is_dark_from_the_first_picture_on(running: Browser, pages: dict[str, Path]) -> None:
    for context, address in (({"color_scheme": "dark"}, ""), ({}, "look=night")):
        with screens.shown(running, pages["two-lenses"], address, **context) as page:
            assert page.page.evaluate("document.documentElement.dataset.look") == "night"
            assert _brightest(page.page.screenshot()) < 180
            page.page.click("#look")
            assert _brightest(page.page.screenshot()) > 240
    with screens.shown(running, pages["two-lenses"], java_script_enabled=False) as page:
        # Without its script the page is as before it has run: dark, with a table of the marks.
        assert _brightest(page.page.screenshot()) < 180
        assert "open the file in a browser" in page.page.inner_text("noscript")
        assert len(page.page.query_selector_all("noscript table")) == 2


def test_reduced_motion_moves_nothing_slowly(running: Browser, pages: dict[str, Path]) -> None:
    with screens.shown(running, pages["two-lenses"], reduced_motion="reduce") as page:
        assert page.page.evaluate(
            "getComputedStyle(document.querySelector('.moving')).transitionDuration"
        ) in ("0s", "0s, 0s")


# --- held by others -------------------------------------------------------------------------------


def test_axe_finds_nothing_serious(running: Browser, pages: dict[str, Path]) -> None:
    """axe-core's rules for WCAG 2.2 A and AA; its script is named in AXE_CORE."""
    source = os.environ.get("AXE_CORE", "")
    if not source:
        pytest.skip("no axe-core: npm install axe-core, and name its axe.min.js in AXE_CORE")
    script = Path(source).read_text(encoding="utf-8")
    for name in ("two-lenses", "feet-and-inches"):
        for look in ("day", "night"):
            with screens.shown(running, pages[name], f"look={look}") as page:
                page.page.evaluate(script)
                found = page.page.evaluate("axe.run()")["violations"]
                serious = [v for v in found if v["impact"] in ("serious", "critical")]
                assert [(v["id"], v["nodes"][0]["html"][:200]) for v in serious] == []


def test_the_scripts_types_are_sound() -> None:
    """TypeScript's checker, strict, on the JSDoc types; its program is named in TSC."""
    checker = os.environ.get("TSC") or shutil.which("tsc")
    if not checker:
        pytest.skip("no TypeScript: npm install typescript, and name its tsc in TSC")
    script = ROOT / "focuschart" / "phone" / "page.js"
    assert script.read_text(encoding="utf-8").startswith("// @ts-check\n")
    checked = subprocess.run(
        [checker, "--noEmit", "--allowJs", "--checkJs", "--strict", "--target", "es2022",
         "--lib", "es2023,dom,dom.iterable", str(script)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert (checked.returncode, checked.stdout) == (0, "")


def test_the_data_is_plain_json(pages: dict[str, Path]) -> None:
    text = pages["two-lenses"].read_text(encoding="utf-8")
    found = re.search(r'id="data">(.*?)</script>', text, re.DOTALL)
    assert found is not None
    assert json.loads(found[1])["rigs"][0]["id"] == "portrait-85"
