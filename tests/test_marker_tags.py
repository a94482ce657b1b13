"""Marker strips have tags wherever their marks are: a photograph of any setting shows enough."""

from __future__ import annotations

import math
from itertools import combinations

import numpy as np
import pytest

from focuschart.chart.charts import build_charts
from focuschart.layout.extent import ink_boxes
from focuschart.layout.page import Text
from focuschart.layout.sheet.block import Block
from focuschart.layout.strip.band import LEAD_IN_MM
from focuschart.layout.strip.marker import marker_strip
from focuschart.pages.strips import marker_of
from focuschart.photo.pairs import LEAST_RING_TAGS
from tests.photographs.markers import SHOWN, Shown, kit
from tests.sheets import FACE

_SEEN = 0.75
"""Radians to each side that a photograph square on shows well: foreshortened to 0.73."""


def strip_of(shown: Shown) -> tuple[Block, np.ndarray]:
    (chart,) = build_charts(kit(shown.bag), only=[shown.rig])
    block = marker_strip(marker_of(chart, shown.which), face=FACE)
    marks = chart.rings()[shown.which][1]
    assert marks is not None
    return block, marks.arc_mm


@pytest.mark.parametrize("shown", SHOWN, ids="-".join)
def test_tags_are_seen_on_both_sides_of_every_setting(shown: Shown) -> None:
    block, arcs = strip_of(shown)
    middles = np.array([tag.middle[0] for tag in block.tags]) - LEAD_IN_MM
    once = shown.ring.strip_length_mm
    line = np.arange(arcs.min() - 8.0, arcs.max() + 8.0, 1.0)[:, np.newaxis]
    off = (middles - line + once / 2.0) % once - once / 2.0
    reach = _SEEN * once / (2.0 * math.pi)
    left, right = ((off > -reach) & (off < 0)).sum(axis=1), ((off < reach) & (off > 0)).sum(axis=1)
    assert left.min() >= 1
    assert right.min() >= 1
    assert (left + right).min() >= LEAST_RING_TAGS + 1


@pytest.mark.parametrize("shown", SHOWN, ids="-".join)
def test_tags_lie_over_no_ink_and_hide_no_mark(shown: Shown) -> None:
    block, _ = strip_of(shown)
    others = [s for s in block.shapes if s.group == "print" and not s.key.startswith("tag:")]
    found = [ink_boxes([shape], face=FACE) for shape in others]
    for shape, box in zip(others, found, strict=True):
        if isinstance(shape, Text) and not shape.rotation:
            # Figures have no ink below their baseline, for which boxes of text leave room.
            box[:, 1] = np.maximum(box[:, 1], shape.y)
    boxes = np.concatenate(found)
    for tag in block.tags:
        inside = (boxes[:, 0] < tag.x + tag.side_mm) & (boxes[:, 2] > tag.x)
        inside &= (boxes[:, 1] < tag.y + tag.side_mm) & (boxes[:, 3] > tag.y)
        assert not inside.any()
    for one, other in combinations(block.tags, 2):
        assert abs(one.x - other.x) >= one.side_mm or abs(one.y - other.y) >= one.side_mm
    assert len({s.key for s in others if s.key.startswith("label:")}) >= 6
