"""A check as text for people and as data for machines."""

from __future__ import annotations

import json
import math
import textwrap
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict
from typing import Any

import numpy as np

from focuschart.check.coverage import Coverage
from focuschart.check.model import RigCheck
from focuschart.check.picture import PAN_MULTIPLES, Picture
from focuschart.report import aligned
from focuschart.rig.balance import FRONT_UNIT_G, Balance
from focuschart.units import Units, distance_label, format_mass, format_range, format_stop

Lines = Iterator[str]
Row = Sequence[str]

CAUTION = (
    "Limits stated by the makers win over these figures; whatever hangs above people is for local "
    "rules and qualified riggers to decide."
)


def as_text(
    checks: Sequence[RigCheck], *, units: Units, shopping: Mapping[str, Sequence[str]]
) -> str:
    """Return the check of every rig, then what to get for all."""
    parts = ["\n".join(_rig(check, units)) for check in checks]
    if shopping:
        wanted = [f"  {item} (for {', '.join(rigs)})" for item, rigs in shopping.items()]
        parts.append("\n".join(["To get", *wanted]))
    return "\n\n".join([*parts, CAUTION]) + "\n"


def _rig(check: RigCheck, units: Units) -> Lines:
    rig = check.rig
    verdict = "works as far as the kit tells" if check.works else "cannot work as it is"
    yield f"{rig.name} ({rig.rig_id}): {verdict}"
    yield from (f"  ! {fault}" for fault in check.faults)
    yield "Fit"
    yield from _chain(check)
    yield "Coverage"
    yield from _coverage(check.coverage, units)
    yield "Reach"
    nearest = distance_label(check.reach.nearest_mm, units)
    yield f"  nearest {nearest}, limited by {check.reach.limited_by}"
    for name, power, table in check.reach.close_ups:
        yield f"  with {name} ({power:g} dioptres): subject, frame, depth of field"
        yield from aligned(_close_up_rows(check, table, units))
    yield "Load"
    yield from _load(check.balance, check.loaded)
    yield "Picture"
    yield from _picture(check.picture, units)


def _chain(check: RigCheck) -> Lines:
    for finding in check.chain:
        if finding.verdict != "cannot tell":
            wanted = f"; get {', '.join(finding.wanted)}" if finding.wanted else ""
            yield f"  {finding.place}: {finding.verdict}: {finding.reason}{wanted}"
    unknown = [finding for finding in check.chain if finding.verdict == "cannot tell"]
    yield from (line for finding in unknown for line in _wrapped(f"{finding.place}: cannot tell: "
                                                                  f"{finding.reason}"))  # fmt: skip


def _untold(keys: Sequence[str]) -> Lines:
    """Yield which keys of the kit would tell more."""
    return _wrapped(f"cannot tell: {', '.join(keys)} not given")


def _wrapped(text: str) -> Lines:
    yield from textwrap.wrap(
        text, 96, initial_indent="  ", subsequent_indent="    ", break_on_hyphens=False
    )


def _coverage(found: Coverage | tuple[str, ...], units: Units) -> Lines:
    if not isinstance(found, Coverage):
        yield from _untold(found)
        return
    yield from aligned(_coverage_rows(found, units))
    if found.missing:
        yield from _wrapped(f"not counted, since not given: {', '.join(found.missing)}")


def _coverage_rows(found: Coverage, units: Units) -> Iterator[Row]:
    yield ["  stop, subject", "corner light", "clear crop", "half-light crop",
           "shortest clear lens", ""]  # fmt: skip
    for i, stop in enumerate(found.stops):
        for j, distance in enumerate(found.distances_mm):
            yield [
                f"  {format_stop(float(stop))}, {distance_label(float(distance), units)}",
                f"{100.0 * found.passed[i, j]:.0f} %",
                _crop(float(found.full_crop[i, j])),
                _crop(float(found.half_crop[i, j])),
                _focal(float(found.shortest_full_mm[i, j])),
                "",
            ]


def _crop(factor: float) -> str:
    return "whole" if factor >= 1.0 else f"{100.0 * factor:.0f} % wide"


def _focal(focal_mm: float) -> str:
    return "none" if math.isinf(focal_mm) else f"{focal_mm:.0f} mm"


def _close_up_rows(check: RigCheck, table: Any, units: Units) -> Iterator[Row]:
    for i, mark in enumerate(check.rig.distances_mm):
        near, far = float(table.limits.near_mm[i]), float(table.limits.far_mm[i])
        frame = f"{table.frame.width_mm[i]:.0f} × {table.frame.height_mm[i]:.0f} mm"
        subject = distance_label(float(round(table.subject_mm[i])), units)
        yield [f"    rings at {distance_label(float(mark), units)}", subject, frame,
               format_range(near, far, units)]  # fmt: skip


def _load(bare: Balance, loaded: Balance) -> Lines:
    if math.isnan(bare.mass_g) or math.isnan(bare.centre_mm):
        yield from _untold(bare.missing)
    else:
        mass, centre = format_mass(bare.mass_g), f"{bare.centre_mm:.0f} mm"
        yield f"  {mass}, centre of gravity {centre} before the sensor"
    yield from _carried(bare)
    if not all(math.isnan(section.hanging_nm) for section in bare.sections):
        yield from aligned(_section_rows(bare, loaded))


