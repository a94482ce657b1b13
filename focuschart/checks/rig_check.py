"""All that a check finds of one rig."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from focuschart.chart.charts import Solved
from focuschart.chart.model import Chart
from focuschart.checks.coverage import Coverage, coverage
from focuschart.checks.judgement import cautions, faults
from focuschart.checks.picture import Picture, picture
from focuschart.checks.reach import Reach, reach
from focuschart.errors import LeftOut
from focuschart.kit.schema import Kit
from focuschart.rig.assemble import Rig
from focuschart.rig.balance import Balance, balance, loaded
from focuschart.rig.chain import Finding, findings, shopping_list


@dataclass(frozen=True, slots=True)
class RigCheck:
    """One rig: findings of its chain, coverage (or the keys missing for it), reach, load, picture.

    `loaded` is the balance with the rig's `front_unit` on, None without one; `load_missing` are
    the kit's keys that would tell more of both. `marks_missing` says why a ring has no marks: then
    squeeze and depth of field are those of the values entered.
    """

    rig: Rig
    chain: tuple[Finding, ...]
    coverage: Coverage | tuple[str, ...]
    reach: Reach
    balance: Balance
    loaded: Balance | None
    load_missing: tuple[str, ...]
    picture: Picture
    marks_missing: tuple[str, ...]

    @property
    def faults(self) -> tuple[str, ...]:
        """Why the rig cannot work, in sentences; none where nothing known speaks against it."""
        return tuple(
            faults(self.chain, coverage=self._covered, balance=self.balance, loaded=self.loaded)
        )

    @property
    def cautions(self) -> tuple[str, ...]:
        """What to watch in a rig that may work all the same, in sentences."""
        return tuple(
            cautions(
                self.chain,
                coverage=self._covered,
                reach=self.reach,
                balance=self.balance,
                loaded=self.loaded,
            )
        )

    @property
    def works(self) -> bool:
        """Whether nothing known speaks against the rig."""
        return not self.faults

    @property
    def _covered(self) -> Coverage | None:
        return self.coverage if isinstance(self.coverage, Coverage) else None


class Checks(list[RigCheck]):
    """The checks of a kit's rigs; `left_out` names the rigs that could not be checked."""

    left_out: tuple[LeftOut, ...] = ()
    shopping: Mapping[str, list[str]]
    """What to get, with the rigs that want it."""

    @property
    def works(self) -> bool:
        """Whether nothing known speaks against any rig."""
        return all(check.works for check in self)


def check(kit: Kit, charts: Solved) -> Checks:
    """Return the checks of rigs that were charted."""
    found = Checks(check_rigs(kit, charts))
    found.left_out = tuple(each for each in charts.left_out if each.kind == "rig")
    found.shopping = shopping_list(kit, only=[one.rig.rig_id for one in found])
    return found


def check_rigs(kit: Kit, charts: Iterable[Chart], *, lenses: bool = True) -> Iterator[RigCheck]:
    """Yield the check of each rig; charts give what is known of its squeeze and depth of field.

    `lenses` says whether to look for the shortest focal lengths that are clear, as `coverage`.
    """
    for chart in charts:
        rig_id, shown = chart.rig.rig_id, picture(chart)
        carried = balance(kit, rig_id)
        yield RigCheck(
            rig=chart.rig,
            chain=tuple(findings(kit, rig_id)),
            coverage=coverage(kit, chart, shown, lenses=lenses),
            reach=reach(chart, shown.deliveries[0].sensor),
            balance=carried,
            loaded=loaded(kit, rig_id),
            load_missing=tuple(dict.fromkeys(_load_missing(kit, rig_id, carried))),
            picture=shown,
            marks_missing=tuple(_marks_missing(chart)),
        )


def _marks_missing(chart: Chart) -> Iterator[str]:
    """Yield why rings have no marks: no readings, or none from which a scale can be found."""
    yield from (f"{problem.key}: {problem.rule}" for problem in chart.refused.values())
    parts = (f"taking_lenses.{chart.rig.lens_id}", f"attachments.{chart.rig.attachment_id}")
    for part, (which, (_, marks)) in zip(parts, chart.rings().items(), strict=True):
        if marks is None and which not in chart.refused:
            yield f"{part}: no readings"


def _load_missing(kit: Kit, rig_id: str, found: Balance) -> Iterator[str]:
    """Yield the keys that would tell more of a rig's load; limits that nobody states are none."""
    rig = kit.rigs[rig_id]
    yield from found.missing
    for section in found.sections:
        yield from section.missing
    if math.isnan(found.tripod_thread_mm):
        yield f"cameras.{rig.camera}.tripod_thread"
    if rig.carrier is None:
        yield f"rigs.{rig_id}.carrier"
        return
    carrier = kit.carriers[rig.carrier]
    for key in ("payload", "plate_range"):
        if getattr(carrier, key) is None:
            yield f"carriers.{rig.carrier}.{key}"
