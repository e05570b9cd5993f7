"""Reading and writing files: never more than one may hold, never over another, never half.

Whatever a maker names is read by :func:`read_whole` alone: it looks at what the name leads to and at its
size before it reads a byte, so that no device, no pipe and no file of some gigabytes stops the program or
fills the machine. :func:`check_target` and :func:`write_whole` do the same for what is written.
"""

import errno
import os
import secrets
import stat
import sys
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

from fitsim.errors import InputError, Problem, escaped

__all__ = [
    "MOVING_ENDINGS",
    "PICTURE_ENDINGS",
    "STANDARD_INPUT",
    "check_regular",
    "check_target",
    "file_name",
    "read_whole",
    "refuse_shared_names",
    "size_in_words",
    "why_refused",
    "write_whole",
]

PICTURE_ENDINGS = (".svg", ".png", ".pdf")
MOVING_ENDINGS = (".gif",)

STANDARD_INPUT = "-"
"""Written in place of a file's name: what another program sends."""


def file_name(path: str | Path) -> str:
    """A file's name as it may be shown.

    Parameters
    ----------
    path : str or pathlib.Path
        As typed.

    Returns
    -------
    str
        The name, with nothing in it that a terminal would obey; "standard input" for ``-``.
    """
    return "standard input" if str(path) == STANDARD_INPUT else escaped(str(path))


def size_in_words(count: int) -> str:
    """A size for reading.

    Parameters
    ----------
    count : int
        Number of bytes.

    Returns
    -------
    str
        For example "100 kB", "20 MB" or "6.4 GB".

    Examples
    --------
    >>> size_in_words(100_000), size_in_words(21_000_000), size_in_words(6_400_000_000)
    ('100 kB', '21 MB', '6.4 GB')
    """
    for unit, size in (("GB", 1_000_000_000), ("MB", 1_000_000)):
        if count >= size:
            return f"{count / size:.3g} {unit}"
    return f"{count // 1000} kB" if count >= 1000 else f"{count} bytes"


def why_refused(error: OSError | ValueError) -> str:
    """The system's reason for not opening a file, in lower case.

    Parameters
    ----------
    error : OSError or ValueError
        What was raised; a name with a zero byte in it is a ValueError.

    Returns
    -------
    str
        For example "permission denied".
    """
    if isinstance(error, OSError):
        return (error.strerror or "refused").lower()
    return "such a name cannot be"


def _kind_in_words(mode: int) -> str:
    """What stands under a name that is no regular file."""
    kinds = (
        (stat.S_ISDIR, "a folder"), (stat.S_ISLNK, "a link"), (stat.S_ISFIFO, "a pipe"),
        (stat.S_ISSOCK, "a socket"), (stat.S_ISCHR, "a device"), (stat.S_ISBLK, "a device"),
    )  # fmt: skip
    return next((words for test, words in kinds if test(mode)), "no plain file")


def _refuse_other_kinds(where: str, mode: int, kind: str) -> None:
    if stat.S_ISREG(mode):
        return
    expected = f"a {kind}, in a plain file that can be read; this is {_kind_in_words(mode)}"
    remedy = "write the name of a file"
    if stat.S_ISFIFO(mode) or stat.S_ISCHR(mode):
        remedy = f"save it as a file, or give {STANDARD_INPUT} for what another program sends"
    raise InputError(Problem(where, "file", "", expected, remedy))


def _refuse_size(where: str, count: int, most_bytes: int, kind: str) -> None:
    if count > most_bytes:
        most, found = size_in_words(most_bytes), size_in_words(count)
        expected, found = f"a {kind} of at most {most}", f"over {most}" if found == most else found
        raise InputError(Problem(where, "file", found, expected, "check that it is the right file"))


