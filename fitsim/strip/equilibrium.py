"""One load step of the pressed strip: from one state to the equilibrium at another press, rise or friction.

Newton's method on the splines of `strip.configuration` with the contact law of `contact`. Each iteration
solves one linear system in the present configuration and works the law out at the gaps that the linear
change *predicts*; the difference between those and the gaps of the new shape goes into the next right-hand
side (a lifted Newton method; J. Albersmeyer and M. Diehl, SIAM J. Optim. 20 (2010), from memory): a
true gap never meets a stiff law. While the predicted motion is small the configuration is kept and only
the law is worked out again. Contact begins soft and stiffens in stages, the forces found being the
next stage's multipliers.

Where that does not settle, the strip is followed as one that *creeps*: its elements' own stiffness,
many times over, resists the change, and fades as the motion dies away (pseudo-transient continuation;
C. T. Kelley and D. E. Keyes, SIAM J. Numer. Anal. 35 (1998), from memory). A strip for which there is no
balance near creeps away, and if its seats run out of wood on the way it has fallen through.

A step is given by the press to reach, or by the rise: then the press is one more unknown. Turning back
(a gentler press, less friction) the points that touch are hard and counted from where they are, all
taken to stick at first.
"""

from dataclasses import dataclass, replace

import numpy as np

from fitsim.arrays import Array
from fitsim.strip.configuration import (
    Held,
    Tangent,
    carried_wrench_at,
    configure,
    held_constants,
    moved_by,
    shape_of,
    shear_under,
    solved,
    tangent,
)
from fitsim.strip.contact_law import ContactLaw, normal_before_N, touch
from fitsim.strip.splines import SPLINES_PER_TURN, strip_splines
from fitsim.strip.state import ContactForces, ElasticBowl, Followed, PressState

__all__ = [
    "Creeping",
    "Goal",
    "Settled",
    "Solver",
    "flat_state",
    "prepare",
    "settle",
    "turn_back",
    "unit_press",
]

SOFTEST, SOFT, FIRM, HARD = 30.0, 50.0, 100.0, 200.0
"""Stiffness of the contact's spring: before the turns seat, in a first stage, in later ones, at the
end; at 18 points a revolution of 60 mm radius and a bending stiffness in the plane of 5e5 N mm^2. [N/mm]"""

TURNING_BACK_N_PER_mm = 500.0
"""Stiffness of a touching point in a step back; its compliance comes in series. [N/mm]"""

ROUNDING = 0.2
"""Rounding of the contact's corner over the mean normal force of a node."""

SHARP, SHARPEST = 8.0, 12.0
"""Sharpness of the corner between sticking and sliding: pressing, where nearly all slide; turning back."""

NAIL_N_PER_mm = 3000.0
"""Spring beside a nail's forces so far. [N/mm]"""

MOST_MOVE_mm, REFRESH_mm, TRUE_TANGENT_mm = 8.0, 0.1, 2.0
"""Longest motion of a node in one iteration, the motion after which the configuration is worked out
again, and the motion below which the contact's own turning is counted. [mm]"""

TORN, MOST_TORN = 0.5, 3
"""Turning back: error of the law's forces at which touching points have been torn from where they
stuck, and how often that may happen before the bowl is taken to have slipped. [-]"""

SLIPPING_mm = 1.0
"""Turning back: motion of one iteration from which the strip slips away. Of a hundred steps back that
settled one came to 0.8 mm, the others to 0.3. [mm]"""

A_LITTLE_mm, GROWS_mm, BACK_GROWS_mm = 0.03, 1.0, 0.1
"""Motion that may grow again without a stage being given up: after seven iterations; from the fourth on;
and where a step back that fails is tried shorter, of 1312 stages that settled 8 had moved so far. [mm]"""

MOST_ITERATIONS = 14
"""Most iterations of a stage that does not creep."""

MOST_GAP_mm = 0.3
"""An equilibrium at the end of a path with a touching point further from its place is none."""

LATER_DAMPING = 0.3
"""Damping in the later stages of a creeping strip, in its elements' own stiffness. [-]"""


