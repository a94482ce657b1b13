"""The two array types of the optics."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
"""The type that functions return."""

Numbers = float | Floats
"""The type of arguments: a scalar or an array; arguments broadcast together."""
