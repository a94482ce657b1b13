"""The locked attachment and the rack, as text for people and as data for machines."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any, NamedTuple

import numpy as np

from focuschart.chart.locked import (
    LockedRing,
    Recentred,
    locked_ring,
    recentred,
    too_near,
    unread,
)
from focuschart.chart.model import Chart
from focuschart.chart.rack import Rack
from focuschart.chart.rack_words import (
    rack_cautions,
    rack_rows,
    rack_summary,
    rack_title,
    rack_way,
    range_words,
    slack_rows,
    turn_way,
    turn_words,
)
from focuschart.chart.sureness import sureness
from focuschart.chart.verdict import extrapolated, in_words, judged, verdicts
from focuschart.errors import LeftOut
from focuschart.prints.code import chart_code
from focuschart.report.charts import heading
from focuschart.report.data import left_out_data, ring_data
from focuschart.report.lines import Row, aligned, wrapped
from focuschart.report.numbers import by_stop, dumped, plain
from focuschart.units import Units, distance_label, format_length, format_stop

Lines = Iterator[str]


class Held(NamedTuple):
    """A rig and what it can do with its attachment locked, None while a ring is unread.

    `subjects_mm` are those asked for that it reaches; without any asked for, None, the tables tell
    of each mark's neighbours.
    """

    chart: Chart
    found: LockedRing | None
    subjects_mm: Sequence[float] | None = None


def held(charts: Iterable[Chart], subjects_mm: Sequence[float]) -> tuple[list[Held], list[LeftOut]]:
    """Return what each rig can do with its attachment locked, and what of it is left out."""
    found: list[Held] = []
    left_out: list[LeftOut] = []
    for chart in charts:
        missing = unread(chart)
        if missing:
            left_out.append(missing)
            found.append(Held(chart, None))
            continue
        near = {each: too_near(chart, each, _subject(each)) for each in subjects_mm}
        left_out += filter(None, near.values())
        reached = tuple(each for each, why in near.items() if why is None)
        found.append(Held(chart, locked_ring(chart), reached if subjects_mm else None))
    return found, left_out


def _subject(distance_mm: float) -> str:
    return f"--subject {format_length(distance_mm)}"


ZONES_CAUTION = (
    "Zones suppose the marks are where they should be: trust none where the pair says re-measure, "
    "and test on camera before a job."
)


# --- text: the attachment locked ------------------------------------------------------------------


def hold_text(held: Iterable[Held], *, units: Units) -> str:
    """Return readable tables, one rig below the other.

    For subjects, or for each mark's neighbours, they say how far to turn the taking ring and what
    blur is left.
    """
    rigs = ("\n".join(_hold_lines(one, units)) for one in held)
    return "\n\n".join(rigs) + "\n"


def _hold_lines(held: Held, units: Units) -> Lines:
    chart, found = held.chart, held.found
    yield from heading(chart)
    if found is None:
        yield from wrapped(f"No zones: {_reason(chart)}.")
        return
    yield ""
    yield from wrapped(
        "Attachment locked at a mark. At rest, the subject may move within these limits, rounded "
        "inward. With one hand, some turn of the taking ring keeps both meridians within one "
        "circle of confusion; mm on its ruler, from the mark."
    )
    for j in range(len(chart.stops)):
        yield ""
        yield format_stop(float(chart.stops[j]))
        yield from aligned(_zone_rows(found, j, units))
    if held.subjects_mm is None or held.subjects_mm:
        yield ""
        yield from wrapped(
            "Subject moved, attachment still locked: where the taking ring does best, and how many "
            "circles of confusion are left there, vertical / horizontal"
        )
        yield from aligned(_moved_rows(found, units, held.subjects_mm))
    yield ""
    for sentence in (ZONES_CAUTION, *sureness(chart, units=units)):
        yield from wrapped(sentence)


def _reason(chart: Chart) -> str | None:
    missing = unread(chart)
    return missing and f"{missing.why}: {missing.cure}"


def _zone_rows(found: LockedRing, j: int, units: Units) -> Iterator[Row]:
    chart = found.chart
    yield [
        "locked at",
        "vertical",
        "horizontal",
        "at rest",
        "one hand",
        "to near",
        "to far",
        "pair",
    ]
    zones = (chart.vertical, chart.horizontal, chart.frame, found.zone)
    turns = found.turns_mm()
    sure, far = verdicts(chart, stop=j), extrapolated(chart)
    for i, distance in enumerate(chart.distances_mm):
        yield [
            distance_label(float(distance), units),
            *(range_words(zone, (j, i), units) for zone in zones),
            *(turn_words(turn[j, i], found.nearer_sign) for turn in turns),
            in_words(sure[i], extrapolated=far[i]),
        ]


def _moved_rows(
    found: LockedRing, units: Units, subjects_mm: Sequence[float] | None
) -> Iterator[Row]:
    chart = found.chart
    stops = [format_stop(float(stop)) for stop in chart.stops]
    yield ["locked at", "subject", "ring to", "turn", *stops, ""]
    marks = chart.distances_mm
    told = np.array(sorted(set(subjects_mm))) if subjects_mm else marks
    moved = recentred(chart, told)
    for i, mark in enumerate(marks):
        for p in range(len(told)) if subjects_mm else _beside(i, len(marks)):
            yield [
                distance_label(float(mark), units),
                distance_label(float(told[p]), units),
                f"{moved.arc_mm[p, i]:.1f}",
                turn_words(moved.turn_mm[p, i], found.nearer_sign),
                *(_left(moved, (j, p, i)) for j in range(len(stops))),
                "",
            ]


def _beside(i: int, count: int) -> list[int]:
    return [p for p in (i - 1, i + 1) if 0 <= p < count]


def _left(moved: Recentred, at: tuple[int, int, int]) -> str:
    return f"{abs(moved.vertical[at]):.1f}/{abs(moved.horizontal[at]):.1f}"


# --- text: the rack -------------------------------------------------------------------------------


def rack_text(found: Rack, *, units: Units, seconds: float) -> str:
    """Return both rings' settings along a move, and how far apart the hands may be."""
    return "\n".join(_rack_lines(found, units, seconds)) + "\n"


