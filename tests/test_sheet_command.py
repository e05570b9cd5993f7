"""``fitsim sheet`` as a maker meets it, and the numbers of the bench sheet."""

import math
import re
import xml.etree.ElementTree as ET
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

from fitsim.assume import make_bowl
from fitsim.benchsheet import BenchSheet, bench_sheet, rule_length
from fitsim.bowl import Bowl
from fitsim.cli import main
from fitsim.fit import fit
from fitsim.layout import Handling
from fitsim.rigid import rigid_fit
from fitsim.tablesetting import set_to, table_setting

GOOD = """
name = "Sorrel dish"
[board]
wood = "white oak"
thickness = "18 mm"
across = "{across}"
[cut]
tilt = "{tilt}"
kerf = "0.7 mm"
pitch = "{pitch}"
base = "{base}"
[use]
finish = "none"
friction = "0.4"
"""


def written(
    folder: Path,
    *,
    across: str = "150 mm",
    base: str = "56 mm",
    pitch: str = "6.5 mm",
    tilt: str = "5.5 deg",
) -> str:
    """A bowl file."""
    path = folder / "sorrel.toml"
    path.write_text(GOOD.format(across=across, base=base, pitch=pitch, tilt=tilt), "utf8")
    return str(path)


def run(*words: str) -> Result:
    """Run the command in this process, closed form only."""
    return CliRunner().invoke(main, ["sheet", *words, "--rigid"])


def bowl(**cut: str) -> Bowl:
    """The same bowl as tables."""
    return make_bowl(
        {
            "name": "Sorrel dish",
            "board": {"wood": "white oak", "thickness": "18 mm", "across": "150 mm"},
            "cut": {"tilt": "5.5 deg", "kerf": "0.7 mm", "pitch": "6.5 mm", "base": "56 mm", **cut},
            "use": {"finish": "none", "friction": "0.4"},
        },
        where="test bowl",
    )


def block(sheet: BenchSheet, heading: str) -> str:
    """All words under a heading."""
    return " ".join(next(b.lines for b in sheet.blocks if b.heading == heading))


def test_pdf_pages_fonts_and_line(tmp_path: Path) -> None:
    """One bench page and two copies of a one-page pattern, fonts embedded; the SVG's line is the cut's length."""
    out, svg = tmp_path / "out.pdf", tmp_path / "line.svg"
    result = run(
        written(tmp_path), "-o", str(out), "--copies", "2", "--line", str(svg), "--paper", "letter"
    )
    assert result.exit_code == 0, result.output
    data = out.read_bytes()
    assert len(re.findall(rb"/Type /Page\b", data)) == 3
    assert b"/FontFile2" in data  # TrueType, embedded
    assert b"/Type3" not in data
    assert data.count(b"/MediaBox [ 0 0 612 792 ]") == 3  # Letter, 8 1/2 by 11 in of 72 points
    root = ET.fromstring(svg.read_text("utf8"))
    assert root.attrib["width"].endswith("mm")
    assert root.attrib["viewBox"].split()[2] == root.attrib["width"][:-2]
    cut = next(e for e in root if e.attrib.get("id") == "cut")
    points = np.array([[float(v) for v in pair.split(",")] for pair in cut.attrib["points"].split()])
    steps = np.hypot(*np.diff(points, axis=0).T)
    outside = 9.0 * math.tan(
        math.radians(5.5)
    )  # the upper face's line is a parallel curve: longer by 2 pi N of it
    wanted = math.pi * (75**2 - 28**2) / 6.5 + 2 * math.pi * (47 / 6.5) * outside
    assert steps[1:].sum() == pytest.approx(wanted, rel=1e-3)  # without the run-up


def test_nothing_is_overwritten(tmp_path: Path) -> None:
    """A file in the way is kept and named in one line; --replace writes over it, with the same bytes twice."""
    out = tmp_path / "out.pdf"
    out.write_bytes(b"mine")
    refused = run(written(tmp_path), "-o", str(out))
    assert refused.exit_code == 2
    assert out.read_bytes() == b"mine"
    assert refused.stderr.count("\n") == 1
    assert "--replace" in refused.stderr
    svg = tmp_path / "line.svg"
    svg.write_text("mine", "utf8")
    other = tmp_path / "other.pdf"
    assert run(written(tmp_path), "-o", str(other), "--line", str(svg)).exit_code == 2
    assert not other.exists()  # nothing half-done
    assert run(written(tmp_path), "-o", str(out), "--replace").exit_code == 0
    first = out.read_bytes()
    assert run(written(tmp_path), "-o", str(out), "--replace").exit_code == 0
    assert out.read_bytes() == first


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--string", "40 mm"), "--string"),
        (("--string", "thin"), "thin"),
        (("--copies", "50", "--across", "500 mm"), "--copies"),
        (("--tilt", "5.5 deg"), "one tilt"),
    ],
)
def test_refusals_are_one_line(tmp_path: Path, words: tuple[str, ...], said: str) -> None:
    """What cannot be printed is refused in one line, exit status 2, and no file appears."""
    out, options, path = tmp_path / "out.pdf", list(words), written(tmp_path)
    if "--across" in options:
        path, options = written(tmp_path, across="500 mm"), options[:2]
    if "--tilt" in options:
        path, options = written(tmp_path, pitch="20 mm"), []
        text = (
            Path(path).read_text("utf8").replace('tilt = "5.5 deg"', 'tilt = ["5 deg", "6 deg", "6 deg"]')
        )
        Path(path).write_text(text, "utf8")
    result = run(path, "-o", str(out), *options)
    assert result.exit_code == 2
    assert result.stderr.count("\n") == 1
    assert said in result.stderr
    assert not out.exists()


