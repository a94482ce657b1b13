"""The JSON schema of a kit file, made of the fields of its tables."""

from __future__ import annotations

from typing import Any

from focuschart.kit.schema import Kit


def json_schema() -> dict[str, Any]:
    """Return the JSON schema of a kit file, for editors; `$defs/Included` is an included file's."""
    schema = Kit.model_json_schema()
    included = {
        **{key: schema[key] for key in ("type", "additionalProperties", "properties")},
        "description": "A file that a kit includes: any part of one.",
        "required": ["format"],
    }
    schema["$defs"] = {**schema["$defs"], "Included": included}
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}
