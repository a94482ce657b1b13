"""The squeeze read from a still of the film camera, and entered into a kit."""

from __future__ import annotations

import math
import os
from typing import TYPE_CHECKING, NamedTuple

from focuschart.errors import FocusChartError, InputError, UnitError, shown
from focuschart.store.files import read_bytes
from focuschart.store.kit_edits import add_entries
from focuschart.units import format_length, parse_length

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from focuschart.kit.schema import Kit
    from focuschart.photo.squeeze import Card, Still
    from focuschart.store.kit_edits import KitFile

_MOST_BYTES = 200_000_000
_BARS_SHARE = (0.95, 1.05)
_MEASURED_SIGMA, _DRAWN_SIGMA = 0.001, 0.003
"""One standard deviation of a bar's length, as a share: measured to a tenth of a millimetre; and
where it is thought to be as drawn. Judgement, no source."""


class Bars(NamedTuple):
    """Both bars of the card as shares of what they should be, and one standard deviation of each.

    Without a measurement they are thought to be as drawn.
    """

    across: float = 1.0
    up: float = 1.0
    sigma: float = _DRAWN_SIGMA


def measured_bars(text: str) -> Bars:
    """Return the bars that "99.8 mm x 100.1 mm" tells, across and up; raises InputError."""
    from focuschart.layout.tag.squeeze_card import BAR_MM
    from focuschart.typed import plain, typed_length

    says, (low, high) = f"--bars is {shown(text)}", _BARS_SHARE
    parts = plain(text).casefold().split("x")
    if len(parts) != 2:
        rule = 'give both bars of the squeeze card, across and up, such as "99.8 mm x 100.1 mm"'
        raise InputError(f"{says}: {rule}")
    try:
        across, up = (parse_length(typed_length(_with_unit(part))) / BAR_MM for part in parts)
    except UnitError as error:
        raise InputError(f"{says}: {error}") from None
    if not low <= min(across, up) <= max(across, up) <= high:
        rule = f"both bars are near {BAR_MM:g} mm: print at 100 % and measure between the end ticks"
        raise InputError(f"{says}: {rule}")
    return Bars(across, up, _MEASURED_SIGMA)


def _with_unit(part: str) -> str:
    """Return a bar's length; one without a unit is in millimetres."""
    return part if any(sign.isalpha() or sign in "'\"" for sign in part) else f"{part} mm"


def read_still(kit: Kit, path: Path, *, rig: str, distance_mm: float, bars: Bars) -> Still:
    """Return the squeeze in a still.

    Raises InputError where OpenCV is missing, for a file that is no picture, and for a distance
    that the rig cannot focus.
    """
    from focuschart.photo.picture import photograph, require_opencv
    from focuschart.photo.refusal import Refused, Unread
    from focuschart.photo.squeeze import Still, squeeze_in

    _require_reach(kit, rig, distance_mm)
    require_opencv()
    try:
        picture = photograph(read_bytes(path, limit_bytes=_MOST_BYTES))
    except InputError as error:
        raise InputError(str(error) if str(path) in str(error) else f"{path}: {error}") from None
    others = [each for each in kit.squeezes if each.photo != picture.sign]
    expected = _expected(kit.model_copy(update={"squeezes": others}), rig, distance_mm)
    still = Still(str(path), picture.sign, rig, distance_mm, None, None, expected)
    try:
        read = squeeze_in(picture, _card(kit, rig, distance_mm, bars))
    except Unread as unread:
        return still._replace(refused=unread.refused)
    why = _implausible(kit, rig, read.squeeze)
    if why:
        return still._replace(refused=Refused("", "scale", why))
    return still._replace(read=read)


def _require_reach(kit: Kit, rig: str, distance_mm: float) -> None:
    from focuschart.kit.rules import nearest_mm

    limit, what = nearest_mm(kit, kit.rigs[rig])
    if math.isinf(distance_mm):
        raise InputError("--distance is inf: give that of the card, from the sensor mark")
    if distance_mm < limit:
        says = f'--distance is {format_length(distance_mm)}: rig "{rig}" focuses no nearer than'
        raise InputError(f"{says} {format_length(round(limit, 1))}, limited by {what}")


def _card(kit: Kit, rig: str, distance_mm: float, bars: Bars) -> Card:
    from focuschart.photo.squeeze import Card

    lens = kit.taking_lenses[kit.rigs[rig].taking_lens]
    # Where the kit does not say, a thin lens's: some 20 mm off, and 50 are allowed for at 1 m.
    pupil = lens.focal_length if lens.entrance_pupil is None else lens.entrance_pupil
    return Card(bars.across, bars.up, bars.sigma, distance_mm - pupil)


def _expected(kit: Kit, rig: str, distance_mm: float) -> tuple[float, float] | None:
    """Return the squeeze that the kit has for a rig at a distance, None where it has none."""
    import numpy as np

    from focuschart.chart.charts import build_charts
    from focuschart.chart.solve import solve_at

    try:
        for chart in build_charts(kit, only=[rig]):
            at = solve_at(chart, np.array([distance_mm]))
            return float(at.squeeze[0]), float(at.squeeze_95[0])
    except FocusChartError:
        return None
    return None


def _implausible(kit: Kit, rig: str, squeeze: float) -> str:
    """Return why a squeeze cannot be a rig's, with the cure; "" if it can."""
    from focuschart.kit.rules import SQUEEZED_SHARES

    nominal = kit.attachments[kit.rigs[rig].attachment].squeeze
    least, high = (share * nominal for share in SQUEEZED_SHARES)
    low = max(least, math.sqrt(nominal))  # below which a frame is nearer to a desqueezed one
    if low <= squeeze <= high:
        return ""
    shows = f"it shows a squeeze of {squeeze:.2f}, the attachment's is {nominal:g}"
    if squeeze < 1.0 / low:
        return f"{shows}: it is squeezed the other way, turn the attachment, or the still, upright"
    return f"{shows}: hand over the frame as recorded, not desqueezed, and name its own rig"


def enter_squeeze(file: KitFile, still: Still) -> Iterator[str]:
    """Write a squeeze as read into a kit file; yield what was done.

    One from a still that the kit has already is left out. Raises what `add_entries` raises.
    """
    assert still.read is not None
    if still.sign in {each.photo for each in file.kit.squeezes}:
        yield f"Entered before, left out: {still.file}"
        return
    entry = {
        "rig": still.rig, "distance": format_length(still.distance_mm),
        "squeeze": round(still.read.squeeze, 4), "squeeze_error": round(still.read.sigma, 5),
        "photo": still.sign,
    }  # fmt: skip
    old = add_entries(file, "squeezes", [entry])
    yield f"Written to {os.fspath(file.path)}: the squeeze at {format_length(still.distance_mm)}."
    yield f"The kit as it was before: {os.fspath(old)}"
