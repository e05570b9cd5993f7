"""Moisture of a board from weights before and after an oven, or from a meter.

Moisture is the water over the dry wood: (w - w0)/w0. Pieces of one board differ a little; a meter has an
error that all its readings share, so many of them tell hardly more than one; whether they are readings of
one board at all is asked first, as if none of that error were shared. Before a reading any moisture from 0
to 30 percent counts as likely as any other, so what is believed afterwards is the mean of all readings,
each weighed by its precision.
"""

import math
from dataclasses import dataclass, replace

from fitsim.assumption import Assumption
from fitsim.errors import InputError, Problem
from fitsim.saw.measurements import WITHIN_SDS
from fitsim.saw.posterior import MISFIT_CHANCE, Agreement, agreement, chance_of_misfit

__all__ = [
    "MOISTURE_DEFAULTS",
    "BoardMoisture",
    "MeterReading",
    "MoistureEstimate",
    "MoistureTests",
    "OvenPiece",
    "estimate_moisture",
    "oven_moisture_percent",
    "refuse_moisture",
]

MOISTURE_DEFAULTS = {
    "oven.within": Assumption(
        "oven.within", "0.1 g", "0.02 g", "1 g", "estimated",
        "a letter or kitchen scale that shows tenths of a gram; take a larger piece on a coarser one",
    ),
    "meter.within": Assumption(
        "meter.within", "2 %", "1 %", "3 %", "estimated",
        "percentage points, set to the right wood; common practice, no published source",
    ),
    "moisture.varies": Assumption(
        "moisture.varies", "0.6 %", "0.2 %", "1.5 %", "estimated",
        "percentage points from piece to piece of one board kept indoors; no published figure found",
    ),
}  # fmt: skip
"""What stands in for a key left out, by key of the file of tests; each holds 19 times in 20."""

OVEN_SD_g, METER_SD_percent, MOISTURE_VARIES_SD_percent = (v / WITHIN_SDS for v in (0.1, 2.0, 0.6))


@dataclass(frozen=True)
class OvenPiece:
    """One off-cut weighed before and after the oven.

    Attributes
    ----------
    wet_g, dry_g : float
        As it came off the board, and when it lost no more. [g]
    sd_g : float
        Standard deviation of one weighing. [g]
    """

    wet_g: float
    dry_g: float
    sd_g: float = OVEN_SD_g


@dataclass(frozen=True)
class MeterReading:
    """One reading of a moisture meter.

    Attributes
    ----------
    reading_percent : float
        Moisture content it showed. [percent]
    sd_percent : float
        Standard deviation of the meter, common to all its readings. [percent]
    """

    reading_percent: float
    sd_percent: float = METER_SD_percent


@dataclass(frozen=True)
class MoistureTests:
    """Every reading of one board's moisture.

    Attributes
    ----------
    pieces : tuple[OvenPiece, ...]
        From the oven.
    meters : tuple[MeterReading, ...]
        From a meter.
    varies_sd_percent : float
        Standard deviation from piece to piece. [percent]
    wood : str
        Name of the wood; "" where none is named.
    """

    pieces: tuple[OvenPiece, ...] = ()
    meters: tuple[MeterReading, ...] = ()
    varies_sd_percent: float = MOISTURE_VARIES_SD_percent
    wood: str = ""


@dataclass(frozen=True)
class BoardMoisture:
    """Moisture of one board on the day it was measured.

    Attributes
    ----------
    name, date : str
        Of the tests; the day may be "".
    moisture_percent, sd_percent : float
        Mean and standard deviation of what is known. [percent]
    pieces, meters : int
        How many readings it rests on.
    wood : str
        Name of the wood; "" where none was named.
    """

    name: str
    date: str
    moisture_percent: float
    sd_percent: float
    pieces: int
    meters: int
    wood: str = ""


@dataclass(frozen=True)
class MoistureEstimate:
    """What the readings say, and whether they agree.

    Attributes
    ----------
    moisture : BoardMoisture
        What is known.
    agreement : Agreement
        Among pieces and the meter as one more, and among the meter's readings. [percent]
    labels : tuple[str, ...]
        Names in messages of what may be doubtful, in its order: "oven 1", "meter", "meter 1".
    values_percent : tuple[float, ...]
        What each says. [percent]
    """

    moisture: BoardMoisture
    agreement: Agreement
    labels: tuple[str, ...]
    values_percent: tuple[float, ...]


