"""Render a set of photographs, measure one, or record one for the tests.

    python -m tests.photographs render ordinary 100 /tmp/set 101
    python -m tests.photographs measure /tmp/set
    python -m tests.photographs record /tmp/set

`record` keeps a set in this folder, smaller. Kinds are ordinary, both, hostile,
small-print and marker; the last number starts the random numbers, of which 7 is in use for what is
recorded, and 11, 22 and 33 were looked at while this was made. POV-Ray 3.7 and poppler make the
pictures; five to ten seconds each.
"""

from __future__ import annotations

import sys
from pathlib import Path

from tests.photographs.sets import figures_of, read_set, record, rendered_set

if __name__ == "__main__":
    if sys.argv[1] == "render":
        rendered_set(sys.argv[2], int(sys.argv[3]), Path(sys.argv[4]), first=int(sys.argv[5]))
    elif sys.argv[1] == "record":
        record(Path(sys.argv[2]))
    else:
        sys.stdout.write(f"{figures_of(read_set(Path(sys.argv[2])))}\n")
