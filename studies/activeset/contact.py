"""One-sided contact with Coulomb friction at points between the turns of a strip.

The law at each point: gap >= 0, normal force N >= 0, N gap = 0; |friction| <= mu N, and where a
point slides friction is mu N against the sliding (A. Signorini; C. A. de Coulomb). Points are open,
sliding or sticking. A sweep is one step of a semismooth Newton search on the law in projection form
(P. Alart and A. Curnier, Comput. Methods Appl. Mech. Eng. 92 (1991)): contact, sticking and
directions of friction all change at once, the turning of the direction being part of the system.
Holding directions while contact is settled, or changing only the worst points, went in circles.
Where the sweeps themselves go in circles the points are first taken for softer (`SOFTEST`) and the
solution followed as they harden (E. L. Allgower and K. Georg, *Numerical Continuation Methods*, 1990).
Sources from memory, no page seen. No wood and no rings here.
"""

from dataclasses import dataclass, replace

import numpy as np

from fitsim.arrays import Array, BoolArray, IntArray

from .compliance import (
    ChainCompliance,
    Compliance,
    DenseCompliance,
    Mix,
    Points,
    chain_compliance,
)

__all__ = [
    "OPEN",
    "SLIDING",
    "STICKING",
    "TIED",
    "ChainCompliance",
    "Compliance",
    "ContactState",
    "DenseCompliance",
    "DisplacementControl",
    "Mix",
    "Points",
    "chain_compliance",
    "solve_contact",
]

SOFTEST, SOFTER, MOST_FAILURES, SOFT_SWEEPS = 1000.0, 10**-0.5, 3, 20
"""How a search that goes in circles is led home: times the compliance of a touching point to begin with,
and the
ratio of its steps towards the give; how many steps may fail, each then half as long; sweeps of each."""

_Assumed = tuple[IntArray, Array, Array]  # states, directions of friction, drags

OPEN, SLIDING, STICKING, TIED = 0, 1, 2, 3


@dataclass(frozen=True, eq=False)
class ContactState:
    """Forces and states at p points.

    Attributes
    ----------
    force_N : numpy.ndarray
        On the outer place, along normal, slope and strip, shape (p, 3). [N]
    motion_mm : numpy.ndarray
        Gap along the normal, and sliding along slope and strip since the step began, (p, 3). [mm]
    state : numpy.ndarray
        OPEN, SLIDING, STICKING or TIED, shape (p,).
    direction : numpy.ndarray
        Unit vector of the friction force along slope and strip, shape (p, 2). [-]
    residual_gap_mm, residual_force_N, residual_friction_N : float
        Worst overlap or open gap under force, worst pull, worst breach of the friction law.
        [mm, N, N]
    sweeps : int
        Linear systems solved.
    converged : bool
        Whether nobody wants to open or touch and the friction law holds to its tolerance.
    load_N : float
        Load found by a drive, else 0. [N]
    softened : bool
        Whether the points had to be softened on the way.

    """

    force_N: Array
    motion_mm: Array
    state: IntArray
    direction: Array
    residual_gap_mm: float
    residual_force_N: float
    residual_friction_N: float
    sweeps: int
    converged: bool
    load_N: float = 0.0
    softened: bool = False


@dataclass(frozen=True, eq=False)
class DisplacementControl:
    """A load whose size is found with the contact: it is to move its own place by a wanted amount.

    Attributes
    ----------
    motion_mm : numpy.ndarray
        Motion of the points for each newton of load, shape (p, 3). [mm/N]
    own_mm : float
        Motion of the load's own place for each newton of load. [mm/N]
    wanted_mm : float
        Motion wanted there beyond that without the load and without contact. [mm]

    """

    motion_mm: Array
    own_mm: float
    wanted_mm: float


@dataclass(frozen=True, eq=False)
class _Law:
    """What stays fixed while one load step is settled; ``stiff`` (p,) in N/mm weighs sliding."""

    body: Compliance
    free: Array
    mu: Array
    welded: BoolArray
    grip: Array
    tied: BoolArray
    give: float
    tol_N: float
    tol_mm: float
    stiff: Array
    drive: DisplacementControl | None
    stride: int

    def motion(self, force: Array, load_N: float) -> Array:
        """Motion (p, 3) of the points under forces and load. [mm]"""
        moved = self.free + self.body.apply(force)
        return moved if self.drive is None else moved + load_N * self.drive.motion_mm


