"""A wanted wall drawn in an SVG file: read in its units, planned as the same wall given as points."""

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner

from fitsim.bowl.closed_form import rigid_fit
from fitsim.bowl.inputs import Bowl
from fitsim.bowlfile.text import bowl_text
from fitsim.cli import main
from fitsim.commands.plan import wished_bowl
from fitsim.plan.geometric_cuts import cuts_found
from fitsim.plan.wishes import Wishes
from fitsim.plan.wishes_on_board import wishes_on
from fitsim.toml_files import tables_of_file

BOARD = '[board]\nwood = "cherry, black"\nthickness = "19 mm"\nacross = "240 mm"\n'
CUT = '[cut]\ntilt = "5.5 deg"\nkerf = "0.7 mm"\n[use]\nfriction = "0.4"\nfilm = "0 mm"\n'
INCHES = '<svg xmlns="http://www.w3.org/2000/svg" width="6in" height="4in" viewBox="-10 5 600 400">'
"""A page whose numbers are hundredths of an inch, its left edge at -10."""


def asked(folder: Path, wall: str, drawn: str = "", head: str = INCHES) -> tuple[Bowl, Wishes]:
    """Bowl and wishes of a file in a folder, with a drawing beside it."""
    folder.mkdir(exist_ok=True)
    if drawn:
        (folder / "mine.svg").write_text(f"{head}{drawn}</svg>\n", "utf8")
    file = folder / "bowl.toml"
    file.write_text(f'{BOARD}{CUT}[want]\nwall = {wall}\nkeep = ["tilt"]\n', "utf8")
    return wished_bowl(tables_of_file(file), {}, where="bowl.toml")


def test_a_cone_drawn_in_inches_is_an_even_pitch_of_the_drop_over_the_slope(tmp_path: Path) -> None:
    """From 1.75 in out to 3.75 in and up 2.25 in, every pitch is kerf/sin(tilt) over 2.25/2."""
    # Drawn rim first, in a group that is turned, on a page whose left edge is at x = -10.
    body = '<g transform="translate(-10 405) rotate(-90)"><path d="M 275 375 L 50 175"/></g>'
    bowl, wishes = asked(tmp_path, '"mine.svg"', body)
    assert wishes.wall is not None
    assert (wishes.wall.foot_mm, wishes.wall.rim_mm) == pytest.approx((1.75 * 25.4, 3.75 * 25.4))
    assert wishes.wall.rise_mm == pytest.approx(2.25 * 25.4)
    cut = cuts_found(wishes_on(bowl, wishes))[0].cut
    assert rigid_fit(bowl).seats.seat_drop_mm[0] == pytest.approx(0.7 / math.sin(math.radians(5.5)))
    # What the strip gives over rigid turns is a guess before a press, the same for every turn.
    drop = 1.02 * 0.7 / math.sin(math.radians(5.5))
    np.testing.assert_allclose(cut.pitches_mm, drop / (2.25 / 2), rtol=1e-6)


def test_an_arc_drawn_gives_the_cut_of_its_points(tmp_path: Path) -> None:
    """A quarter-turned arc of 70 mm, drawn as an arc, is planned as hundreds of points of that circle."""
    angle = np.radians(np.linspace(12, 63, 400))
    radius, height = 30 + 70 * np.sin(angle), 70 * (1 - np.cos(angle))
    (x0, y0), (x1, y1) = ((r, 110 - z) for r, z in zip(radius[[0, -1]], height[[0, -1]], strict=True))
    head = '<svg xmlns="http://www.w3.org/2000/svg" width="150mm" height="120mm" viewBox="0 0 150 120">'
    body = f'<path d="M {x0} {y0} A 70 70 0 0 0 {x1} {y1}"/>'
    bowl, drawn = asked(tmp_path / "drawn", '"mine.svg"', body, head)
    points = "; ".join(f"{r:.5f} mm, {z:.5f} mm" for r, z in zip(radius, height, strict=True))
    _, listed = asked(tmp_path / "listed", f'"{points}"')
    one, other = (cuts_found(wishes_on(bowl, wishes))[0].cut for wishes in (drawn, listed))
    assert one.base_radius_mm == pytest.approx(other.base_radius_mm, abs=0.05)
    np.testing.assert_allclose(one.pitches_mm, other.pitches_mm, rtol=2e-3)
    # The board ends half a turn outside the rim, where each is carried on along its own last chord.
    assert one.across_mm == pytest.approx(other.across_mm, abs=0.15)
    # And as the circle has it: turn j, (j - 1/2) drops up, lies where the circle does.
    assert drawn.wall is not None
    assert drawn.wall.foot_mm == pytest.approx(float(radius[0]), abs=1e-6)
    drop = 1.02 * 0.7 / math.sin(math.radians(5.5))
    knots = one.base_radius_mm + np.cumsum(one.pitches_mm)[:5]
    above_centre = 70 - (height[0] + drop * (np.arange(5) + 0.5))
    np.testing.assert_allclose(np.hypot(knots - 30, above_centre), 70, atol=0.02)


