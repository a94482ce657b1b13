"""Whether two metric threads screw together, and the step rings that join them if not."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations, pairwise

from focuschart.kit.fields import Thread

SAME_MM = 0.05
"""Diameters that differ by less are the same size; judgement, no source."""
USUAL_PITCH_MM: Mapping[float, float] = {
    **dict.fromkeys((43.0, 46.0, 49.0, 52.0, 55.0, 58.0, 62.0, 67.0, 72.0, 77.0, 82.0), 0.75),
    **dict.fromkeys((86.0, 95.0, 105.0), 1.0),
    37.0: 0.75,
    40.5: 0.5,
}
"""The usual pitch of filter threads, by diameter. Common practice, no source."""
MOST_UP_MM, MOST_DOWN_MM = 20.0, 10.0
"""The largest step of one stock ring, up and down; judgement, no source."""


def apart(female: Thread, male: Thread) -> bool:
    """Return whether two threads cannot screw together; an unknown pitch may be any."""
    pitches = {thread.pitch_mm for thread in (female, male)} - {None}
    return abs(female.diameter_mm - male.diameter_mm) > SAME_MM or len(pitches) > 1


def meets(female: Thread, male: Thread) -> bool:
    """Return whether two threads screw together; False if a pitch is unknown."""
    return None not in (female.pitch_mm, male.pitch_mm) and not apart(female, male)


def bridge(female: Thread, male: Thread) -> tuple[str, ...]:
    """Return the fewest step rings, in words, that join a male thread to a female one.

    They begin at the lens. Stock rings join two sizes of `USUAL_PITCH_MM`, in steps of `MOST_UP_MM`
    and `MOST_DOWN_MM` at most; else one ring is made to order. Of several shortest rows, that with
    the smallest largest step is returned.
    """
    if not (_is_usual(female) and _is_usual(male)) or not _differ(female, male):
        return (f"{_ring(female, male)}, made to order",)
    between = [Thread(d, p) for d, p in USUAL_PITCH_MM.items() if _between(d, female, male)]
    rising = male.diameter_mm > female.diameter_mm
    between.sort(key=lambda thread: thread.diameter_mm, reverse=not rising)
    for count in range(len(between) + 1):
        row = min(([female, *row, male] for row in combinations(between, count)), key=_widest)
        if _widest(row) <= (MOST_UP_MM if rising else MOST_DOWN_MM):
            break
    return tuple(_ring(a, b) for a, b in pairwise(row))


def _is_usual(thread: Thread) -> bool:
    usual = USUAL_PITCH_MM.get(thread.diameter_mm)
    return usual is not None and thread.pitch_mm in (None, usual)


def _differ(female: Thread, male: Thread) -> bool:
    return abs(female.diameter_mm - male.diameter_mm) > SAME_MM


def _between(diameter_mm: float, female: Thread, male: Thread) -> bool:
    low, high = sorted((female.diameter_mm, male.diameter_mm))
    return low < diameter_mm < high


def _widest(row: Sequence[Thread]) -> float:
    return max(abs(a.diameter_mm - b.diameter_mm) for a, b in pairwise(row))


def _ring(female: Thread, male: Thread) -> str:
    """Return a ring to ask for in words: "58 to 62 mm step-up ring, 0.75 mm pitch"."""
    a, b = female, male
    up = "up" if b.diameter_mm > a.diameter_mm else "down"
    kind = f"step-{up} ring" if _differ(a, b) else "ring"
    if a.pitch_mm is None or b.pitch_mm is None:
        pitch = "pitch to be found out"
    elif a.pitch_mm == b.pitch_mm:
        pitch = f"{a.pitch_mm:g} mm pitch"
    else:
        pitch = f"{a.pitch_mm:g} mm pitch to {b.pitch_mm:g} mm"
    return f"{a.diameter_mm:g} to {b.diameter_mm:g} mm {kind}, {pitch}"