@dataclass(frozen=True, eq=False)
class Solver:
    """A bowl made ready for load steps.

    Attributes
    ----------
    held : Held
        Constants of the strip.
    stiffness : numpy.ndarray
        Contact stiffness at every slot's points in units of :data:`FIRM`'s hundred N/mm, (s, 2). [-]
    wedge : float
        Friction plus slope of the bevels: press over normal force. [-]
    """

    held: Held
    stiffness: Array
    wedge: float

    @property
    def bowl(self) -> ElasticBowl:
        """The bowl."""
        return self.held.splines.bowl

    def rounding_N(self, press_N: float) -> float:
        """Force over which the contact's corner is rounded at a press. [N]"""
        return ROUNDING * max(abs(press_N) / (self.wedge * self.bowl.nodes_per_turn), 1e-3)


@dataclass(frozen=True)
class Creeping:
    """How a strip that creeps is followed.

    Attributes
    ----------
    damping : float
        How many times its elements' own stiffness resists the change, to begin with. [-]
    patience : int
        Most iterations of a stage.
    """

    damping: float = 2.0
    patience: int = 60


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
class Settled:
    """What came of a load step.

    Attributes
    ----------
    state : PressState or None
        The equilibrium; None where none was found.
    fell : bool
        Whether the strip crept away until its seats had run out of wood.
    iterations : int
        Linear systems solved.
    torn : bool
        Whether touching points were torn from where they stuck, turning back.
    """

    state: PressState | None
    fell: bool
    iterations: int
    torn: bool = False


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
    splines_per_turn = splines_per_turn or bowl.splines_per_turn or SPLINES_PER_TURN
    held = held_constants(strip_splines(bowl, splines_per_turn=splines_per_turn))
    strip = bowl.strip
    # The strip's own stiffness against bending in the plane sets the scale, softer on a wider turn.
    scale = float(np.median(strip.arc_mm / strip.flexibility[:, 5, 5])) / 5e5 * 18 / bowl.nodes_per_turn
    radius = np.hypot(strip.position_mm[held.splines.outer, 0], strip.position_mm[held.splines.outer, 1])
    stiffness = scale * (60.0 / radius) ** 2
    return Solver(
        held=held,
        stiffness=np.repeat(stiffness[:, None], 2, axis=1),
        wedge=bowl.friction + float(np.tan(bowl.seats.tilt_rad.mean())),
    )


def flat_state(solver: Solver) -> PressState:
    """The flat board: nothing touches, no press.

    Parameters
    ----------
    solver : Solver
        The bowl made ready.

    Returns
    -------
    PressState
        At press zero.
    """
    held, bowl = solver.held, solver.bowl
    s, e = held.splines, len(bowl.strip.arc_mm)
    splines, shear = np.zeros((s.count, 4)), np.zeros((e, 3))
    here = configure(held, splines, shear, bowl.seats.place, np.zeros((e, 2)), sweeps=3)
    met = here.meeting
    return PressState(
        press_N=0.0,
        shape=shape_of(here),
        deformation=np.zeros((e, 6)),
        place=here.meeting.place,
        drop_mm=here.meeting.drop_mm,
        slid_mm=np.zeros((2 * e, 2)),
        lost_Nmm=0.0,
        given_Nmm=0.0,
        contact=ContactForces(np.zeros((2 * s.slots, 3)), 0.0, 0.0, 0.0),
        followed=Followed(splines, shear, np.zeros((s.slots, 2, 3)), met.gap_mm, met.slope_mm),
        iterations=0,
        residual_mm=0.0,
        fell_through=False,
    )


class _Iterate:
    """Where a load step has come to."""

    def __init__(
        self, solver: Solver, before: PressState, splines: Array, force: Array, press_N: float
    ) -> None:
        self.solver, self.slope_mm = solver, before.followed.slope_mm
        self.splines, self.shear, self.place = splines, before.followed.shear_mm, before.place
        self.along = np.zeros((len(before.place), 2))
        self.force, self.press_N = force, press_N
        self.creeping, self.patience, self.true_tangent, self.iterations = 0.0, MOST_ITERATIONS, False, 0
        self.grows_mm = GROWS_mm
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
        self.loaded = self.force, self.press_N, self.true_tangent, self.creeping > 0
        self.known: Tangent | None = None

    @property
    def at(self) -> Tangent:
        """The tangent in the configuration and under the forces last written, worked out when asked for."""
        if self.known is None:
            held, (force, press_N, true_tangent, creeping) = self.solver.held, self.loaded
            carried = carried_wrench_at(held, self.here, force, press_N)
            turned = force if true_tangent else None
            self.known = tangent(held, self.here, carried, press_N, turned, creeping=creeping)
        return self.known

    def shear_as_carried(self) -> None:
        """Let the elements shear under the forces found."""
        held = self.solver.held
        carried = carried_wrench_at(held, self.here, self.force, self.press_N)
        self.shear, self.written = shear_under(held, self.here, carried), False

    def follow(self) -> None:
        """Take the predicted change as the shape, and work it out."""
        if len(self.step):
            self.splines = self.splines + self.step.reshape(self.splines.shape)
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
class _Tolerance:
    """When a stage has settled: motion of a node [mm] and error of the law's forces [-]."""

    move_mm: float
    force: float


