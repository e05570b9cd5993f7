"""What ``fitsim fit`` does with what was typed: the answer, its checks and its pictures."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fitsim.bowl.fit import BowlFit, fit
from fitsim.bowl.inputs import Bowl
from fitsim.errors import InputError, Problem
from fitsim.files import MOVING_ENDINGS, PICTURE_ENDINGS, check_target
from fitsim.report.answer_json import answer_text, changes_object, check_object

if TYPE_CHECKING:
    from fitsim.bowl.changes import TriedChange
    from fitsim.rigidbody.check import RigidBodyCheck

__all__ = ["FitRequest", "answer_fit", "least_friction"]

# Drawing, tables and the rigid-body engine are imported where they are used: a cold start of
# ``fit --json`` must not pay for them.


@dataclass(frozen=True, kw_only=True)
class FitRequest:
    """What was asked for beside the verdict.

    Attributes
    ----------
    units : str
        "in" or "mm".
    as_json : bool
        One JSON object in place of the report.
    pictures, strip_pictures : tuple of Path
        Files to draw the bowl, and the stress along the strip, into.
    moving_picture : Path or None
        File for the bowl opening, as the rigid-body check saw it.
    check : bool
        Set the rigid-body check beside the closed form.
    rigid : bool
        Closed form only.
    sources : bool
        Say where every assumed value comes from.
    changes : bool
        Try other roots, pitches, tilts and presses.
    replace : bool
        Pictures may overwrite files.
    """

    units: str
    as_json: bool = False
    pictures: tuple[Path, ...] = ()
    strip_pictures: tuple[Path, ...] = ()
    moving_picture: Path | None = None
    check: bool = False
    rigid: bool = False
    sources: bool = False
    changes: bool = False
    replace: bool = False


def answer_fit(
    bowl: Bowl,
    asked: FitRequest,
    *,
    width: int = 88,
    color: bool = False,
    progress: Callable[[str], None] | None = None,
    remark: Callable[[str], None] | None = None,
) -> tuple[BowlFit, str]:
    """Answer for a bowl, draw what was asked for, and say it: the answer and what is printed of it.

    Parameters
    ----------
    bowl : Bowl
        The bowl.
    asked : FitRequest
        What was asked for.
    width : int
        Of the report. [characters]
    color : bool
        Whether the report may use color.
    progress, remark : callable, optional
        Called with what is being worked on, and with a line for each file drawn or check left out.

    Returns
    -------
    tuple[BowlFit, str]
        The answer; the report, or one JSON object.

    Raises
    ------
    InputError
        If options contradict each other, or a file to be drawn exists.
    """
    _refuse_with_rigid(asked)
    for picture in (*asked.pictures, *asked.strip_pictures):
        check_target(picture, replace=asked.replace, endings=PICTURE_ENDINGS)
    if asked.moving_picture is not None:
        check_target(asked.moving_picture, replace=asked.replace, endings=MOVING_ENDINGS)
    remark = remark or (lambda _line: None)
    answer = fit(bowl, rigid=asked.rigid, progress=progress)
    _draw_strip(answer, asked, remark)
    checked, extra = _checked(answer, asked, remark)
    tried: tuple[TriedChange, ...] = ()
    if asked.changes:
        from fitsim.bowl.changes import try_changes

        tried = try_changes(answer, progress=progress)
        extra["changes"] = changes_object(tried)
    _draw(answer, asked, checked, remark)
    if asked.as_json:
        return answer, answer_text(answer, extra, units=asked.units) + "\n"
    from fitsim.report.terminal import fit_report

    told = fit_report(
        answer,
        units=asked.units,
        check=checked,
        tried=tried,
        sources=asked.sources,
        width=width,
        color=color,
    )
    return answer, told


def _refuse_with_rigid(asked: FitRequest) -> None:
    for option, given in (("--strip-picture", bool(asked.strip_pictures)), ("--changes", asked.changes)):
        if asked.rigid and given:
            expected = "the elastic strip, which --rigid leaves out"
            raise InputError(Problem("", option, "", expected, "leave out one of the two"))


def _checked(
    answer: BowlFit, asked: FitRequest, remark: Callable[[str], None]
) -> tuple["RigidBodyCheck | None", dict[str, Any]]:
    """The rigid-body check if it was asked for and there is something to press."""
    if not asked.check and asked.moving_picture is None:
        return None, {}
    if answer.rigid.numbers.slot_left_mm <= 0:
        remark("A slot is closed when flat: the rigid-body check has nothing to press.")
        return None, {"rigid_body_check": None}
    from fitsim.rigidbody.check import rigid_body_check

    bowl = answer.bowl
    record = asked.moving_picture is not None
    checked = rigid_body_check(
        answer.rigid, friction=least_friction(bowl), press_N=answer.press_N, record=record
    )
    return checked, {"rigid_body_check": check_object(checked)}


def least_friction(bowl: Bowl) -> float:
    """Friction at the low end of its range: what a bowl must hold with.

    Parameters
    ----------
    bowl : Bowl
        The bowl.

    Returns
    -------
    float
        Coefficient of friction. [-]
    """
    return bowl.ends_of("use.friction")[0]


def _draw(
    answer: BowlFit, asked: FitRequest, checked: "RigidBodyCheck | None", remark: Callable[[str], None]
) -> None:
    if not asked.pictures and asked.moving_picture is None:
        return
    from fitsim.drawing.bowl_drawing import bowl_figure
    from fitsim.drawing.picture_files import moving_picture, write_picture

    for path in asked.pictures:
        write_picture(bowl_figure(answer, units=asked.units), path, replace=asked.replace)
        remark(f"drawn: {path}")
    if asked.moving_picture is not None and checked is not None:
        frames, path = checked.seats.frames, asked.moving_picture
        moving_picture(frames, path, replace=asked.replace, units=asked.units)
        remark(f"drawn: {path}")


def _draw_strip(answer: BowlFit, asked: FitRequest, remark: Callable[[str], None]) -> None:
    if not asked.strip_pictures:
        return
    from fitsim.drawing.picture_files import write_picture
    from fitsim.drawing.strip_drawing import strip_figure

    figure = strip_figure(answer, units=asked.units)
    for path in asked.strip_pictures:
        write_picture(figure, path, replace=asked.replace)
        remark(f"drawn: {path}")
