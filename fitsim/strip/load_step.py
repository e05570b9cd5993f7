"""One load step on its way: Newton's method on the shape's splines with the law of contact.

Each iteration solves one linear system in the present configuration and works the law out at the gaps that
the linear change *predicts*; the difference between those and the gaps of the new shape goes into the next
right-hand side (a lifted Newton method; J. Albersmeyer and M. Diehl, SIAM J. Optim. 20 (2010), from
memory): a true gap never meets a stiff law. While the predicted motion is small the configuration is kept
and only the law is worked out again.

Where there is no equilibrium near, the strip is followed as it `sliding` comes to rest. `equilibrium` goes
forward with it, `turning_back` lets go.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array
from fitsim.strip.configuration import (
    Held,
    Tangent,
    carried_wrench_at,
    configure,
    gap_change,
    gap_moved_by,
    held_constants,
    moved_by,
    shape_of,
    shear_under,
    solved,
    tangent,
)
from fitsim.strip.contact_law import ContactLaw, touch
from fitsim.strip.kernels import books_of, deformed_under, longest, off_the_law
from fitsim.strip.splines import SPLINES_PER_POINT, strip_splines
from fitsim.strip.state import ContactForces, ElasticBowl, Followed, PressState

__all__ = [
    "FIRM",
    "HARD",
    "Goal",
    "Iterate",
    "Solver",
    "StepResult",
    "Tolerance",
    "forces_under",
    "greatest_mm",
    "iterated",
    "law_of",
    "newton",
    "prepare",
    "settled_state",
]

FIRM, HARD = 100.0, 200.0
"""Stiffness of the contact's spring in later stages and at the end; at 18 points a revolution of 60 mm
radius and a bending stiffness in the plane of 5e5 N mm^2. [N/mm]"""

ROUNDING = 0.2
"""Rounding of the contact's corner over the mean normal force of a node."""

SHARP = 8.0
"""Sharpness of the corner between sticking and sliding while it is pressed and nearly all points slide."""

NAIL_N_PER_mm = 3000.0
"""Spring beside a nail's forces so far. [N/mm]"""

MOST_JUMP_mm = 300.0
"""A linear system that moves a node further is no help."""

MOST_MOVE_mm, REFRESH_mm, TRUE_TANGENT_mm = 8.0, 0.1, 2.0
"""Longest motion of a node in one iteration, the motion after which the configuration is worked out
again, and the motion below which the contact's own turning is counted. [mm]"""

TORN, SLIPPING_mm = 0.5, 1.0
"""Error of the law's forces, and motion of an iteration, from which a hasty one is given up. [-, mm]"""

A_LITTLE_mm, GROWS_mm, HASTILY_GROWS_mm = 0.03, 1.0, 0.1
"""Motion that may grow again without a stage being given up: after seven iterations; from the fourth on;
and of a hasty one. [mm]"""

MOST_ITERATIONS = 14
"""Most iterations of a stage."""


@dataclass(frozen=True, eq=False)
class Solver:
    """A bowl made ready for load steps.

    Attributes
    ----------
    held : Held
        Constants of the strip.
    stiffness : numpy.ndarray
        Contact stiffness at every slot's points in units of :data:`FIRM`'s hundred N/mm, (s, 2). [-]
    tie_N_per_mm : numpy.ndarray
        Springs beside the nails' forces so far, 0 where nothing is tied, (nails, 2, 3). [N/mm]
    wedge : float
        Friction plus slope of the bevels: press over normal force. [-]
    """

    held: Held
    stiffness: Array
    tie_N_per_mm: Array
    wedge: float

    @property
    def bowl(self) -> ElasticBowl:
        """The bowl."""
        return self.held.splines.bowl

    def rounding_N(self, press_N: float) -> float:
        """Force over which the contact's corner is rounded at a press. [N]"""
        return ROUNDING * max(abs(press_N) / (self.wedge * self.bowl.nodes_per_turn), 1e-3)

    def rounding_of(self, normal_N: float) -> float:
        """The same where the mean normal force of a node is known. [N]"""
        return ROUNDING * max(normal_N, 1e-4)


