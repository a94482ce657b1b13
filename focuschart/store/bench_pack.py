"""The documents of a bench pack, printed before readings are taken: rulers, forms, targets."""

from __future__ import annotations

from typing import TYPE_CHECKING

from focuschart.errors import FocusChartError, LeftOut
from focuschart.pages.bench import Bench, bench_pages
from focuschart.store.documents import left_out_for_texts, unprintable
from focuschart.store.printers import for_setting, setting_for
from focuschart.store.rig_pack import cure

if TYPE_CHECKING:
    from collections.abc import Collection

    from focuschart.kit.schema import Kit
    from focuschart.layout.page import Page
    from focuschart.renderers.glyphs import TypeFace


def bench_documents(
    kit: Kit,
    rigs: Collection[str],
    *,
    paper: str,
    setups: int,
    repeats: int,
    face: TypeFace,
    printer: str | None,
) -> tuple[dict[str, list[Page]], list[LeftOut]]:
    """Return rulers, forms and targets of rigs, corrected for a printer, and what is left out.

    `setups` distances, to be read `repeats` times each, are chosen as if there were no readings
    yet. The documents are empty where no rig can be made. Raises InputError for a printer that was
    not measured on the paper; PageError or GlyphError where no rig's documents can be drawn.
    """
    from focuschart.chart.charts import build_charts

    bench = Bench(paper, setups, repeats)
    setting = setting_for(printer, paper)
    sound = [rig for rig in rigs or kit.rigs if rig in kit.rigs]
    unprintable_texts = unprintable(kit, sound, face)
    charts = build_charts(kit.model_copy(update={"readings": []}), only=rigs)
    wanted = [chart for chart in charts if chart.rig.rig_id not in unprintable_texts]
    left_out = [left for left in charts.left_out if left.kind == "rig"]
    left_out += left_out_for_texts(unprintable_texts)
    refused: list[FocusChartError] = []

    def refuse(rig: str, what: str, error: FocusChartError) -> None:
        refused.append(error)
        left_out.append(LeftOut(rig, what, str(error), cure(error)))

    pages = bench_pages(kit, wanted, face=face, bench=bench, refuse=refuse) if wanted else {}
    if refused and not (pages["rulers"] and pages["bench-forms"]):
        raise refused[0]
    filled = {name: drawn for name, drawn in pages.items() if drawn}
    return for_setting(filled, setting, printer=printer, face=face), left_out
