"""The questions `focuschart init` asks, in their order, and the kit their answers make."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import replace
from functools import partial
from itertools import chain, count
from typing import Any, TypeAlias

from pydantic import BaseModel

from focuschart.errors import KitError, Problem
from focuschart.kit import wording
from focuschart.kit.answers import choice, listed, number, reader, yes_no
from focuschart.kit.interview import Question, Reader, Script
from focuschart.kit.load import load_kit
from focuschart.kit.parts import Attachment, Camera, ChainPart, TakingLens
from focuschart.kit.ring import Ring
from focuschart.kit.rules import nearest_mm
from focuschart.kit.schema import Kit, Rig
from focuschart.kit.toml_text import kit_text
from focuschart.kit.wording import Item
from focuschart.units import parse_length

Table: TypeAlias = dict[str, Any]

_HEIGHTS = {"36 mm": "24 mm", "24.9 mm": "18.7 mm", "17.3 mm": "13 mm"}
"""Heights of common formats by their widths (common practice, no source); defaults only."""
_METRIC = ("1 m", "1.2 m", "1.5 m", "2 m", "3 m", "5 m", "10 m", "inf")
_IMPERIAL = ("3 ft 6 in", "4 ft", "5 ft", "6 ft", "8 ft", "10 ft", "15 ft", "30 ft", "inf")
_STOPS = (2.8, 4.0, 5.6, 8.0, 11.0, 16.0, 22.0)
_ANY_STOP = 64.0
"""Open to every lens, so that a kit can be checked before its stops are known."""
_LONGEST_NAME = 60
_LONGEST_ID = 40


def bag() -> Script[str]:
    """Ask for a whole bag; the result is the text of a kit that `load_kit` takes."""
    kit = yield from _fields("kit", "", Kit, wording.KIT)
    kit["cameras"] = _by_id([(yield from _camera())], "camera")
    kit["taking_lenses"] = yield from _parts("taking_lenses", "taking lens", _lens)
    kit["attachments"] = yield from _parts("attachments", "attachment", _attachment)
    kit["step_rings"], kit["clamps"] = yield from _links()
    kit["rigs"] = yield from _rigs(kit)
    kit["distances"] = yield _distances(kit)
    kit["stops"] = yield _stops(kit)
    yield _question("kit", "", wording.WRITE, _only_yes)
    return kit_text(kit)


def _question(path: str, title: str, item: Item, read: Reader, *, default: str = "") -> Question:
    return Question(
        key=f"{path}.{item.key}",
        prompt=f"{title}: {item.prompt}" if title else item.prompt,
        read=read,
        help=item.help,
        example=item.example,
        default=default or item.default,
    )


def _fields(path: str, title: str, table: type[BaseModel], items: Iterable[Item]) -> Script[Table]:
    """Ask for keys of a table one after the other; its name, once known, becomes the title."""
    answers: Table = {}
    for item in items:
        heading = answers.get("name", title) if title else ""
        question = _question(path, heading, item, reader(table, item.key))
        answers[item.key] = yield question
    return answers


def _camera() -> Script[Table]:
    path = "cameras.1"
    *asked, height, flange = wording.CAMERA
    camera = yield from _fields(path, "Camera", Camera, asked)
    camera[height.key] = yield _question(
        path,
        camera["name"],
        height,
        reader(Camera, height.key),
        default=_HEIGHTS.get(camera["sensor_width"], ""),
    )
    return camera | (yield from _fields(path, camera["name"], Camera, [flange]))


def _lens(path: str, title: str) -> Script[Table]:
    lens = yield from _fields(path, title, TakingLens, wording.LENS)
    rest = [wording.LENS_LENGTH]
    if lens["focusing"] != "internal":
        rest.insert(0, wording.FRONT_MOVES)
    else:
        lens["front_moves"] = False
    lens |= yield from _fields(path, lens["name"], TakingLens, rest)
    lens["ring"] = yield from _ring(path, lens["name"])
    return lens


def _attachment(path: str, title: str) -> Script[Table]:
    *asked, length = wording.ATTACHMENT
    attachment = yield from _fields(path, title, Attachment, asked)
    read = partial(_holding, read=reader(Attachment, length.key), inside=attachment)
    attachment[length.key] = yield _question(path, attachment["name"], length, read)
    attachment["ring"] = yield from _ring(path, attachment["name"])
    return attachment


def _holding(text: str, *, read: Reader, inside: Table) -> str | None:
    """Return a length, or None for none, that the attachment's groups fit into."""
    length: str | None = read(text)
    separation = inside["ruler_separation"]
    if length is not None and parse_length(length) <= parse_length(separation):
        raise ValueError(f"must be more than the {separation} between the groups")
    return length


