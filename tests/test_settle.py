"""The rigid-body witness against the wedge's closed forms, which it does not know.

Closed forms used here: the seat of a taper, h = k / sin(theta) (the free gap k_h - h tan(theta)
closes); a taper holds itself while theta < atan(mu) (any machine-design text); the press on a
wedge between two faces, F = 2 H tan(phi + theta), and its release, F = 2 H tan(phi - theta), H
the radial force on a side (Coulomb friction, resolved by hand). None comes from the package.
"""

import itertools
from dataclasses import dataclass, replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from numpy.typing import ArrayLike, NDArray

from fitsim.errors import InputError, NoConvergenceError
from fitsim.geometry.rings import RingSections
from fitsim.rigidbody.engine import build, pinch_at_N, refuse, run_stage, step
from fitsim.rigidbody.settling import Settled, SettleSettings, settings_for, settle

Array = NDArray[np.float64]
KERFS_mm = (0.62, 0.71, 0.66, 0.80)
T_mm, PITCH_mm, BASE_mm = 18.0, 6.5, 28.0
# Asked for: half a percent. Expected: an overlap of 0.0003 of the least clearance is left, and
# friction keeps tilts up to 1e-3 rad where the overlap of a seat is short (2.7 mm at 3 deg).
DROP_SHARE = 2e-3
HOOP_N_per_mm = 600.0


def bowl(tilt_deg: ArrayLike, kerfs_mm: ArrayLike = KERFS_mm) -> RingSections:
    """Rings of the test bowl, one slot for every kerf."""
    kerf = np.asarray(kerfs_mm, dtype=np.float64)
    tilt = np.radians(np.broadcast_to(np.asarray(tilt_deg, dtype=np.float64), kerf.shape))
    slot = kerf / np.cos(tilt)
    centre = BASE_mm + PITCH_mm * np.arange(kerf.size + 1)
    return RingSections(
        thickness_mm=np.full(kerf.size + 1, T_mm),
        inner_radius_mm=np.append(0.0, centre[:-1] + slot / 2),
        outer_radius_mm=np.append(centre[:-1] - slot / 2, centre[-1]),
        inner_slope=np.append(0.0, np.tan(tilt)),
        outer_slope=np.append(np.tan(tilt), np.tan(tilt[-1])),
    )


def closed_form_mm(tilt_deg: float, kerfs_mm: ArrayLike = KERFS_mm) -> Array:
    """Seat drops k / sin(theta)."""
    return np.array(kerfs_mm, dtype=np.float64) / float(np.sin(np.radians(tilt_deg)))


def pressed(sections: RingSections, settings: SettleSettings) -> Settled:
    """Press only."""
    return settle(sections, settings, stages=("press",))


@pytest.mark.parametrize("tilt_deg", [3.0, 5.0, 8.0])
def test_every_ring_sinks_to_its_own_seat(tilt_deg: float) -> None:
    """Started off centre with another kerf on every ring, each drop is k / sin(theta)."""
    sections = bowl(tilt_deg)
    got = pressed(sections, settings_for(sections, friction=0.4, press_N=5.0, offset_mm=0.28))
    assert got.settled
    assert got.fell_through == ()
    np.testing.assert_allclose(got.seat_drop_mm, closed_form_mm(tilt_deg), rtol=DROP_SHARE)
    rest = got.rests[0]
    assert rest.penetration_mm < 2 * got.settings.slop_mm
    assert rest.speed_mm_s < got.settings.speed_limit_mm_s


def test_seven_rings_and_the_engine_in_time() -> None:
    """The bowl of seven turns reaches its seats in a few thousand steps."""
    kerfs_mm = (0.64, 0.71, 0.66, 0.60, 0.68, 0.62, 0.70)
    sections = bowl(5.0, kerfs_mm)
    got = pressed(sections, settings_for(sections, friction=0.4, press_N=5.0))
    assert got.settled
    np.testing.assert_allclose(got.seat_drop_mm, closed_form_mm(5.0, kerfs_mm), rtol=DROP_SHARE)
    assert got.rests[0].steps < 10_000


