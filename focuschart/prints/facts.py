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

from focuschart.prints.topics import BY_HAND, NAME, RING, SCALE, Facts, ReadingFacts, Topic

if TYPE_CHECKING:
    from focuschart.bench.offsets import Taping
    from focuschart.bench.readings import Row
    from focuschart.chart.model import Chart
    from focuschart.kit.attachment import Attachment
    from focuschart.kit.parts import TakingLens
    from focuschart.kit.ring import Ring
    from focuschart.kit.schema import Kit
    from focuschart.rig.assemble import Rig
    from focuschart.rig.ring import Which

Print = Literal["taking", "taking/index", "attachment", "attachment/index", "card", "setup"]
PRINTS: tuple[Print, ...] = get_args(Print)
SHOWN: Mapping[Print, tuple[Which, ...]] = {
    "taking": ("taking",),
    "taking/index": ("taking",),
    "attachment": ("attachment",),
    "attachment/index": ("attachment",),
    "card": ("taking", "attachment"),
    "setup": ("attachment",),
}
"""The rings whose places a print shows."""
INDEX: Mapping[Which, Print] = {"taking": "taking/index", "attachment": "attachment/index"}

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


def facts_of(chart: Chart) -> dict[Print, Facts]:
    """Return the facts behind each print of a rig.

    Where readings give the taking lens, every print's depth of field depends on them too. Facts of
    the corners, and of other heights than the marks', are the card's own short sentences.
    """
    # A code and a record are read without what assembles a rig.
    from focuschart.prints.setup_facts import setup_facts

    kit, rig, zone = chart.kit, chart.rig, _zone(chart)
    rows = {
        which: marks.measured.rows if marks else () for which, (_, marks) in chart.rings().items()
    }
    fits = {
        "taking": _taking_fit(rig, rows["taking"]),
        "attachment": {**_attachment_fit(rig, rows["attachment"]), **_squeezes(chart)},
    }
    parts: dict[Which, TakingLens | Attachment] = {"taking": rig.lens, "attachment": rig.attachment}
    every, doubt = rig.stops.tolist(), {Topic.CONTRADICTED: zone.contradicted}
    words = {Topic.UNITS: kit.units, Topic.RIG_NAME: rig.name}
    optics = {**_optics(rig), Topic.LENS_KNOWN_BY: chart.lens_known_by}
    if chart.lens_known_by == "readings":
        optics |= fits["taking"]
    hand = {which: _by_hand(kit, rig.rig_id, which, part) for which, part in parts.items()}
    height = {Topic.FOCUS_HEIGHT: rig.focus_height_mm}
    made: dict[Print, Facts] = {}
    for which, part in parts.items():
        for name, stops, looks in (
            (which, every[:1], {**words, **doubt, **_strip(which, part), **hand[which]}),
            (INDEX[which], every, _index(which, part)),
        ):
            zones = _zones(rig, zone, fits["attachment"], len(stops))
            made[name] = {**looks, **optics, **fits[which], **zones, Topic.STOPS: stops}
            if which == "attachment":
                made[name] = {**made[name], **height}
    both = {**fits["taking"], **fits["attachment"], **_together(rows), **_scales(chart)}
    said = {**hand["taking"], **hand["attachment"], **_said_on_card(chart)}
    made["card"] = {**words, **doubt, **optics, **both, **height, **said, Topic.STOPS: every}
    told = setup_facts(kit, rig.rig_id)
    made["setup"] = {**words, **optics, **fits["attachment"], **told, Topic.STOPS: every}
    return {name: _rounded(facts) for name, facts in made.items()}


def _said_on_card(chart: Chart) -> dict[Topic, Any]:
    """Return what the card alone says: corners, other heights, the gauge, the nearest focus."""
    from focuschart.chart.gauge import gauge_words
    from focuschart.chart.height import heights_text
    from focuschart.rig.light import clean_text

    corners = {} if chart.light is None else {Topic.CORNERS: clean_text(chart.light)}
    return {
        **corners,
        Topic.HEIGHTS: heights_text(chart),
        Topic.GAUGE: [chart.kit.gauge, *map(list, gauge_words(chart))],
        Topic.NEAREST: max(chart.rig.lens.nearest, chart.rig.attachment.nearest),
    }


