"""One load step of the elastic bowl: from one state to the next, shape and contact together.

Two kinds of calculation:

- *small displacements*: statics and lines of force in the shape at rest, ends of the overlap at the
  drops found;
- *large displacements*: everything in the deformed shape. Each round writes the equations in the
  present shape, makes one sweep of the contact search, and lets the forces found deform the
  elements; the rounds are mixed (D. G. Anderson, J. ACM 12 (1965); from memory) until shape and
  contact stand still. Settling the contact fully in every shape on the way would gain nothing: the
  next shape moves it again.

A step is given by the press to reach, or by the rise: then the press is one more unknown (bordering;
a load held by its own displacement, J. L. Batoz and G. Dhatt, Int. J. Numer. Methods Eng. 14 (1979),
from memory). Before the turns seat a few newtons lift the rim by most of the bowl's height, and only the
rise says how far to go.
"""

from dataclasses import dataclass, replace

import numpy as np

from fitsim.arrays import Array, BoolArray, IntArray
from fitsim.strip.beam import (
    Shape,
    carried_wrench,
    deformed_shape,
    element_flexibility,
    force_wrench,
    node_twist,
)

from .contact import (
    OPEN,
    ChainCompliance,
    ContactState,
    DisplacementControl,
    Points,
    chain_compliance,
    solve_contact,
)
from .meeting import Meeting, drop_at_rest, meet, meet_at_rest
from .pressed import ElasticBowl, PressState, mean_rise_mm
from .rounds import Mixer, Progress
from .tie import nail_points

__all__ = ["Goal", "Limits", "balance", "joined", "meeting"]


@dataclass(frozen=True)
class Goal:
    """Where a load step is to end: at a press, or at a mean rise of the rim; the other is None.

    Attributes
    ----------
    press_N : float or None
        Press to reach; negative pushes the rim down. [N]
    rise_mm : float or None
        Rise weighted as the press is spread. [mm]
    """

    press_N: float | None = None
    rise_mm: float | None = None


def joined(seat: Points, nail: Points) -> Points:
    """Points of the seats, then those of the nails.

    Parameters
    ----------
    seat, nail : Points
        Points.

    Returns
    -------
    Points
        All of them.
    """
    return Points(
        wrench=np.concatenate([seat.wrench, nail.wrench]),
        outer=np.concatenate([seat.outer, nail.outer]),
        inner=np.concatenate([seat.inner, nail.inner]),
        share=np.concatenate([seat.share, nail.share]),
    )


def meeting(bowl: ElasticBowl, shape: Shape, place: Array, drop_mm: Array) -> tuple[Meeting, Shape, Array]:
    """Where the faces are, the shape in which statics are written, and the drops.

    Parameters
    ----------
    bowl : ElasticBowl
        The bowl.
    shape : Shape
        Where the strip is.
    place, drop_mm : numpy.ndarray
        What every node faced last, and the drops last found, (n - 1,). [-, mm]

    Returns
    -------
    tuple[Meeting, Shape, numpy.ndarray]
        For small displacements the shape is that at rest.
    """
    if bowl.large:
        seen = meet(bowl.seats, bowl.strip, shape, place=place)
        return seen, shape, seen.drop_mm
    rest = deformed_shape(bowl.strip, np.zeros((len(bowl.strip.arc_mm), 6)))
    return meet_at_rest(bowl.seats, bowl.strip, drop_mm=drop_mm), rest, drop_mm


@dataclass(frozen=True, eq=False)
class _Written:
    """The equations of one round: compliance, free motion and what a unit press does.

    ``free`` is the motion without press and contact; ``lifted`` the rise then, ``unit`` the wrenches
    carried under a press of one newton, ``lifts`` the motion at the points they make.
    """

    body: ChainCompliance
    here: Shape
    free: Array
    tied: BoolArray
    fallen: BoolArray
    unit: Array
    lifts: Array
    lifted_mm: float
    lift_mm: float
    to_local: Array
    points: Points
    place: Array
    drop_mm: Array


