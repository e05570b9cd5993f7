"""Files in TOML: loading one, and saying in one line what is wrong with one that cannot be loaded."""

import re
import tomllib
from pathlib import Path
from typing import Any

from fitsim.errors import InputError, Problem, hidden_remedy
from fitsim.files import STANDARD_INPUT, file_name, read_whole, size_in_words

__all__ = ["DRAWINGS", "LARGEST_FILE_BYTES", "tables_of_bytes", "tables_of_file"]

LARGEST_FILE_BYTES = 100_000

DEEPEST = 6
"""Lists and tables within one another; the files of this program need three."""

LARGEST_WHOLE = 2**63
"""TOML promises whole numbers of 64 bits; Python would read longer ones, and then refuse to print them."""


def tables_of_file(
    path: str | Path, *, kind: str = "bowl file", made_by: str = "fitsim new FILE"
) -> dict[str, Any]:
    """Load the TOML of a bowl file, or of another file a maker writes.

    Parameters
    ----------
    path : str or pathlib.Path
        The file; ``-`` is standard input.
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
    remedy = f"check the name, or write one with: {made_by}"
    raw = read_whole(path, kind=kind, most_bytes=LARGEST_FILE_BYTES, remedy=remedy)
    return _beside(tables_of_bytes(raw, where=file_name(path), kind=kind), path)


DRAWINGS = (("board", "outline"), ("want", "wall"))
"""Keys of a bowl file that may name a drawing."""


def _beside(tables: dict[str, Any], path: str | Path) -> dict[str, Any]:
    """A drawing that a bowl file names lies where the file does, unless its name says where."""
    folder = Path() if str(path) == STANDARD_INPUT else Path(path).parent
    for name, key in DRAWINGS:
        table = tables.get(name)
        text = table.get(key) if isinstance(table, dict) else None
        if isinstance(table, dict) and isinstance(text, str) and text.strip().lower().endswith(".svg"):
            tables = {**tables, name: {**table, key: str(folder / text.strip())}}
    return tables


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
        expected = f"a {kind} of at most {size_in_words(LARGEST_FILE_BYTES)}"
        size = size_in_words(len(raw))
        raise InputError(Problem(where, "file", size, expected, "check that it is the right file"))
    try:
        if raw.count(0) > WIDE_SHARE * len(raw):  # its letters are plain, and so it would be read as UTF-8
            raise UnicodeDecodeError("utf-8", raw, 0, len(raw), "two bytes for each letter")
        tables = tomllib.loads(raw.decode("utf-8-sig"))
        _check_values(tables)
    except UnicodeDecodeError:
        expected = "plain text in UTF-8"
        raise InputError(Problem(where, "file", "", expected, "save it again as UTF-8")) from None
    except RecursionError:
        expected, remedy = "a TOML file", f"it is nested far too deep to be a {kind}"
        raise InputError(Problem(where, "file", "", expected, remedy)) from None
    except ValueError as error:  # TOMLDecodeError, and numbers too long to be read
        said = _in_words(str(error), raw)
        raise InputError(
            Problem(where, "file", "", f"a TOML file ({said})", _toml_remedy(said, raw))
        ) from None
    return tables


def _check_values(value: object, depth: int = 0) -> None:
    """Refuse what TOML's grammar lets through and no reader behind it could even print."""
    if depth > DEEPEST:
        raise RecursionError
    if isinstance(value, dict | list):
        for inner in value.values() if isinstance(value, dict) else value:
            _check_values(inner, depth + 1)
    elif isinstance(value, int) and abs(value) >= LARGEST_WHOLE:
        message = "A whole number is longer than 19 digits"
        raise ValueError(message)


WIDE_SHARE = 0.25
"""Bytes of nothing in a file with two bytes for each letter (UTF-16) are half of all; in none of ours."""

_OLD_LINES = "its lines end as those of very old machines"


def _in_words(said: str, raw: bytes) -> str:
    """What the TOML reader says, where it speaks of characters and names as Python writes them."""
    if b"\r" in raw and b"\n" not in raw:
        return _OLD_LINES
    said = re.sub(
        r"^(?:Illegal|Found invalid) character '\\n'",
        "a value in quotes goes on over the end of its line",
        said,
    )
    twice = re.match(r"Cannot declare \((.*?),?\) twice", said)
    if twice:
        name = ".".join(re.findall(r"'([^']*)'", twice[1]))
        said = f"[{name}] twice{said[twice.end() :]}"
    return said[:1].lower() + said[1:]


_BARE = re.compile(r"""[^=#"']*=\s*[^"'\[{\s]""")
"""A line in whose value, which stands without quotes, the reader stopped: any space is right there."""


def _stopped_at(said: str, raw: bytes) -> tuple[str, str]:
    """The character at which the TOML reader stopped, "" at the file's end, and its line up to there.

    Both "" where it names no place.
    """
    place = re.search(r"\(at line (\d+), column (\d+)\)", said)
    if not place:
        return "", ""
    # Its lines end where a line feed stands and nowhere else.
    lines = raw.decode("utf-8-sig").replace("\r\n", "\n").split("\n")
    column = int(place[2])
    line = lines[int(place[1]) - 1]
    return line[column - 1 : column], line[: column - 1]


def _toml_remedy(said: str, raw: bytes) -> str:
    """What to do about what the TOML reader says."""
    if said == _OLD_LINES:
        return "save it again with the line ends your editor usually writes"
    said = said.lower()
    character, before = _stopped_at(said, raw)
    if (hidden := hidden_remedy(character)) and not (character.isspace() and _BARE.match(before)):
        return hidden.replace(" in it,", " there,")
    if re.match(r"(illegal|found invalid) character '\\x", said):
        return "delete the character there, which many editors do not show, and write it anew"
    if "declaration" in said:
        return "close the name of the table with as many brackets as open it, like [board]"
    if "overwrite" in said or "twice" in said:
        return "a key or table stands there for the second time; delete one of the two"
    if "string" in said or "in quotes" in said or said.startswith(('expected "\'"', "expected '\"'")):
        return "end the value with the quotes it began with, on the same line"
    if "digits" in said:
        return "write the number shorter"
    if "unclosed" in said:
        return "close the list with ]"
    if any(quote in raw.decode("utf-8-sig") for quote in "\N{LEFT DOUBLE QUOTATION MARK}"
           "\N{RIGHT DOUBLE QUOTATION MARK}\N{DOUBLE LOW-9 QUOTATION MARK}"):  # fmt: skip
        return 'write straight quotes, ", in place of the curly ones'
    return 'values stand in quotes, like tilt = "6 deg"'
