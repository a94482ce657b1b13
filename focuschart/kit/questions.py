"""The questions `focuschart init` asks, in their order, and the kit their answers make.

Prompts, examples and limits are those of the kit's own keys, so that both always agree.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import replace
from functools import partial
from itertools import chain, count
from typing import Any, Literal, TypeAlias, get_args, get_origin

from pydantic import BaseModel

from focuschart.errors import KitError
from focuschart.kit.answers import SKIP, choice, distance, listed, number, reader, yes_no
from focuschart.kit.attachment import Attachment
from focuschart.kit.fields import LONGEST_ID, LONGEST_NAME, Ask, asks_of, keys_of
from focuschart.kit.interview import Question, Reader, Script
from focuschart.kit.kit_text import kit_text
from focuschart.kit.load import load_kit
from focuschart.kit.parts import Camera, ChainPart, Clamp, Mode, StepRing, TakingLens
from focuschart.kit.ring import Ring
from focuschart.kit.rules import nearest_mm
from focuschart.kit.schema import Kit, Rig
from focuschart.units import parse_length

Table: TypeAlias = dict[str, Any]

_HEIGHTS = {"36 mm": "24 mm", "24.9 mm": "18.7 mm", "17.3 mm": "13 mm"}
"""Heights of common formats by their widths (common practice, no source); defaults only."""
_METRIC = ("1 m", "1.2 m", "1.5 m", "2 m", "3 m", "5 m", "10 m", "inf")
_IMPERIAL = ("3 ft 6 in", "4 ft", "5 ft", "6 ft", "8 ft", "10 ft", "15 ft", "30 ft", "inf")
_STOPS = (2.8, 4.0, 5.6, 8.0, 11.0, 16.0, 22.0)
_ANY_STOP = 64.0
"""Open to every lens, so that a kit can be checked before its stops are known."""
RING_SIZE = Ask(
    "focus ring measured by circumference or diameter",
    "Circumference: a tape once round the bare ring. Diameter: a caliper across it. A tape is "
    "the better of the two on a ribbed ring.",
)
_MORE = "Answer yes if there is another one in the bag that you want marks for."
_LINK = Ask(
    "step ring, clamp or none (more) between lens and attachment",
    "Step rings and clamps that stand between the taking lens and the attachment, one after the "
    "other; none when there are no more.",
)
_RIG_WANTED = Ask(
    "marks wanted for this pair, yes or no",
    "A rig is one camera, one taking lens and one attachment. Each gets strips and a card.",
)
_FACTS = Ask(
    "Ask also for masses, threads and openings, which check needs, yes or no",
    "They move no mark. With them, focuschart check tells whether parts fit together, whether the "
    "corners stay clear, and what the mount carries. Enter skips each that you do not know.",
)
_CHECKED: dict[type[BaseModel], tuple[str, ...]] = {
    Camera: ("mount", "mass", "centre_of_gravity", "tripod_thread", "mount_moment_limit"),
    TakingLens: (
        "mount", "front_thread", "front_rotates", "front_clear_aperture", "barrel_diameter",
        "entrance_pupil", "mass", "centre_of_gravity", "helicoid", "helicoid_moment_limit",
    ),
    Attachment: (
        "rear_thread", "barrel_diameter", "front_thread", "rear_clear_aperture",
        "front_clear_aperture", "mass", "centre_of_gravity",
    ),
    StepRing: ("thread_to_lens", "thread_to_front", "clear_aperture", "mass"),
    Clamp: ("thread", "bore", "clear_aperture", "mass"),
}  # fmt: skip
"""What check needs of each part and the interview can ask, in its order."""
_WRITE = Ask(
    "Write the kit now",
    "yes writes the file. < goes back to any answer, Ctrl-C stops without writing.",
)


def bag() -> Script[str]:
    """Ask for a whole bag; the result is the text of a kit that `load_kit` takes."""
    kit = yield from _fields("kit", "", Kit, "name", "units")
    facts = yield question("kit", "", "facts", _FACTS, yes_no, default="yes")
    camera = yield from _camera()
    kit["cameras"] = by_id([camera | (yield from _checked(facts, "cameras.1", Camera))], "camera")
    lens, attachment = (
        partial(_with_facts, ask=ask, table=table, facts=facts)
        for ask, table in ((_lens, TakingLens), (_attachment, Attachment))
    )
    kit["taking_lenses"] = yield from _parts("taking_lenses", "taking lens", lens)
    kit["attachments"] = yield from _parts("attachments", "attachment", attachment)
    kit["step_rings"], kit["clamps"] = yield from _links(facts)
    kit["rigs"] = yield from _rigs(kit)
    kit["distances"] = yield distances_question(kit)
    kit["stops"] = yield stops_question(kit)
    yield question("kit", "", "write", _WRITE, _only_yes, default="yes")
    return kit_text(kit)


def question(path: str, title: str, key: str, ask: Ask, read: Reader, **hints: str) -> Question:
    prompt = f"{title}: {ask.prompt}" if title else ask.prompt
    return Question(key=f"{path}.{key}", prompt=prompt, read=read, help=ask.help, **hints)


def of_key(
    path: str,
    title: str,
    table: type[BaseModel],
    name: str,
    *,
    required: bool = False,
    read: Reader | None = None,
    default: str = "",
) -> Question:
    """Return the question for a key of the kit, with the default and the reader given, if any."""
    info, ask, example = table.model_fields[name], asks_of(table)[name], ""
    if not default and ask.offered:
        default = shown_answer(keys_of(table)[name].value if info.is_required() else info.default)
    if not default and get_origin(info.annotation) is not Literal:
        optional = not required and type(None) in get_args(info.annotation)
        example = shown_answer(keys_of(table)[name].value) + (f', or "{SKIP}"' if optional else "")
    read = read or reader(table, name, required=required)
    return question(path, title, name, ask, read, example=example, default=default)


def shown_answer(value: Any) -> str:
    """Return what is typed to answer with a value."""
    if isinstance(value, list):
        return ", ".join(map(shown_answer, value))
    if isinstance(value, float):
        return f"{value:g}"
    return {"None": SKIP, "True": "yes", "False": "no"}.get(str(value), str(value))


def _fields(path: str, title: str, table: type[BaseModel], *names: str) -> Script[Table]:
    """Ask for keys of a table one after the other; its name, once known, becomes the title."""
    answers: Table = {}
    for name in names:
        heading = answers.get("name", title) if title else ""
        answers[name] = yield of_key(path, heading, table, name)
    return answers


def _with_facts(
    path: str,
    title: str,
    *,
    ask: Callable[[str, str], Script[Table]],
    table: type[BaseModel],
    facts: bool,
) -> Script[Table]:
    """Ask for a part, and for the facts of it that `check` needs, if these are wanted."""
    part = yield from ask(path, title)
    return part | (yield from _checked(facts, path, table, title=part["name"]))


def _checked(wanted: bool, path: str, table: type[BaseModel], *, title: str = "") -> Script[Table]:
    """Ask for what `check` needs of a part, in the words of its keys; all can be skipped."""
    answers: Table = {}
    for name in _CHECKED[table] if wanted else ():
        key = keys_of(table)[name]
        meaning = key.meaning[0].lower() + key.meaning[1:]
        ask = Ask(f"{meaning}, such as {shown_answer(key.value)}", f"{key.meaning}. {key.more}")
        answers[name] = yield question(path, title, name, ask, reader(table, name), default=SKIP)
    return {name: value for name, value in answers.items() if value is not None}


def _camera() -> Script[Table]:
    path = "cameras.1"
    camera = yield from _fields(path, "Camera", Camera, "name")
    title = camera["name"]
    camera |= yield from _fields(path, title, Mode, "sensor_width")
    height = _HEIGHTS.get(camera["sensor_width"], "")
    camera["sensor_height"] = yield of_key(path, title, Mode, "sensor_height", default=height)
    return camera | (yield from _fields(path, title, Camera, "flange_focal_distance"))


def _lens(path: str, title: str) -> Script[Table]:
    asked = (key for key in asks_of(TakingLens) if key not in ("front_moves", "length"))
    lens = yield from _fields(path, title, TakingLens, *asked)
    if lens["focusing"] == "internal":
        lens["front_moves"] = False
    else:
        lens |= yield from _fields(path, lens["name"], TakingLens, "front_moves")
    lens |= yield from _fields(path, lens["name"], TakingLens, "length")
    lens["ring"] = yield from _ring(path, lens["name"])
    return lens


def _attachment(path: str, title: str) -> Script[Table]:
    asked = (key for key in asks_of(Attachment) if key != "length")
    attachment = yield from _fields(path, title, Attachment, *asked)
    read = partial(_holding, read=reader(Attachment, "length"), inside=attachment)
    name = attachment["name"]
    attachment["length"] = yield of_key(path, name, Attachment, "length", read=read)
    attachment["ring"] = yield from _ring(path, attachment["name"])
    return attachment


def _holding(text: str, *, read: Reader, inside: Table) -> str | None:
    """Return a length, or None for none, that the attachment's groups fit into."""
    length: str | None = read(text)
    separation = inside["ruler_separation"]
    if length is None or separation is None:
        return length
    if parse_length(length) <= parse_length(separation):
        raise ValueError(f"must be more than the {separation} between the groups")
    return length


