"""How sure: each mark judged for the pair of rings, and the stop from which to trust a chart."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from focuschart.bench.cause import cause_text
from focuschart.chart.marks import RingMarks
from focuschart.chart.model import Chart
from focuschart.kit.naming import reading_name
from focuschart.optics.arrays import Floats
from focuschart.units import Units, distance_label, format_stop

Verdict = Literal["sure", "nearly", "not", "not measured"]

_ONE_STOP = math.sqrt(2.0)
_ENGRAVED_STEPS = 2.0
"""Full stops to a doubling of the f-number."""
FULL_STOPS = (0.7, 1.0, 1.4, 2.0, 2.8, 4.0, 5.6, 8.0, 11.0, 16.0, 22.0, 32.0, 45.0, 64.0)
"""Engraved figures; each stands for a power of √2."""
LENGTHS_APART_MM = 10.0
"""A length measured as a whole and its parts' sum differ by no more where both are right."""
_ENGRAVING = 0.99
"""A hundredth over an engraved figure still counts as that figure."""


def verdict(error_95: float) -> Verdict:
    """Judge a pair's 95 % error in criteria: sure within one, nearly if sure one stop down."""
    if error_95 <= 1.0:
        return "sure"
    return "nearly" if error_95 <= _ONE_STOP else "not"


def verdicts(chart: Chart, *, stop: int = 0) -> tuple[Verdict, ...]:
    """Judge every mark at one of the kit's stops, by its number; the first is the working stop."""
    if chart.pair_95 is None:
        return tuple("not measured" for _ in chart.distances_mm)
    return judged(chart, np.where(off_the_ring(chart), np.inf, chart.pair_95[stop]))


def judged(chart: Chart, errors_95: Floats) -> tuple[Verdict, ...]:
    """Judge a pair's 95 % errors (n), in criteria, at any settings of a rig's rings.

    Readings that disagree leave none sure.
    """
    if chart.contradicted:
        return tuple("not" for _ in errors_95)
    return tuple(verdict(float(error)) for error in errors_95)


def off_the_ring(chart: Chart) -> NDArray[np.bool_]:
    """Return which marks a ring would have to turn further for than it can.

    A law that is extrapolated far, or bent by wrong readings, may run to any length; measured in a
    tolerance that grows with it, such a mark would look good.
    """
    off = np.zeros(len(chart.distances_mm), dtype=bool)
    for ring, marks in chart.rings().values():
        if marks is not None:
            read = [row.figure_mm for row in marks.measured.rows]
            span = np.maximum(marks.arc_mm, max(read)) - np.minimum(marks.arc_mm, min(read))
            off |= ~(span < ring.turns * ring.ruler_length_mm)
    return off


def extrapolated(chart: Chart, distances_mm: Floats | None = None) -> NDArray[np.bool_]:
    """Return which distances, or marks, lie nearer than the nearest reading of either ring."""
    asked = chart.distances_mm if distances_mm is None else distances_mm
    return np.asarray(asked < chart.nearest_read_mm)


def in_words(sure: Verdict, *, extrapolated: bool) -> str:
    """Return a verdict with what else makes it doubtful."""
    return f"{sure}, extrapolated" if extrapolated else sure


def sure_from(chart: Chart) -> tuple[float | None, ...]:
    """Return for each mark the first full stop at which the pair's error is within one criterion.

    The tolerance grows in proportion to the f-number. Never wider than the kit's widest stop;
    None where no stop suffices, or readings disagree.
    """
    if chart.pair_95 is None or chart.contradicted:
        return (None,) * len(chart.distances_mm)
    errors_95 = np.where(off_the_ring(chart), np.inf, chart.pair_95[0])
    return tuple(_full_stop(chart, float(error) * chart.working_stop) for error in errors_95)


def trusted_need(chart: Chart, *, setting: bool = True) -> float | None:
    """Return the f-number at which all marks, each set once, are within tolerance with 95 %.

    Without `setting` that of the strips themselves, as if they were set without error. None where
    a ring is unread, a mark lies beyond its ring or readings disagree.
    """
    if chart.pair is None or chart.contradicted or bool(np.any(off_the_ring(chart))):
        return None
    together = chart.pair.all_inside(chart.pair.covariance(setting=setting))
    return float(together * chart.working_stop)


def trusted_from(chart: Chart) -> float | None:
    """Return the first full stop at which all marks together are within tolerance with 95 %."""
    return first_stop(chart, trusted_need(chart))


