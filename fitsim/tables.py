"""The published tables packaged with the program, each row with its source and its mark."""

import csv
from functools import cache
from pathlib import Path

__all__ = ["MARKS", "packaged_file", "packaged_text", "read_table"]

MARKS = ("published", "from memory", "estimated")


@cache
def read_table(name: str) -> tuple[dict[str, str], ...]:
    """Read one packaged table.

    Parameters
    ----------
    name : str
        File name without its ending, for example ``"nails"``.

    Returns
    -------
    tuple[dict[str, str], ...]
        Rows by column name, as text.
    """
    return tuple(csv.DictReader(packaged_text(f"{name}.csv").splitlines()))


def packaged_text(name: str) -> str:
    """Text of one file of the package's data folder.

    Parameters
    ----------
    name : str
        File name with its ending.

    Returns
    -------
    str
        Its contents.
    """
    return packaged_file(name).read_text(encoding="utf8")


def packaged_file(name: str) -> Path:
    """Where one file of the package's data folder lies.

    Parameters
    ----------
    name : str
        File name with its ending.

    Returns
    -------
    pathlib.Path
        The file.
    """
    return Path(__file__).parent / "data" / name
