"""What each print of a rig is made from: the facts that move its marks or change its text.

A print's code is made from these and nothing else, so that any other edit of the kit leaves it
alone. They are plain data, so that they can be kept beside a pack and compared with later ones.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal, get_args

import numpy as np

if TYPE_CHECKING:
    from focuschart.bench.readings import Row
    from focuschart.chart.model import RigChart
    from focuschart.kit.parts import Attachment, TakingLens
    from focuschart.kit.ring import Ring
    from focuschart.rig.assemble import Rig
    from focuschart.rig.ring import Which

Print = Literal["taking", "taking/index", "attachment", "attachment/index", "card", "setup"]
PRINTS: tuple[Print, ...] = get_args(Print)
INDEX: Mapping[Which, Print] = {"taking": "taking/index", "attachment": "attachment/index"}

Inputs = Mapping[str, Any]
"""Facts by topic, as JSON would hold them; infinity is null."""

_DIGITS = 9
"""Significant digits of a fact: finer than paper by far, and the same however a sum came about."""


@dataclass(frozen=True, slots=True)
class Zone:
    """What of a solved chart decides which facts count, by stop.

    `vertical` says whether the vertical meridian alone limits the zone, so that nothing of the
    attachment's fit moves the taking ring's; `near_mm` is the nearest limit of all marks, since
    a ring's end counts only where it cuts a zone off. `contradicted` is printed.
    """

    vertical: tuple[bool, ...]
    near_mm: tuple[float, ...]
    contradicted: bool


def facts_of(chart: RigChart) -> dict[Print, Inputs]:
    """Return the facts behind each print of a rig.

    Where the taking lens is known by its readings, so is the depth of field on every print. Of the
    corners the card says so little that what it says is the fact.
    """
    # A code and a record are read without what assembles a rig.
    from focuschart.kit.facts import setup_facts
    from focuschart.rig.light import clean_text

    kit, rig, zone = chart.kit, chart.rig, _zone(chart)
    rows = {
        which: marks.measured.rows if marks else () for which, (_, marks) in chart.rings().items()
    }
    fits = {
        "taking": _taking_fit(rig, rows["taking"]),
        "attachment": _attachment_fit(rig, rows["attachment"]),
    }
    rings: dict[Which, TakingLens | Attachment] = {"taking": rig.lens, "attachment": rig.attachment}
    every, doubt = rig.stops.tolist(), {"contradicted": zone.contradicted}
    words = {"units": kit.units, "rig name": rig.name}
    optics = {**_optics(rig), "lens known by": chart.lens_known_by}
    if chart.lens_known_by == "readings":
        optics |= fits["taking"]
    made: dict[Print, Inputs] = {}
    for which, part in rings.items():
        for name, stops, looks in (
            (which, every[:1], {**words, **doubt, **_strip(which, part)}),
            (INDEX[which], every, _index(which, part)),
        ):
            zones = _zones(rig, zone, fits["attachment"], len(stops))
            made[name] = {**looks, **optics, **fits[which], **zones, "stops": stops}
    both = {**fits["taking"], **fits["attachment"], **_together(rows), **_scales(rig)}
    corners = {} if chart.light is None else {"corners": clean_text(chart.light)}
    made["card"] = {**words, **doubt, **optics, **both, **corners, "stops": every}
    told = setup_facts(kit, rig.rig_id)
    made["setup"] = {**words, **optics, **fits["attachment"], **told, "stops": every}
    return {name: _rounded(facts) for name, facts in made.items()}


def _zone(chart: RigChart) -> Zone:
    """Compare the frame's limits with the vertical meridian's at every stop (m × n)."""
    frame, vertical = chart.frame, chart.vertical
    near = np.all(frame.near_mm == vertical.near_mm, axis=1)
    far = np.all(frame.far_mm == vertical.far_mm, axis=1)
    nearest = np.min(frame.near_mm, axis=1)
    return Zone(tuple((near & far).tolist()), tuple(nearest.tolist()), chart.contradicted)


def _optics(rig: Rig) -> dict[str, Any]:
    """Return what depth of field and the place of the marks need of lens and glass."""
    return {
        "distances": [_number(distance) for distance in sorted(rig.distances_mm.tolist())],
        "focal length": rig.lens.focal_length,
        "hiatus": rig.stated.hiatus_mm,
        "circle": rig.circle_mm,
        "glass": [rig.attachment.front_glass, rig.attachment.rear_glass],
    }


def _zones(rig: Rig, zone: Zone, glass: Mapping[str, Any], stops: int) -> dict[str, Any]:
    """Return what else the zones of the first stops need: the glass, and where the rings end."""
    ends = max(rig.lens.nearest, rig.attachment.nearest)
    cut = min(zone.near_mm[:stops]) <= ends
    return {**({} if all(zone.vertical[:stops]) else glass), **({"nearest": ends} if cut else {})}


def _taking_fit(rig: Rig, rows: Sequence[Row]) -> dict[str, Any]:
    lens = rig.lens
    extends = lens.focusing == "extends"
    return {
        "taking fit": {
            "focusing": lens.focusing,
            "nearest": None if extends else lens.nearest,
            "ring": _slope(lens.ring) if extends else None,
        },
        "taking readings": _sorted(
            {**_reading(row), "plate": row.rig.plate_mm, "circle": row.rig.circle_mm}
            for row in rows
        ),
    }


def _attachment_fit(rig: Rig, rows: Sequence[Row]) -> dict[str, Any]:
    glass = rig.attachment
    return {
        "attachment fit": {
            "squeeze": glass.squeeze,
            "moving group": glass.moving_group,
            "ruler separation": glass.ruler_separation,
            "ring": _slope(glass.ring),
        },
        "front glass": rig.front_glass_mm,
        "front moves": rig.lens.front_moves,
        "read on": rig.lens_id if any(row.rig.lens_id == rig.lens_id for row in rows) else None,
        "attachment readings": _sorted(
            {
                **_reading(row),
                "lens": row.rig.lens_id,
                "focal length": row.rig.lens.focal_length,
                "front moves": row.rig.lens.front_moves,
                "front glass": row.rig.front_glass_mm,
                "circle": row.rig.circle_mm,
            }
            for row in rows
        ),
    }


def _reading(row: Row) -> dict[str, Any]:
    return {
        "rig": row.rig.rig_id,
        "distance": _number(row.reading.distance),
        "distance error": row.reading.distance_error,
        "stop": row.reading.stop,
        "figure": row.figure_mm,
    }


def _together(rows: Mapping[Which, Sequence[Row]]) -> dict[str, Any]:
    """Return which figures were read at once: they share errors, which the pair's error shows."""
    taking = {row.index: row for row in rows["taking"]}
    return {
        "read together": _sorted(
            [*_reading(taking[row.index]).values(), row.figure_mm]
            for row in rows["attachment"]
            if row.index in taking
        )
    }


