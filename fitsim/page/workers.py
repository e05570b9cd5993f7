"""Worker processes for the page's slow questions: each can be ended at once, and none keeps anything.

A question is asked by its name and the keys and values of an address; the answer comes as a row of plain
objects, first what is being worked on, last the answer or what was wrong.
"""

import asyncio
import multiprocessing
from collections.abc import AsyncIterator, Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import suppress
from dataclasses import replace
from multiprocessing.connection import Connection
from threading import Lock
from typing import Any, TypeVar, TypeVarTuple

from fitsim.errors import FitsimError, InputError
from fitsim.page.jobs import JOBS, open_ahead
from fitsim.page.page_words import on_page, problems_object
from fitsim.page.state import read_state
from fitsim.processes import DeafProcess, end_with_parent

__all__ = ["MOST_AT_ONCE", "MOST_WAITING", "Workers", "answer_of"]

MOST_AT_ONCE = 3
MOST_WAITING = 8
"""Questions that may wait; one more is told to come back. A window asks one by itself."""

LOOK_EVERY_s = 0.2
"""How often a waiting question looks whether it is still wanted."""

MOST_TRIES = 3
"""Processes that may be found dead before a question is told that it failed."""

Given = TypeVarTuple("Given")
Told = TypeVar("Told")

WAITING = {"told": "waiting until another question is answered"}
LOST = {"failed": "the calculation ended unexpectedly; try again, or change something"}


def answer_of(
    kind: str, pairs: Sequence[tuple[str, str]], progress: Any, *, upload: bytes = b""
) -> dict[str, Any]:
    """Work out one slow question; every error of ours becomes part of the answer.

    Parameters
    ----------
    kind : str
        Key of :data:`fitsim.page.jobs.JOBS`.
    pairs : sequence of (str, str)
        Keys and values of an address.
    progress : callable
        Told in a few words what is being worked on, or a part of the answer as an object.
    upload : bytes
        A file sent along.

    Returns
    -------
    dict
        "answer", "problems" or "failed".
    """
    try:
        return {"answer": JOBS[kind](replace(read_state(pairs), upload=upload), progress)}
    except InputError as error:
        return problems_object(error.problems)
    except FitsimError as error:
        return {"failed": on_page(str(error))}


def _serve(pipe: Connection, start: tuple[tuple[str, str], ...]) -> None:
    """Answer questions until the other end is gone; press the bowl that will be asked about first."""
    end_with_parent()
    if start:
        open_ahead(start)
    with suppress(EOFError, BrokenPipeError, ConnectionResetError, KeyboardInterrupt):
        while True:
            kind, pairs, upload = pipe.recv()

            def progress(news: Any) -> None:
                pipe.send({"told": news} if isinstance(news, str) else {"part": news})

            pipe.send(answer_of(kind, pairs, progress, upload=upload))


class _Worker:
    """One process and the pipe to it; the pipe is used by one thread at a time."""

    def __init__(self, start: tuple[tuple[str, str], ...] = ()) -> None:
        # A fresh interpreter on every system: a copy of this one would hold its sockets and threads.
        self.pipe, far = multiprocessing.Pipe()
        # No daemon, which might start no processes of its own; what it starts ends with it.
        self.process = DeafProcess(target=_serve, args=(far, start), daemon=False)
        self.process.start()
        far.close()
        self._one_at_a_time = Lock()

    def send(self, question: tuple[str, tuple[tuple[str, str], ...], bytes]) -> bool:
        """Ask; a long question is taken off only when the process is up, so never in the server's loop."""
        with self._one_at_a_time:
            try:
                self.pipe.send(question)
            except (OSError, ValueError):  # it died while nobody looked
                return False
        return True

    def look(self) -> dict[str, Any] | None:
        """The next object, or None if there is none yet."""
        with self._one_at_a_time:
            try:
                news: dict[str, Any] | None = self.pipe.recv() if self.pipe.poll(LOOK_EVERY_s) else None
            except (EOFError, OSError):
                return LOST
        return news

    def kill(self) -> None:
        """End it at once, in the middle of whatever it does; does not wait."""
        self.process.kill()

    def clear(self) -> None:
        """Wait until it is gone and close its pipe."""
        self.process.join(5)
        with self._one_at_a_time:
            self.pipe.close()


