"""The engine: a section of the rings in a general 2-D rigid-body engine (pymunk), stage by stage.

Used by `fitsim.rigidbody.settling`, which says what is modelled and why.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple, NoReturn

import numpy as np

from fitsim.arrays import Array
from fitsim.errors import InputError, Problem
from fitsim.geometry.rings import RingSections
from fitsim.rigidbody.records import Frame, Rest, SettleSettings

if TYPE_CHECKING:
    import pymunk

__all__ = [
    "STAGES", "Engine", "STANDARD_GRAVITY_mm_s2", "build", "pinch_at_N", "refuse", "ring_masses_kg",
    "run_stage", "step",
]  # fmt: skip

STAGES = ("press", "let go", "turn over", "shake")
STANDARD_GRAVITY_mm_s2 = 9806.65  # ISO 80000-3 (from memory)
# Held: at least this share of the pinch at the press is left. Friction that holds keeps all of
# it and friction that does not keeps only what weight makes, so any middling share serves.
HELD_SHARE = 0.5
# The engine takes rates as the share left after one second, exp(-rate); that must not come out 0,
# or speeds would stop dead and overlap be undone in one step.
GREATEST_RATE_per_s = 700.0


class _Load(NamedTuple):
    """Push on the base, upward, and weight in the rim's frame."""

    push_N: float
    across_mm_s2: float
    up_mm_s2: float


@dataclass(eq=False)
class Engine:
    """The engine's objects and the state of the loads; for `fitsim.rigidbody.settling` alone.

    Attributes
    ----------
    sections, settings
        What is tried, and what the engine is told.
    space, bodies, shapes
        The engine's own objects; bodies and shapes by ring.
    corners_mm : list
        Corners of every polygon of every ring, in the ring's own frame. [mm]
    record_every : int
        Steps between snapshots; 0 for none.
    push_N : float
        Push on the base at present, upward. [N]
    overturned : bool
        Whether weight acts the other way.
    steps : int
        Steps taken so far.
    below, above : set of int
        Rings that have passed out below or above the next ring outward.
    frames : list
        Snapshots so far.
    """

    sections: RingSections
    settings: SettleSettings
    space: "pymunk.Space"
    bodies: list[list["pymunk.Body"]]
    shapes: list[list["pymunk.Poly"]]
    corners_mm: list[list[Array]]
    record_every: int
    push_N: float = 0.0
    overturned: bool = False
    steps: int = 0
    below: set[int] = field(default_factory=set)
    above: set[int] = field(default_factory=set)
    frames: list[Frame] = field(default_factory=list)


def refuse(key: str, value: object, expected: str, remedy: str) -> NoReturn:
    """Raise one problem with what was asked.

    Parameters
    ----------
    key : str
        Name of the argument.
    value : object
        What it was.
    expected, remedy : str
        What would have been understood, and what to do.

    Raises
    ------
    InputError
        Always.
    """
    raise InputError(Problem("", key, str(value), expected, remedy))


def ring_masses_kg(sections: RingSections, density_kg_m3: float) -> Array:
    """Mass of every whole ring.

    Parameters
    ----------
    sections : RingSections
        The rings.
    density_kg_m3 : float
        Of the wood. [kg/m3]

    Returns
    -------
    numpy.ndarray
        Shape (n,). [kg]
    """
    area_mm2 = np.pi * (sections.outer_radius_mm**2 - sections.inner_radius_mm**2)
    return np.asarray(area_mm2 * sections.thickness_mm * density_kg_m3 * 1e-9)


def _corners_mm(sections: RingSections, ring: int) -> list[Array]:
    """Polygons of one ring: the base, or the right half and the left."""
    half = sections.thickness_mm[ring] / 2 * np.array([-1.0, 1.0])
    right, left = (_faces_mm(side, ring, half) for side in (sections, sections.left or sections))
    if ring == 0:
        return [_polygon(-left[1], right[1], half)]
    return [_polygon(*right, half), _polygon(*left, half) * (-1, 1)]


def _faces_mm(side: RingSections, ring: int, half: Array) -> tuple[Array, Array]:
    """Inner and outer face of one half, below and above."""
    inner = side.inner_radius_mm[ring] + side.inner_slope[ring] * half
    return inner, side.outer_radius_mm[ring] + side.outer_slope[ring] * half


