"""The plain kit with everything that weighs, holds and fits filled in. All figures are invented."""

from __future__ import annotations

from typing import Any

from tests.kits import plain_kit

_FACTS: dict[str, dict[str, dict[str, Any]]] = {
    "cameras": {
        "body": {
            "mount": "bayonet",
            "pixels": [6000, 4000],
            "readout_time": "18 ms",
            "mass": "700 g",
            "centre_of_gravity": "-5 mm",
            "tripod_thread": "10 mm",
            "mount_moment_limit": "2 N m",
        }
    },
    "taking_lenses": {
        "long": {
            "mount": "bayonet",
            "front_thread": "67 mm x 0.75",
            "front_rotates": False,
            "front_clear_aperture": "50 mm",
            "barrel_diameter": "72 mm",
            "entrance_pupil": "60 mm",
            "mass": "400 g",
            "centre_of_gravity": "40 mm",
            "helicoid": "30 mm",
            "helicoid_moment_limit": "1.5 N m",
        }
    },
    "attachments": {
        "double": {
            "rear_thread": "62 mm x 0.75",
            "barrel_diameter": "64 mm",
            "front_thread": "77 mm x 0.75",
            "rear_clear_aperture": "48 mm",
            "front_clear_aperture": "70 mm",
            "mass": "800 g",
            "centre_of_gravity": "50 mm",
        }
    },
    "clamps": {
        "clamp": {
            "thread": "67 mm x 0.75",
            "bore": "65 mm",
            "clear_aperture": "60 mm",
            "mass": "100 g",
        }
    },
    "step_rings": {},
    "filters": {
        "clear": {
            "name": "Clear",
            "thread": "77 mm x 0.75",
            "thickness": "4 mm",
            "clear_aperture": "72 mm",
            "mass": "30 g",
        }
    },
    "close_up_lenses": {"plus": {"name": "+1", "power": 1.0, "thread": "77 mm x 0.75"}},
    "supports": {"rods": {"name": "Rods", "position": "140 mm", "mass": "150 g"}},
    "carriers": {"head": {"name": "Head", "payload": "4 kg", "plate_range": ["-40 mm", "90 mm"]}},
    "rigs": {"portrait": {"front": ["clear"], "support": "rods", "carrier": "head"}},
}


def full_kit() -> dict[str, Any]:
    """Return a fresh kit in which every part of its one rig is fully described."""
    kit = plain_kit()
    for section, tables in _FACTS.items():
        kit.setdefault(section, {})
        for part_id, facts in tables.items():
            kit[section].setdefault(part_id, {}).update(facts)
    return kit | {"deliveries": ["2.39", "16:9"], "gauge": "240 mm"}


def changed_kit(*path: str, to: object) -> dict[str, Any]:
    """Return the full kit with one value changed, or taken away where `to` is None."""
    kit = full_kit()
    table: dict[str, Any] = kit
    for key in path[:-1]:
        table = table.setdefault(key, {})
    if to is None:
        del table[path[-1]]
    else:
        table[path[-1]] = to
    return kit
