"""How far marks are off if a part was replaced after the readings were taken."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

from focuschart.chart.solve import build_charts
from focuschart.compare.changes import lens_replaced
from focuschart.compare.printed import Printed, printed
from focuschart.compare.verdict import Comparison, compare
from focuschart.kit.replaced import read_before
from focuschart.kit.schema import Kit


def if_replaced(kit: Kit, found: Sequence[Comparison]) -> Mapping[str, Comparison]:
    """Return by rig the attachment's strip as the kit has it against what it should be then.

    Rigs are those whose readings count as made with another length or lens than before; no shift
    is known for another lens, nor where the readings fit no scale made so. Raises KitError, naming
    `source`, for a rig beyond the optics.
    """
    strips = [one for one in found if one.reinterpreted and one.told.name == "attachment"]
    before = {one.told.rig_id: _vertex_mm(kit, one) for one in strips if not _other_lens(one)}
    now = [one.new for one in strips if one.new and one.new.rig_id in before]
    then = _strips(read_before(kit, before), before) if before else []
    known = {one.told.rig_id: one for one in compare(now, then, units=kit.units)}
    return {one.told.rig_id: known.get(one.told.rig_id, replace(one, shifts={})) for one in strips}


def _strips(kit: Kit, rigs: Collection[str]) -> list[Printed]:
    charts = build_charts(kit, only=rigs)
    prints = (one for chart in charts for one in printed(kit, chart))
    return [one for one in prints if one.name == "attachment"]


def _other_lens(one: Comparison) -> bool:
    assert one.old is not None
    assert one.new is not None
    return lens_replaced(one.old, one.new)


def _vertex_mm(kit: Kit, one: Comparison) -> float:
    """Return where the foremost glass was when the old strip was printed."""
    assert one.old is not None
    glass = kit.attachments[kit.rigs[one.told.rig_id].attachment].front_glass
    return float(one.old.inputs["front glass"]) + glass / 2.0
