"""Settings every test shares."""

import os

# Before numpy is loaded: several workers with several threads each are slower than one thread each.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# Programs that tests start keep what Python compiled of the package: else each compiles all of it anew.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

import signal
from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import settings

# A shell that starts the suite beside other work has it ignore Ctrl+C, and so would the programs that tests
# start and stop by it.
if signal.getsignal(signal.SIGINT) == signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)

# Where several workers share the tests each keeps to one processor: what presses many bowls then presses
# them here, one after another, and does not start processes that would stand in one another's way. What
# several processes do has tests that ask for them; a run without workers has them everywhere.
_WORKER = os.environ.get("PYTEST_XDIST_WORKER", "")
if _WORKER.startswith("gw") and hasattr(os, "sched_setaffinity"):
    _PROCESSORS = sorted(os.sched_getaffinity(0))
    os.sched_setaffinity(0, {_PROCESSORS[int(_WORKER[2:]) % len(_PROCESSORS)]})


def pytest_sessionstart(session: pytest.Session) -> None:
    """In a fresh folder one worker compiles the loops of the press, and the others wait for it.

    Without this each would compile all of them, half a minute of the same beside one another.
    """
    if not _WORKER:
        return
    try:
        import fcntl
    except ImportError:  # elsewhere each compiles what it needs
        return
    from fitsim import fit
    from fitsim.bowlfile.defaults import demo_tables, make_bowl
    from fitsim.strip import kernels
    from fitsim.strip.compiled import can_be_kept

    if not can_be_kept(kernels.own_stiffness):  # each has to compile them for itself
        return
    with (Path(__file__).parent / "conftest.py").open("rb") as one:
        with suppress(OSError):  # some file systems lock nothing: then nobody waits
            fcntl.flock(one, fcntl.LOCK_EX)
        if not kernels.prepared():
            fit(make_bowl(demo_tables()), beyond=False)


# Derandomised, so that a red run stays red until it is mended; no deadline, because the first
# example of a worker pays for the imports.
settings.register_profile("quick", max_examples=40, deadline=None, derandomize=True)
settings.load_profile("quick")
