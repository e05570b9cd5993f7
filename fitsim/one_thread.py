"""One thread in the linear algebra library while a strip is pressed.

The systems of a strip are small. More threads than one only wait for one another, turning round while they
wait: they double the processor time on an idle machine and can make it tenfold on a busy one. The number
belongs to the whole process, so it is given back at the end of the work.
"""

from collections.abc import Callable
from functools import cache, wraps
from typing import ParamSpec, TypeVar

from threadpoolctl import ThreadpoolController

from fitsim.progress import press_begins

__all__ = ["keep_one_thread", "one_thread"]

_P = ParamSpec("_P")
_R = TypeVar("_R")

_LIBRARIES = "blas"


@cache
def _controller() -> ThreadpoolController:
    """The libraries loaded when it is first asked; nothing here is imported without all of them."""
    return ThreadpoolController()


def one_thread(work: Callable[_P, _R]) -> Callable[_P, _R]:
    """Let a function's linear algebra run in one thread, and give the number back afterwards.

    Parameters
    ----------
    work : callable
        A function that presses a strip.

    Returns
    -------
    callable
        The same.
    """

    @wraps(work)
    def alone(*args: _P.args, **kwargs: _P.kwargs) -> _R:
        press_begins()
        with _controller().limit(limits=1, user_api=_LIBRARIES):
            return work(*args, **kwargs)

    return alone


def keep_one_thread() -> None:
    """Let this process, which is our own, use one thread for linear algebra from now on."""
    _controller().limit(limits=1, user_api=_LIBRARIES)
