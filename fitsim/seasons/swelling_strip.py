"""A bowl that stands open while its wood swells: the strip carried from one moisture to another.

Nothing is pressed: the strip as it stands is laid out again at the new moisture, with its slots, bevels,
thickness and stiffness of then, and finds its balance from where it was. Its friction remembers: at every
touching point the same points of both faces stay together until friction gives way. An affine swelling
of one turn by (e_x, e_y, e_z) and of its inner neighbour by other strains

- closes the slot between them by the difference of r e_n, e_n = e_x cos^2 + e_y sin^2 (the slots of the
  strip laid out again, :mod:`fitsim.geometry.rings`);
- carries a touching point up or down the slope with the face it lies on, s (1 + e_z);
- shifts the two faces along each other by the difference of r (e_y - e_x) sin cos.

The first two are counted where gap and sliding are counted from, the third as a force that the sticking
point takes up or slides off. A turn pulled tight is one whose slot has closed on it; what it pulls is what
the equilibrium says.

The solver counts a touching point from where it is, by a spring (`strip.turning_back`), softer
than the contact: so balances follow one another at the same moisture, each with the forces corrected by
what the springs gave way, until points stand on the mean within :data:`WITHIN_mm` of where they touched at
first. How finely a change of moisture is stepped moves what a tight turn bears by 2 percent and, once a
turn has been nearly loose, the rise by 1 percent (three turns, 0.7 points apart and back).

Left out: wood that creeps or relaxes (`seasons.creep` has bounds), what a change of moisture under load
adds to that, the swelling of the strip's own line in the plane, which turns all alike move no seat, and
stress in wood that is drier outside than inside.
"""

from dataclasses import dataclass, replace

import numpy as np

from fitsim.arrays import Array, BoolArray
from fitsim.bowl.closed_form import rigid_fit
from fitsim.bowl.elastic import Opening
from fitsim.bowl.inputs import Bowl
from fitsim.bowl.strip_layout import laid_out_as
from fitsim.strip.configuration import configure
from fitsim.strip.load_step import prepare
from fitsim.strip.release import KEPT_SHARE
from fitsim.strip.state import ElasticBowl, PressState, mean_rise_mm
from fitsim.strip.stress import StripWood, section_forces
from fitsim.strip.turning_back import TURNING_BACK_N_PER_mm, step_back
from fitsim.wood.moisture import swelling_strain

__all__ = ["StandingStrip", "Swelled", "as_opened", "swell", "turn_pull_MPa"]

WITHIN_mm = 5e-4
"""How close to where they touch points stand on the mean: a thirtieth of what a difference of a tenth of a
point of moisture closes round a base of 50 mm. [mm]"""

MOST_ROUNDS = 5
"""Balances at one moisture, at most."""

AT_ONCE_percent, LEAST_PART = 0.25, 1 / 16
"""Most that any moisture changes in one step: swelling evenly by four points at once a bowl slides, and
stands 0.4 percent too low. A change that finds no equilibrium in sixteenths finds none. [%, -]"""

BEARS = 1e-3
"""A point bears from this share of the greatest normal force upward."""


@dataclass(frozen=True, eq=False)
class StandingStrip:
    """The strip of a bowl that stands open.

    Attributes
    ----------
    bowl : Bowl
        The bowl, at the moistures it has.
    elastic : ElasticBowl
        Its strip at those.
    wood : StripWood
        Its sections and their wood, for stresses.
    state : PressState
        Where it stands; the press is none.
    touches_mm : numpy.ndarray
        Gap plus give under load at every seat point as it was opened: 0 but for what the solver left,
        shape (n - 1, 2). [mm]
    """

    bowl: Bowl
    elastic: ElasticBowl
    wood: StripWood
    state: PressState
    touches_mm: Array


@dataclass(frozen=True, eq=False)
class Swelled:
    """What came of a change of moisture.

    Attributes
    ----------
    standing : StandingStrip or None
        Where it stands then; None where it does not stand, or was not followed.
    slipped : bool
        Whether it was seen to slip.
    """

    standing: StandingStrip | None
    slipped: bool


