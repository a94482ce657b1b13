"""The document of barrels, from kits: direction and side against the facts of the trade."""

from __future__ import annotations

from functools import cache
from itertools import product
from typing import Any

import numpy as np
import pytest

from focuschart.chart.charts import build_charts
from focuschart.kit.load import load_kit
from focuschart.layout.page import Page, Path, Text
from focuschart.pages.barrels import barrel_pages
from tests import readback
from tests.kits import kit_text, plain_kit
from tests.shapes import keyed
from tests.sheets import FACE, pdf_of


def pages_of(kit: dict[str, Any]) -> list[Page]:
    return drawn(kit_text(kit))


@cache
def drawn(text: str) -> list[Page]:
    bag = load_kit(text, source="kit.toml")
    charts = list(build_charts(bag))
    return barrel_pages(bag, charts, face=FACE, paper="A4").get("barrels", [])


def middle(shape: Path | Text) -> np.ndarray[Any, np.dtype[np.float64]]:
    assert isinstance(shape, Path)
    return np.asarray(np.min(shape.points, axis=0) + np.max(shape.points, axis=0)) / 2.0


def place(page: Page, ring: str, view: int, key: str) -> np.ndarray[Any, np.dtype[np.float64]]:
    return middle(keyed(page.shapes)[f"portrait/{ring}/{view}/{key}"])


# Which way the surface in front of each reader moves as the ring turns clockwise seen from behind:
# over the top to the right, up the left side, down the right side. Where he sees the subject.
CLOCKWISE = {"behind": (1, 0), "left": (0, 1), "right": (0, -1)}
SUBJECT = {"behind": (0, 1), "left": (-1, 0), "right": (1, 0)}


def read_from(reader: str, side: str) -> dict[str, Any]:
    """The plain kit, both rings read from one place, their indices on one side."""
    kit = plain_kit()
    for table, part in (("taking_lenses", "long"), ("attachments", "double")):
        kit[table][part]["ring"] |= {"read_from": reader, "index_side": side}
    return kit


@pytest.mark.parametrize("reader", CLOCKWISE)
@pytest.mark.parametrize("side", ["camera", "subject"])
def test_strips_stand_as_their_rings_turn(reader: str, side: str) -> None:
    (page,) = pages_of(read_from(reader, side))
    # The kit's lens turns clockwise for nearer, its attachment anticlockwise; marks are numbered
    # from the nearest, and view 0 has infinity at the index.
    for ring, turn in (("taking", 1), ("attachment", -1)):
        way = turn * np.array(CLOCKWISE[reader])
        arrow = place(page, ring, 0, "turn-head") - place(page, ring, 0, "turn")
        assert arrow @ way > 0
        infinity, index = (place(page, ring, 0, key) for key in ("mark:3", "index"))
        assert (infinity - index) @ way == pytest.approx(0.0, abs=1e-6)
        toward = (infinity - index) @ np.array(SUBJECT[reader])
        assert (toward > 0) == (side == "camera")
        five_metres = place(page, ring, 0, "mark:2")
        assert (five_metres - infinity) @ way < 0  # comes to the index so turned
        views = [place(page, ring, n, "mark:2") - place(page, ring, n, "index") for n in (0, 1)]
        assert (views[1] - views[0]) @ way > 0


def test_three_settings_a_ring_the_last_the_nearest() -> None:
    (page,) = pages_of(plain_kit())
    for ring in ("taking", "attachment"):
        shown = [keyed(page.shapes)[f"portrait/{ring}/{view}/setting"] for view in range(3)]
        texts = [shape.text.replace("\N{NO-BREAK SPACE}", " ") for shape in shown
                 if isinstance(shape, Text)]  # fmt: skip
        assert texts[0] == "∞ at the index"
        assert texts[2] == "1.2 m at the index"
        assert len(set(texts)) == 3


def test_a_ring_without_readings_is_not_shown() -> None:
    kit = plain_kit()
    for reading in kit["readings"]:
        del reading["attachment"]
    (page,) = pages_of(kit)
    assert {key.split("/")[1] for key in keyed(page.shapes) if key.startswith("portrait/")} == {
        "taking"
    }
    assert pages_of(plain_kit() | {"readings": []}) == []


def test_uncommon_rings_are_shown_and_told_of() -> None:
    kit = plain_kit()
    ring = kit["taking_lenses"]["long"]["ring"]
    del ring["diameter"]
    ring |= {"front_diameter": "61 mm", "rear_diameter": "64 mm", "width": "15 mm", "turns": 2,
             "mirrored": True}  # fmt: skip
    (page,) = pages_of(kit)
    for number, mark in ((0, "mark:3"), (2, "mark:0")):
        index = place(page, "taking", number, "index")
        assert place(page, "taking", number, mark)[0] == pytest.approx(index[0], abs=1e-6)
    told = keyed(page.shapes)["portrait/taking/head:1"]
    assert isinstance(told, Text)
    for words in ("drawn as a cylinder", "2 turns", "as read through the tape"):
        assert words in told.text
    text = keyed(page.shapes)["portrait/attachment/head:1"]
    assert isinstance(text, Text)
    assert text.text == "2x, seen from behind the camera, from above."


def test_words_tell_what_to_compare() -> None:
    (page,) = pages_of(plain_kit())
    (lines,) = readback.pdf_texts(pdf_of(page))
    text = " ".join(lines)
    for words in ("Before taping", "do not tape the strip", "Turns clockwise for nearer",
                  "Turns anticlockwise for nearer", "not to be cut"):  # fmt: skip
        assert words in text
    assert not page.in_group("cut")


def test_keys_are_there_once() -> None:
    for reader, side in product(CLOCKWISE, ("camera", "subject")):
        (page,) = pages_of(read_from(reader, side))
        keys = [shape.key for shape in page.shapes if shape.key]
        assert len(keys) == len(set(keys))
