"""What of all that is found speaks against a rig, and what to watch, in sentences.

Only what is known speaks: a size that is not given is neither a fault nor a caution.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

import numpy as np
from numpy.typing import NDArray

from focuschart.checks.coverage import Coverage
from focuschart.checks.reach import Reach
from focuschart.optics.arrays import Floats
from focuschart.rig.balance import Balance, Section
from focuschart.rig.chain import Finding, Verdict
from focuschart.rig.light import DARK, DIM, SENSOR, Light, longest_run
from focuschart.units import distance_label, format_mass, format_stop


def faults(
    chain: Iterable[Finding],
    *,
    coverage: Coverage | None,
    balance: Balance,
    loaded: Balance | None,
) -> Iterator[str]:
    """Yield why a rig cannot work, the chain first; coverage is None where it is not known.

    `loaded` is its balance with more in front.
    """
    yield from _chain(chain, "does not meet")
    if coverage:
        yield from _black(coverage)
    bare = list(_overloads(balance))
    yield from bare
    if loaded and not bare:
        yield from (f"{_with_more(loaded)}: {each}" for each in _overloads(loaded))


def cautions(
    chain: Iterable[Finding],
    *,
    coverage: Coverage | None,
    reach: Reach,
    balance: Balance,
    loaded: Balance | None,
) -> Iterator[str]:
    """Yield what to watch in a rig that may work all the same.

    `loaded` is its balance with more in front.
    """
    yield from _chain(chain, "caution")
    if coverage:
        yield from _dim(coverage)
    for table in reach.close_ups:
        if table.mounted:
            yield (
                f'close-up lens "{table.name}" is on the front: subjects stand nearer than the '
                "marks say, and infinity is out of reach"
            )
    if balance.mount_n < 0.0:
        yield (
            "the support stands behind the balance of what it carries: it pulls the lens mount up "
            f"with {-balance.mount_n:.1f} N"
        )
    yield from _unsupported(balance)
    if loaded and not list(_overloads(balance)):
        yield from (f"{_with_more(loaded)}: {each}" for each in _unsupported(loaded))


def _with_more(loaded: Balance) -> str:
    return f"with {format_mass(loaded.front_unit_g)} more in front"


def _overloads(weight: Balance) -> Iterator[str]:
    """Yield what is heavier, farther out or bent more than its stated limit.

    Parts of unknown mass can only add to those known, so the known ones alone can overload.
    """
    if weight.known_mass_g > weight.payload_g:
        part = " or more" if math.isnan(weight.mass_g) else ""
        yield (
            f"the rig weighs {format_mass(round(weight.known_mass_g))}{part}, the payload of what "
            f"carries it is {format_mass(round(weight.payload_g))}"
        )
    if weight.plate_verdict == "does not meet":
        low, high = weight.plate_range_mm
        yield (
            f"the rig balances {weight.plate_mm:+.0f} mm from the tripod thread, the plate reaches "
            f"from {low:+.0f} to {high:+.0f} mm"
        )
    yield from (_overbent(each) for each in weight.sections if each.verdict == "does not meet")


def _overbent(section: Section) -> str:
    moment = section.right_nm if section.supported else section.hanging_nm
    told = f"at least {section.least_nm:.2f}" if math.isnan(moment) else f"{abs(moment):.2f}"
    even = " even with the support rightly set" if section.supported else ""
    return (
        f"{section.place}: bending moment {told} N m{even}, its stated limit is "
        f"{section.limit_nm:.2f} N m"
    )


def _unsupported(weight: Balance) -> Iterator[str]:
    """Yield where only the support, and only rightly set, keeps a moment within its limit."""
    for each in weight.sections:
        if each.verdict == "caution":
            moments = {"unsupported": each.hanging_nm, "with it raised too hard": each.lifting_nm}
            told = (
                " and ".join(
                    f"{abs(moment):.2f} N m {how}"
                    for how, moment in moments.items()
                    if abs(moment) > each.limit_nm
                )
                or f"at least {each.least_nm:.2f} N m unsupported"
            )
            yield (
                f"{each.place}: never without the support, rightly set: the bending moment is "
                f"{told}, its stated limit {each.limit_nm:.2f} N m"
            )


def _chain(chain: Iterable[Finding], verdict: Verdict) -> Iterator[str]:
    return (_sentence(each) for each in chain if each.verdict == verdict)


def _sentence(finding: Finding) -> str:
    if finding.names_place:
        return finding.reason
    return f"{finding.place}: {finding.reason}"


def _black(covered: Coverage) -> Iterator[str]:
    """Yield which corners that will be seen are black at some of the kit's stops and marks."""
    for name, black in _corners(covered.light, DARK):
        stops = np.any(black, axis=1)
        if np.any(stops):
            yield (
                f"the corner of {_frame(name)} is black at {_stops(covered.stops[stops])}, "
                f"{_focused(covered.light, np.any(black, axis=0))}"
            )


def _dim(covered: Coverage) -> Iterator[str]:
    """Yield where the corner of what is delivered is dim at the working stop, not black."""
    light, working = covered.light, covered.working
    black = dict(_corners(light, DARK))
    for (name, dim), passed in zip(_corners(light, DIM), light.passed, strict=True):
        at = dim[working] & ~black[name][working]
        if np.any(at):
            least = 100.0 * float(np.min(passed[working][at]))
            yield (
                f"the corner of {_frame(name)} gets {least:.0f} % of its light at "
                f"{_stops(covered.stops[[working]])}, {_focused(light, at)}"
            )
    unseen = covered.passed[working] < DARK
    if covered.deliveries and np.any(unseen):
        yield (
            f"the corner of the sensor mode is black at {_stops(covered.stops[[working]])}, "
            f"focused at {_ends(unseen)}: look at the crops"
        )


def _corners(light: Light, least: float) -> Iterator[tuple[str, NDArray[np.bool_]]]:
    """Yield of each picture's corner where it gets less light at the kit's stops (m × n)."""
    for name, passed in zip(light.names, light.passed, strict=True):
        yield name, (passed < least) & light.asked[:, np.newaxis]


def _stops(stops: Floats) -> str:
    return ", ".join(map(format_stop, stops.tolist()))


def _frame(name: str) -> str:
    return f"the {name}" if name == SENSOR else f"the {name} picture"


def _focused(light: Light, at: NDArray[np.bool_]) -> str:
    """Return at which marks, from the longest run of neighbours that are such."""
    run = longest_run(at)
    ends = [_mark(light, i) for i in dict.fromkeys((run[0], run[-1]))]
    more = int(np.sum(at)) - len(run)
    others = f" and at {more} more mark{'s' if more > 1 else ''}" if more else ""
    return f"focused {f'from {ends[0]} to {ends[1]}' if len(ends) > 1 else f'at {ends[0]}'}{others}"


def _mark(light: Light, i: int) -> str:
    if math.isinf(light.distances_mm[i]):
        return "infinity"
    if i == 0:
        return "the nearest mark"
    return distance_label(float(light.distances_mm[i]), light.units)


def _ends(at: NDArray[np.bool_]) -> str:
    """Return at which of infinity and the nearest mark, "" for neither."""
    names = ("infinity", "the nearest mark")
    return " and ".join(name for name, is_so in zip(names, at, strict=True) if is_so)
