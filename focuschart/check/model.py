"""All that a check finds of one rig."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from focuschart.chart.model import RigChart
from focuschart.check.coverage import Coverage, coverage
from focuschart.check.picture import Picture, picture
from focuschart.check.reach import Reach, reach
from focuschart.kit.schema import Kit
from focuschart.rig.assemble import Rig
from focuschart.rig.balance import FRONT_UNIT_G, Balance, balance
from focuschart.rig.chain import Finding, findings


@dataclass(frozen=True, slots=True)
class RigCheck:
    """One rig: findings of its chain, coverage (or the keys missing for it), reach, load, picture.

    `loaded` is the balance with a close-up unit of `FRONT_UNIT_G` on the front.
    """

    rig: Rig
    chain: tuple[Finding, ...]
    coverage: Coverage | tuple[str, ...]
    reach: Reach
    balance: Balance
    loaded: Balance
    picture: Picture

    @property
    def faults(self) -> tuple[str, ...]:
        """Why the rig cannot work, in sentences; none where nothing known speaks against it."""
        return tuple(_faults(self))

    @property
    def works(self) -> bool:
        """Whether nothing known speaks against the rig."""
        return not self.faults


def check_rigs(kit: Kit, charts: Iterable[RigChart]) -> Iterator[RigCheck]:
    """Yield the check of each rig; charts give what is known of its squeeze and depth of field."""
    for chart in charts:
        rig_id, shown = chart.rig.rig_id, picture(kit, chart)
        yield RigCheck(
            rig=chart.rig,
            chain=tuple(findings(kit, rig_id)),
            coverage=coverage(kit, chart.rig),
            reach=reach(kit, chart, shown.deliveries[0].sensor),
            balance=balance(kit, rig_id),
            loaded=balance(kit, rig_id, front_unit_g=FRONT_UNIT_G),
            picture=shown,
        )


def _faults(check: RigCheck) -> Iterator[str]:
    for finding in check.chain:
        if finding.verdict == "does not meet":
            yield f"{finding.place}: {finding.reason}"
    if isinstance(check.coverage, Coverage) and check.coverage.dark:
        yield "no light reaches the frame's corner at the widest stop"
    weight = check.balance
    if weight.payload_verdict == "does not meet":
        yield "the rig is heavier than the payload stated for what carries it"
    if weight.plate_verdict == "does not meet":
        yield "the plate does not reach where the rig balances"
    for section in weight.sections:
        if section.verdict == "does not meet":
            yield f"{section.place}: {abs(section.acting_nm):.2f} N m, more than its stated limit"