def _ring(path: str, title: str) -> Script[Table]:
    sizes = partial(choice, options=tuple(wording.RING_SIZES))
    size = yield _question(path, title, wording.RING_SIZE, sizes)
    around = yield _question(
        path, title, wording.RING_SIZES[size], reader(Ring, size, required=True)
    )
    return {size: around, **(yield from _fields(path, title, Ring, wording.RING))}


def _parts(section: str, kind: str, ask: Callable[[str, str], Script[Table]]) -> Script[Table]:
    """Ask for one part after the other until there are no more."""
    parts: list[Table] = []
    more = True
    while more:
        path = f"{section}.{len(parts) + 1}"
        nth = f" {len(parts) + 1}" if parts else ""
        parts.append((yield from ask(path, f"{kind.capitalize()}{nth}")))
        item = Item("more", f"Another {kind}, yes or no", wording.MORE_HELP, default="no")
        more = yield _question(path, "", item, yes_no)
    return _by_id(parts, kind.removeprefix("taking "))


def _links() -> Script[tuple[Table, Table]]:
    """Ask for step rings and clamps; no id is used for both."""
    kinds: list[str] = []
    links: list[Table] = []
    while True:
        path, title = f"links.{len(links) + 1}", f"Part {len(links) + 1}"
        kind = yield _question(path, title, wording.LINK, _link_kind)
        if kind == "none":
            break
        kinds.append(kind)
        links.append((yield from _fields(path, title, ChainPart, wording.LINK_FIELDS)))
    named = list(zip(kinds, _by_id(links, "part").items(), strict=True))
    return dict(link for kind, link in named if kind == "step ring"), dict(
        link for kind, link in named if kind == "clamp"
    )


_link_kind = partial(choice, options=("step ring", "clamp", "none"))


def _rigs(kit: Table) -> Script[Table]:
    """Ask which lens goes with which attachment; one pair at least makes a rig."""
    pairs = [
        (f"rigs.{i}-{j}", lens, attachment)
        for i, lens in enumerate(kit["taking_lenses"])
        for j, attachment in enumerate(kit["attachments"])
    ]
    rigs: list[Table] = []
    for path, lens, attachment in pairs:
        names = kit["taking_lenses"][lens]["name"], kit["attachments"][attachment]["name"]
        title = " with ".join(names)
        must = not rigs and path == pairs[-1][0]
        if must or (yield _question(path, title, wording.RIG_WANTED, yes_no)):
            rigs.append((yield from _rig(path, title, kit, lens=lens, attachment=attachment)))
    return _by_id(rigs, "rig")


def _rig(path: str, title: str, kit: Table, *, lens: str, attachment: str) -> Script[Table]:
    default = title[:_LONGEST_NAME].strip()
    rig: Table = {
        "name": (
            yield _question(path, title, wording.RIG_NAME, reader(Rig, "name"), default=default)
        ),
        "camera": next(iter(kit["cameras"])),
        "taking_lens": lens,
        "attachment": attachment,
    }
    rig["chain"] = yield from _chain(path, title, {**kit["step_rings"], **kit["clamps"]})
    lengths = kit["taking_lenses"][lens]["length"], kit["attachments"][attachment]["length"]
    if None in lengths:
        vertex = reader(Rig, "front_vertex", required=True)
        read = partial(_holding, read=vertex, inside=kit["attachments"][attachment])
        rig["front_vertex"] = yield _question(path, title, wording.FRONT_VERTEX, read)
    return rig


