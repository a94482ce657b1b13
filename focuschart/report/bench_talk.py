"""The conversation of `focuschart read KIT`: line after line of the bench form, figure by figure.

A script of questions (`kit.interview`) and the readings that its answers make. Nothing is written
here: whoever leads the conversation keeps the file as `Talk.readings` has them.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from functools import partial
from typing import Any, NamedTuple

import numpy as np

from focuschart.bench.advice import SIDES, bench_distances
from focuschart.bench.forecast import Forecast, forecast
from focuschart.chart.charts import Charts
from focuschart.chart.sureness import sureness
from focuschart.errors import UnitError
from focuschart.kit.fields import RULER_MM
from focuschart.kit.interview import Question, Script
from focuschart.kit.new_reading import new_reading_problems
from focuschart.kit.reading import Reading
from focuschart.kit.rules import nearest_mm
from focuschart.kit.schema import Kit
from focuschart.optics.arrays import Floats
from focuschart.report.fit import next_sentence
from focuschart.report.lines import wrapped
from focuschart.rig.assemble import Rig, assemble
from focuschart.rig.ring import RINGS, Which
from focuschart.typed import typed_figure, typed_length, typed_offset
from focuschart.units import (
    Units,
    distance_label,
    format_length,
    format_stop,
    imperial_label,
    metric_label,
    parse_length,
)

INTRODUCTION = (
    "Line after line of the bench form; each reading is written to the kit at once. Enter takes\n"
    'what is in [brackets], "skip" leaves a line or a figure out, < takes back, ? explains,\n'
    "q stops: go on at any time with the same command."
)
SKIP = "skip"
_BEYOND_MM = 30_000.0
"""From here on a target is the far one."""
_SAME_LINE = 1.3
"""A reading within this factor of the nearest line's distance fills that line."""
_ODD_SIGMA = 3.3
"""One good figure in a thousand is farther off what the others foretell."""
_MOST_PLAY_MM = 3.0
"""Figures from either side of one sharp point are nearer to each other; judgement, no source."""
_AGAIN_MM = 1.0
"""A figure read again is as near to the first; judgement, no source."""
_RANGE = re.compile(r"(.+?)\s*(?:±|\+\s*/?\s*-)\s*(.+)")
_FIGURE_HELP = (
    "The figure on the ring's ruler at its pointer, in mm to a tenth: 62.9 or 62,9. A figure in "
    "brackets is what the readings so far foretell, with its 95 % range."
)
_DISTANCE_HELP = (
    "From the sensor mark to the target, as you measured it; a target at another distance than "
    "the form's does as well. A far one with its error: 60 m ± 3 m."
)
_HEIGHT_HELP = (
    "Where the target's cross stands in the picture: millimetres on the sensor above its middle, "
    "as the bench form says; 0 mm for the middle."
)
_TURN = {
    "nearer": "turn both rings nearer than sharp, then back to sharp.",
    "farther": "turn both rings farther than sharp, then back to sharp.",
}


class Line(NamedTuple):
    """A line of the form: its number from 1, the distance in mm, and the figures still to read."""

    number: int
    distance_mm: float
    wanted: tuple[tuple[str, Which], ...]

    @property
    def far(self) -> bool:
        """Whether it is the line of the far target."""
        return self.distance_mm >= _BEYOND_MM