@hypothesis_settings(max_examples=10, deadline=None, derandomize=True)
@given(
    tilt_deg=st.floats(3.5, 14.0),
    kerfs_mm=st.lists(st.floats(0.5, 0.9), min_size=2, max_size=3),
    friction=st.floats(0.1, 0.6),
    seed=st.integers(0, 99),
)
def test_seat_is_k_over_sine(tilt_deg: float, kerfs_mm: list[float], friction: float, seed: int) -> None:
    """Whatever kerf, tilt, friction and start, a ring that settles has sunk by k / sin(theta)."""
    sections = bowl(tilt_deg, kerfs_mm)
    got = pressed(sections, settings_for(sections, friction=friction, press_N=3.0, seed=seed))
    assert got.settled
    np.testing.assert_allclose(got.seat_drop_mm, closed_form_mm(tilt_deg, kerfs_mm), rtol=2 * DROP_SHARE)


def test_faces_of_unlike_bevel_meet_at_an_edge() -> None:
    """With unlike bevels the slot closes first at an edge of the overlap, as worked by hand.

    Gap at height Z of the outer ring: k_h + (s_o - s_i) Z - s_i d, over Z from -T/2 to T/2 - d.
    """
    sections = bowl(6.0, (0.62, 0.71))
    s_o = np.array([0.110, 0.100])
    s_i = np.array([0.105, 0.107])
    sections = replace(sections, inner_slope=np.append(0.0, s_o), outer_slope=np.append(s_i, s_o[-1]))
    k_h = sections.inner_radius_mm[1:] - sections.outer_radius_mm[:-1]
    lean = (s_o - s_i) * T_mm / 2
    expected = np.where(s_o > s_i, (k_h - lean) / s_i, (k_h + lean) / s_o)
    got = pressed(sections, settings_for(sections, friction=0.3, press_N=5.0))
    assert got.settled
    # On edges a ring can tilt a little, hence the wider limit.
    np.testing.assert_allclose(got.seat_drop_mm, expected, rtol=2.5 * DROP_SHARE)


def test_answer_does_not_depend_on_how_the_engine_is_told() -> None:
    """Millimetres or metres, whole step or half, quick or slow motion: the same drops."""
    sections = bowl(5.0)
    first = settings_for(sections, friction=0.4, press_N=5.0, offset_mm=0.28)
    others = [
        settings_for(sections, friction=0.4, press_N=5.0, offset_mm=0.28, unit_mm=1000.0),
        settings_for(sections, friction=0.4, press_N=5.0, offset_mm=0.28, step_factor=0.5),
        replace(first, damping_per_s=2 * first.damping_per_s),
        replace(first, seating_friction=0.1),
        settings_for(sections, friction=0.4, press_N=5.0, density_kg_m3=750.0, seed=8),
    ]
    drops_mm = pressed(sections, first).seat_drop_mm
    for other in others:
        got = pressed(sections, other)
        assert got.settled
        assert got.settings is other
        np.testing.assert_allclose(got.seat_drop_mm, drops_mm, rtol=5e-4)


def test_fall_is_the_same_in_millimetres_and_metres() -> None:
    """Not only the rest: under weight alone every frame of the fall is the same in both units."""
    sections = bowl(5.0, (0.62, 0.71))
    falls = []
    for unit_mm in (1.0, 1000.0):
        settings = settings_for(sections, friction=0.4, press_N=0.0, unit_mm=unit_mm)
        got = settle(sections, settings, stages=("press",), record_every=25)
        falls.append([frame.polygons_mm[0] for frame in got.frames])
    length = min(map(len, falls))
    np.testing.assert_allclose(falls[0][:length], falls[1][:length], atol=2e-3)
    # Speeds die away at 50 a second, so weight alone brings the base to 9806.65 / 50 = 196 mm/s.
    sunk_mm = falls[1][0][0, 1] - falls[1][7][0, 1]
    assert 98 < sunk_mm / (7 * 25 * got.settings.step_s) < 196


def test_slop_left_at_its_default_would_swallow_the_fit() -> None:
    """A coarse step that arrives overlapping is mended down to the slop, so the slop is set."""
    sections = bowl(5.0, (0.62, 0.71))
    settings = settings_for(sections, friction=0.4, press_N=5.0, step_factor=16.0)
    expected = closed_form_mm(5.0, (0.62, 0.71))
    got = pressed(sections, settings)
    np.testing.assert_allclose(got.seat_drop_mm, expected, rtol=DROP_SHARE)
    left = pressed(sections, replace(settings, slop_mm=0.1))  # the engine's own, in mm
    assert np.all(left.seat_drop_mm - expected > 0.3)
    assert left.rests[0].penetration_mm > 0.05