def check_regular(path: str | Path, *, kind: str, remedy: str = "check the name") -> int:
    """Make sure that a name leads to a regular file before anything opens it.

    Parameters
    ----------
    path : str or pathlib.Path
        The name; a link is followed.
    kind : str
        What the file is, without its article, for messages: "bowl file".
    remedy : str
        What to do if there is none of that name.

    Returns
    -------
    int
        Its size. [bytes]

    Raises
    ------
    InputError
        If there is none, it cannot be looked at, or it is a folder, a pipe, a device or the like.
    """
    where = file_name(path)
    try:
        found = os.stat(path)
    except (FileNotFoundError, NotADirectoryError):
        expected = f"a {kind}, and there is none of that name"
        raise InputError(Problem(where, "file", "", expected, remedy)) from None
    except (OSError, ValueError) as error:
        expected = f"a {kind} that can be read ({why_refused(error)})"
        raise InputError(Problem(where, "file", "", expected, "check the name")) from None
    _refuse_other_kinds(where, found.st_mode, kind)
    return found.st_size


def read_whole(path: str | Path, *, kind: str, most_bytes: int, remedy: str = "check the name") -> bytes:
    """Read a file that somebody named: a regular one only, and no more than it may hold.

    Parameters
    ----------
    path : str or pathlib.Path
        The file; ``-`` is standard input, read to its end or to the limit.
    kind : str
        What the file is, without its article, for messages: "bowl file".
    most_bytes : int
        How long it may be. [bytes]
    remedy : str
        What to do if there is none of that name.

    Returns
    -------
    bytes
        Its contents.

    Raises
    ------
    InputError
        If it is no regular file, too long, or cannot be read; in one line.
    """
    where = file_name(path)
    if str(path) == STANDARD_INPUT:
        return _standard_input(where, kind, most_bytes)
    _refuse_size(where, check_regular(path, kind=kind, remedy=remedy), most_bytes, kind)
    try:
        # Looked at again once it is open, and opened so that a pipe put there meanwhile cannot hold us.
        number = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
        with os.fdopen(number, "rb") as file:
            _refuse_other_kinds(where, os.fstat(number).st_mode, kind)
            raw = file.read(most_bytes + 1)  # some files of the system say that they are empty
    except OSError as error:
        expected = f"a {kind} that can be read ({why_refused(error)})"
        raise InputError(Problem(where, "file", "", expected, "check the name")) from None
    _refuse_size(where, len(raw or b""), most_bytes, kind)
    return raw or b""


def _standard_input(where: str, kind: str, most_bytes: int) -> bytes:
    try:
        raw = sys.stdin.buffer.read(most_bytes + 1) if sys.stdin is not None else b""
    except (OSError, ValueError) as error:
        expected = f"a {kind} that can be read ({why_refused(error)})"
        raise InputError(Problem(where, "file", "", expected, "give the name of a file")) from None
    _refuse_size(where, len(raw), most_bytes, kind)
    if not raw:
        expected = f"a {kind}, and nothing came"
        remedy = f"send it behind the command, like: {STANDARD_INPUT} < FILE; it can be read once only"
        raise InputError(Problem(where, "file", "", expected, remedy))
    return raw


def _mode_of(path: Path) -> int | None:
    """What stands under a name itself, a link not followed; None where there is nothing."""
    try:
        return path.lstat().st_mode
    except (FileNotFoundError, NotADirectoryError):
        return None
    except (OSError, ValueError) as error:
        raise _not_written(path, error) from None


