"""Small kits as TOML text, to be changed a fact at a time."""

from __future__ import annotations

import copy
import json
import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from focuschart.chart.charts import build_charts
from focuschart.chart.model import Chart
from focuschart.kit.fields import Table
from focuschart.kit.load import load_kit
from focuschart.kit.schema import Kit

# Readings by hand for an 85 mm lens and a 2x attachment: distance, taking, attachment.
_READ = (
    ("1.2 m", 45.9, 159.8),
    ("1.5 m", 56.0, 131.4),
    ("2 m", 65.6, 104.0),
    ("3 m", 73.9, 74.7),
    ("6 m", 82.4, 44.0),
)

_KIT: dict[str, Any] = {
    "format": 1,
    "name": "Bag",
    "distances": ["1.2 m", "2 m", "5 m", "inf"],
    "stops": [2.8, 5.6],
    "focus_height": "0 mm",
    "cameras": {
        "body": {
            "name": "Body",
            "sensor_width": "36 mm",
            "sensor_height": "24 mm",
            "flange_focal_distance": "18 mm",
        }
    },
    "taking_lenses": {
        "long": {
            "name": "85 mm",
            "focal_length": "85 mm",
            "widest_stop": 1.8,
            "nearest": "0.9 m",
            "length": "74 mm",
            "ring": {"diameter": "64 mm", "lead": "32.6 mm", "nearer_turns": "clockwise"},
        },
        "spare": {
            "name": "85 mm, the other",
            "focal_length": "85 mm",
            "widest_stop": 2.0,
            "nearest": "0.9 m",
            "length": "80 mm",
            "ring": {"diameter": "60 mm", "nearer_turns": "clockwise"},
        },
    },
    "attachments": {
        "double": {
            "name": "2x",
            "squeeze": 2.0,
            "moving_group": "front",
            "ruler_separation": "88 mm",
            "front_glass": "12 mm",
            "rear_glass": "14 mm",
            "nearest": "1 m",
            "length": "95 mm",
            "ring": {"diameter": "82 mm", "lead": "30.7 mm", "nearer_turns": "anticlockwise"},
        }
    },
    "clamps": {
        "clamp": {"name": "Clamp", "thickness": "12 mm"},
        "idle": {"name": "Clamp", "thickness": "9 mm"},
    },
    "rigs": {
        "portrait": {
            "name": "Portrait",
            "camera": "body",
            "taking_lens": "long",
            "attachment": "double",
            "chain": ["clamp"],
        }
    },
    "readings": [
        {"rig": "portrait", "distance": distance, "stop": 2.8, "taking": taking,
         "attachment": attachment}
        for distance, taking, attachment in _READ
    ]
    + [
        {"rig": "portrait", "distance": "60 m", "distance_error": "3 m", "stop": 2.8,
         "taking": 89.3, "attachment": 15.5}
    ],
}  # fmt: skip


def plain_kit() -> dict[str, Any]:
    """Return a fresh kit of one rig with both rings read, to be changed and loaded."""
    return copy.deepcopy(_KIT)


def toml(value: object) -> str:
    """Return a value as TOML, tables inline."""
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{key} = {toml(item)}" for key, item in value.items()) + " }"
    if isinstance(value, Sequence) and not isinstance(value, str):
        return "[" + ", ".join(toml(item) for item in value) + "]"
    if isinstance(value, float) and not math.isfinite(value):
        return str(value)  # which JSON has not, and TOML writes as Python does
    return json.dumps(value, ensure_ascii=False)


def kit_text(kit: Mapping[str, Any]) -> str:
    """Return the text of a kit file."""
    return "\n".join(f"{key} = {toml(value)}" for key, value in kit.items()) + "\n"


def loaded(kit: Mapping[str, Any]) -> Kit:
    """Load a kit as a user's file would be."""
    return load_kit(kit_text(kit), source="kit.toml")


def charts(kit: Mapping[str, Any]) -> dict[str, Chart]:
    """Solve every rig of a kit, by rig id."""
    return {chart.rig.rig_id: chart for chart in build_charts(loaded(kit))}


def tables(table: type[Table] = Table) -> Iterator[type[Table]]:
    """Yield every kind of table that a kit has, kinds of a kind included."""
    for kind in table.__subclasses__():
        yield kind
        yield from tables(kind)