LINE = '<path d="M 60 300 L 300 40"/>'


@pytest.mark.parametrize(
    ("drawn", "said"),
    [
        ('<path d="M 60 300 L 300 40 L 90 60 Z"/>', "an open line from foot to rim"),
        ('<path d="M 300 300 L 60 40"/>', "the wall of the right-hand side"),
        ('<path d="M 60 300 L 200 200 L 180 100 L 300 40"/>', "each point farther from the middle"),
        ('<path d="M 60 300 L 200 100 L 250 140 L 300 40"/>', "each point higher than the one inside it"),
        ('<path d="M -30 300 L 300 40"/>', "a foot with a radius above 0"),
        (LINE + LINE, "one path; there are 2"),
        ("<g/>", "one path; there is none"),
        ('<circle r="9"/>' + LINE, "one path and nothing else"),
    ],
)
def test_a_drawing_that_is_no_wall_is_refused_in_one_line(tmp_path: Path, drawn: str, said: str) -> None:
    """The command ends with status 2 and one line that names the drawing, the key and what to do."""
    (tmp_path / "mine.svg").write_text(f"{INCHES}{drawn}</svg>", "utf8")
    file = tmp_path / "bowl.toml"
    file.write_text(f'{BOARD}[want]\nwall = "mine.svg"\n', "utf8")
    done = CliRunner().invoke(main, ["plan", str(file)])
    assert done.exit_code == 2
    assert done.output.count("\n") == 1
    assert "mine.svg: want.wall" in done.output
    assert said in done.output


def test_a_drawing_that_is_not_there_is_said(tmp_path: Path) -> None:
    """A name that leads nowhere is one line with that name; a drawing without a size likewise."""
    file = tmp_path / "bowl.toml"
    file.write_text(f'{BOARD}[want]\nwall = "gone.svg"\n', "utf8")
    gone = CliRunner().invoke(main, ["plan", str(file)])
    (tmp_path / "gone.svg").write_text(f'<svg xmlns="http://www.w3.org/2000/svg">{LINE}</svg>', "utf8")
    sizeless = CliRunner().invoke(main, ["plan", str(file)])
    for done, said in ((gone, "gone.svg"), (sizeless, "a drawing that says its size")):
        assert done.exit_code == 2
        assert done.output.count("\n") == 1
        assert said in done.output


def test_a_plan_saved_elsewhere_still_finds_its_drawing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The saved file names the drawing as its own folder must: read again it has the same wall."""
    import fitsim.commands.plan as command

    (tmp_path / "work").mkdir()
    (tmp_path / "kept").mkdir()
    monkeypatch.chdir(tmp_path)
    bowl, wishes = asked(Path("work"), '"mine.svg"', LINE)
    cut = cuts_found(wishes_on(bowl, wishes))[0].cut

    class Answer:
        """As much of an answer as is written."""

    answer: Any = Answer()
    answer.cut, answer.bowl, answer.locks = cut, bowl, True
    saved = Path("kept/planned.toml")
    chosen = command.planned_tables(tables_of_file(Path("work/bowl.toml")), answer, bowl=bowl, units="mm")
    saved.write_text(bowl_text(command.named_beside(chosen, saved)), "utf8")
    _, again = wished_bowl(tables_of_file(saved), {}, where="planned.toml")
    assert again.wall is not None
    assert wishes.wall is not None
    assert again.wall.rim_mm == pytest.approx(wishes.wall.rim_mm)
