"""The real command on a terminal of its own."""

from __future__ import annotations

import codecs
import os
import select
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import ClassVar, Self

import pytest

_STOP = "\x03"
_SETTLED_S = 0.5


HEARING_CTRL_C = "import signal; signal.signal(signal.SIGINT, signal.default_int_handler);"
"""A child's first line: what ignores the signal hands that down, as a shell does that runs tests in
the background."""


class Terminal:
    """The command, with arguments, in a folder."""

    # A wide screen, so that no prompt is wrapped.
    COMMAND = (
        HEARING_CTRL_C + "import fcntl, struct, termios; fcntl.ioctl(0, termios.TIOCSCTTY, 0);"
        "fcntl.ioctl(0, termios.TIOCSWINSZ, struct.pack('HHHH', 50, 500, 0, 0));"
        "from focuschart.cli import main; main()"
    )

    ENVIRONMENT: ClassVar = {
        "LC_ALL": "C.UTF-8",
        "TERM": "dumb",
        "PYTHONPATH": str(Path(__file__).parent.parent),
    }

    def __init__(self, *arguments: str, folder: Path) -> None:
        pty = pytest.importorskip("pty")
        self._screen, slave = pty.openpty()
        self._process = subprocess.Popen(
            [sys.executable, "-c", self.COMMAND, *arguments],
            stdin=slave, stdout=slave, stderr=slave, cwd=folder, start_new_session=True,
            env={**os.environ, **self.ENVIRONMENT},
        )  # fmt: skip
        os.close(slave)
        self.shown = ""
        self._answered = 0
        self._decoder = codecs.getincrementaldecoder("utf-8")()

    def type(self, lines: Sequence[tuple[str, str]]) -> None:
        """Type each line once the program shows what goes before it."""
        for prompt, keys in lines:
            while (start := self.shown.find(prompt, self._answered)) < 0:
                assert self._read(), f"{prompt} never came after: {self.shown}"
            self._answered = start + len(prompt)
            if keys == _STOP:
                # A signal between the prompt and the wait for keys is only seen at the next key.
                time.sleep(_SETTLED_S)
            os.write(self._screen, keys.encode())

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *error: object) -> None:
        self._process.kill()
        self._process.wait()
        os.close(self._screen)

    def status(self) -> int:
        """Return the exit status, when the program has ended."""
        while self._read():
            pass
        return self._process.wait(timeout=20)

    def _read(self) -> bool:
        """Take in what the program shows next; return whether it goes on."""
        ready, _, _ = select.select([self._screen], [], [], 20)
        assert ready, f"nothing more came after: {self.shown}"
        try:
            self.shown += self._decoder.decode(os.read(self._screen, 4096))
        except OSError:  # how Linux reports the end of a terminal's program
            return False
        return True