@dataclass(frozen=True)
class Goal:
    """Where a load step is to end.

    Attributes
    ----------
    press_N : float
        Press to reach, or a first guess of it where the rise is given. [N]
    rise_mm : float or None
        Rise to reach, or None. [mm]
    last : bool
        Whether forces and gaps are wanted exactly: the end of a path.
    closely : bool
        Whether that end is settled closely enough for stresses; for whether a bowl holds it need not be.
    """

    press_N: float
    rise_mm: float | None = None
    last: bool = True
    closely: bool = True


@dataclass(frozen=True, eq=False)
class StepResult:
    """What came of a load step.

    Attributes
    ----------
    state : PressState or None
        The equilibrium; None where none was found.
    fell : bool
        Whether its seats ran out of wood; turning back, whether it sank or its seats lost their grip.
    iterations : int
        Linear systems solved.
    """

    state: PressState | None
    fell: bool
    iterations: int


def prepare(bowl: ElasticBowl, *, splines_per_turn: int | None = None) -> Solver:
    """Make a bowl ready for load steps.

    Parameters
    ----------
    bowl : ElasticBowl
        The bowl.
    splines_per_turn : int, optional
        Splines in a revolution; left out, as many as the bowl's line asks for.

    Returns
    -------
    Solver
        Used for every step of this bowl, whatever its friction.
    """
    usual = round(SPLINES_PER_POINT * bowl.nodes_per_turn)
    splines_per_turn = splines_per_turn or bowl.splines_per_turn or usual
    held = held_constants(strip_splines(bowl, splines_per_turn=splines_per_turn))
    strip = bowl.strip
    # The strip's own stiffness against bending in the plane sets the scale, softer on a wider turn.
    scale = float(np.median(strip.arc_mm / strip.flexibility[:, 5, 5])) / 5e5 * 18 / bowl.nodes_per_turn
    radius = np.hypot(strip.position_mm[held.splines.outer, 0], strip.position_mm[held.splines.outer, 1])
    stiffness = scale * (60.0 / radius) ** 2
    tie: Array = NAIL_N_PER_mm * held.tied.astype(np.float64)
    tie[:, 1] *= (bowl.seats.thickness_mm / 3) ** 2
    return Solver(
        held=held,
        stiffness=np.repeat(stiffness[:, None], 2, axis=1),
        tie_N_per_mm=tie,
        wedge=bowl.friction + float(np.tan(bowl.seats.tilt_rad.mean())),
    )


