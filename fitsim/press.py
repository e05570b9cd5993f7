"""Press the bowl open: the elastic strip on its bevels, load step by load step.

The base is held and the press lifts the rim: an upward force spread over the last revolution, which
is the same as pushing the base down with the rim held. Two kinds of calculation:

- *small displacements*: statics and lines of force in the shape at rest, ends of the overlap at the
  drops found;
- *large displacements*: everything in the deformed shape; a sweep finds the forces for the present
  shape, the forces deform the elements, the elements give a new shape, and the sweeps are mixed
  (D. G. Anderson, J. ACM 12 (1965); from memory) until the shape stands still.

A seat whose drop reaches the thickness faces no wood any more and carries nothing: if that happens
while the press acts the turn has fallen through.
"""

from dataclasses import dataclass, replace

import numpy as np

from fitsim.arrays import Array, BoolArray, IntArray
from fitsim.contact import (
    OPEN,
    TIED,
    ChainCompliance,
    ContactState,
    Points,
    chain_compliance,
    solve_contact,
)
from fitsim.errors import NoConvergenceError
from fitsim.meeting import Meeting, drop_at_rest, meet, meet_at_rest, nail_points
from fitsim.pressed import ElasticBowl, PressState, rim_load, strain_energy_Nmm
from fitsim.strip import (
    Shape,
    carried_wrench,
    deformed_shape,
    element_flexibility,
    force_wrench,
    node_twist,
)

__all__ = ["ElasticBowl", "PressState", "flat", "load", "press", "rim_load", "strain_energy_Nmm"]


def _joined(seat: Points, nail: Points) -> Points:
    return Points(
        wrench=np.concatenate([seat.wrench, nail.wrench]),
        outer=np.concatenate([seat.outer, nail.outer]),
        inner=np.concatenate([seat.inner, nail.inner]),
        share=np.concatenate([seat.share, nail.share]),
    )


def flat(bowl: ElasticBowl) -> PressState:
    """The flat board: nothing touches, no press.

    Parameters
    ----------
    bowl : ElasticBowl
        The bowl.

    Returns
    -------
    PressState
        At press zero, every seat point open and every nail tied.
    """
    n = len(bowl.strip.position_mm)
    eps = np.zeros((n - 1, 6))
    shape = deformed_shape(bowl.strip, eps)
    seen, here, _ = _meeting(bowl, shape, bowl.seats.place, np.zeros(n - 1))
    tie, _misfit, _tied = nail_points(bowl.seats, bowl.strip, here, bowl.nails)
    count = 2 * (n - 1) + len(tie.outer)
    state = np.where(np.arange(count) < 2 * (n - 1), OPEN, TIED)
    nothing = np.zeros((count, 3))
    contact = ContactState(
        force_N=nothing,
        motion_mm=nothing,
        state=state,
        direction=np.tile([-1.0, 0.0], (count, 1)),
        residual_gap_mm=0.0,
        residual_force_N=0.0,
        residual_friction_N=0.0,
        sweeps=0,
        converged=True,
    )
    return PressState(
        press_N=0.0,
        shape=shape,
        deformation=eps,
        place=seen.place,
        drop_mm=np.zeros(n - 1),
        slid_mm=seen.slid_mm,
        contact=contact,
        points=_joined(seen.points, tie),
        sweeps=0,
        iterations=0,
        residual_mm=0.0,
        converged=True,
        fell_through=False,
    )


def _meeting(bowl: ElasticBowl, shape: Shape, place: Array, drop_mm: Array) -> tuple[Meeting, Shape, Array]:
    """Where the faces are, the shape in which statics are written, and the drops."""
    if bowl.large:
        seen = meet(bowl.seats, bowl.strip, shape, place=place)
        return seen, shape, seen.drop_mm
    rest = deformed_shape(bowl.strip, np.zeros((len(bowl.strip.arc_mm), 6)))
    return meet_at_rest(bowl.seats, bowl.strip, drop_mm=drop_mm), rest, drop_mm


@dataclass(frozen=True, eq=False)
class _Written:
    """The equations of one iteration: compliance, free motion and what the load carries."""

    body: ChainCompliance
    here: Shape
    free: Array
    tied: BoolArray
    fallen: BoolArray
    carried: Array
    to_local: Array
    points: Points
    place: Array


