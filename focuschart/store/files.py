"""Reading and writing files: a file is read completely or refused, written completely or not.

Writing has two steps: `stage` writes files under temporary names, `publish` renames them.
`exclusive` locks a path against other runs.
"""

from __future__ import annotations

import glob
import os
import shutil
import stat
import sys
import time
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path

from focuschart.errors import InputError, OutputError

_A_DAY_S = 86_400.0
_A_MOMENT_S = 0.02


def read_bytes(path: Path, *, limit_bytes: int) -> bytes:
    """Return a file's bytes.

    Raises InputError for a path that is not a regular file, cannot be read or is too large.
    """
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
    if len(data) > limit_bytes:  # it has grown, or the system states no size
        raise _too_large(path, limit_bytes)
    return data


def _too_large(path: Path, limit_bytes: int) -> InputError:
    return InputError(f"{path}: is over {limit_bytes // 1_000_000} MB, too large")


def _at_once(path: str, flags: int) -> int:
    """Open a file without blocking: reading a pipe or a device could otherwise wait for ever."""
    return os.open(path, flags | getattr(os, "O_NONBLOCK", 0))


def read_text(path: Path, *, limit_bytes: int) -> str:
    """Return a UTF-8 file's text; raises InputError as `read_bytes` and `as_text` do."""
    return as_text(path, read_bytes(path, limit_bytes=limit_bytes))


def as_text(path: Path, data: bytes) -> str:
    """Return UTF-8 bytes as text, without a byte order mark; raises InputError for others."""
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(
            f"{path}: byte {error.start} is not UTF-8, save the file as UTF-8 text"
        ) from None


def write_new(path: Path, text: str, *, force: bool = False) -> None:
    """Write a new file; raises OutputError if it exists, unless `force`, or cannot be written."""
    if not force and os.path.lexists(path):
        raise OutputError(f"{path}: is there already, choose another name or --force")
    with written_or_nothing(path.parent):
        sweep(path.parent, [path.name])
        publish(stage(path.parent, {path.name: text.encode()}))


@contextmanager
def written_or_nothing(folder: Path) -> Iterator[None]:
    """Make a folder for the files that the block writes; remove it if the block fails.

    Any failure of the file system is raised as an OutputError.
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
                f"{folder}: cannot be written, {reason}: nothing in it was changed, make room or "
                "choose another folder"
            ) from None
        raise


def stage(folder: Path, files: Mapping[str, bytes]) -> dict[Path, Path]:
    """Write files under temporary names in their folder; return temporary paths by final path.

    On any failure all temporary files are removed before the error is raised.
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
    """Rename staged files to their final names, one by one; on failure restore all old files."""
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
    """Give a file a hidden second name and return it: a hard link, else a copy."""
    second = target.with_name(f".{target.name}.{os.urandom(6).hex()}.tmp")
    try:
        os.link(target, second, follow_symlinks=False)
    except (AttributeError, NotImplementedError, OSError):  # some systems have no hard links
        if target.is_dir():
            raise IsADirectoryError(21, f"{target.name} is a folder") from None
        shutil.copy2(target, second, follow_symlinks=False)
    return second


def discard(staged: Mapping[Path, Path]) -> None:
    """Remove staged files that are still there."""
    for temporary in staged.values():
        with suppress(OSError):
            temporary.unlink()


def sweep(folder: Path, names: Iterable[str]) -> None:
    """Remove temporary files of these names that a killed run left more than a day ago."""
    for name in names:
        for path in folder.glob(f".{glob.escape(name)}.{'[0-9a-f]' * 12}.tmp"):
            with suppress(OSError):
                if time.time() - path.lstat().st_mtime > _A_DAY_S:
                    path.unlink()


# --- one run at a time ----------------------------------------------------------------------------

_locked: set[Path] = set()


@contextmanager
def exclusive(path: Path, *, wait_s: float = 0.0) -> Iterator[None]:
    """Lock a file or folder of ours against other runs while the block lasts.

    The lock is on a hidden file beside it. The system releases a lock when its process ends, so
    the lock file of a killed run blocks nobody. Where no lock is possible, as in a folder that is
    write-protected or on some network drives, the block runs without one. A path that this process
    has locked already stays locked. Raises OutputError where another run still holds the lock
    after `wait_s` seconds.
    """
    lock = path.with_name(f".{path.name}.lock")
    if lock in _locked:
        yield
        return
    made = [parent for parent in lock.parents if not parent.exists()]
    try:
        descriptor = _lock(lock, time.monotonic() + wait_s)
    except BlockingIOError:
        raise OutputError(
            f"{path}: another run is writing there: wait until it is done, then run this again"
        ) from None
    except (OSError, ValueError):
        descriptor = None
    _locked.add(lock)
    try:
        yield
    finally:
        _locked.discard(lock)
        if descriptor is not None:
            _unlock(lock, descriptor)
            for parent in made:
                with suppress(OSError):
                    parent.rmdir()


def _lock(lock: Path, until_s: float) -> int:
    """Lock a file, created if necessary, and return its descriptor.

    Raises BlockingIOError if another run holds it after `until_s` (monotonic clock), OSError if it
    cannot be locked.
    """
    lock.parent.mkdir(parents=True, exist_ok=True)
    while True:
        descriptor = os.open(lock, os.O_RDWR | os.O_CREAT, 0o666)
        try:
            _lock_open(descriptor)
            if _is_at(lock, descriptor):
                return descriptor
        except BlockingIOError:
            if time.monotonic() >= until_s:
                os.close(descriptor)
                raise
            time.sleep(_A_MOMENT_S)
        except OSError:
            _unlock(lock, descriptor)
            raise
        # Another run held the lock: it still does, or has removed this file, so open it anew.
        os.close(descriptor)


def _lock_open(descriptor: int) -> None:
    """Lock an open file; raises BlockingIOError if another run has it."""
    if sys.platform == "win32":
        import msvcrt

        try:
            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        except PermissionError as error:
            raise BlockingIOError(*error.args) from None
    else:
        try:
            import fcntl
        except ImportError:  # a system without locks
            raise OSError("no lock is possible") from None
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)


def _is_at(lock: Path, descriptor: int) -> bool:
    """Return whether an open file is still the one at its path."""
    try:
        return os.path.samestat(os.fstat(descriptor), lock.stat())
    except FileNotFoundError:
        return False


def _unlock(lock: Path, descriptor: int) -> None:
    """Remove the lock file, then release it: nobody can then lock a file about to be removed."""
    with suppress(OSError):  # some systems cannot remove an open file: it stays, unlocked
        lock.unlink()
    os.close(descriptor)
