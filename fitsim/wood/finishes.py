"""What a finish does to the slot: the thickness of its film and the friction it leaves.

A film (varnish, paint) narrows the slot on both faces; an oil hardly builds any thickness. Where no
measured friction was found the range is an estimate and says so.
"""

from dataclasses import dataclass

from fitsim.tables import read_table

__all__ = ["FINISHES", "Finish", "finish_named"]

FINISHES = tuple(row["finish"] for row in read_table("finishes"))


@dataclass(frozen=True)
class Finish:
    """One finish and what it brings into the slot.

    Attributes
    ----------
    name : str
        One of :data:`FINISHES`.
    film_low_mm, film_mm, film_high_mm : float
        Dry film on one face. [mm]
    film_mark, film_source : str
        "published", "from memory" or "estimated", and where from.
    friction_low, friction_high : float
        Range of the coefficient of friction between bevels. [-]
    friction_mark, friction_source : str
        As for the film.
    """

    name: str
    film_low_mm: float
    film_mm: float
    film_high_mm: float
    film_mark: str
    film_source: str
    friction_low: float
    friction_high: float
    friction_mark: str
    friction_source: str


def finish_named(name: str, *, wood_group: str) -> Finish:
    """Look up a finish on a hardwood or softwood bowl.

    Parameters
    ----------
    name : str
        One of :data:`FINISHES`.
    wood_group : str
        "softwood" has its own friction where one was published.

    Returns
    -------
    Finish
        Film and friction with their sources.

    Examples
    --------
    >>> finish_named("none", wood_group="hardwood").friction_high
    0.55
    """
    row = next(row for row in read_table("finishes") if row["finish"] == name)
    softer = [r for r in read_table("softwood_friction") if r["finish"] == name]
    low = float(row["friction_low"])
    source = row["friction_source"]
    if softer and wood_group == "softwood":
        low = float(softer[0]["friction_low"])
        source = f"{source}; low end for softwood: {softer[0]['friction_source']}"
    return Finish(
        name=name,
        film_low_mm=float(row["film_low_mm"]),
        film_mm=float(row["film_mm"]),
        film_high_mm=float(row["film_high_mm"]),
        film_mark=row["film_mark"],
        film_source=row["film_source"],
        friction_low=low,
        friction_high=float(row["friction_high"]),
        friction_mark=row["friction_mark"],
        friction_source=source,
    )
