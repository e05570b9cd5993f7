"""What a reader is told: splitting beside a press, tests that help, lengths in his units, whole lines."""

import math
import os
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

import fitsim
from fitsim.bowl.elastic import open_bowl
from fitsim.bowl.fit import BowlFit
from fitsim.bowl.inputs import with_friction_known, with_input
from fitsim.bowl.judgement import judge_opening
from fitsim.cli import main
from fitsim.manual import guide_pages, wrapped_page
from fitsim.page.answers import details_object, now_object, verdict_object
from fitsim.page.state import read_state
from fitsim.pattern.bench_sheet import Handling, bench_sheet
from fitsim.quantities import show_length
from fitsim.report.advised_test import advised_test
from fitsim.report.answer_json import answer_object
from fitsim.report.common_words import chance_in_words
from fitsim.report.press_tables import press_table, rows_of
from fitsim.report.terminal import bowl_table, margin_table
from fitsim.report.why import why
from fitsim.saw.learned import learn, with_learned
from fitsim.saw.tests_file import make_tests
from fitsim.wood.species import PROPERTIES, find_wood

SPLITS = """
name = "Quince saucer"
[board]
wood = "mahogany, true"
thickness = "20 mm"
across = "96 mm"
moisture = "9 %"
[cut]
tilt = "6 deg"
kerf = "0.6 mm"
pitch = "8 mm"
base = "44 mm"
[use]
finish = "none"
friction = "0.2 to 0.5"
press = "320 N"
"""


def told(folder: Path, text: str, *words: str) -> str:
    """What ``fitsim fit`` prints of a bowl file, its lines joined."""
    file = folder / "bowl.toml"
    file.write_text(text, "utf8")
    done = CliRunner(env={"COLUMNS": "110"}).invoke(main, ["fit", str(file), *words])
    assert done.exit_code == 0, done.output
    return " ".join(done.output.split())


def fit_of(text: str, folder: Path) -> BowlFit:
    """The answer of a bowl file."""
    file = folder / "given.toml"
    file.write_text(text, "utf8")
    return fitsim.fit(fitsim.read_bowl(file))


def test_a_press_that_would_hold_is_told_with_those_it_splits(tmp_path: Path) -> None:
    """Most bowls split at the press that makes it hold: terminal, JSON, sheet and page all say how many."""
    report, answer = told(tmp_path, SPLITS), fit_of(SPLITS, tmp_path)
    assert answer.elastic is not None
    assert (answer.verdict.state, answer.verdict.state_at_best) == ("springs back", "split risk")
    # Pressed by itself, its friction known, with the press that is told.
    known = with_input(answer.bowl, "use.friction", 0.35)
    asked_N = answer.elastic.opening.judged.asked_N
    chance = open_bowl(known, press_N=asked_N).numbers.split_chance
    assert chance > 0.5
    said = re.compile(
        rf"{math.ceil(asked_N)} N would make it hold, but {chance_in_words(chance)} would split at that\. "
        r"From a press of about (\d+) N on 1 in 10 or more would split\."
    )
    sheet = bench_sheet(answer, Handling(), units="mm").why
    for text in (report, answer_object(answer)["why"], sheet, verdict_object(answer, "mm")["why"]):
        found = said.search(str(text))
        assert found is not None
        tenth = open_bowl(known, press_N=float(found[1])).numbers.split_chance
        assert tenth == pytest.approx(0.1, rel=0.25)  # the press is told to two figures
        assert "would do" not in str(text)


@pytest.mark.parametrize("friction", ["0.2 to 0.5", "0.3 to 0.5", "0.2 to 0.7"])
def test_the_reach_of_a_chance_is_named_after_what_moves_it(friction: str, tmp_path: Path) -> None:
    """Each end of the reach stands in the table that its name points at: the ranges', or the wood's."""
    answer = fit_of(SPLITS.replace("0.2 to 0.5", friction), tmp_path)
    answer = replace(answer, verdict=replace(answer.verdict, state="split risk"))
    assert answer.elastic is not None
    found = re.search(
        r"would split \((?P<low>.*) to (?P<high>.*) over (?P<of>[^)]*)\)", why(answer, units="mm")
    )
    assert found is not None
    margin, wood = answer.verdict.margins[3], answer.elastic.split_range
    shown = {"range": (margin.best, margin.worst), "wood": (wood.low, wood.high)}
    named = {name for name in shown if name in found["of"]}
    # By name, whose own the two ends that are told are.
    widest = {
        end: pick(shown, key=lambda name, end=end: shown[name][end]) for end, pick in ((0, min), (1, max))
    }
    for word, end in (("low", 0), ("high", 1)):
        assert found[word] == chance_in_words(shown[widest[end]][end])
    assert named == set(widest.values())
    heads = [" ".join(str(c.header).split()) for c in margin_table(answer, "mm").columns]
    assert "worst to best of the ranges" in heads
    rows = dict(rows_of(press_table(answer, answer.elastic, "mm")))
    (of_wood,) = (row for row in rows if "what is not known of the wood, most by" in row)
    assert rows[of_wood].endswith(f"{wood.high:.2f}")


