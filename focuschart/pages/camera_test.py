"""The page of a camera test: what to do, with room for codes and figures, a page a rig."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from focuschart.chart.model import Chart
from focuschart.layout.bench.form import form_pages
from focuschart.layout.bench.form_table import BenchForm, FormRow
from focuschart.layout.page import Face, Page
from focuschart.units import distance_label, format_stop

_REPEATS = 2
_SUN = "Never point the rig at the sun: glass this size burns eyes and sensors."
_WEIGHT = "Hold or tether the attachment before its clamp is loosened; nobody below the rig."


def test_pages(chart: Chart, *, paper: str, face: Face) -> list[Page]:
    """Return the pages for one rig; raises PageError for paper that is too small."""
    rig, stop = chart.rig, format_stop(chart.working_stop)
    form = BenchForm(
        title=f"{chart.kit.name}: Camera test",
        rig=f"{rig.name} ({rig.rig_id}): {rig.lens.name} with {rig.attachment.name}",
        rings=(rig.lens.name, rig.attachment.name),
        rows=tuple(_rows(chart)),
        repeats=_REPEATS,
        stop=stop,
        procedure=tuple(_steps(chart)),
        cautions=(_SUN, _WEIGHT),
        read_off="strip",
        blanks=("Code, lens strip", "Code, att. strip", "Side, taping, ticks"),
    )
    return form_pages(form, paper=paper, face=face)


def _rows(chart: Chart) -> Iterator[FormRow]:
    """Yield the nearest and the far mark, and one or two between, with what may be off."""
    last = len(chart.distances_mm) - 1
    chosen = sorted({0, last // 3, (2 * last) // 3, last})
    for index in chosen:
        limits = [
            f"{marks.tolerance_mm[0, index]:.2f}"
            for _, marks in chart.rings().values()
            if marks is not None
        ]
        label = distance_label(float(chart.distances_mm[index]), chart.kit.units)
        far = "; a far edge will do" if np.isinf(chart.distances_mm[index]) else ""
        yield FormRow(label, f"passes within ± {' and ± '.join(limits)} mm{far}")


def _steps(chart: Chart) -> Iterator[str]:
    side = f"the {chart.kit.bench.side} side" if chart.kit.bench.side else "the side used on set"
    yield (
        f"Strips and indexes as for the job, lens at {format_stop(chart.working_stop)}. Write down "
        "the code found on each ring."
    )
    yield (
        "Hang the target at each distance from the sensor mark, its cross on the upper third. "
        f"Focus the taking lens anew on its horizontal lines, from {side}."
    )
    yield "Leave the lens; focus the attachment on the vertical lines, from the same side."
    yield (
        "Read both strips' millimetres at the index line, or at the tick in use, and note that. "
        "Turn both rings away and do each distance a second time."
    )
    yield (
        f"Enter each: focuschart read KIT --rig {chart.rig.rig_id} --distance … --taking … "
        "--attachment … --taking-strip CODE --attachment-strip CODE; then focuschart test KIT "
        "--result."
    )
