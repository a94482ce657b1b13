"""A kit written as tidy TOML, what a key means beside it: the starter kit, and a kit of answers."""

from __future__ import annotations

import json
import re
import textwrap
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel

from focuschart.kit.fields import keys_of
from focuschart.kit.schema import Kit, table_at

_HEAD = """\
# What is in the bag, for focuschart. Lengths are quoted text with a unit: "72 mm", "0.6 m",
# "6 ft 3 in", or "inf" for infinity. Keys switched off by a # may be filled in at any time.
"""
_COMMENT_COLUMN = 36
_WIDTH = 98


def starter() -> str:
    """Return a commented example kit, to be edited in place of an interview."""
    return "\n".join([*_filled(_STARTER, {}), *_filled(_READINGS, {}), ""])


def kit_text(kit: Mapping[str, Any]) -> str:
    """Return the text of a kit file, with an example of its readings.

    `kit` has the shape of the file: sections of tables by id, lengths as text. An absent key is
    left out, one that is None is written switched off.
    """
    examples = {"rig": _value(next(iter(kit["rigs"]))), "stop": _value(kit["stops"][0])}
    blocks = _blocks((), {"format": 1, **kit}, set())
    return "\n".join([_HEAD, *blocks, *_filled(_READINGS, examples), ""])


def _filled(template: str, examples: Mapping[str, str]) -> Iterator[str]:
    """Yield the lines of a template with examples of keys, those given or those of the fields.

    Keys named after a sign, "=" or "#=", are put in, the latter switched off; each is of the table
    whose header stands above it.
    """
    table: type[BaseModel] = Kit
    said: set[str] = set()
    for line in template.splitlines():
        header = re.match(r"#?\[+([^\]]+)\]", line)
        if header and table_at(header[1].split(".")) is not table:
            table, said = table_at(header[1].split(".")), set()
        sign, _, keys = line.partition("= ")
        if sign not in ("", "#") or not keys:
            yield line
            continue
        for key in keys.split():
            example = examples.get(key, keys_of(table)[key].example)
            yield from _noted(f"{sign}{key} = {example}", _beside(table, key), said)


def _blocks(path: tuple[str, ...], table: Mapping[str, Any], said: set[str]) -> Iterator[str]:
    """Yield a table's own keys in the order of its fields, then the tables in it."""
    kind = table_at(path)
    own = [key for key in kind.model_fields if not isinstance(table.get(key, {}), dict)]
    lines = [f"[{'.'.join(path)}]"] if path else []
    for key in own:
        lines += _noted(_assigned(key, table[key]), keys_of(kind)[key].meaning, said)
    if own:
        yield "\n".join([*lines, ""])
    for key, inner in table.items():
        if isinstance(inner, dict):
            yield from _blocks((*path, key), inner, said)


def _noted(line: str, note: str, said: set[str]) -> list[str]:
    """Return a line with a note beside it, a sentence above it; what was said is left out."""
    if not note or note in said:
        return [line]
    said.add(note)
    if note.endswith("."):
        return [*textwrap.wrap(f"# {note}", _WIDTH, subsequent_indent="# "), line]
    first, *others = note.split("\n")
    column = _COMMENT_COLUMN
    return [f"{line:<{column}}  # {first}", *(f"{'':{column}}  # {other}" for other in others)]


def _beside(table: type[BaseModel], name: str) -> str:
    """Return what the starter says of a key: its note, else its other choices and its meaning."""
    key, kind = keys_of(table)[name], table.model_fields[name].annotation
    if key.note is not None:
        return key.note
    if key.meaning.endswith("."):
        return key.meaning
    meaning = key.meaning[0].lower() + key.meaning[1:]
    others = [other for other in get_args(kind) if other != key.value]
    if get_origin(kind) is Literal and others:
        return f"or {', '.join(map(_value, others))}: {meaning}"
    return meaning


def _assigned(key: str, value: Any) -> str:
    return f'#{key} = ""' if value is None else f"{key} = {_value(value)}"


def _value(value: Any) -> str:
    if isinstance(value, Sequence) and not isinstance(value, str):
        return f"[{', '.join(_value(entry) for entry in value)}]"
    if isinstance(value, float):
        return repr(value).removesuffix(".0")
    # A JSON text, number or truth is a TOML one; what JSON leaves bare and TOML does not is DEL.
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