@pytest.mark.parametrize("ring", [0, 1])
def test_ring_falls_through_when_its_seat_lies_below_its_neighbour(ring: int) -> None:
    """A seat drop one percent above the thickness falls through, one percent below it binds."""
    for share in (0.99, 1.01):
        kerfs_mm = np.array([0.62, 0.71, 0.66])
        kerfs_mm[ring] = share * T_mm * np.sin(np.radians(5.0))
        sections = bowl(5.0, kerfs_mm)
        got = pressed(sections, settings_for(sections, friction=0.4, press_N=5.0))
        expected = closed_form_mm(5.0, kerfs_mm)
        if share > 1:
            expected[ring] = np.nan
        assert got.settled
        assert got.fell_through == ((ring,) if share > 1 else ())
        np.testing.assert_allclose(got.seat_drop_mm, expected, rtol=DROP_SHARE)


@pytest.mark.parametrize("thickness_mm", [(18.0, 12.0, 12.0), (12.0, 18.0, 15.0)])
def test_unequal_boards_part_at_their_mean_thickness(thickness_mm: tuple[float, ...]) -> None:
    """Rings of 18 and 12 mm overlap until a drop of 15 mm: 14.8 binds and 15.2 falls through."""
    for drop_mm, lost in ((14.8, ()), (15.2, (0,))):
        kerfs_mm = (drop_mm * np.sin(np.radians(5.0)), 0.5)
        sections = replace(bowl(5.0, kerfs_mm), thickness_mm=np.array(thickness_mm))
        got = pressed(sections, settings_for(sections, friction=0.4, press_N=5.0))
        assert got.fell_through == lost
        assert got.settled


def test_reversed_bevel_never_binds() -> None:
    """Where the bevel leans inward the gap opens as the ring sinks, and it falls through."""
    sections = bowl((5.0, -5.0, 5.0), (0.62, 0.71, 0.66))
    got = pressed(sections, settings_for(sections, friction=0.6, press_N=5.0))
    assert got.settled
    assert got.fell_through == (1,)
    expected = closed_form_mm(5.0, (0.62, np.nan, 0.66))
    np.testing.assert_allclose(got.seat_drop_mm, expected, rtol=DROP_SHARE)


def test_mirrored_start_gives_the_mirrored_fall() -> None:
    """Starting off to the other side mirrors the whole fall and leaves the drops."""
    sections = bowl(6.0, (0.62, 0.80))
    right, left = (
        settle(sections, settings_for(sections, friction=0.3, press_N=5.0, offset_mm=offset),
               stages=("press",), record_every=25)
        for offset in (0.25, -0.25)
    )  # fmt: skip
    np.testing.assert_allclose(left.seat_drop_mm, right.seat_drop_mm, rtol=5e-4)
    places = [[frame.polygons_mm[0][:, 0].mean() for frame in got.frames] for got in (right, left)]
    assert np.abs(places[0]).max() > 0.02
    length = min(map(len, places))
    np.testing.assert_allclose(places[0][:length], -np.array(places[1][:length]), atol=2e-3)


def yielding(sections: RingSections, *, friction: float, step_factor: float = 1) -> SettleSettings:
    """Rings that give way, pressed hard and without weight: the closed forms have none."""
    return settings_for(sections, friction=friction, press_N=50.0, step_factor=step_factor,
                        radial_N_per_mm=HOOP_N_per_mm, gravity_mm_s2=0.0)  # fmt: skip


@pytest.mark.parametrize(("tilt_deg", "holds"), [(15.0, True), (16.4, True), (17.0, False), (19.0, False)])
def test_taper_holds_below_the_friction_angle(tilt_deg: float, holds: bool) -> None:
    """With friction 0.30 (16.70 deg) a steeper taper springs back and a slimmer one holds."""
    sections = bowl(tilt_deg, (0.62, 0.71))
    got = settle(sections, yielding(sections, friction=0.30), stages=("press", "let go"))
    assert got.settled
    assert got.held is holds
    press, free = got.rests
    wedge_N = 50.0 / 2 / np.tan(np.arctan(0.30) + np.radians(tilt_deg))
    np.testing.assert_allclose(press.pinch_N, wedge_N, rtol=0.01)
    np.testing.assert_allclose(free.pinch_N / press.pinch_N, float(holds), atol=0.01)


