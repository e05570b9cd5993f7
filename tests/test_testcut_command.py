"""``fitsim testcut`` and ``--saw`` as a maker meets them."""

import json
import math
from pathlib import Path

import jsonschema
import pytest
from click.testing import CliRunner, Result

from fitsim.cli import main
from fitsim.report.answer_json import schema_text
from fitsim.saw.kerf_and_scale import Saw
from fitsim.saw.learned_file import read_learned

CUTS = """
name = "Lean-to band saw, 1/8 in blade"
date = 2024-03-02
[board]
thickness = "19 mm"
[[ring]]
tilt = "4 deg"
drop = "9.1 mm"
[[ring]]
tilt = "9 deg"
drop = "4.2 mm"
[[slot]]
width = "0.68 mm"
"""
BOWL = """
[board]
wood = "cherry"
thickness = "19 mm"
across = "240 mm"
[cut]
tilt = "5 deg"
kerf = "0.9 mm"
pitch = "8 mm"
base = "90 mm"
"""


def kept_saw(path: Path) -> Saw:
    """The saw of a file that was kept."""
    saw = read_learned(path).saw
    assert saw is not None
    return saw


def run(*words: str | Path) -> Result:
    """Run one command in this process."""
    return CliRunner(env={"COLUMNS": "100"}).invoke(main, [str(word) for word in words])


@pytest.fixture
def cuts(tmp_path: Path) -> Path:
    """A good file of test cuts."""
    path = tmp_path / "cuts.toml"
    path.write_text(CUTS, "utf8")
    return path


@pytest.fixture
def bowl(tmp_path: Path) -> Path:
    """A good bowl file."""
    path = tmp_path / "bowl.toml"
    path.write_text(BOWL, "utf8")
    return path


def flat(text: str) -> str:
    """Text without its line breaks."""
    return " ".join(text.split())


def test_starter_is_written_once_with_cautions_and_asks_for_readings(tmp_path: Path) -> None:
    """The starter comes with cautions, takes no example for a reading, and spares another file."""
    path = tmp_path / "mine.toml"
    told = run("testcut", "--new", path)
    assert told.exit_code == 0
    for text in (flat(told.stdout), flat(path.read_text("utf8").replace("\n# ", " "))):
        for words in ("large enough to hold with both hands", "eye protection", "go suddenly"):
            assert words in text
    answer = run("testcut", path)
    assert (answer.exit_code, answer.stdout) == (2, "")
    (line,) = answer.stderr.splitlines()
    assert "write your readings" in line
    path.write_text("mine", "utf8")
    result = run("testcut", "--new", path)
    assert (result.exit_code, path.read_text("utf8")) == (2, "mine")
    assert "--replace" in result.stderr


def test_a_new_file_is_no_object(tmp_path: Path) -> None:
    """Asked for JSON and a new file at once, one line refuses the pair; nothing is written."""
    path = tmp_path / "mine.toml"
    told = run("testcut", "--new", path, "--json")
    assert (told.exit_code, told.stdout, path.exists()) == (2, "", False)
    (line,) = told.stderr.splitlines()
    assert line.startswith("fitsim: --new: expected no --json beside it")


def test_a_bowl_and_test_cuts_are_told_apart(cuts: Path, bowl: Path) -> None:
    """One file in place of the other is one line that says which it is."""
    for words, said in (
        (("testcut", bowl), "this is a bowl file"),
        (("fit", cuts), "this is a file of test cuts; use it with: fitsim testcut"),
    ):
        result = run(*words)
        assert (result.exit_code, result.stdout) == (2, "")
        (line,) = result.stderr.splitlines()
        assert said in line


def test_report_says_what_a_maker_needs(cuts: Path) -> None:
    """The report has kerf, lean, tie, agreement, the next measurement, the drop asked for, and cautions."""
    text = flat(run("testcut", cuts, "--tilt", "6 deg").stdout)
    for words in (
        "Lean-to band saw, 1/8 in blade, 2024-03-02",
        "From 2 scrap rings and 1 slot, nine times in ten: the kerf is 0.6",
        "than the scale says",
        "if the scale reads true the kerf is 0.6",
        "each 0.1 deg more means 0.0",
        "The readings agree",
        "a bevel gauge between table and blade",
        "feeler gauge",
        "6 deg",
        "ring.within 0.4 mm (0.2 mm to 1 mm), ESTIMATE",
        "Unplug the saw",
        "large enough to hold",
    ):
        assert words in text
    assert "4 deg 4." not in text  # the settings shown when none is asked for