class Talk:
    """A conversation about one rig; `readings` are those of the answers given so far."""

    def __init__(self, kit: Kit, rig_id: str) -> None:
        self.kit, self.rig_id = kit, rig_id
        self.readings: list[dict[str, Any]] = []
        self._rig = assemble(kit, rig_id)
        self._stop = float(np.min(self._rig.stops))
        self._doubted: dict[str, float] = {}
        self.lines = list(lines_to_read(kit, self._rig))

    def script(self) -> Script[str]:
        """Ask for all that is still to read; `readings` follows."""
        self.readings = []
        if self.lines:
            settings = {"stop": self._stop, **(yield from self._settings())}
            for line in self.lines:
                yield from self._line(line, settings)
        return ""

    def _settings(self) -> Script[dict[str, Any]]:
        height = round(self._rig.focus_height_mm, 1)
        asked = Question(
            "height", "Target's cross above the middle of the picture, on the sensor", _height,
            _HEIGHT_HELP, default=f"{height:g} mm", intro=self._opening(),
        )  # fmt: skip
        text = yield asked
        return {"height": text if parse_length(text.removeprefix("-")) else None}

    def _opening(self) -> str:
        rig, lines = self._rig, len(self.lines)
        return (
            f"{rig.name}: {lines} line{'s' * (lines > 1)} of the form to read, the taking lens at "
            f"{format_stop(self._stop)} throughout."
        )

    def _line(self, line: Line, settings: Mapping[str, Any]) -> Script[None]:
        named = distance_label(line.distance_mm, self.kit.units)
        beyond = "100 ft" if self.kit.units == "imperial" else format_length(_BEYOND_MM)
        where = f"Far target, beyond {beyond}" if line.far else named
        asked = Question(
            f"{line.number}.distance", f"\n{line.number}. {where}. Its distance as measured",
            partial(self._distance, far=line.far), _DISTANCE_HELP,
            example="60 m ± 3 m" if line.far else "",
            default="" if line.far else _to_type(line.distance_mm, self.kit.units),
        )  # fmt: skip
        measured = yield asked
        if measured is None:
            return
        for side in dict.fromkeys(side for side, _ in line.wanted):
            rings = [which for other, which in line.wanted if other == side]
            reading = {"rig": self.rig_id, **settings, **measured, "side": side}
            yield from self._side(f"{line.number}.{side}", reading, rings)

    def _side(self, key: str, reading: dict[str, Any], rings: list[Which]) -> Script[None]:
        intro = f"  From the {reading['side']} side: {_TURN[reading['side']]}"
        others = list(self.readings)
        for which in rings:
            expected = self._forecast(reading, which)
            owner = self._rig.lens if which == "taking" else self._rig.attachment
            about = f" (about {expected})" if expected else ""
            read = partial(self._figure, key=f"{key}.{which}", which=which, reading=dict(reading),
                           expected=expected)  # fmt: skip
            figure = yield Question(
                f"{key}.{which}", f"  {_NAMES[which]}, {owner.name}: figure{about}", read,
                _FIGURE_HELP, intro=intro,
            )  # fmt: skip
            intro = ""
            if figure is not None:
                reading[which] = figure
                self.readings = [*others, dict(reading)]

    def _so_far(self) -> Kit:
        entered = [_as_reading(reading) for reading in self.readings]
        return self.kit.model_copy(update={"readings": [*self.kit.readings, *entered]})

    def _forecast(self, reading: Mapping[str, Any], which: Which) -> Forecast | None:
        return forecast(self._so_far(), _as_reading({**reading, which: 0.0}), which)

    def _distance(self, text: str, *, far: bool) -> dict[str, Any] | None:
        """Return distance and error as the kit has them, None for a line that is left out."""
        if text.casefold() == SKIP:
            return None
        found = _RANGE.fullmatch(text)
        try:
            distance = typed_length(found[1] if found else text)
            error = typed_length(found[2]) if found else None
        except UnitError as refused:
            raise ValueError(str(refused)) from None
        nearest, what = nearest_mm(self.kit, self.kit.rigs[self.rig_id])
        if parse_length(distance) < nearest:
            raise ValueError(f"the rig focuses no nearer than {format_length(nearest)}, by {what}")
        if far and error is None and np.isfinite(parse_length(distance)):
            raise ValueError(f"give its error too, for example {distance} ± 3 m")
        return {"distance": distance, "distance_error": error}

    def _figure(
        self, text: str, *, key: str, which: Which, reading: dict[str, Any],
        expected: Forecast | None,
    ) -> float | None:  # fmt: skip
        """Return a figure, None for one left out; an odd one is taken when typed again."""
        if text.casefold() == SKIP:
            return None
        try:
            figure = typed_figure(text)
        except UnitError as error:
            raise ValueError(str(error)) from None
        if not RULER_MM[0] <= figure <= RULER_MM[1]:
            raise ValueError("no ruler shows that, write the figure at the pointer in mm")
        odd = next(self._odd(which, figure, reading, expected), None)
        if odd and abs(figure - self._doubted.get(key, np.inf)) > _AGAIN_MM:
            self._doubted[key] = figure
            raise ValueError(f"{odd}. Look again; the same once more is kept")
        return figure

    def _odd(
        self, which: Which, figure: float, reading: Mapping[str, Any], expected: Forecast | None
    ) -> Iterator[str]:
        """Yield what is odd about a figure."""
        for other in self.readings:
            before = other.get(which)
            alike = other["distance"] == reading["distance"] and other["side"] != reading["side"]
            if before is not None and alike and abs(figure - before) > _MOST_PLAY_MM:
                yield f"{abs(figure - before):.1f} mm from {before:g}, read from the other side"
        if expected and expected.sigmas_off(figure) > _ODD_SIGMA:
            off = figure - expected.figure_mm
            yield f"{abs(off):.1f} mm {'more' if off > 0 else 'less'} than the others foretell"
        for problem in new_reading_problems(self._so_far(), {**reading, which: figure}):
            if problem.key == f"--{which}":
                yield problem.rule.partition(": read")[0]


