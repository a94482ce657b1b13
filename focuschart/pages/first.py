"""The document `00-read-me-first`: what to print, cut and tape, in which order, and how sure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import count

import numpy as np

from focuschart.chart.model import Chart
from focuschart.chart.sureness import sureness
from focuschart.layout.page import Face, Page
from focuschart.layout.rig.first_page import FirstSheet, Part, RingPlace, first_page
from focuschart.layout.sheet.finish import Finish
from focuschart.pages.cautions import FIRST_CAUTIONS
from focuschart.pages.steps import index_steps, print_steps, ruler_steps, tape_steps
from focuschart.prints.code import chart_code, codes
from focuschart.prints.facts import INDEX
from focuschart.units import distance_label, format_stop

FIRST = "00-read-me-first"


def first_pages(
    chart: Chart, *, face: Face, paper: str, finish: Finish
) -> Mapping[str, list[Page]]:
    """Return the document of one rig; raises PageError where it does not fit the paper."""
    kit, rig = chart.kit, chart.rig
    numbers = count(1)
    left = [Part(heading, tuple(f"{next(numbers)}. {step}" for step in steps))
            for heading, steps in _parts(chart, finish)]  # fmt: skip
    sure = tuple(sureness(chart, units=kit.units))
    right = [*left[1:], *([Part("How sure it is", sure)] if sure else [])]
    sheet = FirstSheet(
        title=f"{kit.name}: Read me first",
        heading=f"{rig.name}: {rig.lens.name} with {rig.attachment.name}",
        code=chart_code(chart),
        rings=tuple(_rings(chart)),
        columns=((Part("The rig", tuple(_facts(chart))), left[0], Part("Caution", FIRST_CAUTIONS)),
                 tuple(right)),
    )  # fmt: skip
    return {FIRST: [first_page(sheet, paper=paper, face=face)]}


def _facts(chart: Chart) -> Iterator[str]:
    kit, rig = chart.kit, chart.rig
    camera = kit.cameras[kit.rigs[rig.rig_id].camera].name
    ends = (float(np.min(chart.distances_mm)), float(np.max(chart.distances_mm)))
    near, far = (distance_label(end, kit.units) for end in ends)
    yield (
        f"{camera}, {rig.lens.name}, {rig.attachment.name}. Distances count from the sensor mark "
        f"on the camera, {near} to {far}; zones on the strips are those at "
        f"{format_stop(chart.working_stop)}."
    )


def _rings(chart: Chart) -> Iterator[RingPlace]:
    names = {"taking": chart.rig.lens.name, "attachment": chart.rig.attachment.name}
    coded = codes(chart)
    for which, (ring, marks) in chart.rings().items():
        words = ["no readings, so no strips: tape its ruler on"]
        if marks is not None:
            words = [f"strip {coded[which]}, index {coded[INDEX[which]]}"]
        words += [f"index on the {ring.index_side}'s side; nearer: {ring.nearer_turns} from behind"]
        yield RingPlace(ring.index_side, (names[which], *words), marks is not None)


def _parts(chart: Chart, finish: Finish) -> Iterator[tuple[str, Sequence[str]]]:
    """Yield what to do, by headings: strips to print and to tape, or rulers while none was read."""
    marks = [marks for _, marks in chart.rings().values()]
    if any(marks):
        yield (
            "Print and cut",
            [
                _PRINT,
                *print_steps([chart], finish),
                "Cut, fold and laminate the card.",
            ],
        )
        yield "Tape on", [*tape_steps([chart]), *index_steps([chart]), _TEST]
    if not all(marks):
        yield "Read the rings without marks, on rulers.pdf", [*ruler_steps([chart]), _READ]


_PRINT = "Print strips.pdf and cards.pdf at 100\N{NO-BREAK SPACE}% (actual size)."
_READ = (
    "Take readings along the bench form: focuschart bench prints it, focuschart read enters them."
)
_TEST = "Test on camera before a job: focuschart test prints the page for it."
