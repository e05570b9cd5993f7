"""The records of a rigid-body trial: what the engine was told, snapshots, where it came to rest."""

from dataclasses import dataclass

from fitsim.arrays import Array

__all__ = ["Frame", "Rest", "SettleSettings"]


@dataclass(frozen=True)
class SettleSettings:
    """How rings are pressed and what the engine is told; make with `settings_for`.

    Attributes
    ----------
    friction, seating_friction : float
        Coefficient between bevels, and the lower one while rigid rings are first seated: a board
        rocked and tapped home; with full friction a ring off centre may jam askew. [-]
    press_N, light_N : float
        Full press on the base, and the light push under which the rings are first seated. [N]
    radial_N_per_mm : float
        Radial force on half a ring for each mm its radius grows; infinite: rigid rings. [N/mm]
    gravity_mm_s2 : float
        Weight; 0 leaves it out. [mm/s2]
    density_kg_m3 : float
        Of the wood. A section carries the mass of its whole ring. [kg/m3]
    unit_mm : float
        Length unit handed to the engine: 1 for mm, 1000 for m. [mm]
    slop_mm : float
        Overlap of bodies the engine leaves alone. [mm]
    step_s, correction_s : float
        Time step, and time in which the engine takes back overlap beyond the slop. [s]
    iterations : int
        Passes over the contacts in each step.
    damping_per_s : float
        Rate at which speeds die away: the rings move as in honey, to arrive gently. [1/s]
    ramp_s, window_s : float
        Time in which a load changes; length of the window watched for rest. [s]
    drift_limit_mm, speed_limit_mm_s : float
        At rest when, over two windows running, no drop changes by more, nothing moves faster.
        [mm, mm/s]
    seating_limit, step_limit : int
        Steps after which the light push ends, and after which a stage is given up as not settled.
    offset_mm : float
        Rings start off centre by this times a number from -1 to 1 drawn with the seed. [mm]
    seed : int
        Of the starting offsets and the shaking.
    shake_g, shake_Hz, shake_s : float
        Amplitude in multiples of standard gravity, frequency and time of the shaking. [-, Hz, s]
    """

    friction: float
    seating_friction: float
    press_N: float
    light_N: float
    radial_N_per_mm: float
    gravity_mm_s2: float
    density_kg_m3: float
    unit_mm: float
    slop_mm: float
    step_s: float
    correction_s: float
    iterations: int
    damping_per_s: float
    ramp_s: float
    window_s: float
    drift_limit_mm: float
    speed_limit_mm_s: float
    seating_limit: int
    step_limit: int
    offset_mm: float
    seed: int
    shake_g: float = 3.0
    shake_Hz: float = 15.0
    shake_s: float = 0.4


@dataclass(frozen=True, eq=False)
class Frame:
    """The section at one moment, for drawing.

    Attributes
    ----------
    time_s : float
        Time since the start. [s]
    polygons_mm : tuple of numpy.ndarray
        Corners (x across, z up), each of shape (k, 2), the rim at z = 0. [mm]
    rings : tuple of int
        The ring every polygon belongs to.
    """

    time_s: float
    polygons_mm: tuple[Array, ...]
    rings: tuple[int, ...]


@dataclass(frozen=True, eq=False)
class Rest:
    """Where a stage ended, and the residuals that say whether it ended at rest.

    Attributes
    ----------
    stage : str
        One of `STAGES`.
    settled : bool
        Whether rest was found; if not, drops and pinch are nan.
    held : bool or None
        Nothing has slipped out and every seat keeps half its pinch at the press or more. None
        before a press, when not settled, and for rigid rings, which have no definite pinch.
    seat_drop_mm : numpy.ndarray
        Drop of every seat (seat i: ring i in ring i + 1), shape (n-1,); nan: passed through. [mm]
    pinch_N : numpy.ndarray
        Radial force on each side of every seat, shape (n-1,); nan for rigid rings. [N]
    shift_mm, tilt_rad : numpy.ndarray
        Sideways place and tilt of every ring, shape (n,). [mm, rad]
    speed_mm_s, penetration_mm, drift_mm : float
        Greatest speed, greatest overlap, greatest change of a drop in the last window. [mm/s, mm, mm]
    steps : int
        Steps used.
    """

    stage: str
    settled: bool
    held: bool | None
    seat_drop_mm: Array
    pinch_N: Array
    shift_mm: Array
    tilt_rad: Array
    speed_mm_s: float
    penetration_mm: float
    drift_mm: float
    steps: int