def as_opened(bowl: Bowl, opening: Opening) -> StandingStrip | None:
    """A bowl just opened and let go.

    Parameters
    ----------
    bowl : Bowl
        The bowl at the moistures it is opened at.
    opening : Opening
        Its opening.

    Returns
    -------
    StandingStrip or None
        None where it does not keep its rise.
    """
    if opening.released is None or opening.released.kept < KEPT_SHARE:
        return None
    elastic, wood = laid_out_as(bowl, rigid_fit(bowl), opening.elastic)
    rest = opening.released.rest
    normal = _seat_forces(rest)[:, :, 0]
    stands = rest.followed.gap_mm + elastic.point_compliance_mm_per_N * normal
    return StandingStrip(bowl, elastic, wood, rest, np.where(_bears(normal), stands, 0.0))


def _seat_forces(state: PressState) -> Array:
    """At the seats' points, (n - 1, 2, 3). [N]"""
    return state.followed.force[: len(state.place)]


def _bears(normal_N: Array) -> BoolArray:
    return normal_N > BEARS * max(float(normal_N.max()), 1e-9)


def swell(standing: StandingStrip, bowl: Bowl) -> Swelled:
    """Let a standing bowl swell or shrink to other moistures.

    Parameters
    ----------
    standing : StandingStrip
        Where it stands.
    bowl : Bowl
        The same bowl at other moistures.

    Returns
    -------
    Swelled
        Where it stands then.
    """
    most = AT_ONCE_percent / max(_greatest_change_percent(standing.bowl, bowl), AT_ONCE_percent)
    now, done, part, slipped = standing, 0.0, most, False
    while done < 1 - 1e-9:
        part = min(part, most, 1 - done)
        ahead = _between(standing.bowl, bowl, done + part)
        found, slipped = _swell_at_once(now, ahead, rounds=MOST_ROUNDS)
        if found is None and part <= LEAST_PART:
            # What is not corrected now goes into the next change.
            found, slipped = _swell_at_once(now, ahead, rounds=1)
        if found is not None:
            now, done, part = found, done + part, 2 * part
        elif part <= LEAST_PART:
            return Swelled(None, slipped)
        else:
            part /= 2
    return Swelled(now, False)


def _greatest_change_percent(first: Bowl, last: Bowl) -> float:
    """Of base and turns, the greatest change of moisture. [%]"""
    a, b = (
        np.array([bowl.use.base_moisture_percent, *bowl.use.turn_moisture_percent])
        for bowl in (first, last)
    )
    count = np.arange(max(len(a), len(b)))
    return float(np.abs(b[np.minimum(count, len(b) - 1)] - a[np.minimum(count, len(a) - 1)]).max())


def _between(first: Bowl, last: Bowl, share: float) -> Bowl:
    a, b = first.use, last.use
    count = max(len(a.turn_moisture_percent), len(b.turn_moisture_percent))
    turns = [np.broadcast_to(np.array(use.turn_moisture_percent), count) for use in (a, b)]
    use = replace(
        b,
        base_moisture_percent=a.base_moisture_percent
        + share * (b.base_moisture_percent - a.base_moisture_percent),
        turn_moisture_percent=tuple((turns[0] + share * (turns[1] - turns[0])).tolist()),
    )
    return replace(last, use=use)


