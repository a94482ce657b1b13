"""The path of the default typeface, found without importing a drawing package."""

from __future__ import annotations

import importlib.util
from pathlib import Path

from focuschart.errors import GlyphError


def default_font_path() -> Path:
    """Return the path of the TrueType file that comes with reportlab; GlyphError without it."""
    spec = importlib.util.find_spec("reportlab")
    if spec is None or not spec.submodule_search_locations:
        raise GlyphError("the default font comes with reportlab, which is not installed")
    return Path(spec.submodule_search_locations[0], "fonts", "Vera.ttf")
