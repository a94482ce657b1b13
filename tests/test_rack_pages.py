"""The rack's sheet and the card's table of the locked attachment: true to scale, nothing meets."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from focuschart.chart.locked import locked_ring
from focuschart.chart.rack import rack
from focuschart.errors import KitError, PageError
from focuschart.layout.page import Page, Path, Text
from focuschart.layout.rack.rack_graph import Curve, Graph
from focuschart.layout.rack.rack_sheet import RackSheet, rack_page
from focuschart.layout.rack.zone_bars import Marked, Zone, that_fit
from focuschart.layout.sheet.papers import PAPERS
from focuschart.layout.text.typeset import SMALLEST_CAP_MM
from focuschart.pages.hold import hold_bars, hold_table
from focuschart.pages.rack import rack_pages
from focuschart.units import format_range
from tests import readback
from tests.kits import charts, loaded, plain_kit
from tests.shapes import corners, keyed
from tests.sheets import FACE, pdf_of


def page_of(
    kit: dict[str, Any], *, ends: tuple[float, float] = (1200.0, 3000.0), steps: int = 8,
    paper: str = "A4",
) -> Page:  # fmt: skip
    chart = charts(kit)["portrait"]
    found = rack(chart, start_mm=ends[0], end_mm=ends[1], steps=steps)
    (page,) = rack_pages(loaded(kit), found, seconds=2.0, face=FACE, paper=paper)
    return page


def words(page: Page, start: str) -> str:
    found = [s.text for s in page.shapes if isinstance(s, Text) and s.key.startswith(start)]
    return " ".join(found)


def many_marks() -> dict[str, Any]:
    kit = plain_kit()
    kit["distances"] = [f"{d:g} m" for d in np.linspace(1.0, 9.0, 30).round(2)] + ["inf"]
    kit["stops"] = [2.8, 4, 5.6, 8, 11, 16, 22, 32]
    return kit


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("steps", [1, 8, 40])
@pytest.mark.parametrize("kit", [plain_kit(), many_marks()])
def test_all_stays_on_the_sheet_and_no_words_meet(
    kit: dict[str, Any], steps: int, paper: str
) -> None:
    page = page_of(kit, steps=steps, paper=paper)
    texts = [shape for shape in page.shapes if isinstance(shape, Text)]
    assert min(text.cap_mm for text in texts) >= SMALLEST_CAP_MM
    boxes = np.array([box_of(text) for text in texts if text.rotation == 0.0])
    drawn = np.concatenate([np.array(s.points) for s in page.shapes if isinstance(s, Path)])
    for low, high in ((drawn, drawn), (boxes[:, :2], boxes[:, 2:])):
        assert np.all(low >= 0.0)
        assert np.all(high <= [page.width_mm, page.height_mm])
    low, high = boxes[:, np.newaxis, :2], boxes[np.newaxis, :, 2:]
    over = np.all(np.maximum(low, low.swapaxes(0, 1)) < np.minimum(high, high.swapaxes(0, 1)), -1)
    assert not np.any(np.triu(over, 1))


def box_of(text: Text) -> tuple[float, float, float, float]:
    """Left, foot, right and top of an upright text's capitals."""
    width = FACE.width_mm(text.text, cap_mm=text.cap_mm)
    left = text.x - width * {"start": 0.0, "middle": 0.5, "end": 1.0}[text.anchor]
    return left, text.y, left + width, text.y + text.cap_mm


def test_the_table_holds_every_step() -> None:
    page = page_of(plain_kit(), steps=40)
    shapes = keyed(page.shapes)
    assert words(page, "heading") == "Portrait: Rack from 1.2 m to 3 m"
    assert "40 equal steps" in words(page, "table:0")
    assert [shapes[f"table:0:{k + 1}:0"].text for k in range(41)] == [  # type: ignore[union-attr]
        str(k) for k in range(41)
    ]
    assert "go soft" in words(page, "words")
    assert "Test the move on camera" in words(page, "words")


def test_both_curves_are_drawn_to_one_scale() -> None:
    """Heights over the axis stand as the arcs turned, whatever way each ring turns."""
    kit = plain_kit()
    chart = charts(kit)["portrait"]
    found = rack(chart, start_mm=1200.0, end_mm=3000.0, steps=8)
    shapes = keyed(page_of(kit).shapes)
    rises = []
    for number, ring in enumerate((found.at.taking, found.at.attachment)):
        x, y = corners(shapes[f"curve:{number}"]).T
        assert np.all(np.diff(x) > 0.0)
        assert np.all(np.diff(y) >= -1e-9)
        rises.append((y[-1] - y[0]) / abs(ring.arc_mm[-1] - ring.arc_mm[0]))
    assert rises[0] == pytest.approx(rises[1], rel=1e-9)