def _force_for(law: _Law, state: IntArray, direction: Array, drag: Array) -> tuple[Array, float]:
    """Forces (p, 3) that fit assumed states, and the load, from one linear system.

    A sliding point has two unknowns: its normal force, which carries friction mu N with it, and a
    force across the friction, which turns its direction: ``drag`` times it is the sliding across.
    """
    slide = np.flatnonzero(state == SLIDING)
    swing = slide[np.isfinite(drag[slide]) & (law.mu[slide] > 0)]
    stick = np.flatnonzero(state == STICKING)
    tie, part = np.nonzero(law.tied)
    eye = np.eye(3)
    across = np.zeros((len(swing), 3))
    across[:, 1], across[:, 2] = -direction[swing, 1], direction[swing, 0]
    rows = np.concatenate(
        [
            np.broadcast_to(eye[0], (len(slide), 3)),
            across,
            np.tile(eye, (len(stick), 1)),
            eye[part],
        ]
    )
    columns = rows.copy()
    columns[: len(slide), 1:] = law.mu[slide, None] * direction[slide]
    point = np.concatenate([slide, swing, np.repeat(stick, 3), tie]).astype(np.int64)
    if len(point) == 0:
        drive = law.drive
        return np.zeros_like(law.free), 0.0 if drive is None else drive.wanted_mm / drive.own_mm
    give = np.concatenate(
        [
            np.full(len(slide), law.give),
            drag[swing] + law.give,
            np.full(3 * len(stick), law.give),
            np.zeros(len(tie)),
        ]
    )
    held = np.concatenate(
        [np.zeros(len(slide)), np.full(len(swing) + 3 * len(stick), law.give), np.zeros(len(tie))]
    )
    want = np.einsum("ua,ua->u", rows, held[:, None] * law.grip[point] - law.free[point])
    return _driven(law, Mix(point, rows, columns), give, want)


def _driven(law: _Law, mix: Mix, give: Array, want: Array) -> tuple[Array, float]:
    """Forces (p, 3) of a system of unknowns, and the load that moves its own place as wanted."""
    if law.drive is None:
        return _spread(law, mix, law.body.solve(mix, give, want)), 0.0
    # One more right-hand side: what a unit load asks of the points. The load's own place answers
    # to the forces as the points answer to the load (J. C. Maxwell's reciprocity).
    unit = -np.einsum("ua,ua->u", mix.rows, law.drive.motion_mm[mix.point])
    both = law.body.solve(mix, give, np.stack([want, unit], axis=1))
    plain, each = _spread(law, mix, both[:, 0]), _spread(law, mix, both[:, 1])
    lifted = law.drive.wanted_mm - float(np.vdot(law.drive.motion_mm, plain))
    load = lifted / (law.drive.own_mm + float(np.vdot(law.drive.motion_mm, each)))
    return plain + load * each, load


def _spread(law: _Law, mix: Mix, unknown: Array) -> Array:
    """Forces (p, 3) at the points from the unknowns (u,)."""
    force, each, count = np.empty_like(law.free), unknown[:, None] * mix.columns, len(law.free)
    for axis in range(3):
        force[:, axis] = np.bincount(mix.point, each[:, axis], count)
    return force


def _slip(law: _Law, force: Array, motion: Array) -> Array:
    """Sliding (p, 2) less the elastic compliance of the friction. [mm]"""
    return np.asarray(motion[:, 1:] + law.give * (force[:, 1:] - law.grip[:, 1:]))


def _breach(law: _Law, state: IntArray, force: Array, motion: Array) -> Array:
    """Distance (p,) of the friction from what the law makes of force and sliding. [N]"""
    bound = law.mu * np.maximum(force[:, 0], 0.0)
    pull = force[:, 1:] - _slip(law, force, motion) / law.give
    size = np.linalg.norm(pull, axis=1)
    wanted = pull * (bound / np.maximum(np.maximum(size, bound), 1e-300))[:, None]
    off = np.linalg.norm(force[:, 1:] - wanted, axis=1)
    return np.where((state == OPEN) | (state == TIED) | law.welded, 0.0, off)


def _gates(law: _Law, state: IntArray, force: Array, motion: Array) -> tuple[BoolArray, BoolArray]:
    """Which points want to open or to touch, and which are to be closed, (p,) each."""
    closed = np.where(state == OPEN, motion[:, 0] < -law.tol_mm, force[:, 0] > -law.tol_N)
    return (state != TIED) & (closed != (state != OPEN)), closed