CLOSELY, LOOSELY = _Tolerance(0.008, 0.004), _Tolerance(0.07, 0.03)
"""The end of a path where stresses are asked for, and where they are not."""


def _law(
    solver: Solver, times: float, rounding_N: float, friction: float, before: Array, gripped: Array
) -> ContactLaw:
    compliance = solver.bowl.point_compliance_mm_per_N
    return ContactLaw(
        stiffness_N_per_mm=1 / (compliance + 1 / (times * solver.stiffness)),
        compliance_mm_per_N=compliance,
        friction=friction,
        rounding_N=rounding_N,
        sharpness=SHARP,
        before_N=before,
        gripped_N=gripped,
    )


def _forces(solver: Solver, law: ContactLaw, gap: Array, sticky: float) -> tuple[Array, Array]:
    """The law at the seats, and the nails' ties."""
    held = solver.held
    e = len(solver.bowl.strip.arc_mm)
    force, change = touch(law, gap, sticky=sticky)
    if len(held.tied):
        spring = np.full((len(held.tied), 2, 3), NAIL_N_PER_mm)
        spring[:, 1] *= (solver.bowl.seats.thickness_mm / 3) ** 2
        spring = spring * held.tied
        force[e:] = (law.before_N[e:] - spring * gap[e:]) * held.tied
        change[e:] = -spring[..., None] * np.eye(3)
    return force, change


def _stage(
    it: _Iterate,
    law: ContactLaw,
    goal: Goal,
    tolerance: _Tolerance,
    sticky: float = 1.0,
    least_rise_mm: float = -np.inf,
    enough: _Tolerance | None = None,
) -> str:
    """Iterate with one law: "settled", "fell", "torn" or "lost"; ``it.first_move`` is its first motion.

    Where it is lost after it had come within ``enough`` it is taken back to there: "loosely".
    """
    came = _iterated(it, law, goal, tolerance, sticky, least_rise_mm, enough)
    if came == "lost" and it.best is not None:
        best = it.best
        it.back_to(best)
        came = "loosely"
    it.best = None
    return came


def _iterated(
    it: _Iterate,
    law: ContactLaw,
    goal: Goal,
    tolerance: _Tolerance,
    sticky: float,
    least_rise_mm: float,
    enough: _Tolerance | None,
) -> str:
    solver, held = it.solver, it.solver.held
    e, thickness = len(it.along), solver.bowl.seats.thickness_mm
    moves: list[float] = []
    creeps, gone, torn = it.creeping > 0, 0, 0
    it.force, it.change = _forces(solver, law, it.predicted, sticky)
    for count in range(it.patience if creeps else MOST_ITERATIONS):
        found = solved(
            held,
            it.at,
            it.force,
            it.change,
            it.predicted,
            press_N=it.begun_N,
            rise_mm=goal.rise_mm,
            damping=it.creeping,
        )
        it.iterations += 1
        if found is None:
            return "lost"
        step, more = found
        gap, motion = moved_by(held, it.at, step)
        move = _greatest(motion - it.motion)
        if not np.isfinite(move) or move > 300:
            return "lost"
        part = _part(it, move, moves, creeps, law)
        moves.append(move)
        if part < 1:
            start = it.step if len(it.step) else np.zeros_like(step)
            step = start + part * (step - start)
            more = it.press_N - it.begun_N + part * (more - (it.press_N - it.begun_N))
            gap, motion = moved_by(held, it.at, step)
        predicted = it.here.gap + gap
        predicted[e:] *= held.tied
        linear = it.force + np.matmul(it.change, (predicted - it.predicted)[..., None])[..., 0]
        it.force, it.change = _forces(solver, law, predicted, 1.0)
        it.predicted, it.step, it.motion, it.press_N = predicted, step, motion, it.begun_N + more
        size = max(float(np.abs(it.force[:e]).sum()), 0.05 * abs(it.press_N) + 1e-9)
        error = float(np.abs(it.force - linear)[:e].sum()) / size
        it.true_tangent = error < 0.05 and move < TRUE_TANGENT_mm and count > 0
        if creeps:
            it.creeping = _fading(it.creeping, moves, error)
        done = move < tolerance.move_mm and part == 1 and error < tolerance.force and it.creeping == 0
        far = _greatest(motion)
        if far > REFRESH_mm and not (done and far < 3 * REFRESH_mm):
            it.follow()
        if done:
            it.first_move = moves[0]
            return "settled"
        if enough is not None and move < enough.move_mm and part == 1 and error < enough.force:
            it.first_move = moves[0]
            it.best = it.kept()
        torn += law.welded is not None and error > TORN
        if torn >= MOST_TORN:
            return "torn"
        if law.welded is not None and not creeps and count > 1 and move > max(SLIPPING_mm, 3 * moves[-2]):
            return "torn" if torn else "lost"
        if creeps:
            sunk = float(it.here.meeting.drop_mm.max())
            low = it.here.rise_mm < least_rise_mm
            gone = gone + 1 if (sunk > 1.05 * thickness or low) and error < 0.1 and move < 6 else 0
            if gone >= 4 or sunk > 2.5 * thickness:
                return "fell" if gone else "lost"
        elif count >= 4 and move > max(0.5 * min(moves[:-2]), it.grows_mm if count < 7 else A_LITTLE_mm):
            return "lost"
    return "lost"


