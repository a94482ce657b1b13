"""What a sheet says of its pieces: in the blank room, outside the cut, and on the first page."""

from __future__ import annotations

from functools import cache
from pathlib import Path as FilePath
from typing import Any

import numpy as np
import pytest

from focuschart.chart.charts import build_charts
from focuschart.chart.model import Chart
from focuschart.kit.load import load_kit
from focuschart.kit.schema import Kit
from focuschart.layout.extent import ink_boxes
from focuschart.layout.page import Page, Path, Room, Shape, Text
from focuschart.layout.sheet.finish import Finish
from focuschart.layout.sheet.packing import spared
from focuschart.layout.strip.index import Bracket, IndexStrip, index_strip
from focuschart.pages.first import FIRST, first_pages
from focuschart.pages.pack import Paper, pack_document
from focuschart.prints.code import codes
from tests.command import run
from tests.kits import kit_text, plain_kit
from tests.sheets import FACE

PAPERS = ("A4", "A3", "Letter", "330 x 200 mm", "150 x 220 mm")


@cache
def solved(text: str) -> tuple[Kit, tuple[Chart, ...]]:
    kit = load_kit(text, source="kit.toml")
    return kit, tuple(build_charts(kit))


def drawn(name: str, kit: dict[str, Any] | None = None, **on: Any) -> list[Page]:
    bag, charts = solved(kit_text(kit or plain_kit()))
    packed = pack_document(name, bag, charts, face=FACE, on=Paper(**on))
    return [page for sheets in packed.values() for page in sheets.pages]


def words(shapes: Any) -> str:
    return " ".join(shape.text for shape in shapes if isinstance(shape, Text))


def steps(page: Page) -> list[Shape]:
    return [shape for shape in page.shapes if shape.key.startswith("step")]


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", ["strips", "cards", "rulers"])
@pytest.mark.parametrize("finish", [Finish(), Finish(copies=3, bleed_mm=2.0, film_mm=3.0)])
def test_steps_meet_nothing_else_on_a_sheet(name: str, paper: str, finish: Finish) -> None:
    for page in drawn(name, paper=paper, finish=finish):
        own = steps(page)
        others = [shape for shape in page.shapes if shape not in own]
        if not own:
            continue
        one = ink_boxes(own, face=FACE)[:, np.newaxis]
        other = ink_boxes(others, face=FACE)[np.newaxis]
        apart = np.maximum(one[..., :2] - other[..., 2:], other[..., :2] - one[..., 2:])
        assert np.all(np.max(apart, axis=-1) > 0.5)


@pytest.mark.parametrize("name", ["strips", "rulers"])
def test_every_whole_sheet_of_strips_has_steps(name: str) -> None:
    for paper in ("A4", "A3", "Letter"):
        for page in drawn(name, paper=paper):
            assert "red" in words(steps(page))


def test_what_is_spared_is_free_and_as_large_as_can_be() -> None:
    rng = np.random.default_rng(5)
    whole = Room(12.0, 14.0, 280.0, 180.0)
    taken = [Room(*rng.uniform((12, 14), (200, 120)), *rng.uniform(5, 70, 2)) for _ in range(6)]
    for room in spared(taken, whole):
        assert whole.x - 1e-6 <= room.x
        assert room.right <= whole.right + 1e-6
        for other in taken:
            assert (
                room.right <= other.x + 1e-6 or other.right <= room.x + 1e-6
                or room.top <= other.y + 1e-6 or other.top <= room.y + 1e-6
            )  # fmt: skip
    assert spared([], whole) == [whole]


# --- outside the cut ------------------------------------------------------------------------------


def notes(page: Page) -> dict[str, list[float]]:
    """Return the words beside each ring's pieces, and the x of their triangles."""
    tips = [s.points[0] for s in page.shapes if isinstance(s, Path) and "note-tip" in s.key]
    texts = [s for s in page.shapes if isinstance(s, Text) and s.text.startswith("∞ about")]
    return {text.text: [tip[0] for tip in tips] for text in texts}


def unread(turns: str) -> dict[str, Any]:
    kit = plain_kit()
    for table, part in (("taking_lenses", "long"), ("attachments", "double")):
        kit[table][part]["ring"]["nearer_turns"] = turns
    del kit["readings"]
    return kit