def _friction(
    law: _Law, state: IntArray, direction: Array, force: Array, motion: Array
) -> tuple[IntArray, Array, Array]:
    """States, directions and drags of touching points from the projection form of the law."""
    bound = law.mu * np.maximum(force[:, 0], 0.0)
    pull = force[:, 1:] - law.stiff[:, None] * _slip(law, force, motion)
    size = np.linalg.norm(pull, axis=1)
    rubs = ((state == SLIDING) | (state == STICKING)) & (law.mu > 0) & ~law.welded
    slides = rubs & (size > bound) & (size > 1e-12)
    new = np.where(rubs, np.where(slides, SLIDING, STICKING), state)
    aim = np.where(slides[:, None], pull / np.maximum(size, 1e-12)[:, None], direction)
    turns = slides & (bound > 1e-12)
    drag = np.where(turns, (size / np.where(turns, bound, 1.0) - 1) / law.stiff, np.inf)
    return new, aim, drag


def _touch(
    law: _Law,
    gate: BoolArray,
    closed: BoolArray,
    rub: Array,
    assumed: _Assumed,
    force: Array,
    motion: Array,
) -> _Assumed:
    """Open and close the points that want it; one that newly touches is taken to slide.

    Its friction is against its sliding so far if that went the way of ``rub``, else along it: a
    point started the other way can jam (self-locking) and send the search astray.
    """
    state, direction, drag = assumed
    fresh = gate & closed
    slip = _slip(law, force, motion)
    back = -slip / np.maximum(np.linalg.norm(slip, axis=1), 1e-12)[:, None]
    aim = np.where(back[:, :1] * rub[0] > 0, back, rub)
    return (
        np.where(gate, np.where(closed, SLIDING, OPEN), state),
        np.where(fresh[:, None], aim, direction),
        np.where(fresh, np.inf, drag),
    )


def _deepest(gap: Array, stride: int) -> BoolArray:
    """Which points lie no higher than their neighbours along the seat, (p,)."""
    if stride == 0:
        return np.ones(len(gap), dtype=bool)
    padded = np.concatenate([np.full(stride, np.inf), gap, np.full(stride, np.inf)])
    return (gap <= padded[: -2 * stride]) & (gap <= padded[2 * stride :])


def _next(
    law: _Law,
    state: IntArray,
    direction: Array,
    force: Array,
    motion: Array,
    rub: Array,
    sweep: int,
) -> _Assumed:
    """What the next system assumes: contact and friction changed at once.

    The first system keeps the states it was given: forces and gaps before it belong to another
    load. Of neighbours along a seat that want to touch only the deepest does.
    """
    gate, closed = _gates(law, state, force, motion)
    depth = np.where(gate & closed, motion[:, 0], np.inf)
    gate = gate & (~closed | _deepest(depth, law.stride))
    assumed = _friction(law, state, direction, force, motion)
    if sweep == 0:
        keeps = gate | (assumed[0] != state) | (state != SLIDING)
        return (state, np.where(keeps[:, None], direction, assumed[1]), np.where(keeps, np.inf, assumed[2]))
    return _touch(law, gate, closed, rub, assumed, force, motion)


def _off_mm(law: _Law, state: IntArray, force: Array, motion: Array) -> Array:
    """Overlap of open points, gap of touching ones less their compliance, (p,). [mm]"""
    gap = motion[:, 0] + law.give * force[:, 0]
    return np.asarray(np.where(state == OPEN, np.maximum(-motion[:, 0], 0.0), np.abs(gap)))


