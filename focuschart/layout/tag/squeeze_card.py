"""The squeeze card: tags in rows on a flat card, whose places a frame of it is compared with."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

COLUMNS, ROWS = 6, 4
SIDE_MM, PITCH_MM = 24.0, 36.0
BAR_MM = 100.0
"""Each of the two bars that tell how true the printer is; a person measures them."""
IDS = tuple(range(COLUMNS * ROWS))
"""Row by row from the upper left. The card is alone in its frame: they may be those of strips."""


def tag_middles() -> NDArray[np.float64]:
    """Return the centres of the tags (n × 2), mm from the card's middle, y upward."""
    across = (np.arange(COLUMNS) - (COLUMNS - 1) / 2.0) * PITCH_MM
    up = ((ROWS - 1) / 2.0 - np.arange(ROWS)) * PITCH_MM
    return np.stack(np.meshgrid(across, up), axis=-1).reshape(-1, 2)
