"""A bowl file written: the text that the commands read."""

import json
import re
from collections.abc import Mapping
from typing import Any

from fitsim.bowlfile.keys import READERS

__all__ = ["bowl_text"]


def bowl_text(tables: Mapping[str, Any]) -> str:
    """The bowl file of a state, which the commands read.

    Parameters
    ----------
    tables : Mapping
        Tables of the bowl file, every value as text.

    Returns
    -------
    str
        TOML; keys in the order of ``fitsim new``, those it does not know last.
    """
    lines = [f"name = {_toml(tables['name'])}"] if "name" in tables else []
    for table in [*READERS, *(t for t in tables if t not in READERS)]:
        part = tables.get(table)
        if not isinstance(part, Mapping) or not part:
            continue
        known = list(READERS.get(table, {}))
        ordered = sorted(part, key=lambda name: known.index(name) if name in known else len(known))
        lines += ["", f"[{_toml_key(table)}]", *(f"{_toml_key(n)} = {_toml(part[n])}" for n in ordered)]
    return "\n".join(lines).lstrip("\n") + "\n"


def _toml(value: object) -> str:
    if isinstance(value, list):
        return f"[{', '.join(_toml(item) for item in value)}]"
    if isinstance(value, float):
        return f"{value:.9g}" if value != int(value) else str(int(value))
    # JSON's strings are TOML's basic strings, but for the one control sign that JSON lets stand.
    return json.dumps(str(value), ensure_ascii=False).replace("\x7f", "\\u007f")


def _toml_key(name: str) -> str:
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else _toml(name)
