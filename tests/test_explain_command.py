"""``fitsim explain`` from the command line: what it prints, and how it refuses."""

import csv
import io
import json
import math
import re
import shlex
import tomllib
from dataclasses import replace
from functools import cache
from importlib import resources
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

from fitsim.bowl.fit import fit
from fitsim.bowlfile.defaults import make_bowl
from fitsim.cli import main
from fitsim.commands.explain import ExplainRequest
from fitsim.commands.explain import _typed as again
from fitsim.failure.cause_chances import BestFit
from fitsim.failure.causes import causes_of_bytes
from fitsim.failure.explanations import NONE_OF_THESE
from fitsim.failure.failed_samples import as_planned, plan_of
from fitsim.failure.next_measurement import Band
from fitsim.failure.observations import Measured, Observed, Seen, measure_named
from fitsim.failure.remedies import NextSetting, Remedy
from fitsim.failure.sample_seats import sample_seats
from fitsim.failure.why_failed import WhyFailed, why_failed
from fitsim.page.failed_bowl import words_object
from fitsim.pattern.bench_sheet import bench_sheet
from fitsim.pattern.layout import Handling
from fitsim.quantities import show_force
from fitsim.report.failure_in_words import failure_in_words
from fitsim.report.failure_json import explain_object
from fitsim.report.failure_report import _each_once, _typed, explain_report
from fitsim.tables import read_table

BOWL = """
name = "Alder bowl, invented"
[board]
wood = "cherry"
thickness = "18 mm"
across = "108 mm"
[cut]
tilt = "5 deg"
kerf = "0.7 mm"
pitch = "8 mm"
base = "70 mm"
[use]
finish = "oil"
friction = "0.4"
press = "100 N"
[seen]
what = ["fell through"]
[measured]
kerf = "0.70 +- 0.06 mm"
"""

WAXED = """
[friction]
finish = "wax"
wood = "cherry, black"
friction = "0.21"
low = "0.17"
high = "0.26"
slides = 6
"""

HEADING = "cause,words,chance,quantity,law,middle,spread,next_time,mark,source,cure\n"
FEW = ("tilt off", "kerf wide", "begun wrong", "wrong face", "nail missing", "friction low", "wood weak")
ROW = "planed twice,it was planed twice,0.2,thickness_mm,less,8,0.1,undone,estimated,mine,measure\n"


@pytest.fixture(autouse=True)
def few_presses(monkeypatch: pytest.MonkeyPatch) -> None:
    """A third of the bowls pressed in earnest: the words and the order of the causes are looked at."""
    monkeypatch.setattr("fitsim.failure.bowl_emulator.SAMPLES", 16)


@pytest.fixture
def bowl(tmp_path: Path) -> Path:
    """A bowl file with what was seen and measured."""
    path = tmp_path / "alder.toml"
    path.write_text(BOWL, encoding="utf8")
    return path


@cache
def few_causes() -> str:
    """Some rows of the packaged table, weighed sooner than all of it."""
    rows = csv.reader(io.StringIO(resources.files("fitsim").joinpath("data/causes.csv").read_text("utf8")))
    told = io.StringIO()
    csv.writer(told).writerows(row for row in rows if row[0] in ("cause", *FEW))
    return told.getvalue()


@pytest.fixture
def few(tmp_path: Path) -> Path:
    """A file of those causes."""
    path = tmp_path / "few.csv"
    path.write_text(few_causes(), encoding="utf8")
    return path


def run(*words: str | Path) -> Result:
    """Run the command."""
    return CliRunner().invoke(main, ["explain", *map(str, words)])


@cache
def sprang_back() -> WhyFailed:
    """The answer for that bowl where it sprang back."""
    table = causes_of_bytes(few_causes().encode(), where="few.csv")
    return why_failed(make_bowl(tomllib.loads(BOWL)), Observed((Seen("sprang back"),)), table=table)


def test_one_object_with_chances_fits_and_the_next_measurement(bowl: Path) -> None:
    """The JSON has causes whose chances add up to one, a next measurement, and how far to trust it."""
    found = json.loads(run(bowl, "--json").stdout)
    assert sum(cause["chance"] for cause in found["causes"]) == pytest.approx(1.0)
    assert found["causes"][0]["chance"] == max(cause["chance"] for cause in found["causes"])
    assert {"cause", "chance", "best_fit", "remedy", "effective_sample_size", "reliable"} <= set(
        found["causes"][0]
    )
    # 0.06 mm hold 19 readings in 20, which is 1.96 standard deviations.
    (kerf,) = found["measured"]
    assert (kerf["key"], kerf["value"], kerf["unit"]) == ("kerf", 0.7, "mm")
    assert kerf["sd"] == pytest.approx(0.06 / 1.96)
    assert found["next_measurement"]["key"] not in ("kerf", "drop")
    assert found["effective_sample_size"] > 50
    assert found["reliable"] is True
    assert found["contradictory"] is False