def _rack_lines(found: Rack, units: Units, seconds: float) -> Lines:
    chart = found.chart
    yield from heading(chart)
    yield ""
    yield rack_title(found, units)
    yield f"{rack_way(found, seconds=seconds)}."
    yield from wrapped(rack_summary(found))
    yield ""
    yield from aligned(rack_rows(found, units=units, seconds=seconds))
    yield ""
    yield from wrapped(
        "How far one hand may be behind or ahead of the other, anywhere in the move, before the "
        "frame is softer than one circle of confusion"
    )
    yield from aligned(slack_rows(found, seconds=seconds))
    yield ""
    for sentence in rack_cautions(found, seconds=seconds):
        yield from wrapped(sentence)


# --- data -----------------------------------------------------------------------------------------


def hold_json(held: Iterable[Held], left_out: Sequence[LeftOut] = ()) -> str:
    """Return the data of the locked attachment, infinity and the unknown as null."""
    rigs = [_hold_data(one) for one in held]
    data = {"format": 1, "rigs": rigs, "left_out": left_out_data(left_out)}
    return dumped(data) + "\n"


def _head_data(chart: Chart) -> dict[str, Any]:
    return {
        "rig": chart.rig.rig_id,
        "taking_lens": chart.rig.lens_id,
        "attachment": chart.rig.attachment_id,
        "revision": chart_code(chart),
        "circle_of_confusion_mm": chart.rig.circle_mm,
        "working_stop": chart.working_stop,
    }


def _hold_data(held: Held) -> dict[str, Any]:
    chart, found = held.chart, held.found
    head = {**_head_data(chart), "reason": _reason(chart)}
    if found is None:
        return {**head, "marks": []}
    subjects = {*chart.distances_mm.tolist(), *(held.subjects_mm or ())}
    moved = recentred(chart, np.array(sorted(subjects)))
    marks = [_locked_data(found, moved, i) for i in range(len(chart.distances_mm))]
    return {**head, "marks": marks}


