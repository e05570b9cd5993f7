"""The rigid-body witness on bowls that are not round: the same drop all round, whatever the outline.

Closed form: pushed straight down, every face closes the gap square to it by the drop times the sine of its
bevel, so every seat sinks by k/sin(theta). A plane that meets the turns aslant shows slot and slope longer
alike; the engine sees that plane alone, its halves unlike, and knows no closed form.
"""

import json
import math
import pickle
import re
from pathlib import Path

import jsonschema
import numpy as np
import pytest
from click.testing import CliRunner
from outline_bowls import outlined

from fitsim.bowl.closed_form import RigidFit, rigid_fit
from fitsim.bowl.cross_section import section_rings
from fitsim.bowl.fit import fit
from fitsim.bowl.inputs import Bowl
from fitsim.bowlfile.defaults import read_bowl
from fitsim.cli import main
from fitsim.geometry.board_outline import FREE, Outline
from fitsim.page.ring_trial import rings_object
from fitsim.report.answer_json import schema_text
from fitsim.rigidbody.check import RigidBodyCheck, rigid_body_check
from fitsim.rigidbody.settling import settings_for, settle

TILTS = (0.094, 0.094, 0.094, 0.094, 0.094, 0.094)
KERFS_mm = (0.62, 0.80, 0.71, 0.66, 0.74, 0.69)


def egg() -> Outline:
    """An outline without an axis of symmetry: an ellipse whose lower left bulges."""
    t = np.linspace(0, 2 * math.pi, 361)[:-1]
    reach = 1 + 0.09 * np.cos(t - 0.7) + 0.05 * np.cos(2 * t + 0.4)
    points = np.stack([72 * reach * np.cos(t), 60 * reach * np.sin(t)], axis=1)
    low, high = points.min(axis=0), points.max(axis=0)
    points -= (low + high) / 2
    length, width = (float(v) for v in high - low)
    return Outline(FREE, length, width, points_mm=tuple(map(tuple, points.tolist())))


BOARDS = {
    "egg": (egg(), 14.0),
    "oval": (Outline("oval", 165.0, 118.0), 14.0),
    "rounded": (Outline("rectangle", 150.0, 118.0, 25.0), 16.0),
}


def bowl(name: str, kerf_mm: tuple[float, ...] = KERFS_mm) -> Bowl:
    """A bowl of another outline, its root aslant, another kerf in every turn."""
    edge, corner = BOARDS[name]
    return outlined(edge, corner_mm=corner, kerf_mm=kerf_mm, tilt_rad=TILTS[:1], root_rad=0.6)


@pytest.mark.parametrize(
    ("name", "direction"),
    [("egg", 0.5), ("egg", 2.4), ("oval", 0.9), ("oval", 2.0), ("rounded", 0.45), ("rounded", 1.9)],
)
def test_every_seat_drops_by_kerf_over_sine_all_round(name: str, direction: float) -> None:
    """In planes at any clock position the engine finds k/sin(theta) of each turn, to half a percent."""
    rings = section_rings(rigid_fit(bowl(name)), direction_rad=direction)
    assert rings.left is not None
    # The plane is one without symmetry: halves of other radii, met aslant.
    assert np.abs(rings.left.outer_radius_mm - rings.outer_radius_mm).max() > 2
    assert np.abs(rings.left.inner_slope[1:] / math.tan(0.094) - 1).max() > 1e-3
    settled = settle(rings, settings_for(rings, friction=0.3, press_N=2.0), stages=("press",))
    assert settled.settled
    count = len(rings.thickness_mm) - 1
    np.testing.assert_allclose(
        settled.seat_drop_mm, np.array(KERFS_mm)[:count] / math.sin(0.094), rtol=5e-3
    )