_NAMES: Mapping[Which, str] = {"taking": "Taking lens", "attachment": "Attachment"}


def _height(text: str) -> str:
    """Return a height as the kit has it; raises ValueError, with the cure."""
    try:
        return typed_offset(text)
    except UnitError as error:
        raise ValueError(str(error)) from None


def _as_reading(said: Mapping[str, Any]) -> Reading:
    return Reading.model_validate({key: value for key, value in said.items() if value is not None})


def lines_to_read(kit: Kit, rig: Rig) -> Iterator[Line]:
    """Yield the lines of a rig's bench form of which a figure is still to be read."""
    distances = bench_distances(kit, rig, float(np.min(rig.stops)))
    for number, distance in enumerate(distances, start=1):
        done = _done(kit, rig.rig_id, distances, number - 1)
        wanted = tuple((side, which) for side in SIDES for which in RINGS
                       if (side, which) not in done)  # fmt: skip
        if wanted:
            yield Line(number, float(distance), wanted)


def _done(kit: Kit, rig_id: str, distances_mm: Floats, line: int) -> set[tuple[str, Which]]:
    """Return which figures of a line are in the kit; one of no named side fills the next side."""
    done: set[tuple[str, Which]] = set()
    for reading in kit.readings:
        if reading.rig != rig_id or reading.ignore or _line_of(reading, distances_mm) != line:
            continue
        for which in RINGS:
            if getattr(reading, which) is not None:
                free = [side for side in SIDES if (side, which) not in done]
                done |= {(reading.side or (free or SIDES)[0], which)}
    return done


def _line_of(reading: Reading, distances_mm: Floats) -> int | None:
    """Return which line of the form a reading fills, the last one if far, None for none."""
    if reading.distance >= _BEYOND_MM:
        return len(distances_mm) - 1
    off = np.abs(np.log(reading.distance / distances_mm[:-1]))
    nearest = int(np.argmin(off))
    return nearest if off[nearest] < np.log(_SAME_LINE) else None


def worth(kit: Kit, charts: Charts, rig_id: str) -> Iterator[str]:
    """Yield what a rig's readings are worth, and what to read next.

    `charts` are those of this rig alone, taken from to their end.
    """
    for chart in charts:
        if chart.pair_95 is not None:
            for sentence in sureness(chart, units=kit.units):
                yield from wrapped(sentence, further="  ")
            if not chart.contradicted:
                yield from wrapped(next_sentence(chart), further="  ")
    for left in charts.left_out:
        if left.kind == "ring":
            sentence = f"No marks yet, {left.what}: {left.why}: {left.cure}."
            yield from wrapped(sentence, further="  ")
    lines = list(lines_to_read(kit, assemble(kit, rig_id)))
    if lines:
        named = "the far target" if lines[0].far else distance_label(
            lines[0].distance_mm, kit.units)  # fmt: skip
        more = f"{len(lines)} line{'s' * (len(lines) > 1)}"
        yield f"Of the bench form {more} are left, {named} the next."


def _to_type(distance_mm: float, units: Units) -> str:
    """Return a distance as one would type it."""
    if units == "imperial":
        feet = imperial_label(distance_mm).replace("'", " ft ").replace('"', " in")
        return feet.strip()
    return metric_label(distance_mm)
