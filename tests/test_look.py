"""Looks: nothing moves, and every mark keeps its contrast, for colour-blind eyes too."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path as FilePath

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from focuschart.errors import PageError
from focuschart.layout.page import OPERATION_COLOUR, PAPER, Page, Path, Text, box, line, rounded_box
from focuschart.layout.sheet.look import (
    BLEED_MM,
    LOOKS,
    contrast,
    look_named,
    luminance,
    seen_as,
    with_look,
)
from focuschart.renderers import RENDERERS
from tests.readback import grey_pdf
from tests.shapes import keyed
from tests.sheets import FACE, page_of, pdf_of, scene
from tests.test_cutting import SAMPLES, pack

# Machado, Oliveira and Fernandes, "A physiologically-based model for simulation of color vision
# deficiency", IEEE Trans. Visualization and Computer Graphics 15 (2009), 1291: severity 1.0, on
# linear RGB. Compared with the transcription in the Python package colorspacious 1.1.2.
DEFICIENCIES = {
    "none": np.eye(3),
    "protan": np.array([
        (0.152286, 1.052583, -0.204868), (0.114503, 0.786281, 0.099216),
        (-0.003882, -0.048116, 1.051998),
    ]),
    "deutan": np.array([
        (0.367322, 0.860646, -0.227968), (0.280085, 0.672501, 0.047413),
        (-0.011820, 0.042940, 0.968881),
    ]),
    "tritan": np.array([
        (1.255528, -0.076749, -0.178779), (-0.078411, 0.930809, 0.147602),
        (0.004733, 0.691367, 0.303900),
    ]),
}  # fmt: skip

LEAST = {"plain": 4.5, "grey": 4.5, "night": 7.0, "glow": 7.0}
"""W3C, WCAG 2.2, 1.4.3 and 1.4.6."""
LEAST_FOR_LINES = 3.0
"""W3C, WCAG 2.2, 1.4.11."""

COLOUR = st.integers(0, 0xFFFFFF).map(lambda n: f"#{n:06x}")
SWAPPED = ["night", "glow"]


def seen(colour: str, eyes: str) -> float:
    """Return the relative luminance of a colour as such eyes see it."""
    parts = np.array(list(bytes.fromhex(colour[1:]))) / 255
    linear = np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)
    clipped = np.clip(DEFICIENCIES[eyes] @ linear, 0.0, 1.0)
    return float(clipped @ (0.2126, 0.7152, 0.0722))


def seen_contrast(one: str, other: str, eyes: str) -> float:
    low, high = sorted((seen(one, eyes), seen(other, eyes)))
    return (high + 0.05) / (low + 0.05)


def ground_under(x: float, y: float, fills: list[Path]) -> str:
    """Return the last fill drawn whose extent holds a point; paper where there is none."""
    found = PAPER
    for path in fills:
        xs, ys = zip(*path.points, strict=True)
        if min(xs) <= x <= max(xs) and min(ys) <= y <= max(ys):
            found = path.fill or found
    return found


def inks_on_grounds(page: Page) -> set[tuple[str, str]]:
    """Return every pair of a mark's or text's colour and the ground on which it stands."""
    pairs: set[tuple[str, str]] = set()
    fills: list[Path] = []
    for shape in page.in_group("print"):
        if isinstance(shape, Text):
            pairs.add((shape.colour, ground_under(shape.x, shape.y, fills)))
            continue
        (xs, ys) = zip(*shape.points, strict=True)
        ground = ground_under(sum(xs) / len(xs), sum(ys) / len(ys), fills)
        if shape.stroke_mm is not None and shape.key:
            pairs.add((shape.colour, ground))
        if shape.fill is not None:
            fills.append(shape)
    return pairs


# contrast


def test_contrast_is_the_published_one() -> None:
    # 21:1 and 1:1 are the ends (WCAG 2.2). By hand, by its formula: (118/255 + 0.055)/1.055 to the
    # power of 2.4 is 0.1812, 1.05/0.2312 is 4.54; so with 119, 0.1845 and 4.48.
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#12ab34", "#12ab34") == 1.0
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)
    assert contrast("#ffffff", "#777777") == pytest.approx(4.48, abs=0.005)


@given(COLOUR)
def test_luminance_agrees_with_the_test_s_own(colour: str) -> None:
    assert luminance(colour) == pytest.approx(seen(colour, "none"), abs=1e-9)


@pytest.mark.parametrize("eyes", DEFICIENCIES)
def test_neutral_colours_stay_neutral_to_all_eyes(eyes: str) -> None:
    """Rows of the matrices sum to one."""
    assert DEFICIENCIES[eyes].sum(axis=1) == pytest.approx(np.ones(3), abs=2e-6)


@pytest.mark.parametrize("eyes", DEFICIENCIES)
@pytest.mark.parametrize("look", LOOKS)
@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_every_mark_of_a_pack_stands_out(path: FilePath, look: str, eyes: str) -> None:
    pages = [with_look(page, look) for page in pack(path)]
    pairs = set().union(*map(inks_on_grounds, pages))
    assert pairs
    for ink, ground in pairs:
        assert seen_contrast(ink, ground, eyes) >= LEAST[look], (ink, ground)


@pytest.mark.parametrize("eyes", DEFICIENCIES)
def test_lines_to_cut_and_fold_along_stand_out(eyes: str) -> None:
    for colour in OPERATION_COLOUR.values():
        assert seen_contrast(colour, PAPER, eyes) >= LEAST_FOR_LINES
    assert seen_contrast(OPERATION_COLOUR["cut"], "#000000", eyes) >= LEAST_FOR_LINES


@given(ink=COLOUR, ground=COLOUR)
@pytest.mark.parametrize("name", ["grey", "night", "glow"])
def test_whatever_is_legible_plainly_is_so_in_every_look(name: str, ink: str, ground: str) -> None:
    """Any ink that stands 3:1 against paper keeps the look's contrast on any ground."""
    look = look_named(name)
    assert look is not None
    if contrast(ink, PAPER) >= 3.0 > contrast(ground, PAPER):
        assert contrast(seen_as(ink, look), seen_as(ground, look)) >= LEAST[name]