def _ring(path: str, title: str) -> Script[Table]:
    sizes = partial(choice, options=("circumference", "diameter"))
    size = yield question(path, title, "size", RING_SIZE, sizes, default="circumference")
    around = yield of_key(path, title, Ring, size, required=True)
    return {size: around, **(yield from _fields(path, title, Ring, "nearer_turns", "lead"))}


def _parts(section: str, kind: str, ask: Callable[[str, str], Script[Table]]) -> Script[Table]:
    """Ask for one part after the other until there are no more."""
    parts: list[Table] = []
    more = True
    while more:
        path = f"{section}.{len(parts) + 1}"
        nth = f" {len(parts) + 1}" if parts else ""
        parts.append((yield from ask(path, f"{kind.capitalize()}{nth}")))
        another = Ask(f"Another {kind}, yes or no", _MORE)
        more = yield question(path, "", "more", another, yes_no, default="no")
    return by_id(parts, kind.removeprefix("taking "))


def _links(facts: bool) -> Script[tuple[Table, Table]]:
    """Ask for step rings and clamps; no id is used for both."""
    kinds: list[str] = []
    one_of = partial(choice, options=("step ring", "clamp", "none"))
    links: list[Table] = []
    while True:
        path, title = f"links.{len(links) + 1}", f"Part {len(links) + 1}"
        kind = yield question(path, title, "kind", _LINK, one_of, default="none")
        if kind == "none":
            break
        kinds.append(kind)
        link = yield from _fields(path, title, ChainPart, "name", "thickness")
        table = StepRing if kind == "step ring" else Clamp
        links.append(link | (yield from _checked(facts, path, table, title=link["name"])))
    named = list(zip(kinds, by_id(links, "part").items(), strict=True))
    return dict(link for kind, link in named if kind == "step ring"), dict(
        link for kind, link in named if kind == "clamp"
    )


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
        wanted = question(path, title, "wanted", _RIG_WANTED, yes_no, default="yes")
        if must or (yield wanted):
            rigs.append((yield from _rig(path, title, kit, lens=lens, attachment=attachment)))
    return by_id(rigs, "rig")