_STARTER = """\
# A kit for focuschart: what is in the bag, and what was read on the bench.
#
# Every part below is invented: put in your own, delete what you do not have, copy what you have
# twice. Lengths are quoted text with a unit: "72 mm", "7.2 cm", "0.6 m", "6 ft 3 in", "2 1/2 in",
# or "inf" for infinity. Squeeze, stops and ruler figures are plain numbers, without quotes.
# Masses are "640 g", "1.4 kg" or "3 lb 2 oz"; threads are "72 mm x 0.75", diameter and pitch, or
# "72 mm" where you do not know the pitch.
# A line that begins with # and a key is an optional key, switched off: take away the # to use it.

= format
#= include
= name units

= distances

= stops

#= circle_of_confusion

#= focus_height

#= gauge

#= deliveries lean_limit

# Names in brackets, such as main-camera, are ids of your own: small letters, digits and hyphens.

[cameras.main-camera]
= name sensor_width sensor_height flange_focal_distance
# What weighs, holds and fits moves no mark. Fill in what you know: what is missing is named when
# the rig is checked, never guessed.
#= mount pixels readout_time circle_of_confusion modes
#= mass centre_of_gravity tripod_thread mount_moment_limit

[taking_lenses.eighty-five]
= name focal_length
#= largest_magnification
= widest_stop nearest focusing front_moves length
#mount = "bayonet"
#= front_thread front_rotates front_clear_aperture barrel_diameter entrance_pupil
#= mass centre_of_gravity helicoid helicoid_moment_limit

[taking_lenses.eighty-five.ring]      # its focus ring
= diameter
#= circumference
# Of a ring that tapers, in place of one size, those of both edges, and its width between them:
# { front_diameter = "62 mm", rear_diameter = "66 mm", width = "18 mm" }; or, in their place,
# { front_circumference = "195 mm", rear_circumference = "207 mm", width = "18 mm" }
= nearer_turns
#= lead backlash strip_width strip_thickness ruler_thickness read_from index_side
#= turns stock mirrored engraved

[attachments.double]
= name squeeze moving_group ruler_separation front_glass rear_glass nearest length
#= rear_thread barrel_diameter front_thread rear_clear_aperture front_clear_aperture
#= mass centre_of_gravity

[attachments.double.ring]             # takes the same keys as the ring above
circumference = "258 mm"
nearer_turns = "anticlockwise"

# What stands between taking lens and attachment. Delete both if nothing does.

[step_rings.step-up]
= name thickness
#= thread_to_lens thread_to_front clear_aperture mass

[clamps.rear-clamp]
name = "Rear clamp"
thickness = "12 mm"
#= thread bore
#clear_aperture = "62 mm"
#mass = "110 g"

# What stands before the attachment, what holds the rig up, and what carries it. Delete these too
# if you have none.

[filters.clear]
= name
#= thread thickness clear_aperture mass

[close_up_lenses.plus-one]            # takes the same keys
= name power

[supports.rod-support]
= name position
#= mass

[carriers.tripod]
= name
#= payload plate_range

# A rig is one camera, one taking lens and one attachment, by their ids.

[rigs.portrait]
= name camera
#= mode
= taking_lens attachment chain
#= front_vertex distances focus_height front support desqueeze front_unit carrier index_set_at

# How well you read, tape and set, and how true your printer is: one standard deviation each.

[bench]
#= ruler_error eye_error taping_error setting_error print_scale side

"""

_READINGS = """\
# Bench readings: both rings focused on one target, and what the two ruler strips then showed.
# Five or more distances for each rig, the nearest mark and a target beyond 30 m among them.
# [[unmoved]] is what a ruler, then a marker strip, showed at a setting that does not move, such as
# a hard stop: the difference is how far the strip is taped off.
# [[squeezes]] is how much the rig squeezed a flat card at one distance, on a frame as recorded.
# The figures below are invented; take away the # of every line and put in your own.
#
#[[readings]]
#= rig distance stop taking attachment
#
#[[readings]]
#= rig
#distance = "60 m"
#= distance_error stop height
#taking = 20.4
#attachment = 24.7
#= taking_error attachment_error photo side taping strips ticks ignore
#
#[[unmoved]]
#= rig setting taking taking_error attachment attachment_error photo taping strips
#
#[[squeezes]]
#= rig distance squeeze squeeze_error photo ignore
"""