@given(COLOUR)
@pytest.mark.parametrize("name", ["grey", "glow"])
def test_grey_looks_have_no_hue(name: str, colour: str) -> None:
    look = look_named(name)
    assert look is not None
    red, green, blue = bytes.fromhex(seen_as(colour, look)[1:])
    assert red == green == blue
    assert name == "grey" or red in (0, 255)


@given(COLOUR)
def test_the_night_keeps_a_colour_s_hue(colour: str) -> None:
    look = look_named("night")
    assert look is not None
    both = (colour, seen_as(colour, look))
    parts, found = (np.array(list(bytes.fromhex(c[1:])), int) for c in both)
    if np.ptp(found) > 8:
        assert found[np.argmax(parts)] >= found.max() - 2
        assert found[np.argmin(parts)] <= found.min() + 2


# what a look does to a page


def card() -> Page:
    return page_of(
        rounded_box(20, 20, 80, 50, radius=3.0, group="cut", key="card"),
        line((60, 20), (60, 70), group="fold", key="fold"),
        line((15, 20), (19, 20), group="crop"),
        line((30, 30), (30, 40), stroke_mm=0.1, key="mark"),
        box(40, 30, 5, 5, fill="#ffffff", key="white"),
        Text("1.2 m", 30, 45, 2.0, key="label"),
        Text("above the card", 20, 75, 2.0, key="heading"),
        size=(120.0, 90.0),
    )  # fmt: skip


def test_the_plain_look_is_the_page_itself() -> None:
    page = scene()[0]
    assert with_look(page, "plain") is page


def plain(shape: Path | Text) -> Path | Text:
    if isinstance(shape, Text):
        return replace(shape, colour="#000000")
    return replace(shape, colour="#000000", fill=None, stroke_mm=0.2)


@pytest.mark.parametrize("name", LOOKS)
def test_no_look_moves_or_drops_anything(name: str) -> None:
    for page in (card(), *scene()):
        looked = with_look(page, name)
        wanted = [plain(shape) for shape in page.shapes]
        assert [plain(shape) for shape in looked.shapes][-len(wanted) :] == wanted
        for group in ("fold", "crop", "cut", "film"):
            assert looked.in_group(group) == page.in_group(group)


@pytest.mark.parametrize("name", SWAPPED)
def test_the_ground_is_black_within_the_cut_and_runs_over_it(name: str) -> None:
    looked = with_look(card(), name)
    ground = looked.shapes[0]
    assert isinstance(ground, Path)
    assert ground.points == keyed(looked.shapes)["card"].points  # type: ignore[union-attr]
    assert (ground.fill, ground.colour, ground.closed) == ("#000000", "#000000", True)
    assert ground.stroke_mm == 2 * BLEED_MM
    for bleed_mm in (0.0, 3.0):
        other = with_look(card(), name, bleed_mm=bleed_mm).shapes[0]
        assert isinstance(other, Path)
        assert (other.stroke_mm or 0.0) == 2 * bleed_mm
    shapes = keyed(looked.shapes)
    assert {shapes[key].colour for key in ("mark", "label", "white")} == {"#ffffff"}
    assert shapes["white"].fill == "#000000"  # type: ignore[union-attr]
    assert shapes["heading"].colour == "#000000"


