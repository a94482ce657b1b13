"""The recorded designs read back: their truth at any distance, and what a kit would state.

Every design is an 85 mm lens whose front moves with an attachment before it, both traced by
`tests.tracer`; `record.py` says how they were drawn. Distances are from the sensor.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike
from scipy.interpolate import CubicSpline

from tests.rig_truth import ExtendingLens, RigTruth, TakingLens, TwoGroupLens
from tests.sample_parts import Ring
from tests.tracer import Array, Moving, Surface, ThickAttachment

RECORD = Path(__file__).with_name("designs.json")
FURTHER = Path(__file__).with_name("further.json")
FOCAL_MM = 85.0
STOP = 2.8
SLOW_STOP = 16.0
CIRCLE_MM = 0.029
TAKING_ZERO_MM = 12.0
TWO_GROUPS_MM = (60.0, -150.0, 78.3824)
"""Focal lengths of a lens that focuses inside, and its front group from the sensor: 85 mm."""
INTERNAL_TURN_MM, INTERNAL_NEAREST_MM = 95.0, 900.0
ATTACHMENT_ZERO_MM = 20.0


@dataclass(frozen=True)
class Truth:
    """Both rings at n distances: arcs, and the unsigned tolerances of their own meridians, in mm.

    `inherited` is the attachment arc that a millimetre on the taking ring asks for.
    """

    taking_arc_mm: Array
    attachment_arc_mm: Array
    inherited: Array
    taking_tolerance_mm: Array
    attachment_tolerance_mm: Array


SHARED = ("inherited", "taking_tolerance_mm", "attachment_tolerance_mm")
CURVES = {
    STOP: ("taking_arc_mm", "attachment_arc_mm", *SHARED),
    SLOW_STOP: ("slow_taking_arc_mm", "slow_attachment_arc_mm", *SHARED),
}
"""What is recorded for each stop, in the order of `Truth`; tolerances are those at f/2.8."""


@dataclass(frozen=True)
class Design:
    """One recorded design. `squeeze` and `front_focal_mm` are paraxial, lengths at infinity."""

    number: int
    attachment: ThickAttachment
    moving: Moving
    hiatus_mm: float
    rear_vertex_mm: float
    taking_ring: Ring
    attachment_ring: Ring
    squeeze: float
    front_focal_mm: float
    separation_mm: float
    front_vertex_mm: float
    blur_circles: float
    nearness: Array
    curves: Mapping[float, Array]
    kind: str = "first"
    bend: float | None = None
    """How far the cam of a lens that focuses inside departs; None for one that extends."""

    @property
    def rig(self) -> RigTruth:
        """The rig to trace."""
        return RigTruth(
            lens=self._lens,
            attachment=self.attachment,
            moving=self.moving,
            rear_vertex_mm=self.rear_vertex_mm,
            arc_per_mm=self.attachment_ring.arc_per_mm,
            zero_arc_mm=ATTACHMENT_ZERO_MM,
        )

    @property
    def _lens(self) -> TakingLens:
        ring = self.taking_ring
        if self.bend is None:
            return ExtendingLens(FOCAL_MM, self.hiatus_mm, ring.arc_per_mm, TAKING_ZERO_MM)
        return TwoGroupLens(
            FOCAL_MM, *TWO_GROUPS_MM, TAKING_ZERO_MM, ring.sign * INTERNAL_TURN_MM, self.bend,
            INTERNAL_NEAREST_MM,
        )  # fmt: skip

    @cached_property
    def _splines(self) -> dict[float, CubicSpline]:
        return {stop: CubicSpline(self.nearness, arcs) for stop, arcs in self.curves.items()}

    def truth(self, distance_mm: ArrayLike, *, stop: float = STOP) -> Truth:
        """Return both rings at n distances and one of the two stops, by cubic splines in 1/D.

        Tolerances go in proportion to the stop.
        """
        rows = self._splines[stop](1.0 / np.asarray(distance_mm, dtype=np.float64)).T
        taking, attachment, carried, *allowed = rows
        return Truth(taking, attachment, carried, *(stop / STOP * each for each in allowed))


def load_designs(path: Path = RECORD) -> list[Design]:
    """Return every design of a record."""
    record = json.loads(path.read_text(encoding="utf-8"))
    nearness = np.array([0.0 if d is None else 1.0 / d for d in record["distances_mm"]])
    return [_design(number, row, nearness) for number, row in enumerate(record["designs"])]


def _design(number: int, row: dict[str, Any], nearness: Array) -> Design:
    facts = dict(row)
    arcs = {name: facts.pop(name) for name in {*CURVES[STOP], *CURVES[SLOW_STOP]}}
    front, rear = (tuple(Surface(*surface) for surface in facts.pop(g)) for g in ("front", "rear"))
    return Design(
        number=number,
        attachment=ThickAttachment(front, rear),
        nearness=nearness,
        curves={stop: np.stack([arcs[n] for n in names], -1) for stop, names in CURVES.items()},
        taking_ring=Ring(**facts.pop("taking_ring")),
        attachment_ring=Ring(**facts.pop("attachment_ring")),
        **facts,
    )