def _zone(chart: Chart) -> Zone:
    """Compare the frame's limits with the vertical meridian's at every stop (m × n)."""
    frame, vertical = chart.frame, chart.vertical
    near = np.all(frame.near_mm == vertical.near_mm, axis=1)
    far = np.all(frame.far_mm == vertical.far_mm, axis=1)
    nearest = np.min(frame.near_mm, axis=1)
    return Zone(tuple((near & far).tolist()), tuple(nearest.tolist()), chart.contradicted)


def _reading_errors(rig: Rig, others: Sequence[Taping]) -> dict[str, float]:
    """Return how well rings are read, where the kit says otherwise than by default."""
    from focuschart.kit.bench import Bench

    errors, usual = rig.reading_errors, Bench()
    told = {
        "ruler error": (errors.ruler_mm, usual.ruler_error),
        "eye error": (errors.eye_share, usual.eye_error),
    }
    if any(taping.code for taping in others):
        told["taping error"] = (errors.taping_mm, usual.taping_error)
    return {name: own for name, (own, default) in told.items() if own != default}


def _play(ring: Ring, rows: Sequence[Row]) -> dict[str, Any]:
    """Return what the play is thought to be where readings say from which side a ring came."""
    return {} if all(row.reading.side is None for row in rows) else {"backlash": ring.backlash}


def _by_hand(
    kit: Kit, rig_id: str, which: Which, part: TakingLens | Attachment
) -> dict[Topic, Any]:
    """Return how well a ring is taped and set, where the kit says otherwise than by default."""
    from focuschart.kit.bench import Bench

    usual = Bench()
    told = {key: getattr(kit.bench, key) for key in ("taping_error", "setting_error", "print_scale")
            if getattr(kit.bench, key) != getattr(usual, key)}  # fmt: skip
    facts = {key.replace("_", " "): value for key, value in told.items()}
    if kit.bench.side:
        facts["set from"] = kit.bench.side
    set_at = kit.rigs[rig_id].index_set_at
    index_mm = None if set_at is None else getattr(set_at, which)
    if index_mm is not None:
        facts["index set at"] = _number(index_mm)
    elif part.ring.backlash is not None:
        facts["backlash"] = part.ring.backlash
    return {BY_HAND[which]: facts} if facts else {}


def _optics(rig: Rig) -> dict[Topic, Any]:
    """Return what depth of field and the place of the marks need of lens and glass."""
    return {
        Topic.DISTANCES: [_number(distance) for distance in sorted(rig.distances_mm.tolist())],
        Topic.FOCAL_LENGTH: rig.lens.focal_length,
        Topic.HIATUS: rig.stated.hiatus_mm,
        Topic.CIRCLE: rig.circle_mm,
        Topic.GLASS: [rig.attachment.front_glass, rig.attachment.rear_glass],
    }


def _zones(rig: Rig, zone: Zone, glass: Facts, stops: int) -> dict[Topic, Any]:
    """Return what else the zones of the first stops need: the glass, and where the rings end."""
    ends = max(rig.lens.nearest, rig.attachment.nearest)
    cut = min(zone.near_mm[:stops]) <= ends
    limiting = {} if all(zone.vertical[:stops]) else glass
    return {**limiting, **({Topic.NEAREST: ends} if cut else {})}


def _taking_fit(rig: Rig, rows: Sequence[Row]) -> dict[Topic, Any]:
    lens = rig.lens
    extends, others = lens.focusing == "extends", _tapings(rows, "taking")
    return {
        Topic.TAKING_FIT: {
            "focusing": lens.focusing,
            "nearest": None if extends else lens.nearest,
            "ring": _slope(lens.ring) if extends else None,
            **_reading_errors(rig, others),
            **_play(lens.ring, rows),
        },
        Topic.TAKING_READINGS: _sorted(
            {
                **_reading(row, "taking", others),
                "plate": row.rig.plate_mm,
                "circle": row.rig.circle_mm,
            }
            for row in rows
        ),
    }


