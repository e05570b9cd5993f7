"""Settings every test shares."""

import os

# Before numpy is loaded: several workers with several threads each are slower than one thread each.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from hypothesis import settings

# Derandomised, so that a red run stays red until it is mended; no deadline, because the first
# example of a worker pays for the imports.
settings.register_profile("quick", max_examples=40, deadline=None, derandomize=True)
settings.load_profile("quick")
