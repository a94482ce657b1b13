"""The tests. Matrices here are small, so that threads to share them only wait for each other."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