def test_the_check_of_a_bowl_takes_its_outline() -> None:
    """What fit shows beside the closed form is the section of the outline itself, and agrees with it."""
    closed = rigid_fit(bowl("egg"))
    check = rigid_body_check(closed, friction=0.35, press_N=30.0, record=True)
    assert check.seats.settled
    drops = check.seats.seat_drop_mm
    np.testing.assert_allclose(drops, closed.seats.seat_drop_mm[: len(drops)], rtol=5e-3)
    base = check.seats.frames[0].polygons_mm[0]
    assert abs(base[:, 0].max() + base[:, 0].min()) > 2  # its halves are unlike
    assert check.hold is not None
    assert check.hold.held


OVAL = """
[board]
wood = "cherry"
thickness = "16 mm"
outline = "oval"
length = "118 mm"
width = "110 mm"
[cut]
tilt = "5 deg"
kerf = "0.7 mm"
pitch = "7 mm"
base_outline = "oval"
base_length = "78 mm"
base_width = "70 mm"
root = "{root}"
[use]
friction = "0.35"
film = "0 mm"
press = "80 N"
"""


@pytest.fixture
def tried_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same rings under the same press are tried once, whoever asks, with all that a picture needs."""
    known: dict[bytes, RigidBodyCheck] = {}

    def once(rigid: RigidFit, *, friction: float, press_N: float, **_how: object) -> RigidBodyCheck:
        asked = pickle.dumps((rigid, friction, press_N))
        if asked not in known:
            known[asked] = rigid_body_check(rigid, friction=friction, press_N=press_N, record=True)
        return known[asked]

    for name in ("fitsim.rigidbody.check", "fitsim.page.ring_trial"):
        monkeypatch.setattr(f"{name}.rigid_body_check", once)


@pytest.mark.usefixtures("tried_once")
@pytest.mark.parametrize("root", ["0 deg", "35 deg"])
def test_a_last_turn_that_the_section_misses_is_told_and_not_tried(tmp_path: Path, root: str) -> None:
    """A plane square to the root meets a turn at a quarter of it and at three: less is not tried.

    The boards differ by 8 mm in width, 8/2/7 = 0.57 of a turn; their last turns lie either side of 0.75.
    """
    path = tmp_path / "oval.toml"
    parts = []
    for board_mm, tried, turns in ((118, 3, 3), (110, 2, 3)):
        text = (
            OVAL.format(root=root)
            .replace("118 mm", f"{board_mm + 8} mm")
            .replace("110 mm", f"{board_mm} mm")
        )
        path.write_text(text, "utf8")
        result = CliRunner(env={"COLUMNS": "110"}).invoke(main, ["fit", str(path), "--rigid", "--check"])
        assert result.exit_code == 0, result.output
        told = " ".join(result.output.split())
        rows = re.findall(r"^ *(\d[^\n]*(?:mm|section)) *$", result.output, re.MULTILINE)
        missed = [row for row in rows if row.endswith("not met by the section")]
        assert len(missed) == turns - tried
        assert all(row.startswith("3 (the last 0.") for row in missed)
        said = "Turn 3 does not reach round to both sides of the section, and was not tried."
        assert (said in told) == (tried < turns)
        answer = json.loads(
            CliRunner().invoke(main, ["fit", str(path), "--rigid", "--check", "--json"]).output
        )
        jsonschema.Draft202012Validator(json.loads(schema_text())).validate(answer)
        parts.append(answer["strip_turns"] - 2)
        check = answer["rigid_body_check"]
        assert check["turns_not_tried"] == list(range(tried + 1, turns + 1))
        drops = check["seat_drop_mm"]
        assert drops[:tried] == pytest.approx([0.7 / math.sin(math.radians(5))] * tried, rel=5e-3)
        assert drops[tried:] == [None] * (turns - tried)
        page = rings_object(fit(read_bowl(path), rigid=True), "mm", lambda _doing: None)
        assert (said in page["told"]) == (tried < turns)
        assert len([row for row in page["table"]["rows"] if row[-1] == "not met by the section"]) == len(
            missed
        )
    assert parts[0] > 0.75 > parts[1]
    assert parts[0] - parts[1] == pytest.approx(4 / 7, abs=0.02)
