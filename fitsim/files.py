"""Writing files: never silently over another, never half."""

import os
from contextlib import suppress
from pathlib import Path

from fitsim.errors import InputError, Problem

__all__ = ["MOVING_ENDINGS", "PICTURE_ENDINGS", "check_target", "write_whole"]

PICTURE_ENDINGS = (".svg", ".png", ".pdf")
MOVING_ENDINGS = (".gif",)


def check_target(path: Path, *, replace: bool, endings: tuple[str, ...] = ()) -> None:
    """Answer before any work is done if a file could not be written.

    Parameters
    ----------
    path : pathlib.Path
        Where the file would go.
    replace : bool
        True if it may overwrite another.
    endings : tuple[str, ...]
        Allowed suffixes such as ".svg"; any if empty.

    Raises
    ------
    InputError
        If the file exists, its folder does not, or its ending is not one of ``endings``.
    """
    where = str(path)
    if endings and path.suffix.lower() not in endings:
        expected = f"a name ending in {' or '.join(endings)}"
        raise InputError(Problem(where, "file", "", expected, "change the ending"))
    if path.is_dir() or (path.exists() and not replace):
        remedy = "choose another name, or add --replace"
        raise InputError(Problem(where, "file", "", "a name not yet taken", remedy))
    if not path.parent.is_dir():
        expected = "a file in a folder that exists"
        raise InputError(Problem(where, "file", "", expected, "correct the name or make the folder"))


def write_whole(path: Path, data: bytes, *, replace: bool) -> None:
    """Write a file in one step: a reader sees the old one or the whole new one.

    Parameters
    ----------
    path : pathlib.Path
        Where the file goes.
    data : bytes
        Its contents.
    replace : bool
        True if it may overwrite another.

    Raises
    ------
    InputError
        If it cannot be written.
    """
    check_target(path, replace=replace)
    beside = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        beside.write_bytes(data)
        beside.replace(path)
    except OSError as error:
        with suppress(OSError):
            beside.unlink()
        expected = f"a place that can be written ({(error.strerror or 'refused').lower()})"
        remedy = "choose another folder"
        raise InputError(Problem(str(path), "file", "", expected, remedy)) from None
