"""A check as text for people and as data for machines."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence

import numpy as np

from focuschart.checks.coverage import Coverage
from focuschart.checks.picture import WHOLE, Delivery, Picture
from focuschart.checks.reach import Reach, Table
from focuschart.checks.rig_check import Checks, RigCheck
from focuschart.checks.wording import (
    PAN_RULE,
    SUPPORT_SET,
    fastest_pan,
    frame_text,
    pan_ends,
    squeeze_text,
)
from focuschart.optics.frame import PixelCrop
from focuschart.optics.movement import Pans
from focuschart.report.check_data import rig_data
from focuschart.report.data import left_out_data
from focuschart.report.lines import Row, aligned, wrapped
from focuschart.report.numbers import dumped
from focuschart.rig.balance import Balance, Section
from focuschart.rig.chain import Finding
from focuschart.units import Units, distance_label, format_mass, format_range, format_stop

Lines = Iterator[str]

CAUTION = (
    "Limits stated by the makers win over these figures. Never point the rig at the sun: it burns "
    "eyes, sensors and tape in a moment. Support and tether a front-heavy rig; above people, local "
    "rules and qualified riggers decide."
)
NOT_COUNTED = (
    "not counted: the front rim's lead over the foremost glass, a close-up lens's bending beyond it"
)
_PLACE_WIDTH = 30
_NAME_WIDTH = 10
_MOST_DELIVERIES = 3
_MOST_MARKS = 10


def as_text(checks: Checks, *, units: Units) -> str:
    """Return the check of every rig, then what to get for all; no line is longer than `WIDTH`."""
    parts = ["\n".join(_rig(check, units)) for check in checks]
    if checks.shopping:
        names = {check.rig.rig_id: check.rig.name for check in checks}
        wanted = (
            f"{item} (for {', '.join(names.get(rig, rig) for rig in rigs)})"
            for item, rigs in checks.shopping.items()
        )
        parts.append("\n".join(["To get", *(line for item in wanted for line in _wrapped(item))]))
    return "\n\n".join([*parts, "\n".join(_wrapped(CAUTION, indent=""))]) + "\n"


def _wrapped(text: str, *, indent: str = "  ") -> Lines:
    """Yield a sentence as lines, all but the first set in a little further."""
    return wrapped(text, indent=indent, further=f"{indent}  " if indent else "")


def _rig(check: RigCheck, units: Units) -> Lines:
    """Yield what cannot work first, then what to watch, then each part of the check."""
    verdict = "works as far as the kit tells" if check.works else "cannot work as it is"
    yield from _wrapped(f"{check.rig.name} ({check.rig.rig_id}): {verdict}", indent="")
    for fault in check.faults:
        yield from _wrapped(f"! {fault}")
    for caution in check.cautions:
        yield from _wrapped(f"caution: {caution}")
    sections = {
        "Fit": _fit(check.chain),
        "Coverage": _coverage(check.coverage, units),
        "Reach": _reach(check, units),
        "Load": _load(check.balance, check.loaded),
        "Picture": _picture(check.picture, units),
        "Cannot tell, since not known from the kit": _unknown(check),
    }
    for title, lines in sections.items():
        found = list(lines)
        yield from [title, *found] if found else []


# --- fit ------------------------------------------------------------------------------------------


def _fit(chain: Sequence[Finding]) -> Lines:
    """Yield what fits; what does not stands above, what is not known below."""
    fitting = [each for each in chain if each.verdict == "fits"]
    joints = [each.place for each in fitting if each.kind == "joint"]
    if joints:
        yield from _wrapped(f"fits: {'; '.join(joints)}")
    openings = [each for each in fitting if each.kind == "opening"]
    for reason in dict.fromkeys(each.reason for each in openings):
        places = ", ".join(each.place for each in openings if each.reason == reason)
        yield from _wrapped(f"{places}: {reason}")
    for each in fitting:
        if each.kind == "front":
            yield from _wrapped(each.reason)


# --- coverage -------------------------------------------------------------------------------------


def _coverage(found: Coverage | tuple[str, ...], units: Units) -> Lines:
    if not isinstance(found, Coverage):
        return
    far, near = (distance_label(float(each), units) for each in found.distances_mm)
    yield from _wrapped(
        f"focused at {far} / {near}: light left in the corner of the sensor mode and of each "
        "delivery; how much of the sensor's width is fully and half lit; the shortest lens that "
        "lights it all"
    )
    yield from aligned(_coverage_rows(found))
    chief = _lenses(found.shortest_chief_mm[found.working])
    yield from _wrapped(
        f"the shortest lens whose middle ray still reaches its corner: {chief}; widths and lenses "
        "leave a margin for real glass"
    )
    if found.missing:
        yield from _wrapped("at most so much light: some openings are not known (see below)")
    yield from _wrapped(NOT_COUNTED)


def _coverage_rows(found: Coverage) -> Iterator[Row]:
    shown = found.deliveries[:_MOST_DELIVERIES]
    names = [_cut(corner.name, _NAME_WIDTH) for corner in shown]
    yield ["  stop", "sensor", *names, "fully lit", "half lit", "lens from", ""]
    for i, stop in enumerate(found.stops):
        lit = (found.full_crop[i], found.half_crop[i])
        yield [
            f"  {format_stop(float(stop))}",
            *(f"{_pair(map(_percent, corner.passed[i]))} %" for corner in (found, *shown)),
            *(f"{_pair(map(_percent, np.minimum(crop, 1.0)))} %" for crop in lit),
            _lenses(found.shortest_full_mm[i]),
            "",
        ]


def _pair(texts: Iterable[str]) -> str:
    return " / ".join(texts)


def _percent(share: float) -> str:
    return f"{100.0 * share:.0f}"


def _lenses(focal_mm: Iterable[float]) -> str:
    texts = list(map(_focal, focal_mm))
    return "none" if set(texts) == {"none"} else f"{_pair(texts)} mm"


def _focal(focal_mm: float) -> str:
    return "none" if math.isinf(focal_mm) else f"{math.ceil(focal_mm - 1e-6)}"


# --- reach ----------------------------------------------------------------------------------------


def _reach(check: RigCheck, units: Units) -> Lines:
    found: Reach = check.reach
    # Rounded up: nearer than this is not promised.
    nearest = distance_label(float(math.ceil(found.nearest_mm - 1e-6)), units)
    yield from _wrapped(f"nearest subject {nearest} from the sensor, by {found.limited_by}")
    for table in found.close_ups:
        mounted = " (on the rig)" if table.mounted else ""
        ends = (_close_up(check, table, i, units) for i in dict.fromkeys((0, -1)))
        yield from _wrapped(
            f"with {table.name}, {table.power:g} dioptres{mounted}, {'; '.join(ends)}"
        )


def _close_up(check: RigCheck, table: Table, i: int, units: Units) -> str:
    seen = table.close_up
    rings = distance_label(float(check.rig.distances_mm[i]), units)
    subject = distance_label(float(np.round(seen.subject_mm[i])), units)
    frame = frame_text(float(seen.frame.width_mm[i]), float(seen.frame.height_mm[i]), units)
    sharp = format_range(float(seen.limits.near_mm[i]), float(seen.limits.far_mm[i]), units)
    unit = "" if units == "imperial" else " m"
    return f"rings at {rings}: subject at {subject}, sharp {sharp}{unit}, frame {frame}"


# --- load -----------------------------------------------------------------------------------------


def _load(bare: Balance, loaded: Balance | None) -> Lines:
    weights = list(_weights(bare))
    if weights:
        yield from _wrapped("; ".join(weights))
    for found in (bare, loaded):
        if found and any(_told(section) for section in found.sections):
            yield from aligned(_section_rows(found))


def _weights(bare: Balance) -> Lines:
    """Yield what is known of mass, balance, payload and support, rods and plate not counted."""
    if math.isfinite(bare.mass_g):
        yield f"weighs {format_mass(round(bare.mass_g))} without rods and plate"
    elif bare.known_mass_g:
        known = format_mass(round(bare.known_mass_g))
        yield f"weighs at least {known} without rods and plate: some masses are not known"
    if math.isfinite(bare.payload_margin_g):
        word = "to spare" if bare.payload_margin_g >= 0.0 else "too much"
        yield f"payload: {format_mass(abs(round(bare.payload_margin_g)))} {word}"
    if math.isfinite(bare.centre_mm):
        yield f"centre of gravity {_side(bare.centre_mm, 'the sensor')}"
    if math.isfinite(bare.plate_mm):
        fits = " (the plate reaches)" if bare.plate_verdict == "fits" else ""
        yield f"balances {_side(bare.plate_mm, 'the tripod thread')}{fits}"
    if math.isfinite(bare.support_n):
        yield (
            f"the support, rightly set ({SUPPORT_SET}), carries {bare.support_n:.1f} N, the lens "
            f"mount {bare.mount_n:.1f} N; too hard is twice that force"
        )


def _side(place_mm: float, of: str) -> str:
    return f"{abs(place_mm):.0f} mm {'before' if place_mm >= 0.0 else 'behind'} {of}"


def _section_rows(found: Balance) -> Iterator[Row]:
    more = f", {format_mass(found.front_unit_g)} more" if found.front_unit_g else ""
    supported = any(section.supported for section in found.sections)
    settings = ("rightly set", "too hard") if supported else ()
    yield [f"  bending moment, N m{more}", "unsupported", *settings, "limit", ""]
    for each in found.sections:
        moments = (each.hanging_nm, each.right_nm, each.lifting_nm)[: 1 + len(settings)]
        yield [
            f"  {_cut(_joint(each), _PLACE_WIDTH)}",
            *(_moment(moments[0], least_nm=each.least_nm), *map(_moment, moments[1:])),
            _limit(each),
            "" if each.verdict == "cannot tell" else each.verdict,
        ]


def _told(section: Section) -> bool:
    return math.isfinite(section.hanging_nm) or section.least_nm > 0.0


def _joint(section: Section) -> str:
    """Return a joint by the part in front of it: its whole name is too long for a table."""
    return f"behind {section.ahead}" if section.ahead else section.place


def _moment(moment_nm: float, *, least_nm: float = math.nan) -> str:
    if math.isnan(moment_nm):
        return f"≥ {least_nm:.2f}" if least_nm > 0.0 else "?"
    return f"{round(moment_nm, 2) + 0.0:.2f}"


def _limit(section: Section) -> str:
    return "-" if math.isnan(section.limit_nm) else f"{section.limit_nm:.2f}"


# --- picture --------------------------------------------------------------------------------------


def _picture(shown: Picture, units: Units) -> Lines:
    how = f"all by {shown.one_factor:g}" if shown.one_factor else "each mark by its own squeeze"
    ends = dict.fromkeys(_size(shown, i, units) for i in (0, -1))
    crops = [
        f"{each.name} {_crop_size(each.pixels)}"
        for each in shown.deliveries
        if each.pixels is not None and each.ratio is not None
    ]
    cropped = f"; cropped: {', '.join(crops)}" if crops else ""
    yield from _wrapped(f"desqueezed, {how}: {'; '.join(ends)}{cropped}")
    yield from aligned(_frame_rows(shown, units))
    if len(shown.distances_mm) > _MOST_MARKS or len(shown.deliveries) > _MOST_DELIVERIES:
        yield "  (some marks or deliveries left out: all are in --format json)"
    if shown.pans is not None:
        yield from _wrapped(_pans(shown, shown.pans, units))


def _size(shown: Picture, i: int, units: Units) -> str:
    """Return the whole picture as finished at one mark; the mark is told where it matters."""
    pixels = "" if shown.pixels is None else f", {_by(*shown.pixels[i].tolist())} pixels"
    label = distance_label(float(shown.distances_mm[i]), units)
    at = "" if shown.one_factor else f" at {label}"
    return f"{shown.ratio[i]:.2f}:1{pixels}{at}"


def _crop_size(crop: PixelCrop) -> str:
    """Return a crop's pixels, at the nearest mark and at the farthest where they differ."""
    ends = (_by(int(crop.width_px[i]), int(crop.height_px[i])) for i in (0, -1))
    return " to ".join(dict.fromkeys(ends))