def _greatest(motion: Array) -> float:
    return float(np.sqrt((motion * motion).sum(axis=1).max()))


def _part(it: _Iterate, move: float, moves: list[float], creeps: bool, law: ContactLaw) -> float:
    """Share of a Newton step to take: none moves a node further than :data:`MOST_MOVE_mm`."""
    loose = float(it.force[: len(it.along), :, 0].max()) < 10 * law.rounding_N
    part = min(1.0, MOST_MOVE_mm * (3 if loose else 1) / max(move, 1e-9))
    swings = len(moves) >= 3 and move > 0.7 * moves[-1]
    return min(part, 0.6) if swings and not creeps else part


def _fading(creeping: float, moves: list[float], error: float) -> float:
    """Damping of the next iteration: it fades as the motion dies away."""
    if moves[-1] < 0.15 and error < 0.05:
        creeping *= 0.25
    elif len(moves) > 1:
        creeping *= min(max(0.3, 1.3 * moves[-1] / moves[-2]), 2.0)
    return 0.0 if creeping < 0.03 and moves[-1] < 1 else min(creeping, 20.0)


def settle(
    solver: Solver,
    before: PressState,
    goal: Goal,
    *,
    splines: Array | None = None,
    force: Array | None = None,
    seated: bool = True,
    creeping: Creeping | None = None,
    friction: float | None = None,
) -> Settled:
    """Go from one state to another in a single load step.

    Parameters
    ----------
    solver, before, goal : Solver, PressState, Goal
        The bowl made ready, where it is, and where to.
    splines, force : numpy.ndarray, optional
        First guess of the splines, (count, 4), and of the forces, (s, 2, 3); left out, those before.
        [rad, N]
    seated : bool
        Whether turns bear already; before that contact begins softer.
    creeping : Creeping, optional
        Follow the strip as one that creeps.
    friction : float, optional
        Coefficient in place of the bowl's. [-]

    Returns
    -------
    Settled
        The equilibrium, or how the step ended without one.
    """
    mu = solver.bowl.friction if friction is None else friction
    begin = SOFT if seated else SOFTEST
    w = solver.rounding_N(max(goal.press_N, before.press_N))
    ladder = _ladder(begin, w, goal.last, creeping)
    guess = before.followed.splines if splines is None else splines
    lent = before.followed.force if force is None else force
    gripped = before.followed.force[:, :, 1:]
    it = _Iterate(solver, before, guess, lent, goal.press_N)
    it.patience = MOST_ITERATIONS if creeping is None else creeping.patience
    held: tuple[float, float] | None = None
    rung, tries, spent = 0, 0, 0
    end = CLOSELY if goal.closely and creeping is None else LOOSELY
    for _ in range(16):
        times, rounding, damping = ladder[min(rung, len(ladder) - 1)]
        first = _Tolerance(0.25, 0.15) if rung == 0 else _Tolerance(0.15, 0.15)
        tolerance = end if goal.last and rung else first
        if damping > 0:
            it.creeping = damping
            it.write()
        kept = it.kept()
        law = _law(solver, times, rounding, mu, lent, gripped)
        enough = LOOSELY if tolerance is CLOSELY else None
        came = _stage(it, law, goal, tolerance, enough=enough)
        if came == "loosely":
            # What cannot be settled as closely as stresses ask for is settled as closely as it can be.
            end, came = LOOSELY, "settled"
        if came != "settled":
            if held is not None and tries < 4:
                # Stay at what settled, or little above: multipliers close the gaps all the same.
                it.back_to(kept)
                higher = held[0] * min((times / held[0]) ** 0.4, 1.6) if tries < 1 else held[0]
                ladder = [*ladder[:rung], (higher, held[1], damping)]
                tries += 1
                continue
            if came == "fell" or creeping is not None or tries:
                return Settled(None, came == "fell", it.iterations + spent)
            ladder = [(times / 3.5, 1.5 * rounding, 0.0), *ladder]
            tries, spent = 1, it.iterations
            it = _Iterate(solver, before, guess, lent, goal.press_N)
            continue
        lent, held, rung = it.force, (times, rounding), rung + 1
        it.shear_as_carried()
        if rung >= len(ladder) and it.first_move < (0.12 if goal.last else 2.0):
            break
    else:
        if it.first_move > (0.5 if goal.last else 4.0):
            return Settled(None, False, it.iterations + spent)
    state = _state(it, before, mu, w, closely=goal.last and end is CLOSELY)
    far = goal.last and state.contact.residual_gap_mm > MOST_GAP_mm
    return Settled(None if far else state, False, it.iterations + spent)


