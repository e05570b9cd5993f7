"""What test cuts say about a saw: a short report for a maker, and one JSON object for programs."""

import math
import textwrap
from dataclasses import asdict
from typing import Any

from fitsim.quantities import INCH_MM, finite_or_none, show_length
from fitsim.report.common_words import CAUTIONS, taken_as
from fitsim.saw.kerf_and_scale import RANGE_SDS, RANGE_SHARE, DropAhead, Saw, drop_at, joint_region
from fitsim.saw.next_cut import NextCut, next_cuts, trade_off
from fitsim.saw.test_cuts import SawEstimate
from fitsim.version import VERSION

__all__ = ["SCRAP_CAUTION", "TILTS_SHOWN_RAD", "saw_object", "saw_report"]

TILTS_SHOWN_RAD = tuple(math.radians(v) for v in (4.0, 6.0, 8.0))
"""Settings whose drop is predicted when none is asked for."""

NO_TIE_mm = 1e-6
"""Kerf and tilt are not tied where a tenth of a degree goes with less kerf than this: rounding."""

SCRAP_CAUTION = (
    "Saw test rings in a piece of scrap large enough to hold with both hands far from the blade."
)


def saw_report(
    estimate: SawEstimate, *, units: str, scale_tilts_rad: tuple[float, ...] = (), width: int = 88
) -> str:
    """What the test cuts say, as text.

    Parameters
    ----------
    estimate : SawEstimate
        The estimate.
    units : str
        "in" or "mm".
    scale_tilts_rad : tuple[float, ...]
        Settings to predict the drop for; :data:`TILTS_SHOWN_RAD` if empty. [rad]
    width : int
        Columns of the terminal.

    Returns
    -------
    str
        Ready to print.
    """
    saw = estimate.saw
    heading = f"{saw.name}{', ' + saw.date if saw.date else ''}"
    parts = [
        f"From {_basis(estimate)}, nine times in ten: {_kerf(estimate, units)}; {_offset(estimate)}.",
        _open_between(estimate, units),
        _agreement(estimate),
        _further(estimate),
    ]
    lines = [heading, *_wrapped(" ".join(part for part in parts[:2] if part), width)]
    for part in parts[2:]:
        lines += _wrapped(part, width)
    lines += ["", *_drops(estimate, units, scale_tilts_rad or TILTS_SHOWN_RAD)]
    if estimate.cuts.assumptions:
        lines += ["", 'Taken for granted, because the file does not say ("within" holds 19 times in 20):']
        for a in estimate.cuts.assumptions:
            mark = "ESTIMATE" if a.mark == "estimated" else a.mark
            text = f"{a.key} {taken_as(a, units=units)}, {mark}: {a.source}"
            lines += textwrap.wrap(text, width, initial_indent="  ", subsequent_indent="    ")
    lines += ["", *_wrapped("At the saw: " + " ".join((SCRAP_CAUTION, *CAUTIONS)), width)]
    return "\n".join(lines) + "\n"


def _wrapped(text: str, width: int) -> list[str]:
    return textwrap.wrap(text, width)


def _basis(estimate: SawEstimate) -> str:
    fell = sum(1 for r in estimate.cuts.rings if r.drop_mm is None)
    saw = estimate.saw
    counts = ((saw.rings, "scrap ring"), (saw.slots, "slot"), (saw.gauges, "bevel gauge reading"))
    listed = [f"{n} {word}{'s' if n > 1 else ''}" for n, word in counts if n]
    if fell:
        listed[0] += f" ({fell} fell through)"
    return " and ".join(listed)


def _kerf(estimate: SawEstimate, units: str) -> str:
    saw = estimate.saw
    reach = RANGE_SDS * saw.kerf_sd_mm
    middle, low, high = (
        show_length(v, units=units, fine=True)
        for v in (saw.kerf_mm, saw.kerf_mm - reach, saw.kerf_mm + reach)
    )
    return f"the kerf is {middle} ({low} to {high})"