def test_the_file_and_the_options_add_up(bowl: Path, tmp_path: Path) -> None:
    """What is typed joins what stands in the file; a reading typed anew takes its place."""
    table = tmp_path / "one.csv"
    table.write_text(HEADING + ROW, encoding="utf8")
    words = (
        bowl,
        "--json",
        "--causes",
        table,
        "--seen",
        "split near the root",
        "--measured",
        "kerf=1.6 mm",
    )
    found = json.loads(run(*words).stdout)
    assert found["seen"] == ["fell through", "split, near the root"]
    assert [m["value"] for m in found["measured"]] == [1.6]


def test_a_file_whose_name_has_a_space_is_typed_in_quotes(bowl: Path, few: Path) -> None:
    """A shell takes the line to type next as it stands."""
    spaced = bowl.with_name("my bowl.toml")
    spaced.write_text(bowl.read_text(encoding="utf8"), encoding="utf8")
    told = " ".join(run(spaced, "--seen", "fell through", "--causes", few).stdout.split())
    then = told[told.index("Then: fitsim ") :].removeprefix("Then: ")
    assert shlex.split(then)[:3] == ["fitsim", "explain", str(spaced)]


def test_the_report_and_the_picture(bowl: Path, few: Path, tmp_path: Path) -> None:
    """The report names the likeliest cause in plain words and what to measure; the picture is written."""
    picture = tmp_path / "why.svg"
    measured = ("--measured", "tilt=-5 deg", "--measured", "tilt_inner=-5 deg")
    told = run(bowl, *measured, "--causes", few, "--picture", picture)
    assert told.exit_code == 0
    # The line to type next has what was typed this time.
    waxed = tmp_path / "waxed.toml"  # of another finish: left out, and the bowl stays as it is
    waxed.write_text(WAXED, encoding="utf8")
    typed = ("--seen", "fell through at turn 2", "--measured", "thickness=18 mm", "--causes", few)
    typed = (*typed, "--learned", waxed)
    then = " ".join(run(bowl, *typed).stdout.split())
    again_typed = '--seen "fell through at turn 2" --measured "thickness=18 mm" --measured "tilt=... deg"'
    assert f"Then: fitsim explain {bowl} --learned {waxed} --causes {few} {again_typed}" in then
    assert "friction is known for wax on cherry, black, not for oil on cherry, black: left out." in then
    assert "LIKELY: pressed from the wrong face" in told.stdout
    assert "ESTIMATES" in told.stdout
    text = picture.read_text(encoding="utf8")
    assert "wrong face" in text
    assert "tilt inner [deg]" in text
    again = run(bowl, "--picture", picture)
    assert again.exit_code == 2
    assert "--replace" in again.stderr


def test_the_sign_of_a_measured_bevel_can_be_told_at_the_bench(bowl: Path, few: Path) -> None:
    """Plus is the bevel that can wedge: the wood inside the slot wider on the face it is pushed from.

    A round of wood whose edge lies r = a + s z from the middle, z up to the face that is pushed, in a hole
    r = a + k + s z: pushed down by d its edge at z has a + s (z + d), and meets the hole where s d = k. So
    it binds below, at d = k/s > 0, only with s > 0: wider above. The bench sheet tells the base so.
    """
    slot_mm, slope = 0.8, math.tan(math.radians(5))
    for s in (slope, -slope):
        sunk = np.linspace(0, 15, 3001)
        assert bool(np.any(slot_mm - s * sunk <= 0)) == (s > 0)
    planned = make_bowl(tomllib.loads(BOWL))
    plan = plan_of(planned)
    meant = as_planned(plan)
    reading = float(np.degrees(meant.tilt_rad[0, -1]))
    assert reading == pytest.approx(5, abs=0.01)  # plus as it is planned
    assert bool(np.all(sample_seats(plan, meant).drop_mm < planned.board.thickness_mm))
    other = replace(meant, tilt_rad=-meant.tilt_rad)
    assert bool(np.all(sample_seats(plan, other).drop_mm > planned.board.thickness_mm))
    sheet = bench_sheet(fit(planned, rigid=True), Handling(), units="mm")
    (said,) = (" ".join(block.lines) for block in sheet.blocks if block.heading == "Which way up")
    wide, narrow = map(float, re.findall(r"about ([\d.]+) mm against ([\d.]+) mm", said)[0])
    assert "Push the base down from it. To tell: there the base is wider" in said
    assert wide - narrow == pytest.approx(2 * planned.board.thickness_mm * slope, abs=0.2)
    words = "plus: the wood inside that slot is wider on the face you pressed; minus: narrower there"
    listed = " ".join(run("--list").stdout.split())
    assert listed.count(words) == 2
    assert words in resources.files("fitsim").joinpath("data/starter.toml").read_text("utf8")
    assert [what.count(words) for key, what, _ in words_object()["measures"] if "tilt" in key] == [1, 1]
    for sign in ("", "-"):
        told = run(bowl, "--measured", f"tilt={sign}5 deg", "--measured", f"tilt_inner={sign}5 deg",
                   "--causes", few)  # fmt: skip
        assert told.exit_code == 0, told.stderr
        assert ("LIKELY: pressed from the wrong face" in told.stdout) == (sign == "-")


