"""What to do with the pieces on the sheets of a pack, in the order of the hands."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence

import numpy as np

from focuschart.chart.model import Chart
from focuschart.kit.ring import Ring
from focuschart.layout.sheet.finish import Finish
from focuschart.layout.sheet.steps import Steps
from focuschart.layout.strip.band import LEAD_IN_MM
from focuschart.rig.ring import Which
from focuschart.units import distance_label

_FROM_END_MM = 15.0
"""Where a ruler stands at infinity, from the figure at its end; judgement, no source: a ring may
pass its infinity, and a pencil mark has some width."""
_ABOUT_MM = 5.0
_BARS = (
    "Measure both check bars. Where one is not as long as stated, print again at "
    "100\N{NO-BREAK SPACE}%."
)
_JOIN = "Join a strip in pieces edge to edge, arrowhead to arrowhead."
_TAB = "the hatched tab goes underneath, so that the left edge meets the line before the tab"
_TICKS = "the edge with the ticks along the ring's edge next to the fixed index"
_SIDES = f"the triangle at the words subject side toward the subject, {_TICKS}"
MATT = "Paper: plain and matt, 80 to 120 grams"
"""Common practice, no source."""


def steps_of(name: str, charts: Sequence[Chart], finish: Finish, *, two_sided: bool) -> Steps:
    """Return what to do with the sheets of strips, cards or rulers, by the document's name."""
    if name == "rulers":
        return Steps(
            "What to do with the rulers, in this order",
            tuple(ruler_steps(charts)),
            "Cut on red. Set the ring to infinity, lay the ruler round it, triangle toward the "
            "subject, index at the place marked ∞, hatched tab underneath. Mark the ring under "
            "the diamond line.",
        )
    if "cards" in name:
        return Steps("What to do with the cards", tuple(_card_steps(two_sided=two_sided)))
    return Steps(
        "What to do with the strips, in this order",
        (*print_steps(charts, finish), *tape_steps(charts), *index_steps(charts)),
        "Cut on red. Triangle toward the subject, ticks next to the index, diamond line on the "
        "ring's mark, hatched tab underneath. Index strips: the triangle points at the ring.",
    )


def infinity_mm(chart: Chart, which: Which) -> float | None:
    """Return the arc that stands at the index with a ring at infinity, None where it is not known.

    A ring that was read has its ruler taped already, so its mark of infinity counts. On another
    one infinity goes near the end from which figures run as the ring is turned nearer. A whole
    `_ABOUT_MM`, so that hardly any reading changes the rulers.
    """
    ring, marks = chart.rings()[which]
    if marks is None:
        last = ring.turns * ring.ruler_length_mm - LEAD_IN_MM
        return _FROM_END_MM if ring.rises_nearer else math.floor(last - _FROM_END_MM)
    at_infinity = np.flatnonzero(np.isinf(chart.distances_mm))
    if not len(at_infinity):
        return None
    return _ABOUT_MM * round(float(marks.arc_mm[at_infinity[0]]) / _ABOUT_MM)


def print_steps(charts: Sequence[Chart], finish: Finish) -> Iterator[str]:
    """Yield how strips are printed and cut."""
    yield _BARS
    rings = [ring for chart in charts for ring, marks in chart.rings().values() if marks]
    thick = _listed(dict.fromkeys(f"{ring.strip_thickness:g} mm" for ring in rings))
    yield (
        f"{MATT}. Marks are made for strips {thick} thick in all, with laminate or tape over them: "
        "strip_thickness in the kit."
    )
    film = " Laminate, and cut the film along the green lines." if finish.film_mm else ""
    yield f"Cut the paper along the red lines.{film} {_JOIN}"


def tape_steps(charts: Sequence[Chart]) -> Iterator[str]:
    """Yield how marker strips are taped on."""
    yield f"Hold each marker strip round its ring as barrels.pdf shows it: {_SIDES}."
    yield f"Tape it on: the diamond line on the ring's mark, where the ruler's zero was; {_TAB}."
    seen = "∞ stands at the index" if _has_infinity(charts) else "the farthest mark is nearest it"
    yield (
        f"Turn the ring to infinity: {seen}. Turn it nearer, the way of the arrow on the strip: "
        "nearer marks come to the index. If not, do not use the strip."
    )


def index_steps(charts: Sequence[Chart]) -> Iterator[str]:
    """Yield how index strips are set: where the pointer was, or by focus."""
    yield (
        "Put each index strip on the fixed barrel: its triangle points at the ring, that edge "
        "touches the ring, its line is where the pointer was when the ring was read."
    )
    chosen = list(_set_by_focus(charts))
    for name, distance in chosen:
        yield (
            f"{name}: the kit has its index set by focus (index_set_at). Focus by eye on a target "
            f"at {distance} from the sensor mark, leave the ring, and tape the index strip with "
            "its line at that mark."
        )
    if not chosen:
        yield (
            "Surer still, set an index by focus: focus its ring by eye on a target at a marked "
            "distance from the sensor mark, leave the ring, and tape the index strip with its line "
            "at that mark. Say so in the kit: index_set_at."
        )


def _set_by_focus(charts: Sequence[Chart]) -> Iterator[tuple[str, str]]:
    """Yield ring and distance of each index set by focus, of one rig's strips only."""
    for chart in charts if len(charts) == 1 else ():
        names = {"taking": chart.rig.lens.name, "attachment": chart.rig.attachment.name}
        set_at = chart.kit.rigs[chart.rig.rig_id].index_set_at
        for which, (_, marks) in chart.rings().items():
            distance = None if set_at is None else getattr(set_at, which)
            if marks is not None and distance is not None:
                yield names[which], distance_label(distance, chart.kit.units)


def _has_infinity(charts: Sequence[Chart]) -> bool:
    return all(bool(np.isinf(chart.distances_mm).any()) for chart in charts)


def ruler_steps(charts: Sequence[Chart]) -> Iterator[str]:
    rings: list[Ring] = [ring for chart in charts for ring, _ in chart.rings().values()]
    thick = _listed(dict.fromkeys(f"{ring.ruler_thickness:g} mm" for ring in rings))
    yield _BARS
    yield f"{MATT}, not laminated; {thick} thick with the tape over it (ruler_thickness)."
    yield f"Cut along the red lines. {_JOIN}"
    yield (
        "Set the ring to infinity. Lay the ruler once round it: the triangle toward the subject, "
        f"{_TICKS}; {_TAB}."
    )
    yield (
        "Shift it until the fixed index, or a pointer taped beside the ring, such as the index for "
        "the ruler with its arrow to the ring, stands at the place marked ∞. A ring that bears its "
        "mark already: the diamond line on that mark."
    )
    crossing = "" if any(ring.turns > 1 for ring in rings) else ": the index must not cross the tab"
    yield f"Tape it, and turn the ring from end to end{crossing}."
    yield "Mark the ring under the diamond line for good: every later strip goes to that mark."


def _card_steps(*, two_sided: bool) -> Iterator[str]:
    yield _BARS
    if two_sided:
        yield "Print both sides, turned over the long edge. Cut along the red lines."
    else:
        yield "Cut along the red lines. Fold along the blue line, figures outside; glue it shut."
    yield "Laminate it: a card on set gets wet. The codes on it must be those on the strips."


def _listed(texts: Iterable[str]) -> str:
    return " or ".join(texts)