def test_one_ring_says_what_it_cannot_tell(tmp_path: Path) -> None:
    """One ring is answered with the line of kerf and tilt, from h sin(tilt) and h cos(tilt)."""
    path = tmp_path / "one.toml"
    path.write_text('[[ring]]\ntilt = "5 deg"\ndrop = "7.4 mm"\n', "utf8")
    text = flat(run("testcut", path).stdout)
    # 7.4 sin 5 deg = 0.645; 7.4 cos 5 deg x 0.1 deg = 0.0129
    assert (
        "These cuts cannot tell kerf and tilt apart: if the scale reads true the kerf is 0.645 mm; "
        "each 0.1 deg more means 0.013 mm more kerf." in text
    )
    assert "no second reading yet" in text
    assert "To tell kerf and tilt apart, best first:" in text


def test_json_carries_units_and_agrees_with_the_saw_file(cuts: Path, tmp_path: Path) -> None:
    """The JSON alone goes to standard output, and says what the saw file keeps."""
    kept = tmp_path / "saw.toml"
    result = run("testcut", cuts, "--json", "--keep", kept, "--tilt", "6 deg", "--tilt", "5 1/2 deg")
    answer = json.loads(result.stdout)
    saw = kept_saw(kept)
    assert answer["kerf_mm"] == pytest.approx(saw.kerf_mm, abs=1e-6)
    assert math.radians(answer["tilt_offset_deg"]) == pytest.approx(saw.tilt_offset_rad, abs=1e-6)
    assert (answer["rings"], answer["slots"], answer["bevels"]) == (2, 1, 0)
    assert (saw.name, saw.date) == ("Lean-to band saw, 1/8 in blade", "2024-03-02")
    assert [d["scale_tilt_deg"] for d in answer["drops"]] == pytest.approx([6.0, 5.5])
    for drop in answer["drops"]:
        assert drop["low_mm"] < drop["drop_mm"] < drop["high_mm"]
        true = math.radians(drop["tilt_deg"])
        assert drop["drop_mm"] == pytest.approx(answer["kerf_mm"] / math.sin(true), rel=0.01)
    kinds = [cut["kind"] for cut in answer["next_measurements"]]
    assert sorted(kinds) == ["bevel", "ring", "slot"]


def test_a_saw_file_is_never_overwritten(cuts: Path, tmp_path: Path) -> None:
    """A file that exists is refused before any work, and the test cuts themselves always are."""
    kept = tmp_path / "saw.toml"
    kept.write_text("mine", "utf8")
    result = run("testcut", cuts, "--keep", kept)
    assert (result.exit_code, result.stdout, kept.read_text("utf8")) == (2, "", "mine")
    assert run("testcut", cuts, "--keep", kept, "--replace").exit_code == 0
    assert kept_saw(kept).rings == 2
    assert run("testcut", cuts, "--keep", cuts, "--replace").exit_code == 2
    assert cuts.read_text("utf8") == CUTS


def test_rings_that_contradict_are_refused_and_nothing_is_kept(cuts: Path, tmp_path: Path) -> None:
    """A ring that does not fit is named in one line, status 2, and no saw file is written."""
    more = '[[ring]]\ntilt = "6 deg"\ndrop = "6.3 mm"\n[[ring]]\ntilt = "12 deg"\ndrop = "6 mm"\n'
    cuts.write_text(CUTS + more, "utf8")
    kept = tmp_path / "saw.toml"
    result = run("testcut", cuts, "--keep", kept)
    assert (result.exit_code, result.stdout) == (2, "")
    (line,) = result.stderr.splitlines()
    assert "cuts.toml: ring 4 = 6.00 mm: expected about 3." in line
    assert "chi-square" in line
    assert not kept.exists()


