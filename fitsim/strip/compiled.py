"""Loops compiled at first use by numba and kept on disk for the next.

What is kept is renewed when the file in which a loop stands changes, not when one does that it calls: a
compiled loop calls only those of its own file.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar, cast

from numba import njit

__all__ = ["can_be_kept", "compiled", "is_kept"]

_Loop = TypeVar("_Loop", bound=Callable[..., object])


def compiled(loop: _Loop) -> _Loop:
    """Compile at first use and keep it on disk; the decorator of numba has no types of its own.

    Parameters
    ----------
    loop : callable
        Arrays and numbers in, arrays out; it calls nothing compiled in another file.

    Returns
    -------
    callable
        The same, compiled when it is first called.
    """
    try:
        made = njit(cache=True, error_model="numpy")(loop)
    except RuntimeError:  # nowhere to write: neither beside its file nor in the user's own folder
        made = njit(error_model="numpy")(loop)
    return cast(_Loop, made)


def can_be_kept(loop: Callable[..., object]) -> bool:
    """Whether there is a folder for what is compiled here: beside its file, or in the user's own.

    Parameters
    ----------
    loop : callable
        From :func:`compiled`.

    Returns
    -------
    bool
        False where every process has to compile it anew.
    """
    made: Any = loop
    return made.stats.cache_path is not None


def is_kept(loop: Callable[..., object]) -> bool:
    """Whether a loop has been compiled on this machine since its file was written.

    Parameters
    ----------
    loop : callable
        From :func:`compiled`.

    Returns
    -------
    bool
        False at the first use of an installation.
    """
    made: Any = loop
    if made.stats.cache_path is None:
        return False
    source = Path(made.py_func.__code__.co_filename)
    kept = Path(made.stats.cache_path).glob(f"{source.stem}.{made.__name__}-*.nbi")
    written = source.stat().st_mtime
    return any(index.stat().st_mtime >= written for index in kept)
