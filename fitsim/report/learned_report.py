"""What tests in the workshop say: a short report for a maker, and one JSON object for programs.

The saw's part is :mod:`fitsim.report.saw_report`'s; here are friction, strength across the grain and
moisture.
"""

import json
import math
import textwrap
from dataclasses import asdict
from typing import Any

from fitsim.quantities import KILOGRAM_N, POUND_N, show_length
from fitsim.report.common_words import CAUTIONS, TEST_CAUTIONS, taken_as
from fitsim.report.saw_report import SCRAP_CAUTION, saw_object, saw_report
from fitsim.saw.break_test import StrengthEstimate, strip_loads_N
from fitsim.saw.kerf_and_scale import RANGE_SDS, RANGE_SHARE
from fitsim.saw.learned import TestResults
from fitsim.saw.oven_test import MoistureEstimate
from fitsim.saw.posterior import Agreement
from fitsim.saw.slide_test import FrictionEstimate, slide_angle_rad
from fitsim.version import VERSION
from fitsim.wood.across_grain import SHAPES, STANDARD_STRIP, mean_load_N, standard_strip, weibull_shape
from fitsim.wood.weakest_link import reference_volume_mm3

__all__ = ["learned_object", "learned_object_text", "learned_report"]

SURELY = 0.995
"""A chance above this is told as 100 percent: that readings agree is then said without it. [-]"""


def learned_report(
    results: TestResults, *, units: str, scale_tilts_rad: tuple[float, ...] = (), width: int = 88
) -> str:
    """What the tests of one file say, as text.

    Parameters
    ----------
    results : TestResults
        The estimates.
    units : str
        "in" or "mm".
    scale_tilts_rad : tuple[float, ...]
        Settings to predict a ring's drop for. [rad]
    width : int
        Columns of the terminal.

    Returns
    -------
    str
        Ready to print; with a saw's cuts alone it is the saw's report.
    """
    tests = results.tests
    parts: list[str] = []
    if results.friction is not None:
        parts.append(_friction_sentences(results.friction))
    if results.strength is not None:
        parts.append(_strength_sentences(results.strength, units))
    if results.moisture is not None:
        parts.append(_moisture_sentences(results.moisture))
    saw = ""
    if results.saw is not None:
        saw = saw_report(results.saw, units=units, scale_tilts_rad=scale_tilts_rad, width=width)
    if not parts:
        return saw
    lines = [f"{tests.name}{', ' + tests.date if tests.date else ''}"]
    for part in parts:
        lines += ["", *textwrap.wrap(part, width)]
    if tests.assumptions:
        lines += ["", 'Taken for granted, because the file does not say ("within" holds 19 times in 20):']
        for a in tests.assumptions:
            mark = "ESTIMATE" if a.mark == "estimated" else a.mark
            text = f"{a.key} {taken_as(a, units=units)}, {mark}: {a.source}"
            lines += textwrap.wrap(text, width, initial_indent="  ", subsequent_indent="    ")
    cautions = TEST_CAUTIONS if saw else (*TEST_CAUTIONS, CAUTIONS[-1])
    lines += ["", *textwrap.wrap("At the tests: " + " ".join(cautions), width)]
    told = "\n".join(lines) + "\n"
    return f"{told}\n{saw}" if saw else told


def _agreement_words(found: Agreement, things: str, count: int) -> str:
    if found.freedom < 1 or found.chance > SURELY:
        if count > 1:  # as where all but one only say "at least", below what that one says
            return f"The {things} do not contradict one another."
        return "There is no second reading yet to check the first against."
    apart = f"{100 * found.chance:.0f} times in 100"
    return f"The {things} agree: good ones would differ more than these do {apart}."


def _friction_sentences(estimate: FrictionEstimate) -> str:
    found, tests = estimate.friction, estimate.tests
    angles = [
        f"{math.degrees(slide_angle_rad(v)):.0f} deg" for v in (found.friction, found.low, found.high)
    ]
    finish = "bare" if found.finish == "none" else f"finished with {found.finish}"
    wood = found.wood or "off-cuts"
    held = sum(1 for s in tests.slides if s.held)
    count = f"{found.slides} slide{'s' if found.slides > 1 else ''}{f' ({held} held)' if held else ''}"
    return (
        f"From {count} of {wood}, {finish}, nine times in ten: friction is {found.friction:.2f} "
        f"({found.low:.2f} to {found.high:.2f}), off-cuts sliding at {angles[0]} ({angles[1]} to "
        f"{angles[2]}); before it was {tests.believed_low:g} to {tests.believed_high:g}. "
        f"{_agreement_words(estimate.agreement, 'slides', found.slides)}"
    )


def _load_words(force_N: float, units: str) -> str:
    return f"{force_N / POUND_N:.1f} lb" if units == "in" else f"{force_N / KILOGRAM_N:.1f} kg"