def _chain(path: str, title: str, links: Table) -> Script[list[str]]:
    if not links:
        return []
    ids = list(links)
    numbered = [f"{n} {link['name']}" for n, link in enumerate(links.values(), start=1)]
    everything = ", ".join(str(n) for n in range(1, len(ids) + 1))
    item = replace(wording.CHAIN, prompt=f"{wording.CHAIN.prompt}: {'; '.join(numbered)}")
    ids_used: list[str] = yield _question(
        path, title, item, partial(_read_chain, ids=ids), default=everything
    )
    return ids_used


def _read_chain(text: str, *, ids: Sequence[str]) -> list[str]:
    if text.casefold() == "none":
        return []
    by_number = {str(n): part_id for n, part_id in enumerate(ids, start=1)}
    entries = listed(text)
    if any(entry not in by_number for entry in entries) or len(set(entries)) < len(entries):
        raise ValueError(f"give each number from 1 to {len(ids)} once at most, or none")
    return [by_number[entry] for entry in entries]


def _distances(kit: Table) -> Question:
    """Return the question for distances; an answer is held against every rig."""

    def read(text: str) -> list[str]:
        distances = listed(text)
        _checked({**kit, "distances": distances, "stops": [_ANY_STOP]})
        return distances

    known = _checked({**kit, "distances": ["inf"], "stops": [_ANY_STOP]})
    nearest = max(nearest_mm(known, rig)[0] for rig in known.rigs.values())
    usual = _IMPERIAL if kit["units"] == "imperial" else _METRIC
    within = [distance for distance in usual if parse_length(distance) >= nearest]
    return _question("kit", "", wording.DISTANCES, read, default=", ".join(within))


def _stops(kit: Table) -> Question:
    """Return the question for stops; every lens must open to each of them."""

    def read(text: str) -> list[float]:
        stops = [number(entry) for entry in listed(text)]
        _checked({**kit, "stops": stops})
        return stops

    widest = max(lens["widest_stop"] for lens in kit["taking_lenses"].values())
    usual = [stop for stop in _STOPS if stop >= widest][:3] or [widest]
    default = ", ".join(f"{stop:g}" for stop in usual)
    return _question("kit", "", wording.STOPS, read, default=default)


def _checked(kit: Table) -> Kit:
    """Return the kit as it would be read; raises ValueError with the first problems of it."""
    try:
        return load_kit(kit_text(kit), source="")
    except KitError as error:
        raise ValueError("; ".join(_told(problem) for problem in error.problems[:3])) from None


def _told(problem: Problem) -> str:
    return f"{problem.value}: {problem.rule}" if problem.value else problem.rule


def _only_yes(text: str) -> bool:
    if not yes_no(text):
        raise ValueError("< goes back, Ctrl-C stops without writing")
    return True


def _by_id(parts: Iterable[Table], kind: str) -> dict[str, Table]:
    """Return the parts under ids made of their names."""
    named: dict[str, Table] = {}
    for part in parts:
        named[unique_id(part["name"], taken=named, kind=kind)] = part
    return named


def unique_id(name: str, *, taken: Collection[str], kind: str) -> str:
    """Return an id like the name, with a number where it is taken, `kind` if none is like it."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    words = re.sub(r"[^a-z0-9]+", "-", plain)[: _LONGEST_ID - 4].strip("-") or kind
    numbered = (f"{words}-{n}" for n in count(2))
    return next(found for found in chain([words], numbered) if found not in taken)