def solve_contact(
    body: Compliance,
    *,
    free_mm: Array,
    friction: Array,
    start: ContactState,
    grip_N: Array,
    tied: BoolArray,
    rub: tuple[float, float] = (-1.0, 0.0),
    compliance_mm_per_N: float = 1e-6,
    tolerance_N: float = 1e-6,
    tolerance_mm: float = 1e-9,
    friction_share: float = 1e-6,
    most_sweeps: int = 100,
    drive: DisplacementControl | None = None,
    load_N: float | None = None,
    stride: int = 0,
) -> ContactState:
    """Find forces and states that satisfy contact and friction for one load step.

    Parameters
    ----------
    body : Compliance
        Elastic answer at the points.
    free_mm : numpy.ndarray
        Gap and sliding that the points would have with no forces between them, shape (p, 3). [mm]
    friction : numpy.ndarray
        Coefficient at each point, shape (p,); infinite: a point that sticks never slides. [-]
    start : ContactState
        First guess of states, forces and directions.
    grip_N : numpy.ndarray
        Forces at the beginning of the load step; a point that never slides in it keeps its
        friction from there, shape (p, 3). [N]
    tied : numpy.ndarray
        Components held together whatever the force, shape (p, 3); such points have state TIED.
    rub : tuple of float
        Direction of friction along slope and strip tried first at a point that newly touches.
    compliance_mm_per_N : float
        Contact compliance of a touching point (crushing of fibres, roughness); also keeps the system
        solvable where two points of one seat share a line of friction. [mm/N]
    tolerance_N, tolerance_mm : float
        Accuracy of forces and gaps. [N, mm]
    friction_share : float
        Breach of the friction law, summed over the points, over the friction they could carry. [-]
    most_sweeps : int
        Most sweeps with the points as they are: half of these, an eighth where the search before for the
        same load step had to soften them. Searches with softened points come on top.
    drive : DisplacementControl, optional
        A load whose size is to be found with the contact.
    load_N : float, optional
        Load that belongs to the forces of ``start``: given, those forces are those of the last
        search for the same load step, and the states are renewed before the first sweep. [N]
    stride : int
        Points that many apart are neighbours along a seat, and of neighbours that want to touch
        only the deepest does in one sweep; 0: every point for itself. Bevels that overlap over a
        length bear in few places: closing the whole length at once would have to open most of it
        again, and can go in circles.

    Returns
    -------
    ContactState
        With residuals; ``converged`` is False when the search gave up.

    """
    welded = np.isinf(friction)
    law = _Law(
        body,
        free_mm,
        np.where(welded, 0.0, friction),
        welded,
        np.where([False, True, True], grip_N, 0.0),
        tied,
        compliance_mm_per_N,
        tolerance_N,
        tolerance_mm,
        1 / (body.own() + compliance_mm_per_N),
        drive,
        stride,
    )
    begin = _Begin(start, load_N, np.array(rub))
    plain = most_sweeps // 8 if load_N is not None and start.softened else most_sweeps // 2
    found = _search(law, begin, friction_share, max(1, plain))
    if found.converged or law.give <= 0:
        return found
    # Hard points trade their forces without end. Softer ones do not, and from there it is not far.
    sweeps, soft, ratio, failures = found.sweeps, SOFTEST, SOFTER, 0
    while failures < MOST_FAILURES:
        times = max(soft * ratio, 1.0) if begin.softened else soft
        softer = replace(law, give=times * law.give, stiff=1 / (body.own() + times * law.give))
        share = friction_share if times == 1.0 else max(friction_share, 1e-2)
        found = _search(softer, begin, share, SOFT_SWEEPS)
        sweeps += found.sweeps
        if found.converged and times == 1.0:
            break
        if found.converged:
            soft, begin = times, _Begin(found, found.load_N, begin.rub, True)
        else:
            failures += 1
            soft, ratio = (soft, ratio**0.5) if begin.softened else (10 * soft, ratio)
    return replace(found, sweeps=sweeps, softened=True)


@dataclass(frozen=True, eq=False)
class _Begin:
    """Where a search begins: states and forces, their load, and how friction is first taken to act."""

    start: ContactState
    load_N: float | None
    rub: Array
    softened: bool = False


def _search(law: _Law, begin: _Begin, friction_share: float, most_sweeps: int) -> ContactState:
    """Sweep until the law holds."""
    start, load = begin.start, begin.load_N or 0.0
    state, direction, force = start.state, start.direction, start.force_N
    first, loose = int(begin.load_N is not None), state != TIED
    motion = law.motion(force, load)
    for sweep in range(most_sweeps):
        state, direction, drag = _next(law, state, direction, force, motion, begin.rub, first + sweep)
        force, load = _force_for(law, state, direction, drag)
        motion = law.motion(force, load)
        breach = _breach(law, state, force, motion)
        bound = friction_share * (float(law.mu @ np.maximum(force[:, 0], 0.0)) + law.tol_N)
        converged = float(breach[loose].sum()) < bound and not _gates(law, state, force, motion)[0].any()
        if converged:
            break
    gap = _off_mm(law, state, force, motion)[loose]
    return ContactState(
        force_N=force,
        motion_mm=motion,
        state=state,
        direction=direction,
        residual_gap_mm=float(gap.max(initial=0.0)),
        residual_force_N=float(np.maximum(-force[loose, 0], 0.0).max(initial=0.0)),
        residual_friction_N=float(breach[loose].max(initial=0.0)),
        sweeps=sweep + 1,
        converged=converged,
        load_N=load,
    )
