"""The record in a pack's folder, and the safe replacement of the pack's own files.

The record has a signature (length and digest) of each file that a build wrote. A file with another
signature was changed by the user, and is neither replaced nor removed.
"""

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
    discard,
    exclusive,
    publish,
    read_bytes,
    stage,
    sweep,
    written_or_nothing,
)

RECORD = "pack-record.json"
"""The file in a pack's folder with the signatures of its files, and notes on what they show."""

_RECORD_BYTES = 4_000_000

Digests = Mapping[str, list[str]]
"""The signatures that each file of a pack may have, by its name."""


@dataclass(frozen=True, slots=True)
class Record:
    """The record of a pack: its kit's file name, its files' signatures, and notes by its maker.

    During a build, or after one was killed, it is not `finished`: each file is from this build or
    from the one before, and the notes are from the one before.
    """

    kit: str
    files: Digests = field(default_factory=dict)
    notes: Mapping[str, Any] = field(default_factory=dict)
    finished: bool = True


def digest(data: bytes) -> str:
    """Return the SHA-256 of data, in hexadecimal."""
    return hashlib.sha256(data).hexdigest()


def tables(record: Record, key: str) -> list[dict[str, Any]]:
    """Return the tables of a list in a record's notes, without any damaged entries."""
    noted = record.notes.get(key)
    return [each for each in noted if isinstance(each, dict)] if isinstance(noted, list) else []


def read_record(folder: Path) -> Record | None:
    """Return the record in a folder, None where there is none.

    Raises InputError for one that is damaged, cannot be read or is not from this program.
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
    """Return the signatures if they are valid: plain file names, each with a list of texts."""
    if not isinstance(files, dict):
        return None
    plain = all(
        isinstance(name, str)
        and Path(name).name == name
        and isinstance(digests, list)
        and all(isinstance(each, str) for each in digests)
        for name, digests in files.items()
    )
    return files if plain else None


def is_complete(folder: Path, record: Record) -> bool:
    """Return whether every file of a pack is there with the length that it was written with.

    This quick test is enough to leave a pack as it is; before a file is replaced, its bytes are
    compared.
    """
    return all(_has_length(folder / name, signs) for name, signs in record.files.items())


def _has_length(path: Path, signs: Iterable[str]) -> bool:
    """Return whether a file is there and has the length in one of the signatures."""
    try:
        status = path.stat()
    except OSError:
        return False
    return stat.S_ISREG(status.st_mode) and any(s.startswith(f"{status.st_size}:") for s in signs)


def _sign(data: bytes) -> str:
    """Return the signature of a file's bytes: length and digest."""
    return f"{len(data)}:{digest(data)}"


def write_pack(
    folder: Path, files: Mapping[str, bytes], *, kit: str, force: bool,
    notes: Mapping[str, Any] | None = None, kept: Iterable[str] = (),
) -> bool:  # fmt: skip
    """Write the files of a pack into a folder, and return whether anything was written.

    All files are staged before the first is replaced. Unchanged files of a former build are
    replaced, or removed if they are neither in `files` nor among the `kept` names; files with the
    same bytes are not touched. All other files in the folder are the user's and stay. Raises
    OutputError, with nothing changed, where a name is taken by a file that is not ours, unless
    `force`, and where another run is writing there.
    """
    with exclusive(folder):
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
    """Return the record of the last build of this kit, or an empty record.

    Raises OutputError, unless `force`, if the folder has a damaged record or one of another kit.
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
    """Raise OutputError where a name is taken by a file that no build of ours wrote."""
    for name, data in files.items():
        path = folder / name
        ours = {_sign(data), *known.files.get(name, [])}
        if os.path.lexists(path) and not _is_ours(path, ours):
            raise OutputError(
                f"{path}: is there already and not as a build left it: move it, choose another "
                "folder with --out, or use --force"
            )


def _write(folder: Path, files: Mapping[str, bytes], known: Record, after: Record) -> None:
    """Replace the files of a pack, and its record `known` by the record `after`."""
    with written_or_nothing(folder):
        staged = stage(folder, files)
        last: dict[Path, Path] = {}
        try:
            # First a record with old and new signatures and the old notes: if this build is killed
            # half-way, the next one knows that, still knows its files, and no code is forgotten.
            both = {n: [*known.files.get(n, []), *new] for n, new in after.files.items()}
            before = Record(after.kit, {**known.files, **both}, known.notes, finished=False)
            # The final record takes its space on the disk before anything is replaced.
            last = stage(folder, {RECORD: _bytes(after)})
            publish({**stage(folder, {RECORD: _bytes(before)}), **staged})
            _remove_stale(folder, known.files, after.files)
            clear(folder, before)
            with _reported_if_unfinished(folder, files):
                publish(last)
        finally:
            discard(staged)
            discard(last)


@contextmanager
def _reported_if_unfinished(folder: Path, files: Iterable[str]) -> Iterator[None]:
    """Raise OutputError that lists the replaced files, if the final record cannot be written."""
    try:
        yield
    except OSError as error:
        names = ", ".join(sorted(files)) or "no file"
        raise OutputError(
            f"{folder}: {RECORD} cannot be written, {error.strerror}: {names} replaced, and whole; "
            "make room and build again, which finishes it"
        ) from None


def _is_ours(path: Path, signs: Collection[str]) -> bool:
    """Return whether a file is there and has one of the signatures."""
    try:
        return _has_length(path, signs) and _sign(path.read_bytes()) in signs
    except OSError:
        return False


def _remove_stale(folder: Path, known: Digests, fresh: Digests) -> None:
    """Remove files of a former build that the new one no longer has, unless they were changed."""
    for name in sorted(set(known) - set(fresh)):
        if _is_ours(folder / name, known[name]):
            with suppress(OSError):
                (folder / name).unlink()


def remove_pack(folder: Path, record: Record) -> None:
    """Remove a pack: its unchanged files, its record, and the folder if that is then empty."""
    _remove_stale(folder, record.files, {})
    with suppress(OSError):
        (folder / RECORD).unlink()
        folder.rmdir()


def clear(folder: Path, record: Record) -> None:
    """Remove temporary files of a pack that killed builds left more than a day ago."""
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