def _by(width: int, height: int) -> str:
    return f"{width} × {height}"


def _frame_rows(shown: Picture, units: Units) -> Iterator[Row]:
    deliveries = shown.deliveries[:_MOST_DELIVERIES]
    names = [_frame_title(each.name) for each in deliveries]
    yield ["  subject", "squeeze", f"too wide at {shown.widened_by:g}×", *names, ""]
    count = len(shown.distances_mm)
    chosen = np.linspace(0, count - 1, min(count, _MOST_MARKS)).round().astype(int)
    for i in chosen.tolist():
        yield [
            f"  {distance_label(float(shown.distances_mm[i]), units)}",
            squeeze_text(shown, i),
            f"{round(float(shown.widening_percent[i]), 1) + 0.0:.1f} %",
            *(_delivered(each, i, units) for each in deliveries),
            "",
        ]


def _frame_title(name: str) -> str:
    return WHOLE if name == WHOLE else f"frame {_cut(name, _NAME_WIDTH)}"


def _delivered(delivery: Delivery, i: int, units: Units) -> str:
    return frame_text(float(delivery.frame.width_mm[i]), float(delivery.frame.height_mm[i]), units)


def _pans(shown: Picture, pans: Pans, units: Units) -> str:
    """Return how fast to pan and what leans then, at the nearest mark and the farthest."""
    ends = pan_ends(shown, units)
    rates = (f"{np.degrees(pans.rate_rad_s[0, i]):.1f}° a second at {at}" for i, at in ends.items())
    leans, plain = (
        ", ".join(f"{np.degrees(values[0, i]):.2f}°" for i in ends)
        for values in (pans.lean_rad, pans.spherical_lean_rad)
    )
    limits = {at: fastest_pan(shown, i) for i, at in ends.items()}
    fastest = "".join(f"; at {at} {text}" for at, text in limits.items() if text)
    return (
        f"pan the {shown.deliveries[0].name} picture at most its width {PAN_RULE}: "
        f"{', '.join(rates)}; upright edges then lean {leans} "
        f"(a spherical lens of the same field {plain}), twice as much twice as fast{fastest}"
    )


# --- the unknown ----------------------------------------------------------------------------------


def _unknown(check: RigCheck) -> Lines:
    """Yield, for each part of the check, what the kit does not give; every reason once."""
    unknown = (each for each in check.chain if each.verdict == "cannot tell")
    covered = check.coverage
    groups = {
        "fit": tuple(dict.fromkeys(" and ".join(each.missing) or each.reason for each in unknown)),
        "coverage": covered.missing if isinstance(covered, Coverage) else covered,
        "load": check.load_missing,
        "picture": check.picture.missing,
        "marks (squeeze is as entered)": check.marks_missing,
    }
    for what, keys in groups.items():
        if keys:
            yield from _wrapped(f"{what}: {'; '.join(keys)}")


def _cut(text: str, width: int) -> str:
    return text if len(text) <= width else f"{text[: width - 1]}…"


def as_json(checks: Checks) -> str:
    """Return everything found under the keys that `check_data` lists, as JSON."""
    data = {
        "format": 1,
        "rigs": [rig_data(check) for check in checks],
        "shopping_list": {item: list(rigs) for item, rigs in checks.shopping.items()},
        "left_out": left_out_data(checks.left_out),
    }
    return dumped(data) + "\n"
