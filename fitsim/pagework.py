"""Worker processes for the page's slow questions: each can be ended at once, and none keeps anything.

A question is asked by its name and the keys and values of an address; the answer comes as a row of plain
objects, first what is being worked on, last the answer or what was wrong.
"""

import asyncio
import multiprocessing
import multiprocessing.process
from collections.abc import AsyncIterator, Sequence
from contextlib import suppress
from dataclasses import replace
from multiprocessing.connection import Connection
from typing import Any

from fitsim.errors import FitsimError, InputError
from fitsim.pageanswer import problems_object
from fitsim.pagejobs import JOBS
from fitsim.pagestate import read_state

__all__ = ["MOST_AT_ONCE", "Workers", "answer_of"]

MOST_AT_ONCE = 2
LOOK_EVERY_s = 0.2
"""How often a waiting question looks whether it is still wanted."""

WAITING = {"told": "waiting until another question is answered"}
LOST = {"failed": "the calculation ended unexpectedly; try again, or change something"}


def answer_of(
    kind: str, pairs: Sequence[tuple[str, str]], tell: Any, *, upload: bytes = b""
) -> dict[str, Any]:
    """Work out one slow question; every error of ours becomes part of the answer.

    Parameters
    ----------
    kind : str
        Key of :data:`fitsim.pagejobs.JOBS`.
    pairs : sequence of (str, str)
        Keys and values of an address.
    tell : callable
        Told in a few words what is being worked on.
    upload : bytes
        A file sent along.

    Returns
    -------
    dict
        "answer", "problems" or "failed".
    """
    try:
        return {"answer": JOBS[kind](replace(read_state(pairs), upload=upload), tell)}
    except InputError as error:
        return problems_object(error.problems)
    except FitsimError as error:
        return {"failed": str(error)}


def _serve(pipe: Connection) -> None:
    """Answer questions until the other end is gone."""
    with suppress(EOFError, BrokenPipeError, ConnectionResetError, KeyboardInterrupt):
        while True:
            kind, pairs, upload = pipe.recv()
            pipe.send(answer_of(kind, pairs, lambda line: pipe.send({"told": line}), upload=upload))


class _Worker:
    """One process and the pipe to it."""

    def __init__(self) -> None:
        # A fresh interpreter on every system: a copy of this one would hold its sockets and threads.
        context = multiprocessing.get_context("spawn")
        self.pipe, far = context.Pipe()
        self.process = context.Process(target=_serve, args=(far,), daemon=True)
        self.process.start()
        far.close()

    def end(self) -> None:
        """End it at once, in the middle of whatever it does."""
        self.process.kill()
        self.process.join(5)
        self.pipe.close()


class Workers:
    """At most a few questions at once; the processes are kept for the next question."""

    def __init__(self, most: int = MOST_AT_ONCE) -> None:
        self._most = most
        self._free = asyncio.Semaphore(most)
        self._idle: list[_Worker] = []
        self._busy: list[_Worker] = []

    @property
    def busy(self) -> tuple[multiprocessing.process.BaseProcess, ...]:
        """Processes at work."""
        return tuple(worker.process for worker in self._busy)

    def warm(self) -> None:
        """Start the processes, so that the first questions do not wait for them."""
        while len(self._idle) + len(self._busy) < self._most:
            self._idle.append(_Worker())

    def end(self) -> None:
        """End every idle process; those at work are ended by their questions."""
        while self._idle:
            self._idle.pop().end()

    async def ask(
        self, kind: str, pairs: Sequence[tuple[str, str]], *, upload: bytes = b""
    ) -> AsyncIterator[dict[str, Any]]:
        """Ask one question.

        Parameters
        ----------
        kind : str
            Key of :data:`fitsim.pagejobs.JOBS`.
        pairs : sequence of (str, str)
            Keys and values of an address.
        upload : bytes
            A file sent along.

        Yields
        ------
        dict
            {"told": words} as often as there is news, then one with "answer", "problems" or "failed".
            A question given up (its iterator closed) ends its process.
        """
        if self._free.locked():
            yield WAITING
        async with self._free:
            worker = self._idle.pop() if self._idle else await asyncio.to_thread(_Worker)
            self._busy.append(worker)
            kept = False
            try:
                worker.pipe.send((kind, tuple(pairs), upload))
                news = await _news(worker)
                while "told" in news:
                    yield news
                    news = await _news(worker)
                kept = news is not LOST
            finally:
                self._busy.remove(worker)
                if not kept:
                    worker.end()
                    worker = _Worker()  # starts while nobody waits for it
                self._idle.append(worker)
            yield news


async def _news(worker: _Worker) -> dict[str, Any]:
    """The next object from a worker; between looks the question may be given up."""
    try:
        while not await asyncio.to_thread(worker.pipe.poll, LOOK_EVERY_s):
            pass
        news: dict[str, Any] = worker.pipe.recv()
    except (EOFError, OSError):
        return LOST
    return news