def _rig(path: str, title: str, kit: Table, *, lens: str, attachment: str) -> Script[Table]:
    default = title[:LONGEST_NAME].strip()
    rig: Table = {
        "name": (yield of_key(path, title, Rig, "name", default=default)),
        "camera": next(iter(kit["cameras"])),
        "taking_lens": lens,
        "attachment": attachment,
    }
    rig["chain"] = yield from _chain(path, title, {**kit["step_rings"], **kit["clamps"]})
    lengths = kit["taking_lenses"][lens]["length"], kit["attachments"][attachment]["length"]
    (camera,) = kit["cameras"].values()
    if None in (*lengths, camera["flange_focal_distance"]):
        vertex = reader(Rig, "front_vertex", required=True)
        read = partial(_holding, read=vertex, inside=kit["attachments"][attachment])
        rig["front_vertex"] = yield of_key(
            path, title, Rig, "front_vertex", required=True, read=read
        )
    return rig


def _chain(path: str, title: str, links: Table) -> Script[list[str]]:
    if not links:
        return []
    ids = list(links)
    numbered = [f"{n} {link['name']}" for n, link in enumerate(links.values(), start=1)]
    everything = ", ".join(str(n) for n in range(1, len(ids) + 1))
    asked = of_key(
        path, title, Rig, "chain", read=partial(_read_chain, ids=ids), default=everything
    )
    ids_used: list[str] = yield replace(asked, prompt=f"{asked.prompt}: {'; '.join(numbered)}")
    return ids_used