def _ladder(
    begin: float, w: float, last: bool, creeping: Creeping | None
) -> list[tuple[float, float, float]]:
    """Stages: times the contact stiffness, rounding, damping."""
    if creeping is not None:
        ladder = [(FIRM, w, creeping.damping), (HARD, w, LATER_DAMPING)]
    else:
        ladder = [(begin, w, 0.0), (1.2 * FIRM if last else FIRM, w, 0.0)]
    return [*ladder, (HARD, w, 0.0)] if last else ladder


def turn_back(
    solver: Solver,
    before: PressState,
    press_N: float,
    *,
    friction: float | None = None,
    creeping: Creeping | None = None,
    least_rise_mm: float = -np.inf,
    briefly: bool = False,
) -> Settled:
    """A gentler press, or another friction, from a state in which turns bear.

    Touching points are hard and counted from where they are; all are taken to stick at first.

    Parameters
    ----------
    solver, before : Solver, PressState
        The bowl made ready, and where it is.
    press_N : float
        Press to reach; negative pushes the rim down. [N]
    friction : float, optional
        Coefficient in place of the bowl's. [-]
    creeping : Creeping, optional
        Follow the strip as one that creeps.
    least_rise_mm : float
        A creeping strip that sinks below this rise has gone. [mm]
    briefly : bool
        Whether to give up soon, as a step that fails is tried shorter.

    Returns
    -------
    Settled
        The equilibrium, or how the step ended without one.
    """
    mu = solver.bowl.friction if friction is None else friction
    force, e = before.followed.force, len(before.place)
    N = force[:e, :, 0]
    w = ROUNDING * max(float(N.sum()) / len(N), 1e-4)
    it = _Iterate(solver, before, before.followed.splines, force, press_N)
    it.grows_mm = BACK_GROWS_mm if briefly else GROWS_mm
    welded = np.zeros(force.shape[:2], dtype=bool)
    welded[:e] = 1e-3 * float(N.max()) < N
    lent = np.where(welded[..., None], force, 0.0)
    lent[e:] = force[e:]
    compliance = solver.bowl.point_compliance_mm_per_N
    soft = _law(solver, HARD, w, mu, lent, lent[:, :, 1:])
    law = replace(
        soft,
        stiffness_N_per_mm=np.where(
            welded, 1 / (compliance + 1 / TURNING_BACK_N_PER_mm), soft.stiffness_N_per_mm
        ),
        sharpness=SHARPEST,
        welded=welded,
        welded_N=normal_before_N(np.maximum(force[..., 0], 1e-12), w),
        welded_mm=it.predicted[..., 0],
    )
    sticky = 4.0
    for count in range(8):
        if creeping is not None:
            it.creeping = creeping.damping if count == 0 else LATER_DAMPING
            it.patience = creeping.patience
            it.write()
        came = _stage(it, law, Goal(press_N), _Tolerance(0.005, 0.02), sticky, least_rise_mm)
        if came != "settled":
            return Settled(None, came == "fell", it.iterations, came == "torn")
        sticky = 1.0
        it.shear_as_carried()
        it.follow()
        miss = np.abs(it.here.gap - it.predicted)[:e, :, 0]
        if float(miss[it.force[:e, :, 0] > w].max(initial=0.0)) < 2e-3:
            return Settled(_state(it, before, mu, w), False, it.iterations)
    return Settled(None, False, it.iterations)


