"""The document `rigs`: a sheet for each rig with side view, beam footprints and setup facts."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from focuschart.chart.model import Chart
from focuschart.checks.coverage import Corner, Coverage
from focuschart.checks.picture import WHOLE, Picture
from focuschart.checks.rig_check import RigCheck, check_rigs
from focuschart.checks.wording import frame_text
from focuschart.kit.fields import Thread
from focuschart.kit.parts import Camera
from focuschart.kit.ring import Ring
from focuschart.kit.schema import Kit
from focuschart.layout.page import Face, Page
from focuschart.layout.rig.footprint import Figure, Panel, Pattern
from focuschart.layout.rig.rig_sheet import Fact, RigSheet, rig_page
from focuschart.layout.rig.sideview import Measure, Piece, SideView
from focuschart.optics.beam import Footprint, Group, footprint
from focuschart.optics.coverage import GLASS_MARGIN
from focuschart.pages.setup import (
    Setup,
    bending,
    mass,
    moment,
    nearest,
    pans,
    plate,
    require_glyphs,
    support,
    unbroken,
)
from focuschart.rig.chain import Part, parts
from focuschart.rig.loads import loads, starts_mm
from focuschart.rig.openings import train
from focuschart.units import Units, distance_label, format_stop, mass_label

CAUTIONS = (
    "Support and tether a front-heavy rig. Above people, local rules and qualified riggers decide.",
    "Hold or tether the attachment before its clamp is loosened.",
    "Limits stated by the makers win over these figures. Never point the rig at the sun.",
)
PLAIN_HEIGHT_MM = 70.0
"""The height drawn for a part of unknown diameter; judgement, no source."""
_FIELD_MM = 28.0
_FIELD_SCALES = (5.0, 4.0, 3.0, 2.0, 1.5, 1.0, 1.0 / 1.5, 0.5, 0.25)
_FRAMES = 3
_NAME_WIDTH = 8
"""The most frame sizes listed for a delivery, and the most letters of its name."""


def rig_pages(
    kit: Kit, charts: Sequence[Chart], *, face: Face, paper: str
) -> Mapping[str, list[Page]]:
    """Return the document `rigs`, one page per rig; empty where no rig can be drawn.

    A rig is drawn if all lengths, masses and centres of gravity are known. Raises PageError where
    its sheet does not fit the paper, GlyphError for a name that the typeface cannot print.
    """
    drawable = [check for check in check_rigs(kit, charts, lenses=False) if _drawable(kit, check)]
    if not drawable:
        return {}
    for check in drawable:
        require_glyphs(Setup.of(kit, check), face)
    sheets = [_sheet(kit, check) for check in drawable]
    pages = [
        rig_page(sheet, paper=paper, face=face, number=number, count=len(sheets))
        for number, sheet in enumerate(sheets, start=1)
    ]
    return {"rigs": pages}


def _drawable(kit: Kit, check: RigCheck) -> bool:
    """Return whether places, mass and centre of gravity are known, the places in rising order."""
    starts = starts_mm(kit, kit.rigs[check.rig.rig_id])
    ordered = all(behind <= ahead for behind, ahead in pairwise(starts))  # false for nan
    return ordered and math.isfinite(check.balance.mass_g) and math.isfinite(
        check.balance.centre_mm
    )  # fmt: skip


def _sheet(kit: Kit, check: RigCheck) -> RigSheet:
    rig, covered = check.rig, check.coverage
    sheet = RigSheet(
        title=f"{kit.name}: Rigs",
        heading=f"{rig.name}: {rig.lens.name} with {rig.attachment.name}",
        view=_view(kit, check),
        facts=tuple((label, unbroken(text)) for label, text in _facts(kit, check)),
        cautions=CAUTIONS,
    )
    if not isinstance(covered, Coverage):
        return replace(sheet, notes=(f"No footprints: {', '.join(covered)} not given.",))
    return replace(
        sheet,
        beams=tuple(_beams(kit, check, covered)),
        fields=(_field(kit, check, covered),),
        notes=tuple(_notes(covered)),
    )


# --- side view ------------------------------------------------------------------------------------


def _view(kit: Kit, check: RigCheck) -> SideView:
    rig, balance = kit.rigs[check.rig.rig_id], check.balance
    row, starts = parts(kit, rig), starts_mm(kit, rig)
    lens = kit.taking_lenses[rig.taking_lens]
    ends = starts[1:]
    if lens.length is not None:
        ends[1] = starts[1] + lens.length
    centres = [load.centre_mm for load in loads(kit, rig)]
    return SideView(
        pieces=tuple(
            _piece(part, places, kit.units)
            for part, *places in zip(row, starts, ends, centres, strict=False)
        ),
        measures=tuple(_measures(kit, check, ends)),
        centre_mm=balance.centre_mm,
        thread_mm=balance.tripod_thread_mm,
        support_mm=kit.supports[rig.support].position if rig.support else math.nan,
        inches=kit.units == "imperial",
    )


def _piece(part: Part, places_mm: Sequence[float], units: Units) -> Piece:
    """Return a part as drawn; `places_mm` are its start, its end and its centre of gravity."""
    start_mm, end_mm, centre_mm = places_mm
    height = _height_mm(part)
    return Piece(
        label=part.table.name,
        note=mass_label(part.table.mass or 0.0, units),
        start_mm=start_mm,
        end_mm=end_mm,
        height_mm=height or PLAIN_HEIGHT_MM,
        centre_mm=centre_mm,
        known=height > 0.0,
        open_behind=isinstance(part.table, Camera),
    )


def _height_mm(part: Part) -> float:
    """Return the largest known diameter of a part, 0 where none is known."""
    sizes = [0.0]
    for _, value in part.table:
        if isinstance(value, Thread):
            sizes.append(value.diameter_mm)
        elif isinstance(value, Ring):
            sizes.append(value.largest_diameter_mm)
    sizes += [getattr(part.table, key, None) or 0.0 for key in ("barrel_diameter", "bore")]
    return max(sizes)


def _measures(kit: Kit, check: RigCheck, ends: Sequence[float]) -> Iterator[Measure]:
    rig, balance = kit.rigs[check.rig.rig_id], check.balance
    if not math.isnan(balance.tripod_thread_mm):
        yield Measure("Tripod thread", balance.tripod_thread_mm)
    yield Measure("Lens mount", ends[0])
    yield Measure("Lens, front rim", ends[1])
    if rig.chain:
        yield Measure("Attachment, rear rim", ends[1 + len(rig.chain)])
    yield Measure("Foremost glass", ends[2 + len(rig.chain)])
    if rig.front:
        yield Measure("Front end", ends[-1])
    if rig.support:
        yield Measure("Support", kit.supports[rig.support].position)
    yield Measure("Balance, centre of gravity", balance.centre_mm)


# --- footprints -----------------------------------------------------------------------------------


def _beams(kit: Kit, check: RigCheck, covered: Coverage) -> Iterator[Panel]:
    """Yield a panel of beam footprints for each group, at infinity, then at the nearest mark."""
    groups: tuple[Group, Group] = ("rear", "front")
    made = {group: _footprint(check, covered, group) for group in groups}
    patterns: tuple[Pattern, Pattern] = ("hatched", "outline")
    corners = [
        (name, corner.passed[covered.working], pattern)
        for (name, corner), pattern in zip(_corners(covered), patterns, strict=False)
    ]
    for j, distance in enumerate(covered.distances_mm.tolist()):
        for group, beams in made.items():
            clear = getattr(check.rig.attachment, f"{group}_clear_aperture")
            figures = [] if clear is None else [_opening(clear)]
            figures.append(_beam("Beam of the centre", beams, (0, j), "grey"))
            for place, (name, light, pattern) in enumerate(corners, start=1):
                label = f"{name} corner: {100.0 * light[j]:.0f} %"
                figures.append(_beam(label, beams, (place, j), pattern))
            title = f"{group.title()} group, {distance_label(distance, kit.units)}"
            yield Panel(f"{group}:{j}", title, 1.0, tuple(figures))


def _corners(covered: Coverage) -> list[tuple[str, Corner]]:
    """Return the corners of the sensor and of the first delivery's frame, with their names."""
    first = covered.deliveries[:1]
    return [("Sensor", covered), *((_short(corner.name), corner) for corner in first)]


