"""Where the program starts: the command `focuschart`, and `python -m focuschart`."""

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
"""What the libraries under numpy read, once, when it is loaded; worker processes inherit them."""

_LITTLE = 100_000
"""Objects made before the first search for cycles: a run makes few, and ends soon."""


def main() -> None:
    """Run the command line; Ctrl-C is answered in one sentence while it is being imported too."""
    if not any(name in os.environ for name in _THREADS):
        # Matrices here are small: threads that share one only wait for each other.
        os.environ.update(dict.fromkeys(_THREADS, "1"))
    gc.set_threshold(_LITTLE)
    try:
        from focuschart.cli import main as command_line

        command_line()
    except KeyboardInterrupt:
        if sys.stderr is not None:
            print("\nStopped, nothing was written.", file=sys.stderr)
        sys.exit(INTERRUPTED)


if __name__ == "__main__":
    main()