def _write(
    bowl: ElasticBowl,
    before: PressState,
    shape: Shape,
    eps: Array,
    place: Array,
    drop_mm: Array,
    press_N: float,
) -> _Written:
    seen, here, drop_mm = _meeting(bowl, shape, place, drop_mm)
    tie, misfit, held = nail_points(bowl.seats, bowl.strip, here, bowl.nails)
    points = _joined(seen.points, tie)
    flexibility, to_local = element_flexibility(bowl.strip, here)
    body = chain_compliance(points, flexibility)
    lift = np.outer(bowl.load_share * press_N, [0.0, 0.0, 1.0])
    carried = carried_wrench(force_wrench(here.position_mm, lift))
    added = np.einsum("eij,ej->ei", flexibility, carried)
    if bowl.large:
        added = added - np.einsum("eji,ej->ei", to_local, eps)
    seat = np.concatenate([seen.gap_mm[:, None], seen.slid_mm - before.slid_mm], axis=1)
    free = np.concatenate([seat, misfit]) + body.motion(added)
    fallen = np.zeros(len(free), dtype=bool)
    fallen[: len(seat)] = np.repeat(drop_mm >= bowl.seats.thickness_mm, 2)
    free[fallen, 0] = 1e3  # no wood left to meet
    tied = np.zeros(free.shape, dtype=bool)
    tied[len(seat) :] = held
    return _Written(body, here, free, tied, fallen, carried, to_local, points, seen.place)


class _Mixer:
    """Anderson mixing of the element deformations over the last few sweeps."""

    def __init__(self, depth: int = 4) -> None:
        self.depth = depth
        self.tried: list[Array] = []
        self.missed: list[Array] = []

    def next(self, tried: Array, wanted: Array) -> Array:
        """Deformations to try next, from those tried and those they led to."""
        weight = np.array([1.0, 1.0, 1.0, 50.0, 50.0, 50.0])  # rotations count at a radius of 50 mm
        miss = ((wanted - tried) * weight).ravel()
        if self.missed and np.linalg.norm(miss) > 2 * np.linalg.norm(self.missed[-1]):
            self.tried, self.missed = [], []
        self.tried, self.missed = self.tried[-self.depth :], self.missed[-self.depth :]
        self.tried.append(tried)
        self.missed.append(miss)
        if len(self.missed) == 1:
            return wanted
        d_miss = np.stack([miss - m for m in self.missed[:-1]], axis=1)
        part, *_ = np.linalg.lstsq(d_miss, miss, rcond=1e-6)
        back = sum(
            c * (tried - t + (miss - m).reshape(tried.shape) / weight)
            for c, t, m in zip(part, self.tried[:-1], self.missed[:-1], strict=True)
        )
        return np.asarray(wanted - back)


def load(
    bowl: ElasticBowl,
    before: PressState,
    press_N: float,
    *,
    friction: float | None = None,
    state: IntArray | None = None,
    tolerance_mm: float = 1e-5,
    most_iterations: int = 40,
) -> PressState:
    """Go from one state to another press in a single load step.

    Parameters
    ----------
    bowl, before : ElasticBowl, PressState
        The bowl and where it is.
    press_N : float
        Press to reach; negative pushes the rim down. [N]
    friction : float, optional
        Coefficient in place of the bowl's, for example a large one to let every point stick. [-]
    state : numpy.ndarray, optional
        First guess of the states of the points in place of those before.
    tolerance_mm, most_iterations : float, int
        Movement of the shape at which it counts as settled [mm], and when to give up.

    Returns
    -------
    PressState
        ``converged`` False when the step did not settle: halve it.

    """
    mu = np.full(len(before.contact.state), bowl.friction if friction is None else friction)
    mu[2 * len(before.place) :] = 0.0
    contact = before.contact if state is None else replace(before.contact, state=state)
    shape, eps = before.shape, before.deformation
    place, drop = before.place, before.drop_mm
    mixer, sweeps, moved, done, unsettled = _Mixer(), 0, np.inf, False, 0
    for iteration in range(1, most_iterations + 1):  # noqa: B007 (the count is reported)
        eqs = _write(bowl, before, shape, eps, place, drop, press_N)
        contact = replace(contact, state=np.where(eqs.fallen, OPEN, contact.state))
        # Far from rest the friction need not be exact; at rest one millionth is asked for.
        share = min(max(1e-6, 1e-3 * moved), 1e-2)
        contact = solve_contact(
            eqs.body,
            free_mm=eqs.free,
            friction=mu,
            start=contact,
            grip_N=before.contact.force_N,
            tied=eqs.tied,
            give_mm_per_N=bowl.give_mm_per_N,
            tolerance_N=1e-5,
            most_sweeps=60,
            friction_share=share,
        )
        sweeps += contact.sweeps
        unsettled = 0 if contact.converged else unsettled + 1
        wrench = eqs.carried + eqs.body.carried(contact.force_N)
        local = np.einsum("eij,ej->ei", eqs.to_local, wrench)
        wanted = np.einsum("eij,ej->ei", bowl.strip.flexibility, local)
        place, last = eqs.place, shape
        if bowl.large:
            moved = _movement(bowl, eqs.here, eqs.to_local, wanted - eps)
            eps = mixer.next(eps, wanted)
            shape = deformed_shape(bowl.strip, eps)
        else:
            eps = wanted
            twist = node_twist(eqs.here, eps)
            u = twist[:, :3] + np.cross(twist[:, 3:], eqs.here.position_mm)
            shape = replace(eqs.here, position_mm=eqs.here.position_mm + u)
            drop = drop_at_rest(bowl.seats, bowl.strip, twist)
            moved = float(np.abs(shape.position_mm - last.position_mm).max())
        if not np.isfinite(moved) or moved > 1e4 or unsettled > 3:
            break
        done = moved < tolerance_mm and contact.converged and share <= 1e-6
        if done:
            break
    return _finished(
        bowl,
        before,
        press_N,
        shape,
        eps,
        place,
        drop,
        contact,
        eqs.points,
        sweeps=sweeps,
        iterations=iteration,
        moved=moved,
        done=done,
    )


