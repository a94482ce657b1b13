"""How messages name a reading: by rig, distance and figures, not by its number."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from focuschart.errors import Problem, shown
from focuschart.kit.reading import Reading
from focuschart.kit.schema import Kit
from focuschart.units import Units, distance_label

RINGS = ("taking", "attachment")
_KEY = re.compile(r"readings\[(\d+)\]")


def reading_name(reading: Reading, units: Units, *, ring: str | None = None) -> str:
    """Return "portrait at 2 m (taking 42.1)", with the figure of one ring or of all read."""
    figures = {name: getattr(reading, name) for name in ([ring] if ring else RINGS)}
    return _name(f"{reading.rig} ", distance_label(reading.distance, units), figures)


def with_name(problem: Problem, readings: object) -> Problem:
    """Return a problem, one of a reading with its name added; `readings` is as in the file."""
    found = _KEY.match(problem.key)
    if not found or not isinstance(readings, Sequence) or int(found[1]) >= len(readings):
        return problem
    said = readings[int(found[1])]
    if not isinstance(said, Mapping) or not {"rig", "distance"} <= said.keys():
        return problem
    figures = {name: said.get(name) for name in RINGS}
    # A wrong name of a rig is said already.
    rig = "" if problem.key.endswith(".rig") else f"{_plain(said['rig'])} "
    name = _name(rig, _plain(said["distance"]), figures)
    return problem._replace(rule=f"{problem.rule} (the reading {name})")


def named(kit: Kit, problem: Problem) -> Problem:
    """Return a problem with its file; one of a reading has its name in place of its number."""
    found, placed = _KEY.match(problem.key), kit.placed(problem)
    if not found:
        return placed
    reading = kit.readings[int(found[1])]
    figure = problem.key[found.end() :].lstrip(".")
    of = f"the {figure} of " if figure else ""
    return placed._replace(key=f"{of}the reading {reading_name(reading, kit.units)}")


def _plain(value: object) -> str:
    return shown(value).strip('"')


def _name(rig: str, distance: str, figures: Mapping[str, Any]) -> str:
    read = (f"{ring} {_figure(figure)}" for ring, figure in figures.items() if figure is not None)
    return f"{rig}at {distance} ({', '.join(read)})"


def _figure(figure: object) -> str:
    return f"{figure:g}" if isinstance(figure, float) else shown(figure)
