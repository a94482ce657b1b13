"""The folder of a pack: which files are ours to replace, and replacing them safely."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterable, Mapping
from contextlib import suppress
from pathlib import Path

from focuschart.cli.files import (
    discard,
    publish,
    read_bytes,
    stage,
    sweep,
    written_or_nothing,
)
from focuschart.errors import InputError, OutputError

RECORD = "pack-record.json"
"""Left beside a pack: the digests by which a later build knows its own files again."""

_RECORD_BYTES = 1_000_000

Digests = dict[str, list[str]]


def write_pack(folder: Path, files: Mapping[str, bytes], *, kit: str, force: bool) -> None:
    """Write the files of a kit's pack into a folder; all are staged before the first appears.

    Files of a former build that nobody changed are replaced, or removed where the pack has none
    of that name any more; whatever else lies there is the user's and stays. Raises OutputError,
    with nothing changed, where a name is taken by such a file, unless `force`.
    """
    known = _read_record(folder, kit)
    if not force:
        _refuse_foreign(folder, files, known)
    fresh = {name: [_digest(data)] for name, data in files.items()}
    with written_or_nothing(folder):
        staged = stage(folder, files)
        try:
            # Old and new digests first: a build cut off half-way still knows its files.
            both = {name: [*(known or {}).get(name, []), *fresh[name]] for name in fresh}
            before = stage(folder, {RECORD: _record({**(known or {}), **both}, kit)})
            publish({**before, **staged})
            _remove_stale(folder, known or {}, fresh)
            sweep(folder, [*files, RECORD])
            publish(stage(folder, {RECORD: _record(fresh, kit)}))
        finally:
            discard(staged)


def _refuse_foreign(folder: Path, files: Mapping[str, bytes], known: Digests | None) -> None:
    if known is None:
        raise OutputError(
            f"{folder / RECORD}: is not the record of a pack of this kit, choose another --out "
            "or use --force"
        )
    for name, data in files.items():
        path = folder / name
        if os.path.lexists(path) and not _is_ours(path, {_digest(data), *known.get(name, [])}):
            raise OutputError(
                f"{path}: is there already and not as a build left it: move it, choose another "
                "folder with --out, or use --force"
            )


def _is_ours(path: Path, digests: Iterable[str]) -> bool:
    try:
        return path.is_file() and _digest(path.read_bytes()) in set(digests)
    except OSError:
        return False


def _remove_stale(folder: Path, known: Digests, fresh: Digests) -> None:
    for name in sorted(set(known) - set(fresh)):
        if _is_ours(folder / name, known[name]):
            with suppress(OSError):
                (folder / name).unlink()


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def _record(digests: Digests, kit: str) -> bytes:
    data = {"made_by": "focuschart", "kit": kit, "files": dict(sorted(digests.items()))}
    return (json.dumps(data, indent=1) + "\n").encode()


def _read_record(folder: Path, kit: str) -> Digests | None:
    """Return the digests of the last build, none without a record, None for another's."""
    path = folder / RECORD
    if not os.path.lexists(path):
        return {}
    try:
        data = json.loads(read_bytes(path, limit_bytes=_RECORD_BYTES))
        ours = (data["made_by"], data["kit"]) == ("focuschart", kit)
        files = data["files"] if ours else None
    except (InputError, ValueError, TypeError, KeyError, RecursionError):
        return None
    return _checked(files)


def _checked(files: object) -> Digests | None:
    """Return the digests if they are what we write: plain names, each with a list of texts."""
    if not isinstance(files, dict):
        return None
    plain = all(
        isinstance(name, str)
        and Path(name).name == name
        and isinstance(digests, list)
        and all(isinstance(digest, str) for digest in digests)
        for name, digests in files.items()
    )
    return files if plain else None
