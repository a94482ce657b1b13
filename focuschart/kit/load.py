"""From the text of a kit file to a `Kit`, or to every problem in it at once."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from typing import Any

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from focuschart.errors import KitError, Problem, shown
from focuschart.kit.check import check_kit
from focuschart.kit.include import Shelf, gathered
from focuschart.kit.naming import with_name
from focuschart.kit.parse import MAX_BYTES, Location, key_path
from focuschart.kit.references import check_references
from focuschart.kit.schema import Kit

__all__ = ["MAX_BYTES", "load_kit"]


def load_kit(text: str, *, source: str, shelf: Shelf | None = None) -> Kit:
    """Return the kit written in `text` and in the files it includes, which `shelf` finds.

    Raises KitError with every problem found, each with the file in which its key stands.
    """
    raw, origins, problems = gathered(text, source=source, shelf=shelf)
    try:
        kit = Kit.model_validate(raw)
    except ValidationError as error:
        problems += [_problem(details) for details in _telling(error.errors())]
        rest = _sound_part(raw, error)
        problems += [*check_references(raw), *(check_kit(rest) if rest else ())]
    else:
        problems += [*check_references(raw), *check_kit(kit)]
        if not problems:
            return kit
    named = (with_name(problem, raw.get("readings")) for problem in problems)
    raise KitError(source, [origins.placed(problem) for problem in named])


def _telling(errors: list[ErrorDetails]) -> list[ErrorDetails]:
    """Return the errors without those on missing keys that a misspelt one explains."""
    unknown = [error["loc"] for error in errors if error["type"] == "extra_forbidden"]
    meant = {(*location[:-1], _nearest_key(location)) for location in unknown}
    return [e for e in errors if e["type"] != "missing" or e["loc"] not in meant]


def _problem(error: ErrorDetails) -> Problem:
    location = tuple(part for part in error["loc"] if part != "[key]")
    is_key = "[key]" in error["loc"]
    value = "" if error["type"] == "missing" or is_key else shown(error["input"])
    return Problem(key_path(location), value, _rule(error, location))


def _rule(error: ErrorDetails, location: Location) -> str:
    """Return what is asked for, in the words of someone filling in a form."""
    if error["type"] == "extra_forbidden":
        return _unknown_key(location)
    template = _RULES.get(error["type"], error["msg"].replace("{", "{{").replace("}", "}}"))
    return template.format_map(error.get("ctx", {}))


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
    known = ", ".join(sorted(_known_keys(location[:-1])))
    return f"unknown key, did you mean {near}?" if near else f"unknown key, known here: {known}"


def _nearest_key(location: Location) -> str | None:
    known = _known_keys(location[:-1])
    return next(iter(difflib.get_close_matches(str(location[-1]), known, n=1, cutoff=0.5)), None)


def _known_keys(location: Location) -> list[str]:
    """Return the keys of the table at a location, by walking the models' annotations."""
    model: type[BaseModel] = Kit
    for part in location:
        field = model.model_fields.get(str(part))
        if field is not None:
            model = _model_in(field.annotation) or model
    return list(model.model_fields)


def _model_in(annotation: Any) -> type[BaseModel] | None:
    """Return the model inside dict[Id, Model], list[Model] or Model, if any."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    inner = (_model_in(argument) for argument in getattr(annotation, "__args__", ()))
    return next((model for model in inner if model), None)


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
