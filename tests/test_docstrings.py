"""What is public is described: every argument named, every unit given."""

import dataclasses
import importlib
import inspect
import re
from collections.abc import Callable
from typing import Any

import pytest
from package_order import modules

import fitsim

UNITS = ("mm", "mm2", "mm3", "MPa2", "ml", "min", "s", "N", "Nmm2", "MPa", "rad", "deg", "percent",
         "points", "C", "F", "Nmm", "days", "g",
         "point", "m3", "h", "px", "kPa", "bytes", "mW", "s2", "Hz", "kg", "pt")  # fmt: skip
"""Last word of a name that carries a unit: kerf_mm, feed_mm_per_min, swell_T_per_point."""

PUBLIC = [
    pytest.param(
        getattr(module, name),
        id=f"{short}.{name}",
    )
    for short in modules()
    for module in [importlib.import_module(f"fitsim.{short}")]
    for name in getattr(module, "__all__", ())
    if getattr(getattr(module, name), "__module__", "") == module.__name__
    and (inspect.isfunction(getattr(module, name)) or inspect.isclass(getattr(module, name)))
]


def section(text: str, title: str) -> str:
    """Lines of one numpydoc section, without its title."""
    found = re.search(rf"^{title}\n-+\n(.*?)(?=^\w[^\n]*\n-{{3,}}|\Z)", text, re.M | re.S)
    return found.group(1) if found else ""


def entries(block: str) -> dict[str, str]:
    """Text of the entry of every name; names that share an entry share its text."""
    found: dict[str, str] = {}
    for part in re.split(r"\n(?=\S)", block.strip("\n")):
        head, _, _ = part.partition("\n")
        for name in head.split(" : ")[0].split(","):
            found[name.strip().lstrip("*")] = part
    return found


def carries_unit(name: str) -> bool:
    """Whether the name's last word is a unit."""
    return "_" in name and name.rsplit("_", 1)[1] in UNITS


@pytest.mark.parametrize("thing", PUBLIC)
def test_public_things_are_described(thing: Any) -> None:
    """Functions name every argument, dataclasses every field or its unit; names with units give them."""
    text = inspect.getdoc(thing) or ""
    assert text
    if inspect.isclass(thing):
        if not dataclasses.is_dataclass(thing):
            return
        names = [field.name for field in dataclasses.fields(thing)]
        block = section(text, "Attributes")
    else:
        names = list(inspect.signature(thing).parameters)
        block = section(text, "Parameters")
        assert block or not names
    described = entries(block) if block else dict.fromkeys(names, text)
    for name in names:
        assert name in described, f"{name} is not described"
        if carries_unit(name):
            assert re.search(r"\[[^\]]+\]", described[name]), f"{name} has no unit in brackets"


