"""Reading the text of a kit file into a `Kit`, or finding every problem in it at once."""

from __future__ import annotations

import difflib
import re
from collections.abc import Collection, Iterator, Mapping
from itertools import chain
from typing import Any, NamedTuple

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from focuschart.errors import KitError, LeftOut, Problem, shown
from focuschart.kit.include import Shelf, gathered
from focuschart.kit.mistyped import MistypedError, number_meant, spot_of
from focuschart.kit.naming import with_name
from focuschart.kit.origins import Origins
from focuschart.kit.parse import MAX_BYTES, Location, key_path
from focuschart.kit.references import check_references, rig_references, table
from focuschart.kit.rules import check_bag, check_kit, check_rig
from focuschart.kit.schema import Kit, table_at

__all__ = ["MAX_BYTES", "broken_rigs", "load_kit", "load_rigs"]

WHOLE_RIG = "the rig"
"""What is left out where nothing of a rig can be made."""


def load_kit(text: str, *, source: str, shelf: Shelf | None = None) -> Kit:
    """Return the kit written in `text` and in the files it includes, which `shelf` finds.

    Raises KitError with every problem found, each with the file in which its key stands.
    """
    found = _examined(text, source, shelf)
    problems = found.problems()
    if problems or found.kit is None:
        raise KitError(source, problems)
    return found.kit.read_from(source, found.origins, {})


def load_rigs(text: str, *, source: str, shelf: Shelf | None = None) -> Kit:
    """Return the same kit, in which a faulty rig does not stop the others.

    Rigs that cannot be put together are left out, and are the kit's `broken` ones. Marks, stops and
    readings that cannot be are still in it, for whoever solves a rig to leave out. Raises KitError
    for what is wrong with the kit as a whole, or with every rig of it.
    """
    found = _examined(text, source, shelf)
    kit = found.kit
    if kit is None or found.of_bag or check_bag(kit):
        raise KitError(source, found.problems())
    wrong = {key: found.of_rigs.get(key) or check_rig(kit, key) for key in kit.rigs}
    broken = found.of_rigs | {key: problems for key, problems in wrong.items() if problems}
    if not kit.rigs.keys() - broken.keys():
        raise KitError(source, found.problems())
    placed = {key: tuple(map(found.origins.placed, wrong)) for key, wrong in broken.items()}
    return kit.read_from(source, found.origins, placed)


def broken_rigs(kit: Kit, only: Collection[str]) -> Iterator[LeftOut]:
    """Yield the rigs of a kit, or of `only` some, that cannot be put together."""
    for rig_id, problems in kit.broken.items():
        read = any(reading.rig == rig_id and not reading.ignore for reading in kit.readings)
        what = f"{WHOLE_RIG} and its readings" if read else WHOLE_RIG
        if not only or rig_id in only:
            yield from (LeftOut(rig_id, what, each.place, each.rule, "rig") for each in problems)


class _Examined(NamedTuple):
    """The kit of a file as far as it could be read, and what is wrong with it.

    `kit` has the sound tables alone; `of_rigs` is what is wrong with a rig's own table.
    """

    kit: Kit | None
    origins: Origins
    of_bag: list[Problem]
    of_rigs: dict[str, list[Problem]]
    readings: object
    texts: Mapping[str, str]
    mistyped: Collection[str]

    def problems(self) -> list[Problem]:
        """Return all that is wrong, each with the file in which its key stands."""
        contradictions = [] if self.kit is None else check_kit(self.kit)
        return [
            self._placed(problem)
            for problem in (*self.of_bag, *chain(*self.of_rigs.values()), *contradictions)
        ]

    def _placed(self, problem: Problem) -> Problem:
        """Return a problem with its file, one of typing also with line and column there."""
        placed = self.origins.placed(with_name(problem, self.readings))
        text = self.texts.get(placed.source)
        if problem.key not in self.mistyped or text is None:
            return placed
        spot = spot_of(text, placed.key)
        return placed._replace(rule=f"{placed.rule} ({spot})") if spot else placed


