"""A kit as if parts had been replaced after its readings were taken."""

from __future__ import annotations

from collections.abc import Mapping

from focuschart.kit.schema import Kit

_AS_READ = "{} as read"


def read_before(kit: Kit, front_vertex_mm: Mapping[str, float]) -> Kit:
    """Return the kit with the readings of some rigs made where their front vertex then was.

    `front_vertex_mm` gives it by rig: the readings move to a rig of that length beside the rig,
    which keeps its own. All else stays as it is.
    """
    moved = {rig for rig in front_vertex_mm if rig in kit.rigs}
    former = {
        _AS_READ.format(rig): kit.rigs[rig].model_copy(
            update={"front_vertex": front_vertex_mm[rig]}
        )
        for rig in moved
    }
    readings = [
        reading.model_copy(update={"rig": _AS_READ.format(reading.rig)})
        if reading.rig in moved
        else reading
        for reading in kit.readings
    ]
    return kit.model_copy(update={"rigs": {**kit.rigs, **former}, "readings": readings})