def test_one_next_bowl_is_told_one_press() -> None:
    """Causes that say nothing of grip, once done away with, are told alike presses, and whose they are.

    Wood, saw and hands are the same whichever of them it was: the next bowl asks one press, whatever bowls
    are made up for it.
    """
    table = causes_of_bytes(few_causes().encode(), where="few.csv")
    planned = make_bowl(tomllib.loads(BOWL.replace('"0.4"', '"0.35 to 0.7"').replace("100 N", "400 N")))
    presses = []
    for seed in range(3):
        answer = why_failed(planned, Observed((Seen("fell through"),)), table=table, seed=seed)
        presses += [
            told.remedy.as_planned.press_N
            for told in answer.told
            if told.chance.name in ("wrong face", "nail missing")
            and told.remedy is not None
            and told.remedy.as_planned is not None
        ]
    assert len(presses) == 6
    assert max(presses) < 1.12 * min(presses)
    press = show_force(answer.explanation.emulator.planned.press_N, units="mm")
    said = " ".join(explain_report(answer, units="mm").split())
    assert (
        "Mostly up to: 80 in 100 of the bowls that fit the cause need no more, each a little off the plan "
        f"in kerf, tilt and friction; the {press} as planned is for the numbers of the file alone, at the "
        "least friction of its range if hands and wood allow."
    ) in said
    assert failure_in_words(answer, units="mm").presses in said


def test_several_causes_are_no_strip_that_could_not_be_followed() -> None:
    """NOT DECIDED is left to a strip that could not be followed; causes alike are told as what they are."""
    answer = sprang_back()
    alike = tuple(
        replace(told, chance=replace(told.chance, chance=0.3, reliable=True)) for told in answer.told
    )
    said = explain_report(replace(answer, told=alike), units="mm")
    assert "SEVERAL CAUSES FIT: they would all show the same;" in said
    assert "NOT DECIDED" not in said


def test_a_bowl_that_held_has_nothing_to_mend(few: Path, tmp_path: Path) -> None:
    """Of a bowl that only held the answer is that nothing failed, in the report and the JSON alike."""
    path = tmp_path / "good.toml"
    path.write_text(BOWL.partition("[seen]")[0], encoding="utf8")
    told = run(path, "--causes", few, "--seen", "locks").stdout
    assert "Seen: held." in told
    assert "NOTHING FAILED: it opened and stays open" in told
    assert "LIKELY" not in told
    assert "for the next one" not in told
    words = ("--causes", few, "--seen", "held")
    found = json.loads(run(path, *words, "--measured", "rise=18 mm", "--json").stdout)
    assert all(cause["remedy"] is None for cause in found["causes"])
    assert "for the next one" in run(path, *words, "--seen", "rocks").stdout


def test_of_a_bowl_that_its_file_has_shut_no_press_is_told(few: Path, tmp_path: Path) -> None:
    """Turns 5 points drier than the base narrow its first slot by more than there is: fit says so too."""
    path = tmp_path / "shut.toml"
    dry = '[use]\nbase_moisture = "10 %"\nturn_moisture = "4.9 %"'
    text = (
        BOWL.replace("[use]", dry)
        .replace('"0.7 mm"', '"0.26 mm"')
        .replace("fell through", "would not open")
    )
    path.write_text(text.replace('kerf = "0.70 +- 0.06 mm"', 'kerf = "0.26 +- 0.06 mm"'), encoding="utf8")
    fitted = json.loads(CliRunner().invoke(main, ["fit", str(path), "--json"]).stdout)
    assert fitted["verdict"] == "will not open"
    told = " ".join(run(path, "--causes", few).stdout.split())
    assert "5.0 deg on the scale; by the numbers of the file it will not open" in told
    assert "the 100 N there is" not in told
    found = json.loads(run(path, "--causes", few, "--json").stdout)
    assert (found["planned_press_N"], found["planned_rise_mm"]) == (None, None)