def _polygon(inner: Array, outer: Array, half: Array) -> Array:
    return np.array([(inner[0], half[0]), (outer[0], half[0]), (outer[1], half[1]), (inner[1], half[1])])


def build(sections: RingSections, settings: SettleSettings, *, record_every: int) -> Engine:
    """Set up the engine, rings flat and off centre.

    Parameters
    ----------
    sections : RingSections
        The rings.
    settings : SettleSettings
        What the engine is told.
    record_every : int
        Steps between snapshots; 0 for none.

    Returns
    -------
    Engine
        Ready for the first stage.
    """
    import pymunk

    for name, rate in (("damping_per_s", settings.damping_per_s),
                       ("1 / correction_s", 1 / settings.correction_s)):  # fmt: skip
        if not 0 <= rate <= GREATEST_RATE_per_s:
            refuse(name, rate, f"0 to {GREATEST_RATE_per_s:g}", "choose a slower rate")
    space = pymunk.Space()
    space.iterations = settings.iterations
    space.collision_slop = settings.slop_mm / settings.unit_mm
    space.collision_bias = np.exp(-1 / settings.correction_s)
    space.damping = np.exp(-settings.damping_per_s)
    masses_kg = ring_masses_kg(sections, settings.density_kg_m3)
    last = masses_kg.size - 1
    offsets = settings.offset_mm * np.random.default_rng(settings.seed).uniform(-1, 1, last)
    engine = Engine(sections, settings, space, [], [], [], record_every)
    for ring, mass_kg in enumerate(masses_kg):
        corners_mm = _corners_mm(sections, ring)
        if np.isfinite(settings.radial_N_per_mm):
            each = [pymunk.Body(mass_kg / len(corners_mm), np.inf) for _ in corners_mm]
        elif ring < last:
            radii_mm2 = sections.inner_radius_mm[ring] ** 2 + sections.outer_radius_mm[ring] ** 2
            arm_mm2 = radii_mm2 / 4 + sections.thickness_mm[ring] ** 2 / 12
            each = [pymunk.Body(mass_kg, mass_kg * arm_mm2 / settings.unit_mm**2)]
        else:
            each = [pymunk.Body(body_type=pymunk.Body.STATIC)]
        at = 0.0 if ring == last else float(offsets[ring]) / settings.unit_mm
        for body in each:
            body.position = (at, 0.0)
        shapes = [
            pymunk.Poly(each[side % len(each)], (polygon / settings.unit_mm).tolist(), radius=0.0)
            for side, polygon in enumerate(corners_mm)
        ]
        space.add(*each, *shapes)
        engine.bodies.append(each)
        engine.shapes.append(shapes)
        engine.corners_mm.append(corners_mm)
        if len(each) == 2:
            _tie(engine, ring, mass_kg)
    return engine


def _tie(engine: Engine, ring: int, mass_kg: float) -> None:
    """Join the halves: one height, and a hoop spring; the rim's height is the ground's."""
    import pymunk

    settings, sections, rim = engine.settings, engine.sections, engine.sections.thickness_mm.size - 1
    radius = float(sections.inner_radius_mm[ring] + sections.outer_radius_mm[ring])
    radius /= 2 * settings.unit_mm
    # The engine damps a spring's impulse together with the speeds, so it must be given more.
    stiffness = settings.radial_N_per_mm * 1e3 * np.exp(settings.damping_per_s * settings.step_s)
    damping = 2 * np.sqrt(stiffness * mass_kg / 2)
    right, left = engine.bodies[ring]
    if ring < rim:
        pairs = [(right, left, -1, (radius, 0.0), 2)]
    else:
        ground = engine.space.static_body
        pairs = [(ground, right, 1, (0.0, 0.0), 1), (ground, left, -1, (0.0, 0.0), 1)]
    for first, second, side, anchor, arms in pairs:
        groove = sorted((0.5 * side * radius, 1.5 * side * radius))
        hold = pymunk.GrooveJoint(first, second, (groove[0], 0.0), (groove[1], 0.0), (side * radius, 0.0))
        hold.error_bias = np.exp(-1 / settings.correction_s)
        spring = pymunk.DampedSpring(
            first, second, anchor, (side * radius, 0.0), arms * radius, stiffness / arms,
            damping / arms,
        )  # fmt: skip
        engine.space.add(hold, spring)


def _heights_mm(engine: Engine) -> Array:
    return np.array([each[0].position.y for each in engine.bodies]) * engine.settings.unit_mm