def _swell_at_once(
    standing: StandingStrip, bowl: Bowl, *, rounds: int
) -> tuple[StandingStrip | None, bool]:
    """One step of moisture; None and whether it slipped where no equilibrium is found."""
    elastic, wood = laid_out_as(bowl, rigid_fit(bowl), standing.elastic)
    solver, before = prepare(elastic), standing.state
    growth, shift = _moved_faces(standing, bowl, elastic)
    give = elastic.point_compliance_mm_per_N
    spring = 1 / (give + 1 / TURNING_BACK_N_PER_mm)
    counted = before.followed.slope_mm * growth
    floor = KEPT_SHARE * mean_rise_mm(elastic, before)
    here, along = before, shift
    for count in range(rounds):
        followed = here.followed
        if count == 0:
            shape = configure(solver.held, followed.splines, followed.shear_mm, here.place, counted)
            gap = shape.gap[: len(shift), :, 0]
        else:
            gap = followed.gap_mm
        force = followed.force.copy()
        seat = force[: len(shift)]
        bears = _bears(seat[:, :, 0])
        short = gap + give * seat[:, :, 0] - standing.touches_mm
        if count and float(np.abs(short[bears]).mean()) < WITHIN_mm:
            break
        seat[:, :, 0] = np.where(bears, np.maximum(seat[:, :, 0] - spring * short, 0.0), seat[:, :, 0])
        seat[:, :, 2] -= spring * np.where(bears, along, 0.0)
        slope = counted if count == 0 else followed.slope_mm
        lent = replace(here, followed=replace(followed, force=force, slope_mm=slope))
        found = step_back(solver, lent, 0.0, least_rise_mm=floor)
        if found.state is None:
            return None, found.fell
        here, along = found.state, np.zeros_like(shift)
        if mean_rise_mm(elastic, here) < floor:
            return None, True
    return StandingStrip(bowl, elastic, wood, here, standing.touches_mm), False


def _strains(bowl: Bowl) -> tuple[Array, Array, Array]:
    """Along the grain, across it and through the thickness, base first: one for the base or more. [-]"""
    wood, use = bowl.board.wood, bowl.use
    percent = np.array([use.base_moisture_percent, *use.turn_moisture_percent])
    found = swelling_strain(
        swell_L_per_point=wood.swell_L_per_point.value,
        swell_R_per_point=wood.swell_R_per_point.value,
        swell_T_per_point=wood.swell_T_per_point.value,
        ring_angle_rad=bowl.board.ring_angle_rad,
        change_points=percent - bowl.board.moisture_percent,
    )
    return found.along_grain, found.across, found.thickness


def _moved_faces(standing: StandingStrip, bowl: Bowl, elastic: ElasticBowl) -> tuple[Array, Array]:
    """Growth of the faces up the slope, and shift of outer on inner along the strip, (n - 1, 2). [-, mm]"""
    turn = elastic.turn
    e_x, e_y, e_z = (
        after[np.minimum(np.arange(turn.max() + 1), len(after) - 1)]
        - before[np.minimum(np.arange(turn.max() + 1), len(before) - 1)]
        for before, after in zip(_strains(standing.bowl), _strains(bowl), strict=True)
    )
    # The lower point lies on the inner face, the upper one on the outer.
    growth = 1 + np.stack([e_z[turn - 1], e_z[turn]], axis=1)
    at = elastic.strip.position_mm[1:]
    sheared = (e_y - e_x)[turn] - (e_y - e_x)[turn - 1]
    shift = at[:, 0] * at[:, 1] / np.hypot(at[:, 0], at[:, 1]) * sheared
    return growth, np.repeat(shift[:, None], 2, axis=1)


def turn_pull_MPa(standing: StandingStrip) -> Array:
    """Mean tension along each turn.

    Parameters
    ----------
    standing : StandingStrip
        The bowl.

    Returns
    -------
    numpy.ndarray
        Negative where it is pushed along, shape (turns,). [MPa]
    """
    wood, elastic = standing.wood, standing.elastic
    stretch = section_forces(elastic.strip, standing.state.deformation, wood)[:, 1]
    turn = elastic.turn[wood.element]
    area = wood.bar.width_mm * wood.bar.thickness_mm
    count = int(elastic.turn.max()) + 1
    length = np.maximum(np.bincount(turn, wood.length_mm, count), 1e-9)
    pulled = np.bincount(turn, stretch / area * wood.length_mm, count)
    return np.asarray((pulled / length)[1:])
