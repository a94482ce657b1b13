"""The result of a camera test, as text for people and as data for machines."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from focuschart.chart.camera_test import RingResult, StripTest
from focuschart.report.lines import wrapped
from focuschart.report.numbers import dumped, plain
from focuschart.rig.ring import Which
from focuschart.units import Units, distance_label, format_stop

_RING: dict[Which, str] = {"taking": "taking lens", "attachment": "attachment"}


def as_text(results: Iterable[StripTest], *, stops: dict[str, float], units: Units) -> str:
    """Return what to do with each strip, in words; `stops` are the rigs' working stops."""
    return "".join(f"{line}\n" for one in results for line in _lines(one, stops[one.rig_id], units))


def _lines(one: StripTest, stop: float, units: Units) -> Iterator[str]:
    yield f"{one.rig_id}: all marks are inside at {format_stop(stop)} with {100 * one.inside:.0f} %"
    for which, ring in one.rings.items():
        text = f"{_RING[which]}, strip {ring.strip}: {_act(ring)}"
        yield from wrapped(text, indent="  ", further="    ")
    if one.cause:
        yield from wrapped(f"Cause: {one.cause}.", indent="  ", further="    ")
    if one.keep_from_stop is not None:
        yield f"  As taped, keep from {format_stop(one.keep_from_stop)} on."
    if one.decide_at_mm is not None:
        where = distance_label(one.decide_at_mm, units)
        yield from wrapped(
            f"Read the mark {where} once more, both rings focused anew and nothing taped: of all "
            "marks that tells most.",
            indent="  ",
            further="    ",
        )


def _act(ring: RingResult) -> str:
    off = f"lies off by {ring.offset_mm:+.2f} ± {ring.offset_95_mm:.2f} mm"
    if ring.verdict == "exchanged":
        return "belongs elsewhere: tape each ring's own strip, and test again"
    if ring.verdict == "use-tick" and not ring.move_mm:
        return f"{off}: use the line of its index again, and tape nothing anew"
    if ring.verdict == "use-tick":
        return f"{off}: use the tick {ring.move_mm:+.2f} of its index, and tape nothing anew"
    if ring.verdict == "move":
        return (
            f"{off}: move the index by {ring.move_mm:+.2f} mm, toward larger figures if positive, "
            "and test again"
        )
    if ring.verdict == "reprint":
        return "its marks have moved from one another: see to the cause, then build and print again"
    set_by = f", set by the tick {ring.tick_mm:+.2f}" if ring.tick_mm else ""
    return f"{off}{set_by}: {'keep it' if ring.verdict == 'keep' else 'inconclusive'}"


def as_json(results: Iterable[StripTest]) -> str:
    """Return the same as stable data: see the guide."""
    data = {"format": 1, "rigs": [_rig(one) for one in results]}
    return dumped(data) + "\n"


def _rig(one: StripTest) -> dict[str, object]:
    return {
        "rig": one.rig_id,
        "keep_from_stop": one.keep_from_stop,
        "cause": one.cause,
        "rings": {
            which: {
                "strip": ring.strip,
                "taping": ring.taping,
                "offset_mm": plain(ring.offset_mm),
                "offset_95_mm": plain(ring.offset_95_mm),
                "verdict": ring.verdict,
                "move_mm": None if ring.move_mm is None else plain(ring.move_mm),
            }
            for which, ring in one.rings.items()
        },
    }