def _carried(bare: Balance) -> Lines:
    if not math.isnan(bare.plate_mm):
        side = "before" if bare.plate_mm >= 0.0 else "behind"
        reach = {"fits": "", "does not meet": ", beyond the plate", "cannot tell": ""}
        yield (
            f"  balances {abs(bare.plate_mm):.0f} mm {side} the tripod thread"
            f"{reach[bare.plate_verdict]}"
        )
    if not math.isnan(bare.payload_margin_g):
        margin = bare.payload_margin_g
        word = "to spare" if margin >= 0.0 else "too much"
        yield f"  payload: {format_mass(abs(round(margin)))} {word}"
    if not math.isnan(bare.support_n):
        yield f"  the support carries {bare.support_n:.1f} N, the lens mount {bare.mount_n:.1f} N"


def _section_rows(bare: Balance, loaded: Balance) -> Iterator[Row]:
    unit = f"with {format_mass(FRONT_UNIT_G)} more in front"
    yield ["  bending moment, N m", "without support", "as it stands", unit, "limit", ""]
    for now, more in zip(bare.sections, loaded.sections, strict=False):
        yield [
            f"  {now.place}",
            _moment(now.hanging_nm),
            _moment(now.acting_nm),
            _moment(more.acting_nm),
            _moment(now.limit_nm, "none stated"),
            now.verdict if not math.isnan(now.limit_nm) else "",
        ]


def _moment(moment_nm: float, unknown: str = "?") -> str:
    return unknown if math.isnan(moment_nm) else f"{moment_nm:.2f}"


def _picture(shown: Picture, units: Units) -> Lines:
    size = f", {shown.pixels[0]} × {shown.pixels[1]} pixels" if shown.pixels else ""
    yield f"  desqueezed {shown.ratio:.2f}:1{size}"
    for delivery in shown.deliveries:
        if delivery.pixels is not None:
            crop = delivery.pixels
            yield (
                f"  {delivery.name}: {int(crop.width_px)} × {int(crop.height_px)} pixels of the "
                "desqueezed picture"
            )
    yield from aligned(_frame_rows(shown, units))
    if shown.pans is not None:
        yield "  Pans: upright edges lean; a spherical lens of the same field beside it"
        yield from aligned(_pan_rows(shown))
    if shown.missing:
        yield from _untold(shown.missing)


def _frame_rows(shown: Picture, units: Units) -> Iterator[Row]:
    names = [f"frame at {delivery.name}" for delivery in shown.deliveries]
    yield ["  subject", "squeeze for post", "face too wide by", *names, ""]
    for i, distance in enumerate(shown.distances_mm):
        frames = [
            _frame(float(each.frame.width_mm[i]), float(each.frame.height_mm[i]))
            for each in shown.deliveries
        ]
        yield [
            f"  {distance_label(float(distance), units)}",
            f"{shown.squeeze[i]:.3f}",
            f"{shown.widening_percent[i]:.1f} %",
            *frames,
            "",
        ]


def _frame(width_mm: float, height_mm: float) -> str:
    if math.isinf(width_mm):
        return "-"
    return f"{width_mm / 1000.0:.2f} × {height_mm / 1000.0:.2f} m"


def _pan_rows(shown: Picture) -> Iterator[Row]:
    assert shown.pans is not None
    yield ["  rate", "degrees a second", "lean", "spherical", ""]
    rates, leans, plain = (
        np.degrees(values)
        for values in (shown.pans.rate_rad_s, shown.pans.lean_rad, shown.pans.spherical_lean_rad)
    )
    for i, multiple in enumerate(PAN_MULTIPLES):
        name = "  a width in 7 s" if multiple == 1.0 else f"  {multiple:g} times that"
        yield [name, f"{rates[i]:.1f}", f"{leans[i]:.2f}°", f"{plain[i]:.2f}°", ""]


def as_json(checks: Sequence[RigCheck], *, shopping: Mapping[str, Sequence[str]]) -> str:
    """Return everything found, the unknown and infinity as null."""
    data = {
        "format": 1,
        "rigs": [_data(check) for check in checks],
        "shopping_list": {item: list(rigs) for item, rigs in shopping.items()},
    }
    return json.dumps(data, indent=1, ensure_ascii=True, allow_nan=False) + "\n"


def _data(check: RigCheck) -> dict[str, Any]:
    covered = check.coverage
    return {
        "rig": check.rig.rig_id,
        "works": check.works,
        "faults": list(check.faults),
        "chain": [asdict(finding) for finding in check.chain],
        "coverage": (
            _plain(asdict(covered)) if isinstance(covered, Coverage) else {"missing": list(covered)}
        ),
        "reach": {
            "nearest_mm": check.reach.nearest_mm,
            "limited_by": check.reach.limited_by,
            "close_up_lenses": [
                {"name": name, "power_dioptres": power, **_plain(asdict(table))}
                for name, power, table in check.reach.close_ups
            ],
        },
        "load": _balance_data(check.balance),
        "load_with_front_unit": _balance_data(check.loaded),
        "picture": _plain(asdict(check.picture)),
    }


def _balance_data(found: Balance) -> dict[str, Any]:
    return {
        **_plain(asdict(found)),
        "mass_g": _plain(found.mass_g),
        "centre_mm": _plain(found.centre_mm),
        "plate_mm": _plain(found.plate_mm),
        "payload_margin_g": _plain(found.payload_margin_g),
    }


def _plain(value: Any) -> Any:
    """Return arrays as lists and numbers to a billionth, None for infinity and the unknown."""
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, np.ndarray):
        return _plain(value.tolist())
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, float):
        return round(value, 6) if math.isfinite(value) else None
    return value