def check_target(path: Path, *, replace: bool, endings: tuple[str, ...] = ()) -> None:
    """Answer before any work is done if a file could not be written.

    Parameters
    ----------
    path : pathlib.Path
        Where the file would go.
    replace : bool
        True if it may overwrite another file; a link, a folder, a device or a pipe it may not.
    endings : tuple[str, ...]
        Allowed suffixes such as ".svg"; any if empty.

    Raises
    ------
    InputError
        If the file exists, its folder does not or takes none, or its ending is not one of ``endings``.
    """
    where = str(path)
    if where == STANDARD_INPUT:
        expected = f"the name of a file; {STANDARD_INPUT} is standard input"
        raise InputError(Problem(where, "file", "", expected, "choose another name"))
    if endings and path.suffix.lower() not in endings:
        expected = f"a name ending in {' or '.join(endings)}"
        raise InputError(Problem(where, "file", "", expected, "change the ending"))
    mode = _mode_of(path)
    if mode is not None and not stat.S_ISREG(mode):
        expected = f"a name not yet taken, or with --replace a plain file; this is {_kind_in_words(mode)}"
        remedy = "name the file it leads to" if stat.S_ISLNK(mode) else "choose another name"
        raise InputError(Problem(where, "file", "", expected, remedy))
    if mode is not None and not replace:
        remedy = "choose another name, or add --replace"
        raise InputError(Problem(where, "file", "", "a name not yet taken", remedy))
    if not path.parent.is_dir():
        expected = "a file in a folder that exists"
        raise InputError(Problem(where, "file", "", expected, "correct the name or make the folder"))
    if not os.access(path.parent, os.W_OK | os.X_OK):
        raise _not_written(path, _why_closed(path.parent))


def _why_closed(folder: Path) -> OSError:
    """What the system would say to a new file in a folder that takes none."""
    read_only = hasattr(os, "statvfs") and os.statvfs(folder).f_flag & os.ST_RDONLY
    number = errno.EROFS if read_only else errno.EACCES
    return OSError(number, os.strerror(number))


def refuse_shared_names(outputs: Iterable[str | Path], inputs: Iterable[str | Path] = ()) -> None:
    """Refuse two outputs of one name, and an output under the name of what is read.

    Parameters
    ----------
    outputs : iterable
        Every file that one command would write.
    inputs : iterable
        Every file that it would read.

    Raises
    ------
    InputError
        If two names lead to one file, whichever way they are written.
    """
    taken = {key: "the file that is read" for path in inputs for key in _identities(path)}
    for path in outputs:
        for key in _identities(path):
            if key in taken:
                expected = f"a name of its own; {taken[key]} has this one"
                raise InputError(Problem(str(path), "file", "", expected, "choose another name"))
        taken |= dict.fromkeys(_identities(path), "another output")


def _identities(path: str | Path) -> set[tuple[object, ...]]:
    """What tells files apart: the name all written out, and for one that is there its place on the disk."""
    if str(path) == STANDARD_INPUT:
        return set()
    found: set[tuple[object, ...]] = {("name", os.path.normcase(os.path.abspath(path)))}
    with suppress(OSError, ValueError):
        found.add(("name", os.path.normcase(os.path.realpath(path))))
        there = os.stat(path)
        if there.st_ino:
            found.add(("place", there.st_dev, there.st_ino))
    return found


def write_whole(path: Path, data: bytes | Iterable[bytes], *, replace: bool) -> None:
    """Write a file in one step: a reader sees the old one or the whole new one.

    Parameters
    ----------
    path : pathlib.Path
        Where the file goes.
    data : bytes or iterable of bytes
        Its contents, whole or piece by piece.
    replace : bool
        True if it may overwrite another.

    Raises
    ------
    InputError
        If it cannot be written.
    """
    check_target(path, replace=replace)
    # Made anew ("x") under a name of its own: a link planted there would lead elsewhere.
    beside = path.with_name(f".{path.name[:40]}.{secrets.token_hex(6)}.part")
    try:
        with beside.open("xb") as file:
            for piece in (data,) if isinstance(data, bytes) else data:
                file.write(piece)
        beside.replace(path)
    except BaseException as error:
        with suppress(OSError):
            beside.unlink()
        if isinstance(error, OSError):
            raise _not_written(path, error) from None
        raise


def _not_written(path: Path, error: OSError | ValueError) -> InputError:
    expected = f"a place that can be written ({why_refused(error)})"
    remedy = "choose another name or folder"
    if isinstance(error, OSError) and error.errno in (errno.ENOSPC, errno.EDQUOT):
        remedy = "the disk is full: make room on it, or choose another"
    return InputError(Problem(str(path), "file", "", expected, remedy))
