"""What ``fitsim seasons`` does with what was typed."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from fitsim.assume import demo_tables, make_bowl
from fitsim.errors import InputError, OutsideModelError, Problem
from fitsim.files import PICTURE_ENDINGS, check_target, file_name
from fitsim.learned import Learned, with_learned
from fitsim.picture import write_picture
from fitsim.place import ROOM_KEYS, read_place
from fitsim.seasons import Asked, seasons
from fitsim.seasonsdrawing import seasons_figure
from fitsim.seasonsobject import seasons_object
from fitsim.seasonsreport import seasons_report
from fitsim.tomlfile import tables_of_file

__all__ = ["seasons_told"]


def seasons_told(
    file: Path | None,
    *,
    width: int = 88,
    progress: Callable[[int, int], None] | None = None,
    **options: Any,
) -> str:
    """Follow the bowl of a file through a year, as it was typed.

    Parameters
    ----------
    file : pathlib.Path or None
        The bowl file; None for the demonstration bowl.
    width : int
        Columns of the terminal.
    progress : callable or None
        Called with how many pieces of work are done, and of how many.
    **options
        learned, weather, the keys of a room (indoor for its humidity), stored, opened, since_month,
        as_json, units, pictures and replace, as on the command line.

    Returns
    -------
    str
        What to print.

    Raises
    ------
    InputError
        One line for every problem.
    """
    for picture in options["pictures"]:
        check_target(Path(picture), replace=options["replace"], endings=PICTURE_ENDINGS)
    where = "demonstration bowl" if file is None else file_name(file)
    tables = demo_tables() if file is None else tables_of_file(file)
    bowl = make_bowl(tables, where=where)
    learned: Learned | None = options["learned"]
    if learned is not None:
        bowl = with_learned(bowl, learned)
    typed = {key: options.get({"humidity": "indoor"}.get(key, key)) for key in ROOM_KEYS}
    place = read_place(tables, where=where, weather=options["weather"], typed=typed)
    keys = ("stored", "opened", "since_month")
    asked = Asked(**{key: options[key] for key in keys})
    try:
        answer = seasons(bowl, place, asked, progress=progress)
    except InputError as error:
        raise _placed(error, where) from None
    except OutsideModelError as error:
        raise OutsideModelError(f"{where}: {error}") from None
    units = options["units"] or bowl.units
    for picture in options["pictures"]:
        write_picture(seasons_figure(answer, units=units), Path(picture), replace=options["replace"])
    if options["as_json"]:
        return json.dumps(seasons_object(answer), indent=2, allow_nan=False) + "\n"
    return seasons_report(answer, units=units, width=width)


def _placed(error: InputError, where: str) -> InputError:
    """The same problems with the name of the file."""
    return InputError(
        tuple(
            p if p.key.startswith("--") else Problem(where, p.key, p.value, p.expected, p.remedy)
            for p in error.problems
        )
    )
