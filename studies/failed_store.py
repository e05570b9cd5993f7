"""Rows of long studies, stored as they come: JSON lines, so that a study goes on where it was stopped."""

import json
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor, as_completed
from pathlib import Path
from typing import Any

from fitsim.progress import ProgressLine


def stored(path: Path) -> list[dict[str, Any]]:
    """Rows of a store of JSON lines; a line cut off by a stop is left out."""
    rows = []
    if path.exists():
        for line in path.read_text(encoding="utf8").splitlines():
            try:
                rows.append(json.loads(line))
            except ValueError:
                continue
    return rows


def store_each(
    name: str, path: Path, work: Callable[[Any], dict[str, Any]], wanted: list[Any], processes: int
) -> None:
    """Do every job and store its row as soon as it is there, in whatever order they end."""
    if not wanted:
        return
    progress = ProgressLine(name)
    cut_off = path.exists() and not path.read_bytes().endswith(b"\n")
    with ProcessPoolExecutor(processes) as pool:
        for at, done in enumerate(as_completed([pool.submit(work, job) for job in wanted])):
            with path.open("a", encoding="utf8") as file:
                file.write(("\n" if cut_off else "") + json.dumps(done.result()) + "\n")
            cut_off = False
            progress(at + 1, len(wanted))
