"""The folder of a pack: which files are ours to replace, and replacing them safely."""

from __future__ import annotations

import hashlib
import json
import os
import stat
from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from focuschart.errors import InputError, OutputError
from focuschart.store.files import (
    alone,
    discard,
    publish,
    read_bytes,
    stage,
    sweep,
    written_or_nothing,
)

RECORD = "pack-record.json"
"""Left beside a pack: the digests by which a later build knows its own files, and what it shows."""

_RECORD_BYTES = 4_000_000

Digests = Mapping[str, list[str]]


@dataclass(frozen=True, slots=True)
class Record:
    """What is kept beside a pack: its kit, its files' digests, and what else its maker notes.

    While a build is under way, or where it was cut off, it is not `finished`: the files are those
    of this build or of the one before, the notes still those of the one before.
    """

    kit: str
    files: Digests = field(default_factory=dict)
    notes: Mapping[str, Any] = field(default_factory=dict)
    finished: bool = True


def digest(data: bytes) -> str:
    """Return the digest by which a set of facts is known again."""
    return hashlib.sha256(data).hexdigest()


def tables(record: Record, key: str) -> list[dict[str, Any]]:
    """Return the tables of a list in a record's notes, which may be damaged."""
    found = record.notes.get(key)
    return [one for one in found if isinstance(one, dict)] if isinstance(found, list) else []


def read_record(folder: Path) -> Record | None:
    """Return the record in a folder, None where there is none; raises InputError for a foreign one.

    Raises InputError too for one that is damaged or cannot be read.
    """
    path = folder / RECORD
    if not os.path.lexists(path):
        return None
    try:
        data = json.loads(read_bytes(path, limit_bytes=_RECORD_BYTES))
        files = _checked(data["files"]) if data["made_by"] == "focuschart" else None
        kit, notes, finished = data["kit"], data.get("notes", {}), data.get("finished", True)
        if files is not None and isinstance(kit, str) and isinstance(notes, dict):
            return Record(kit, files, notes, finished is True)
    except (ValueError, TypeError, KeyError, RecursionError):
        pass
    raise InputError(f"{path}: is not the record of a pack, it was changed: put it back or away")


def _checked(files: object) -> Digests | None:
    """Return the digests if they are what we write: plain names, each with a list of texts."""
    if not isinstance(files, dict):
        return None
    plain = all(
        isinstance(name, str)
        and Path(name).name == name
        and isinstance(digests, list)
        and all(isinstance(one, str) for one in digests)
        for name, digests in files.items()
    )
    return files if plain else None


def whole(folder: Path, record: Record) -> bool:
    """Return whether every file of a pack is there, as long as it was written.

    That is enough to leave a pack alone: nothing is replaced before its bytes are looked at.
    """
    return all(_as_long(folder / name, signs) for name, signs in record.files.items())


def _as_long(path: Path, signs: Iterable[str]) -> bool:
    try:
        status = path.stat()
    except OSError:
        return False
    return stat.S_ISREG(status.st_mode) and any(s.startswith(f"{status.st_size}:") for s in signs)


def _sign(data: bytes) -> str:
    """Return length and digest, by which a file of ours is known again."""
    return f"{len(data)}:{digest(data)}"


def write_pack(
    folder: Path, files: Mapping[str, bytes], *, kit: str, force: bool,
    notes: Mapping[str, Any] | None = None, kept: Iterable[str] = (),
) -> bool:  # fmt: skip
    """Write the files of a pack into a folder; all are staged before the first appears.

    Files of a former build that nobody changed are replaced, or removed where the pack has none
    of that name any more and it is not among the `kept`; those with the same bytes are not
    touched, and whatever else lies there is the user's and stays. Returns whether anything was
    written. Raises OutputError, with nothing changed, where a name is taken by a file that is not
    ours, unless `force`, and where another run writes there.
    """
    with alone(folder):
        known = known_record(folder, kit, force=force)
        if not force:
            refuse_foreign(folder, files, known)
        fresh = {name: [_sign(data)] for name, data in files.items()}
        fresh |= {name: list(known.files[name]) for name in kept}
        after = Record(kit, fresh, notes or {})
        changed = {n: data for n, data in files.items() if not _is_ours(folder / n, fresh[n])}
        if not changed and after == known and os.path.lexists(folder / RECORD):
            return False
        _write(folder, changed, known, after)
        return True


