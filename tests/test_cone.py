"""Strips of rings that taper: rolled out as a cone is, lengths kept, nothing touching, mirrored."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from focuschart.errors import PageError
from focuschart.layout.page import Path, Text
from focuschart.layout.sheet.block import Block
from focuschart.layout.strip.band import LEAD_IN_MM, TAB_MM, RingBand, Side
from focuschart.layout.strip.cone import LARGEST_PIECE_MM, Cone, cone_of, developed, mirrored
from focuschart.layout.strip.ruler import ruler_strip
from focuschart.layout.strip.ticks import TICK_STROKE_MM
from focuschart.renderers.svg import render_svg
from tests import readback
from tests.lettering import closest_line_mm, closest_words_mm, ink_quad, texts
from tests.sheets import FACE, page_of, pdf_of
from tests.test_strips import CAPTIONS, engraved, paths, strip

Floats = NDArray[np.float64]
SIDES: st.SearchStrategy[Side] = st.sampled_from(["camera", "subject"])


@st.composite
def bands(draw: st.DrawFn, longest: float = 500.0) -> RingBand:
    """Return bands of rings that taper up to 25° to their axis, either way."""
    around = draw(st.floats(100.0, longest))
    width = draw(st.floats(8.0, 40.0))
    slope = draw(st.floats(0.002, 0.42)) * draw(st.sampled_from([1.0, -1.0]))
    far = around + 2.0 * math.pi * slope * width
    if far < 70.0:
        far = around - (far - around)
    return RingBand(around, width, "behind", draw(SIDES), far_mm=far)


def cone(band: RingBand) -> Cone:
    found = cone_of(band)
    assert found is not None
    return found


def length(points: Floats) -> float:
    return float(np.hypot(*np.diff(points, axis=0).T).sum())


def once_round(band: RingBand, turned: Floats, off: float) -> Floats:
    """Return points (n × 3) in space at angles round the cone, `off` from its index edge.

    A cone in space, from its two circumferences and its slant width; independent of the layout.
    """
    assert band.far_mm is not None
    index, far = band.length_mm / (2 * math.pi), band.far_mm / (2 * math.pi)
    radius = index + (far - index) * off / band.width_mm
    height = math.sqrt(1.0 - ((far - index) / band.width_mm) ** 2) * off
    return np.column_stack(
        (radius * np.cos(turned), radius * np.sin(turned), np.full(len(turned), height))
    )


@given(bands())
@settings(deadline=None)
def test_both_edges_keep_their_lengths(band: RingBand) -> None:
    """Each edge of once round is as long as the ring's own circumference there."""
    assert band.far_mm is not None
    x = np.linspace(0.0, band.length_mm, 20001)
    for off, round_mm in ((0.0, band.length_mm), (band.width_mm, band.far_mm)):
        edge = cone(band).rolled(np.column_stack((x, np.full_like(x, band.y(off)))), 40.0)
        assert length(edge) == pytest.approx(round_mm, abs=1e-3)


