"""What ``fitsim seasons`` does with what was typed."""

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from fitsim.bowlfile.defaults import demo_tables, make_bowl
from fitsim.climate.place import read_place
from fitsim.drawing.picture_files import write_picture
from fitsim.drawing.seasons_drawing import seasons_figure
from fitsim.errors import InputError, OutsideModelError, Problem
from fitsim.files import PICTURE_ENDINGS, check_target, file_name
from fitsim.report.seasons_json import seasons_object
from fitsim.report.seasons_report import seasons_report
from fitsim.saw.learned import Learned, with_learned
from fitsim.seasons.year import Asked, seasons
from fitsim.toml_files import tables_of_file

__all__ = ["SeasonsRequest", "answer_seasons"]


@dataclass(frozen=True)
class SeasonsRequest:
    """What was typed after ``fitsim seasons``.

    Attributes
    ----------
    learned : Learned or None
        What tests in the workshop have taught.
    weather : Path or None
        A file with a year of weather.
    indoor : str or None
        How dry and how damp the room gets, in place of weather.
    heated : str or None
        Never colder.
    cooled : str or None
        Never warmer.
    humidifier : str or None
        Humidity is kept above.
    dehumidifier : str or None
        Humidity is kept below.
    added : str or None
        Vapour people add to the room.
    driest_month : str or None
        Of the indoor range.
    stored : str
        "open" or "flat".
    opened : str
        "afresh" or "left open".
    since_month : int or None
        Month since which it stands open.
    as_json : bool
        Whether one JSON object is wanted.
    units : str or None
        "in" or "mm"; None: as in the file.
    pictures : tuple[Path, ...]
        Files to draw into.
    replace : bool
        Whether files may be overwritten.
    """

    learned: Learned | None
    weather: Path | None
    indoor: str | None
    heated: str | None
    cooled: str | None
    humidifier: str | None
    dehumidifier: str | None
    added: str | None
    driest_month: str | None
    stored: str
    opened: str
    since_month: int | None
    as_json: bool
    units: str | None
    pictures: tuple[Path, ...]
    replace: bool


def answer_seasons(
    file: Path | None,
    *,
    width: int = 88,
    progress: Callable[[int, int], None] | None = None,
    asked: SeasonsRequest,
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
    asked : SeasonsRequest
        What was typed.

    Returns
    -------
    str
        What to print.

    Raises
    ------
    InputError
        One line for every problem.
    """
    for picture in asked.pictures:
        check_target(picture, replace=asked.replace, endings=PICTURE_ENDINGS)
    where = "demonstration bowl" if file is None else file_name(file)
    tables = demo_tables() if file is None else tables_of_file(file)
    bowl = make_bowl(tables, where=where)
    if asked.learned is not None:
        bowl = with_learned(bowl, asked.learned, units=asked.units)
    place = read_place(tables, where=where, weather=asked.weather, typed=_typed_room(asked))
    question = Asked(stored=asked.stored, opened=asked.opened, since_month=asked.since_month)
    try:
        answer = seasons(bowl, place, question, progress=progress)
    except InputError as error:
        raise _placed(error, where) from None
    except OutsideModelError as error:
        raise OutsideModelError(f"{where}: {error}") from None
    units = asked.units or bowl.units
    for picture in asked.pictures:
        write_picture(seasons_figure(answer, units=units), picture, replace=asked.replace)
    if asked.as_json:
        return json.dumps(seasons_object(answer), indent=2, allow_nan=False) + "\n"
    return seasons_report(answer, units=units, width=width)


def _typed_room(asked: SeasonsRequest) -> dict[str, str | None]:
    """What was typed of the room, by its keys in the bowl file."""
    return {
        "heated": asked.heated,
        "cooled": asked.cooled,
        "humidifier": asked.humidifier,
        "dehumidifier": asked.dehumidifier,
        "added": asked.added,
        "humidity": asked.indoor,
        "driest_month": asked.driest_month,
    }


def _placed(error: InputError, where: str) -> InputError:
    """The same problems with the name of the file."""
    return InputError(
        tuple(
            p if p.key.startswith("--") else Problem(where, p.key, p.value, p.expected, p.remedy)
            for p in error.problems
        )
    )