def test_of_a_bowl_that_falls_the_press_is_told_at_which_it_falls(few: Path, tmp_path: Path) -> None:
    """Explain and fit tell one press of a bowl that falls through; explain one count of bowls pressed."""
    path = tmp_path / "falls.toml"
    path.write_text(BOWL.replace('tilt = "5 deg"', 'tilt = "2.2 deg"'), encoding="utf8")
    fitted = json.loads(CliRunner().invoke(main, ["fit", str(path), "--json"]).stdout)
    assert fitted["verdict"] == "falls through"
    fell_N = fitted["press_judged_N"]
    assert fell_N < 50  # there are 100 N
    told = run(path, "--causes", few)
    assert f"pressed with {show_force(fell_N, units='mm')} of the 100 N there is" in " ".join(
        told.stdout.split()
    )
    found = json.loads(run(path, "--causes", few, "--json").stdout)
    assert found["planned_press_N"] == pytest.approx(fell_N)
    counted = re.search(r"(\d+) of \1 bowls like yours pressed", told.stderr)
    said = re.search(r"by what (\d+) bowls like yours did", " ".join(told.stdout.split()))
    assert counted is not None
    assert said is not None
    assert said[1] == counted[1] == str(found["bowls_pressed"])


def test_no_likely_on_too_few_samples() -> None:
    """The word LIKELY is never said of a chance that carries the mark of too few samples."""
    answer = sprang_back()
    for chance, reliable, word in ((0.8, True, "LIKELY"), (0.8, False, "PERHAPS"), (0.5, False, "PERHAPS")):
        first = replace(answer.told[0].chance, chance=chance, reliable=reliable)
        told = (replace(answer.told[0], chance=first), *answer.told[1:])
        report = explain_report(replace(answer, told=told), units="mm")
        (line,) = (line for line in report.splitlines() if line.startswith(("LIKELY", "PERHAPS")))
        assert line.startswith(word)
        assert (f"{chance:.0%}".replace("%", " % ?") in " ".join(report.split()[:60])) is not reliable


def test_remedies_read_as_sentences() -> None:
    """Press, tilt and grip stand in one sentence with the height; a hopeless setting is not advised."""
    answer = sprang_back()
    planned = NextSetting(math.radians(5), 64.0, 70.0, 0.0, None, 0.603, 0.93, 0.05, 1.0, "split")
    gentler = replace(planned, press_N=55.0, chance=0.712)
    cured = NextSetting(math.radians(6.5), 70.0, 70.0, 0.4, None, 0.861, 0.95, 0.05, 0.77, "spring back")
    hopeless = replace(planned, scale_tilt_rad=math.radians(9), chance=0.31)
    remedy = Remedy(("use a stronger board",), planned, cured, hopeless, gentler)
    told = (replace(answer.told[0], remedy=remedy),)
    report = " ".join(explain_report(replace(answer, told=told), units="mm").split())
    assert (
        "Use a stronger board. That done, with the tilt as planned, and pressed no harder than it takes "
        "(mostly up to 64 N), 60 in 100 would lock. Pressed a little at a time, and let go as soon as it "
        "stays up (mostly by 55 N), 71 in 100 would lock. With the scale set to 6.5 deg (about 77 % of the "
        "planned height) and bevels roughened or chalked until an off-cut on "
        "another slides only at 22 deg, 86 in 100 would lock. If it stays as it is, no tilt tried "
        "makes even half of them lock. No tilt or friction tried reaches 95 in 100; most of the "
        "rest spring back."
    ) in report


def said_of(answer: WhyFailed, planned: NextSetting, cured: NextSetting, *seen: str) -> str:
    """What the report says of a remedy for something seen."""
    looked = Observed(tuple(Seen(what) for what in seen))
    told = (replace(answer.told[0], remedy=Remedy((), planned, cured, None)),)
    explained = replace(answer.explanation, observed=looked)
    return " ".join(explain_report(replace(answer, told=told, explanation=explained), units="mm").split())