@given(bands(), st.floats(0.0, 1.0), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
@settings(deadline=None)
def test_short_lengths_on_paper_are_those_on_the_barrel(
    band: RingBand, along: float, share: float, way: float
) -> None:
    """Rolling out keeps every short length in every direction: a development of the surface."""
    x, off, step = along * (band.length_mm - 1.0), share * (band.width_mm - 0.1), 1e-3
    dx, dy = step * math.cos(2 * math.pi * way), step * abs(math.sin(2 * math.pi * way))
    arcs, offs = np.array([x, x + dx]), np.array([off, off + dy])
    flat = np.column_stack((arcs, [band.y(o) for o in offs]))
    paper = length(cone(band).rolled(flat, 0.0))
    turned = 2.0 * math.pi * arcs / band.length_mm
    ends = [once_round(band, turned[i : i + 1], float(offs[i]))[0] for i in (0, 1)]
    assert paper == pytest.approx(float(np.linalg.norm(ends[1] - ends[0])), rel=2e-3)


@given(bands(400.0), st.floats(60.0, 330.0))
@example(RingBand(262.0, 8.0, "behind", "camera", far_mm=274.566), 60.0)
@settings(deadline=None, max_examples=40)
def test_a_rolled_out_strip_is_as_clear_as_a_flat_one(band: RingBand, throw: float) -> None:
    flat = strip(engraved(band.length_mm * throw / 360.0), band)
    blocks = developed(flat, band, face=FACE)
    words = "".join(text.text for text in texts(flat.shapes)).replace(" ", "")
    found = "".join(text.text for block in blocks for text in texts(block.shapes))
    assert sorted(found.replace(" ", "")) == sorted(words)
    for block in blocks:
        assert block.width_mm <= LARGEST_PIECE_MM[0] + 0.1
        assert block.height_mm <= LARGEST_PIECE_MM[1] + 0.1
        assert closest_words_mm(block.shapes) > 0.15
        assert closest_line_mm(block.shapes, "mark:", "zero", "seam") > 0.0
        edge = np.array(block.outline[0].points)
        for text in texts(block.shapes):
            assert all(_inside(corner, edge) for corner in ink_quad(text)), text.text


def _inside(point: Floats, polygon: Floats) -> bool:
    """Count the edges a ray to the right crosses: odd inside (Jordan's curve theorem)."""
    (x, y), (x1, y1), (x2, y2) = point, polygon.T, np.roll(polygon, -1, axis=0).T
    crosses = (y1 > y) != (y2 > y)
    with np.errstate(divide="ignore", invalid="ignore"):
        at = x1 + (y - y1) / (y2 - y1) * (x2 - x1)
    return bool((crosses & (at > x)).sum() % 2)


def test_a_cylinder_is_left_as_it_is() -> None:
    band = RingBand(220.0, 12.0, "behind", "camera")
    block = strip(engraved(120.0), band)
    assert developed(block, band, face=FACE) == [block]
    even = RingBand(220.0, 12.0, "behind", "camera", far_mm=220.0)
    assert developed(block, even, face=FACE) == [block]


def test_the_sector_bends_toward_the_narrow_edge() -> None:
    """Narrow toward the subject, the apex lies above: the strip's middle hangs below its ends."""
    for far, hangs in ((200.0, True), (240.0, False)):
        band = RingBand(220.0, 12.0, "behind", "camera", far_mm=far)
        (block,) = developed(strip(engraved(120.0), band), band, face=FACE)
        xs, ys = np.array(block.outline[0].points).T
        middle = ys[np.argmin(np.abs(xs - block.width_mm / 2.0))]
        assert bool(middle < ys[np.argmin(xs)]) is hangs


def test_chords_stay_within_five_microns_of_their_arc() -> None:
    band = RingBand(220.0, 12.0, "behind", "camera", far_mm=190.0)
    (block,) = developed(strip(engraved(120.0), band), band, face=FACE)
    points = np.array(block.outline[0].points)
    centre, radius = _circle(_edge(points, 0))
    middles = (_edge(points, 0)[1:] + _edge(points, 0)[:-1]) / 2.0
    assert radius - np.hypot(*(middles - centre).T).min() < 0.005 + 1e-6


def test_a_taper_that_overlaps_itself_is_refused() -> None:
    band = RingBand(220.0, 12.0, "behind", "camera", far_mm=220.0 - 2 * math.pi * 11.9)
    with pytest.raises(PageError, match="would overlap itself when rolled out"):
        developed(strip(engraved(60.0), band), band, face=FACE)


# --- read back from the PDF, against a cone unrolled by hand ----------------------------------


@pytest.mark.parametrize("side", ["camera", "subject"])
@pytest.mark.parametrize("far", [205.0, 236.0])
def test_a_tapered_strip_in_the_pdf_goes_round_the_cone(side: Side, far: float) -> None:
    """The cut's arcs and every tick, as pdfplumber finds them, to 0.05 mm."""
    band = RingBand(220.0, 14.0, "behind", side, far_mm=far)
    marks = engraved(150.0)
    (block,) = developed(strip(marks, band), band, face=FACE)
    shapes = [shape.moved(20.0, 20.0) for shape in (*block.shapes, *block.outline)]
    data = pdf_of(page_of(*shapes, size=(297.0, 210.0)))
    cut = next(p for p in readback.pdf_paths(data)[0] if p.stroke == (1.0, 0.0, 0.0))
    lower, upper = (_edge(cut.points, edge) for edge in (0, 1))
    index, other = (lower, upper) if side == "camera" else (upper, lower)
    whole = (band.length_mm + TAB_MM) / band.length_mm
    assert length(index) == pytest.approx(band.length_mm * whole, abs=0.05)
    assert length(other) == pytest.approx(far * whole, abs=0.05)
    centre, radius = _circle(index)
    assert radius == pytest.approx(220.0 * 14.0 / abs(220.0 - far), abs=0.05)
    assert abs(radius - _circle(other)[1]) == pytest.approx(14.0, abs=0.05)
    found = np.sort(_arcs_of_ticks(data, centre, radius, index[0]))
    assert found == pytest.approx(np.sort([m.arc_mm + LEAD_IN_MM for m in marks]), abs=0.05)


def _edge(points: Floats, number: int) -> Floats:
    """Return the lower (0) or upper (1) edge of a sector's outline, left to right.

    The outline runs along the lower edge, up, back along the upper edge and down: the two longest
    steps are those across the strip.
    """
    closed = np.concatenate((points, points[:1]))
    across = np.sort(np.argsort(np.hypot(*np.diff(closed, axis=0).T))[-2:])
    lower = closed[: across[0] + 1]
    upper = closed[across[0] + 1 : across[1] + 1]
    return lower if number == 0 else upper[::-1]


def _circle(points: Floats) -> tuple[Floats, float]:
    """Return centre and radius of the circle through points, by linear least squares (Kåsa)."""
    system = np.column_stack((2.0 * points, np.ones(len(points))))
    x, y, rest = np.linalg.lstsq(system, np.square(points).sum(axis=1), rcond=None)[0]
    return np.array([x, y]), math.sqrt(rest + x * x + y * y)


def _arcs_of_ticks(data: bytes, centre: Floats, radius: float, start: Floats) -> Floats:
    """Return how far along the index edge each tick stands; all point to the apex."""
    lines = readback.pdf_lines(data)[0]
    ticks = lines[np.isclose(lines[:, 4], TICK_STROKE_MM, atol=1e-3)]
    ends = ticks[:, :4].reshape(-1, 2, 2) - centre
    first, second = ends[:, 0], ends[:, 1]
    lengths = np.hypot(*first.T) * np.hypot(*second.T)
    assert (
        np.abs(first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]).max() < 1e-3 * lengths.max()
    )
    feet = np.where((np.abs(np.hypot(*first.T) - radius) < 0.02)[:, np.newaxis], first, second)
    assert np.hypot(*feet.T) == pytest.approx(radius, abs=0.02)
    from_start = np.arctan2(feet[:, 1], feet[:, 0]) - np.arctan2(*(start - centre)[::-1])
    turned: Floats = np.abs((from_start + math.pi) % (2.0 * math.pi) - math.pi) * radius
    return turned


