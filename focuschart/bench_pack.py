"""What a bench needs on paper: a form for each rig, and targets for the distances it lists."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from focuschart.chart.advice import FAR_MM, SETUPS, bench_distances
from focuschart.chart.bench import attachment_law
from focuschart.chart.geometry import standing
from focuschart.chart.model import RigChart
from focuschart.errors import PageError
from focuschart.kit.schema import Kit
from focuschart.layout.form import BenchForm, FormRow, form_pages
from focuschart.layout.page import Face, Page
from focuschart.layout.sheet import sheets
from focuschart.layout.target import Target, target_page
from focuschart.optics.target import horizontal_line_bar_mm, vertical_line_bar_mm
from focuschart.pack import ruler_items
from focuschart.rig.assemble import Rig
from focuschart.units import distance_label, format_stop

CAUTIONS = (
    "Never point the rig at the sun, least of all for the far target: glass this size burns eyes "
    "and sensors in a moment.",
    "Support and tether a front-heavy rig. Above people, local rules and qualified riggers decide.",
)


@dataclass(frozen=True, slots=True)
class Bench:
    """How a bench is wanted: paper, distances to set up and readings at each."""

    paper: str = "A4"
    setups: int = SETUPS
    repeats: int = 2


def bench_pages(
    kit: Kit, charts: Sequence[RigChart], *, face: Face, bench: Bench
) -> Mapping[str, list[Page]]:
    """Return the pages by document: rulers, forms and targets.

    Raises PageError for what does not fit the paper.
    """
    stop = min(kit.stops)
    setups = [
        (chart, bench_distances(kit, chart.rig, stop, count=bench.setups).tolist())
        for chart in charts
    ]
    title = f"{kit.name}: Ruler strips"
    forms = [
        page
        for chart, distances in setups
        for page in form_pages(_form(kit, chart, distances, bench), paper=bench.paper, face=face)
    ]
    targets = [
        target for chart, distances in setups for target in _targets(kit, chart.rig, distances)
    ]
    return {
        "rulers": sheets(ruler_items(charts, face=face), paper=bench.paper, title=title, face=face),
        "bench-forms": forms,
        "targets": _target_pages(targets, paper=bench.paper, face=face),
    }


def _form(kit: Kit, chart: RigChart, distances_mm: list[float], bench: Bench) -> BenchForm:
    rig = chart.rig
    return BenchForm(
        title=f"{kit.name}: Bench form",
        rig=f"{rig.name} ({rig.rig_id}): {rig.lens.name} with {rig.attachment.name}",
        rings=(rig.lens.name, rig.attachment.name),
        rows=tuple(
            _row(kit, float(distance), number) for number, distance in enumerate(distances_mm)
        ),
        repeats=bench.repeats,
        stop=format_stop(min(kit.stops)),
        procedure=tuple(_procedure(kit, chart)),
        cautions=CAUTIONS,
    )


def _row(kit: Kit, distance_mm: float, number: int) -> FormRow:
    if distance_mm == FAR_MM:
        return FormRow("far", "beyond 30 m, measured or paced, with its error")
    why = "the nearest both rings reach" if number == 0 else "where a reading helps most"
    return FormRow(distance_label(distance_mm, kit.units), why)


def _procedure(kit: Kit, chart: RigChart) -> Sequence[str]:
    far = distance_label(float(f"{chart.infinity_target_mm:.2g}"), kit.units)
    stop = format_stop(min(kit.stops))
    return (
        "Camera on a tripod, rulers taped on with their zero lines at the rings' marks, a fixed "
        "pointer beside each.",
        f"Taking lens at {stop}, the widest stop used on set, for every reading.",
        "Hang the target at the distance, its cross on the lens's axis. Measure from the sensor "
        "mark on the body, not from the front glass, and write down what you measured.",
        "Level the squeeze: turn the attachment in its clamp until the target's long lines stay "
        "upright and level while the taking lens is turned through focus.",
        "Focus the taking lens on the horizontal lines: come from both sides, take the middle, "
        "note its ruler.",
        "Then focus the attachment on the vertical lines, from both sides too, and note its ruler.",
        "For the next column turn both rings away and focus both anew.",
        "Far target: an edge outdoors beyond 30 m will do if its distance and error are noted "
        f'(60 m ± 3 m). Write "inf" only for one beyond {far}.',
        f"Enter each line: focuschart read KIT --rig {chart.rig.rig_id} --distance … --taking … "
        "--attachment …",
    )


def _targets(kit: Kit, rig: Rig, distances_mm: list[float]) -> Sequence[Target]:
    """Return a target for every distance that a sheet of paper can serve."""
    near = np.array([distance for distance in distances_mm if distance < FAR_MM])
    law = attachment_law(rig.attachment)
    constants = np.array([prior.centre for prior in law.priors])
    squeeze = standing(rig, law, constants, near).match.squeeze
    lens = {"focal_length_mm": rig.lens.focal_length, "circle_mm": rig.circle_mm}
    position = rig.lens_position_mm(near)
    upright = vertical_line_bar_mm(
        position, squeeze=rig.attachment.squeeze, true_squeeze=squeeze, **lens
    )
    level = horizontal_line_bar_mm(position, **lens)
    return [
        Target(
            key=f"{rig.rig_id}/{distance:.0f}",
            heading=f"Hang at {distance_label(float(distance), kit.units)} from the sensor mark",
            rig=f"{rig.name}: {rig.lens.name} with {rig.attachment.name}",
            horizontal_bar_mm=float(level[i]),
            vertical_bar_mm=float(upright[i]),
        )
        for i, distance in enumerate(near)
    ]


def _target_pages(targets: Sequence[Target], *, paper: str, face: Face) -> list[Page]:
    """Return the targets that fit the paper; of those too coarse for it a distant edge serves."""
    kept = []
    for target in targets:
        try:
            target_page(target, paper=paper, face=face)
        except PageError:
            continue
        kept.append(target)
    return [
        target_page(target, paper=paper, face=face, number=number, count=len(kept))
        for number, target in enumerate(kept, start=1)
    ]