def test_too_little_press_is_said_and_not_asked_for() -> None:
    """Of 100 N there is, 137 N wanted: that is told; after a split no force above the 100 N is named."""
    planned = NextSetting(math.radians(5), 100.0, 137.0, 0.0, None, 0.2, 0.3, 0.14, 1.0, "spring back")
    cured = replace(planned, chance=0.97, most_film_mm=0.16, rise_share=1.87, split_chance=0.02)
    sprang = said_of(sprang_back(), planned, cured, "sprang back")
    assert (
        "With the tilt as planned, and pressed with the 100 N there is (many of them take more, up to "
        "140 N), 20 in 100 would lock and 14 in 100 would split. With thinner or fewer coats, a film of at "
        "most 0.16 mm on each face (about 187 % of the planned height), 97 in 100 would lock."
    ) in sprang
    split = said_of(sprang_back(), planned, replace(cured, most_film_mm=0.0, rise_share=1.0), "split")
    assert "pressed with no more than the 100 N there is, too little for many of them, 20 in 100" in split
    assert "With no film on the bevels, 97 in 100 would lock." in split
    assert "140 N" not in split
    shut = replace(planned, press_N=7.8, wanted_N=9.0, otherwise="would not open")
    assert "pressed no harder than it takes, 20 in 100" in said_of(sprang_back(), shut, cured, "split")
    weaker = replace(planned, press_N=71.0)
    assert (
        "pressed with all you seem to have (hardly more than 71 N; many of them take more), 20 in 100"
    ) in said_of(sprang_back(), weaker, cured, "sprang back")
    for infinite in ("sprang back", "split"):
        never = replace(planned, wanted_N=math.inf)
        assert "no force" not in said_of(sprang_back(), never, never, infinite)


def fits_told(fit: BestFit) -> str:
    """What the report says of one value that fits best."""
    answer = sprang_back()
    told = (replace(answer.told[0], fits=(fit,), remedy=None),)
    return " ".join(explain_report(replace(answer, told=told), units="mm", width=160).split())


def test_a_press_above_what_there_is_says_so() -> None:
    """A press beyond the 100 N of the file is told beside what the file has; one within it is not."""
    beyond = fits_told(BestFit("press", "N", 64.0, 310.0, 99.0))
    assert (
        "press more like 310 N, not 64 N (100 N is all there is by your file), give or take 99 N" in beyond
    )
    assert "by your file" not in fits_told(BestFit("press", "N", 64.0, 95.0, 12.0))


def test_what_is_certain_has_no_give_or_take() -> None:
    """A turn known for certain is not told with a give or take of 0; one that is not, is."""
    words = "bevel reversed from the base out to turn"
    assert "give or take" not in fits_told(BestFit(words, "", 0.0, 1.0, 0.2))
    assert f"{words} 2, give or take 1" in fits_told(BestFit(words, "", 0.0, 2.2, 0.7))
    assert "give or take" not in fits_told(BestFit("kerf", "mm", 0.7, 0.9, 0.002))


def test_the_end_of_a_range_that_fits_is_said_in_the_headline() -> None:
    """Film known as 0.1 to 0.4 mm and found at 0.37: it is said beside the plan itself."""
    answer = sprang_back()
    film = BestFit("film on each face", "mm", 0.25, 0.37, 0.02, 0.1, 0.4, 1.4)
    first = replace(answer.told[0].chance, chance=0.8, reliable=True)
    known = "Film on each face is known only as 0.10 mm to 0.40 mm"
    sentence = f"{known}; what you found goes best with about 0.37 mm."
    for moved, said in ((1.4, True), (0.3, False)):
        told = (replace(answer.told[0], chance=first, fits=(replace(film, moved=moved),)),)
        report = " ".join(explain_report(replace(answer, told=told), units="mm").split())
        assert (sentence in report) is said


def test_bevels_found_bare_under_a_film_of_the_file_are_said_plainly() -> None:
    """The contradiction names the film of the file and what was found, and what to do."""
    answer = sprang_back()
    conflict = replace(answer.explanation.conflict, against_file=True)
    bowl = replace(answer.bowl, uncertain=(), use=replace(answer.bowl.use, film_mm=0.08))
    explained = replace(answer.explanation, conflict=conflict)
    said = explain_report(replace(answer, bowl=bowl, explanation=explained), units="mm")
    assert "CONTRADICTORY: what you found on the bevels" in said
    told = "By the bowl file each face has a film of 0.08 mm, and you found bare wood: one of the two"
    assert told in " ".join(said.split())


def test_a_bowl_that_held_though_it_should_not_have(few: Path, tmp_path: Path) -> None:
    """Of a bowl that springs back by fit and held both are said, and a rise below the planned one."""
    path = tmp_path / "stiff.toml"
    path.write_text(BOWL.partition("[seen]")[0].replace('"100 N"', '"30 N"'), encoding="utf8")
    assert (
        json.loads(CliRunner().invoke(main, ["fit", str(path), "--json"]).stdout)["verdict"]
        == "springs back"
    )
    told = " ".join(run(path, "--causes", few, "--seen", "held").stdout.split())
    assert "NOTHING FAILED: it opened and stays open" in told
    assert "The plan was expected to spring back; it held, so something is more favourable" in told
    assert "As far as it can be told: " in told
    assert "how hard you can push more like" in told
    low = ("--causes", few, "--seen", "held", "--measured", "rise=7 mm")
    told = " ".join(run(path, *low).stdout.split())
    assert "CONTRADICTORY" not in told
    assert "not:" not in told
    assert "IT HELD, and came out shallow" in told
    assert re.search(r"The rise of 7\.0 mm is shallow against the [0-9.]+ mm planned\.", told)
    assert 'add --seen "came out shallow"' in told