def test_a_tapered_rulers_millimetres_are_true_along_the_index_edge() -> None:
    band = RingBand(160.0, 12.0, "behind", "camera", far_mm=140.0)
    (block,) = developed(ruler_strip(band, CAPTIONS, face=FACE), band, face=FACE)
    feet = np.array([tick.points[0] for tick in paths(block, "mm:").values()])
    chords = np.hypot(*np.diff(feet, axis=0).T)
    radius = abs(cone(band).radius_mm)
    assert chords == pytest.approx(2.0 * radius * math.sin(0.5 / radius), abs=1e-9)


def test_a_large_sector_comes_in_pieces_that_butt_join() -> None:
    band = RingBand(420.0, 16.0, "behind", "camera", far_mm=390.0)
    flat = strip(engraved(300.0), band)
    blocks = developed(flat, band, face=FACE)
    assert len(blocks) > 1
    assert sum(length(_edge(np.array(b.outline[0].points), 0)) for b in blocks) == pytest.approx(
        band.total_mm, abs=0.05
    )
    assert [len(block.seams) for block in (blocks[0], *blocks[1:-1], blocks[-1])] == [
        1, *(2 for _ in blocks[1:-1]), 1,
    ]  # fmt: skip
    for block in blocks:
        (film,) = (s for s in block.drawn(film_mm=3.0) if s.group == "film")
        assert isinstance(film, Path)
        points = np.array(film.points)
        for start, stop in np.array(block.seams):
            way = (stop - start) / np.hypot(*(stop - start))
            off = (points - start) @ (-way[1], way[0])
            off *= np.sign(off[np.argmax(np.abs(off))])
            assert off.min() == pytest.approx(0.0, abs=1e-9)
            flush = points[off < 1e-6] @ way
            # Flush with the index edge too: 3 mm at the other edge alone.
            assert np.ptp(flush) == pytest.approx(band.width_mm + 3.0, abs=0.1)
    joins = [re.findall(r"join:\d+", " ".join(paths(block, "join:"))) for block in blocks]
    assert joins[0][-1] == joins[1][0]


# --- mirrored ---------------------------------------------------------------------------------


def test_mirrored_twice_is_the_strip_itself() -> None:
    band = RingBand(220.0, 12.0, "left", "camera")
    block = strip(engraved(120.0), band)
    again = mirrored(mirrored(block))
    for one, two in zip(block.shapes, again.shapes, strict=True):
        if isinstance(one, Text):
            assert isinstance(two, Text)
            assert (two.x, two.y, two.rotation, two.mirrored) == pytest.approx(
                (one.x, one.y, one.rotation, False)
            )
        else:
            assert isinstance(two, Path)
            assert np.array(two.points) == pytest.approx(np.array(one.points), abs=1e-9)


def _mirror_images() -> list[tuple[Block, Block]]:
    found = []
    for far, reader in ((None, "behind"), (None, "right"), (205.0, "behind")):
        band = RingBand(160.0, 12.0, reader, "camera", far_mm=far)  # type: ignore[arg-type]
        (block,) = developed(strip(engraved(90.0), band), band, face=FACE)
        found.append((block, mirrored(block)))
    return found


@pytest.mark.parametrize("number", range(3))
def test_a_mirrored_strip_is_the_mirror_image_of_its_ink(number: int) -> None:
    """pdfium's and resvg's rasters of the mirrored page, turned over, lie on the plain one's."""
    plain, turned = _mirror_images()[number]
    size = (plain.width_mm + 20.0, plain.height_mm + 20.0)
    pages = [
        page_of(*(s.moved(10.0, 10.0) for s in (*b.shapes, *b.outline)), size=size)
        for b in (plain, turned)
    ]
    dpi = 25.4 * 20
    inks = [readback.raster_pdf(pdf_of(page), 0, dpi) for page in pages]
    assert readback.ink_differs_by(inks[0], inks[1][:, ::-1], 1) < 1e-4 * inks[0].sum()
    svg = readback.raster_svg(render_svg(pages[1], face=FACE), dpi)
    assert readback.ink_differs_by(svg, inks[1], 2) < 1e-4 * svg.sum()
