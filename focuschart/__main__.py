"""Where the program starts: the command `focuschart`, and `python -m focuschart`."""

from __future__ import annotations

import sys

from focuschart.errors import INTERRUPTED


def main() -> None:
    """Run the command line; Ctrl-C is answered in one sentence while it is being imported too."""
    try:
        from focuschart.cli import main as command_line

        command_line()
    except KeyboardInterrupt:
        if sys.stderr is not None:
            print("\nStopped, nothing was written.", file=sys.stderr)
        sys.exit(INTERRUPTED)


if __name__ == "__main__":
    main()
