"""A lock of ours in the hands of another process."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

_HOLD = """
import sys
from pathlib import Path
from focuschart.store.files import exclusive
with exclusive(Path(sys.argv[1])):
    print("held", flush=True)
    sys.stdin.read()
"""


@contextmanager
def held_elsewhere(path: Path) -> Iterator[subprocess.Popen[str]]:
    """Hold the lock of a path in a process of its own, which is killed at the end."""
    process = subprocess.Popen(
        [sys.executable, "-c", _HOLD, str(path)],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=Path(__file__).parent.parent,
    )  # fmt: skip
    assert process.stdout is not None
    assert process.stdin is not None
    assert process.stdout.readline() == "held\n"
    try:
        yield process
    finally:
        process.kill()
        process.wait()
        process.stdout.close()
        process.stdin.close()
