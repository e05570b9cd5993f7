"""What a plan answers with: cuts, what came of each wish, what stands in the way, other boards."""

from dataclasses import dataclass

from fitsim.bowl.inputs import Bowl
from fitsim.bowl.verdict import LOCKS
from fitsim.plan.cut_of_wall import PlannedCut
from fitsim.plan.pressed_wall import PressedWall
from fitsim.plan.silhouette import WallCurve
from fitsim.plan.wishes import Wishes
from fitsim.quantities import FINE_BELOW_mm, show_force, show_length

__all__ = ["WITHIN", "OtherBoard", "Plan", "PlannedBowl", "Reason", "WishMet"]


WITHIN = 0.02
"""A wish is met where the pressed bowl is so near, as a share of it."""


@dataclass(frozen=True)
class WishMet:
    """One wish and what came of it.

    Attributes
    ----------
    name : str
        As in the table of wishes.
    wanted, got : float
        A slope as its tangent; of a curve 0 and the greatest distance between wall and wish as a share of
        the rise. [mm, ml, turns, min or -]
    off : float
        Distance as a share of the wish, 0 where a time is kept. [-]
    """

    name: str
    wanted: float
    got: float
    off: float

    @property
    def met(self) -> bool:
        """Whether the pressed bowl is within :data:`WITHIN`."""
        return self.off <= WITHIN


@dataclass(frozen=True, eq=False)
class PlannedBowl:
    """One answer.

    Attributes
    ----------
    cut : PlannedCut
        The cut, as it is set and drawn.
    bowl : Bowl
        The bowl with it.
    pressed : PressedWall
        What the strip gives.
    wall : WallCurve or None
        The wall that is wanted, as it lies on this cut.
    wishes : tuple[WishMet, ...]
        Each wish and what came of it.
    lock_chance : float
        Cheap measure of how likely it locks, for the order. [-]
    presses : int
        How often it was pressed and corrected.
    good_for : tuple[str, ...]
        What it is better at than the other answers.
    other_board : bool
        Whether it needs another board than the file's.
    """

    cut: PlannedCut
    bowl: Bowl
    pressed: PressedWall
    wall: WallCurve | None
    wishes: tuple[WishMet, ...]
    lock_chance: float
    presses: int
    good_for: tuple[str, ...] = ()
    other_board: bool = False

    @property
    def meets(self) -> bool:
        """Whether every wish is met and the bowl locks."""
        return all(w.met for w in self.wishes) and self.locks

    @property
    def locks(self) -> bool:
        """Whether the strip locks, everything at its middle."""
        return self.pressed.judged.state == LOCKS


@dataclass(frozen=True)
class OtherBoard:
    """A board that would do.

    Attributes
    ----------
    thicker_mm, wider_mm : float
        More than the board there is; one of them is 0. [mm]
    """

    thicker_mm: float
    wider_mm: float


MOST_FIGURES = 5
"""With so many figures presses are shown at most."""


@dataclass(frozen=True)
class Reason:
    """What stands in the way of a wish.

    Attributes
    ----------
    words : str
        A sentence with ``{}`` for each of its lengths, and then for each of its presses.
    lengths_mm : tuple[float, ...]
        The lengths. [mm]
    presses_N : tuple[float, ...]
        The presses. [N]
    """

    words: str
    lengths_mm: tuple[float, ...] = ()
    presses_N: tuple[float, ...] = ()

    def told(self, units: str) -> str:
        """The sentence in a reader's units.

        Parameters
        ----------
        units : str
            "in" or "mm".

        Returns
        -------
        str
            For example "the board is 9 1/2 in across".
        """
        lengths = (show_length(v, units=units, fine=v < FINE_BELOW_mm) for v in self.lengths_mm)
        for figures in range(2, MOST_FIGURES + 1):  # two presses that are told apart are shown apart
            presses = [show_force(v, units=units, figures=figures) for v in self.presses_N]
            if len(set(presses)) == len(presses):
                break
        return self.words.format(*lengths, *presses)


@dataclass(frozen=True, eq=False)
class Plan:
    """The answer to wishes.

    Attributes
    ----------
    bowl : Bowl
        The bowl they were made for.
    wishes : Wishes
        The wishes.
    answers : tuple[PlannedBowl, ...]
        The best first; where the wishes cannot be had, the nearest that can. A cut may want the board sawn
        smaller first.
    in_the_way : tuple[Reason, ...]
        What stands in the way; empty where an answer meets every wish with the board there is.
    other_boards : tuple[OtherBoard, ...]
        Boards with which the wishes could be had, pressed on the strip as well; the least first.
    presses : int
        How often a strip was pressed.
    """

    bowl: Bowl
    wishes: Wishes
    answers: tuple[PlannedBowl, ...]
    in_the_way: tuple[Reason, ...]
    other_boards: tuple[OtherBoard, ...]
    presses: int

    @property
    def met(self) -> bool:
        """Whether the board there is gives what is wanted."""
        return any(a.meets and not a.other_board for a in self.answers)
