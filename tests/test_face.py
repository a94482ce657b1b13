"""The Python face, as README shows it."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

import focuschart
from tests.kits import kit_text, plain_kit

ROOT = Path(__file__).parent.parent
SAMPLE = ROOT / "sample_kits" / "two-lenses.toml"


@pytest.fixture(scope="module")
def kit() -> focuschart.Kit:
    return focuschart.load(SAMPLE)


@pytest.fixture(scope="module")
def charts(kit: focuschart.Kit) -> focuschart.Solved:
    return focuschart.solve(kit, rigs=["portrait-85"])


def example() -> str:
    """README's example, of which every line is run."""
    found = re.search(r"```python\n(.*?)```", (ROOT / "README.md").read_text("utf-8"), re.DOTALL)
    assert found is not None
    return found[1]


def test_the_example_of_readme_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "kit.toml").write_bytes(SAMPLE.read_bytes())
    monkeypatch.chdir(tmp_path)
    assert len(example().splitlines()) <= 10
    exec(compile(example(), "README.md", "exec"), {})
    assert (tmp_path / "strips.pdf").read_bytes().startswith(b"%PDF")


def test_nothing_heavy_is_imported_before_it_is_called_for() -> None:
    heavy = "numpy scipy pydantic reportlab click svgwrite fontTools"
    code = f"import focuschart, sys; print([n for n in {heavy.split()!r} if n in sys.modules])"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "[]"


def test_a_chart_has_arrays_in_mm(charts: focuschart.Solved) -> None:
    (chart,) = charts
    assert charts.left_out == ()
    assert chart.distances_mm[0] == 1000.0
    assert chart.taking is not None
    assert chart.attachment is not None
    assert chart.taking.arc_mm.shape == chart.attachment.arc_95_mm.shape == (8,)
    assert np.all(chart.attachment.arc_95_mm > 0.0)


@pytest.mark.parametrize("document", ["strips", "cards", "rulers", "rigs", "barrels", "bench"])
def test_every_document_is_drawn_and_rendered(
    kit: focuschart.Kit, charts: focuschart.Solved, document: str
) -> None:
    pages = focuschart.draw(kit, charts, document)
    pdf, svg = focuschart.render(pages, "pdf"), focuschart.render(pages, "svg")
    assert isinstance(pdf, bytes)
    assert pdf.startswith(b"%PDF")
    assert len(svg) == len(pages)
    assert all(isinstance(page, bytes) and b"<svg" in page for page in svg)


def test_printing_options_are_keywords(kit: focuschart.Kit, charts: focuschart.Solved) -> None:
    (page,) = focuschart.draw(kit, charts, "strips", paper="Letter", bleed="2 mm", look="night")
    assert page.width_mm == pytest.approx(11 * 25.4)
    (same,) = focuschart.draw(kit, charts, "strips", paper="Letter", bleed=2.0, look="night")
    assert page == same


def test_what_cannot_be_is_said_in_one_sentence(
    kit: focuschart.Kit, charts: focuschart.Solved
) -> None:
    with pytest.raises(focuschart.InputError, match=r'rigs is "nope": no such rig; the kit has'):
        focuschart.solve(kit, rigs=["nope"])
    with pytest.raises(focuschart.InputError, match=r'document "strip" is unknown: choose strips'):
        focuschart.draw(kit, charts, "strip")
    with pytest.raises(focuschart.InputError, match=r'option "papre" is unknown: choose paper'):
        focuschart.draw(kit, charts, "strips", papre="A4")
    with pytest.raises(focuschart.InputError, match=r'form "png" is unknown: choose pdf, svg'):
        focuschart.render(focuschart.draw(kit, charts, "strips"), "png")
    with pytest.raises(focuschart.PageError, match="unknown paper"):
        focuschart.draw(kit, charts, "strips", paper="A9")
    with pytest.raises(focuschart.InputError, match="cannot be read"):
        focuschart.load("none.toml")


def test_a_kit_error_lists_every_problem(tmp_path: Path) -> None:
    table = plain_kit()
    table["stops"] = [2.8, 2.8]
    table["cameras"]["body"]["sensor_width"] = 36
    path = tmp_path / "kit.toml"
    path.write_text(kit_text(table), encoding="utf-8")
    with pytest.raises(focuschart.KitError) as caught:
        focuschart.load(path)
    assert {one.key for one in caught.value.problems} == {"stops", "cameras.body.sensor_width"}


def test_a_ring_without_readings_is_none_and_a_kit_knows_its_file(tmp_path: Path) -> None:
    table = {**plain_kit(), "readings": []}
    path = tmp_path / "kit.toml"
    path.write_text(kit_text(table), encoding="utf-8")
    kit = focuschart.load(path)
    (chart,) = focuschart.solve(kit)
    assert chart.taking is None
    assert chart.attachment is None
    assert kit.source == str(path)


def test_the_check_is_of_every_rig(kit: focuschart.Kit) -> None:
    report = focuschart.check(kit)
    assert [one.rig.rig_id for one in report] == ["portrait-85", "portrait-58"]
    assert report.works
    assert report.left_out == ()


def test_a_swap_adds_the_rig_as_it_is_then(kit: focuschart.Kit) -> None:
    swap = focuschart.swap(kit, rigs=["portrait-85"], taking_lens="fifty-eight")
    (rig,) = swap.rigs
    (chart,) = focuschart.solving(swap.kit, rigs=[rig])
    assert chart.rig.lens_id == "fifty-eight"
    assert chart.rig.attachment_id == kit.rigs["portrait-85"].attachment
    with pytest.raises(focuschart.KitError, match="no such taking lens"):
        focuschart.swap(kit, taking_lens="nobody")


def test_the_attachment_is_locked_and_both_rings_racked(charts: focuschart.Solved) -> None:
    (chart,) = charts
    zone = focuschart.hold(chart).zone
    assert np.all(zone.near_mm < chart.distances_mm)
    assert np.all(zone.far_mm >= chart.distances_mm)
    move = focuschart.rack(chart, start_mm=1200.0, end_mm=3000.0, steps=6)
    assert move.at.distances_mm[[0, -1]].tolist() == pytest.approx([1200.0, 3000.0])
    with pytest.raises(focuschart.KitError, match="start_mm is 100 mm: nearer than"):
        focuschart.rack(chart, start_mm=100.0, end_mm=3000.0)


def test_an_unread_ring_can_neither_be_locked_nor_racked() -> None:
    unread = focuschart.load(SAMPLE).model_copy(update={"readings": []})
    chart, *_ = focuschart.solve(unread)
    for asked in (focuschart.hold, lambda one: focuschart.rack(one, start_mm=1e3, end_mm=2e3)):
        with pytest.raises(focuschart.KitError, match="rings have no readings"):
            asked(chart)


def test_what_must_be_printed_again_is_told(tmp_path: Path) -> None:
    same = focuschart.compare(SAMPLE, SAMPLE)
    assert not same.to_print
    kit = plain_kit()
    kit["attachments"]["double"]["squeeze"] = 1.9
    paths = [tmp_path / "old.toml", tmp_path / "new.toml"]
    for path, each in zip(paths, (plain_kit(), kit), strict=True):
        path.write_text(kit_text(each), encoding="utf-8")
    assert focuschart.compare(*paths).to_print
