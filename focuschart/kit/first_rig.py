"""The few questions that a first strip needs: one camera, one taking lens, one attachment.

All else has a default that is said at the end, where each can be changed by its number.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from focuschart.kit import pictures
from focuschart.kit.answers import SKIP, choice, distance, reader
from focuschart.kit.attachment import Attachment
from focuschart.kit.fields import LONGEST_NAME, Ask, asks_of, keys_of
from focuschart.kit.interview import Question, Reader, Script
from focuschart.kit.kit_text import kit_text
from focuschart.kit.parts import Camera, Mode, TakingLens
from focuschart.kit.questions import (
    Table,
    by_id,
    checked,
    distances_question,
    of_key,
    question,
    read_stops,
    shown_answer,
    stops_question,
)
from focuschart.kit.ring import Ring
from focuschart.kit.schema import Kit, Rig

INTRODUCTION = (
    "For one camera, one taking lens and one attachment: fifteen questions, about ten minutes.\n"
    "At hand: the rig put together, a tape measure, a ruler in mm, a strip of paper, a pencil.\n"
    "Lengths may be in any unit: 201 mm, 20,1 cm, 1,5 m, 6 ft 3, 2 1/2 in. "
    f'"{SKIP}" leaves out what you\ncannot measure, where it is offered.'
)
SENSORS = {
    "full frame": ("36 mm", "24 mm"),
    "super 35": ("24.9 mm", "18.7 mm"),
    "aps-c": ("23.6 mm", "15.7 mm"),
    "four thirds": ("17.3 mm", "13 mm"),
    "one inch": ("13.2 mm", "8.8 mm"),
    "super 16": ("12.5 mm", "7.4 mm"),
}
"""Width and height by common name (common practice, no source)."""
_OTHER_NAMES = {
    "ff": "full frame", "fullframe": "full frame", "35 mm": "full frame", "s35": "super 35",
    "super35": "super 35", "apsc": "aps-c", "mft": "four thirds", "m43": "four thirds",
    "micro four thirds": "four thirds", "1 inch": "one inch", "1 in": "one inch", '1"': "one inch",
    "s16": "super 16", "super16": "super 16",
}  # fmt: skip
_SENSOR = Ask(
    f"Sensor: {', '.join(SENSORS)}, or width x height",
    "The area that the sensor mode in use records, from the camera's data sheet. A size is written "
    "as 36 x 24 mm.",
)
_ENGRAVED = Ask(
    "Taking lens, focal length and widest stop as engraved",
    "Such as 85 mm f/1.8, or 85 1.8. A zoom: the focal length you leave it at.",
)
_ENGRAVED_TEXT = re.compile(r"(.*?\d\s*(?:mm|cm|in)?)[\s,;]+((?:f|F|ƒ|1\s*:)?\s*/?\s*\d[\d.,]*)")
_SIZE = Ask(
    "circumference of its focus ring (or its diameter, as: diameter 64 mm)",
    "Tool: a strip of paper and a ruler, or a caliper across the bare ring for the diameter. A "
    "ribbed ring is better measured round.",
)
_WRITE = Ask(
    "Enter writes the kit, a number changes that line",
    "Type the number of a line above to change it, < to go back to any answer.",
)
_VERTEX = Ask(
    "From the sensor mark to the foremost glass, the whole rig at infinity",
    "Tool: a tape measure, or a long ruler held parallel to the rig. To a millimetre or two.",
)


@dataclass(frozen=True)
class _Default:
    """A key that was not asked for: its question, and the table that it is set in."""

    question: Question
    table: Table
    key: str


def first_rig() -> Script[str]:
    """Ask for one rig; the result is the text of a kit that `load_kit` takes."""
    kit: Table = {"name": keys_of(Kit)["name"].value}
    kit["units"] = yield of_key("kit", "", Kit, "units")
    asked = question("cameras.1", "", "sensor", _SENSOR, read_sensor, default="full frame")
    camera: Table = {"name": "Camera", **(yield asked), "flange_focal_distance": None}
    lens = yield from _lens()
    attachment = yield from _attachment()
    vertex = reader(Rig, "front_vertex", required=True)
    example = keys_of(Rig)["front_vertex"].value
    asked = question("rigs.1", "", "front_vertex", _VERTEX, vertex, example=example)
    whole = yield replace(asked, intro=pictures.WHOLE_LENGTH)
    put_together = partial(
        _together, kit, camera=camera, lens=lens, attachment=attachment, front_vertex=whole
    )
    kit["distances"] = yield distances_question(put_together())
    kit["stops"] = read_stops(stops_question(put_together()).default, put_together())
    defaults = list(_defaults(kit, camera, lens, attachment))
    defaults.append(_stops(kit, put_together))
    yield from _changes(put_together, defaults)
    return kit_text(put_together())


def _lens() -> Script[Table]:
    path, title = "taking_lenses.1", "Taking lens"
    asked = question(path, "", "engraved", _ENGRAVED, read_engraved, example="85 mm f/1.8")
    lens: Table = dict((yield asked))
    nearest = of_key(path, title, TakingLens, "nearest")
    lens["nearest"] = yield replace(nearest, intro=pictures.NEAREST)
    lens["focusing"] = yield of_key(path, title, TakingLens, "focusing")
    lens["front_moves"] = lens["focusing"] == "extends"
    lens["length"] = None
    lens["ring"] = yield from _ring(path, title, pictures.RING_SIZE, pictures.TURNING)
    return lens


def _attachment() -> Script[Table]:
    path, title = "attachments.1", "Attachment"
    attachment: Table = {"name": ""}
    for key in ("squeeze", "moving_group"):
        attachment[key] = yield of_key(path, title, Attachment, key)
    attachment |= dict.fromkeys(("ruler_separation", "front_glass", "rear_glass"))
    attachment["nearest"] = yield of_key(path, title, Attachment, "nearest")
    attachment["name"] = f"{attachment['squeeze']:g}x attachment"
    attachment["length"] = None
    attachment["ring"] = yield from _ring(path, title, "", "")
    return attachment


def _ring(path: str, title: str, size: str, turning: str) -> Script[Table]:
    asked = question(path, title, "size", _SIZE, read_ring_size, example="201 mm")
    ring: Table = dict((yield replace(asked, intro=size)))
    asked = of_key(path, title, Ring, "nearer_turns")
    ring["nearer_turns"] = yield replace(asked, intro=turning)
    return {**ring, "lead": None}


def _together(
    kit: Table, *, camera: Table, lens: Table, attachment: Table, front_vertex: str
) -> Table:
    """Return the kit of the answers so far, its parts under ids made of their names."""
    parts = {
        "cameras": by_id([camera], "camera"),
        "taking_lenses": by_id([lens], "lens"),
        "attachments": by_id([attachment], "attachment"),
    }
    ids = [next(iter(section)) for section in parts.values()]
    rig: Table = {
        "name": f"{lens['name']} with {attachment['name']}"[:LONGEST_NAME].strip(),
        **dict(zip(("camera", "taking_lens", "attachment"), ids, strict=True)),
        "chain": [],
        "front_vertex": front_vertex,
    }
    return {**kit, **parts, "step_rings": {}, "clamps": {}, "rigs": by_id([rig], "rig")}


# --- defaults -------------------------------------------------------------------------------------


def _defaults(kit: Table, camera: Table, lens: Table, attachment: Table) -> Iterator[_Default]:
    yield _Default(of_key("kit", "", Kit, "name"), kit, "name")
    yield _Default(of_key("cameras.1", "Camera", Camera, "name"), camera, "name")
    flange = "flange_focal_distance"
    yield _Default(of_key("cameras.1", "Camera", Camera, flange), camera, flange)
    yield _Default(of_key("taking_lenses.1", "Taking lens", TakingLens, "name"), lens, "name")
    if lens["focusing"] != "internal":
        moves = of_key("taking_lenses.1", "Taking lens", TakingLens, "front_moves")
        yield _Default(moves, lens, "front_moves")
    yield _Default(of_key("taking_lenses.1", "Taking lens", Ring, "lead"), lens["ring"], "lead")
    for key in ("name", "ruler_separation", "front_glass", "rear_glass"):
        asked = of_key("attachments.1", "Attachment", Attachment, key)
        yield _Default(asked, attachment, key)
    asked = of_key("attachments.1", "Attachment", Ring, "lead")
    yield _Default(asked, attachment["ring"], "lead")


def _stops(kit: Table, put_together: Callable[[], Table]) -> _Default:
    def read(text: str) -> list[float]:
        return read_stops(text, put_together())

    return _Default(question("kit", "", "stops", asks_of(Kit)["stops"], read), kit, "stops")


def _changes(put_together: Callable[[], Table], defaults: list[_Default]) -> Script[None]:
    """Say every default, and let each be changed by its number."""
    numbers = [str(n) for n in range(1, len(defaults) + 1)]
    for turn in range(1, 1000):
        listed = "\n".join(_line(n, default) for n, default in enumerate(defaults, start=1))
        asked = question("kit", "", f"write.{turn}", _WRITE, partial(_chosen, numbers=numbers),
                         default="write")  # fmt: skip
        chosen = yield replace(asked, intro=f"\nSupposed, where you were not asked:\n{listed}\n")
        if chosen == "write":
            break
        default = defaults[int(chosen) - 1]
        now = shown_answer(default.table[default.key])
        fitting = partial(_fitting, default=default, kit=put_together)
        key = f"{default.question.key}.{turn}"
        asked = replace(default.question, key=key, default=now, read=fitting)
        default.table[default.key] = yield asked


def _fitting(text: str, *, default: _Default, kit: Callable[[], Table]) -> Any:
    """Return a value that makes a sound kit with all others; raises ValueError."""
    value, before = default.question.read(text), default.table[default.key]
    default.table[default.key] = value
    try:
        checked(kit())
    finally:
        default.table[default.key] = before
    return value


def _line(number: int, default: _Default) -> str:
    value = default.table[default.key]
    words = _UNKNOWN[default.key] if value is None else shown_answer(value)
    prompt = default.question.prompt.partition(", with commas")[0]
    return f"  {number:>2}  {prompt}: {words}"


_UNKNOWN = {
    "flange_focal_distance": "not needed, the whole length is measured",
    "lead": "not known; it would save a reading",
    "ruler_separation": "not known, a usual one; readings correct it",
    "front_glass": "not known, a usual one",
    "rear_glass": "not known, a usual one",
}


def _chosen(text: str, *, numbers: list[str]) -> str:
    if text in numbers or text == "write":
        return text
    raise ValueError(f"press Enter to write the kit, or give a number from 1 to {numbers[-1]}")


# --- answers --------------------------------------------------------------------------------------


def read_sensor(text: str) -> Table:
    """Return width and height of a sensor by its common name or size; raises ValueError."""
    name = " ".join(text.casefold().replace("-frame", " frame").split())
    name = _OTHER_NAMES.get(name, name)
    if name not in SENSORS and not re.search(r"\d.*[x×]|[x×].*\d", text):
        name = choice(name, options=tuple(SENSORS))
    if name in SENSORS:
        width, height = SENSORS[name]
    else:
        width, _, height = re.sub(r"\s*[×x]\s*|\s+by\s+", "x", text.casefold()).partition("x")
    sizes = {"sensor_width": _in_mm(width), "sensor_height": _in_mm(height)}
    return {key: reader(Mode, key)(size) for key, size in sizes.items()}


def _in_mm(text: str) -> str:
    return text if re.search(r"[^\d.,\s]", text) else f"{text.strip()} mm"


def read_engraved(text: str) -> Table:
    """Return name, focal length and widest stop of a lens as engraved; raises ValueError."""
    found = _ENGRAVED_TEXT.fullmatch(text.strip())
    if not found:
        raise ValueError("write focal length and widest stop, for example 85 mm f/1.8")
    focal = reader(TakingLens, "focal_length")(_in_mm(found[1]))
    stop = reader(TakingLens, "widest_stop")(re.sub(r"\s*", "", found[2]))
    return {"name": f"{focal} f/{stop:g}", "focal_length": focal, "widest_stop": stop}


def read_ring_size(text: str) -> Table:
    """Return the circumference of a ring, or its diameter where that is said; raises ValueError."""
    found = re.match(r"\s*(?:diameter|dia\.?|d|Ø|ø|⌀)\s*[:=]?\s*(?=[\d.,])", text, re.IGNORECASE)
    size = "diameter" if found else "circumference"
    given = text[found.end() :] if found else text.removeprefix("circumference").strip()
    read: Reader = reader(Ring, size, required=True)
    return {size: read(distance(given))}
