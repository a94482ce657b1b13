"""The setup cards of a rig: what stands on them, where nothing does, and that all is legible."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from focuschart.chart.charts import build_charts
from focuschart.errors import GlyphError, PageError
from focuschart.layout.card.card import Words, card_run
from focuschart.layout.card.size import CARD_SIZES, card_size
from focuschart.layout.page import Text
from focuschart.layout.sheet.block import Block
from focuschart.layout.text.typeset import SMALLEST_CAP_MM
from focuschart.pages.setup_cards import CAUTION, setup_cards
from tests.kits import loaded, plain_kit
from tests.rig_parts import changed_kit, full_kit
from tests.sheets import FACE


def blocks_of(kit: dict[str, Any], size: str = "A6") -> list[Block]:
    bag = loaded(kit)
    (chart,) = build_charts(bag)
    return [front for front, _ in setup_cards(chart, face=FACE, size=card_size(size))]


def texts(blocks: list[Block]) -> list[Text]:
    return [shape for block in blocks for shape in block.shapes if isinstance(shape, Text)]


def words(blocks: list[Block]) -> str:
    """Return all words of sides of words, spaces that bind made plain."""
    told = (text.text for text in texts(blocks) if ":words:" in text.key)
    return " ".join(told).replace("\N{NO-BREAK SPACE}", " ")


def cells(block: Block, side: str) -> list[list[str]]:
    """Return the rows of a side's table, headings first."""
    rows: dict[int, list[str]] = {}
    for text in texts([block]):
        name, *place = text.key.split(":")
        if name == side and len(place) == 2 and place[0].isdigit():
            rows.setdefault(int(place[0]), []).append(text.text)
    return list(rows.values())


def told(kit: dict[str, Any]) -> str:
    return words(blocks_of(kit))


def test_how_the_rig_stands_is_told() -> None:
    """By hand: 18 + 74 to the clamp, 12 more to the attachment, 95 more to its glass."""
    found = told({**full_kit(), "lean_limit": "1 deg"})
    assert found.startswith(
        "From the sensor mark, mm: 92 Clamp; 104 2x; 199 Clear; 199 foremost glass (rings at "
        "infinity). Plate: Carrier's axis 72 mm before the tripod thread. Support: Rods, 140 mm "
        "before the sensor mark, raised until the focus ring turns as freely as without the "
        "attachment; then it carries "
    )
    assert "Mass: 2.18 kg on Head, 1.82 kg to spare." in found
    assert (
        "Lens mount: 0.13 N m with the support rightly set, 1.36 N m without, 1.10 N m raised too "
        "hard; stated limit 2 N m."
    ) in found
    assert "Helicoid: 0.04 N m with" in found
    # 2·atan(2·28.68 / (2·85)) / 7 s; tan 1° · 24 mm / (85 mm · 18 ms) = 0.2738 rad/s.
    assert "Pans: Subject at 1.2 m / ∞: 4.5° / 5.3° a second at most" in found
    assert "(for 24 frames/s and a 180° shutter)" in found
    assert "; at ∞ upright edges lean 1°, the limit, at 15.6° a second." in found
    assert found.endswith(CAUTION)


def test_frames_and_close_ups_stand_on_sides_of_their_own() -> None:
    first, second = blocks_of(full_kit())
    frames = cells(first, "back")
    assert frames[0] == ["m", "squeeze", "2.39", "16:9"]
    assert frames[1][1] == "1.75 ± 0.09"
    assert [row[0] for row in frames[1:]] == ["1.2", "2", "5"]
    assert cells(second, "front")[0] == ["m", "f/2.8", "f/5.6"]
    assert [row[0] for row in cells(second, "front")[1:]] == ["1.2", "2", "5", "∞"]
    close_up = cells(second, "back")
    assert close_up[0] == ["rings at", "subject", "sharp f/2.8", "frame"]
    # A dioptre: one metre before the glass at 199 mm.
    assert close_up[-1][:2] == ["∞", "1.199 m"]


def test_what_looks_wider_by_one_factor_is_told_with_the_frames() -> None:
    """100 (2/1.749 − 1) = 14.4 % at the nearest mark, by the squeeze of the sample chart."""
    own, one = (
        " ".join(text.text for text in reversed(texts(blocks_of(kit))))
        for kit in (full_kit(), changed_kit("rigs", "portrait", "desqueeze", to=2.0))
    )
    assert "desqueezed by the mark's own squeeze (± 95 %)" in own
    assert "all desqueezed by 2: faces up to 14 % too wide" in one


def test_a_support_that_alone_keeps_a_limit_is_told() -> None:
    kit = changed_kit("taking_lenses", "long", "helicoid_moment_limit", to="0.9 N m")
    assert "stated limit 0.9 N m: NEVER WITHOUT THE SUPPORT." in told(kit)


def test_a_kit_in_feet_has_its_setup_in_inches_and_pounds() -> None:
    """92 mm are 3.62 in, 140 mm 5.51 in, 72.4 mm 2.85 in; 2,180 g are 76.9 oz, 600 g 21.2 oz."""
    kit = changed_kit("rigs", "portrait", "front_unit", to="600 g") | {"units": "imperial"}
    found = told(kit)
    assert found.startswith("From the sensor mark, inches: 3.6 Clamp; ")
    assert 'axis 2.9" before the tripod thread.' in found
    assert 'Support: Rods, 5.5" before the sensor mark, ' in found
    assert "Mass: 4 lb 13 oz on Head, 4 lb to spare." in found
    assert "Lens mount, 1 lb 5 oz more in front: " in found
    assert " mm" not in found
    assert " kg" not in found