def test_a_press_beyond_the_file_is_pointed_out(bowl: Path, few: Path) -> None:
    """A press measured well above all there is, give and take counted: one of the two is wrong."""
    told = " ".join(run(bowl, "--causes", few, "--measured", "press=190 +- 20 N").stdout.split())
    assert (
        "You pressed with 190 N, and 100 N is all there is by your file: one of the two is wrong." in told
    )
    told = run(bowl, "--causes", few, "--measured", "press=110 +- 20 N").stdout
    assert "one of the two" not in told


def test_what_goes_least_is_said_in_words() -> None:
    """What nobody said is told as something nobody said, never by a name of the program's own."""
    answer = sprang_back()
    for name, words in (
        ("not: rocks", 'that nobody says "rocks"'),
        ("no split at first", "that no split was seen at the first opening"),
        ("kerf_inner", "kerf inner"),
    ):
        conflict = replace(answer.explanation.conflict, size=50.0, odd_one=name)
        explained = replace(answer.explanation, conflict=conflict)
        said = " ".join(explain_report(replace(answer, explanation=explained), units="mm").split())
        assert f"What goes least with the rest: {words}. Look and measure again" in said


def test_the_json_says_what_the_report_warns_of() -> None:
    """Whatever stands between what was measured and the table of causes stands in the JSON too, in order.

    A contradiction, a press beyond the file, samples too few; then of a bowl that held a rise left untold.
    """
    answer = sprang_back()
    explanation = answer.explanation
    press = Observed((Seen("sprang back"),), (Measured("press", 163.0, 4.0),))
    rise = Observed((Seen("held"),), (Measured("rise", 7.0, 1.0),))
    odd = replace(explanation.conflict, odd_one="nail", odd_size=21.0)
    unsure = replace(answer.told[0], chance=replace(answer.told[0].chance, reliable=False))
    for observed, conflict, told in ((press, odd, unsure), (rise, explanation.conflict, answer.told[0])):
        of = replace(explanation, observed=observed, conflict=conflict)
        failed = replace(answer, explanation=of, told=(told, *answer.told[1:]))
        for units in ("in", "mm"):
            report = " ".join(explain_report(failed, units=units).split())
            found = explain_object(failed, units=units)
            between = report.partition("Measured: ")[2].partition(". ")[2].partition(" chance cause")[0]
            assert between == " ".join((found["headline"], *found["warnings"], *found["notes"]))
            assert len(found["warnings"]) == (3 if observed is press else 1)


def test_what_is_all_but_certain_is_not_said_to_be_certain(bowl: Path, few: Path) -> None:
    """Both bevels of a cut begun wrong: it is named, and no chance is said to be 100 percent."""
    measured = ("--measured", "tilt=-5 deg", "--measured", "tilt_inner=5 deg")
    told = run(bowl, *measured, "--causes", few).stdout
    line = "LIKELY: the cut began on the wrong side of the blade and was put right part-way (over 99 %)."
    assert line in " ".join(told.split())
    assert "100 %" not in told
    assert "CONTRADICTORY" not in told
    assert "bevel reversed from the rim in to" in " ".join(told.split())


def test_drops_of_all_turns_are_asked_for_in_one_phrase() -> None:
    """The readings of a rule name every turn once; words to be looked for are left to the reader."""
    asked = ("drop_3", "rise", "drop_1", "drop_2")
    words = _each_once([measure_named(key) for key in asked])
    assert [part for part in words if "turns 1, 2 and 3" in part] == words[1:]
    assert words[0] == measure_named("rise").what
    assert _typed(measure_named("nail"), "mm").replace("\u00a0", " ") == "--measured nail=..."


def test_headline_and_advice_do_not_contradict() -> None:
    """Measure before you cut again is said where there is something to measure, and nowhere else."""
    answer = sprang_back()
    for chance in (0.3, 0.5):
        first = replace(answer.told[0].chance, chance=chance, reliable=True)
        told = (replace(answer.told[0], chance=first), *answer.told[1:])
        for readings in (answer.next_readings, ()):
            said = explain_report(replace(answer, told=told, next_readings=readings), units="mm")
            assert ("measure before you cut again" in " ".join(said.split())) == bool(readings)
            assert ("Nothing new to measure" in said) != bool(readings)


