"""Draw a set of frames of the squeeze card, or measure one.

    python -m tests.stills draw 100 /tmp/set 2026
    python -m tests.stills measure /tmp/set

The last number starts the randomness, of which 1 was looked at while this was made, and 7 is what
is recorded here: its small frames, and two of a curled card. Poppler draws the card; ffmpeg with
x264, where there is one, compresses frames as H.264. Five seconds each.
"""

from __future__ import annotations

import sys
from pathlib import Path

from tests.stills.sets import drawn_set, figures, kept, measured

if __name__ == "__main__":
    if sys.argv[1] == "draw":
        drawn_set(Path(sys.argv[3]), count=int(sys.argv[2]), first=int(sys.argv[4]))
    else:
        trials = [measured(frame) for _, frame in kept(Path(sys.argv[2]))]
        sys.stdout.write(f"{figures(trials)}\n")