def _short(name: str) -> str:
    return name if len(name) <= _NAME_WIDTH else f"{name[: _NAME_WIDTH - 1]}…"


def _footprint(check: RigCheck, covered: Coverage, group: Group) -> Footprint:
    """Return the beams of centre and corners (k × n distances) at the group's front glass face."""
    rig = check.rig
    placed = train(rig, covered.distances_mm)
    assert placed is not None  # without it there is no coverage
    glass = rig.attachment.rear_glass_mm if group == "rear" else rig.attachment.front_glass_mm
    frames = [corner.frame for _, corner in _corners(covered)]
    centre = np.zeros(len(covered.distances_mm))
    across = np.stack([centre, *(frame.width_mm for frame in frames)]) / 2.0
    up = np.stack([centre, *(frame.height_mm for frame in frames)]) / 2.0
    return footprint(
        placed, group=group, ahead_mm=glass / 2.0, image_x_mm=across, image_y_mm=up,
        stop=_working_stop(covered),
    )  # fmt: skip


def _opening(clear_mm: float) -> Figure:
    half = clear_mm / 2.0
    return Figure(f"Opening {clear_mm:g} mm", 0.0, 0.0, half, half, "heavy")


def _beam(label: str, beams: Footprint, at: tuple[int, int], pattern: Pattern) -> Figure:
    x, y, half_width, half_height = (
        float(values[at])
        for values in np.broadcast_arrays(
            beams.centre_x_mm, beams.centre_y_mm, beams.half_width_mm, beams.half_height_mm
        )
    )
    return Figure(label, x, y, half_width, half_height, pattern)