def _lean(offset_rad: float) -> str:
    degrees = math.degrees(offset_rad)
    return f"{abs(degrees):.2f} deg {'more' if degrees >= 0 else 'less'}"


def _offset(estimate: SawEstimate) -> str:
    saw = estimate.saw
    reach = RANGE_SDS * saw.tilt_offset_sd_rad
    low, high = saw.tilt_offset_rad - reach, saw.tilt_offset_rad + reach
    return (
        f"the true tilt is {_lean(saw.tilt_offset_rad)} than the scale says ({_lean(low)} to {_lean(high)})"
    )


def _fine(length_mm: float, units: str) -> str:
    """A place more than a feeler gauge shows: for what a tenth of a degree is worth."""
    return f"{length_mm / float(INCH_MM):.4f} in" if units == "in" else f"{length_mm:.3f} mm"


def _open_between(estimate: SawEstimate, units: str) -> str:
    tie = trade_off(estimate)
    per_tenth = tie.kerf_per_offset_mm_per_rad * math.radians(0.1)
    if abs(per_tenth) < NO_TIE_mm:
        if estimate.cuts.gauges:
            return "Kerf and tilt are known apart: no ring ties them."
        which = "bound" if estimate.cuts.rings else "was measured"
        return f"No ring {which}: nothing was learned about the scale."
    line = (
        f"if the scale reads true the kerf is {_fine(tie.kerf_if_scale_true_mm, units)}; each 0.1 deg more "
        f"means {_fine(per_tenth, units)} more kerf."
    )
    if tie.unresolved:
        return f"These cuts cannot tell kerf and tilt apart: {line}"
    return f"Kerf and tilt are still tied: {line}"


def _agreement(estimate: SawEstimate) -> str:
    misfit, cuts = estimate.misfit, estimate.cuts
    if misfit.freedom <= 0:
        if len(cuts.rings) + len(cuts.slots) + len(cuts.gauges) > 1:  # a ring that fell as it had to
            return "The readings do not contradict one another."
        return "There is no second reading yet to check the first against."
    return (
        f"The readings agree with one another and with the scale: good ones would differ more than these "
        f"do {100 * misfit.chance:.0f} times in 100."
    )


def _further(estimate: SawEstimate) -> str:
    said = []
    for cut in next_cuts(estimate):
        tilt = f"{math.degrees(cut.scale_tilt_rad):.3g} deg"
        what = {
            "ring": f"a scrap ring at {tilt}",
            "slot": "a slot measured with a feeler gauge",
            "bevel": f"a bevel gauge between table and blade at {tilt} on the scale",
        }[cut.kind]
        reach = math.degrees(RANGE_SDS * cut.tilt_offset_sd_rad)
        said.append(f"{what} (the true tilt would be known within {reach:.2f} deg)")
    tied = abs(trade_off(estimate).kerf_per_offset_mm_per_rad * math.radians(0.1)) >= NO_TIE_mm
    aim = "tell kerf and tilt apart" if tied or not estimate.cuts.gauges else "know the true tilt better"
    return f"To {aim}, best first: {'; '.join(said)}."


def _drops(estimate: SawEstimate, units: str, scale_tilts_rad: tuple[float, ...]) -> list[str]:
    rows = [("Scale set to", "true tilt", "a turn sinks", "nine times in ten")]
    for scale in scale_tilts_rad:
        ahead = drop_at(estimate.saw, scale_tilt_rad=scale)
        low, middle, high = (
            show_length(v, units=units, fine=True) if math.isfinite(v) else "through"
            for v in (ahead.low_mm, ahead.drop_mm, ahead.high_mm)
        )
        set_to, true = math.degrees(scale), math.degrees(ahead.tilt_rad)
        rows.append((f"{set_to:.4g} deg", f"{true:.2f} deg", middle, f"{low} to {high}"))
    widths = [max(len(row[i]) for row in rows) for i in range(4)]
    return [
        "   ".join(
            c.ljust(w) if i == 0 else c.rjust(w) for i, (c, w) in enumerate(zip(row, widths, strict=True))
        )
        for row in rows
    ]