def oven_moisture_percent(piece: OvenPiece) -> tuple[float, float]:
    """Moisture content of one piece, 100 (w - w0)/w0, and its standard deviation from the weighings.

    Parameters
    ----------
    piece : OvenPiece
        The weights.

    Returns
    -------
    tuple[float, float]
        Moisture and standard deviation. [percent]

    Examples
    --------
    >>> [round(v, 2) for v in oven_moisture_percent(OvenPiece(wet_g=54.0, dry_g=50.0, sd_g=0.05))]
    [8.0, 0.15]
    """
    ratio = piece.wet_g / piece.dry_g
    return 100 * (ratio - 1), 100 * piece.sd_g * math.hypot(1, ratio) / piece.dry_g


def estimate_moisture(tests: MoistureTests, *, name: str = "My tests", date: str = "") -> MoistureEstimate:
    """Moisture of a board from all readings.

    Parameters
    ----------
    tests : MoistureTests
        At least one reading.
    name, date : str
        Kept with the result.

    Returns
    -------
    MoistureEstimate
        Mean by precision; see :func:`refuse_moisture`.
    """
    varies = tests.varies_sd_percent
    found = [oven_moisture_percent(piece) for piece in tests.pieces]
    values = [value for value, _ in found]
    sds = [math.hypot(sd, varies) for _, sd in found]
    labels = [f"oven {i}" for i in range(1, len(values) + 1)]
    shown = [m.reading_percent for m in tests.meters]
    if shown:
        values.append(sum(shown) / len(shown))
        sds.append(math.hypot(max(m.sd_percent for m in tests.meters), varies / math.sqrt(len(shown))))
        labels.append("meter")
    weights = [1 / sd**2 for sd in sds]
    mean = sum(w * v for w, v in zip(weights, values, strict=True)) / sum(weights)
    return MoistureEstimate(
        BoardMoisture(
            name, date, mean, sum(weights) ** -0.5, len(tests.pieces), len(tests.meters), tests.wood
        ),
        _agreement(values, sds, shown, [math.hypot(m.sd_percent, varies) for m in tests.meters]),
        (*labels, *(f"meter {i}" for i in range(1, len(shown) + 1))),
        (*values, *shown),
    )


def _agreement(
    values: list[float], sds: list[float], shown: list[float], shown_sds: list[float]
) -> Agreement:
    """Both questions as one: their sums of squares and their degrees of freedom are added up.

    Where they fail together, the one that fails worse names what is doubtful.
    """
    parts = agreement(values, sds), agreement(shown, shown_sds)
    chi_square, freedom = sum(p.chi_square for p in parts), sum(p.freedom for p in parts)
    whole = Agreement(chi_square, freedom, chance_of_misfit(chi_square, freedom), (), math.nan)
    worse = min(parts, key=lambda p: p.chance)
    if min(whole.chance, worse.chance) >= MISFIT_CHANCE:
        return whole
    if worse is parts[1]:
        named = agreement(shown, shown_sds, limit=1.0)
        return replace(named, doubtful=tuple(len(values) + i for i in named.doubtful))
    return agreement(values, sds, limit=1.0)


_REMEDIES = {
    "oven": "weigh it again, or leave it out if it came from another board or was not yet dry",
    "meter": "read the meter again, set to this wood, and leave out what was read on another board",
}


def refuse_moisture(estimate: MoistureEstimate, *, where: str = "") -> None:
    """Refuse readings of moisture that cannot all be right.

    Parameters
    ----------
    estimate : MoistureEstimate
        The estimate.
    where : str
        File name for the error message.

    Raises
    ------
    InputError
        One line that names the readings to look at again.
    """
    found = estimate.agreement
    if not found.doubtful:
        return
    labels = [estimate.labels[i] for i in found.doubtful]
    shown = [f"{estimate.values_percent[i]:.1f} %" for i in found.doubtful]
    test = f"chi-square {found.chi_square:.1f} on {found.freedom:.3g}"
    if len(labels) > 1:
        expected = f"readings of one moisture; {' and '.join(labels)} are too far apart ({test})"
    else:
        expected = f"about {found.expected:.1f} % by all the other readings ({test})"
    remedy = "; ".join(dict.fromkeys(_REMEDIES[label.split()[0]] for label in labels))
    raise InputError(Problem(where, ", ".join(labels), " and ".join(shown), expected, remedy))