def _field(kit: Kit, check: RigCheck, covered: Coverage) -> Panel:
    """Return the panel of the sensor with the delivery's frame and the clear crops."""
    sensor = check.rig.sensor
    half = sensor.width_mm / 2.0, sensor.height_mm / 2.0
    size = f"{sensor.width_mm:g} × {sensor.height_mm:g} mm"
    figures = [_rectangle(f"Sensor {size}", *half, "heavy")]
    for crop in covered.deliveries[:1]:
        # The widest frame: the one at the nearest mark, where the squeeze is smallest.
        sides = float(np.max(crop.frame.width_mm)) / 2.0, float(np.max(crop.frame.height_mm)) / 2.0
        figures.append(_rectangle(f"Delivery {crop.name}", *sides, "outline"))
    patterns: tuple[Pattern, Pattern] = ("grey", "hatched")
    crops = np.minimum(covered.full_crop[covered.working], 1.0).tolist()
    for distance, share, pattern in zip(covered.distances_mm, crops, patterns, strict=True):
        if share > 0.0:
            label = f"Clear, {distance_label(float(distance), kit.units)}: {_wide(share)}"
            figures.append(_rectangle(label, half[0] * share, half[1] * share, pattern))
    fitting = (scale for scale in _FIELD_SCALES if 2.0 * scale * half[0] <= _FIELD_MM)
    return Panel("sensor", "Sensor", next(fitting, _FIELD_SCALES[-1]), tuple(figures))


def _wide(share: float) -> str:
    return "whole" if share >= 1.0 else f"{100.0 * share:.0f} % wide"


def _rectangle(label: str, half_width: float, half_height: float, pattern: Pattern) -> Figure:
    return Figure(label, 0.0, 0.0, half_width, half_height, pattern, "rectangular")


def _working_stop(covered: Coverage) -> float:
    return float(covered.stops[covered.working])


def _notes(covered: Coverage) -> Iterator[str]:
    stop = format_stop(_working_stop(covered))
    yield (
        f"Footprints at {stop}, on the front face of each group's glass, seen from "
        "behind the camera; corners are the picture's upper right ones, with the share of their "
        "light that passes every opening known. Clear fields leave "
        f"{100.0 * GLASS_MARGIN:.0f} % for real glass."
    )
    if covered.missing:
        yield f"Not counted, since not given: {', '.join(covered.missing)}."


# --- what to set up -------------------------------------------------------------------------------


def _facts(kit: Kit, check: RigCheck) -> Iterator[Fact]:
    """Yield the facts that a sheet gives in words, the most needed first."""
    rig, setup = kit.rigs[check.rig.rig_id], Setup.of(kit, check)
    for label, sentences in (("DOES NOT WORK", check.faults), ("Watch", check.cautions)):
        for number, sentence in enumerate(sentences):
            yield (label if number == 0 else "", f"{sentence[:1].upper()}{sentence[1:]}.")
    yield "Chain", "; ".join(part.table.name for part in parts(kit, rig))
    yield "Plate", plate(setup)
    yield "Support", support(setup)
    yield "Mass", mass(setup)
    for label, section in bending(setup):
        yield label, moment(section)
    yield "Nearest", nearest(setup)
    yield from pans(check.picture, kit.units)
    yield from _frames(check.picture, kit.units)


def _frames(shown: Picture, units: Units) -> Iterator[Fact]:
    """Yield each delivery's frame size at up to three marks, from end to end of the scale."""
    finite = np.flatnonzero(np.isfinite(shown.distances_mm))
    spread = np.linspace(0, len(finite) - 1, min(_FRAMES, len(finite))).round().astype(int)
    for delivery in shown.deliveries:
        frame = delivery.frame
        sizes = [
            f"{frame_text(float(frame.width_mm[i]), float(frame.height_mm[i]), units)} at "
            f"{distance_label(float(shown.distances_mm[i]), units)}"
            for i in finite[spread].tolist()
        ]
        label = WHOLE.capitalize() if delivery.name == WHOLE else f"Frame {delivery.name}"
        if sizes:
            yield label, f"{'; '.join(sizes)}."