def saw_object(estimate: SawEstimate, *, scale_tilts_rad: tuple[float, ...] = ()) -> dict[str, Any]:
    """What the test cuts say, as plain lists and dictionaries.

    Parameters
    ----------
    estimate : SawEstimate
        The estimate.
    scale_tilts_rad : tuple[float, ...]
        Settings to predict the drop for; :data:`TILTS_SHOWN_RAD` if empty. [rad]

    Returns
    -------
    dict
        Keys with their units; an end of a drop that may never bind is None.
    """
    tie, misfit = trade_off(estimate), estimate.misfit
    tilts = scale_tilts_rad or TILTS_SHOWN_RAD
    return {
        "program_version": VERSION,
        **_known_object(estimate.saw),
        "kerf_if_scale_true_mm": tie.kerf_if_scale_true_mm,
        "kerf_per_tenth_deg_mm": tie.kerf_per_offset_mm_per_rad * math.radians(0.1),
        "kerf_and_tilt_unresolved": tie.unresolved,
        "chi_square": misfit.chi_square,
        "degrees_of_freedom": misfit.freedom,
        "chance_of_worse": misfit.chance,
        "next_measurements": [_next_object(cut) for cut in next_cuts(estimate)],
        "drops": [_drop_object(drop_at(estimate.saw, scale_tilt_rad=scale)) for scale in tilts],
        "assumptions": [asdict(assumption) for assumption in estimate.cuts.assumptions],
        "cautions": [SCRAP_CAUTION, *CAUTIONS],
    }


def _known_object(saw: Saw) -> dict[str, Any]:
    kerf_reach, offset_reach = RANGE_SDS * saw.kerf_sd_mm, RANGE_SDS * saw.tilt_offset_sd_rad
    edge = joint_region(saw)
    return {
        "name": saw.name,
        "date": saw.date or None,
        "rings": saw.rings,
        "slots": saw.slots,
        "bevels": saw.gauges,
        "kerf_mm": saw.kerf_mm,
        "kerf_sd_mm": saw.kerf_sd_mm,
        "kerf_range_mm": [saw.kerf_mm - kerf_reach, saw.kerf_mm + kerf_reach],
        "tilt_offset_deg": math.degrees(saw.tilt_offset_rad),
        "tilt_offset_sd_deg": math.degrees(saw.tilt_offset_sd_rad),
        "tilt_offset_range_deg": [
            math.degrees(saw.tilt_offset_rad + sign * offset_reach) for sign in (-1, 1)
        ],
        "correlation": saw.correlation,
        "range_share": RANGE_SHARE,
        "joint_region": {
            "kerf_mm": edge.kerf_mm.tolist(),
            "tilt_offset_deg": [math.degrees(v) for v in edge.tilt_offset_rad.tolist()],
        },
        "kerf_varies_sd_mm": saw.kerf_varies_sd_mm,
        "tilt_repeats_sd_deg": math.degrees(saw.tilt_repeats_sd_rad),
    }


def _next_object(cut: NextCut) -> dict[str, Any]:
    scale = math.degrees(cut.scale_tilt_rad)
    return {
        "kind": cut.kind,
        "scale_tilt_deg": finite_or_none(scale),
        "tilt_offset_sd_deg_then": math.degrees(cut.tilt_offset_sd_rad),
        "kerf_sd_mm_then": cut.kerf_sd_mm,
    }


def _drop_object(ahead: DropAhead) -> dict[str, Any]:
    return {
        "scale_tilt_deg": math.degrees(ahead.scale_tilt_rad),
        "tilt_deg": math.degrees(ahead.tilt_rad),
        "drop_mm": finite_or_none(ahead.drop_mm),
        "low_mm": finite_or_none(ahead.low_mm),
        "high_mm": finite_or_none(ahead.high_mm),
    }
