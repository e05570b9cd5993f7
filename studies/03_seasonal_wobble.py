"""Why does a bowl that fitted in June rock in January, and what would help?

Question. A cherry bowl is sawn at 8 percent and kept in a heated house: once in an invented town inland
with cold winters, once on an invented mild humid coast. How far do its base and rim swing, when does it
wobble, does it lock in every week, what happens if it is left open, which moisture would have been best?

Method. ``fitsim seasons`` for both places, the elastic strip throughout; rings flat-sawn and quarter-sawn;
every finish; left open since June.

Answer (bowl of 9 turns as below; numbers of 1 December 2026).

    place        rim moisture   base rocks, worst   rise           press needed   would split   saw at
    cold town    2.3 to 13.9 %  0.49 mm, January    66.3 to 67.9   34 to 48 N     6 in 10000    8.0 %
    mild coast   7.9 to 13.5 %  0.46 mm, July       67.1 to 67.7   38 to 44 N     6 in 10000    10.7 %

- It locks in every week of both places. The rise swings by 2 percent in the cold town, hardly more than the
  thickness does; the rim is out of level by 2 mm in any week.
- What a maker notices is the base: it rocks as far as it has left the moisture it was sawn at. In the cold
  town January and August are alike because 8 percent lies half way; on the coast it was sawn too dry.
  Quarter-sawn it does not rock.
- A film cannot stop a season: two coats of paint take a tenth off the base's swing. It halves a day, not a
  winter.
- Left open it stands all the year in both. The first turn, drier than its base in autumn by half a point
  at most, is pulled by 0.20 MPa in the cold town (0.09 on the coast), a sixth of what a thin hoop on a
  solid that gives nothing would pull (1.3 MPa): the strip rolls and bends out of the way. Standing, at
  most 9 bowls in 10000 would split (coast 5), not many more than on opening in the worst week.
- Weeks between the pressed ones are good to 0.2 percent of the rise and 10 percent of the chance in the
  cold town, 0.01 and 0.7 percent on the coast.
"""

import argparse
from dataclasses import replace

import numpy as np

import fitsim
from fitsim.bowl.inputs import Bowl
from fitsim.climate.place import Place, read_place
from fitsim.report.seasons_in_words import seasons_headline
from fitsim.seasons.moisture_year import moisture_year
from fitsim.seasons.year import NUMBERS, Asked, SeasonAnswer, seasons

TABLES = {
    "name": "Study bowl",
    "board": {"wood": "cherry", "thickness": "19.05 mm", "across": "241.3 mm", "moisture": "8 %"},
    "cut": {"tilt": "5 deg", "kerf": "0.7 mm", "pitch": "7.94 mm", "base": "95.25 mm"},
    "use": {"finish": "none", "press": "100 N"},
}
# Invented monthly means, January first.
PLACES = {
    "cold town": (
        {
            "temperature_C": [-10, -8, -2, 6, 13, 19, 22, 20, 15, 8, 0, -7],
            "humidity_percent": [78, 76, 72, 66, 65, 68, 70, 73, 75, 74, 79, 81],
        },
        "20 C",
    ),
    "mild coast": (
        {
            "temperature_C": [8, 7.5, 8.5, 10, 12, 14, 15.5, 15.5, 14.5, 12.5, 10, 8.5],
            "humidity_percent": [85, 83, 81, 79, 79, 81, 82, 82, 83, 84, 85, 86],
        },
        "18 C",
    ),
}


def _place(name: str) -> Place:
    weather, heated = PLACES[name]
    return read_place({"weather": weather}, where=name, typed={"heated": heated})


def _told(name: str, answer: SeasonAnswer) -> None:
    year, saw = answer.year, answer.advice.saw_at
    rim, base = year.rim_percent, year.base_percent
    print(f"{name}: {seasons_headline(answer)}")
    print(f"  rim {rim.min():.1f} to {rim.max():.1f} %, base {base.min():.1f} to {base.max():.1f} %")
    for worst in answer.worst:
        near = ", ".join(month[:3] for month in worst.months) or "no month"
        start = int(year.start_h[worst.week]) // 24
        print(f"  {worst.number} {worst.value:.3g} from day {start} (near it in {near})")
    print(f"  saw at {saw.moisture_percent:.1f} % ({saw.low_percent:.1f} to {saw.high_percent:.1f})")


def _summary(answer: SeasonAnswer) -> dict[str, float]:
    bowl, held, weekly = answer.bowl, answer.left_open, answer.weekly
    quarter = replace(bowl, board=replace(bowl.board, ring_angle_rad=np.pi / 2))
    quarter_year = moisture_year(quarter, answer.place.air_percent)
    finishes = {f.name: f for f in answer.advice.finishes}
    rises, needed = weekly.each("rise_mm"), weekly.each("needed_N")
    standing = np.delete(held.split_chance, held.opened_week)
    return {
        "rim_swing_points": float(np.ptp(answer.year.rim_percent)),
        "base_swing_points": float(np.ptp(answer.year.base_percent)),
        "driest_day": float(answer.year.start_h[answer.year.driest_week] / 24),
        "rock_mm": answer.worst[NUMBERS.index("base_rock_mm")].value,
        "quarter_sawn_rock_mm": float(quarter_year.base_rock_mm.max()),
        "least_rise_mm": float(np.min(rises)),
        "greatest_rise_mm": float(np.max(rises)),
        "least_press_N": float(np.min(needed)),
        "greatest_press_N": float(np.max(needed)),
        "split_chance": answer.worst[NUMBERS.index("split_chance")].value,
        "stands": float(held.ends == ""),
        "standing_split_chance": float(np.nanmax(standing)),
        "pull_MPa": float(np.nanmax(held.pull_MPa)),
        "saw_at_percent": answer.advice.saw_at.moisture_percent,
        "paint_swing_share": finishes["paint"].base_swing_points / finishes["none"].base_swing_points,
        "rise_within": weekly.rise_within,
        "chance_within": weekly.chance_within,
    }


def main(
    places: tuple[str, ...] = tuple(PLACES), *, across: str = "241.3 mm"
) -> dict[str, dict[str, float]]:
    """Print and return what each place does to the bowl, some half a minute each on two processors.

    Parameters
    ----------
    places : tuple[str, ...]
        Names of :data:`PLACES`.
    across : str
        Diameter of the board; a smaller one has fewer turns.

    Returns
    -------
    dict[str, dict[str, float]]
        Swings, worst numbers and advice, by place.
    """
    bowl: Bowl = fitsim.make_bowl({**TABLES, "board": {**TABLES["board"], "across": across}})
    found = {}
    for name in places:
        answer = seasons(bowl, _place(name), Asked())
        _told(name, answer)
        found[name] = _summary(answer)
    return found


if __name__ == "__main__":
    argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter).parse_args()
    for place_name, numbers in main().items():
        print(place_name, {key: round(value, 5) for key, value in numbers.items()})