def strip_from(chart: Chart) -> float | None:
    """Return the same without the error of setting by eye: what the strips themselves are worth."""
    return first_stop(chart, trusted_need(chart, setting=False))


def next_steps(chart: Chart) -> dict[str, tuple[float, float | None]]:
    """Return what each next step would gain: in stops, and the stop to trust all marks from then.

    The steps are indexes chosen by focus at one mark, a camera test with its tick chosen, and a
    bench read by photographs that tell each taping too.
    """
    now = trusted_need(chart)
    if now is None or chart.pair is None:
        return {}
    after = {
        "index_by_focus": chart.pair.index_by_focus(),
        "camera_test": chart.pair.camera_test(),
        "photographs": chart.pair.photographs(),
    }
    needs = {name: chart.pair.all_inside(whole) * chart.working_stop
             for name, whole in after.items()}  # fmt: skip
    return {
        name: (_ENGRAVED_STEPS * math.log2(now / need), _full_stop(chart, need))
        for name, need in needs.items()
    }


def first_stop(chart: Chart, need: float | None) -> float | None:
    return None if need is None else _full_stop(chart, need)


def _full_stop(chart: Chart, need: float) -> float | None:
    """Return the first full stop no wider than needed, None beyond the slowest."""
    widest = float(np.min(chart.stops))
    stops = sorted({widest, *FULL_STOPS})
    return next((stop for stop in stops if stop >= _ENGRAVING * max(need, widest)), None)


def remarks(chart: Chart, units: Units) -> Iterator[str]:
    """Yield what else the user must know of a rig's marks, in plain sentences."""
    for name, (_, marks) in chart.rings().items():
        if name in chart.refused:
            yield f"{name} ring: {chart.refused[name].rule}"
        elif marks is None:
            yield f"{name} ring: no readings, so no marks; tape its ruler strip on and read it"
        else:
            yield from _ring_remarks(name, marks, chart, units)
    yield from _lens_remarks(chart)
    yield from (f"{chart.how_likely} {cause_text(cause, units)}" for cause in chart.causes[:1])
    for distance in chart.distances_mm[off_the_ring(chart)]:
        yield (
            f"the mark of {distance_label(float(distance), units)} lies further than its ring "
            "turns: read that distance, or leave it out"
        )
    near = int(np.sum(extrapolated(chart)))
    if near and chart.pair_95 is not None:
        are = "1 mark is" if near == 1 else f"{near} marks are"
        yield f"{are} nearer than the nearest reading: extrapolated, read one there"


def _lens_remarks(chart: Chart) -> Iterator[str]:
    """Yield what is doubtful of the rig's length and of its lens."""
    rig = chart.rig
    if rig.parts_differ_mm is not None and abs(rig.parts_differ_mm) > LENGTHS_APART_MM:
        longer = "longer" if rig.parts_differ_mm > 0.0 else "shorter"
        yield (
            f"its parts add up to {abs(rig.parts_differ_mm):.0f} mm {longer} than its "
            "front_vertex: measure again, marks hang on it"
        )
    if chart.lens_known_by == "engraving":
        cure = (
            "read its ring" if rig.lens.focusing == "extends" else "give its largest_magnification"
        )
        yield (
            "depth of field is rounded inward for what is not known of the taking lens but its "
            f"engraved focal length: {cure}"
        )


def _ring_remarks(name: str, marks: RingMarks, chart: Chart, units: Units) -> Iterator[str]:
    measured = marks.measured
    for row in measured.disagreeing:
        named = reading_name(row.reading, units, ring=measured.readings.which)
        yield f"{name} ring: the reading {named} disagrees with the others, check it"
    if measured.scale.contradicted and not measured.disagreeing:
        yield f"{name} ring: the readings disagree with each other, check them"
    if not measured.scale.converged:
        yield f"{name} ring: the fit did not settle, check the readings"
    if not measured.read_on(chart.rig.lens_id):
        yield (
            f"{name} ring: read on another taking lens only; take one check reading on this one, "
            "at the widest stop used"
        )
    read_at = min(row.reading.stop for row in measured.rows)
    if np.min(chart.stops) < read_at:
        yield (
            f"{name} ring: read at {format_stop(read_at)} but to be used wider; spherical "
            "aberration moves the scale of a fast lens, so read it at the widest stop used"
        )
    if any(np.isinf(row.reading.distance) for row in measured.rows):
        metres = chart.infinity_target_mm / 1000.0
        yield f'{name} ring: "inf" readings count only if the target is beyond {metres:.0f} m'
