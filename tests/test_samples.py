"""The same bowl sawn again and again: every error has the law and the size it was given."""

import math
from dataclasses import replace

import numpy as np
import pytest

import fitsim
from fitsim.bowl.inputs import Tolerances, Uncertain
from fitsim.tables import MARKS, read_table
from fitsim.tolerances.samples import Scattered, scattered, share_in_mean, unit_cube


def bowl(**changes: float) -> fitsim.Bowl:
    """An invented small bowl; only what is given strays otherwise than by default."""
    made = fitsim.make_bowl(
        {
            "board": {"wood": "cherry", "thickness": "18 mm", "across": "110 mm", "moisture": "9 %"},
            "cut": {"tilt": "6 deg", "kerf": "0.7 mm", "pitch": "7 mm", "base": "64 mm"},
            "use": {"finish": "none", "friction": "0.35 to 0.5", "press": "90 N"},
        }
    )
    return replace(made, scatter=replace(made.scatter, **changes)) if changes else made


def sampled(of: Scattered, count: int = 4096) -> tuple[np.ndarray, tuple[fitsim.Bowl, ...]]:
    """Values and bowls at points of the cube."""
    points = unit_cube(len(of.dimensions), count, seed=7)
    return of.values(points), of.bowls(points)


def test_a_turns_mean_strays_less_by_the_root_of_a_double_integral() -> None:
    """Variance of a mean over L is the mean of exp(-(s-t)^2/(2 l^2)) over all pairs s, t of places."""
    for length, forgets in ((217.0, 30.0), (43.0, 85.0)):
        place = (np.arange(1500) + 0.5) / 1500 * length
        pairs = np.exp(-((place[:, None] - place) ** 2) / (2 * forgets**2))
        (share,) = share_in_mean(np.array([length]), forgets_mm=forgets)
        assert share == pytest.approx(math.sqrt(pairs.mean()), rel=1e-5)


def test_each_error_has_the_size_it_was_given() -> None:
    """Tilt, thickness, kerf, stiffness, moisture and press of the bowls stray as their rows say."""
    of = scattered(bowl(tilt_rad=0.004, thickness_mm=0.3, kerf_mm=0.06)).at_tilt(0.15)
    _, bowls = sampled(of)
    tilt = np.array([b.cut.tilt_rad[0] for b in bowls])
    thickness = np.array([b.board.thickness_mm for b in bowls])
    kerf = np.array([b.cut.kerf_mm[1] for b in bowls])
    stiff = np.array([b.board.wood.E_L_MPa.value for b in bowls]) / of.bowl.board.wood.E_L_MPa.value
    press = np.log([b.use.press_N / 90 for b in bowls])
    wet = np.array([b.use.turn_moisture_percent[0] for b in bowls])
    friction = np.array([b.use.friction for b in bowls])
    second = 2 * math.pi * (32 + 7 * 1.5)
    wander = 0.06 * float(share_in_mean(np.array([second]), forgets_mm=30.0)[0])
    for seen, mean, sd in (
        (tilt, 0.15, 0.004),
        (thickness, 18.0, 0.3),
        (kerf, 0.7, math.hypot(0.03, wander)),
        (stiff, 1.0, 0.22),
        (press, 0.0, 0.2),
        (wet, 9.0, 0.4),
        (friction, 0.425, 0.15 / math.sqrt(12)),
    ):
        assert seen.mean() == pytest.approx(mean, abs=0.02 * sd)
        assert seen.std() == pytest.approx(sd, rel=0.02)
    assert friction.min() > 0.35
    assert friction.max() < 0.5


def test_values_are_written_where_they_belong_and_upward() -> None:
    """A value one size above the middle makes its own quantity larger by that size, and no other."""
    of = scattered(bowl())
    middle = np.array([d.middle for d in of.dimensions])
    (meant,) = of.bowls_at(middle[None])
    reads = {
        "tilt set": lambda b: b.cut.tilt_rad[0],
        "mean kerf": lambda b: b.cut.kerf_mm[2],
        "kerf round turn 2": lambda b: b.cut.kerf_mm[1] - b.cut.kerf_mm[2],
        "thickness": lambda b: b.board.thickness_mm,
        "stiffness": lambda b: b.board.wood.G_RT_MPa.value / of.bowl.board.wood.G_RT_MPa.value,
        "friction": lambda b: b.use.friction,
        "press": lambda b: b.use.press_N,
        "moisture of the turns": lambda b: b.use.turn_moisture_percent[0],
        "moisture of the base": lambda b: b.use.base_moisture_percent,
    }
    for name in reads:
        at = of.names.index(name)
        values = middle.copy()
        values[at] += of.dimensions[at].size
        (moved,) = of.bowls_at(values[None])
        for other, look in reads.items():
            more = of.dimensions[at].size if other == name else 0.0
            assert look(moved) - look(meant) == pytest.approx(more, abs=1e-12), (name, other)


