"""Worker processes on this machine, which end with the process that started them.

Each works with one thread: several processes of several threads each would be slower, and the same sums
in another order would no longer be the same to the last bit.
"""

import multiprocessing
import os
import threading
from concurrent.futures import Executor, ProcessPoolExecutor

__all__ = ["end_with_parent", "worker_count", "worker_pool"]

THREADS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
"""What the linear algebra libraries read their number of threads from when a process starts."""


def worker_count() -> int:
    """How many processes are worth having here.

    Returns
    -------
    int
        Processors this process may run on.
    """
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def worker_pool(processes: int) -> Executor:
    """Processes on this machine that end with their parent, however that ends.

    Parameters
    ----------
    processes : int
        How many.

    Returns
    -------
    concurrent.futures.Executor
        A pool; shut it down when done.
    """
    for name in THREADS:
        os.environ.setdefault(name, "1")
    fresh = multiprocessing.get_context("spawn")
    return ProcessPoolExecutor(processes, mp_context=fresh, initializer=end_with_parent)


def end_with_parent() -> None:
    """End this process when the one that started it is gone, however that ended and whatever is done here.

    Called first of all in a process started by :mod:`multiprocessing`, which would otherwise work or wait
    for ever.
    """
    parent = multiprocessing.parent_process()

    def watch() -> None:
        if parent is not None:
            parent.join()
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()