def unit_press(solver: Solver, state: PressState) -> tuple[Array, float, float]:
    """What a press of one newton does to a state with nothing touching.

    Parameters
    ----------
    solver, state : Solver, PressState
        The bowl made ready and its state.

    Returns
    -------
    tuple[numpy.ndarray, float, float]
        Change of the splines (count, 4) [rad], greatest change of a drop [mm], change of the rise [mm].
    """
    held, e = solver.held, len(state.place)
    it = _Iterate(solver, state, state.followed.splines, np.zeros_like(state.followed.force), 0.0)
    apart = it.here.gap
    apart[:e, :, 0] = 1e3
    law = _law(solver, FIRM, 1e-3, 0.0, np.zeros_like(apart), np.zeros((*apart.shape[:2], 2)))
    force, change = _forces(solver, law, apart, 1.0)
    found = solved(held, it.at, force, change, apart, press_N=1.0, rise_mm=None)
    if found is None:
        raise ArithmeticError("the free strip's stiffness is singular")
    step, small = found[0].reshape(state.followed.splines.shape), 1e-3
    there = configure(held, it.splines + small * step, it.shear, it.place, it.slope_mm)
    drop = np.abs(there.meeting.drop_mm - it.here.meeting.drop_mm).max() / small
    return step, float(drop), (there.rise_mm - it.here.rise_mm) / small


def _state(
    it: _Iterate, before: PressState, friction: float, rounding_N: float, *, closely: bool = True
) -> PressState:
    """The equilibrium as a state, statics and books included."""
    if len(it.step) or not it.written:
        it.follow()
    solver, here = it.solver, it.here
    held, bowl, e = solver.held, solver.bowl, len(it.along)
    carried = carried_wrench_at(held, here, it.force, it.press_N)
    shape = shape_of(here)
    local = np.concatenate(
        [carried[:, :3], carried[:, 3:] - np.cross(shape.middle_mm, carried[:, :3])], axis=1
    ).reshape(-1, 2, 3)
    local = np.matmul(local, here.middle_frame).reshape(-1, 6)
    seat, was = it.force[:e], before.followed.force[:e]
    moved = here.gap[:e]
    mean = 0.5 * (seat + was)
    N, t = seat[:, :, 0], np.linalg.norm(seat[:, :, 1:], axis=2)
    off = np.where(
        rounding_N < N,
        np.abs(moved[:, :, 0] + bowl.point_compliance_mm_per_N * N),
        np.maximum(-moved[:, :, 0], 0),
    )
    miss = np.abs(here.gap - it.predicted)[:e, :, 0]
    drop = here.meeting.drop_mm
    return PressState(
        press_N=it.press_N,
        shape=shape,
        deformation=np.matmul(bowl.strip.flexibility, local[:, :, None])[:, :, 0],
        place=here.meeting.place,
        drop_mm=drop,
        slid_mm=before.slid_mm + moved[:, :, 1:].reshape(-1, 2),
        lost_Nmm=before.lost_Nmm - float((mean[:, :, 1:] * moved[:, :, 1:]).sum()),
        given_Nmm=before.given_Nmm
        - float((mean[:, :, 0] * (moved[:, :, 0] - before.followed.gap_mm)).sum()),
        contact=ContactForces(
            force_N=it.force.reshape(-1, 3),
            residual_gap_mm=float(off.max()),
            residual_force_N=float(np.maximum(-N, 0).max()),
            residual_friction_N=float(np.maximum(t - friction * N, 0).max()),
        ),
        followed=Followed(it.splines, it.shear, it.force, here.meeting.gap_mm, here.meeting.slope_mm),
        iterations=it.iterations,
        residual_mm=float(miss[rounding_N < N].max(initial=0.0)),
        fell_through=bool(drop.max() >= bowl.seats.thickness_mm),
        closely=closely,
    )
