"""The saw file: what test cuts say about one saw, kept for every bowl it will cut.

TOML in the manner of the bowl file: every quantity in quotes with its unit.
"""

import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from fitsim.quantities import ANGLE, LENGTH, RATIO
from fitsim.saw.kerf_and_scale import Saw
from fitsim.table_keys import KeyedFile, Reader, count, not_negative, positive, signed

__all__ = ["make_saw", "saw_text"]

SAW_READERS: dict[str, dict[str, Reader]] = {
    "saw": {
        "kerf": positive(LENGTH, "mm", 10), "kerf_sd": positive(LENGTH, "mm"),
        "tilt_offset": signed(ANGLE), "tilt_offset_sd": positive(ANGLE, "deg"),
        "correlation": signed(RATIO),
        "kerf_varies_sd": not_negative(LENGTH), "tilt_repeats_sd": not_negative(ANGLE),
        "rings": count, "slots": count, "bevels": count,
    },
}  # fmt: skip
"""Reader of every key of the saw file; all are needed."""


def saw_text(saw: Saw) -> str:
    """The saw file's text, which :func:`make_saw` reads back.

    Parameters
    ----------
    saw : Saw
        The saw.

    Returns
    -------
    str
        TOML.
    """
    degrees = {
        name: f"{math.degrees(value):.6f} deg"
        for name, value in (
            ("offset", saw.tilt_offset_rad),
            ("offset_sd", saw.tilt_offset_sd_rad),
            ("repeats", saw.tilt_repeats_sd_rad),
        )
    }
    # A JSON-like escape serves TOML's basic strings too: backslash and quote are all a name can hold.
    name = saw.name.replace("\\", "\\\\").replace('"', '\\"')
    return "\n".join([
        "# What one saw with one blade really does, worked out by: fitsim testcut",
        "# Use it with: fitsim fit FILE --saw THIS_FILE. Make it anew for another blade.",
        f'name = "{name}"',
        *([f'date = "{saw.date}"'] if saw.date else []),
        "",
        "[saw]",
        f'kerf = "{saw.kerf_mm:.6f} mm"',
        f'kerf_sd = "{saw.kerf_sd_mm:.6f} mm"             # standard deviation of what is known',
        f'tilt_offset = "{degrees["offset"]}"       # true tilt = scale + this',
        f'tilt_offset_sd = "{degrees["offset_sd"]}"',
        f'correlation = "{saw.correlation:.6f}"            # of kerf and offset',
        f'kerf_varies_sd = "{saw.kerf_varies_sd_mm:.6f} mm"      # from cut to cut, on top',
        f'tilt_repeats_sd = "{degrees["repeats"]}"    # from setting to setting, on top',
        f"rings = {saw.rings}",
        f"slots = {saw.slots}",
        f"bevels = {saw.gauges}",
        "",
    ])  # fmt: skip


def make_saw(tables: Mapping[str, Any], *, where: str = "") -> Saw:
    """A saw from tables written as in a saw file.

    Parameters
    ----------
    tables : Mapping
        As :func:`saw_text` writes them.
    where : str
        File name for the error messages.

    Returns
    -------
    Saw
        The saw.

    Raises
    ------
    InputError
        One line for every problem.
    """
    file = KeyedFile(SAW_READERS, where)
    top = file.top(tables)
    given = tables.get("saw", {})
    read = file.table("saw", "saw", given)
    for key in SAW_READERS["saw"]:
        if isinstance(given, Mapping) and key not in given:
            file.add(
                f"saw.{key}", "", "all keys of a saw file", "write it anew: fitsim testcut FILE --keep"
            )
    correlation = read.get("correlation")
    if correlation is not None and not -1 < correlation < 1:
        file.add("saw.correlation", f"{correlation:g}", "between -1 and 1", "write the saw file anew")
    file.done()
    return Saw(
        name=top.get("name", Path(where).stem or "saw"),
        kerf_mm=read["kerf"],
        kerf_sd_mm=read["kerf_sd"],
        tilt_offset_rad=math.radians(read["tilt_offset"]),
        tilt_offset_sd_rad=math.radians(read["tilt_offset_sd"]),
        correlation=read["correlation"],
        kerf_varies_sd_mm=read["kerf_varies_sd"],
        tilt_repeats_sd_rad=math.radians(read["tilt_repeats_sd"]),
        rings=read["rings"],
        slots=read["slots"],
        gauges=read["bevels"],
        date=top.get("date", ""),
    )