class Iterate:
    """Where a load step has come to."""

    def __init__(
        self, solver: Solver, before: PressState, splines: Array, force: Array, press_N: float
    ) -> None:
        self.solver, self.slope_mm = solver, before.followed.slope_mm
        self.splines, self.shear, self.place = splines, before.followed.shear_mm, before.place
        self.along = np.zeros((len(before.place), 2))
        self.force, self.press_N = force, press_N
        self.damping, self.true_tangent, self.iterations = 0.0, False, 0
        # Drag of the points, and the gaps from which it counts. [N/mm, mm]
        self.drag: tuple[Array, Array] | None = None
        self.hasty = False  # whether to give up soon, as there is another way
        self.change = np.zeros((*force.shape, 3))
        self.first_move = np.inf
        self.best: dict[str, object] | None = None  # where it last was close enough
        self.write()
        self.predicted = self.here.gap

    def write(self) -> None:
        """Work the configuration out again."""
        e = len(self.along)
        self.here = configure(self.solver.held, self.splines, self.shear, self.place, self.slope_mm)
        self.here.gap[:e, :, 2] = self.along
        self.place, self.written = self.here.meeting.place, True
        self.begun_N, self.step, self.motion = self.press_N, np.zeros(0), np.zeros((e, 3))
        self.loaded = self.force, self.press_N, self.true_tangent, self.damping > 0
        self.known: Tangent | None = None

    def begin_at(self, splines: Array) -> None:
        """Take a first guess of the splines as the shape; the sliding on the way there is counted.

        Left out, points would slide along the strip free of friction wherever the guess looks ahead.
        """
        held, e, change = self.solver.held, len(self.along), splines - self.splines
        there = gap_moved_by(held, gap_change(held, self.here), change)
        self.splines = splines
        self.write()
        here = gap_moved_by(held, gap_change(held, self.here), change)
        sliding = 0.5 * (there + here)[:e, :, 2]
        self.along = sliding
        self.here.gap[:e, :, 2] = sliding
        self.predicted = self.here.gap

    @property
    def at(self) -> Tangent:
        """The tangent in the configuration and under the forces last written, worked out when asked for."""
        if self.known is None:
            held, (force, press_N, true_tangent, damped) = self.solver.held, self.loaded
            carried = carried_wrench_at(held, self.here, force, press_N)
            turned = force if true_tangent else None
            self.known = tangent(held, self.here, carried, press_N, turned, damped=damped)
        return self.known

    def take_law(self, law: ContactLaw, sticky: float = 1.0) -> None:
        """Work out the law's forces where it is; ``sticky`` as :func:`iterated`."""
        self.force, self.change = forces_under(self.solver, law, self.predicted, sticky)

    def damp(self, times: float, drag_N_per_mm: float = 0.0) -> None:
        """Resist the change, in the configuration last written, by times the elements' own stiffness.

        A drag resists the motion of the bearing points too, as many times over.
        """
        self.damping, self.true_tangent = times, True
        if drag_N_per_mm > 0:
            bears = np.zeros(self.force.shape[:2])
            bears[: len(self.along)] = self.force[: len(self.along), :, 0] > 0
            self.drag = times * drag_N_per_mm * bears, self.here.gap
        self.loaded, self.known = (self.force, self.press_N, True, True), None

    def look_ahead(self, change: Array) -> None:
        """Predict the gaps to which a change of the splines, (unknowns,), would bring them."""
        gap, _motion = moved_by(self.solver.held, self.at, change)
        self.predicted = self.here.gap + gap
        self.predicted[len(self.along) :] *= self.solver.held.tied

    def shear_as_carried(self) -> None:
        """Let the elements shear under the forces found, as far as a damped step lets them."""
        held = self.solver.held
        carried = carried_wrench_at(held, self.here, self.force, self.press_N)
        # What is out of balance in a damped step is no load of theirs: they creep to it as they bend.
        share = 1 / (1 + self.damping)
        self.shear = self.shear + share * (shear_under(held, self.here, carried) - self.shear)
        self.written = False

    def follow(self) -> None:
        """Take the predicted change as the shape, and work it out."""
        if len(self.step):
            self.splines = self.splines + self.step
            self.along = self.predicted[: len(self.along), :, 2].copy()
        self.write()

    def kept(self) -> dict[str, object]:
        """All of it, to come back to."""
        return dict(self.__dict__)

    def back_to(self, kept: dict[str, object]) -> None:
        """Go back to what was kept, but for the count of iterations."""
        count = self.iterations
        self.__dict__.update(kept)
        self.iterations = count


@dataclass(frozen=True)
class Tolerance:
    """When a stage has settled.

    Attributes
    ----------
    move_mm : float
        Motion of a node in the last iteration. [mm]
    force : float
        Error of the law's forces, over their sum. [-]
    """

    move_mm: float
    force: float


def law_of(
    solver: Solver, times: float, rounding_N: float, friction: float, before: Array, gripped: Array
) -> ContactLaw:
    """The law of a stage.

    Parameters
    ----------
    solver : Solver
        The bowl made ready.
    times : float
        Times the usual stiffness of the contact's spring, in hundredths: :data:`FIRM`, :data:`HARD`. [N/mm]
    rounding_N, friction : float
        As the law has them. [N, -]
    before, gripped : numpy.ndarray
        Forces so far, and friction at which the step began, (s, 2, 3) and (s, 2, 2). [N]

    Returns
    -------
    ContactLaw
        With no point counted from where it is.
    """
    compliance = solver.bowl.point_compliance_mm_per_N
    return ContactLaw(
        stiffness_N_per_mm=1 / (compliance + 1 / (times * solver.stiffness)),
        compliance_mm_per_N=compliance,
        friction=friction,
        rounding_N=rounding_N,
        sharpness=SHARP,
        before_N=before,
        gripped_N=np.ascontiguousarray(gripped),
    )