def _read_chain(text: str, *, ids: Sequence[str]) -> list[str]:
    if text.casefold() == "none":
        return []
    by_number = {str(n): part_id for n, part_id in enumerate(ids, start=1)}
    entries = listed(text)
    if any(entry not in by_number for entry in entries) or len(set(entries)) < len(entries):
        raise ValueError(f"give each number from 1 to {len(ids)} once at most, or none")
    return [by_number[entry] for entry in entries]


def distances_question(kit: Table) -> Question:
    """Return the question for distances; an answer is held against every rig."""

    def read(text: str) -> list[str]:
        distances = [distance(entry) for entry in listed(text)]
        checked({**kit, "distances": distances, "stops": [_ANY_STOP]})
        return distances

    known = checked({**kit, "distances": ["inf"], "stops": [_ANY_STOP]})
    nearest = max(nearest_mm(known, rig)[0] for rig in known.rigs.values())
    usual = _IMPERIAL if kit["units"] == "imperial" else _METRIC
    within = [each for each in usual if parse_length(each) >= nearest]
    return of_key("kit", "", Kit, "distances", read=read, default=", ".join(within))


def stops_question(kit: Table) -> Question:
    """Return the question for stops; every lens must open to each of them."""

    widest = max(lens["widest_stop"] for lens in kit["taking_lenses"].values())
    usual = [stop for stop in _STOPS if stop >= widest][:3] or [widest]
    default = ", ".join(f"{stop:g}" for stop in usual)
    return of_key("kit", "", Kit, "stops", read=partial(read_stops, kit=kit), default=default)


def read_stops(text: str, kit: Table) -> list[float]:
    """Return the stops of an answer; raises ValueError where the kit's lenses lack one."""
    stops = [number(entry) for entry in listed(text)]
    checked({**kit, "stops": stops})
    return stops


def checked(kit: Table) -> Kit:
    """Return the kit as it would be read; raises ValueError with the first problems of it."""
    try:
        return load_kit(kit_text(kit), source="")
    except KitError as error:
        first = error.problems[:3]
        why = [f"{each.value}: {each.rule}" if each.value else each.rule for each in first]
        raise ValueError("; ".join(why)) from None


def _only_yes(text: str) -> bool:
    if not yes_no(text):
        raise ValueError("< goes back, Ctrl-C stops without writing")
    return True


def by_id(parts: Iterable[Table], kind: str) -> dict[str, Table]:
    """Return the parts under ids made of their names."""
    named: dict[str, Table] = {}
    for part in parts:
        named[unique_id(part["name"], taken=named, kind=kind)] = part
    return named


def unique_id(name: str, *, taken: Collection[str], kind: str) -> str:
    """Return an id like the name, with a number where it is taken, `kind` if none is like it."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    words = re.sub(r"[^a-z0-9]+", "-", plain)[: LONGEST_ID - 4].strip("-") or kind
    numbered = (f"{words}-{n}" for n in count(2))
    return next(found for found in chain([words], numbered) if found not in taken)
