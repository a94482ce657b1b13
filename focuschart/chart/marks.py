"""What a measured ring shows for a rig's distances."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property, partial
from typing import NamedTuple

import numpy as np

from focuschart.bench.scales import MeasuredScale
from focuschart.chart.engraved import engraved_mm, engraved_text
from focuschart.chart.precision import KnownGlass
from focuschart.optics.arrays import Floats
from focuschart.optics.depth_of_field import Aperture, Limits
from focuschart.optics.height import POWER_SHARE_SIGMA
from focuschart.rig.assemble import Rig
from focuschart.rig.laws import attachment_law
from focuschart.rig.place import GroupPlaces, group_places
from focuschart.rig.tolerances import tolerance_travel
from focuschart.scale.fit import HALF_WIDTH_95, read_to
from focuschart.scale.laws import AttachmentConstants
from focuschart.scale.noise import ReadingErrors
from focuschart.units import Units, distance_label


@dataclass(frozen=True, slots=True)
class HandErrors:
    """What comes between a fitted mark and a ring as set, one standard deviation each, mm.

    `offset_mm` lies off for all marks of a strip alike: its taping and its index's, `taping_mm`
    each, and `play_mm`, the backlash left; `setting_mm` is that of each setting. `print_scale` is a
    share of the figure from the zero line.
    """

    offset_mm: float
    play_mm: float
    setting_mm: float
    print_scale: float
    taping_mm: float
    reading_errors: ReadingErrors
    index_set_at_mm: float | None = None
    """The subject distance at which the index was set by focus, None if it was only taped."""


class Reference(NamedTuple):
    """The mark at which an index was set by focus: all others are off less what it is off.

    Its gradient by the fit's parameters (p), its figure, and its share of `height_shift_mm`.
    """

    gradient: Floats
    figure_mm: float
    height_shift_mm: float


@dataclass(frozen=True)
class RingMarks:
    """The marks of one measured ring.

    Arcs in mm on the ruler: at the marks (n), their 95 % half-widths as set by hand (n) and as
    fitted (`bench_arc_95_mm`), tolerances at each stop (m × n), the arcs of the frame's near and
    far limit (m × n), and what the engraved scale shows (n, nan where it shows nothing). `gradient`
    is that of the arcs by the fit's parameters (n × p); `height_shift_mm` (n) is by how much the
    height in the picture moves the marks beyond what readings at it have shown: of that, one share
    of all is uncertain.
    """

    measured: MeasuredScale
    hand: HandErrors
    arc_mm: Floats
    gradient: Floats
    bench_arc_95_mm: Floats
    height_shift_mm: Floats
    tolerance_mm: Floats
    near_arc_mm: Floats
    far_arc_mm: Floats
    engraved_mm: Floats
    engraved_text: tuple[str, ...]
    own_share: float
    """The ring's tolerance in its own meridian, as a multiple of `tolerance_mm`."""
    reference: Reference | None = None

    @property
    def nearer_sign(self) -> float:
        """1 where the ruler's figures rise as the ring turns nearer, else −1."""
        return float(np.sign(self.measured.scale.arc_per_travel))

    @cached_property
    def arc_95_mm(self) -> Floats:
        """The half-width of the 95 % of each mark as set by hand."""
        return np.asarray(HALF_WIDTH_95 * np.sqrt(np.diag(self.covariance())))

    @property
    def set_gradient(self) -> Floats:
        """The gradient of the marks as set by the fit's parameters (n × p)."""
        return self.gradient if self.reference is None else self.gradient - self.reference.gradient

    @property
    def set_figures_mm(self) -> Floats:
        """The figures of the marks (n) from where the index was set: from zero, or from a mark."""
        return self.arc_mm if self.reference is None else self.arc_mm - self.reference.figure_mm

    def eye_mm(self, index: int) -> float:
        """Return how well focus is found by eye at a mark, as arc: one standard deviation."""
        own = self.own_share * self.tolerance_mm[0, index]
        return float(self.hand.reading_errors.eye_share * own)

    def set_by_focus(self, reference: Reference, *, nearest: int) -> RingMarks:
        """Return the marks with their index set by focus at a reference, near the mark `nearest`.

        What is then off for all alike is how well it was taped there, and how well focus was found.
        """
        offset = float(np.hypot(self.hand.taping_mm, self.eye_mm(nearest)))
        return replace(self, hand=replace(self.hand, offset_mm=offset), reference=reference)

    def by_photograph(self, figure_mm: float, *, tick_mm: float) -> RingMarks:
        """Return the marks with all figures read to `figure_mm`, and the strip's taping taken out.

        That is the difference of two such figures at one setting; the tick of the comb chosen for
        it leaves `tick_mm`.
        """
        scale = read_to(self.measured.scale, figure_mm)
        offset = float(np.hypot(np.hypot(2.0**0.5 * figure_mm, tick_mm), self.hand.play_mm))
        return replace(
            self, measured=replace(self.measured, scale=scale), reference=None,
            hand=replace(self.hand, offset_mm=offset),
        )  # fmt: skip

    def at(self, index: int) -> Reference:
        """Return one of the marks as a reference."""
        shift = float(self.height_shift_mm[index])
        return Reference(self.gradient[index], float(self.arc_mm[index]), shift)

    def covariance(self, *, setting: bool = True) -> Floats:
        """Return the covariance (n × n, mm²) of the marks as set, or of the strip alone.

        Its terms are those of `chart/as_set.py`.
        """
        hand, figures, gradient = self.hand, self.set_figures_mm, self.set_gradient
        shift = 0.0 if self.reference is None else self.reference.height_shift_mm
        height = POWER_SHARE_SIGMA * (self.height_shift_mm - shift)
        fitted = gradient @ self.measured.scale.covariance @ gradient.T + np.outer(height, height)
        strip = fitted + hand.offset_mm**2 + hand.print_scale**2 * np.outer(figures, figures)
        return np.asarray(strip + (hand.setting_mm**2 * np.eye(len(figures)) if setting else 0.0))


