"""The guide that travels with the program: its topics and their text."""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass
from importlib.resources import files

from focuschart.errors import InputError, shown

_ENTRY = re.compile(r"^- \[([a-z-]+)\]\(([a-z-]+)\.md\): (.+)$", re.MULTILINE)


@dataclass(frozen=True, slots=True)
class Topic:
    """A topic of the guide, in one line."""

    name: str
    about: str


def topics() -> tuple[Topic, ...]:
    """Return all topics in the order of the guide's list."""
    return tuple(Topic(name, about) for name, _, about in _ENTRY.findall(_text("README")))


def topic_text(name: str) -> str:
    """Return a topic as Markdown; raises InputError, with the nearest name, for an unknown one."""
    names = [topic.name for topic in topics()]
    if name not in names:
        near = difflib.get_close_matches(name, names, n=1, cutoff=0.5)
        cure = f'did you mean "{near[0]}"? ' if near else ""
        rest = f'{cure}"focuschart guide" lists all'
        raise InputError(f"the guide has no topic {shown(name)}: {rest}")
    return _text(name)


def _text(name: str) -> str:
    return files("focuschart").joinpath("guide", f"{name}.md").read_text(encoding="utf-8")
