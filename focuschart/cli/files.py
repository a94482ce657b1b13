"""Files in and out: read whole or refused, written whole or not at all."""

from __future__ import annotations

import os
import shutil
import stat
import time
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path

from focuschart.errors import InputError, OutputError

_A_DAY_S = 86_400.0


def read_bytes(path: Path, *, limit_bytes: int) -> bytes:
    """Return a regular file's bytes; raises InputError, naming file and cure."""
    try:
        status = path.stat()
        if not stat.S_ISREG(status.st_mode):
            raise InputError(f"{path}: is not a file, give the path of one")
        if status.st_size > limit_bytes:
            raise _too_large(path, limit_bytes)
        with open(path, "rb", opener=_at_once) as stream:
            data = stream.read(limit_bytes + 1) or b""
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) else "it is no path"
        raise InputError(f"{path}: cannot be read, {reason}: check the path") from None
    if len(data) > limit_bytes:  # it grew, or its system tells no size
        raise _too_large(path, limit_bytes)
    return data


def _too_large(path: Path, limit_bytes: int) -> InputError:
    return InputError(f"{path}: is over {limit_bytes // 1_000_000} MB, too large")


def _at_once(path: str, flags: int) -> int:
    """Open a file without waiting: some a system makes up would not end, nor ever begin."""
    return os.open(path, flags | getattr(os, "O_NONBLOCK", 0))


def read_text(path: Path, *, limit_bytes: int) -> str:
    """Return a UTF-8 file's text, as `read_bytes` does."""
    return as_text(path, read_bytes(path, limit_bytes=limit_bytes))


def as_text(path: Path, data: bytes) -> str:
    """Return a file's bytes as text, without a byte order mark; raises InputError."""
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(
            f"{path}: byte {error.start} is not UTF-8, save the file as UTF-8 text"
        ) from None


def write_new(path: Path, text: str, *, force: bool = False) -> None:
    """Write one file whole; raises OutputError for one that is there, unless `force`."""
    if not force and os.path.lexists(path):
        raise OutputError(f"{path}: is there already, choose another name or --force")
    with written_or_nothing(path.parent):
        publish(stage(path.parent, {path.name: text.encode()}))


@contextmanager
def written_or_nothing(folder: Path) -> Iterator[None]:
    """Make the folder for what is written in the block; take it away again if that fails.

    Raises OutputError, in one sentence, for any failure of the file system.
    """
    made: list[Path] = []
    try:
        made = [parent for parent in (folder, *folder.parents) if not parent.exists()]
        folder.mkdir(parents=True, exist_ok=True)
        yield
    except BaseException as error:
        for parent in made:
            with suppress(OSError):
                parent.rmdir()
        if isinstance(error, OSError | ValueError):
            reason = getattr(error, "strerror", None) or str(error)
            raise OutputError(
                f"{folder}: cannot be written, {reason}: nothing was changed, make room or "
                "choose another folder"
            ) from None
        raise


def stage(folder: Path, files: Mapping[str, bytes]) -> dict[Path, Path]:
    """Write files under temporary names in their folder; return target → temporary.

    On any failure all temporaries are taken away before the error goes on.
    """
    staged: dict[Path, Path] = {}
    try:
        for name, data in files.items():
            temporary = folder / f".{name}.{os.urandom(6).hex()}.tmp"
            staged[folder / name] = temporary
            with temporary.open("xb") as stream:
                stream.write(data)
                stream.flush()
                os.fsync(stream.fileno())
    except BaseException:
        discard(staged)
        raise
    return staged


def publish(staged: Mapping[Path, Path]) -> None:
    """Give staged files their names, each in one step; on failure put all former files back."""
    former: dict[Path, Path] = {}
    done: list[Path] = []
    try:
        for target in staged:
            if os.path.lexists(target):
                former[target] = _second_name(target)
        for target, temporary in staged.items():
            temporary.replace(target)
            done.append(target)
    except BaseException:
        for target in done:
            with suppress(OSError):
                former[target].replace(target) if target in former else target.unlink()
        discard(staged)
        raise
    finally:
        discard(former)


def _second_name(target: Path) -> Path:
    """Return a hidden second name of a file, by a link, or a copy where there are none."""
    second = target.with_name(f".{target.name}.{os.urandom(6).hex()}.tmp")
    try:
        os.link(target, second, follow_symlinks=False)
    except OSError:
        if target.is_dir():
            raise IsADirectoryError(21, f"{target.name} is a folder") from None
        shutil.copy2(target, second, follow_symlinks=False)
    return second


def discard(staged: Mapping[Path, Path]) -> None:
    """Take staged files away."""
    for temporary in staged.values():
        with suppress(OSError):
            temporary.unlink()


def sweep(folder: Path, names: Iterable[str]) -> None:
    """Take away temporaries of these names that a killed run left more than a day ago."""
    for name in names:
        for path in folder.glob(f".{name}.{'[0-9a-f]' * 12}.tmp"):
            with suppress(OSError):
                if time.time() - path.lstat().st_mtime > _A_DAY_S:
                    path.unlink()