@pytest.mark.parametrize(("turns", "rises"), [("anticlockwise", True), ("clockwise", False)])
def test_a_new_ruler_begins_at_infinity(turns: str, rises: bool) -> None:
    """Seen from behind the top of a ring that turns clockwise goes right, and figures fall."""
    from focuschart.pages.steps import infinity_mm

    _, (chart,) = solved(kit_text(unread(turns)))
    for which, (ring, _) in chart.rings().items():
        at = infinity_mm(chart, which)
        assert at is not None
        # The whole throw must find room on the side to which figures run.
        room = ring.ruler_length_mm - 8.0 - at if rises else at
        assert room > 0.85 * ring.ruler_length_mm


def test_a_ruler_of_a_ring_that_was_read_is_marked_where_its_infinity_was_read() -> None:
    from focuschart.pages.steps import infinity_mm

    _, (chart,) = solved(kit_text(plain_kit()))
    for which, (_, marks) in chart.rings().items():
        assert marks is not None
        (read,) = marks.arc_mm[np.isinf(chart.distances_mm)]
        assert infinity_mm(chart, which) == pytest.approx(read, abs=2.5)


def test_every_piece_says_which_edge_lies_at_the_index() -> None:
    (page,) = drawn("rulers", paper="A4")
    said = words(page.shapes)
    assert said.count("this edge to the fixed index") == 2
    assert said.count("∞ about here") == 2
    assert said.count("diamond line") == 2


@pytest.mark.parametrize("side", ["camera", "subject"])
def test_the_triangle_of_an_index_strip_points_at_the_ring(side: Any) -> None:
    strip = IndexStrip(side, (Bracket("f/2.8", 1.0, 1.0),), "85 mm", "ABCDE-F", comb=(0.5, 1.0))
    block = index_strip(strip, face=FACE)
    (triangle,) = (s for s in block.shapes if isinstance(s, Path) and s.key == "to-ring")
    (witness,) = (s for s in block.shapes if isinstance(s, Path) and s.key == "witness")
    tip, foot = triangle.points[0][1], triangle.points[1][1]
    ends = [y for _, y in witness.points]
    ring = 0.0 if side == "subject" else block.height_mm
    assert ring in ends  # the line touches the edge at the ring
    assert abs(tip - ring) < abs(foot - ring)
    assert block.notes[0].upper == (side == "camera")


# --- the first page -------------------------------------------------------------------------------


def first(kit: dict[str, Any]) -> tuple[Chart, Page]:
    _, (chart,) = solved(kit_text(kit))
    pages = first_pages(chart, face=FACE, paper="A4", finish=Finish())
    return chart, pages[FIRST][0]


def test_the_first_page_names_the_strips_that_it_sends_to_each_ring() -> None:
    chart, page = first(plain_kit())
    said = words(page.shapes)
    coded = codes(chart)
    assert all(coded[name] in said for name in coded if name != "setup")
    assert "within tolerance from" in said
    assert "Never point the rig at the sun" in said


def test_without_readings_the_first_page_sends_to_the_rulers() -> None:
    _, page = first(unread("clockwise"))
    said = words(page.shapes)
    assert "rulers.pdf" in said
    assert "strips.pdf" not in said


def test_an_index_set_by_focus_is_told_with_its_distance() -> None:
    kit = plain_kit()
    assert "Surer still" in words(first(kit)[1].shapes)
    kit["rigs"]["portrait"]["index_set_at"] = {"taking": "2 m", "attachment": "2 m"}
    said = words(first(kit)[1].shapes)
    assert said.count("on a target at 2 m") == 2
    assert "Surer still" not in said


@pytest.mark.parametrize("paper", ["A4", "Letter", "100 x 200 mm"])
def test_a_build_has_the_first_page_and_the_barrels(tmp_path: FilePath, paper: str) -> None:
    (tmp_path / "bag.toml").write_text(kit_text(plain_kit()), encoding="utf-8")
    run("build", tmp_path / "bag.toml", "--out", tmp_path / "out", "--paper", paper)
    made = sorted(path.name for path in tmp_path.glob("out/*/*/*.pdf"))
    assert made[0] == "00-read-me-first.pdf"
    assert "barrels.pdf" in made