def _examined(text: str, source: str, shelf: Shelf | None) -> _Examined:
    """Read a kit's tables, each by itself; raises KitError for what is no kit at all."""
    raw, origins, of_bag, texts = gathered(text, source=source, shelf=shelf)
    mistyped: set[str] = set()
    of_rigs: dict[str, list[Problem]] = {}
    kit: Kit | None
    try:
        kit = Kit.model_validate(raw)
    except ValidationError as error:
        for details in _without_misspelt(error.errors()):
            of = of_rigs.setdefault(str(details["loc"][1]), []) if _of_a_rig(details) else of_bag
            of.append(_problem(details))
            if _is_mistyped(details):
                mistyped.add(of[-1].key)
        kit = _sound_part(raw, error)
    of_bag += check_references(raw)
    for rig_id in table(raw, "rigs"):
        of_rigs.setdefault(rig_id, []).extend(rig_references(raw, rig_id))
    wrong = {rig_id: problems for rig_id, problems in of_rigs.items() if problems}
    return _Examined(kit, origins, of_bag, wrong, raw.get("readings"), texts, mistyped)


def _of_a_rig(details: ErrorDetails) -> bool:
    """Return whether an error is inside the table of one rig with a valid id."""
    location = details["loc"]
    return location[0] == "rigs" and len(location) > 1 and "[key]" not in location


def _without_misspelt(errors: list[ErrorDetails]) -> list[ErrorDetails]:
    """Return the errors, without missing keys that are there under a misspelt name."""
    unknown = [error["loc"] for error in errors if error["type"] == "extra_forbidden"]
    meant = {(*location[:-1], _nearest_key(location)) for location in unknown}
    return [e for e in errors if e["type"] != "missing" or e["loc"] not in meant]


def _problem(error: ErrorDetails) -> Problem:
    location = tuple(part for part in error["loc"] if part != "[key]")
    is_key = "[key]" in error["loc"]
    value = "" if error["type"] == "missing" or is_key else shown(error["input"])
    unknown = error["type"] == "extra_forbidden"
    return Problem(key_path(location), value, _unknown_key(location) if unknown else rule_of(error))


def _is_mistyped(error: ErrorDetails) -> bool:
    """Return whether a value could be understood, had it been written as the file has it."""
    return isinstance(error.get("ctx", {}).get("error"), MistypedError) or bool(_unquoted(error))


def _unquoted(error: ErrorDetails) -> str:
    """Return the cure for a number that is in quotes, as "f/2.8"."""
    if error["type"] != "float_type" or not isinstance(error["input"], str):
        return ""
    meant = number_meant(error["input"])
    return "" if meant is None else f"write {meant:g}, without quotes"


def rule_of(error: ErrorDetails) -> str:
    """Return what a value must be, in the words of someone filling in a form."""
    if cure := _unquoted(error):
        return cure
    if error["type"] not in _RULES:
        return re.sub(r"^Input should", "must", error["msg"])
    return _RULES[error["type"]].format_map(error.get("ctx", {}))


_RULES = {
    "missing": "is missing, add it",
    "value_error": "{error}",
    "literal_error": "must be {expected}",
    "string_pattern_mismatch": "an id has small letters, digits and hyphens only, 40 at most",
    "greater_than_equal": "must be {ge:g} or more",
    "less_than_equal": "must be {le:g} or less",
    "finite_number": "must be a finite number",
    "too_short": "needs at least {min_length} entry",
    "too_long": "has more than {max_length} entries",
    "string_too_short": "must have at least {min_length} character",
    "string_too_long": "must have at most {max_length} characters",
    "float_type": "must be a plain number, without quotes",
    "int_type": "must be a whole number, without quotes",
    "int_parsing_size": "must be a whole number of fewer digits",
    "string_type": "must be text in quotes",
    "bool_type": "must be true or false",
    "list_type": "must be a list in square brackets",
    "model_type": "must be a table",
    "dict_type": "must be a table",
}


def _unknown_key(location: Location) -> str:
    near = _nearest_key(location)
    known = ", ".join(sorted(table_at(location[:-1]).model_fields))
    return f"unknown key, did you mean {near}?" if near else f"unknown key, known here: {known}"


def _nearest_key(location: Location) -> str | None:
    known = list(table_at(location[:-1]).model_fields)
    return next(iter(difflib.get_close_matches(str(location[-1]), known, n=1, cutoff=0.5)), None)


def _sound_part(raw: Mapping[str, Any], error: ValidationError) -> Kit | None:
    """Return the kit without its faulty entries, so that the rest is checked in the same run."""
    pruned: dict[str, Any] = {
        key: dict(value) if isinstance(value, dict) else value for key, value in raw.items()
    }
    for location in (details["loc"] for details in error.errors()):
        section = pruned.get(str(location[0]))
        if isinstance(section, dict) and len(location) > 1:
            section.pop(location[1], None)
        else:
            pruned.pop(str(location[0]), None)
    try:
        return Kit.model_validate(pruned)
    except ValidationError:
        return None