@dataclass(frozen=True)
class Collapse:
    """Push on the base from below that makes the first seat slip back.

    Attributes
    ----------
    press_N, collapse_N : float
        The press before, and the push; 0 if letting go alone is enough. [N]
    settings : SettleSettings
        What the engine was told.
    """

    press_N: float
    collapse_N: float
    settings: SettleSettings


def collapse_force(sections: RingSections, settings: SettleSettings) -> Collapse:
    """Press yielding rings, let go, then push from below until a seat loses a tenth of its pinch.

    The push grows by the press in ten ramps; it reads high by the growth while the seat slips,
    some 0.003 of the press (halved when ``ramp_s`` is doubled).

    Parameters
    ----------
    sections : RingSections
        The rings.
    settings : SettleSettings
        With a finite ``radial_N_per_mm``.

    Returns
    -------
    Collapse
        The two forces.

    Raises
    ------
    InputError
        If the rings are rigid: they have no definite pinch.
    NoConvergenceError
        If press or release did not settle, or a push of twice the press does not undo it.
    """
    if np.isinf(settings.radial_N_per_mm):
        refuse("radial_N_per_mm", "inf", "a finite stiffness", "give the hoop stiffness")
    engine = build(sections, settings, record_every=0)
    pressed, pressed_N = run_stage(engine, "press", None)
    free, _ = run_stage(engine, "let go", pressed_N)
    if not (pressed.settled and free.settled):
        message = "the rings did not settle before the push from below"
        raise NoConvergenceError(message)
    if not free.held:
        return Collapse(press_N=settings.press_N, collapse_N=0.0, settings=settings)
    last = round(10 * settings.ramp_s / settings.step_s)
    for number in range(2 * last):
        push_N = settings.press_N * number / last
        step(engine, push_N)
        if number % 10 == 0 and np.any(pinch_at_N(engine) < 0.9 * free.pinch_N):
            return Collapse(press_N=settings.press_N, collapse_N=push_N, settings=settings)
    message = "no seat slipped under twice the press from below"
    raise NoConvergenceError(message)


@pytest.mark.parametrize(("tilt_deg", "friction"), [(5.0, 0.40), (10.0, 0.30)])
def test_collapse_force_is_less_than_the_press(tilt_deg: float, friction: float) -> None:
    """Yielding rings give way from below at tan(phi - theta) / tan(phi + theta) of the press."""
    sections = bowl(tilt_deg, (0.62, 0.71))
    phi, theta = np.arctan(friction), np.radians(tilt_deg)
    ratio = np.tan(phi - theta) / np.tan(phi + theta)
    got = collapse_force(sections, yielding(sections, friction=friction))
    # The push still grows while the seat slips: 0.003 of the press, see collapse_force.
    assert got.collapse_N / got.press_N == pytest.approx(ratio, abs=0.006)
    constant_normal = np.sin(phi - theta) / np.sin(phi + theta)
    assert abs(got.collapse_N / got.press_N - constant_normal) > 0.01


def test_a_ring_between_unlike_bevels_carries_the_difference() -> None:
    """Every seat is pinched by F / (2 tan(phi + theta)) of its own bevel, its ring by the rest."""
    sections = bowl((5.0, 9.0), (0.62, 0.71))
    got = pressed(sections, yielding(sections, friction=0.3))
    wedge_N = 50.0 / 2 / np.tan(np.arctan(0.3) + np.radians([5.0, 9.0]))
    np.testing.assert_allclose(got.rests[0].pinch_N, wedge_N, rtol=0.01)


def test_yielding_rings_sink_further_by_their_give() -> None:
    """The rim's hoop gives by H / K, and the seat under it sinks further by that over tan."""
    sections = bowl(5.0, (0.62, 0.71))
    got = pressed(sections, yielding(sections, friction=0.4))
    wedge_N = 50.0 / 2 / np.tan(np.arctan(0.4) + np.radians(5.0))
    give_mm = wedge_N / HOOP_N_per_mm / np.tan(np.radians(5.0))
    extra_mm = got.seat_drop_mm - closed_form_mm(5.0, (0.62, 0.71))
    assert extra_mm[1] == pytest.approx(give_mm, rel=0.03)
    assert extra_mm[0] == pytest.approx(0.0, abs=0.02)


