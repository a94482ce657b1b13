"""The page: one HTML file with its style, its script and the data of a kit's rigs."""

from __future__ import annotations

import base64
import hashlib
import html
import json
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from focuschart.chart.gauge import SEEN_SHARE
from focuschart.phone.rig import RigData
from focuschart.units import Units

_PLACE = re.compile(r"\{\{(\w+)\}\}")
_ESCAPED = {
    "<": "\\u003c",
    ">": "\\u003e",
    "&": "\\u0026",
    "\u2028": "\\u2028",
    "\u2029": "\\u2029",
}
"""Signs that could end the element around the data, or a line of a script."""


@dataclass(frozen=True, slots=True)
class Parts:
    """The texts of the template, the style and the script."""

    template: str
    style: str
    script: str


def page(
    parts: Parts, rigs: Sequence[RigData], *, kit: str, units: Units, gauge_mm: float,
    left_out: Sequence[str] = (),
) -> str:  # fmt: skip
    """Return the page of some rigs of a kit, of which at least one is there.

    `gauge_mm` is the height of what is framed by, `left_out` has a sentence for each rig that is
    missing.
    """
    shown = [{key: value for key, value in rig.items() if key != "table"} for rig in rigs]
    data = {
        "kit": kit,
        "units": units,
        "gauge": gauge_mm,
        "seen": SEEN_SHARE,
        "rigs": shown,
        "left": list(left_out),
    }
    texts = {
        "title": html.escape(kit),
        "style": parts.style,
        "style_digest": _digest(parts.style),
        "script": parts.script,
        "script_digest": _digest(parts.script),
        "fallback": "".join(_fallback(rigs)),
        "data": _json(data),
    }
    # In one pass, so that no text of the kit is taken for a place.
    return _PLACE.sub(lambda match: texts[match[1]], parts.template)


def _digest(text: str) -> str:
    """Return the digest by which a content security policy knows an element's text."""
    return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


def _json(data: Mapping[str, Any]) -> str:
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    return re.sub("[<>&\u2028\u2029]", lambda match: _ESCAPED[match[0]], text)


def _fallback(rigs: Sequence[RigData]) -> Iterator[str]:
    """Yield tables of the marks, for a viewer that runs no script."""
    yield "<p>This viewer runs no script: open the file in a browser. The marks alone:</p>"
    for rig in rigs:
        yield f'<table><caption dir="auto">{html.escape(str(rig["name"]))}</caption>'
        for number, row in enumerate(rig["table"]):
            cell = "td" if number else "th"
            yield f"<tr>{''.join(f'<{cell}>{html.escape(text)}</{cell}>' for text in row)}</tr>"
        yield "</table>"
