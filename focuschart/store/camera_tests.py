"""Camera tests: the pages to note one on, and its result from readings and the packs' records."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from focuschart.errors import InputError

if TYPE_CHECKING:
    from focuschart.chart.camera_test import StripTest
    from focuschart.chart.model import Chart
    from focuschart.chart.strip_errors import StripPrinted
    from focuschart.kit.schema import Kit
    from focuschart.layout.page import Page
    from focuschart.prints.printed import Printed
    from focuschart.renderers.glyphs import TypeFace


def pages(charts: Sequence[Chart], *, paper: str, face: TypeFace) -> dict[str, list[Page]]:
    """Return the pages of the camera test by document, a page a rig with both rings measured."""
    from focuschart.pages.camera_test import test_pages

    drawn = [
        page for chart in charts if chart.pair for page in test_pages(chart, paper=paper, face=face)
    ]
    return {"camera-test": drawn} if drawn else {}


def results(kit: Kit, charts: Sequence[Chart], out: Path) -> Iterator[StripTest]:
    """Yield the result of the camera test of each rig that was read through its strips.

    Printed marks are those of the records in `out`, former prints among them. Raises InputError
    where no rig has readings through both its strips, and for a code that no record knows; KitError
    where the readings through them leave a ring without a scale.
    """
    from focuschart.chart.camera_test import judged
    from focuschart.chart.strip_errors import strips_read

    known: Mapping[str, Printed] | None = None
    tested = False
    for chart in charts:
        strips = strips_read(chart)
        if set(strips) != set(chart.rings()):
            continue
        tested = True
        known = _by_code(out) if known is None else known
        found = {
            which: _known(kit, known, strip.taping.code, out) for which, strip in strips.items()
        }
        yield judged(chart, strips, {which: _strip(one) for which, one in found.items()})
    if not tested:
        raise InputError(
            f"{kit.source}: no rig has readings through both its marker strips: take them as "
            '"focuschart test" says, or photograph both at a setting that does not move (--unmoved)'
        )


def _by_code(out: Path) -> dict[str, Printed]:
    from focuschart.store.prints import from_records

    prints = (one for source in from_records(out) for one in (*source.former, *source.prints))
    return {one.code: one for one in prints}


def _known(kit: Kit, known: Mapping[str, Printed], code: str, out: Path) -> Printed:
    one = known.get(code)
    if one is None or one.name not in ("taking", "attachment"):
        what = "is no marker strip's" if one else f"is known to no record in {out}"
        raise InputError(
            f"{kit.source}: readings.strips is {code}: the code {what}, look at the strip "
            "again, or name the folder of its pack with --out"
        )
    return one


def _strip(one: Printed) -> StripPrinted:
    from focuschart.chart.strip_errors import StripPrinted

    marked = one.rings[one.name]
    distances = np.array([float(label) for label in marked.labels])
    return StripPrinted(one.rig_id, one.name, distances, marked.arc_mm)