def _locked_data(found: LockedRing, moved: Recentred, i: int) -> dict[str, Any]:
    chart = found.chart
    assert chart.pair_95 is not None  # else there would be no zones
    return {
        "distance_mm": plain(chart.distances_mm[i]),
        "taking_arc_mm": plain(found.taking.arc_mm[i]),
        "attachment_arc_mm": plain(found.attachment.arc_mm[i]),
        "pair_95": by_stop(chart.stops, chart.pair_95[:, i]),
        "verdict": verdicts(chart)[i],
        "extrapolated": bool(extrapolated(chart)[i]),
        "zones": {f"{stop:g}": _zone_data(found, j, i) for j, stop in enumerate(chart.stops)},
        "subjects": [_moved_data(found, moved, p, i) for p in range(len(moved.subjects_mm))],
    }


def _zone_data(found: LockedRing, j: int, i: int) -> dict[str, Any]:
    chart = found.chart
    zones = {"vertical": chart.vertical, "horizontal": chart.horizontal, "at_rest": chart.frame,
             "one_hand": found.zone}  # fmt: skip
    return {
        **{name: _ends(zone.near_mm[j, i], zone.far_mm[j, i]) for name, zone in zones.items()},
        "taking_arc_mm": _ends(found.near_arc_mm[j, i], found.far_arc_mm[j, i]),
        "taking_turn_mm": _ends(*(turn[j, i] for turn in found.turns_mm())),
    }


def _moved_data(found: LockedRing, moved: Recentred, p: int, i: int) -> dict[str, Any]:
    turn = float(moved.turn_mm[p, i])
    return {
        "distance_mm": plain(moved.subjects_mm[p]),
        "taking_arc_mm": plain(moved.arc_mm[p, i]),
        "taking_turn_mm": plain(turn),
        "taking_turns": turn_way(turn, found.nearer_sign),
        "taking_focus_mm": plain(moved.focus_mm[p, i]),
        "blur_vertical": by_stop(found.chart.stops, moved.vertical[:, p, i]),
        "blur_horizontal": by_stop(found.chart.stops, moved.horizontal[:, p, i]),
    }


def rack_json(found: Rack, *, seconds: float) -> str:
    """Return the data of a rack, infinity as null: a hand that may stay away, too."""
    chart, slack = found.chart, found.slack
    hands = {"taking": slack.taking, "attachment": slack.attachment, "either": slack.either}
    data = {
        "format": 1,
        **_head_data(chart),
        "seconds": seconds,
        "positions": [_position_data(found, k, seconds) for k in range(len(found.share))],
        "hands_apart": {
            name: {
                "share": by_stop(chart.stops, share),
                "seconds": by_stop(chart.stops, share * seconds),
            }
            for name, share in hands.items()
        },
        "notes": list(rack_cautions(found, seconds=seconds)),
        "left_out": [],
    }
    return dumped(data) + "\n"


def _position_data(found: Rack, k: int, seconds: float) -> dict[str, Any]:
    at, chart = found.at, found.chart
    sure, far = judged(chart, at.pair_95[0]), extrapolated(chart, at.distances_mm)
    return {
        "step": k,
        "taking_share": plain(found.share[k]),
        "time_share": plain(found.time_share[k]),
        "time_s": plain(found.time_share[k] * seconds),
        "distance_mm": plain(at.distances_mm[k]),
        "taking": ring_data(at.taking, k),
        "attachment": ring_data(at.attachment, k),
        "squeeze": plain(at.squeeze[k]),
        "pair_95": by_stop(chart.stops, at.pair_95[:, k]),
        "verdict": sure[k],
        "extrapolated": bool(far[k]),
    }


def _ends(near: float, far: float) -> list[float | None]:
    return [plain(near), plain(far)]