@pytest.mark.parametrize("name", SWAPPED)
def test_what_runs_on_over_the_cut_is_seen_on_the_dark_ground(name: str) -> None:
    """The middle of a head that bleeds 2 mm lies outside the cut, and so does a bent bar's."""
    head = Path(((8.8, 12.0), (8.8, 14.0), (11.2, 14.0), (11.2, 12.0), (10.0, 10.2)),
                True, None, fill="#000000", key="head")  # fmt: skip
    bar = Path(((2.0, 0.0), (5.0, -0.3), (8.0, 0.0)), stroke_mm=0.5, key="bar")
    cut = box(0.0, 0.0, 20.0, 12.0, group="cut", key="outline")
    mark = line((0.0, 15.0), (0.0, 17.0), stroke_mm=0.1, key="mark")
    shapes = keyed(with_look(page_of(cut, head, bar, mark), name, bleed_mm=2.0).shapes)
    assert shapes["head"].fill == "#ffffff"  # type: ignore[union-attr]
    assert [shapes[key].colour for key in ("bar", "mark")] == ["#ffffff", "#000000"]


@pytest.mark.parametrize("name", SWAPPED)
def test_a_fold_runs_in_a_bare_channel_and_fine_strokes_are_widened(name: str) -> None:
    looked = with_look(card(), name)
    channel = looked.shapes[1]
    assert isinstance(channel, Path)
    assert (channel.points, channel.colour, channel.group) == (
        ((60, 20), (60, 70)), "#ffffff", "print",
    )  # fmt: skip
    assert keyed(looked.shapes)["mark"].stroke_mm == 0.2  # type: ignore[union-attr]


@pytest.mark.parametrize("name", SWAPPED)
def test_a_page_without_a_cut_stays_as_it_is(name: str) -> None:
    page = scene()[1]
    assert with_look(page, name) == page


@given(x=st.floats(0, 200), y=st.floats(0, 200), turn=st.floats(0, 2 * math.pi))
def test_only_what_lies_within_a_turned_outline_is_swapped(x: float, y: float, turn: float) -> None:
    cos, sin = math.cos(turn), math.sin(turn)
    corners = ((-40, -10), (40, -10), (40, 10), (-40, 10))
    outline = Path(
        tuple((100 + u * cos - v * sin, 100 + u * sin + v * cos) for u, v in corners),
        closed=True, group="cut",
    )  # fmt: skip
    mark = line((x - 0.5, y), (x + 0.5, y), key="mark")
    # Its middle or one of its ends within is enough.
    places = np.array([(x - 0.5, y), (x, y), (x + 0.5, y)]) - 100
    along, over = places @ (cos, sin), places @ (-sin, cos)
    if np.min(np.abs([np.abs(along) - 40, np.abs(over) - 10])) < 0.06:
        return
    inside = bool(np.any((np.abs(along) < 40) & (np.abs(over) < 10)))
    looked = keyed(with_look(page_of(outline, mark, size=(200, 200)), "night").shapes)
    assert (looked["mark"].colour == "#ffffff") == inside


@pytest.mark.parametrize("name", SWAPPED)
def test_a_tick_on_the_edge_of_a_cut_piece_is_swapped(name: str) -> None:
    tick = line((100, 20), (100, 24), stroke_mm=0.13, key="tick")
    page = page_of(box(20, 20, 80, 12, group="cut"), tick)
    assert keyed(with_look(page, name).shapes)["tick"].colour == "#ffffff"


@pytest.mark.parametrize("name", ["", "dark", "Night", "x" * 500, "ni\nght"])
def test_an_unknown_look_is_refused(name: str) -> None:
    wanted = r"unknown look .*: choose plain, night, grey, glow"
    with pytest.raises(PageError, match=wanted) as told:
        with_look(card(), name)
    assert str(told.value).isprintable()
    assert len(str(told.value)) < 120


@pytest.mark.parametrize("name", LOOKS)
def test_looks_are_the_same_bytes_twice(name: str) -> None:
    for renderer in RENDERERS.values():
        first = renderer([with_look(card(), name)], face=FACE, title="t")
        assert renderer([with_look(card(), name)], face=FACE, title="t") == first


def test_the_marks_are_bare_paper_in_the_picture() -> None:
    """At 600 dpi: black up to the bleed's edge, white at the mark and in the channel."""
    pixels = grey_pdf(pdf_of(with_look(card(), "night")), 0, 600)

    def at(x: float, y: float) -> int:
        return int(pixels[pixels.shape[0] - round(y * 600 / 25.4) - 1, round(x * 600 / 25.4)])

    assert at(50, 60) < 8
    assert at(19.5, 50) < 8
    assert at(18.5, 50) > 247
    assert at(30, 35) > 247
    assert at(60.2, 50) > 247