@pytest.mark.parametrize(
    ("drops", "slot", "named"),
    [
        (("9 mm", "9 mm"), "0.3 mm", "ring 2 = 9.00 mm: expected about 2."),
        (("18 mm", "17 mm"), "0.3 mm", "ring 1, ring 2, slot 1: expected readings that"),
        (("5 mm", "15 mm"), "0.68 mm", "ring 2, ring 1: expected readings that agree; "),
    ],
)
def test_readings_too_far_apart_to_be_summed_up_are_named(
    cuts: Path, drops: tuple[str, str], slot: str, named: str
) -> None:
    """A drop that does not shrink with the tilt is refused with file and reading, however far off it is."""
    text = CUTS.replace("9.1 mm", drops[0]).replace("4.2 mm", drops[1]).replace("0.68 mm", slot)
    cuts.write_text(text, "utf8")
    result = run("testcut", cuts)
    assert (result.exit_code, result.stdout) == (2, "")
    (line,) = result.stderr.splitlines()
    # The other two alone: 9 mm at 4 deg is a kerf near 0.63 mm, and that sinks some 4 mm at 9 deg; a scale
    # off by less than a degree cannot bring both to one depth.
    assert line.startswith(f"fitsim: {cuts}: {named}")
    assert "measure" in line.partition(";")[2]


def test_bad_input_is_one_line_a_problem(cuts: Path) -> None:
    """Slips in the file or in an option end with status 2 and say what to write."""
    cuts.write_text(CUTS.replace("drop", "drp"), "utf8")
    result = run("testcut", cuts)
    assert (result.exit_code, result.stdout) == (2, "")
    assert "did you mean 'drop'?" in result.stderr
    result = run("testcut", cuts, "--tilt", "6")
    assert result.exit_code == 2
    assert result.stderr.startswith("fitsim: --tilt = '6': expected an angle in degrees")
    result = run("testcut", cuts, "--tilt", "0 deg")
    assert result.stderr.startswith("fitsim: --tilt = '0 deg': expected more than zero; write the setting")


def test_fit_takes_the_saw(cuts: Path, bowl: Path, tmp_path: Path) -> None:
    """With --saw the drop is the saw's k/sin(scale + offset); the answer still obeys its schema."""
    kept = tmp_path / "saw.toml"
    run("testcut", cuts, "--keep", kept)
    saw = kept_saw(kept)
    answer = json.loads(run("fit", bowl, "--rigid", "--saw", kept, "--json").stdout)
    jsonschema.Draft202012Validator(json.loads(schema_text())).validate(answer)
    true = math.radians(5) + saw.tilt_offset_rad
    assert answer["seat_drop_mm"][0] == pytest.approx(saw.kerf_mm / math.sin(true), rel=1e-5)
    assumed = {a["key"]: a for a in answer["assumptions"]}
    assert assumed["cut.kerf"]["mark"] == assumed["cut.tilt"]["mark"] == "measured"
    assert "in place of the bowl file's 0.90 mm" in assumed["cut.kerf"]["source"]
    assert any(note.startswith("By the saw file 'Lean-to band saw") for note in answer["notes"])


def test_report_with_a_saw_still_says_what_to_set(cuts: Path, bowl: Path, tmp_path: Path) -> None:
    """The tilt to set stays the scale's reading; the true tilt stands beside it."""
    kept = tmp_path / "saw.toml"
    run("testcut", cuts, "--keep", kept)
    picture = tmp_path / "p.svg"
    text = run("fit", bowl, "--rigid", "--saw", kept, "--picture", picture).stdout
    (row,) = (line for line in text.splitlines() if line.startswith("tilt of the table"))
    assert row.split()[-2:] == ["5", "deg"]
    (true,) = (line for line in text.splitlines() if line.startswith("true tilt then"))
    expected = 5 + math.degrees(kept_saw(kept).tilt_offset_rad)
    assert float(true.split()[-2]) == pytest.approx(expected, abs=0.01)
    assert "table tilted 5 deg" in picture.read_text("utf8")


def test_a_wrong_file_for_the_saw_is_told(cuts: Path, bowl: Path, tmp_path: Path) -> None:
    """Test cuts, a bowl or nothing in place of a saw file: one line, status 2, no answer."""
    for given, words in (
        (cuts, "this is a file of test cuts"),
        (bowl, "not a bowl file"),
        (tmp_path / "none.toml", "there is none of that name"),
    ):
        result = run("fit", bowl, "--rigid", "--saw", given)
        assert (result.exit_code, result.stdout) == (2, "")
        assert len(result.stderr.splitlines()) == 1
        assert words in result.stderr


