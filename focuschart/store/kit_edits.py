"""Readings added to a kit file and taken back, with backup copies of the file beside it.

There is one copy per bench session, not one per reading: the file as it was before the session's
first reading. A new copy is made if the file is not the newest copy with readings added (someone
else has changed it: adding the readings to the copy again does not give the same bytes), or if it
was not written to for some hours. A copy is never overwritten: the next one has the next number.
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
from focuschart.kit.edit import Section, readings_added, with_entries, with_reading
from focuschart.kit.load import MAX_BYTES, load_rigs
from focuschart.kit.new_reading import new_reading_problems
from focuschart.kit.rules import unusable_rings
from focuschart.store.files import (
    as_text,
    discard,
    exclusive,
    publish,
    read_bytes,
    stage,
    sweep,
    written_or_nothing,
)
from focuschart.store.kits import Disk

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from focuschart.kit.reading import Reading as ReadingRow
    from focuschart.kit.schema import Kit
    from focuschart.kit.unmoved import Unmoved

    Reading = Mapping[str, Any]
    """The keys of a reading, as the kit file has them."""

_SESSION_S = 6 * 3600.0
"""After a longer pause a new session begins; judgement, no source."""
_WRITABLE = 0o222
_AGAIN = "nothing was written, run it again"


class KitFile(NamedTuple):
    """A kit file as it was read: its bytes, its text, and the kit loaded from it."""

    path: Path
    data: bytes
    text: str
    kit: Kit

    @property
    def own_readings(self) -> int:
        """The number of readings in the file itself, without those of files that it includes."""
        return len(tomllib.loads(self.text).get("readings", []))


def open_kit(path: Path) -> KitFile:
    """Return a kit file, read and checked; raises InputError and KitError."""
    data = read_bytes(path, limit_bytes=MAX_BYTES)
    text = as_text(path, data)
    return KitFile(path, data, text, _loaded(path, text))


def add_readings(file: KitFile, readings: Sequence[Reading], *, anyway: bool) -> Path:
    """Write a kit file with readings added; return the path of its backup copy.

    Unless `anyway`, figures that cannot be true are refused. Raises KitError, with the options of
    `focuschart read` as keys, InputError or OutputError; nothing is changed then.
    """
    if not anyway:
        problems = [
            problem for reading in readings for problem in new_reading_problems(file.kit, reading)
        ]
        if problems:
            raise KitError(str(file.path), list(dict.fromkeys(problems)))
    after = _with_readings(file, readings, anyway=anyway)
    return _replaced(file.path, file.data, file.text, after)


def add_entries(file: KitFile, section: Section, entries: Sequence[Reading]) -> Path:
    """Write a kit file with entries of a section added; return the path of its backup copy.

    Raises KitError, InputError or OutputError; nothing is changed then.
    """
    try:
        after = with_entries(file.text, section, *entries)
        wrong, before = (unusable_rings(kit) for kit in (_loaded(file.path, after), file.kit))
    except InputError as error:
        raise InputError(f"{file.path}: {error}") from None
    new = [problem for part, problem in wrong.items() if part not in before]
    if new:
        raise KitError(str(file.path), new)
    return _replaced(file.path, file.data, file.text, after)


def last_taping(kit: Kit, rig_id: str, *, strips: bool) -> int:
    """Return the last taping of a rig's readings, of its strips or of its rulers; 1 without any."""
    every: list[ReadingRow | Unmoved] = [*kit.readings, *kit.unmoved]
    own = (e.taping for e in every if e.rig == rig_id and (e.strips is not None) == strips)
    return max(own, default=1)


def take_back(path: Path) -> tuple[Reading, Path]:
    """Write a kit file without the last reading that `add_readings` wrote.

    Returns that reading and the path of the backup copy. Raises InputError unless the file is, to
    the byte, one of its copies with readings added.
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
    """Return the kit's text with readings added, after checking it.

    Raises KitError for problems that the new readings cause, with options as keys. Problems that
    the kit had before are ignored; so are, with `anyway`, those of a ring's readings together.
    """
    try:
        after = with_reading(file.text, *readings)
        wrong, before = (unusable_rings(kit) for kit in (_loaded(file.path, after), file.kit))
        new = [problem for part, problem in wrong.items() if part not in before]
        new = [problem for problem in new if not anyway or problem.key.startswith("readings[")]
        if new:
            raise KitError(str(file.path), new)
    except InputError as error:
        raise InputError(f"{file.path}: {error}") from None
    except KitError as error:
        renamed = [_by_option(problem) for problem in error.problems]
        distinct = {(problem.key, problem.value or problem.rule): problem for problem in renamed}
        raise KitError(str(file.path), list(distinct.values())) from None
    return after


def _by_option(problem: Problem) -> Problem:
    """Return a problem whose key, if it is a key of a reading, is the option that gives it."""
    match = re.fullmatch(r"readings\[\d+\]\.(\w+)", problem.key)
    return problem._replace(key="--" + match[1].replace("_", "-")) if match else problem


def _replaced(kit: Path, before: bytes, text: str, after: str) -> Path:
    """Replace a kit file's text in one step; return the path of its backup copy.

    A symbolic link stays a link, and the file keeps its permissions. Raises OutputError, with
    nothing changed, if the file is write-protected or was changed since it was read.
    """
    byte_order_mark = before.removesuffix(text.encode())
    target = Path(os.path.realpath(kit))
    with written_or_nothing(target.parent):
        copies = _copies(target)
        sweep(target.parent, [target.name, *(copy.name for copy in copies)])
        old = copies[0] if _is_current(copies[0], target, before) else copies[-1]
        new = {target.name: byte_order_mark + after.encode()}
        files = new if old.exists() else {old.name: before, **new}
        _refuse_protected(kit)
        staged = stage(target.parent, files)
        try:
            for temporary in staged.values():
                shutil.copystat(target, temporary)
            os.utime(staged[target])
            with exclusive(target):
                if read_bytes(kit, limit_bytes=MAX_BYTES) != before:
                    raise OutputError(f"{kit}: was changed meanwhile: {_AGAIN}")
                publish(staged)
        finally:
            discard(staged)
    return old if kit.is_symlink() else kit.with_name(old.name)


def _refuse_protected(kit: Path) -> None:
    """Raise OutputError for a write-protected kit, which renaming would replace all the same."""
    if not os.access(kit, os.W_OK) or not kit.stat().st_mode & _WRITABLE:
        raise OutputError(f"{kit}: is write-protected: allow writing to it")


def _copies(target: Path) -> list[Path]:
    """Return the paths of a file's copies, the newest first, then the free path for the next."""
    pattern = re.compile(rf"{re.escape(target.name)}\.bak([0-9]{{0,6}})", re.IGNORECASE)
    matches = filter(None, (pattern.fullmatch(path.name) for path in target.parent.iterdir()))
    numbers = sorted({int(match[1] or 1) for match in matches}, reverse=True)
    return [
        target.with_name(f"{target.name}.bak{n if n > 1 else ''}")
        for n in (*numbers, max(numbers, default=0) + 1)
    ]


def _is_current(copy: Path, target: Path, before: bytes) -> bool:
    """Return whether a copy is of this session: the file is it, with at most readings added."""
    with suppress(FocusChartError):
        kept = read_bytes(copy, limit_bytes=MAX_BYTES)
        recent = time.time() - target.stat().st_mtime < _SESSION_S
        return kept == before or (
            recent and readings_added(as_text(copy, kept), as_text(target, before)) is not None
        )
    return False