def test_turned_over_and_shaken() -> None:
    """Held while weight and shaking stay below the collapse force, and dropped out above it.

    At 6 deg and friction 0.3 collapse takes 0.45 of press and weight. The rings weigh 0.4 N: after
    a press of 50 N they stand shaking by 6 g; after 2 N they hang, and shaking throws them out.
    At 19 deg nothing is held and they drop when turned over.
    """
    for tilt_deg, press_N, held in (
        (6.0, 50.0, (True, True, True, True)),
        (6.0, 2.0, (True, True, True, False)),
        (19.0, 50.0, (True, False, False)),
    ):
        sections = bowl(tilt_deg, (0.62, 0.71))
        settings = settings_for(sections, friction=0.3, press_N=press_N, radial_N_per_mm=HOOP_N_per_mm)
        stages = ("press", "let go", "turn over", "shake")[: len(held)]
        got = settle(sections, replace(settings, shake_g=6.0), stages=stages)
        assert got.settled
        assert tuple(rest.held for rest in got.rests) == held
        assert got.held is all(held)
        assert got.fell_out == (() if all(held) else (0, 1))


def test_rigid_rings_say_nothing_about_holding() -> None:
    """Rigid wedges have no definite pinch, so neither hold nor collapse is answered."""
    sections = bowl(5.0, (0.62, 0.71))
    settings = settings_for(sections, friction=0.4, press_N=5.0)
    got = settle(sections, settings)
    assert got.held is None
    assert np.all(np.isnan(got.rests[-1].pinch_N))
    with pytest.raises(InputError, match="radial_N_per_mm"):
        collapse_force(sections, settings)


def test_too_few_steps_is_no_result() -> None:
    """A budget too small to come to rest is said, gives no drops and ends the run."""
    sections = bowl(5.0)
    settings = replace(settings_for(sections, friction=0.4, press_N=5.0), step_limit=400)
    got = settle(sections, settings)
    assert not got.settled
    assert got.held is None
    assert len(got.rests) == 1
    assert got.rests[0].steps <= 800
    assert np.all(np.isnan(got.seat_drop_mm))
    short = replace(yielding(sections, friction=0.4), step_limit=400)
    with pytest.raises(NoConvergenceError):
        collapse_force(sections, short)


def test_frames_show_the_bowl_opening() -> None:
    """Frames carry every ring's polygons, whose areas stay and whose base ends at the drops."""
    sections = bowl(5.0, (0.62, 0.71))
    settings = settings_for(sections, friction=0.4, press_N=5.0)
    got = settle(sections, settings, stages=("press",), record_every=50)
    assert len(got.frames) == got.rests[0].steps // 50
    first, last = got.frames[0], got.frames[-1]
    assert last.rings == (0, 1, 1, 2, 2)
    assert all(a.time_s < b.time_s for a, b in itertools.pairwise(got.frames))
    for before, after in zip(first.polygons_mm, last.polygons_mm, strict=True):
        x, z = after.T
        area = np.sum(x * np.roll(z, -1) - z * np.roll(x, -1)) / 2
        x, z = before.T
        assert area == pytest.approx(np.sum(x * np.roll(z, -1) - z * np.roll(x, -1)) / 2)
    assert last.polygons_mm[0][:, 1].mean() == pytest.approx(-got.seat_drop_mm.sum(), abs=0.01)
    assert last.polygons_mm[-1][:, 0].max() < 0 < last.polygons_mm[-2][:, 0].min()


def test_wrong_input_is_refused() -> None:
    """Closed slots, loose numbers and unknown stages are refused, not simulated."""
    good = bowl(5.0)
    settings = settings_for(good, friction=0.4, press_N=5.0)
    closed = replace(good, inner_radius_mm=good.inner_radius_mm - [0, 0, 0.8, 0, 0])
    hollow = replace(good, inner_radius_mm=np.append(5.0, good.inner_radius_mm[1:]))
    short = replace(good, inner_slope=good.inner_slope[1:])
    for sections, words in ((closed, "open"), (hollow, "solid"), (short, "every ring")):
        with pytest.raises(InputError, match=words):
            settle(sections, settings)
    with pytest.raises(InputError, match="offset_mm"):
        settings_for(good, friction=0.4, press_N=5.0, offset_mm=-0.5)
    with pytest.raises(InputError, match="friction"):
        settings_for(good, friction=-0.4, press_N=5.0)
    with pytest.raises(InputError, match="let go"):
        settle(good, settings, stages=("press", "drop"))
    with pytest.raises(InputError, match="damping_per_s"):
        settle(good, replace(settings, damping_per_s=1e4))
