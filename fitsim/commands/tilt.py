"""What ``fitsim tilt`` does with what was typed."""

import json
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from fitsim.bowl.inputs import Bowl
from fitsim.drawing.picture_files import write_picture
from fitsim.drawing.tilt_drawing import tilt_figure
from fitsim.files import PICTURE_ENDINGS, check_target
from fitsim.processes import worker_count, worker_pool
from fitsim.report.tilt_report import tilt_object, tilt_report
from fitsim.saw.learned import Learned, with_learned
from fitsim.tilt.best_tilt import MOST_PRESSES, SAMPLES, TiltAnswer, tilt_answer
from fitsim.tilt.lock_chance import JudgeBowls, on_strip

__all__ = ["TiltRequest", "answer_tilt"]

EVERY_s = 3.0
"""How often a long run says how far it is. [s]"""


@dataclass(frozen=True)
class TiltRequest:
    """What was typed after ``fitsim tilt``.

    Attributes
    ----------
    learned : Learned or None
        What tests in the workshop have taught.
    as_json : bool
        Whether one JSON object is wanted.
    units : str or None
        "in" or "mm"; None: as in the file.
    seed : int
        Of the samples.
    samples : int
        Samples pressed along the tilt.
    most_presses : int
        Samples pressed at the best tilt and at each end, at most.
    pictures : tuple[Path, ...]
        Files to draw into.
    replace : bool
        Whether pictures may overwrite files.
    """

    learned: Learned | None = None
    as_json: bool = False
    units: str | None = None
    seed: int = 0
    samples: int = SAMPLES
    most_presses: int = MOST_PRESSES
    pictures: tuple[Path, ...] = ()
    replace: bool = False


def answer_tilt(
    bowl: Bowl,
    asked: TiltRequest,
    *,
    width: int = 88,
    judge: JudgeBowls | None = None,
    progress: Callable[[str], None] | None = None,
) -> str:
    """Work out the tilts of a bowl as it was typed.

    Parameters
    ----------
    bowl : Bowl
        The bowl; its own tilt is not used.
    asked : TiltRequest
        What was typed.
    width : int
        Columns of the terminal.
    judge : JudgeBowls or None
        Who presses; None: the elastic strip, on all processors.
    progress : callable or None
        Told in a few words what is being worked on.

    Returns
    -------
    str
        What to print.

    Raises
    ------
    InputError
        One line for every problem.
    """
    for picture in asked.pictures:
        check_target(picture, replace=asked.replace, endings=PICTURE_ENDINGS)
    if asked.learned is not None:
        bowl = with_learned(bowl, asked.learned, units=asked.units)
    if judge is None:
        pool, told = worker_pool(worker_count()), _Told(progress)
        try:
            answer = _answer(
                bowl,
                asked,
                on_strip(pool, told.each),
                told,
                judge_samples=on_strip(pool, told.each, roughly=True),
                judge_states=on_strip(pool, told.each, state_alone=True),
            )
        finally:
            pool.shutdown(cancel_futures=True)
    else:
        answer = _answer(bowl, asked, judge, progress)
    for picture in asked.pictures:
        write_picture(tilt_figure(answer), picture, replace=asked.replace)
    if asked.as_json:
        return json.dumps(tilt_object(answer), indent=2, allow_nan=False) + "\n"
    return tilt_report(answer, units=asked.units or bowl.units, width=width)


class _Told:
    """Says what is being worked on, and now and then how many bowls have been pressed."""

    def __init__(self, progress: Callable[[str], None] | None) -> None:
        self.progress, self.what, self.count, self.last_s = progress, "", 0, time.monotonic()

    def __call__(self, what: str) -> None:
        """Begin with something else."""
        self.what, self.last_s = what, time.monotonic()
        if self.progress is not None:
            self.progress(what)

    def each(self) -> None:
        """One more has been pressed."""
        self.count += 1
        if self.progress is not None and time.monotonic() - self.last_s > EVERY_s:
            self.last_s = time.monotonic()
            self.progress(f"{self.what}, {self.count} bowls pressed so far")


def _answer(
    bowl: Bowl,
    asked: TiltRequest,
    judge: JudgeBowls,
    progress: Callable[[str], None] | None,
    *,
    judge_samples: JudgeBowls | None = None,
    judge_states: JudgeBowls | None = None,
) -> TiltAnswer:
    return tilt_answer(
        bowl,
        judge,
        judge_samples=judge_samples,
        judge_states=judge_states,
        seed=asked.seed,
        samples=asked.samples,
        most_presses=asked.most_presses,
        progress=progress,
    )