def test_signs_stand_on_their_curves() -> None:
    shapes = keyed(page_of(plain_kit()).shapes)
    for number in (0, 1):
        x, y = corners(shapes[f"curve:{number}"]).T
        for n in range(9):
            middle = corners(shapes[f"curve:{number}:step:{n}"]).mean(axis=0)
            assert np.interp(middle[0], x, y) == pytest.approx(middle[1], abs=0.05)


def test_bars_are_to_one_scale_about_their_marks() -> None:
    kit = plain_kit()
    found = locked_ring(charts(kit)["portrait"])
    chart, shapes = found.chart, keyed(page_of(kit).shapes)
    scales = []
    for i, mark in enumerate(chart.distances_mm):
        middle = corners(shapes[f"bar:{i}:mark"])[0, 0]
        for j in range(len(chart.stops)):
            for name, zone in (("one-hand", found.zone), ("at-rest", chart.frame)):
                x = corners(shapes[f"bar:{i}:{j}:{name}"])[:, 0]
                scales.append((middle - x.min()) / (1.0 / zone.near_mm[j, i] - 1.0 / mark))
                right = 1.0 / mark - 1.0 / zone.far_mm[j, i]
                assert x.max() - middle == pytest.approx(scales[-1] * right, abs=1e-6)
    assert np.array(scales) == pytest.approx(scales[0], rel=1e-9)


def test_bars_without_room_are_left_out_and_said() -> None:
    assert "the rest: focuschart hold" in words(page_of(many_marks()), "bars:key")
    assert "the rest" not in words(page_of(plain_kit()), "bars:key")


def test_what_fits() -> None:
    bar = Zone("f/2.8", (-1.0, 1.0), (-2.0, 2.0), "1", "3", "")
    marks = [Marked(str(n), (bar,) * 4) for n in range(10)]
    assert that_fit(marks, 40) == (marks, False)
    kept, left_out = that_fit(marks, 25)
    assert ([len(mark.zones) for mark in kept], left_out) == ([2] * 10, True)
    kept, left_out = that_fit(marks, 4)
    assert ([mark.label for mark in kept], left_out) == (["0", "3", "6", "9"], True)
    assert [mark.label for mark in that_fit(marks, 1)[0]] == ["0"]
    with pytest.raises(PageError, match="larger paper"):
        that_fit(marks, 0)


def test_a_table_too_long_for_the_sheet_is_refused() -> None:
    rows = tuple((str(n), "1.2 m") for n in range(90))
    graph = Graph(1.0, (0.0, 1.0), (Curve("a", (0.0, 1.0)), Curve("b", (0.0, 2.0))))
    sheet = RackSheet("t", "h", "c", (("Steps", rows),), ("Words.",), graph, ())
    with pytest.raises(PageError, match="fewer steps or larger paper"):
        rack_page(sheet, paper="A4", face=FACE)


def test_the_sheet_reads_back_from_its_pdf() -> None:
    (texts,) = readback.pdf_texts(pdf_of(page_of(plain_kit())))
    read = "".join(texts).replace(" ", "")
    for told in ("Rackfrom1.2mto3m", "attachmenthand", "lockedat"):
        assert told in read


# --- the card's table -----------------------------------------------------------------------------


def test_the_cards_table_has_the_one_hand_zones() -> None:
    kit = plain_kit()
    found = locked_ring(charts(kit)["portrait"])
    table = hold_table(found.chart)
    assert table.headings == ("m", "f/2.8", "f/5.6")
    assert table.optional == 1
    assert [row[0] for row in table.rows] == ["1.2", "2", "5", "∞"]
    near, far = found.zone.near_mm[0, 1], found.zone.far_mm[0, 1]
    assert table.rows[1][1] == format_range(float(near), float(far), "metric")


def test_a_rig_with_an_unread_ring_has_no_table() -> None:
    kit = plain_kit()
    kit["readings"] = []
    with pytest.raises(KitError, match="rings have no readings"):
        hold_table(charts(kit)["portrait"])


def test_bars_hold_their_zone_at_rest() -> None:
    kit = plain_kit()
    for mark in hold_bars(charts(kit)["portrait"]):
        for zone in mark.zones:
            assert zone.one_hand[0] <= zone.at_rest[0] <= 0.0 <= zone.at_rest[1] <= zone.one_hand[1]
