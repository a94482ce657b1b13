"""Where the program starts: the command `focuschart`, and `python -m focuschart`."""

from __future__ import annotations

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
"""What the libraries under numpy read, once, when it is loaded; worker processes inherit them."""


def main() -> None:
    """Run the command line; Ctrl-C is answered in one sentence while it is being imported too."""
    if not any(name in os.environ for name in _THREADS):
        # Matrices here are small: threads that share one only wait for each other.
        os.environ.update(dict.fromkeys(_THREADS, "1"))
    try:
        from focuschart.cli import main as command_line

        command_line()
    except KeyboardInterrupt:
        if sys.stderr is not None:
            print("\nStopped, nothing was written.", file=sys.stderr)
        sys.exit(INTERRUPTED)


if __name__ == "__main__":
    main()
