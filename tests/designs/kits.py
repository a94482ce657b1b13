"""A kit for a recorded design, as its owner would write it after a morning at the bench."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from focuschart.chart.charts import build_charts
from focuschart.chart.model import Chart
from tests.designs.recorded import CIRCLE_MM, FOCAL_MM, STOP, Design
from tests.kits import loaded
from tests.sample_parts import Ring, Target
from tests.tracer import Array

MARKS = ("1 m", "1.2 m", "1.5 m", "2 m", "3 m", "5 m", "10 m", "inf")


UNKNOWN = ("ruler_separation", "front_glass", "rear_glass")


@dataclass(frozen=True)
class Stated:
    """Shares by which the figures that a kit states are off; whether it states those of glass."""

    squeeze: float = 0.0
    focal_length: float = 0.0
    taking_lead: float = 0.0
    attachment_lead: float = 0.0
    glass: bool = True


@dataclass(frozen=True)
class Readings:
    """Ruler figures of both rings at n targets, read at one stop."""

    targets: Sequence[Target]
    taking_arc_mm: Array
    attachment_arc_mm: Array
    stop: float = STOP


def chart_of(
    design: Design,
    readings: Readings,
    stated: Stated,
    *,
    working_stop: float = STOP,
    height_mm: float = 0.0,
    read_at_mm: float = 0.0,
    through: Sequence[Mapping[str, object]] | None = None,
    bench: Mapping[str, object] | None = None,
    squeezes: Sequence[Mapping[str, object]] = (),
) -> Chart:
    """Return the chart of a kit, from its text on; marks and readings are at given heights.

    `through` is what else each reading says, such as the strips that it was taken through, and
    `bench` what the kit says of the bench, `squeezes` what squeezes were measured.
    """
    table: dict[str, Any] = {
        "format": 1,
        "name": "Recorded",
        "distances": list(MARKS),
        "stops": [working_stop],
        "bench": dict(bench or {}),
        "focus_height": f"{height_mm} mm",
        "circle_of_confusion": f"{CIRCLE_MM} mm",
        "cameras": {
            "c": {
                "name": "c",
                "sensor_width": "36 mm",
                "sensor_height": "24 mm",
                "flange_focal_distance": "18 mm",
            }
        },
        "taking_lenses": {
            "l": {
                "name": "l",
                "focal_length": f"{FOCAL_MM * (1.0 + stated.focal_length):.4f} mm",
                "widest_stop": STOP,
                "nearest": "0.9 m",
                "focusing": "extends" if design.bend is None else "internal",
                "front_moves": design.bend is None,
                "ring": _ring(design.taking_ring, stated.taking_lead),
            }
        },
        "attachments": {
            "a": {
                "name": "a",
                "squeeze": design.squeeze * (1.0 + stated.squeeze),
                "moving_group": design.moving,
                "ruler_separation": f"{design.separation_mm:.1f} mm",
                "front_glass": f"{design.attachment.front_glass_mm:.1f} mm",
                "rear_glass": f"{design.attachment.rear_glass_mm:.1f} mm",
                "nearest": "0.9 m",
                "ring": _ring(design.attachment_ring, stated.attachment_lead),
            }
        },
        "rigs": {
            "r": {
                "name": "r",
                "camera": "c",
                "taking_lens": "l",
                "attachment": "a",
                "front_vertex": f"{design.front_vertex_mm:.0f} mm",
            }
        },
        "readings": [
            {**_reading(readings, i), "height": f"{read_at_mm} mm", **also}
            for i, also in enumerate(through or [{}] * len(readings.targets))
        ],
        "squeezes": [{"rig": "r", **each} for each in squeezes],
    }
    (chart,) = build_charts(loaded(table if stated.glass else without_glass(table)))
    return chart


def without_glass(table: dict[str, Any]) -> dict[str, Any]:
    """Return a kit that leaves out what its owner need not measure."""
    del table["cameras"]["c"]["flange_focal_distance"]
    for key in UNKNOWN:
        del table["attachments"]["a"][key]
    return table


def _ring(ring: Ring, lead_off: float) -> dict[str, object]:
    """A ring bare of any strip's thickness, so that its arc per travel is that recorded."""
    known = {} if ring.lead_mm is None else {"lead": f"{ring.lead_mm * (1.0 + lead_off):.6f} mm"}
    return {
        "diameter": f"{ring.diameter_mm} mm",
        **known,
        "nearer_turns": "anticlockwise" if ring.sign > 0 else "clockwise",
        "ruler_thickness": "0 mm",
    }


def _reading(readings: Readings, index: int) -> dict[str, object]:
    target = readings.targets[index]
    error = {} if target.error_label is None else {"distance_error": target.error_label}
    return {
        "rig": "r",
        "distance": target.label,
        **error,
        "stop": readings.stop,
        "taking": float(readings.taking_arc_mm[index]),
        "attachment": float(readings.attachment_arc_mm[index]),
    }