def _sorted(facts: Iterable[Any]) -> list[Any]:
    """Return facts in an order that does not depend on the kit's."""
    return sorted(facts, key=json.dumps)


def _slope(ring: Ring) -> list[Any] | None:
    """Return what arc and travel have to do with one another beforehand: nothing without a lead."""
    return None if ring.lead is None else [ring.strip_length_mm, ring.lead, ring.nearer_turns]


def _strip(which: Which, part: TakingLens | Attachment) -> dict[str, Any]:
    """Return what a ring's strip looks like; its stock is the paper's, not the print's."""
    ring = part.ring
    shape = {
        "once round": ring.strip_length_mm,
        "far edge": ring.far_edge_mm if ring.tapers else None,
        "strip width": ring.strip_width,
        "turns": ring.turns,
        "nearer turns": ring.nearer_turns,
        "read from": ring.read_from,
        "index side": ring.index_side,
        "mirrored": ring.mirrored,
    }
    return {f"{which} name": part.name, f"{which} ring": shape}


def _index(which: Which, part: TakingLens | Attachment) -> dict[str, Any]:
    """Return what an index strip looks like: it lies on the fixed barrel, whatever the ring's."""
    ring = part.ring
    shape = {"index side": ring.index_side, "mirrored": ring.mirrored}
    return {f"{which} name": part.name, f"{which} ring": shape}


def _scales(rig: Rig) -> dict[str, Any]:
    """Return the engraved scales, which the card shows."""
    rings = {"taking": rig.lens.ring, "attachment": rig.attachment.ring}
    return {
        f"{which} scale": _sorted([_number(mark.distance), mark.ruler] for mark in ring.engraved)
        for which, ring in rings.items()
    }


def _number(value: float) -> float | None:
    return value if np.isfinite(value) else None


def _rounded(value: Any) -> Any:
    """Return plain data with its fractions rounded."""
    if isinstance(value, float):
        return float(f"{value:.{_DIGITS}g}")
    if isinstance(value, Mapping):
        return {key: _rounded(item) for key, item in value.items()}
    return [_rounded(item) for item in value] if isinstance(value, list) else value