def _drops_mm(engine: Engine) -> Array:
    drops = np.diff(_heights_mm(engine))
    drops[sorted(engine.below | engine.above)] = np.nan
    return drops


def pinch_at_N(engine: Engine) -> Array:
    """Radial force on a side of every seat: what the hoop springs outside it carry together.

    Parameters
    ----------
    engine : Engine
        At any moment.

    Returns
    -------
    numpy.ndarray
        Shape (n-1,). [N]
    """
    if np.isinf(engine.settings.radial_N_per_mm):
        return np.full(len(engine.bodies) - 1, np.nan)
    growth = [(right.position.x - left.position.x) / 2 for right, left in engine.bodies[1:]]
    force = np.array(growth) * engine.settings.unit_mm * engine.settings.radial_N_per_mm
    pinch = np.cumsum(force[::-1])[::-1]
    pinch[: max(engine.below | engine.above, default=-1) + 1] = np.nan
    return pinch


def _speed_mm_s(engine: Engine) -> float:
    speeds = [
        body.velocity.length * engine.settings.unit_mm + abs(body.angular_velocity) * radius
        for each, radius in zip(engine.bodies, engine.sections.outer_radius_mm, strict=True)
        for body in each
    ]
    return float(max(speeds))


def _penetration_mm(engine: Engine) -> float:
    depths = [0.0]

    def note(arbiter: "pymunk.Arbiter") -> None:
        depths.extend(-point.distance for point in arbiter.contact_point_set.points)

    for each in engine.bodies[:-1]:
        for body in each:
            body.each_arbiter(note)
    return float(max(depths)) * engine.settings.unit_mm


def _catch(engine: Engine) -> None:
    """Stop a ring that has left the ring outside it, whole thickness clear."""
    import pymunk

    reach_mm = (engine.sections.thickness_mm[1:] + engine.sections.thickness_mm[:-1]) / 2
    drops_mm = np.nan_to_num(_drops_mm(engine), nan=0.0)
    for ring in np.flatnonzero(np.abs(drops_mm) > reach_mm):
        (engine.below if drops_mm[ring] > 0 else engine.above).add(int(ring))
        each = engine.bodies[ring]
        engine.space.remove(*{tie for body in each for tie in body.constraints})
        for body in each:
            body.velocity, body.angular_velocity = (0.0, 0.0), 0.0
            body.body_type = pymunk.Body.STATIC


def step(engine: Engine, push_N: float) -> None:
    """One step of the engine, with a push on the base (forces last one step only).

    Parameters
    ----------
    engine : Engine
        The engine.
    push_N : float
        Push on the base, upward. [N]
    """
    engine.bodies[0][0].force = (0.0, push_N * 1e3 / engine.settings.unit_mm)
    engine.space.step(engine.settings.step_s)
    engine.steps += 1
    if engine.record_every and engine.steps % engine.record_every == 0:
        engine.frames.append(_frame(engine))


def _frame(engine: Engine) -> Frame:
    polygons, rings = [], []
    for ring, corners_mm in enumerate(engine.corners_mm):
        each = engine.bodies[ring]
        for side, polygon in enumerate(corners_mm):
            body = each[side % len(each)]
            c, s = np.cos(body.angle), np.sin(body.angle)
            at = np.array(body.position) * engine.settings.unit_mm
            polygons.append(polygon @ np.array([[c, s], [-s, c]]) + at)
            rings.append(ring)
    return Frame(engine.steps * engine.settings.step_s, tuple(polygons), tuple(rings))


def _loads(engine: Engine, stage: str) -> Callable[[float], _Load]:
    """Push and weight as functions of the time since the stage began."""
    settings, push_N, overturned = engine.settings, engine.push_N, float(engine.overturned)
    target_N = {"press": -settings.press_N, "let go": 0.0}.get(stage, push_N)
    phases = np.random.default_rng(settings.seed).uniform(0, 2 * np.pi, 2)

    def load(time_s: float) -> _Load:
        share = min(1.0, time_s / settings.ramp_s)
        angle = np.pi * (overturned + (share if stage == "turn over" else 0.0))
        weight = settings.gravity_mm_s2 * np.array([np.sin(angle), -np.cos(angle)])
        if stage == "shake" and time_s < settings.shake_s:
            turns = 2 * np.pi * settings.shake_Hz * time_s * np.array([1.0, 1.3]) + phases
            swell = np.sin(np.pi * time_s / settings.shake_s)
            weight += settings.shake_g * STANDARD_GRAVITY_mm_s2 * swell * np.sin(turns)
        return _Load(push_N + share * (target_N - push_N), float(weight[0]), float(weight[1]))

    return load