def test_a_board_that_may_be_strong_enough_is_not_given_up(tmp_path: Path) -> None:
    """Of any board's wood it splits at its best friction; of a board tested to be strong it locks there."""
    text = (
        '[board]\nwood = "cherry"\nthickness = "14 mm"\nacross = "120 mm"\n[cut]\ntilt = "6 deg"\n'
        'kerf = "0.8 mm"\npitch = "8 mm"\nbase = "60 mm"\nroot = "0 deg"\n[use]\nfriction = "0.12 to 0.3"\n'
        'press = "120 N"\n'
    )
    answer = fit_of(text, tmp_path)
    assert answer.verdict.state_at_best == "split risk"
    assert advised_test(answer, units="mm").endswith("break test strips of this board as well.")
    known = fitsim.make_bowl(tomllib.loads(text.replace("0.12 to 0.3", "0.3")))
    assert fitsim.fit(known).verdict.state == "split risk"
    strip = {"load": "6.2 kg", "width": "10 mm", "thickness": "6 mm", "span": "60 mm"}
    made = make_tests({"board": {"wood": "cherry"}, "break": [strip] * 5})
    assert fitsim.fit(with_learned(known, learn(made).learned)).verdict.state == "locks"


def test_no_test_is_advised_that_cannot_make_it_lock(tmp_path: Path) -> None:
    """Friction settles only which way it fails: no slides are asked for, but what to change is told."""
    answer = fit_of(SPLITS, tmp_path)
    settle = advised_test(answer, units="mm")
    assert settle.startswith("No test of these makes the bowl lock as planned")
    assert settle.endswith("fit with --changes tries some.")
    assert answer_object(answer)["test_that_settles"] == settle
    assert settle in bench_sheet(answer, Handling(), units="mm").why
    (shown,) = verdict_object(answer, "mm")["settle"]
    assert "fitsim" not in shown
    assert "Which tilt?" in shown
    # With a wider friction it may lock where all is favourable: the test is told, and its limit.
    wider = advised_test(fit_of(SPLITS.replace("0.2 to 0.5", "0.2 to 0.7"), tmp_path), units="mm")
    assert "Slide test" in wider
    assert wider.endswith("This alone does not make it lock.")


def test_what_stands_only_under_the_hand_says_so(tmp_path: Path) -> None:
    """Height, slope, mouth and volume of a bowl that springs back are those under the press."""
    steep = SPLITS.replace('"6 deg"', '"14 deg"').replace("0.2 to 0.5", "0.2 to 0.3")
    report = told(tmp_path, steep, "--units", "mm")
    assert "rise of the rim, let go none: it springs back" in report
    names = (
        "height outside",
        "slope of the wall, from level",
        "mouth, inside",
        "volume inside, to the stepped rim",
    )
    assert "height outside, while pressed" in report
    rows = dict(rows_of(bowl_table(fit_of(steep, tmp_path), "mm")))
    assert {f"{name}, while pressed" for name in names} <= set(rows)
    held = told(tmp_path, SPLITS.replace("0.2 to 0.5", "0.4"))
    assert "while pressed" not in held
    assert all(name in held for name in names)


def test_a_bowl_that_falls_through_asks_for_no_press(tmp_path: Path) -> None:
    """Its table names no press; the reason has the stiff turns' drop k/sin(tilt) beside the thickness."""
    thin = SPLITS.replace('"20 mm"', '"5 mm"').replace('"6 deg"', '"3 deg"')
    report = told(tmp_path, thin, "--units", "mm")
    drop = show_length(0.6 / math.sin(math.radians(3)), units="mm")
    assert (
        f"Stiff turns would have to sink {drop} before their bevels meet, and the board is 5.0 mm thick"
        in report
    )
    assert "press it needs to hold none: a turn falls through" in report
    assert "more than" not in report.split("Pressing, in the middle")[1].split("For the saw")[0]