@dataclass(frozen=True, slots=True)
class MatchedRig:
    """A rig as it matched for its distances (n); `lens` holds every stop (m × n)."""

    rig: Rig
    lens: Aperture
    place: GroupPlaces
    squeeze: Floats
    """The true squeeze (n): as the fit has it where one was measured, else the nominal one, changed
    with distance as the fitted attachment's is."""


def matched_rig(rig: Rig, *, stops: Floats, glass: KnownGlass) -> MatchedRig:
    """Return a rig focused at its distances, at all `stops` (m), by what is known of its glass."""
    lens = rig.aperture(rig.distances_mm, stops[:, np.newaxis])
    place = group_places(rig, attachment_law(rig.attachment), glass.constants, rig.distances_mm)
    fitted = AttachmentConstants(*glass.constants).squeeze
    trusted = rig.attachment.squeeze / fitted if glass.squeezes is None else 1.0
    return MatchedRig(rig, lens, place, np.asarray(trusted * place.match.squeeze))


def ring_marks(
    matched: MatchedRig,
    measured: MeasuredScale,
    hand: HandErrors,
    *,
    units: Units,
    engraved: bool = True,
) -> RingMarks:
    """Return one ring's marks at the rig's distances, without bands (nan).

    Without `engraved` its engraved scale shows nothing.
    """
    rig, scale = matched.rig, measured.scale
    travel = tolerance_travel(
        rig, measured.readings.which, matched.lens, matched.place, scale.constants
    )
    arcs, gradient = measured.modelled(rig, rig.distances_mm, rig.focus_height_mm)
    height = measured.height_shift_mm(rig, rig.distances_mm)
    figures = measured.readings.ring.engraved if engraved else ()
    nowhere = np.full(travel.shape, np.nan)
    marks = RingMarks(
        measured=measured,
        hand=hand,
        arc_mm=arcs,
        gradient=gradient,
        bench_arc_95_mm=HALF_WIDTH_95
        * np.hypot(scale.sigma_along(gradient), POWER_SHARE_SIGMA * height),
        height_shift_mm=height,
        tolerance_mm=abs(scale.arc_per_travel) * travel,
        near_arc_mm=nowhere,
        far_arc_mm=nowhere,
        engraved_mm=engraved_mm(figures, arcs),
        engraved_text=tuple(
            engraved_text(figures, float(arc), label=partial(distance_label, units=units))
            for arc in arcs
        ),
        own_share=rig.attachment.squeeze if measured.readings.which == "taking" else 1.0,
    )
    if hand.index_set_at_mm is None:
        return marks
    nearest = int(np.argmin(np.abs(1.0 / hand.index_set_at_mm - 1.0 / rig.distances_mm)))
    return marks.set_by_focus(_reference(rig, measured, hand.index_set_at_mm), nearest=nearest)


def _reference(rig: Rig, measured: MeasuredScale, distance_mm: float) -> Reference:
    at = np.array([distance_mm])
    arc, gradient = measured.modelled(rig, at, rig.focus_height_mm)
    height = measured.height_shift_mm(rig, at)
    return Reference(gradient[0], float(arc[0]), float(height[0]))


def banded(matched: MatchedRig, marks: RingMarks, frame: Limits) -> RingMarks:
    """Return a ring's marks with the arcs of the frame's limits (m × n)."""
    rig, measured = matched.rig, marks.measured
    # Nearer than it can focus a ring has no mark, so a band ends at the ring's end.
    nearest = np.minimum(max(rig.lens.nearest, rig.attachment.nearest), rig.distances_mm)
    return replace(
        marks,
        near_arc_mm=measured.arc_mm(rig, np.maximum(frame.near_mm, nearest)),
        far_arc_mm=measured.arc_mm(rig, frame.far_mm),
    )