def known_record(folder: Path, kit: str, *, force: bool) -> Record:
    """Return the record of the last build of this kit, an empty one without.

    Raises OutputError for another's, unless `force`.
    """
    try:
        record = read_record(folder) or Record(kit)
    except InputError:
        record = Record("")
    if record.kit == kit:
        return record
    if force:
        return Record(kit)
    raise OutputError(
        f"{folder / RECORD}: is not the record of a pack of this kit, choose another --out "
        "or use --force"
    )


def refuse_foreign(folder: Path, files: Mapping[str, bytes], known: Record) -> None:
    """Raise OutputError where a name is taken by a file that no build of ours left so."""
    for name, data in files.items():
        path = folder / name
        ours = {_sign(data), *known.files.get(name, [])}
        if os.path.lexists(path) and not _is_ours(path, ours):
            raise OutputError(
                f"{path}: is there already and not as a build left it: move it, choose another "
                "folder with --out, or use --force"
            )


def _write(folder: Path, files: Mapping[str, bytes], known: Record, after: Record) -> None:
    """Replace the files between two records."""
    with written_or_nothing(folder):
        staged = stage(folder, files)
        last: dict[Path, Path] = {}
        try:
            # Old and new digests first, with the notes of before: a build cut off half-way still
            # knows its files, the next one knows that it was cut off, and no code is forgotten.
            both = {n: [*known.files.get(n, []), *new] for n, new in after.files.items()}
            before = Record(after.kit, {**known.files, **both}, known.notes, finished=False)
            # The last record has its room on the disk before anything is replaced.
            last = stage(folder, {RECORD: _bytes(after)})
            publish({**stage(folder, {RECORD: _bytes(before)}), **staged})
            _remove_stale(folder, known.files, after.files)
            clear(folder, before)
            with _said_if_cut_off(folder, files):
                publish(last)
        finally:
            discard(staged)
            discard(last)


@contextmanager
def _said_if_cut_off(folder: Path, files: Iterable[str]) -> Iterator[None]:
    """Raise OutputError that says what was replaced, if the last record cannot be written."""
    try:
        yield
    except OSError as error:
        names = ", ".join(sorted(files)) or "no file"
        raise OutputError(
            f"{folder}: {RECORD} cannot be written, {error.strerror}: {names} replaced, and whole; "
            "make room and build again, which finishes it"
        ) from None


def _is_ours(path: Path, signs: Collection[str]) -> bool:
    try:
        return _as_long(path, signs) and _sign(path.read_bytes()) in signs
    except OSError:
        return False


def _remove_stale(folder: Path, known: Digests, fresh: Digests) -> None:
    for name in sorted(set(known) - set(fresh)):
        if _is_ours(folder / name, known[name]):
            with suppress(OSError):
                (folder / name).unlink()


def remove_pack(folder: Path, record: Record) -> None:
    """Take a pack away: its files that nobody changed, its record, and the folder if then empty."""
    _remove_stale(folder, record.files, {})
    with suppress(OSError):
        (folder / RECORD).unlink()
        folder.rmdir()


def clear(folder: Path, record: Record) -> None:
    """Take away what killed builds left more than a day ago of the files of a pack."""
    if any(name.endswith(".tmp") for name in os.listdir(folder)):
        sweep(folder, [*record.files, RECORD])


def _bytes(record: Record) -> bytes:
    data = {
        "made_by": "focuschart",
        "kit": record.kit,
        "finished": record.finished,
        "files": dict(sorted(record.files.items())),
        "notes": dict(record.notes),
    }
    return (json.dumps(data, indent=1) + "\n").encode()
