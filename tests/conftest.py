"""Settings every test shares."""

import os

# Before numpy is loaded: several workers with several threads each are slower than one thread each.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# Programs that tests start keep what Python compiled of the package: else each compiles all of it anew.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

from hypothesis import settings

# Where several workers share the tests each keeps to one processor: what presses many bowls then presses
# them here, one after another, and does not start processes that would stand in one another's way. What
# several processes do has tests that ask for them; a run without workers has them everywhere.
_WORKER = os.environ.get("PYTEST_XDIST_WORKER", "")
if _WORKER.startswith("gw") and hasattr(os, "sched_setaffinity"):
    _PROCESSORS = sorted(os.sched_getaffinity(0))
    os.sched_setaffinity(0, {_PROCESSORS[int(_WORKER[2:]) % len(_PROCESSORS)]})

# Derandomised, so that a red run stays red until it is mended; no deadline, because the first
# example of a worker pays for the imports.
settings.register_profile("quick", max_examples=40, deadline=None, derandomize=True)
settings.load_profile("quick")