def test_a_bowl_that_slips_before_it_falls_through_is_not_sent_to_more_tilt(tmp_path: Path) -> None:
    """Where tan(tilt) is above the friction no gentle press keeps a thing, and more tilt falls through too.

    A stiff wedge holds where tan(tilt) is no more than its friction; sunk by kerf/sin(tilt), here 2.5 mm
    of 6, it would bear. Pressed one by one: 0.2 at 14 deg (tan 0.25) springs back and then falls through,
    as at 16 deg; twice the friction holds it. A wedge of 4 deg (tan 0.07) that sinks too far is still sent
    to more tilt.
    """
    slippery = SPLITS.replace('"20 mm"', '"6 mm"').replace('"6 deg"', '"14 deg"')
    known = slippery.replace("0.2 to 0.5", "0.2")
    bowl = fit_of(known, tmp_path).bowl
    states = []
    for deg, friction, press_N in (
        (14, 0.2, 37.0),
        (14, 0.2, 120.0),
        (14, 0.2, 290.0),
        (16, 0.2, 320.0),
        (14, 0.4, 85.0),
    ):
        at = with_friction_known(with_input(bowl, "cut.tilt_rad", (math.radians(deg),)), friction)
        states.append(judge_opening(at, open_bowl(at, press_N=press_N)).state)
    assert states == ["springs back", "springs back", "falls through", "falls through", "locks"]

    slips = "bevels so steep hardly hold: pressed gently the bowl springs back, pressed harder a turn falls"
    helps = "With less tilt it takes less friction to hold, with a finer kerf turns sink less."
    ends = ((known, "At a friction of 0.2"), (slippery, "Where friction is least"))
    for text, where in ends:
        answer = fit_of(text, tmp_path)
        said = why(answer, units="mm")
        assert f"{where} {slips} through. {helps}" in said
        assert "more tilt" not in said
        assert answer_object(answer)["why"] == said
        assert bench_sheet(answer, Handling(), units="in").why.startswith(why(answer, units="in"))
    kerf = known[known.index("kerf = ") :].split("\n")[0]
    ranged = why(fit_of(known.replace(kerf, 'kerf = "0.2 to 0.6 mm"'), tmp_path), units="mm")
    assert slips not in ranged  # a finer kerf decides, and that is said
    thin = slippery.replace("14 deg", "4 deg").replace("0.2 to 0.5", "0.5")
    sinks = why(fit_of(thin, tmp_path), units="mm")
    assert slips not in sinks
    assert "with more tilt or a finer kerf they meet sooner" in sinks


LEFT_OUT = """
name = "Sorb saucer"
[board]
thickness = "3/4 in"
across = "120 mm"
[cut]
tilt = "7 deg"
kerf = "0.7 mm"
blade = "1/8 in"
[use]
finish = "wax"
friction = "0.3"
press = "100 N"
"""


def test_lengths_stand_in_the_readers_units(tmp_path: Path) -> None:
    """In inches no length of ours is left in mm, on terminal and page alike; in mm none in inches."""
    inches, mm = (told(tmp_path, LEFT_OUT, "--units", units) for units in ("in", "mm"))
    # Grain diving, a hole, a cup... are told in mm by the model; forces over a length and volumes stay.
    assert not re.findall(r"[0-9.]+ mm\b(?!/|[23])[^.;]*", inches)
    assert "mm/min" not in inches
    assert not re.findall(r"[0-9/]+ in\b(?! [a-z0-9]+ (?:splits|would))", mm.split("Assumed:")[1])
    assert "cut.pitch 6.3 mm (5 mm to 9 mm)" in mm  # 1/4 in is 6.35 mm
    assert "cut.pitch 1/4 in (13/64 in to 23/64 in)" in inches  # 5 and 9 mm to a sixty-fourth
    # Wax of 1 to 5 micrometres is no film of 0.000 in.
    assert "use.film 0.0001 in (0.00004 in to 0.0002 in)" in inches
    assert "the 1/8 in blade" in inches
    answer = fit_of(LEFT_OUT, tmp_path)
    for units, report in (("in", inches), ("mm", mm)):
        shown = details_object(answer, units)
        taken = {name: value for name, value, *_rest in shown["tables"][0]["rows"]}
        assert (
            taken["pitch"] == {"in": "1/4 in (13/64 in to 23/64 in)", "mm": "6.3 mm (5 mm to 9 mm)"}[units]
        )
        assert all(f"- {line}" in report for line in shown["beyond"])


def test_tilt_and_fields_take_the_readers_units() -> None:
    """The page's fields say what is assumed in its units; nothing that a file writes is turned over."""
    pairs = (("board.thickness", "19 mm"), ("board.across", "150 mm"), ("cut.tilt", "7 deg"))
    state = replace(read_state(pairs), page={"units": "in"})
    now = now_object(state)
    assert now["assumed"]["cut.pitch"] == "1/4 in (13/64 in to 23/64 in)"
    assert now["assumed"]["cut.feed"] == "8 in/min (4 in/min to 16 in/min)"