WITHOUT_UNIT = {
    "shares of a whole, strains, slopes and other pure ratios": {
        "corner_pitches", "held_share", "loose", "stress_left", "strength_left", "strength_share",
        "share", "press_asked", "press_spare", "spare", "overlap", "friction_used", "friction_by_turn",
        "friction_used_by_turn", "kept", "collapse_over_press", "full_depth_share", "ratio", "friction",
        "friction_low", "friction_high", "inner_slope", "outer_slope", "slope", "nu_LR", "nu_LT", "nu_RT",
        "nu_xy", "along_grain", "across", "thickness", "tangent", "normal",
    },
    "chances and scatter": {
        "chance", "split_chance", "day_split_chance", "chance_at_press", "shear_along_cov",
        "rolling_shear_cov", "tension_across_cov", "bending_cov", "chances", "risks",
    },
    "Weibull shapes, shares of a strength, and places of a section as shares": {
        "shape", "shear_shape", "tangential_share", "rift_share", "out", "up",
    },
    "counts and indices of printed pages, and unit directions of travel": {
        "column", "row", "number", "copies", "wound_turns", "nail_travel", "start_travel", "stop_travel",
    },
    "counts, indices and seeds": {
        "processes",
        "turn", "turns", "sides", "points_per_turn", "splines_per_turn",
        "record_every", "steps", "below", "above", "rings",
        "iterations", "seating_limit", "step_limit", "seed", "fell_through", "fell_out",
    },
    "weeks and months of a year, counted": {
        "driest_week", "wettest_week", "week", "opened_week", "first_week", "last_week", "worst_week",
        "since_month",
    },
    "shares and ratios of the rigid-body check and of drawings": {
        "seating_friction", "shake_g", "scale", "middle",
    },
    "a shear strain, given as the angle it is": {"shear_yz"},
    "outlines as the class describes them": {"polygons"},
    "numbers whose unit is another field of the same class": {
        "value", "closed_form", "limit", "margin", "worst", "best", "low", "high", "flips_at",
    },
    "axes, frames, wrenches and flexibilities of the elastic strip, mixed units as the classes say": {
        "at_inner", "at_outer", "axes", "base_frame", "deformation", "direction", "flexibility", "frame",
        "from_middle", "lu", "matrix", "middle_frame", "rest_turn", "to_middle", "wrench", "back",
    },
    "places, states, counts and shares of the elastic strip": {
        "columns", "cuts", "groups", "held", "inner", "least_overlap", "links", "load_share", "node",
        "outer", "pivots", "place", "point", "rows", "seated", "state", "sweeps", "lean",
        "section", "twist_per_bend", "ends_missing", "factor", "moved_by_force", "moved_by_warp", "element",
        "beside_root",
    },
    "what test cuts say: counts, a correlation, a test, and readings whose unit is another field": {
        "chi_square", "correlation", "expected", "freedom", "gauges", "seen", "slots",
    },
    "quantities that are varied, whose unit is a field of theirs or of the axis they lie on": {
        "ends", "items", "own_across", "own_up",
    },
    "rows, states and cells of sweeps and maps, counted or as indices; places as shares": {
        "beyond", "cells", "count", "drawn", "line_share", "margins", "outlines", "place_share", "rows",
        "solves", "state_at", "raster", "asked", "states", "wanted",
    },
    "samples and chances: shares, counts, standardised coordinates; a size is in the unit beside it": {
        "points", "se", "samples", "failed", "presses", "most_presses", "size", "middle",
    },
    "what is and what would do, in the unit that is another field": {"before", "after"},
    "the roll of off-grain wood as it bends, a ratio": {"twist_per_bend"},
    "failed bowls: shares, ratios, logarithms, counts, places in a list": {
        "nail", "short", "strength", "press_times", "hands_times", "spare_asked", "width_share", "beyond",
        "cause", "falls_at", "rise_share", "split_end", "splits", "drop_share", "uneven_share",
        "needed_log", "deepest_log", "stress_log", "all_drops", "luck", "hold_luck", "least_friction",
        "hold_chance",
    },
    "the emulator of a bowl: weights and errors of logarithms, counts": {
        "weights", "left", "state_weights", "needed_weights", "split_log", "needed", "deepest", "rise",
        "stress", "drops_alike", "drops_each", "uneven", "pressed", "not_followed",
    },
    "chances of explanations: likelihoods, weights, information": {
        "prior", "gain", "open_nats", "log_evidence", "log_likelihood", "relative_se", "weight", "best_fit",
    },
    "what was read and what fits, in the unit that is another field": {"planned", "sd", "spread", "within"},
    "what slides, broken strips and ovens say: frictions, factors, logarithms, counts, chances, bits": {
        "believed_low", "believed_high", "varies_sd", "stands_for_sd", "friction", "slides", "strips",
        "common_sd", "handbook_sd", "cov", "board_factor", "board_factor_cov", "pieces", "meters", "share",
        "chance", "doubtful", "values", "reading", "gain_bits", "settles_chance", "flips_at",
    },
    "plans: shares, ratios and chances, wishes in the unit of their own name, counts": {
        "lock_chance", "off", "got", "rise_share", "slope_share", "volume_share", "whole", "turn_place",
        "strip_turns", "pitch_shape",
    },
    "stress over twist, in MPa mm as the class says": {"tall_face", "flat_face"},
    "the strip as splines and its contact: counts, indices, axes, components of several units": {
        "along", "band", "base_line", "block", "blocks", "damping", "degree", "element_end",
        "element_first", "element_flat", "element_mid", "element_start", "element_unknown",
        "firmness", "first", "first_mid", "follow", "force", "found_within", "friction_used", "gap",
        "gap_change", "growth", "half_band", "height", "internal", "least_step", "lift",
        "most_iterations", "nail_place", "patience", "per_turn", "sharpness", "shear", "splines", "start",
        "step_of_outer", "stiffness", "table_element", "table_node", "table_value",
        "table_value_mid", "tangent_first", "tangent_map", "tangent_next", "tied", "turning",
        "value_mid", "wedge", "welded", "window", "window_base", "window_first", "window_start",
    },
    "a year: chances and their ranges, weeks, how close to the presses, nan or none": {
        "chance_low", "chance_high", "chance_range", "chance_within", "rise_within", "pressed",
    },
    "polynomials over a section, a place between two sections": {"along", "outward", "upward", "between"},
}  # fmt: skip
"""Numeric fields that carry no unit in their names, by the reason."""


def is_number(kind: object) -> bool:
    """Whether an annotation is a number, an array or a tuple of numbers."""
    text = kind if isinstance(kind, str) else getattr(kind, "__name__", "") + str(kind)
    return bool(re.search(r"float|\bint\b|ndarray|NDArray|Array", text)) and "dict" not in text


def test_numeric_fields_carry_a_unit_or_are_listed() -> None:
    """A number's unit stands in its name, unless it is one of the listed ratios and counts."""
    listed = set().union(*WITHOUT_UNIT.values())
    found = set()
    for (thing,) in (param.values for param in PUBLIC):
        if dataclasses.is_dataclass(thing):
            for field in dataclasses.fields(thing):
                if is_number(field.type) and not carries_unit(field.name):
                    found.add(f"{thing.__name__}.{field.name}")
    assert {name for name in found if name.split(".")[1] not in listed} == set()


def test_errors_are_told_apart() -> None:
    """Every error raised on purpose is of the package's own family and still a usual Python error."""
    kinds: list[Callable[..., Exception]] = [
        fitsim.InputError,
        fitsim.OutsideModelError,
        fitsim.NoConvergenceError,
    ]
    for kind, usual in zip(kinds, (ValueError, ValueError, RuntimeError), strict=True):
        assert issubclass(kind, fitsim.FitsimError)  # type: ignore[arg-type]
        assert issubclass(kind, usual)  # type: ignore[arg-type]