def _strength_sentences(estimate: StrengthEstimate, units: str) -> str:
    strength = estimate.strength
    shape = weibull_shape().value
    mean, ends = strength.across.at_shape(shape)[0], strength.across.range_MPa(shape)
    middle, low, high = (
        _load_words(v, units) for v in strip_loads_N(estimate.tests, standard_strip(units))
    )
    size = standard_strip(units)
    width, thickness, span = (
        show_length(v, units=units) for v in (size.width_mm, size.thickness_mm, size.span_mm)
    )
    against = "stronger" if estimate.board_factor >= 1 else "weaker"
    moisture = estimate.tests.moisture_percent
    usual = mean_load_N(
        size, mean_MPa=estimate.before_MPa, shape=weibull_shape().value, moisture_percent=moisture
    )
    strips = f"{strength.strips} test strip{'s' if strength.strips > 1 else ''}"
    return (
        f"From {strips} of {strength.wood} broken across the grain, nine times in ten: this board bears "
        f"{estimate.low_MPa:.1f} to {estimate.high_MPa:.1f} MPa across the grain in pieces as large as the "
        f"handbook's ({estimate.before_MPa:.1f} MPa there for a board sawn this way), over all size "
        f"rules, each by how well it fits. With the middle one, by which bowls are judged, it is "
        f"{mean:.2f} MPa ({ends[0]:.2f} to {ends[1]:.2f}): "
        f"{abs(estimate.board_factor - 1):.0%} {against} than the usual board. Test strips of it {width} "
        f"wide and {thickness} thick on supports {span} apart break at {middle} on the average "
        f"({low} to {high}) as moist as these; of the usual board at {_load_words(usual, units)}. "
        f"{_agreement_words(estimate.agreement, 'test strips', strength.strips)}"
    )


def _moisture_sentences(estimate: MoistureEstimate) -> str:
    found = estimate.moisture
    reach = RANGE_SDS * found.sd_percent
    counts = ((found.pieces, "oven reading"), (found.meters, "meter reading"))
    listed = " and ".join(f"{n} {word}{'s' if n > 1 else ''}" for n, word in counts if n)
    return (
        f"From {listed}, nine times in ten: the board is at {found.moisture_percent:.1f} % moisture "
        f"({max(found.moisture_percent - reach, 0.0):.1f} to {found.moisture_percent + reach:.1f} %). "
        f"{_agreement_words(estimate.agreement, 'readings', found.pieces + found.meters)}"
    )


def learned_object(results: TestResults, *, scale_tilts_rad: tuple[float, ...] = ()) -> dict[str, Any]:
    """What the tests of one file say, as plain lists and dictionaries.

    Parameters
    ----------
    results : TestResults
        The estimates.
    scale_tilts_rad : tuple[float, ...]
        Settings to predict a ring's drop for. [rad]

    Returns
    -------
    dict
        The saw's keys on top where it was tested; "friction", "strength" and "moisture", null where not.
    """
    tests = results.tests
    saw = (
        {"program_version": VERSION, "name": tests.name, "date": tests.date or None, "assumptions": []}
        if results.saw is None
        else saw_object(results.saw, scale_tilts_rad=scale_tilts_rad)
    )
    return {
        **saw,
        "range_share": RANGE_SHARE,
        "friction": None if results.friction is None else _friction_object(results.friction),
        "strength": None if results.strength is None else _strength_object(results.strength),
        "moisture": None if results.moisture is None else _moisture_object(results.moisture),
        "assumptions": [*saw["assumptions"], *(asdict(a) for a in tests.assumptions)],
        "cautions": [SCRAP_CAUTION, *TEST_CAUTIONS, *CAUTIONS],
    }


def _agreement_object(found: Agreement) -> dict[str, Any]:
    return {
        "chi_square": found.chi_square,
        "degrees_of_freedom": found.freedom,
        "chance_of_worse": found.chance,
    }


def _friction_object(estimate: FrictionEstimate) -> dict[str, Any]:
    found = estimate.friction
    angles = (found.friction, found.low, found.high)
    return {
        "finish": found.finish,
        "wood": found.wood or None,
        "slides": found.slides,
        "friction": found.friction,
        "friction_range": [found.low, found.high],
        "slide_angle_deg": [math.degrees(slide_angle_rad(v)) for v in angles],
        **_agreement_object(estimate.agreement),
    }


def _strength_object(estimate: StrengthEstimate) -> dict[str, Any]:
    strength = estimate.strength
    across = strength.across
    return {
        "wood": strength.wood,
        "ring_angle_deg": math.degrees(across.ring_angle_rad),
        "strips": strength.strips,
        "across_range_MPa": [estimate.low_MPa, estimate.high_MPa],
        "handbook_MPa": estimate.before_MPa,
        "board_factor": estimate.board_factor,
        "board_factor_cov": estimate.board_factor_cov,
        "by_shape": [
            {
                "shape": shape,
                "mean_MPa": mean,
                "cov": cov,
                "reference_volume_mm3": reference_volume_mm3(shape),
            }
            for shape, mean, cov in zip(SHAPES, across.mean_MPa, across.cov, strict=True)
        ],
        "standard_strip_load_N": list(strip_loads_N(estimate.tests, STANDARD_STRIP)),
        **_agreement_object(estimate.agreement),
    }


def _moisture_object(estimate: MoistureEstimate) -> dict[str, Any]:
    found = estimate.moisture
    reach = RANGE_SDS * found.sd_percent
    return {
        "wood": found.wood or None,
        "moisture_percent": found.moisture_percent,
        "sd_percent": found.sd_percent,
        "range_percent": [max(found.moisture_percent - reach, 0.0), found.moisture_percent + reach],
        "oven_pieces": found.pieces,
        "meter_readings": found.meters,
        **_agreement_object(estimate.agreement),
    }


def learned_object_text(results: TestResults, *, scale_tilts_rad: tuple[float, ...] = ()) -> str:
    """What the tests of one file say, as one JSON object.

    Parameters
    ----------
    results : TestResults
        The estimates.
    scale_tilts_rad : tuple[float, ...]
        Settings to predict a ring's drop for. [rad]

    Returns
    -------
    str
        JSON without infinities.
    """
    found = learned_object(results, scale_tilts_rad=scale_tilts_rad)
    return json.dumps(found, indent=2, allow_nan=False)