def forces_under(solver: Solver, law: ContactLaw, gap: Array, sticky: float) -> tuple[Array, Array]:
    """The law at the seats, and the nails' ties.

    Parameters
    ----------
    solver, law : Solver, ContactLaw
        The bowl made ready, and the law.
    gap : numpy.ndarray
        Gaps, (s, 2, 3). [mm]
    sticky : float
        How many times the friction's bound is raised. [-]

    Returns
    -------
    tuple[numpy.ndarray, numpy.ndarray]
        Forces (s, 2, 3) [N] and their derivative (s, 2, 3, 3). [N/mm]
    """
    return touch(law, gap, sticky=sticky, tie_N_per_mm=solver.tie_N_per_mm)


def iterated(
    it: Iterate,
    law: ContactLaw,
    goal: Goal,
    tolerance: Tolerance,
    sticky: float = 1.0,
    enough: Tolerance | None = None,
) -> str:
    """Iterate with one law; ``it.first_move`` is then its first motion.

    Parameters
    ----------
    it, law : Iterate, ContactLaw
        Where the step has come to, changed; and its law.
    goal, tolerance : Goal, Tolerance
        Where to, and when it has settled.
    sticky : float
        How many times the friction's bound is raised in the first iteration. [-]
    enough : Tolerance, optional
        Where it is lost after it had come within this it is taken back to there.

    Returns
    -------
    str
        "settled", "loosely" (taken back) or "lost".
    """
    came = _one_law(it, law, goal, tolerance, sticky, enough)
    if came == "lost" and it.best is not None:
        best = it.best
        it.back_to(best)
        came = "loosely"
    it.best = None
    return came


def _one_law(
    it: Iterate,
    law: ContactLaw,
    goal: Goal,
    tolerance: Tolerance,
    sticky: float,
    enough: Tolerance | None,
) -> str:
    moves: list[float] = []
    it.take_law(law, sticky)
    for count in range(MOST_ITERATIONS):
        found = newton(it, law, goal.rise_mm, lambda move: _part(it, move, moves, law))
        if found is None:
            return "lost"
        move, part, error = found
        moves.append(move)
        it.true_tangent = error < 0.05 and move < TRUE_TANGENT_mm and count > 0
        done = move < tolerance.move_mm and part == 1 and error < tolerance.force
        far = greatest_mm(it.motion)
        if far > REFRESH_mm and not (done and far < 3 * REFRESH_mm):
            it.follow()
        if done:
            it.first_move = moves[0]
            return "settled"
        if enough is not None and move < enough.move_mm and part == 1 and error < enough.force:
            it.first_move = moves[0]
            it.best = it.kept()
        if it.hasty and count > 0 and (error > TORN or move > SLIPPING_mm):
            return "lost"
        if count >= 4:
            grows_mm = HASTILY_GROWS_mm if it.hasty else GROWS_mm
            if move > max(0.5 * min(moves[:-2]), grows_mm if count < 7 else A_LITTLE_mm):
                return "lost"
    return "lost"