@pytest.mark.parametrize(
    ("across", "base", "pitch", "tilt", "pages"),
    [
        ("40 mm", "15 mm", "3 mm", "9 deg", 2),  # bench sheet and one pattern page
        ("180 mm", "118 mm", "20 mm", "5 deg", 2),  # a strip of one turn
        ("186 mm", "48 mm", "2.3 mm", "5 deg", 2),  # thirty turns
        ("1900 mm", "700 mm", "20 mm", "5 deg", 2),  # too many pages: bench sheet, peg and string
    ],
    ids=["toy", "one turn", "thirty turns", "huge"],
)
def test_odd_boards(tmp_path: Path, across: str, base: str, pitch: str, tilt: str, pages: int) -> None:
    """A toy, one turn, thirty turns and a board past taping all give the pages they should."""
    out = tmp_path / "out.pdf"
    path = written(tmp_path, across=across, base=base, pitch=pitch, tilt=tilt)
    result = run(path, "-o", str(out), "--paper", "a4")
    assert result.exit_code == 0, result.output
    assert len(re.findall(rb"/Type /Page\b", out.read_bytes())) == pages
    assert ("no pattern" in result.output) == (across == "1900 mm")


def test_bench_sheet_numbers_by_hand() -> None:
    """Drop, cut length, faces and kerf's effect are what the closed form gives by hand."""
    sheet = bench_sheet(fit(bowl(), rigid=True), Handling(), units="mm")
    drop = 0.7 / math.sin(math.radians(5.5))  # 7.30 mm
    assert f"sunk {rule_length(drop, units='mm')}" in block(sheet, "When it is right")
    assert "Cut 2.34 m" in block(sheet, "Sawing")  # pi (75^2 - 28^2)/6.5 = 2340 mm
    more = 0.1 / math.sin(math.radians(5.5))  # 1.04 mm
    assert f"0.10 mm of kerf is {more:.1f} mm" in block(sheet, "If it is not")
    less = 2 * 0.08 / math.sin(math.radians(5.5))  # varnish on both faces: 1.67 mm
    assert f"sinks {less:.1f} mm less" in block(sheet, "Finish")
    assert "manual" in sheet.cautions[-1]


def test_bench_sheet_tells_the_faces_apart() -> None:
    """On the lowered side the face up on the saw is the inside, on the raised side the face down."""
    answer = fit(bowl(), rigid=True)
    for middle, word in (("lowered", "UP"), ("raised", "DOWN")):
        said = block(bench_sheet(answer, Handling(middle), units="in"), "Which way up")
        assert f"lay {word} on the saw" in said


def test_safe_settings_are_the_closed_form_s() -> None:
    """At the ends of the run it locks, by overlap and friction worked out by hand; half a degree beyond not."""
    found = table_setting(bowl(tilt="5.8 deg"))
    assert found.nearest_deg in (5.5, 6.0)
    assert found.nearest_drop_mm == pytest.approx(0.7 / math.sin(math.radians(found.nearest_deg)), rel=1e-6)
    # By hand: hold used tan(tilt)/0.4 < 1 up to 21.8 deg; overlap of 15 % from asin(0.7/(0.85 18)) = 2.6 deg.
    assert 3.0 <= found.low_deg <= found.nearest_deg <= found.high_deg <= 20.0
    below = rigid_fit(set_to(bowl(), 2.5)).numbers
    assert below.overlap == pytest.approx(1 - 0.7 / math.sin(math.radians(2.5)) / 18, rel=1e-6)


def test_rule_lengths_round_to_the_safe_side() -> None:
    """Down never says more than there is, up never less."""
    for value in (3.1, 10.7, 25.4, 30.05):
        for units, unit in (("in", 25.4 / 32), ("mm", 0.5)):
            low, high = (
                number(rule_length(value, units=units, toward=toward)) * (25.4 if units == "in" else 1)
                for toward in ("down", "up")
            )
            assert low <= value + 1e-6
            assert high >= value - 1e-6
            assert high - low <= unit + 1e-6


def number(text: str) -> float:
    """Read a shown length back."""
    whole = 0.0
    for part in text.split()[:-1]:
        top, _, under = part.partition("/")
        whole += float(top) / float(under or 1)
    return whole
