"""The sheets for a bench session: rulers, a form for each rig, and targets for its distances."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from focuschart.bench.advice import FAR_MM, SETUPS, SIDES, bench_distances
from focuschart.chart.model import Chart
from focuschart.errors import GlyphError, PageError
from focuschart.kit.schema import Kit
from focuschart.layout.bench.distance_card import DistanceCard, distance_card
from focuschart.layout.bench.form import form_pages
from focuschart.layout.bench.form_table import BenchForm, FormRow
from focuschart.layout.bench.squeeze_card import squeeze_card
from focuschart.layout.bench.target import Target, has_room, target_page
from focuschart.layout.page import Face, Page
from focuschart.layout.sheet.papers import whole_sheet
from focuschart.layout.sheet.pieces import Item
from focuschart.layout.sheet.sheets import imposed
from focuschart.layout.tag.distance import card_ids
from focuschart.optics.target import horizontal_line_bar_mm, vertical_line_bar_mm
from focuschart.pages.pack import Paper, Refuse, pack_document
from focuschart.rig.assemble import Rig
from focuschart.rig.laws import attachment_law
from focuschart.rig.place import group_places
from focuschart.scale.laws import prior_centres
from focuschart.units import MM_PER_FOOT, distance_label, format_stop

CAUTIONS = (
    "Never point the rig at the sun, least of all for the far target: glass this size burns eyes "
    "and sensors in a moment.",
    "Support and tether a front-heavy rig. Above people, local rules and qualified riggers decide.",
    "Hold or tether the attachment before its clamp is loosened. Keep adhesive away from coatings "
    "and rubber.",
)
CHECK = (
    "Both rings turned to their infinity stops, before the first and after the last reading: "
    "another figure after means that a ruler has slipped."
)
BLANKS = ("Rulers' check bars, mm", "Far target, how measured", "Remarks", "")
_NO_SHEET = "too coarse for a sheet: sharp level and upright edges"
_BEYOND = {"metric": "30 m", "imperial": "100 ft", "both": "30 m"}
_FOR_INSTANCE = {"metric": "60 m ± 3 m", "imperial": "200 ft ± 10 ft", "both": "60 m ± 3 m"}


@dataclass(frozen=True, slots=True)
class Bench:
    """The options of a bench session: paper, number of distances, and readings at each."""

    paper: str = "A4"
    setups: int = SETUPS
    repeats: int = 2

    @property
    def sheet(self) -> str:
        """The paper of forms and targets: they fill a whole page, so never a roll or labels."""
        return whole_sheet(self.paper)


@dataclass(frozen=True, slots=True)
class _Setup:
    """One distance to set up at, and the target to hang there, None where no sheet has room."""

    distance_mm: float
    target: Target | None


def bench_pages(
    kit: Kit, charts: Sequence[Chart], *, face: Face, bench: Bench, refuse: Refuse | None = None
) -> Mapping[str, list[Page]]:
    """Return the pages by document: rulers, forms, targets, distance cards and the squeeze card.

    Raises PageError where something does not fit the paper, GlyphError for a text that the face
    cannot print; with `refuse`, each ruler or form at fault is reported to it instead, and the
    others are made.
    """
    on = Paper(bench.paper)
    rulers = pack_document("rulers", kit, charts, face=face, on=on, refuse=refuse)
    setups: list[list[_Setup]] = []
    forms: list[Page] = []
    for chart in charts:
        own = list(_setups(kit, chart.rig, face, bench))
        try:
            forms += form_pages(_form(chart, own, bench), paper=bench.sheet, face=face)
        except (PageError, GlyphError) as error:
            if refuse is None:
                raise
            refuse(chart.rig.rig_id, "bench form", error)
        else:
            setups.append(own)
    targets = [setup.target for own in setups for setup in own if setup.target]
    return {
        "rulers": [page for sheets in rulers.values() for page in sheets.pages],
        "bench-forms": forms,
        "targets": [
            target_page(target, paper=bench.sheet, face=face, number=number, count=len(targets))
            for number, target in enumerate(targets, start=1)
        ],
        "distance-cards": _distance_cards(kit, setups, face=face, on=Paper(bench.sheet)),
        "squeeze-card": _squeeze_card(kit, face=face, on=Paper(bench.sheet)),
    }


def _setups(kit: Kit, rig: Rig, face: Face, bench: Bench) -> Iterator[_Setup]:
    """Yield the distances of a rig with their targets, nearest first; the far one has no target."""
    distances = bench_distances(kit, rig, min(rig.stops), count=bench.setups)
    targets = _targets(kit, rig, distances[distances < FAR_MM])
    for distance, target in zip(distances.tolist(), [*targets, None], strict=True):
        fits = target is not None and has_room(target, paper=bench.sheet, face=face)
        yield _Setup(distance, target if fits else None)


def _distance_cards(
    kit: Kit, setups: Iterable[Sequence[_Setup]], *, face: Face, on: Paper
) -> list[Page]:
    """Return the sheets of a card for each distance: none for a far target, which is measured."""
    near = {each.distance_mm for own in setups for each in own if each.distance_mm < FAR_MM}
    items = [
        Item(f"distance/{distance:.0f}", "", distance_card(card, face=face))
        for distance in sorted(near)
        if (ids := card_ids(distance)) is not None
        for card in [DistanceCard(distance_label(distance, kit.units), ids, kit.name)]
    ]
    if not items:
        return []
    sheets = imposed(
        items, paper=on.paper, title=f"{kit.name}: Distance cards", face=face, finish=on.finish
    )
    return list(sheets.pages)


def _squeeze_card(kit: Kit, *, face: Face, on: Paper) -> list[Page]:
    """Return the sheet of the squeeze card, none where the paper is too small for it."""
    item = Item("squeeze-card", "", squeeze_card(face=face))
    title = f"{kit.name}: Squeeze card"
    try:
        sheets = imposed([item], paper=on.paper, title=title, face=face, finish=on.finish)
    except PageError:
        return []
    return list(sheets.pages)


# --- forms ----------------------------------------------------------------------------------------


def _form(chart: Chart, setups: Sequence[_Setup], bench: Bench) -> BenchForm:
    rig = chart.rig
    return BenchForm(
        title=f"{chart.kit.name}: Bench form",
        rig=f"{rig.name} ({rig.rig_id}): {rig.lens.name} with {rig.attachment.name}",
        rings=(rig.lens.name, rig.attachment.name),
        rows=tuple(_row(chart.kit, setup, number) for number, setup in enumerate(setups)),
        repeats=bench.repeats,
        stop=format_stop(min(rig.stops)),
        procedure=tuple(_procedure(chart, bench)),
        cautions=CAUTIONS,
        check=CHECK,
        headings=tuple(f"from {SIDES[n % 2]}" for n in range(bench.repeats)),
        blanks=BLANKS,
    )


def _row(kit: Kit, setup: _Setup, number: int) -> FormRow:
    if setup.distance_mm == FAR_MM:
        return FormRow("far", f"beyond {_BEYOND[kit.units]}, with its error")
    why = "the nearest both rings reach" if number == 0 else "where a reading helps most"
    if setup.target is None:
        why = f"{why}; {_NO_SHEET}"
    return FormRow(distance_label(setup.distance_mm, kit.units), why)


def _procedure(chart: Chart, bench: Bench) -> Iterator[str]:
    """Yield the steps of the procedure, those for a second reading only if one is asked for."""
    rig = chart.rig
    yield (
        "Camera on a tripod, rulers taped on with their zero lines at the rings' marks, a fixed "
        "pointer beside each; no adhesive on coatings or rubber. Fill in the check row."
    )
    yield (
        f"Taking lens at {format_stop(min(rig.stops))}, the widest stop used on set, for every "
        "reading. Look at the magnified picture."
    )
    share = rig.focus_height_mm / rig.sensor.height_mm
    where = "in the middle of the frame"
    if share:
        where = (
            f"{100.0 * share:.0f} % of the frame's height above its middle, as the marks will be"
        )
    yield (
        f"Hang the target at the distance, its cross {where}. Measure from the "
        "sensor mark on the body, not from the front glass, and write down what you measured."
    )
    yield (
        "Level the squeeze, the attachment held or tethered before its clamp is loosened: turn it "
        "until the target's long lines stay upright and level while the taking lens is turned "
        "through focus."
    )
    yield from _focusing(bench)
    yield (
        f"Far, such as {_FOR_INSTANCE[chart.kit.units]}: an edge outdoors will do if its distance "
        f'and error are noted. Write "inf" only for one beyond {_rounded_up(chart)}.'
    )
    height = (
        f" ({round(rig.focus_height_mm, 1):g} mm on the sensor above the middle)" if share else ""
    )
    yield (
        f"Enter the figures: focuschart read KIT --rig {rig.rig_id} asks for them line by line, in "
        f"the order of this form. First it asks where the target's cross stood{height}."
    )


def _focusing(bench: Bench) -> Iterator[str]:
    """Yield how both rings are focused, from one side and then from the other."""
    yield (
        "Focus the taking lens on the horizontal lines, coming only from the nearer side; note its "
        "ruler in the column of that side. Leave it there."
    )
    yield "Then focus the attachment on the vertical lines, from the same side; note its ruler."
    if bench.repeats > 1:
        yield (
            "For the next column turn both rings away, and focus both anew from the side it names: "
            "the two sides tell the rings' play."
        )


def _rounded_up(chart: Chart) -> str:
    """Return the distance beyond which a target counts as infinity, rounded up to two figures."""
    metres = _up(chart.infinity_target_mm / 1000.0)
    feet = _up(chart.infinity_target_mm / MM_PER_FOOT)
    texts = {"metric": f"{metres} m", "imperial": f"{feet} ft", "both": f"{metres} m ({feet} ft)"}
    return texts[chart.kit.units]


def _up(value: float) -> int:
    """Return a value rounded up to two significant figures, at least to whole numbers."""
    step = 10.0 ** max(math.floor(math.log10(value)) - 1, 0)
    return round(math.ceil(value / step) * step)


# --- targets --------------------------------------------------------------------------------------


def _targets(kit: Kit, rig: Rig, near_mm: np.ndarray) -> list[Target]:
    """Return a target for each distance, its bars one circle of confusion wide in the picture."""
    law = attachment_law(rig.attachment)
    squeeze = group_places(rig, law, prior_centres(law), near_mm).match.squeeze
    lens = {"focal_length_mm": rig.lens.focal_length, "circle_mm": rig.circle_mm}
    position = rig.lens_position_mm(near_mm)
    level = horizontal_line_bar_mm(position, **lens)
    upright = vertical_line_bar_mm(
        position, squeeze=rig.attachment.squeeze, true_squeeze=squeeze, **lens
    )
    notes = tuple(_target_notes(rig))
    return [
        Target(
            key=f"{rig.rig_id}/{distance:.0f}",
            heading=f"Hang at {distance_label(float(distance), kit.units)} from the sensor mark",
            rig=f"{rig.name}: {rig.lens.name} with {rig.attachment.name}",
            horizontal_bar_mm=float(level[i]),
            vertical_bar_mm=float(upright[i]),
            notes=notes,
        )
        for i, distance in enumerate(near_mm)
    ]


def _target_notes(rig: Rig) -> Iterator[str]:
    yield f"Taking lens at {format_stop(min(rig.stops))}. Look at the magnified picture."
    yield "Sharpest is half-way between where the finest lines fade, nearer and farther."
    yield f"1 ×, one circle of confusion: {rig.circle_mm:.3g} mm on the finished frame."