def _write(bowl: ElasticBowl, before: PressState, now: "_Form") -> _Written:
    seen, here, drop_mm = meeting(bowl, now.shape, now.place, now.drop_mm)
    tie, misfit, held = nail_points(bowl.seats, bowl.strip, here, bowl.nails)
    points = joined(seen.points, tie)
    flexibility, to_local = element_flexibility(bowl.strip, here)
    body = chain_compliance(points, flexibility)
    lift = np.zeros((len(here.position_mm), 3))
    lift[:, 2] = bowl.load_share
    unit = carried_wrench(force_wrench(here.position_mm, lift))
    added = np.einsum("eij,ej->ei", flexibility, unit)
    free = np.concatenate(
        [np.concatenate([seen.gap_mm[:, None], seen.slid_mm - before.slid_mm], axis=1), misfit]
    )
    lifted = 0.0
    if bowl.large:
        back = np.einsum("eji,ej->ei", to_local, now.deformation)
        free -= body.motion(back)
        risen = (here.position_mm - bowl.strip.position_mm)[:, 2]
        lifted = float(bowl.load_share @ risen) - float(np.vdot(unit, back))
    fallen = np.zeros(len(free), dtype=bool)
    fallen[: len(seen.gap_mm)] = np.repeat(drop_mm >= bowl.seats.thickness_mm, 2)
    free[fallen, 0] = 1e3  # no wood left to meet
    tied = np.zeros(free.shape, dtype=bool)
    tied[len(seen.gap_mm) :] = held
    return _Written(
        body=body,
        here=here,
        free=free,
        tied=tied,
        fallen=fallen,
        unit=unit,
        lifts=body.motion(added),
        lifted_mm=lifted,
        lift_mm=float(np.vdot(unit, added)),
        to_local=to_local,
        points=points,
        place=seen.place,
        drop_mm=drop_mm,
    )


@dataclass(frozen=True)
class Limits:
    """When a load step is given up as too long, before it has settled.

    Attributes
    ----------
    drop_mm : float
        Further drop of some seat. [mm]
    press_N : float
        Press, for a step given by its rise. [N]
    """

    drop_mm: float = np.inf
    press_N: float = np.inf


def _settle_contact(
    bowl: ElasticBowl,
    eqs: _Written,
    goal: Goal,
    start: ContactState,
    before: PressState,
    mu: Array,
    progress: Progress,
) -> ContactState:
    """Forces and states in the present shape."""
    drive, free = None, eqs.free
    # Lowered, the turns slide the other way: what newly touches is first taken to rub against that.
    lowers = goal.press_N is not None and goal.press_N < before.press_N
    if goal.rise_mm is not None:
        lowers = goal.rise_mm < mean_rise_mm(bowl, before)
    if goal.rise_mm is not None:
        drive = DisplacementControl(eqs.lifts, eqs.lift_mm, goal.rise_mm - eqs.lifted_mm)
    elif goal.press_N is not None:
        free = eqs.free + goal.press_N * eqs.lifts
    first = not progress.moved
    found = solve_contact(
        eqs.body,
        free_mm=free,
        friction=mu,
        start=replace(start, state=np.where(eqs.fallen, OPEN, start.state)),
        grip_N=before.contact.force_N,
        rub=(1.0, 0.0) if lowers else (-1.0, 0.0),
        tied=eqs.tied,
        compliance_mm_per_N=bowl.compliance_mm_per_N,
        tolerance_N=1e-5,
        most_sweeps=60,
        friction_share=progress.friction_share(),
        drive=drive,
        load_N=None if first else start.load_N,
        stride=2,
    )
    return found if goal.press_N is None else replace(found, load_N=goal.press_N)


def balance(
    bowl: ElasticBowl,
    before: PressState,
    goal: Goal,
    *,
    friction: float | None = None,
    state: IntArray | None = None,
    guess: Array | None = None,
    limits: Limits | None = None,
    tolerance_mm: float = 1e-4,
    most_iterations: int = 40,
) -> PressState:
    """Go from one state to another in a single load step.

    Parameters
    ----------
    bowl, before, goal : ElasticBowl, PressState, Goal
        The bowl, where it is, and where to.
    friction : float, optional
        Coefficient in place of the bowl's, for example a large one to let every point stick. [-]
    state : numpy.ndarray, optional
        First guess of the states of the points in place of those before.
    guess : numpy.ndarray, optional
        First guess of the deformation of the elements, shape (e, 6). [mm, rad]
    limits : Limits, optional
        When to give the step up as too long.
    tolerance_mm, most_iterations : float, int
        Movement of the shape at which it counts as settled [mm], and when to give up.

    Returns
    -------
    PressState
        ``converged`` False when the step did not settle or went beyond its limits.

    """
    mu = np.full(len(before.contact.state), bowl.friction if friction is None else friction)
    mu[2 * len(before.place) :] = 0.0
    contact = before.contact if state is None else replace(before.contact, state=state)
    now = _Form(before.shape, before.deformation, before.place, before.drop_mm)
    if guess is not None and bowl.large:
        now = replace(now, shape=deformed_shape(bowl.strip, guess), deformation=guess)
    mixer, progress, sweeps, done = Mixer(), Progress(tolerance_mm), 0, False
    for _ in range(most_iterations):
        eqs = _write(bowl, before, now)
        share = progress.friction_share()
        contact = _settle_contact(bowl, eqs, goal, contact, before, mu, progress)
        sweeps += contact.sweeps
        now, moved = _follow(bowl, eqs, contact, now, mixer, progress)
        progress.add(moved, contact.converged)
        done = progress.settled(share)
        if done or progress.hopeless() or _too_long(limits, before, now, contact):
            break
    return _finished(bowl, before, now, contact, eqs.points, sweeps, progress, done)


