"""Files in TOML: loading one, and saying in one line what is wrong with one that cannot be loaded."""

import tomllib
from pathlib import Path
from typing import Any

from fitsim.errors import InputError, Problem

__all__ = ["LARGEST_FILE_BYTES", "tables_of_bytes", "tables_of_file"]

LARGEST_FILE_BYTES = 100_000


def tables_of_file(
    path: str | Path, *, kind: str = "bowl file", made_by: str = "fitsim new FILE"
) -> dict[str, Any]:
    """Load the TOML of a bowl file, or of another file a maker writes.

    Parameters
    ----------
    path : str or pathlib.Path
        The file.
    kind : str
        What the file is, for the error messages.
    made_by : str
        Command that writes one.

    Returns
    -------
    dict
        Its tables.

    Raises
    ------
    InputError
        If it cannot be opened or is not TOML, in one line.
    """
    where = str(path)
    try:
        raw = Path(path).read_bytes()
    except FileNotFoundError:
        remedy = f"check the name, or write one with: {made_by}"
        expected = f"a {kind}, and there is none of that name"
        raise InputError(Problem(where, "file", "", expected, remedy)) from None
    except OSError as error:
        reason = (error.strerror or "unreadable").lower()
        expected = f"a {kind} that can be read ({reason})"
        raise InputError(Problem(where, "file", "", expected, "check the name")) from None
    return tables_of_bytes(raw, where=where, kind=kind)


def tables_of_bytes(raw: bytes, *, where: str, kind: str = "bowl file") -> dict[str, Any]:
    """Load the TOML of a file already at hand.

    Parameters
    ----------
    raw : bytes
        The file's contents.
    where : str
        Its name, for the error messages.
    kind : str
        What the file is, for the error messages.

    Returns
    -------
    dict
        Its tables.

    Raises
    ------
    InputError
        If it is too large or not TOML, in one line.
    """
    if len(raw) > LARGEST_FILE_BYTES:
        expected = f"a {kind}, at most {LARGEST_FILE_BYTES // 1000} kB"
        size = f"{len(raw) // 1000} kB"
        raise InputError(Problem(where, "file", size, expected, "check that it is the right file"))
    try:
        return tomllib.loads(raw.decode("utf-8-sig"))
    except UnicodeDecodeError:
        expected = "plain text in UTF-8"
        raise InputError(Problem(where, "file", "", expected, "save it again as UTF-8")) from None
    except RecursionError:
        expected, remedy = "a TOML file", f"it is nested far too deep to be a {kind}"
        raise InputError(Problem(where, "file", "", expected, remedy)) from None
    except ValueError as error:  # TOMLDecodeError, and numbers too long to be read
        said = str(error)
        expected = f"a TOML file ({said[:1].lower()}{said[1:]})"
        raise InputError(Problem(where, "file", "", expected, _toml_remedy(said, raw))) from None


def _toml_remedy(said: str, raw: bytes) -> str:
    """What to do about what the TOML reader says."""
    said = said.lower()
    if "declaration" in said:
        return "close the name of the table with as many brackets as open it, like [board]"
    if "overwrite" in said or "twice" in said:
        return "a key or table stands there for the second time; delete one of the two"
    if "string" in said or said.startswith(('expected "\'"', "expected '\"'")):
        return "end the value with the quotes it began with, on the same line"
    if "unclosed" in said:
        return "close the list with ]"
    if any(quote in raw.decode("utf-8-sig") for quote in "\N{LEFT DOUBLE QUOTATION MARK}"
           "\N{RIGHT DOUBLE QUOTATION MARK}\N{DOUBLE LOW-9 QUOTATION MARK}"):  # fmt: skip
        return 'write straight quotes, ", in place of the curly ones'
    return 'values stand in quotes, like tilt = "6 deg"'