@pytest.mark.parametrize(
    ("reading", "named"),
    [
        ('[[slot]]\nwidth = "4 mm"', "slot 1 = 4.00 mm"),
        ('[[slot]]\nwidth = "0.1 mm"', "slot 1 = 0.10 mm"),
        ('[[slot]]\nwidth = "0.7 mm"\n[[slot]]\nwidth = "1/4 in"', "slot 2 = 6.35 mm"),
        ('[[ring]]\ntilt = "30 deg"\ndrop = "15 mm"', "ring 1 = 15.00 mm"),  # 15 sin 30 deg is 7.5 mm
        ('[[ring]]\ntilt = "5 deg"\ndrop = "0.2 mm"', "ring 1 = 0.20 mm"),  # 0.2 sin 5 deg is 0.017 mm
        ('[[ring]]\ntilt = "0.5 deg"\ndrop = "9 mm"', "ring 1"),  # 0.08 mm, if not for the scale
        ('[saw]\nkerf_limits = "0.6 to 0.8 mm"\n[[slot]]\nwidth = "1.2 mm"', "0.6 mm to 0.8 mm"),
    ],
)
def test_a_reading_that_no_saw_gives_is_named(tmp_path: Path, reading: str, named: str) -> None:
    """A slot or a drop that would take a kerf outside what a saw can cut is named, with the limits."""
    path = tmp_path / "cuts.toml"
    path.write_text(reading + "\n", "utf8")
    result = run("testcut", path)
    assert result.exit_code == 2
    assert named in result.stderr
    assert "a kerf that a saw can cut" in result.stderr
    assert "kerf_limits" in result.stderr
    assert len(result.stderr.splitlines()) == 1


def test_readings_at_the_edge_of_what_a_saw_can_be_are_taken(tmp_path: Path) -> None:
    """A slot a hair beyond the limits, within its reading error, still gives a saw inside them."""
    path = tmp_path / "cuts.toml"
    path.write_text('[[slot]]\nwidth = "3.05 mm"\n', "utf8")
    result = run("testcut", path, "--json")
    assert result.exit_code == 0, result.stderr
    assert 2.9 < json.loads(result.stdout)["kerf_mm"] < 3.0


def told(tmp_path: Path, text: str) -> Result:
    """The command's answer to a file of tests."""
    path = tmp_path / "t.toml"
    path.write_text(text, "utf8")
    return run("testcut", path)


GAUGED = '[[slot]]\nwidth = "0.72 mm"\n[[bevel]]\ntilt = "5 deg"\ngauge = "{} deg"\n'


def test_what_a_bevel_gauge_told_is_not_called_nothing(tmp_path: Path) -> None:
    """A slot and a bevel gauge tell kerf and lean apart; a slot alone tells nothing of the scale."""
    both = flat(told(tmp_path, GAUGED.format(5.4)).stdout)
    assert "Kerf and tilt are known apart: no ring ties them." in both
    assert "To know the true tilt better, best first:" in both
    assert "nothing was learned about the scale" not in both
    alone = flat(told(tmp_path, '[[slot]]\nwidth = "0.72 mm"\n').stdout)
    assert "No ring was measured: nothing was learned about the scale." in alone


def test_a_second_reading_that_says_little_is_still_a_second(tmp_path: Path) -> None:
    """A ring that fell as it had to, beside one that bound, contradicts nothing, and is there."""
    ring = '[[ring]]\ntilt = "6 deg"\ndrop = "7.4 mm"\n'
    fell = '[[ring]]\ntilt = "2 deg"\nfell_through = true\nthickness = "19 mm"\n'
    assert "no second reading yet" in flat(told(tmp_path, ring).stdout)
    assert "The readings do not contradict one another." in flat(told(tmp_path, ring + fell).stdout)


@pytest.mark.parametrize(
    ("text", "again"),
    [
        (
            '[[slot]]\nwidth = "0.70 mm"\n[[slot]]\nwidth = "1.10 mm"\n',
            "gauge slot 1 and slot 2 again at several places, free of dust",
        ),
        (
            '[[ring]]\ntilt = "10 deg"\nfell_through = true\nthickness = "19 mm"\n'
            '[[slot]]\nwidth = "0.7 mm"\n',
            "expected it to bind at about 4.03 mm",  # 0.7/sin 10 deg
        ),
        (GAUGED.format(8), "check the bevel gauge on something square, and the scale by two rings"),
    ],
    ids=["slots", "fell through", "bevel gauge"],
)
def test_what_to_look_at_again_is_that_of_the_reading(tmp_path: Path, text: str, again: str) -> None:
    """Nobody is told to press a slot home, or to check a bevel gauge with a bevel gauge."""
    said = told(tmp_path, text).stderr
    assert again in said
    for other in ("pressed home", "check the scale with a bevel gauge"):
        assert other not in said