def test_turns_stray_alone_and_the_mean_kerf_together() -> None:
    """Kerfs of two turns share the error of the mean kerf and nothing else."""
    of = scattered(bowl(kerf_mm=0.09))
    _, bowls = sampled(of)
    kerf = np.array([b.cut.kerf_mm[:2] for b in bowls])
    assert np.cov(kerf.T)[0, 1] == pytest.approx(0.03**2, rel=0.1)


def test_standardised_coordinates_have_mean_0_and_deviation_1() -> None:
    """Whatever its law, a dimension's coordinate has mean 0 and standard deviation 1."""
    of = scattered(bowl())
    points = unit_cube(len(of.dimensions), 4096, seed=2)
    at = of.coordinates(points)
    assert np.abs(at.mean(axis=0)).max() < 0.01
    assert np.abs(at.std(axis=0) - 1).max() < 0.01
    shift = [d.middle * math.exp(d.size) if d.law == "times" else d.middle + d.size for d in of.dimensions]
    assert of.standardised(np.array([shift])) == pytest.approx(np.ones((1, len(shift))))


def test_what_is_given_as_0_is_no_dimension() -> None:
    """A scatter of 0 has no column, and bowls keep what was meant."""
    of = scattered(bowl(tilt_rad=0.0, thickness_mm=0.0, kerf_mm=0.0))
    assert not {"tilt set", "thickness", "kerf round turn 1"} & set(of.names)
    _, bowls = sampled(of, 8)
    assert {b.board.thickness_mm for b in bowls} == {18.0}
    assert {b.cut.tilt_rad[0] for b in bowls} == {math.radians(6)}


def test_a_saw_files_range_takes_the_place_of_the_setting_error() -> None:
    """Where the scale's error is a range the tilt strays over it, from where it was set, and no further."""
    meant = bowl()
    meant = replace(
        meant,
        cut=replace(meant.cut, scale_offset_rad=0.01),
        uncertain=(Uncertain("scale error", "rad", 0.004, 0.016, "cut.scale_offset_rad"),),
    )
    of = scattered(meant).at_tilt(0.13)
    assert "tilt set" not in of.names
    points = np.full((1, len(of.dimensions)), 0.5)
    points[0, of.names.index("scale error")] = 0.25
    (sawn,) = of.bowls(points)
    assert sawn.cut.tilt_rad[0] == pytest.approx(0.13 + (0.007 - 0.01))


def test_no_dimension_appears_twice_and_every_one_has_a_source() -> None:
    """A range takes the place of the error of the same thing; names are unique, also where all is broad."""
    meant = bowl()
    meant = replace(
        meant,
        uncertain=(
            *meant.uncertain,
            Uncertain("kerf", "mm", 0.6, 0.9, "cut.kerf_mm"),
            Uncertain("press", "N", 140.0, 350.0, "use.press_N"),
            Uncertain("film", "mm", 0.0, 0.02, "use.film_mm"),
        ),
    )
    for broad in (False, True):
        of = scattered(meant, broad=broad)
        assert len(set(of.names)) == len(of.names)
        assert all(d.source and d.mark in (*MARKS, "given") for d in of.dimensions)
    assert {"kerf", "press", "film", "friction"} <= set(scattered(meant).names)
    assert "mean kerf" not in scattered(meant).names


def test_what_was_left_out_of_the_file_is_told_as_no_gift() -> None:
    """A range that the file gives is given; bare friction and press left out are as their defaults are."""
    made = fitsim.make_bowl(
        {
            "board": {"wood": "cherry", "thickness": "18 mm", "across": "110 mm"},
            "cut": {"tilt": "6 deg", "kerf": "0.6 to 0.8 mm", "pitch": "7 mm", "base": "64 mm"},
        }
    )
    marks = {d.name: d.mark for d in scattered(made).dimensions}
    assert (marks["kerf"], marks["friction"], marks["press"]) == ("given", "published", "estimated")


def test_broad_errors_are_wider() -> None:
    """Sizes that stand for causes nobody listed are at least the usual ones, one by one."""
    usual = {d.name: d.size for d in scattered(bowl()).dimensions}
    broad = {d.name: d.size for d in scattered(bowl(), broad=True).dimensions}
    assert all(broad[name] >= size for name, size in usual.items())
    assert broad["tilt set"] == pytest.approx(math.radians(2))


def test_same_seed_same_points_and_more_of_them_begin_alike() -> None:
    """Points depend on the seed alone; a longer list begins with the shorter one."""
    few, many, other = (unit_cube(5, count, seed=seed) for count, seed in ((20, 3), (200, 3), (20, 4)))
    assert np.array_equal(few, many[:20])
    assert not np.array_equal(few, other)


def test_default_scatter_is_that_of_the_table() -> None:
    """What a bowl file leaves out strays as the table of scatter says, and so does a bare Scatter."""
    rows = {row["key"]: float(row["size"]) for row in read_table("scatter")}
    for scatter in (Tolerances(), bowl().scatter):
        assert scatter.kerf_mm == rows["kerf"]
        assert scatter.kerf_length_mm == rows["kerf_length"]
        assert math.degrees(scatter.tilt_rad) == pytest.approx(rows["tilt"])
        assert scatter.thickness_mm == rows["thickness"]
