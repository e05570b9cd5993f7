"""How far a long run has come, and how long it will still take, on standard error.

On a terminal one line is written over itself; elsewhere a plain line comes now and then, so that a log
stays readable. What is to be said before the first press alone waits here until that press begins.
"""

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TextIO

__all__ = ["CountLine", "ProgressLine", "before_first_press", "press_begins", "time_in_words"]

TERMINAL_EVERY_s, LOG_EVERY_s = 0.2, 15.0


_waiting: list[Callable[[], None]] = []


@contextmanager
def before_first_press(say: Callable[[], None]) -> Iterator[None]:
    """Have something said when the first strip is about to be pressed in what follows, and only then.

    Parameters
    ----------
    say : callable
        Called once, or never where nothing comes to be pressed.
    """
    _waiting.append(say)
    try:
        yield
    finally:
        _waiting.clear()


def press_begins() -> None:
    """Say what waits for a strip to be pressed, here or by another process of ours."""
    while _waiting:
        _waiting.pop()()


def time_in_words(seconds: float) -> str:
    """A length of time in words, never finer than it is known.

    Parameters
    ----------
    seconds : float
        The time. [s]

    Returns
    -------
    str
        For example "8 s", "3 min" or "2 h 10 min".

    Examples
    --------
    >>> time_in_words(8.4), time_in_words(200), time_in_words(7790)
    ('8 s', '3 min', '2 h 10 min')
    """
    if seconds < 90:
        return f"{seconds:.0f} s"
    minutes = round(seconds / 60)
    return f"{minutes} min" if minutes < 90 else f"{minutes // 60} h {minutes % 60} min"


class ProgressLine:
    """Told how much is done of how much; writes it with the time left."""

    def __init__(
        self,
        what: str,
        stream: TextIO | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        """Start the clock."""
        self._what = what
        self._stream = sys.stderr if stream is None else stream
        self._over = self._stream.isatty()
        self._clock = clock
        self._first: tuple[float, int] | None = None
        self._last = -1e9
        self._ended = 0

    def __call__(self, done: int, wanted: int) -> None:
        """Say how far it is, unless that was said a moment ago and it is not the end; that once."""
        if done >= wanted > 0 and wanted == self._ended:
            return
        self._ended = wanted if done >= wanted else 0
        now = self._clock()
        if self._first is None:
            self._first = (now, done)
        every = TERMINAL_EVERY_s if self._over else LOG_EVERY_s
        if now - self._last < every and done < wanted:
            return
        self._last = now
        start, before = self._first
        share = f"{100 * done / wanted:.0f} %" if wanted else "nothing to do"
        text = f"{done} of {wanted} {self._what}, {share}"
        if before < done < wanted:
            text += f", {time_in_words((now - start) * (wanted - done) / (done - before))} left"
        if self._over:
            self._stream.write(f"\r{text:<70}" + ("\n" if done >= wanted else ""))
        else:
            self._stream.write(text + "\n")
        self._stream.flush()


class CountLine:
    """Told how much is done where nobody knows of how much; writes it with the time it has taken."""

    def __init__(
        self,
        what: str,
        stream: TextIO | None = None,
        clock: Callable[[], float] = time.monotonic,
        one: str = "",
    ) -> None:
        """Start the clock."""
        self._what, self._one = what, one or what
        self._stream = sys.stderr if stream is None else stream
        self._over = self._stream.isatty()
        self._clock = clock
        self._start = self._last = clock()

    def __call__(self, done: int) -> None:
        """Say how far it is, unless that was said a moment ago."""
        now = self._clock()
        if now - self._last < (TERMINAL_EVERY_s if self._over else LOG_EVERY_s):
            return
        self._last = now
        what = self._one if done == 1 else self._what
        text = f"{done} {what}, {time_in_words(now - self._start)} so far"
        self._stream.write(f"\r{text:<70}" if self._over else text + "\n")
        self._stream.flush()

    def end(self) -> None:
        """Leave the line on a terminal, so that what follows begins on its own."""
        if self._over and self._last > self._start:
            self._stream.write("\n")
            self._stream.flush()
