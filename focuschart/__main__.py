"""The entry point of the command `focuschart` and of `python -m focuschart`."""

from __future__ import annotations

import gc
import os
import sys

from focuschart.errors import INTERRUPTED

_THREADS = (
    "OPENBLAS_NUM_THREADS",
    "MKL_NUM_THREADS",
    "VECLIB_MAXIMUM_THREADS",
    "GOTO_NUM_THREADS",
    "OMP_NUM_THREADS",
)
"""Number of threads for numpy's libraries, read when they are loaded; workers inherit it."""

OBJECTS_BEFORE_COLLECTION = 100_000
"""So that a short run, which makes few objects, saves the garbage collector's searches."""


def main() -> None:
    """Run the command line; Ctrl-C is reported in one sentence, even during imports."""
    if not any(name in os.environ for name in _THREADS):
        # Matrices here are small: several threads would only wait for each other.
        os.environ.update(dict.fromkeys(_THREADS, "1"))
    gc.set_threshold(OBJECTS_BEFORE_COLLECTION)
    try:
        from focuschart.cli import main as command_line

        command_line()
    except KeyboardInterrupt:
        if sys.stderr is not None:
            print("\nStopped, nothing was written.", file=sys.stderr)
        sys.exit(INTERRUPTED)


if __name__ == "__main__":
    main()