@pytest.mark.parametrize("width", [80, 100])
def test_the_woods_fit_and_are_named_in_a_makers_words(width: int) -> None:
    """No line is wider than the terminal, no code name is shown, every property has value and source."""
    for words in (["woods"], ["woods", "walnut, black"]):
        done = CliRunner().invoke(main, words, env={"COLUMNS": str(width)})
        lines = done.output.splitlines()
        assert max(map(len, lines)) <= width
        assert not re.search(r"\b[A-Za-z]+_[A-Za-z_]+\b", done.output)
    wood = find_wood("walnut, black")
    one = " ".join(done.output.split())
    assert f"stiffness along the grain: {wood.E_L_MPa.value:.0f} MPa, published" in one
    swells = f"{100 * wood.swell_T_per_point.value:.3g} %"
    assert f"swelling along the rings, for each percent of moisture: {swells}" in one
    assert all(getattr(wood, name).source.split()[0] in one for name in PROPERTIES)
    assert done.output.count("\n\n") == len(PROPERTIES)


def in_terminal(columns: int, *words: str) -> str:
    """What the program prints to a terminal so wide."""
    pty = pytest.importorskip("pty", reason="this system has no pseudo-terminals")
    ours, theirs = pty.openpty()
    env = os.environ | {"COLUMNS": str(columns), "LINES": "24", "PYTHONIOENCODING": "utf-8"}
    command = [sys.executable, "-m", "fitsim", *words]
    with subprocess.Popen(command, stdout=theirs, stderr=theirs, env=env) as program:
        os.close(theirs)
        found = b""
        while True:
            try:
                found += (part := os.read(ours, 1 << 16))
            except OSError:  # the terminal is hung up
                break
            if not part:
                break
        assert program.wait(30) == 0
    os.close(ours)
    return found.decode("utf8").replace("\r\n", "\n")


def outside_code(text: str) -> Iterator[str]:
    """Lines outside fenced blocks."""
    for part in re.split(r"^```.*?^```$", text, flags=re.M | re.S):
        yield from part.splitlines()


def test_a_page_of_the_guide_fits_the_terminal_and_a_pipe_gets_it_as_it_is() -> None:
    """Paragraphs, items and tables are set to the terminal's width, words whole; piped nothing moves."""
    (page,) = (page for page in guide_pages() if page.name == "words")
    assert CliRunner().invoke(main, ["guide", "words"]).output == page.text
    shown = in_terminal(80, "guide", "words")
    assert shown == wrapped_page(page.text, 80)
    assert max(len(line) for line in outside_code(shown)) <= 80
    assert 'press_spare = "1.25"      # judged at so many times the least press that makes it hold' in shown
    assert "`fitsim" not in shown or not re.search(r"`fitsim[^`]*\n[^`]*`", shown)


@pytest.mark.parametrize("width", [60, 80, 97])
@pytest.mark.parametrize("page", guide_pages(), ids=lambda page: page.name)
def test_setting_a_page_loses_no_word_and_breaks_no_code(page: object, width: int) -> None:
    """The same words in the same order, every fenced block as it stood, no other line too wide."""
    text = page.text  # type: ignore[attr-defined]
    shown = wrapped_page(text, width)
    fenced = re.compile(r"^```.*?^```$", re.M | re.S)
    assert fenced.findall(shown) == fenced.findall(text)
    assert all(len(line) <= width or " " not in line.strip() for line in outside_code(shown))
    plain = [line for line in outside_code(text) if not line.startswith("|")]
    if "\n|" not in text:
        assert " ".join(outside_code(shown)).split() == " ".join(plain).split()
    else:  # cells stand beside one another
        words = sorted(" ".join(outside_code(text)).replace("|", " ").split())
        kept = sorted(" ".join(outside_code(shown)).replace("|", " ").split())
        assert [w for w in words if set(w) - set("-")] == [w for w in kept if set(w) - set("-")]
    assert wrapped_page(text, 1000) == text


def test_an_item_hangs_and_a_command_stays_whole() -> None:
    """The lines of an item stand under its words; a command in backticks is not broken."""
    text = "- one two three `fitsim fit bowl.toml` four\n  five six seven\n"
    assert wrapped_page(text, 28) == ("- one two three\n  `fitsim fit bowl.toml`\n  four five six seven\n")


def test_every_command_is_described_whole_in_eighty_columns() -> None:
    """The list of commands cuts no description off."""
    lines = CliRunner().invoke(main, ["--help"], env={"COLUMNS": "80"}).output.split("Commands:\n")[1]
    assert "..." not in lines
    assert len(lines.splitlines()) == len(main.commands)
    assert all(line.endswith(".") and len(line) <= 80 for line in lines.splitlines())