def test_none_of_these_is_no_cause_to_be_likely() -> None:
    """Where what nobody listed stands first nothing is said to be likely; the reader is told to look."""
    answer = sprang_back()
    first = replace(answer.told[0].chance, name=NONE_OF_THESE, chance=0.75, reliable=True)
    said = explain_report(replace(answer, told=(replace(answer.told[0], chance=first),)), units="mm")
    assert "LIKELY" not in said
    assert "NOTHING IN THE LIST FITS WELL, so look for what is not in it" in said


def test_a_reading_that_leaves_the_order_lists_no_stretch() -> None:
    """One stretch from end to end says nothing: it is not listed, and the reader is told so."""
    answer = sprang_back()
    first = next(r for r in answer.next_readings if r.measure.unit)
    one = (replace(first.bands[0], low=None, high=None),)
    # Both stretches name the plan: whatever it reads, the plan is named.
    alike = (
        Band(None, 16.0, "the plan itself or wood weak", 0.8),
        Band(16.0, None, "the plan itself", 0.7),
    )
    for bands in (one, alike):
        told = replace(answer, next_readings=(replace(first, bands=bands),))
        said = " ".join(explain_report(told, units="mm").split())
        assert "what is still open); no one reading points to another cause by itself. Then:" in said


@pytest.mark.parametrize(
    ("reading", "unit"),
    [
        ("tilt=5.3 deg", "deg"),
        ("rim_moisture=7 %", "percent"),
        ("press=9 kg", "N"),
        ("nail=split the end", ""),
    ],
)
def test_every_reading_has_its_unit_beside_it(bowl: Path, few: Path, reading: str, unit: str) -> None:
    """Degrees, percent and newtons as they are kept; what is looked at has none."""
    found = json.loads(run(bowl, "--causes", few, "--measured", reading, "--json").stdout)
    units = {row["key"]: row["unit"] for row in found["measured"]}
    assert units == {"kerf": "mm", reading.partition("=")[0]: unit}


def test_the_list_names_words_keys_and_causes() -> None:
    """Every word, key and cause that may be used is listed."""
    listed = run("--list").stdout
    for word in (
        "fell through",
        "beside the nail",
        "after months",
        "kerf_inner",
        "slip_angle",
        "sides changed",
    ):
        assert word in listed


def test_the_list_shows_what_each_cause_changes_and_where_the_table_lies(tmp_path: Path) -> None:
    """Size and law of every built-in cause as its row has them; the table named can be given back."""
    listed = run("--list").stdout
    flat = " ".join(listed.split())
    for row in read_table("causes"):
        size = "" if row["law"] in ("flag", "turn") else f" {float(row['middle']):g}"
        law = "" if row["law"] == "flag" else f" {row['law']}"
        assert f"{row['words']}: {row['quantity']}{law}{size}" in flat
    table = Path(listed.splitlines()[-1].strip())
    assert table.name == "causes.csv"
    mine = tmp_path / "mine.csv"
    mine.write_bytes(table.read_bytes())
    own = run("--list", "--causes", mine).stdout
    assert own.rstrip() == listed.partition("The table, to copy")[0].rstrip()


@pytest.mark.parametrize(
    ("words", "match"),
    [
        ([], "--list"),
        (["--list", "--json"], "fitsim: --list: expected no --json beside it: the list is for reading"),
        (["--measured", "kerf"], "a key and its value"),
        (["--measured", "kerf=-1 mm"], "negative"),
        (["--measured", "kerf=0.7"], "fitsim: --measured kerf = '0.7': expected a length with its unit"),
        (["--measured", "kerff=0.7 mm"], "fitsim: --measured kerff = '0.7 mm': expected one of the keys"),
        (["--seen", "exploded"], "fitsim: --seen = 'exploded': expected one of would not open"),
        (["--seen", "fell through", "--seen", "held"], "fitsim: --seen = 'fell through' beside 'held'"),
        (["--measured", "kerf=0.6 mm", "--measured", "kerf=0.8 mm"], "'0.6 mm' and '0.8 mm': expected one"),
        (
            ["--seen", "fell through at turn 3 at turn 4"],
            'one turn of one thing seen; leave one out, or write each by itself, like "fell through at t',
        ),
        (
            ["--seen", "split near the root, after months, first opening"],
            "one time of one thing seen; leave",
        ),
        (["--seen", "rocks high along the grain and high across the grain"], "one place of one thing seen"),
        (["--measured", "press=0 N"], "more than 0 and at most 5000 N"),
        (["--causes", "nowhere.csv"], "there is none of that name"),
    ],
)
def test_bad_input_is_one_line_and_status_2(words: list[str], match: str) -> None:
    """Nothing seen, words nobody knows and impossible values end in one line and exit status 2."""
    found = run(*words)
    assert found.exit_code == 2
    assert match in found.stderr
    assert len(found.stderr.splitlines()) == 1


