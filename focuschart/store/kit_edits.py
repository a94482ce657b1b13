"""Readings in a kit file: added and taken back, with the file as it was kept beside it.

The old file is not kept once a reading: twenty copies would bury the one that matters, the file as
it was before anyone began to read. So a copy is made when the newest one cannot stand for the file:
when the kit was changed by anything but this program since, which replaying the readings on the
copy shows to the byte, or when it was left alone for some hours, so that each session on the bench
has its own. A copy is never overwritten, ours or the user's: the next one has the next number.
"""

from __future__ import annotations

import os
import re
import shutil
import time
import tomllib
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from focuschart.errors import FocusChartError, InputError, KitError, OutputError, Problem
from focuschart.kit.edit import readings_added, with_reading
from focuschart.kit.load import MAX_BYTES, load_rigs
from focuschart.kit.new_reading import new_reading_problems
from focuschart.kit.rules import unusable_rings
from focuschart.store.files import (
    alone,
    as_text,
    discard,
    publish,
    read_bytes,
    stage,
    sweep,
    written_or_nothing,
)
from focuschart.store.kits import Disk

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from focuschart.kit.schema import Kit

    Reading = Mapping[str, Any]
    """The keys of a reading, as the kit file has them."""

_SESSION_S = 6 * 3600.0
"""A kit left alone for longer begins a new session; judgement, no source."""
_WRITABLE = 0o222
_AGAIN = "nothing was written, run it again"


class KitFile(NamedTuple):
    """A kit file as it was read: its bytes, its text, and the kit that it makes."""

    path: Path
    data: bytes
    text: str
    kit: Kit

    @property
    def own_readings(self) -> int:
        """How many readings stand in the file itself, before all that it includes."""
        return len(tomllib.loads(self.text).get("readings", []))


def opened(path: Path) -> KitFile:
    """Return a kit file; raises InputError and KitError."""
    data = read_bytes(path, limit_bytes=MAX_BYTES)
    text = as_text(path, data)
    return KitFile(path, data, text, _loaded(path, text))


def added(file: KitFile, readings: Sequence[Reading], *, anyway: bool) -> Path:
    """Write a kit file with readings added; return where it is kept as it was before.

    Unless `anyway`, figures that cannot be true are refused. Raises KitError, which names the
    options of `focuschart read`, InputError and OutputError, with nothing changed.
    """
    if not anyway:
        problems = [
            problem for reading in readings for problem in new_reading_problems(file.kit, reading)
        ]
        if problems:
            raise KitError(str(file.path), list(dict.fromkeys(problems)))
    after = _with_readings(file, readings, anyway=anyway)
    return _replaced(file.path, file.data, file.text, after)


def taken_back(path: Path) -> tuple[Reading, Path]:
    """Write a kit file without the last reading that `added` wrote; return it, and the copy.

    Such a reading is known by the copies: the file is one of them with readings added, to the
    byte. Raises InputError where it is not.
    """
    before = read_bytes(path, limit_bytes=MAX_BYTES)
    text = as_text(path, before)
    for copy in _copies(Path(os.path.realpath(path))):
        with suppress(FocusChartError):
            former = as_text(copy, read_bytes(copy, limit_bytes=MAX_BYTES))
            readings = readings_added(former, text)
            if readings:
                after = with_reading(former, *readings[:-1])
                break
    else:
        raise InputError(
            f"{path}: its last reading was not written by this command, or the file was changed "
            "since: take it out by hand"
        )
    return readings[-1], _replaced(path, before, text, after)


def _loaded(path: Path, text: str) -> Kit:
    return load_rigs(text, source=str(path), shelf=Disk())


def _with_readings(file: KitFile, readings: Sequence[Reading], *, anyway: bool) -> str:
    """Return the kit's new text, checked; problems of the new readings name their options.

    What was wrong in the kit before stays so and is no problem of theirs; `anyway`, nor is what a
    ring's readings then contradict as a whole.
    """
    try:
        after = with_reading(file.text, *readings)
        wrong, before = (unusable_rings(one) for one in (_loaded(file.path, after), file.kit))
        new = [problem for part, problem in wrong.items() if part not in before]
        new = [problem for problem in new if not anyway or problem.key.startswith("readings[")]
        if new:
            raise KitError(str(file.path), new)
    except InputError as error:
        raise InputError(f"{file.path}: {error}") from None
    except KitError as error:
        named = [_by_option(problem) for problem in error.problems]
        once = {(problem.key, problem.value or problem.rule): problem for problem in named}
        raise KitError(str(file.path), list(once.values())) from None
    return after


def _by_option(problem: Problem) -> Problem:
    """Return a problem of a reading with its option for a key; the old readings have none."""
    found = re.fullmatch(r"readings\[\d+\]\.(\w+)", problem.key)
    return problem._replace(key="--" + found[1].replace("_", "-")) if found else problem


def _replaced(kit: Path, before: bytes, text: str, after: str) -> Path:
    """Put the new text in the file's place in one step; return where the old one is kept.

    A link stays one, the file keeps its permissions. Raises OutputError, with nothing changed,
    if the file is write-protected or no longer what it was when it was read.
    """
    byte_order_mark = before.removesuffix(text.encode())
    target = Path(os.path.realpath(kit))
    with written_or_nothing(target.parent):
        copies = _copies(target)
        sweep(target.parent, [target.name, *(copy.name for copy in copies)])
        old = copies[0] if _stands_for(copies[0], target, before) else copies[-1]
        new = {target.name: byte_order_mark + after.encode()}
        files = new if old.exists() else {old.name: before, **new}
        _refuse_protected(kit)
        staged = stage(target.parent, files)
        try:
            for temporary in staged.values():
                shutil.copystat(target, temporary)
            os.utime(staged[target])
            with alone(target):
                if read_bytes(kit, limit_bytes=MAX_BYTES) != before:
                    raise OutputError(f"{kit}: was changed meanwhile: {_AGAIN}")
                publish(staged)
        finally:
            discard(staged)
    return old if kit.is_symlink() else kit.with_name(old.name)


def _refuse_protected(kit: Path) -> None:
    """The new file comes by its folder's leave alone: ask for the old one's, too."""
    if not os.access(kit, os.W_OK) or not kit.stat().st_mode & _WRITABLE:
        raise OutputError(f"{kit}: is write-protected: allow writing to it")


def _copies(target: Path) -> list[Path]:
    """Return the copies of a file, the newest first, and last the free name for the next."""
    pattern = re.compile(rf"{re.escape(target.name)}\.bak([0-9]{{0,6}})", re.IGNORECASE)
    found = filter(None, (pattern.fullmatch(path.name) for path in target.parent.iterdir()))
    numbers = sorted({int(name[1] or 1) for name in found}, reverse=True)
    return [
        target.with_name(f"{target.name}.bak{n if n > 1 else ''}")
        for n in (*numbers, max(numbers, default=0) + 1)
    ]


def _stands_for(copy: Path, target: Path, before: bytes) -> bool:
    """Return whether the file is its copy, with readings of this session added and no more."""
    with suppress(FocusChartError):
        kept = read_bytes(copy, limit_bytes=MAX_BYTES)
        recent = time.time() - target.stat().st_mtime < _SESSION_S
        return kept == before or (
            recent and readings_added(as_text(copy, kept), as_text(target, before)) is not None
        )
    return False