def _movement(bowl: ElasticBowl, here: Shape, to_local: Array, more: Array) -> float:
    """Largest movement of a node when the elements deform by ``more`` (e, 6). [mm]"""
    added = np.einsum("eji,ej->ei", to_local, more)
    twist = np.concatenate([np.zeros((1, 6)), np.cumsum(added, axis=0)])
    u = twist[:, :3] + np.cross(twist[:, 3:], here.position_mm)
    return float(np.abs(u).max())


def _finished(
    bowl: ElasticBowl,
    before: PressState,
    press_N: float,
    shape: Shape,
    eps: Array,
    place: Array,
    drop_mm: Array,
    contact: ContactState,
    points: Points,
    *,
    sweeps: int,
    iterations: int,
    moved: float,
    done: bool,
) -> PressState:
    if bowl.large:
        seen = meet(bowl.seats, bowl.strip, shape, place=place)
        place, drop_mm, slid = seen.place, seen.drop_mm, seen.slid_mm
    else:
        slid = before.slid_mm + contact.motion_mm[: len(before.slid_mm), 1:]
    return PressState(
        press_N=press_N,
        shape=shape,
        deformation=eps,
        place=place,
        drop_mm=drop_mm,
        slid_mm=slid,
        contact=contact,
        points=points,
        sweeps=sweeps,
        iterations=iterations,
        residual_mm=moved,
        converged=done,
        fell_through=bool(np.any(drop_mm >= bowl.seats.thickness_mm)),
    )


def press(
    bowl: ElasticBowl,
    press_N: float,
    *,
    first_N: float = 2.0,
    growth: float = 1.6,
    most_drop_mm: float = 2.5,
    least_step: float = 1e-3,
) -> tuple[PressState, ...]:
    """Press the flat board open, in load steps that grow while they go well.

    Parameters
    ----------
    bowl : ElasticBowl
        The bowl.
    press_N : float
        Press to reach. [N]
    first_N, growth : float
        First load step [N] and by how much a step may grow over the one before.
    most_drop_mm : float
        A step in which some seat drops further is done again in halves. [mm]
    least_step : float
        Smallest step over the press.

    Returns
    -------
    tuple of PressState
        From the flat board to the press, or to the state that fell through.

    Raises
    ------
    NoConvergenceError
        If the smallest step does not settle.

    """
    path = [flat(bowl)]
    step = min(first_N, press_N)
    while path[-1].press_N < press_N * (1 - 1e-12):
        here = path[-1]
        goal = min(press_N, here.press_N + step)
        new = load(bowl, here, goal)
        jump = float(np.abs(new.drop_mm - here.drop_mm).max())
        small = goal - here.press_N <= least_step * press_N
        if new.converged and (jump <= most_drop_mm or small):
            path.append(new)
            step = (goal - here.press_N) * growth
            if new.fell_through:
                break
        elif small:
            raise NoConvergenceError(f"press: no balance found between {here.press_N:.3g} and {goal:.3g} N")
        else:
            step = max((goal - here.press_N) / 2, least_step * press_N)
    return tuple(path)