def test_what_stands_in_the_file_is_named_there_and_what_was_typed_at_its_option(bowl: Path) -> None:
    """A wrong word and a wrong reading of the file keep its name and key beside those that were typed."""
    more = '[seen]\nwhat = ["fell thru"]\n[measured]\nthickness = "9"\n'
    text = bowl.read_text("utf8").partition("[seen]")[0]
    bowl.write_text(text + more, "utf8")
    lines = run(bowl, "--seen", "split apart", "--measured", "kerf=0.7").stderr.splitlines()
    places = [line.removeprefix("fitsim: ").partition(": expected")[0] for line in lines]
    assert places == [
        f"{bowl}: seen.what = 'fell thru'",
        "--seen = 'split apart'",
        f"{bowl}: measured.thickness = '9'",
        "--measured kerf = '0.7'",
    ]


def test_a_table_of_ones_own(bowl: Path, tmp_path: Path) -> None:
    """A cause added by a row of one's own table is weighed like the others; a wrong row is answered."""
    table = tmp_path / "mine.csv"
    table.write_text(HEADING + ROW, encoding="utf8")
    found = json.loads(run(bowl, "--json", "--measured", "thickness=9 mm", "--causes", table).stdout)
    assert found["causes"][0]["cause"] == "planed twice"
    table.write_text(HEADING + ROW.replace("thickness_mm", "thicknes"), encoding="utf8")
    wrong = run(bowl, "--causes", table)
    assert wrong.exit_code == 2
    assert "planed twice.quantity = 'thicknes'" in wrong.stderr


def test_other_commands_leave_what_was_seen_alone(bowl: Path) -> None:
    """A bowl file with [seen] and [measured] still fits as before."""
    told = CliRunner().invoke(main, ["fit", str(bowl), "--rigid", "--json"])
    assert told.exit_code == 0
    assert json.loads(told.stdout)["name"] == "Alder bowl, invented"


def test_the_line_to_type_next_asks_about_the_same_bowl(tmp_path: Path) -> None:
    """What changes the plan, the causes, the units or the samples is typed again, before what was seen."""
    asked = ExplainRequest(
        learned=None,
        learned_files=(Path("saw.toml"), Path("my wood.toml")),
        seen=("came out shallow",),
        measured=("rise=38.7 mm",),
        as_list=False,
        causes_file=Path("mine.csv"),
        as_json=False,
        units="mm",
        pictures=(),
        seed=3,
        replace=False,
    )
    report = explain_report(sprang_back(), units="mm", file="b.toml", typed=again(asked))
    line = (
        'Then: fitsim explain b.toml --learned saw.toml --learned "my wood.toml" --causes mine.csv '
        '--units mm --seed 3 --seen "came out shallow" --measured "rise=38.7 mm" --measured "'
    )
    assert line in " ".join(report.split())
    plain = replace(asked, learned_files=(), causes_file=None, units=None, seed=0)
    assert again(plain) == [("--seen", "came out shallow"), ("--measured", "rise=38.7 mm")]


def test_what_was_learned_and_left_out_is_told() -> None:
    """A note of the bowl, such as of tests on another wood, stands in the answer."""
    answer = sprang_back()
    note = "By the tests friction is known for oil on walnut, black, not for this: left out."
    noted = replace(answer, bowl=replace(answer.bowl, notes=(note,)))
    assert note in " ".join(explain_report(noted, units="mm").split())
    assert explain_object(noted, units="mm")["notes"] == [note]
    assert note not in " ".join(explain_report(answer, units="mm").split())


@pytest.mark.parametrize(
    ("reading", "units", "told"),
    [
        (Measured("rim_moisture", 4.0, 0.6 / 1.96), "mm", "rim moisture 4 % +- 0.6 %"),
        (Measured("thickness", 15.875, 0.127 / 1.96), "in", "thickness 5/8 in +- 0.005 in"),
        (Measured("rise", 41.275, 3.175 / 1.96), "in", "rise 1 5/8 in +- 1/8 in"),
    ],
)
def test_an_uncertainty_is_told_as_it_is_used(reading: Measured, units: str, told: str) -> None:
    """0.6 points are not told as 1, nor five thousandths of an inch as none."""
    answer = sprang_back()
    explained = replace(answer.explanation, observed=Observed((), (reading,)))
    report = " ".join(explain_report(replace(answer, explanation=explained), units=units).split())
    assert f"Measured: {told}." in report
