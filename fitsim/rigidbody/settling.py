"""Press the rings, let go, turn over and shake, in a general 2-D rigid-body engine (pymunk).

An independent witness: it knows the section of every ring and nothing of the closed form of the
seat. The bowl is cut along a diameter; a ring shows two parallelograms, the base one, and the
outermost ring is held as the rim. Two formulations, each for what it can answer:

* **rigid rings** (``radial_N_per_mm`` infinite): one body a ring, free to drop, shift sideways
  and tilt. For seat drops and falling through. Rigid wedges have no definite pinch: while
  tan(tilt) < friction any normal force satisfies statics, and the engine keeps whatever it last
  found (turned over, rings pressed hard stay and rings pressed lightly drop out). So nothing is
  said about holding.
* **yielding rings** (finite): the halves slide apart against a hoop spring, share one height and
  do not turn. For hold and collapse, which are force balances along the slope; tilting is left
  out because the halves of a ring that tilts would differ in height.

The engine allows bodies to overlap by ``collision_slop``, 0.1 of a length unit unless told: with
a bowl in millimetres, a sixth of the kerf. `settings_for` sets it, and step and iterations, from
the least clearance; the result carries them.
"""

from dataclasses import dataclass

import numpy as np

from fitsim.arrays import Array
from fitsim.geometry.rings import RingSections
from fitsim.rigidbody.engine import (
    STAGES,
    STANDARD_GRAVITY_mm_s2,
    build,
    refuse,
    ring_masses_kg,
    run_stage,
)
from fitsim.rigidbody.records import Frame, Rest, SettleSettings

__all__ = [
    "STAGES", "Frame", "Rest", "RingSections", "SettleSettings", "Settled", "settings_for", "settle",
]  # fmt: skip


@dataclass(frozen=True, eq=False)
class Settled:
    """What became of the rings, stage by stage.

    Attributes
    ----------
    rests : tuple of Rest
        One a stage, in order; stages after one that did not settle are not run.
    fell_through : tuple of int
        Rings that passed out below the next ring outward; each is stopped where it is then, so
        that the seats inside it are still tried.
    fell_out : tuple of int
        Rings that passed out above it.
    settings : SettleSettings
        What the engine was told.
    frames : tuple of Frame
        Snapshots, if asked for.
    """

    rests: tuple[Rest, ...]
    fell_through: tuple[int, ...]
    fell_out: tuple[int, ...]
    settings: SettleSettings
    frames: tuple[Frame, ...]

    @property
    def settled(self) -> bool:
        """Whether every stage came to rest."""
        return all(rest.settled for rest in self.rests)

    @property
    def seat_drop_mm(self) -> Array:
        """Drop of every seat after the first stage, shape (n-1,), in mm."""
        return self.rests[0].seat_drop_mm

    @property
    def held(self) -> bool | None:
        """Whether the bowl held through all stages run; None where that has no answer."""
        answers = [rest.held for rest in self.rests]
        return None if None in answers else all(answers)


def settings_for(
    sections: RingSections,
    *,
    friction: float,
    press_N: float,
    radial_N_per_mm: float = np.inf,
    gravity_mm_s2: float = STANDARD_GRAVITY_mm_s2,
    density_kg_m3: float = 600.0,
    offset_mm: float | None = None,
    seed: int = 1,
    unit_mm: float = 1.0,
    step_factor: float = 1.0,
) -> SettleSettings:
    """Choose slop, step and iterations from the least clearance and the bevels.

    * Slop: 0.0003 of the least clearance, so that the drop errs by 0.03 percent.
    * Step: moving at the speed of approach, a ring crosses at most 2 percent of its clearance in
      one step; for yielding rings also no more than 1/omega of ring on spring (limit 2/omega).
    * Iterations: a body between two steep faces converges by about cos(2 theta)^2 a pass, so
      1 / slope^2 passes, 100 at least, 400 at most (with half of that one start in 30
      chattered); 60 for yielding rings, whose faces give way.
    * At rest: drops change by less than the slop magnified by the slope, in 0.03 s.

    Parameters
    ----------
    sections : RingSections
        The rings.
    friction : float
        Coefficient between bevels. [-]
    press_N : float
        Press on the base. [N]
    radial_N_per_mm, gravity_mm_s2, density_kg_m3, seed, unit_mm
        See `SettleSettings`. [N/mm, mm/s2, kg/m3, -, mm]
        The density is an estimate; seat drops do not depend on it.
    offset_mm : float, optional
        A quarter of the least clearance unless given. [mm]
    step_factor : float
        Multiplies the step, to show that the answer does not depend on it. [-]

    Returns
    -------
    SettleSettings
        Complete settings, recorded in every result.

    Raises
    ------
    InputError
        If rings so far off centre could overlap, or a number is out of range.
    """
    _check_sections(sections)
    least_mm = min(float(_clearance_mm(side).min()) for side in (sections, sections.left or sections))
    offset_mm = 0.25 * least_mm if offset_mm is None else offset_mm
    if not abs(offset_mm) < 0.5 * least_mm:
        refuse("offset_mm", offset_mm, f"below half the least clearance, {least_mm:.4g} mm",
                "start nearer the centre")  # fmt: skip
    _check_sizes(press_N=press_N, friction=friction, gravity_mm_s2=gravity_mm_s2)
    _check_sizes(above_0=True, radial_N_per_mm=radial_N_per_mm, unit_mm=unit_mm,
                 step_factor=step_factor, density_kg_m3=density_kg_m3)  # fmt: skip
    rigid = bool(np.isinf(radial_N_per_mm))
    faces = np.abs(np.concatenate([sections.inner_slope[1:], sections.outer_slope[:-1]]))
    least_slope = float(max(faces.min(), 0.01))  # a straight cut has none and only has to fall
    mass_kg = ring_masses_kg(sections, density_kg_m3)
    light_N = mass_kg.sum() * STANDARD_GRAVITY_mm_s2 / 1e3 * (1.0 if rigid else 0.25)
    light_N = min(press_N, light_N)
    damping_per_s = 50.0 if rigid else 500.0
    speed_mm_s = (gravity_mm_s2 + light_N * 1e3 / mass_kg[0]) / damping_per_s
    step_s = min(2.5e-4, 0.02 * least_mm / (max(speed_mm_s, 1.0) * max(faces.max(), 0.01)))
    if not rigid:
        step_s = min(step_s, float(np.sqrt(mass_kg[1:].min() / 2 / (radial_N_per_mm * 1e3))))
    step_s *= step_factor
    drift_limit_mm = 3e-4 * least_mm / least_slope
    return SettleSettings(
        friction=friction, seating_friction=min(friction, 0.05) if rigid else friction,
        press_N=press_N, light_N=light_N, radial_N_per_mm=radial_N_per_mm,
        gravity_mm_s2=gravity_mm_s2, density_kg_m3=density_kg_m3, unit_mm=unit_mm,
        slop_mm=3e-4 * least_mm, step_s=step_s, correction_s=max(1.5e-3, 6 * step_s),
        iterations=int(np.clip(np.ceil(1 / least_slope**2), 100, 400)) if rigid else 60,
        damping_per_s=damping_per_s, ramp_s=0.1, window_s=0.03, drift_limit_mm=drift_limit_mm,
        speed_limit_mm_s=drift_limit_mm / 0.03, offset_mm=offset_mm, seed=seed,
        seating_limit=round((1.0 if rigid else 10.0) / step_s),
        step_limit=round((3.0 if rigid else 10.0) / step_s),
    )  # fmt: skip