def _run(
    engine: Engine, load: Callable[[float], _Load], *, least_s: float, limit: int
) -> tuple[bool, float]:
    """Step until two quiet windows follow each other; whether they did, and the last drift."""
    settings, unit = engine.settings, engine.settings.unit_mm
    window = max(1, round(settings.window_s / settings.step_s))
    quiet, drift_mm, before = 0, np.inf, _drops_mm(engine)
    for number in range(1, limit + 1):
        now = load(number * settings.step_s)
        engine.space.gravity = (now.across_mm_s2 / unit, now.up_mm_s2 / unit)
        engine.push_N = now.push_N
        step(engine, now.push_N)
        if number % 10 == 0:
            _catch(engine)
        if number % window == 0:
            after = _drops_mm(engine)
            same = np.array_equal(np.isnan(after), np.isnan(before))
            drift_mm = float(np.max(np.abs(np.nan_to_num(after - before, nan=0.0))))
            calm = drift_mm < settings.drift_limit_mm
            calm = calm and _speed_mm_s(engine) < settings.speed_limit_mm_s
            quiet = quiet + 1 if calm and same and number * settings.step_s > least_s else 0
            before = after
            if quiet == 2:
                return True, drift_mm
    return False, drift_mm


def run_stage(engine: Engine, stage: str, pressed_N: Array | None) -> tuple[Rest, Array | None]:
    """Run one stage.

    Parameters
    ----------
    engine : Engine
        The engine.
    stage : str
        One of `STAGES`.
    pressed_N : numpy.ndarray or None
        Pinch of every seat at the last press, shape (n-1,); None before one. [N]

    Returns
    -------
    tuple[Rest, numpy.ndarray or None]
        Where the stage ended, and the pinch at the last press.
    """
    settings, first, settled, drift_mm = engine.settings, engine.steps, True, np.inf
    if stage == "press":
        _set_friction(engine, settings.seating_friction)
        light = _Load(-settings.light_N, 0.0, -settings.gravity_mm_s2)
        limit = min(settings.seating_limit, settings.step_limit)
        settled, drift_mm = _run(engine, lambda _: light, least_s=0.0, limit=limit)
        # Rigid rings that still chatter go on: full friction quiets them, the press decides.
        settled = settled or bool(np.isinf(settings.radial_N_per_mm))
    _set_friction(engine, settings.friction)
    if settled:
        least_s = settings.shake_s if stage == "shake" else settings.ramp_s
        load = _loads(engine, stage)
        settled, drift_mm = _run(engine, load, least_s=least_s, limit=settings.step_limit)
    engine.overturned ^= stage == "turn over"
    unknown = np.full(len(engine.bodies) - 1, np.nan)
    drops_mm, pinch_N = (_drops_mm(engine), pinch_at_N(engine)) if settled else (unknown, unknown)
    pressed_N = pinch_N if stage == "press" else pressed_N
    held = None
    if settled and pressed_N is not None and np.isfinite(settings.radial_N_per_mm):
        held = not engine.below | engine.above and bool(np.all(pinch_N >= HELD_SHARE * pressed_N))
    unit = settings.unit_mm
    rest = Rest(
        stage=stage, settled=settled, held=held, seat_drop_mm=drops_mm, pinch_N=pinch_N,
        shift_mm=np.array([np.mean([b.position.x for b in each]) for each in engine.bodies]) * unit,
        tilt_rad=np.array([each[0].angle for each in engine.bodies]),
        speed_mm_s=_speed_mm_s(engine), penetration_mm=_penetration_mm(engine), drift_mm=drift_mm,
        steps=engine.steps - first,
    )  # fmt: skip
    for array in (rest.seat_drop_mm, rest.pinch_N, rest.shift_mm, rest.tilt_rad):
        array.setflags(write=False)
    return rest, pressed_N


def _set_friction(engine: Engine, friction: float) -> None:
    for shapes in engine.shapes:
        for shape in shapes:  # the engine multiplies the two bodies' values
            shape.friction = friction**0.5