class Workers:
    """At most a few questions at once; the processes are kept for the next question.

    Nothing here blocks the loop that calls it: processes are started, asked and cleared away in threads.
    """

    def __init__(self, most: int = MOST_AT_ONCE, waiting: int = MOST_WAITING) -> None:
        self._most = most
        self._in_hand_at_most = most + waiting
        self._in_hand = 0
        self._free = asyncio.Semaphore(most)
        self._threads = ThreadPoolExecutor(max_workers=3 * most, thread_name_prefix="workers")
        self._spare: list[Future[_Worker]] = []
        self._busy: list[_Worker] = []

    def reserve(self) -> bool:
        """Take a place in the line, before anything of a question is read; False if the line is full."""
        if self._in_hand >= self._in_hand_at_most:
            return False
        self._in_hand += 1
        return True

    def release(self) -> None:
        """Give the place in the line back."""
        self._in_hand -= 1

    def warm(self, most: int | None = None, start: Sequence[tuple[str, str]] = ()) -> None:
        """Start processes, so that the next questions do not wait for them.

        Parameters
        ----------
        most : int or None
            How many there are then at least; None: as many as may be at work at once.
        start : sequence of (str, str)
            The bowl that they will be asked about first: it is pressed while the page loads.
        """
        while len(self._spare) + len(self._busy) < min(most or self._most, self._most):
            self._spare.append(self._threads.submit(_Worker, *([tuple(start)] if start else [])))

    def end(self) -> None:
        """End every process; those at work are cleared away by their questions."""
        for worker in self._busy:
            worker.kill()
        while self._spare:
            with suppress(OSError):
                worker = self._spare.pop().result()
                worker.kill()
                worker.clear()
        self._threads.shutdown(wait=False)

    async def ask(
        self, kind: str, pairs: Sequence[tuple[str, str]], *, upload: bytes = b""
    ) -> AsyncIterator[dict[str, Any]]:
        """Ask one question.

        Parameters
        ----------
        kind : str
            Key of :data:`fitsim.page.jobs.JOBS`.
        pairs : sequence of (str, str)
            Keys and values of an address.
        upload : bytes
            A file sent along.

        Yields
        ------
        dict
            {"told": words} or {"part": ...} as often as there is news, then one with "answer",
            "problems" or "failed".
            A question given up (its iterator closed) ends its process.
        """
        if self._free.locked():
            yield WAITING
        async with self._free:
            worker = await self._asked((kind, tuple(pairs), upload))
            news = LOST
            if worker is not None:
                kept = False
                try:
                    news = await self._news(worker)
                    while "told" in news or "part" in news:
                        yield news
                        news = await self._news(worker)
                    kept = news is not LOST
                finally:
                    self._busy.remove(worker)
                    if kept:
                        self._put_back(worker)
                    else:
                        self._clear(worker)
                    self.warm()  # others start while nobody waits for them
        yield news  # whoever reads it slowly keeps no worker from the others

    async def _asked(self, question: tuple[str, tuple[tuple[str, str], ...], bytes]) -> _Worker | None:
        """A worker that took the question; one that died while it was idle is replaced."""
        for _ in range(MOST_TRIES):
            future = self._spare.pop() if self._spare else self._threads.submit(_Worker)
            try:
                worker = await asyncio.shield(asyncio.wrap_future(future))
            except asyncio.CancelledError:
                self._spare.append(future)
                raise
            except OSError:  # the system has no room for another process
                continue
            self._busy.append(worker)
            sent = False
            try:
                sent = worker.process.is_alive() and await self._in_thread(worker.send, question)
            finally:
                if not sent:
                    self._busy.remove(worker)
                    self._clear(worker)
            if sent:
                return worker
        return None

    def _put_back(self, worker: _Worker) -> None:
        future: Future[_Worker] = Future()
        future.set_result(worker)
        self._spare.append(future)

    def _clear(self, worker: _Worker) -> None:
        """End a process without waiting for it: what is given up is given up in the middle of the loop."""
        worker.kill()
        with suppress(RuntimeError):  # the server is ending, and its threads are gone
            self._threads.submit(worker.clear)

    async def _in_thread(self, work: Callable[[*Given], Told], *given: *Given) -> Told:
        return await asyncio.get_running_loop().run_in_executor(self._threads, work, *given)

    async def _news(self, worker: _Worker) -> dict[str, Any]:
        """The next object from a worker; between looks the question may be given up."""
        while (news := await self._in_thread(worker.look)) is None:
            pass
        return news
