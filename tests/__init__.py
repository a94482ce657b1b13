"""The tests. Matrices here are small, so that threads to share them only wait for each other."""

import os

from hypothesis import settings

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# No test is a matter of time: a busy machine must not fail one.
settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