def test_what_is_added_in_front_is_told_beside_the_rig_without_it() -> None:
    """The mount bears 600 g at 203 mm + 20 mm, 18 mm before it: 1.206 N m more than 1.36 N m."""
    kit = changed_kit("rigs", "portrait", "front_unit", to="600 g")
    assert "Lens mount, 600 g more in front: " in told(kit)
    assert "2.56 N m without" in told(kit)
    del kit["rigs"]["portrait"]["support"]
    assert "Support: None: the lens mount carries all." in told(kit)


def test_an_odd_last_side_has_the_cautions_behind_it() -> None:
    kit = full_kit()
    del kit["close_up_lenses"]
    *_, last = blocks_of(kit)
    assert cells(last, "front")[0] == ["m", "f/2.8", "f/5.6"]
    back = " ".join(text.text for text in texts([last]) if text.key.startswith("back:words"))
    assert "Never point the rig at the sun." in back


def test_a_side_stands_only_where_the_kit_tells_it() -> None:
    """Frames and what the locked attachment holds are told by every rig whose rings are read."""
    (block,) = blocks_of(plain_kit())
    assert cells(block, "front")[0] == ["m", "squeeze", "whole frame"]
    assert cells(block, "back")[0] == ["m", "f/2.8", "f/5.6"]
    kit = plain_kit() | {"deliveries": ["scope"]}
    (block,) = blocks_of(kit)
    assert cells(block, "front")[0] == ["m", "squeeze", "scope"]
    kit = full_kit()
    del kit["deliveries"]
    assert cells(blocks_of(kit)[0], "back")[0] == ["m", "squeeze", "whole frame"]
    kit = changed_kit("cameras", "body", "tripod_thread", to=None)
    assert "Balance: 82 mm before the sensor mark." in told(kit)
    kit = changed_kit("cameras", "body", "mass", to=None)
    assert "Mass: At least 1.48 kg on Head." in told(kit)
    assert "not given" not in told(kit)
    kit = changed_kit("clamps", "clamp", "mass", to=None)
    assert "Lens mount: stated limit 2 N m." in told(kit)


def test_a_rig_marked_at_infinity_alone_has_no_frames() -> None:
    first, second = blocks_of(full_kit() | {"distances": ["inf"]})
    assert cells(first, "back")[0] == ["m", "f/2.8", "f/5.6"]
    assert cells(second, "front")[0][0] == "rings at"


def test_a_close_up_lens_on_the_rig_is_said_to_be_on_it() -> None:
    kit = full_kit()
    kit["rigs"]["portrait"]["front"] = ["clear", "plus"]
    noted = " ".join(text.text for text in texts(blocks_of(kit)))
    assert "On the rig. Rings at the label" in noted


def long_names() -> dict[str, Any]:
    kit = full_kit() | {"deliveries": ["2.39", "16:9", "scope", "flat"], "units": "both"}
    for section in ("clamps", "attachments", "filters", "supports", "carriers", "close_up_lenses"):
        for table in kit[section].values():
            table["name"] = (table["name"] + " wxyz" * 12)[:60]
    return kit | {"distances": [f"{10 + i} m" for i in range(40)]}


@pytest.mark.parametrize("size", CARD_SIZES)
@pytest.mark.parametrize("kit", [full_kit(), long_names()], ids=["full", "long names"])
def test_setup_cards_are_legible_and_whole(kit: dict[str, Any], size: str) -> None:
    width, height = CARD_SIZES[size]
    for block in blocks_of(kit, size):
        assert (block.width_mm, block.height_mm) == (2 * width, height)
        spans: list[tuple[float, float, float, float]] = []
        for text in texts([block]):
            assert text.cap_mm >= SMALLEST_CAP_MM
            long = FACE.width_mm(text.text, cap_mm=text.cap_mm)
            left = text.x - (long if text.anchor == "end" else 0.0)
            side = 0.0 if text.x <= width else width
            assert side <= left
            assert left + long <= side + width + 1e-9
            assert 0.0 <= text.y <= height - text.cap_mm
            spans.append((left, left + long, text.y, text.y + text.cap_mm))
        boxes = np.array(spans)
        for number, box in enumerate(boxes):
            others = boxes[number + 1 :]
            across = (others[:, 0] < box[1]) & (box[0] < others[:, 1])
            assert not np.any(across & (others[:, 2] < box[3]) & (box[2] < others[:, 3]))


def test_words_are_dealt_to_as_few_sides_as_they_need() -> None:
    notes = tuple(f"{number}: " + "word " * 20 for number in range(12))
    run = card_run("k", [[Words("T", "C", notes)]], size=card_size("ID-1"), face=FACE)
    blocks = [front for front, _ in run]
    shown = " ".join(text.text for text in texts(blocks))
    assert shown.count("word") == 240
    assert "T (1 of " in shown
    ((block, _),) = card_run("k", [[Words("T", "C", notes[:1])]], size=card_size("ID-1"), face=FACE)
    assert min(text.cap_mm for text in texts([block])) > 2.0


def test_a_paragraph_too_long_for_a_card_is_refused() -> None:
    side = Words("T", "C", ("word " * 400,))
    with pytest.raises(PageError, match=r"k: a card of 85.6 × 53.98 mm is too small"):
        card_run("k", [[side]], size=card_size("ID-1"), face=FACE)


def test_a_name_that_cannot_be_printed_is_told_with_its_key() -> None:
    with pytest.raises(GlyphError, match=r"supports\.rods\.name: the font has no glyph for"):
        blocks_of(changed_kit("supports", "rods", "name", to="環"))
