"""Worker processes on this machine, which end with the process that started them.

Each works with one thread: several processes of several threads each would be slower, and the same sums
in another order would no longer be the same to the last bit.
"""

import multiprocessing
import os
import signal
import threading
import time
from collections.abc import Callable, Sequence
from concurrent.futures import Executor, Future, ProcessPoolExecutor, as_completed
from contextlib import suppress
from multiprocessing.context import SpawnContext, SpawnProcess
from typing import Any, ParamSpec, TypeVar

from fitsim.one_thread import keep_one_thread
from fitsim.progress import press_begins

__all__ = ["DeafProcess", "at_once", "end_with_parent", "worker_count", "worker_pool"]

_Asked = ParamSpec("_Asked")
_Answer = TypeVar("_Answer")

MOST_WAIT_s = 5.0
"""How long what only waits is given to be struck off before those that work are ended. [s]"""


def worker_count() -> int:
    """How many processes are worth having here.

    Returns
    -------
    int
        Processors this process may run on.
    """
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


class DeafProcess(SpawnProcess):
    """A process that hears no stop by the keyboard from its first moment on.

    It would else end in a traceback of its own, were it stopped while it still loads the program.
    """

    def start(self) -> None:
        """Start it, stops held back meanwhile: what is held back here is held back there."""
        if not hasattr(signal, "pthread_sigmask"):
            super().start()
            return
        held_back = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
        try:
            super().start()
        finally:
            signal.pthread_sigmask(signal.SIG_SETMASK, held_back)


class _Fresh(SpawnContext):
    """Begins processes anew, without what this one has in hand, and knows which."""

    def __init__(self) -> None:
        super().__init__()
        self.begun: list[SpawnProcess] = []

    def Process(self, *given: Any, **named: Any) -> SpawnProcess:  # type: ignore[override]
        self.begun.append(DeafProcess(*given, **named))
        return self.begun[-1]


class _Workers(ProcessPoolExecutor):
    """Processes that are given strips to press."""

    def __init__(self, processes: int) -> None:
        self._fresh = _Fresh()
        super().__init__(processes, mp_context=self._fresh, initializer=end_with_parent)
        self._unfinished: set[Future[Any]] = set()

    def submit(
        self, fn: Callable[_Asked, _Answer], /, *args: _Asked.args, **kwargs: _Asked.kwargs
    ) -> Future[_Answer]:
        press_begins()
        future = super().submit(fn, *args, **kwargs)
        self._unfinished.add(future)
        future.add_done_callback(self._unfinished.discard)
        return future

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """End as any executor does; with ``cancel_futures`` what is being worked on is ended as well.

        After a stop nobody wants it, and to wait for it takes as long as it lasts. A second stop that
        interrupts the waiting would leave processes to which nobody tells any more that they are to end.
        """
        ended = False
        try:
            if not cancel_futures or not self._unfinished:
                super().shutdown(wait, cancel_futures=cancel_futures)
                ended = True
                return
            with suppress(RuntimeError):  # no more is taken where it is shut down or broken already
                last = super().submit(os.getpid)
                super().shutdown(wait=False, cancel_futures=True)
                # The pool's own thread has to strike off what was cancelled before it finds the processes
                # gone, or it ends in a traceback; it strikes off in turn, and this one comes last.
                until = time.monotonic() + MOST_WAIT_s
                while not (last.done() or last.running()) and time.monotonic() < until:
                    time.sleep(0.01)
        finally:
            if not ended:
                for process in self._fresh.begun:
                    if process.is_alive():  # the stop may have come before it was started
                        process.terminate()


def worker_pool(processes: int) -> Executor:
    """Processes on this machine that end with their parent, however that ends.

    Parameters
    ----------
    processes : int
        How many.

    Returns
    -------
    concurrent.futures.Executor
        A pool; shut it down when done, with ``cancel_futures`` where it may end before what it was given:
        what it still works on is then ended too.
    """
    pool = _Workers(processes)
    # Each starts with the first call it is given, which takes a second: so each is given one at once.
    try:
        for _ in range(processes):
            ProcessPoolExecutor.submit(pool, os.getpid)
    except BaseException:  # stopped meanwhile: nobody else knows of it
        pool.shutdown(cancel_futures=True)
        raise
    return pool


def end_with_parent() -> None:
    """End this process when the one that started it is gone, however that ended and whatever is done here.

    Called first of all in a process started by :mod:`multiprocessing`, which would otherwise work or wait
    for ever. From then on it also keeps to one thread.
    """
    # A stop by the keyboard is the parent's to answer: it ends what was begun, and itself.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if hasattr(signal, "pthread_sigmask"):
        signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGINT})
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
    pool = worker_pool(count)
    try:
        waiting = [pool.submit(call) for call in calls]
        for number, _ in enumerate(as_completed(waiting), 1):
            if progress is not None:
                progress(number, len(calls))
        return tuple(one.result() for one in waiting)
    finally:
        pool.shutdown(wait=False, cancel_futures=True)
