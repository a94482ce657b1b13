"""The codes of rulers and bench indexes, from which their tags are made."""

from __future__ import annotations

from typing import TYPE_CHECKING

from focuschart.prints.code import revision

if TYPE_CHECKING:
    from focuschart.kit.ring import Ring
    from focuschart.rig.ring import Which


def ruler_code(which: Which, part: str, ring: Ring) -> str:
    """Return the code of a ruler: of its ring by kind and id, and of all that shapes the strip."""
    ruler = ring.as_ruler
    return revision(
        "ruler",
        {
            "ring": f"{which}/{part}",
            "once round": float(f"{ruler.strip_length_mm:.9g}"),
            "far edge": float(f"{ruler.far_edge_mm:.9g}") if ring.tapers else None,
            "width": ring.strip_width,
            "turns": ring.turns,
            "index side": ring.index_side,
        },
    )


def bench_index_code(which: Which, part: str, ring: Ring) -> str:
    """Return the code of the bench index beside a ruler; no size of the ring counts."""
    return revision("bench index", {"ring": f"{which}/{part}", "index side": ring.index_side})