def newton(
    it: Iterate, law: ContactLaw, rise_mm: float | None, part_of: Callable[[float], float]
) -> tuple[float, float, float] | None:
    """One linear system, and the law at the gaps it predicts.

    Parameters
    ----------
    it, law : Iterate, ContactLaw
        Where the step has come to, changed; and its law.
    rise_mm : float or None
        Rise to reach, the press being one more unknown. [mm]
    part_of : callable
        Share of the step to take, told how far it would move a node. [mm to -]

    Returns
    -------
    tuple[float, float, float] or None
        How far it moves a node [mm], the share taken, and by how much the law's forces differ from those of
        the linear system, over their sum; None where the system is singular.
    """
    held, e = it.solver.held, len(it.along)
    force, change = it.force, it.change
    if it.drag is not None:
        drag, start = it.drag
        force = force - drag[..., None] * (it.predicted - start)
        change = change - drag[..., None, None] * np.eye(3)
    found = solved(
        held,
        it.at,
        force,
        change,
        it.predicted,
        press_N=it.begun_N,
        rise_mm=rise_mm,
        damping=it.damping,
    )
    it.iterations += 1
    if found is None:
        return None
    step, more = found
    gap, motion = moved_by(held, it.at, step)
    move = greatest_mm(motion - it.motion)
    if not np.isfinite(move) or move > MOST_JUMP_mm:
        return None
    part = part_of(move)
    if part < 1:
        start = it.step if len(it.step) else np.zeros_like(step)
        step = start + part * (step - start)
        more = it.press_N - it.begun_N + part * (more - (it.press_N - it.begun_N))
        gap, motion = moved_by(held, it.at, step)
    predicted = it.here.gap + gap
    predicted[e:] *= held.tied
    law_force, law_change = forces_under(it.solver, law, predicted, 1.0)
    off_N, size_N = off_the_law(e, law_force, it.force, it.change, predicted, it.predicted)
    it.force, it.change = law_force, law_change
    it.predicted, it.step, it.motion, it.press_N = predicted, step, motion, it.begun_N + more
    return move, part, off_N / max(size_N, 0.05 * abs(it.press_N) + 1e-9)


def greatest_mm(motion: Array) -> float:
    """Longest motion of a node.

    Parameters
    ----------
    motion : numpy.ndarray
        Motions of the nodes, (n - 1, 3). [mm]

    Returns
    -------
    float
        [mm]
    """
    return float(longest(motion))


def _part(it: Iterate, move: float, moves: list[float], law: ContactLaw) -> float:
    """Share of a Newton step to take: none moves a node further than :data:`MOST_MOVE_mm`."""
    loose = float(it.force[: len(it.along), :, 0].max()) < 10 * law.rounding_N
    part = min(1.0, MOST_MOVE_mm * (3 if loose else 1) / max(move, 1e-9))
    swings = len(moves) >= 3 and move > 0.7 * moves[-1]
    return min(part, 0.6) if swings else part


def settled_state(
    it: Iterate, before: PressState, friction: float, rounding_N: float, *, closely: bool = True
) -> PressState:
    """The equilibrium as a state, statics and books included.

    Parameters
    ----------
    it, before : Iterate, PressState
        Where the step has come to, and where it began.
    friction, rounding_N : float
        Those of the law. [-, N]
    closely : bool
        Whether it has settled closely enough for stresses.

    Returns
    -------
    PressState
        Complete.
    """
    if len(it.step) or not it.written:
        it.follow()
    solver, here = it.solver, it.here
    held, bowl, e = solver.held, solver.bowl, len(it.along)
    carried = carried_wrench_at(held, here, it.force, it.press_N)
    shape = shape_of(here)
    lost, given, off, pull, over, miss = books_of(
        it.force,
        before.followed.force,
        here.gap,
        before.followed.gap_mm,
        it.predicted,
        bowl.point_compliance_mm_per_N,
        rounding_N,
        friction,
    )
    drop = here.meeting.drop_mm
    return PressState(
        press_N=it.press_N,
        shape=shape,
        deformation=deformed_under(held.layout, carried, shape.middle_mm, here.middle_frame),
        place=here.meeting.place,
        drop_mm=drop,
        slid_mm=before.slid_mm + here.gap[:e, :, 1:].reshape(-1, 2),
        lost_Nmm=before.lost_Nmm + lost,
        given_Nmm=before.given_Nmm + given,
        contact=ContactForces(
            force_N=it.force.reshape(-1, 3),
            residual_gap_mm=off,
            residual_force_N=pull,
            residual_friction_N=over,
        ),
        followed=Followed(it.splines, it.shear, it.force, here.meeting.gap_mm, here.meeting.slope_mm),
        iterations=it.iterations,
        residual_mm=miss,
        fell_through=bool(drop.max() >= bowl.seats.thickness_mm),
        closely=closely,
    )
