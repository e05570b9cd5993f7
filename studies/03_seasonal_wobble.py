"""Why does a bowl that fitted in June rock in January, and what would help?

Question. A cherry bowl is sawn at 8 percent and kept in a heated house: once in an invented town inland
with cold winters, once on an invented mild humid coast. How far do its base and rim swing, when does each
kind of wobble peak, what is pulled tight if it is left open, and which moisture would have been best?

Method. ``fitsim seasons`` in the closed form (``--elastic``: with the springy strip at the worst weeks) for
both places, bowl opened afresh and left open since June; rings flat-sawn and quarter-sawn; every finish.

Answer (closed form, bowl of 9 turns as below).

    place        rim moisture   base rocks, worst   play at most   pulled tight since June   saw at
    cold town    2.3 to 13.9 %  0.49 mm, January    2.3 mm, June   1.3 MPa, September       8.1 %
    mild coast   7.9 to 13.5 %  0.46 mm, July       0.7 mm, July   0.4 MPa, October         10.7 %

- The rim follows the weeks, the base lags by days: the difference is at most half a point, in spring the
  rim is the damper one (play), in autumn the drier one (pulled tight, when left open).
- The base rocks as far as it has left the moisture it was sawn at: in the cold town January and August are
  alike because 8 percent lies half way; on the coast it was sawn too dry. Quarter-sawn it does not rock.
- A film cannot stop a season: two coats of paint take a tenth off the base's swing in the cold town.
  It halves a day, not a winter.
- Left open, the tension is a third of the strength across the grain in the cold town: not a break, but on
  top of the stress of opening it doubles the chance of splitting on the springy strip (22 to 45 in 100).
"""

import sys
from dataclasses import replace

import numpy as np

import fitsim
from fitsim.bowl import Bowl
from fitsim.place import Place, read_place
from fitsim.seasons import Asked, SeasonAnswer, seasons
from fitsim.yearfit import year_fit

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
    rim, base = year.rim_moisture_percent, year.base_moisture_percent
    print(f"{name}: rim {rim.min():.1f} to {rim.max():.1f} %, base {base.min():.1f} to {base.max():.1f} %")
    for worst in answer.worst:
        near = ", ".join(month[:3] for month in worst.months) or "no month"
        start = int(year.start_h[worst.week]) // 24
        print(f"  {worst.number} {worst.value:.3g} from day {start} ({worst.model}; near it in {near})")
    print(f"  saw at {saw.moisture_percent:.1f} % ({saw.low_percent:.1f} to {saw.high_percent:.1f})")


def _summary(answer: SeasonAnswer, left: SeasonAnswer) -> dict[str, float]:
    bowl = answer.bowl
    quarter = replace(bowl, board=replace(bowl.board, ring_angle_rad=np.pi / 2))
    quarter_year = year_fit(quarter, answer.place.air_percent)
    rim = answer.year.rim_moisture_percent
    finishes = {f.name: f for f in answer.advice.finishes}
    return {
        "rim_swing_points": float(np.ptp(rim)),
        "base_swing_points": float(np.ptp(answer.year.base_moisture_percent)),
        "driest_day": float(answer.year.start_h[answer.year.driest_week] / 24),
        "rock_mm": answer.worst[0].value,
        "quarter_sawn_rock_mm": float(quarter_year.base_rock_mm.max()),
        "play_mm": answer.worst[2].value,
        "hoop_MPa": float(left.left_open.hoop_MPa.max()),
        "saw_at_percent": answer.advice.saw_at.moisture_percent,
        "paint_swing_share": finishes["paint"].base_swing_points / finishes["none"].base_swing_points,
    }


def main(
    places: tuple[str, ...] = tuple(PLACES), *, across: str = "241.3 mm", elastic: bool = False
) -> dict[str, dict[str, float]]:
    """Print and return what each place does to the bowl.

    Parameters
    ----------
    places : tuple[str, ...]
        Names of :data:`PLACES`.
    across : str
        Diameter of the board; a smaller one has fewer turns.
    elastic : bool
        Press the springy strip at the worst weeks (some seconds each).

    Returns
    -------
    dict[str, dict[str, float]]
        Swings, worst numbers and advice, by place.
    """
    bowl: Bowl = fitsim.make_bowl({**TABLES, "board": {**TABLES["board"], "across": across}})
    found = {}
    for name in places:
        place = _place(name)
        afresh = seasons(bowl, place, Asked(rigid=not elastic))
        left = seasons(bowl, place, Asked(opened="left open", rigid=not elastic))
        _told(f"{name}, opened afresh", afresh)
        _told(f"{name}, left open since June", left)
        for event in left.events:
            weeks = f"weeks {event.first_week} to {event.last_week}"
            share = f"{event.hoop_MPa:.2f} MPa, {100 * event.strength_share:.0f} % of the strength"
            print(f"  pulled tight: turn {event.turn}, {weeks}, at most {share}")
        found[name] = _summary(afresh, left)
    return found


if __name__ == "__main__":
    for place_name, numbers in main(elastic="--elastic" in sys.argv[1:]).items():
        print(place_name, {key: round(value, 3) for key, value in numbers.items()})