def _attachment_fit(rig: Rig, rows: Sequence[Row]) -> dict[Topic, Any]:
    glass, others = rig.attachment, _tapings(rows, "attachment")
    return {
        Topic.ATTACHMENT_FIT: {
            "squeeze": glass.squeeze,
            "moving group": glass.moving_group,
            "ruler separation": glass.ruler_separation,
            "ring": _slope(glass.ring),
            **_reading_errors(rig, others),
            **_play(glass.ring, rows),
        },
        Topic.FRONT_GLASS: rig.front_glass_mm,
        Topic.FRONT_MOVES: rig.lens.front_moves,
        Topic.READ_ON: rig.lens_id if any(row.rig.lens_id == rig.lens_id for row in rows) else None,
        Topic.ATTACHMENT_READINGS: _sorted(
            {
                **_reading(row, "attachment", others),
                "height": abs(row.reading.height),
                "lens": row.rig.lens_id,
                "focal length": row.rig.lens.focal_length,
                "front moves": row.rig.lens.front_moves,
                "front glass": row.rig.front_glass_mm,
                "circle": row.rig.circle_mm,
            }
            for row in rows
        ),
    }


def _squeezes(chart: Chart) -> dict[Topic, Any]:
    """Return the squeezes measured that the attachment holds to."""
    squeezes = chart.glass.squeezes
    if squeezes is None:
        return {}
    columns = (squeezes.position_mm, squeezes.value, squeezes.sigma)
    return {
        Topic.SQUEEZES: _sorted(
            [_number(position), value, sigma]
            for position, value, sigma in zip(*(column.tolist() for column in columns), strict=True)
        )
    }


def _tapings(rows: Sequence[Row], which: Which) -> tuple[Taping, ...]:
    from focuschart.bench.offsets import tapings

    return tapings([row.reading for row in rows], which)


def _reading(row: Row, which: Which, others: Sequence[Taping]) -> ReadingFacts:
    """Return a reading; its side and taping, one of `others`, only where they are not the usual."""
    from focuschart.bench.offsets import taping_of

    facts: ReadingFacts = {
        "rig": row.rig.rig_id,
        "distance": _number(row.reading.distance),
        "distance error": row.reading.distance_error,
        "stop": row.reading.stop,
        "figure": row.figure_mm,
    }
    error = row.reading.error_mm(which)
    if error is not None:
        facts["figure error"] = error
    if row.reading.side is not None:
        facts["side"] = row.reading.side
    taping = taping_of(row.reading, which)
    if not taping.is_base:
        # Which of a ring's tapings: their names move no mark.
        facts["taping"] = others.index(taping) + 1
        facts["strip"] = bool(taping.code)
    return facts


def _together(rows: Mapping[Which, Sequence[Row]]) -> dict[Topic, Any]:
    """Return which figures were read at once: they share errors, which the pair's error shows."""
    taking, others = {row.index: row for row in rows["taking"]}, _tapings(rows["taking"], "taking")
    return {
        Topic.READ_TOGETHER: _sorted(
            [*_reading(taking[row.index], "taking", others).values(), row.figure_mm]
            for row in rows["attachment"]
            if row.index in taking
        )
    }


def _sorted(facts: Iterable[Any]) -> list[Any]:
    """Return facts in an order that does not depend on the kit's."""
    return sorted(facts, key=json.dumps)


def _slope(ring: Ring) -> list[Any] | None:
    """Return the kit's figures that fix arc per travel before any reading; None without a lead."""
    return None if ring.lead is None else [ring.ruler_length_mm, ring.lead, ring.nearer_turns]


def _strip(which: Which, part: TakingLens | Attachment) -> dict[Topic, Any]:
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
        **_thickness(ring),
    }
    return {NAME[which]: part.name, RING[which]: shape}


def _index(which: Which, part: TakingLens | Attachment) -> dict[Topic, Any]:
    """Return what an index strip looks like: on the fixed barrel, no size of the ring counts."""
    ring = part.ring
    shape = {"index side": ring.index_side, "mirrored": ring.mirrored, **_thickness(ring)}
    return {NAME[which]: part.name, RING[which]: shape}


def _thickness(ring: Ring) -> dict[str, float]:
    """Return what a thickness unlike the ruler's does to every place; nothing where it is alike."""
    return {} if ring.ruler_mm == 1.0 else {"ruler millimetre": ring.ruler_mm}


def _scales(chart: Chart) -> dict[Topic, Any]:
    """Return what the engraved scales read at the marks, in the card's words."""
    return {
        SCALE[which]: list(marks.engraved_text)
        for which, (_, marks) in chart.rings().items()
        if marks and any(marks.engraved_text)
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
