"""Worker processes on this machine, which end with the process that started them.

Each works with one thread: several processes of several threads each would be slower, and the same sums
in another order would no longer be the same to the last bit.
"""

import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Sequence
from concurrent.futures import Executor, Future, ProcessPoolExecutor, as_completed
from typing import ParamSpec, TypeVar

from fitsim.one_thread import keep_one_thread
from fitsim.progress import press_begins

__all__ = ["at_once", "end_with_parent", "worker_count", "worker_pool"]

_Asked = ParamSpec("_Asked")
_Answer = TypeVar("_Answer")


def worker_count() -> int:
    """How many processes are worth having here.

    Returns
    -------
    int
        Processors this process may run on.
    """
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


class _Workers(ProcessPoolExecutor):
    """Processes that are given strips to press."""

    def submit(
        self, fn: Callable[_Asked, _Answer], /, *args: _Asked.args, **kwargs: _Asked.kwargs
    ) -> Future[_Answer]:
        press_begins()
        return super().submit(fn, *args, **kwargs)


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
    fresh = multiprocessing.get_context("spawn")
    pool = _Workers(processes, mp_context=fresh, initializer=end_with_parent)
    # Each starts with the first call it is given, which takes a second: so each is given one at once.
    for _ in range(processes):
        ProcessPoolExecutor.submit(pool, os.getpid)
    return pool


def end_with_parent() -> None:
    """End this process when the one that started it is gone, however that ended and whatever is done here.

    Called first of all in a process started by :mod:`multiprocessing`, which would otherwise work or wait
    for ever. From then on it also keeps to one thread.
    """
    # A stop by the keyboard is the parent's to answer: it ends what was begun, and itself.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    keep_one_thread()
    parent = multiprocessing.parent_process()

    def watch() -> None:
        if parent is not None:
            parent.join()
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()


def at_once(
    calls: Sequence[Callable[[], _Answer]], *, progress: Callable[[int, int], None] | None = None
) -> tuple[_Answer, ...]:
    """Work many calls out on all processors, each by itself.

    Parameters
    ----------
    calls : sequence of callable
        What to work out; made of functions and values that can be sent to another process.
    progress : callable, optional
        Called with how many are done, and of how many, as they come.

    Returns
    -------
    tuple
        In the order of the calls; the same to the last bit whoever works. In this process where there is
        one processor or one call, or where this process may start no others.
    """
    count = min(worker_count(), len(calls))
    if count <= 1 or multiprocessing.current_process().daemon:
        done: list[_Answer] = []
        for call in calls:
            done.append(call())
            if progress is not None:
                progress(len(done), len(calls))
        return tuple(done)
    others = set(multiprocessing.active_children())
    pool = worker_pool(count)
    try:
        waiting = [pool.submit(call) for call in calls]
        for number, _ in enumerate(as_completed(waiting), 1):
            if progress is not None:
                progress(number, len(calls))
        return tuple(one.result() for one in waiting)
    except BaseException:
        # Stopped, or one went wrong: what the others still work out nobody wants.
        for process in set(multiprocessing.active_children()) - others:
            process.terminate()
        raise
    finally:
        pool.shutdown(wait=False, cancel_futures=True)
