"""What ``fitsim testcut`` does with what was typed: a file to start from, or what the cuts say."""

import textwrap
from collections.abc import Callable
from pathlib import Path

from fitsim.files import check_target, file_name, write_whole
from fitsim.sawfile import saw_text
from fitsim.sawreport import SCRAP_CAUTION, saw_object_text, saw_report
from fitsim.scrapfile import read_cuts
from fitsim.tables import packaged_text
from fitsim.testcut import estimate_saw, refuse_misfit
from fitsim.wording import CAUTIONS

__all__ = ["testcut_told"]


def testcut_told(
    file: Path,
    *,
    new: bool,
    keep: Path | None,
    tilts_rad: tuple[float, ...],
    as_json: bool,
    units: str | None,
    replace: bool,
    width: int,
    note: Callable[[str], None],
) -> str:
    """Learn a saw from the test cuts in a file, or write a file to start from.

    Parameters
    ----------
    file : Path
        The test cuts.
    new : bool
        Write a commented file there.
    keep : Path or None
        Where to keep what was learned.
    tilts_rad : tuple of float
        Settings of the scale whose drop is to be foretold. [rad]
    as_json : bool
        One JSON object in place of the report.
    units : str or None
        "in" or "mm"; None: as in the file.
    replace : bool
        Files may be overwritten.
    width : int
        Of the report. [characters]
    note : callable
        Called with a line for each file kept.

    Returns
    -------
    str
        What to print.

    Raises
    ------
    InputError
        If the file is not right, or the cuts contradict each other.
    """
    name = file_name(file)
    if new:
        write_whole(file, packaged_text("starter_testcut.toml").encode("utf8"), replace=replace)
        written = f"Written: {name}. Write your readings into it, then: fitsim testcut {name}"
        cautions = textwrap.wrap("At the saw: " + " ".join((SCRAP_CAUTION, *CAUTIONS)), width)
        return "\n".join([written, *cautions]) + "\n"
    if keep is not None:
        check_target(keep, replace=replace and keep.resolve() != file.resolve())
    cuts = read_cuts(file)
    estimate = estimate_saw(cuts, where=name)
    refuse_misfit(estimate, where=name)
    if keep is not None:
        write_whole(keep, saw_text(estimate.saw).encode("utf8"), replace=replace)
        note(f"Kept: {keep}. Use it with: fitsim fit FILE --saw {keep}")
    if as_json:
        return saw_object_text(estimate, scale_tilts_rad=tilts_rad) + "\n"
    return saw_report(estimate, units=units or cuts.units, scale_tilts_rad=tilts_rad, width=width)
