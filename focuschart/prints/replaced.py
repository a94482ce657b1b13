"""How far marks are off if a part was replaced after the readings were taken."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

from focuschart.chart.charts import build_charts
from focuschart.kit.schema import Kit
from focuschart.kit.swap import read_before
from focuschart.prints.changes import lens_replaced
from focuschart.prints.difference import Comparison, compare
from focuschart.prints.printed import Printed, printed
from focuschart.prints.topics import Topic


def if_replaced(
    kit: Kit, found: Sequence[Comparison], *, every: Sequence[Comparison]
) -> Mapping[str, Comparison]:
    """Return by rig the attachment's strip as it was printed against what it should be then.

    That is what a comparison with a new rig of its own for the new part says. Rigs are those of
    `found` whose readings count as made with another length or lens than before; `every` has those
    of the whole kit, since an attachment's readings on one rig serve the others. No shift is known
    for another lens, nor where the readings fit no scale made so.
    """
    before = {
        one.told.rig_id: _vertex_mm(kit, one) for one in _strips_of(every) if not _other_lens(one)
    }
    strips = _strips_of(found)
    rigs = [one.told.rig_id for one in strips if one.told.rig_id in before]
    then = _strips(read_before(kit, before), rigs) if rigs else []
    old = [one.old for one in strips if one.old and one.told.rig_id in rigs]
    known = {one.told.rig_id: one for one in compare(old, then, units=kit.units) if one.new}
    return {one.told.rig_id: known.get(one.told.rig_id, replace(one, shifts={})) for one in strips}


def _strips_of(found: Sequence[Comparison]) -> list[Comparison]:
    return [one for one in found if one.reinterpreted and one.told.name == "attachment"]


def _strips(kit: Kit, rigs: Collection[str]) -> list[Printed]:
    charts = build_charts(kit, only=rigs)
    prints = (one for chart in charts for one in printed(chart))
    return [one for one in prints if one.name == "attachment"]


def _other_lens(one: Comparison) -> bool:
    assert one.old is not None
    assert one.new is not None
    return lens_replaced(one.old, one.new)


def _vertex_mm(kit: Kit, one: Comparison) -> float:
    """Return where the foremost glass was when the old strip was printed."""
    assert one.old is not None
    glass = kit.attachments[kit.rigs[one.told.rig_id].attachment].front_glass_mm
    return float(one.old.inputs[Topic.FRONT_GLASS]) + glass / 2.0
