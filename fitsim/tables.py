"""The published tables packaged with the program, each row with its source and its mark."""

import csv
from functools import cache
from importlib import resources

__all__ = ["MARKS", "read_table"]

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
    text = resources.files("fitsim").joinpath("data", f"{name}.csv").read_text(encoding="utf8")
    return tuple(csv.DictReader(text.splitlines()))