def _too_long(limits: Limits | None, before: PressState, now: "_Form", contact: ContactState) -> bool:
    if limits is None:
        return False
    jump = float(np.abs(now.drop_mm - before.drop_mm).max())
    return contact.load_N > limits.press_N or jump > limits.drop_mm


@dataclass(frozen=True, eq=False)
class _Form:
    """Shape, deformation, places faced and drops in one round."""

    shape: Shape
    deformation: Array
    place: Array
    drop_mm: Array


def _follow(
    bowl: ElasticBowl,
    eqs: _Written,
    contact: ContactState,
    now: _Form,
    mixer: Mixer,
    progress: Progress,
) -> tuple[_Form, float]:
    """The next shape under the forces found, and how far it moves. [mm]"""
    wrench = contact.load_N * eqs.unit + eqs.body.carried(contact.force_N)
    local = np.einsum("eij,ej->ei", eqs.to_local, wrench)
    wanted = np.einsum("eij,ej->ei", bowl.strip.flexibility, local)
    if bowl.large:
        moved = _movement(eqs.here, eqs.to_local, wanted - now.deformation)
        # Mixing takes the answer of the shape for smooth. Where contact has not settled, or the shape
        # does not come nearer to rest, it is not: forget the rounds before.
        eps, stuck = now.deformation, progress.stuck(moved)
        again = stuck or not contact.converged
        eps = mixer.restart(eps, wanted, stuck) if again else mixer.next(eps, wanted)
        return _Form(deformed_shape(bowl.strip, eps), eps, eqs.place, eqs.drop_mm), moved
    twist = node_twist(eqs.here, wanted)
    u = twist[:, :3] + np.cross(twist[:, 3:], eqs.here.position_mm)
    shape = replace(eqs.here, position_mm=eqs.here.position_mm + u)
    moved = float(np.abs(shape.position_mm - now.shape.position_mm).max())
    return _Form(shape, wanted, eqs.place, drop_at_rest(bowl.seats, bowl.strip, twist)), moved


def _movement(here: Shape, to_local: Array, more: Array) -> float:
    """Largest movement of a node when the elements deform by ``more`` (e, 6). [mm]"""
    added = np.einsum("eji,ej->ei", to_local, more)
    twist = np.concatenate([np.zeros((1, 6)), np.cumsum(added, axis=0)])
    u = twist[:, :3] + np.cross(twist[:, 3:], here.position_mm)
    return float(np.abs(u).max())


def _finished(
    bowl: ElasticBowl,
    before: PressState,
    now: _Form,
    contact: ContactState,
    points: Points,
    sweeps: int,
    progress: Progress,
    done: bool,
) -> PressState:
    place, drop_mm = now.place, now.drop_mm
    if bowl.large:
        seen = meet(bowl.seats, bowl.strip, now.shape, place=place)
        place, drop_mm, slid = seen.place, seen.drop_mm, seen.slid_mm
    else:
        slid = before.slid_mm + contact.motion_mm[: len(before.slid_mm), 1:]
    return PressState(
        press_N=contact.load_N,
        shape=now.shape,
        deformation=now.deformation,
        place=place,
        drop_mm=drop_mm,
        slid_mm=slid,
        contact=contact,
        points=points,
        sweeps=sweeps,
        iterations=len(progress.moved),
        residual_mm=progress.moved[-1],
        converged=done,
        fell_through=bool(np.any(drop_mm >= bowl.seats.thickness_mm)),
    )
