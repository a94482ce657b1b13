"""From charts to pages: what stands on strips and cards is what the charts say."""

from __future__ import annotations

from pathlib import Path

import pytest

from focuschart.chart.charts import build_charts
from focuschart.chart.model import Chart
from focuschart.kit.load import load_kit
from focuschart.layout.page import Path as Shape
from focuschart.layout.page import Text
from focuschart.prints.code import ALPHABET, chart_code, coded, is_code
from focuschart.rig.ring import Which
from focuschart.units import metric_label
from tests.pieces import card_items, strip_items

SAMPLES = Path(__file__).parent.parent / "sample_kits"
# The ring, and +1 where its figures rise nearer: the mild kit's attachment turns clockwise.
RINGS = [("two-lenses", "taking", 1), ("two-lenses", "attachment", 1), ("mild-street", "taking", 1),
         ("mild-street", "attachment", -1)]  # fmt: skip


def solved(name: str, text: str = "") -> tuple[Chart, dict[str, dict[str, Shape | Text]]]:
    """Return a kit's first chart, and the keyed shapes of each of its strips."""
    kit = load_kit(text or (SAMPLES / f"{name}.toml").read_text(encoding="utf-8"), source=name)
    charts = list(build_charts(kit))
    items = strip_items(charts[:1])
    return charts[0], {i.key: {s.key: s for s in i.block.shapes if s.key} for i in items}


def xs(shape: Shape | Text) -> list[float]:
    assert isinstance(shape, Shape)
    return [x for x, _ in shape.points]


@pytest.mark.parametrize(("name", "which", "rise"), RINGS)
def test_labels_zones_and_errors_are_the_charts(name: str, which: Which, rise: int) -> None:
    chart, strips = solved(name)
    shapes, (_, marks) = strips[f"{chart.rig.rig_id}/{which}"], chart.ring(which)
    zero = xs(shapes["zero"])[0]
    for i, distance in enumerate(chart.distances_mm.tolist()):
        label = shapes[f"label:{i}"]
        assert isinstance(label, Text)
        assert label.text == metric_label(distance).removesuffix(" m")
        zone, sure = sorted(xs(shapes[f"zone:{i}.0"])), sorted(xs(shapes[f"sure:{i}.0"]))
        ends = sorted((marks.near_arc_mm[0, i], marks.far_arc_mm[0, i]))
        assert [x - zero for x in zone] == pytest.approx(ends)
        assert sure[1] - sure[0] == pytest.approx(2 * marks.arc_95_mm[i])
    nearest, farthest = xs(shapes["mark:0"])[0], xs(shapes["mark:2"])[0]
    assert (nearest - farthest) * rise > 0


@pytest.mark.parametrize(("name", "which", "rise"), RINGS)
def test_the_arrow_is_the_way_the_top_of_the_ring_turns(name: str, which: Which, rise: int) -> None:
    """Seen from behind, the top of a ring that turns anticlockwise moves left."""
    chart, strips = solved(name)
    arrow = xs(strips[f"{chart.rig.rig_id}/{which}"]["arrow:1"])
    tip_is_left = arrow[0] == min(arrow)
    assert tip_is_left == (rise > 0)


@pytest.mark.parametrize(("name", "which", "rise"), RINGS)
def test_brackets_have_near_on_the_side_of_nearer_marks(name: str, which: Which, rise: int) -> None:
    chart, strips = solved(name)
    _, marks = chart.ring(which)
    shapes = strips[f"{chart.rig.rig_id}/{which}/index"]
    witness = xs(shapes["witness"])[0]
    bracket = xs(shapes[f"bracket:f/{chart.stops[0]:g}"])
    near = (max(bracket) if rise > 0 else min(bracket)) - witness
    offsets = marks.near_arc_mm[0] - marks.arc_mm
    assert near == pytest.approx(rise * min(abs(offsets)))


def test_the_card_shows_each_ring_in_its_own_column() -> None:
    name = "mild-street"
    kit = load_kit((SAMPLES / f"{name}.toml").read_text(encoding="utf-8"), source=name)
    (chart,) = build_charts(kit)
    cells: dict[str, str] = {}
    for item in card_items(chart, size="A6")[:2]:
        texts = [s for s in item.block.shapes if isinstance(s, Text)]
        side = {s.key.partition(":")[0]: s.text for s in texts if s.key.endswith(":0:1")}
        cells |= {f"{side.get(s.key.partition(':')[0], '')}/{s.key.partition(':')[2]}": s.text
                  for s in texts}  # fmt: skip
    (_, taking), (_, attachment) = chart.ring("taking"), chart.ring("attachment")
    for i in range(len(chart.distances_mm)):
        assert cells[f"lens mm/{i + 1}:1"] == f"{taking.arc_mm[i]:.1f}"
        assert cells[f"lens mm/{i + 1}:2"] == f"{attachment.arc_mm[i]:.1f}"
        assert cells[f"squeeze/{i + 1}:1"] == f"{chart.squeeze[i]:.2f} ± {chart.squeeze_95[i]:.2f}"


def test_marks_nearer_than_the_nearest_reading_are_extrapolated() -> None:
    chart, _ = solved("two-lenses")
    assert chart.nearest_read_mm == 1000.0
    text = (SAMPLES / "two-lenses.toml").read_text().partition("[[readings]]")[0]
    kit = load_kit(text, source="unread")
    assert next(build_charts(kit)).nearest_read_mm == 0.0


SAMPLE = (SAMPLES / "two-lenses.toml").read_text()


@pytest.mark.parametrize(
    ("old", "new", "changes"),
    [
        ('units = "metric"', 'units = "imperial"', True),
        ("stops = [2.8, 4", "stops = [2.8, 4.5", True),
        ("taking = 80.1", "taking = 80.2", True),
        ('name = "Portrait 58"', 'name = "Other 58"', False),
        ('name = "Full-frame body"', 'name = "Spare body"', False),
    ],
)
def test_the_code_changes_with_what_is_printed_alone(old: str, new: str, changes: bool) -> None:
    assert SAMPLE.count(old) == 1
    texts = (SAMPLE, SAMPLE.replace(old, new))
    codes = {chart_code(solved("two-lenses", text)[0]) for text in texts}
    assert (len(codes) == 2) == changes


def test_a_code_copied_wrong_is_refused() -> None:
    code = coded(12345678)
    assert is_code(code)
    for place in range(5):
        for sign in set(ALPHABET) - {code[place]}:
            assert not is_code(code[:place] + sign + code[place + 1 :])
    for place in range(4):
        swapped = code[:place] + code[place + 1] + code[place] + code[place + 2 :]
        assert swapped == code or not is_code(swapped)