def settle(
    sections: RingSections,
    settings: SettleSettings,
    *,
    stages: tuple[str, ...] = STAGES,
    record_every: int = 0,
) -> Settled:
    """Put the rings through the stages and say where they come to rest.

    Parameters
    ----------
    sections : RingSections
        The rings, base first.
    settings : SettleSettings
        From `settings_for`.
    stages : tuple of str
        Any of `STAGES`, in order.
    record_every : int
        Steps between frames; 0 for none.

    Returns
    -------
    Settled
        Rests with residuals, rings lost, settings, frames.

    Raises
    ------
    InputError
        If a stage has another name.
    """
    _check_sections(sections)
    for name in stages or ("none",):
        if name not in STAGES:
            refuse("stages", name, f"one of {', '.join(STAGES)}", "correct the name")
    engine = build(sections, settings, record_every=record_every)
    rests: list[Rest] = []
    pressed_N: Array | None = None
    for name in stages:
        rest, pressed_N = run_stage(engine, name, pressed_N)
        rests.append(rest)
        if not rest.settled:
            break
    return Settled(rests=tuple(rests), fell_through=tuple(sorted(engine.below)),
                   fell_out=tuple(sorted(engine.above)), settings=settings,
                   frames=tuple(engine.frames))  # fmt: skip


def _check_sizes(*, above_0: bool = False, **sizes: float) -> None:
    for name, size in sizes.items():
        if not size >= 0 or (above_0 and size == 0):
            refuse(name, size, "above 0" if above_0 else "0 or more", "give its size")


def _check_sections(sections: RingSections) -> None:
    """Refuse what the engine would quietly turn into something else."""
    if sections.left is not None:
        if sections.left.thickness_mm.shape != sections.thickness_mm.shape:
            refuse(
                "left", sections.left.thickness_mm.shape, "as many rings as on the right", "give every ring"
            )
        _check_sections(sections.left)
    for name in ("thickness", "inner_radius", "outer_radius", "inner_slope", "outer_slope"):
        name += "" if name.endswith("slope") else "_mm"
        row = getattr(sections, name)
        if row.ndim != 1 or row.shape != sections.thickness_mm.shape or row.size < 2:
            refuse(name, row.shape, "one row with a value for each of two rings or more",
                    "give every ring all five values")  # fmt: skip
        if not np.all(np.isfinite(row)):
            refuse(name, row, "finite numbers", "replace the missing values")
    if np.any(sections.thickness_mm <= 0):
        refuse("thickness_mm", sections.thickness_mm, "above 0", "give the thickness")
    if sections.inner_radius_mm[0] != 0 or sections.inner_slope[0] != 0:
        refuse("inner_radius_mm", sections.inner_radius_mm[0], "a solid base: radius and "
                "slope 0", "put the base first")  # fmt: skip
    width_mm = sections.outer_radius_mm - sections.inner_radius_mm
    lean_mm = (sections.outer_slope - sections.inner_slope) * sections.thickness_mm / 2
    if np.any(width_mm <= np.abs(lean_mm)):
        refuse("outer_radius_mm", width_mm, "some width all the way up",
                "make the ring wider or its bevels more alike")  # fmt: skip
    shared_mm = np.minimum(sections.thickness_mm[1:], sections.thickness_mm[:-1])
    lean_mm = (sections.inner_slope[1:] - sections.outer_slope[:-1]) * shared_mm / 2
    if np.any(_clearance_mm(sections) <= np.abs(lean_mm)):
        refuse("inner_radius_mm", _clearance_mm(sections), "a slot open all the way up",
                "make the kerf wider")  # fmt: skip


def _clearance_mm(sections: RingSections) -> Array:
    return np.asarray(sections.inner_radius_mm[1:] - sections.outer_radius_mm[:-1])
