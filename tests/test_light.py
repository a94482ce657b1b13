"""Light in the corners: where they are clean, in words, on the card, and in its code."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from focuschart.layout.page import Text
from focuschart.optics.arrays import Floats
from focuschart.prints.code import chart_code
from focuschart.prints.facts import facts_of
from focuschart.prints.topics import Topic
from focuschart.rig.light import Light, clean, clean_text, longest_run
from tests.kits import charts, plain_kit
from tests.pieces import card_items
from tests.rig_parts import changed_kit, full_kit

MARKS = np.array([1000.0, 2000.0, 5000.0, np.inf])
STOPS = np.array([1.8, 2.8, 4.0, 8.0])


def light(*passed: Floats, units: Any = "metric", complete: bool = True) -> Light:
    """Return the light of some pictures, the widest stop not being the kit's."""
    names = tuple(f"{i}" for i in range(len(passed)))
    return Light(names, STOPS, STOPS > 2.0, MARKS, np.stack(passed), units, complete)


def rows(*light_at: list[float]) -> Floats:
    """Return light at the kit's stops, and none at the lens's widest."""
    return np.array([[0.0] * 4, *light_at])


CASES = {
    "everywhere": (rows([0.6] * 4, [0.7] * 4, [1.0] * 4), "clean from f/2.8 on, 1 m to ∞"),
    "stopped down": (rows([0.4] * 4, [0.7] * 4, [1.0] * 4), "clean from f/4 on, 1 m to ∞"),
    "near alone": (rows([0.9, 0.6, 0.4, 0.1], [1.0, 0.7, 0.3, 0.0], [1.0, 0.9, 0.2, 0.0]),
                   "clean from f/2.8 on, 1 m to 2 m"),
    "one mark": (rows([0.4] * 4, [0.4] * 4, [0.4, 0.6, 0.4, 0.4]), "clean from f/8 on, 2 m"),
    "darker stopped down": (rows([0.6] * 4, [0.5] * 4, [0.4] * 4), "clean at no stop"),
    "nowhere": (rows([0.0] * 4, [0.1] * 4, [0.2] * 4), "clean at no stop"),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_where_corners_are_clean_in_words(case: str) -> None:
    passed, told = CASES[case]
    assert clean_text(light(passed)) == f"corners {told}"


def test_openings_that_are_not_known_are_said_to_be() -> None:
    told = clean_text(light(rows(*[[1.0] * 4] * 3), units="imperial", complete=False))
    assert told == "corners clean from f/2.8 on, 3'3.4\" to ∞, as far as openings are known"
    kit = changed_kit("clamps", "clamp", "clear_aperture", to=None)
    assert "to ∞, as far as openings are known (half" in back(kit)


def test_every_picture_counts() -> None:
    bright, dim = rows(*[[1.0] * 4] * 3), rows([1.0, 1.0, 0.2, 0.2], [1.0] * 4, [1.0] * 4)
    assert clean_text(light(bright, dim)) == "corners clean from f/4 on, 1 m to ∞"


@given(arrays(float, (2, 4, 4), elements=st.floats(0.0, 1.0)))
def test_what_is_called_clean_is_clean(passed: Floats) -> None:
    """At every stop of the kit from there on, at every mark between: half the light or more."""
    found = clean(light(*passed))
    ok = np.all(passed >= 0.5, axis=0)
    if found is None:
        assert not np.any(ok[-1])
        return
    stops, marks = found.from_stop <= STOPS, (found.near_mm <= MARKS) & (found.far_mm >= MARKS)
    assert found.from_stop in STOPS[1:]
    assert np.all(ok[np.ix_(stops, marks)])


@given(arrays(bool, st.integers(0, 12)))
def test_the_longest_run_by_its_definition(of: Any) -> None:
    run = longest_run(of)
    assert all(of[i] for i in run)
    texts = "".join("x" if each else " " for each in of).split()
    assert len(run) == max(map(len, texts), default=0)


def back(kit: dict[str, Any]) -> str:
    """Return all words of the pocket card."""
    (chart,) = charts(kit).values()
    blocks = [item.block for item in card_items(chart, size="A6") if "/card/" in item.key]
    return " ".join(
        shape.text for block in blocks for shape in block.shapes if isinstance(shape, Text)
    )


def test_the_card_says_where_corners_are_clean() -> None:
    assert "Picture's corners clean from f/2.8 on, 1.2 m to ∞ (half their light" in back(full_kit())
    assert "corners" not in back(plain_kit())


def test_the_code_of_the_card_follows_what_it_says() -> None:
    """A wider opening that clips nothing changes nothing; a narrow one, or a later pupil, does."""
    kits = [
        full_kit(),
        changed_kit("attachments", "double", "front_clear_aperture", to="71 mm"),
        changed_kit("attachments", "double", "rear_clear_aperture", to="26 mm"),
    ]
    cards = [charts(kit)["portrait"] for kit in kits]
    found = [chart_code(chart) for chart in cards]
    assert found[0] == found[1] != found[2]
    assert facts_of(cards[0])["card"][Topic.CORNERS] in back(kits[0])
