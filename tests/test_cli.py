"""The command line as a maker meets it."""

import inspect
import json
import math
import re
import subprocess
import sys
from importlib import resources
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from click.testing import CliRunner, Result

from fitsim.cli import main
from fitsim.processes import worker_pool
from fitsim.progress import before_first_press, press_begins
from fitsim.report.answer_json import schema_text
from fitsim.report.common_words import plain_words

GOOD = """
name = "Sorrel dish"
[board]
wood = "white oak"
thickness = "18 mm"
across = "150 mm"
moisture = "8 %"
[cut]
tilt = "{tilt} deg"
kerf = "0.7 mm"
pitch = "6.5 mm"
base = "56 mm"
blade = "3.2 mm"
[use]
finish = "none"
friction = "{friction}"
"""


def run(*words: str) -> Result:
    """Run one command in this process."""
    return CliRunner().invoke(main, list(words))


@pytest.fixture
def bowl(tmp_path: Path) -> Path:
    """A good bowl file."""
    path = tmp_path / "sorrel.toml"
    path.write_text(GOOD.format(tilt=5.5, friction="0.4"), "utf8")
    return path


def answer_of(path: Path, *options: str) -> dict[str, object]:
    """The JSON answer for a file, checked against the schema."""
    result = run("fit", str(path), "--rigid", "--json", *options)
    assert result.exit_code == 0, result.stderr
    answer = json.loads(result.stdout)
    jsonschema.Draft202012Validator(json.loads(schema_text())).validate(answer)
    return dict(answer)


def test_json_of_the_reference_bowl(bowl: Path) -> None:
    """The JSON of the reference bowl gives the turns, drop and overlap worked out by hand."""
    answer = answer_of(bowl)
    assert answer["turns"] == pytest.approx(47 / 6.5)  # (75 - 28) mm over the pitch
    assert answer["seat_drop_mm"] == pytest.approx([7.3034] * 7, abs=1e-4)  # 0.7/sin(5.5 deg)
    assert answer["overlap"] == pytest.approx([0.5943] * 7, abs=1e-4)  # (18 - 7.3034)/18
    assert answer["verdict"] in ("locks", "split risk")
    wood = answer["wood"]
    assert wood["name"] == "oak, white"  # type: ignore[index]
    # 1.10 x 12300 MPa (Wood Handbook FPL-GTR-282, Table 5-3, and its own correction for shear)
    assert wood["values"]["E_L_MPa"]["value"] == pytest.approx(13530)  # type: ignore[index]
    assert all(v["source"] for v in wood["values"].values())  # type: ignore[index]


@pytest.mark.parametrize(
    ("tilt", "friction", "verdict", "at_best"),
    [
        (1.5, "0.35", "falls through", "falls through"),
        (25, "0.35", "springs back", "springs back"),
        (25, "0.25 to 0.55", "springs back", "locks"),
    ],
)
def test_verdicts(tmp_path: Path, tilt: float, friction: str, verdict: str, at_best: str) -> None:
    """Too little tilt falls through, too much springs back, and a range says that friction decides."""
    path = tmp_path / "b.toml"
    path.write_text(GOOD.format(tilt=tilt, friction=friction), "utf8")
    answer = answer_of(path)
    assert (answer["verdict"], answer["verdict_at_best"]) == (verdict, at_best)
    text = run("fit", str(path), "--rigid").stdout
    assert verdict.upper() in text
    assert ("depends on friction" in text) == (verdict != at_best)
    if verdict == "falls through":
        assert answer["rise_rigid_mm"] is None
        assert "none: a turn falls through" in text


def test_friction_enough_does_not_spring_back(tmp_path: Path) -> None:
    """At 25 degrees friction of 0.55 is more than tan 25 = 0.466, so it does not spring back."""
    path = tmp_path / "b.toml"
    path.write_text(GOOD.format(tilt=25, friction="0.55"), "utf8")
    answer = answer_of(path)
    assert answer["verdict"] != "springs back"
    assert answer["friction_used_rigid"][0] == pytest.approx(0.4663 / 0.55, abs=1e-3)  # type: ignore[index]


def test_json_has_each_end_of_a_range_in_its_place(tmp_path: Path) -> None:
    """At 5.5 degrees holding takes tan(5.5 deg) of friction: over 0.25 the worst, over 0.5 the best."""
    path = tmp_path / "b.toml"
    path.write_text(GOOD.format(tilt=5.5, friction="0.25 to 0.5"), "utf8")
    margin = json.loads(run("fit", str(path), "--json", "--rigid").stdout)["margins"]["springs_back"]
    assert margin["worst"] == pytest.approx(math.tan(math.radians(5.5)) / 0.25)
    assert margin["best"] == pytest.approx(math.tan(math.radians(5.5)) / 0.5)


def test_pilot_holes_in_json_each_at_its_end(bowl: Path) -> None:
    """In hardwood from 0.75 to 0.9 of the nail's diameter (rule of thumb), the narrow one first."""
    nail = answer_of(bowl)["nail"]
    assert isinstance(nail, dict)
    wide = nail["diameter_mm"]
    assert (nail["pilot_low_mm"], nail["pilot_high_mm"]) == pytest.approx((0.75 * wide, 0.9 * wide))


def test_ounces_of_the_report_are_231_cubic_inches_to_the_gallon(bowl: Path) -> None:
    """A US fluid ounce is 231/128 cubic inches, 29.57 ml; the JSON has millilitres."""
    capacity_ml = answer_of(bowl)["capacity_ml"]
    assert isinstance(capacity_ml, float)
    ounces = capacity_ml / (231 / 128 * 2.54**3)
    said = run("fit", str(bowl), "--rigid", "--units", "in").stdout
    assert re.search(rf"volume inside, to the stepped rim\s+{ounces:.0f} US fl oz", said)
    assert f"{ounces:.0f}" != f"{capacity_ml / 33.8:.0f}"  # ounces in a litre
    plain = run("fit", str(bowl), "--rigid", "--units", "mm").stdout
    assert re.search(rf"volume inside, to the stepped rim\s+{capacity_ml:.0f} ml", plain)


def test_report_shows_what_a_maker_needs(bowl: Path) -> None:
    """The text begins with the verdict and carries assumptions, limits of the model and cautions."""
    text = run("fit", str(bowl), "--rigid").stdout
    lines = text.splitlines()
    assert lines[0] == "Sorrel dish"
    assert lines[1] == "BY THE HAND FORMULA ALONE: LOCKS"
    for words in (
        "7.30 mm",
        "ESTIMATE",
        "add --sources",
        "fitsim woods",
        "estimates",
        "does not see",
        "Unplug the saw",
        "pilot hole",
    ):
        assert words in text
    assert "\x1b" not in text
    assert "Wood Handbook FPL" not in text
    full = run("fit", str(bowl), "--rigid", "--sources").stdout
    assert "sliding" in full
    assert "Wood Handbook FPL" in full


def test_units_follow_the_file_or_the_option(bowl: Path) -> None:
    """Lengths are shown in the file's own units unless asked otherwise."""
    assert "0.288 in" in run("fit", str(bowl), "--rigid", "--units", "in").stdout  # 7.303/25.4
    assert "7.30 mm" in run("fit", str(bowl), "--rigid").stdout


def test_demonstration_needs_no_file() -> None:
    """Without a file the built-in bowl is shown and the next step named."""
    result = run("fit", "--rigid")
    assert result.exit_code == 0
    assert "Hollin Bridge" in result.stdout
    assert "fitsim new" in result.stdout.splitlines()[-1]


def test_bad_file_ends_with_status_two(tmp_path: Path) -> None:
    """Every problem is one line on standard error, nothing is printed, and the status is 2."""
    path = tmp_path / "bad.toml"
    path.write_text('[board]\nthickness = "18"\nacross = "150 mm"\nwod = "oak"\n[cut]\n', "utf8")
    picture = tmp_path / "p.svg"
    result = run("fit", str(path), "--rigid", "--picture", str(picture))
    assert result.exit_code == 2
    assert result.stdout == ""
    assert [line.split()[2].rstrip(":") for line in result.stderr.splitlines()] == [
        "board.thickness",
        "board.wod",
        "cut.tilt",
    ]
    assert not picture.exists()


def test_pictures_are_never_overwritten(bowl: Path, tmp_path: Path) -> None:
    """A picture that exists is refused before any work, unless replacing is allowed."""
    picture = tmp_path / "p.svg"
    picture.write_text("mine", "utf8")
    result = run("fit", str(bowl), "--rigid", "--picture", str(picture))
    assert (result.exit_code, picture.read_text("utf8")) == (2, "mine")
    assert "--replace" in result.stderr
    assert run("fit", str(bowl), "--rigid", "--picture", str(picture), "--replace").exit_code == 0
    assert "Sorrel dish" in picture.read_text("utf8")
    result = run("fit", str(bowl), "--picture", str(tmp_path / "p.bmp"))
    assert result.exit_code == 2
    assert ".svg or .png or .pdf" in result.stderr


def test_new_file_is_written_once(tmp_path: Path) -> None:
    """The starter file is written, is a good bowl, and is not written over another."""
    path = tmp_path / "mine.toml"
    assert run("new", str(path)).exit_code == 0
    assert run("fit", str(path), "--rigid").exit_code == 0
    path.write_text("mine", "utf8")
    result = run("new", str(path))
    assert (result.exit_code, path.read_text("utf8")) == (2, "mine")
    assert run("new", str(tmp_path / "none" / "b.toml")).exit_code == 2


def test_check_is_in_text_and_json(bowl: Path, tmp_path: Path) -> None:
    """The rigid-body check stands beside the closed form, and its drops agree with k/sin(theta)."""
    moving = tmp_path / "opening.gif"
    bowl.write_text(bowl.read_text("utf8").replace('"150 mm"', '"82 mm"'), "utf8")  # two turns
    answer = answer_of(bowl, "--check", "--moving-picture", str(moving))
    check = answer["rigid_body_check"]
    assert check["settled"]  # type: ignore[index]
    assert check["seat_drop_mm"] == pytest.approx([7.3034] * 2, rel=0.005)  # type: ignore[index]
    assert check["held"] == {"press": True, "let_go": True, "turn_over": True, "shake": True}  # type: ignore[index]
    assert moving.read_bytes()[:6] == b"GIF89a"


def test_woods_are_shown_with_their_sources() -> None:
    """The list names every wood; one wood shows every value with mark and source."""
    assert len([line for line in run("woods").stdout.splitlines() if re.search(r" of \d+$", line)]) >= 25
    text = run("woods", "black walnut").stdout
    assert "Wood Handbook" in text
    assert "published" in text
    result = run("woods", "walnutt")
    assert result.exit_code == 2
    assert "did you mean" in result.stderr


def test_schema_is_printed() -> None:
    """The schema printed is a valid JSON schema."""
    jsonschema.Draft202012Validator.check_schema(json.loads(run("schema").stdout))


def test_unknown_option_suggests_a_near_one(bowl: Path) -> None:
    """A misspelt option is answered with the one that was meant, status 2."""
    result = run("fit", str(bowl), "--unit", "mm")
    assert result.exit_code == 2
    assert "--units" in result.stderr


@pytest.mark.parametrize("name", sorted(main.commands))
def test_every_option_of_a_command_is_a_typed_parameter(name: str) -> None:
    """A command's function names each of its arguments and options, with a type, and takes no others."""
    command = main.commands[name]
    taken = inspect.signature(inspect.unwrap(command.callback)).parameters.values()
    assert {p.name for p in taken} == {p.name for p in command.params}
    for parameter in taken:
        assert parameter.kind not in (parameter.VAR_KEYWORD, parameter.VAR_POSITIONAL)
        assert parameter.annotation not in (parameter.empty, Any, object), parameter.name


def test_runs_as_a_module() -> None:
    """``python -m fitsim`` is the same program."""
    done = subprocess.run([sys.executable, "-m", "fitsim", "--version"], capture_output=True, check=True)
    assert done.stdout.startswith(b"fitsim")


def test_closed_slot_gives_no_bowl_and_no_check(tmp_path: Path) -> None:
    """A film thicker than the slot closes it: no measures, and the check says it has nothing to press."""
    path = tmp_path / "b.toml"
    path.write_text(GOOD.format(tilt=5.5, friction="0.4") + 'film = "0.4 mm"\n', "utf8")
    answer = answer_of(path, "--check")
    assert answer["verdict"] == "will not open"
    assert answer["rigid_body_check"] is None
    assert answer["rise_rigid_mm"] is None
    result = run("fit", str(path), "--rigid", "--check")
    assert "nothing to press" in result.stderr
    assert "none: a turn will not open" in result.stdout


@pytest.mark.parametrize("friction", ["0", "0 to 0.4"])
def test_no_friction_is_told_in_words(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, friction: str
) -> None:
    """Without friction the answer says that the bowl lets go, and no endless number is shown anywhere."""
    path, small, few = (tmp_path / name for name in ("b.toml", "small.toml", "few.csv"))
    text = GOOD.format(tilt=5.5, friction=friction)
    path.write_text(text, "utf8")
    # Of two turns, few bowls like it pressed and the first causes weighed: the words are looked for.
    monkeypatch.setattr("fitsim.failure.bowl_emulator.SAMPLES", 12)
    causes = resources.files("fitsim").joinpath("data/causes.csv").read_text("utf8").splitlines()
    few.write_text("\n".join(causes[:8]) + "\n", "utf8")
    small.write_text(text.replace('"150 mm"', '"82 mm"'), "utf8")
    commands = (
        ("fit", str(path), "--rigid"),
        ("fit", str(path), "--rigid", "--units", "in"),
        ("explain", str(small), "--causes", str(few), "--seen", "fell through"),
    )
    for words in commands:
        result = run(*words)
        assert result.exit_code == 0, result.output
        assert not re.search(r"\b(inf|nan|infinity)\b", result.output, re.IGNORECASE)
    told = run("fit", str(path), "--rigid").stdout
    assert "lets go" in told
    assert "Infinity" not in run("fit", str(path), "--rigid", "--json").stdout


def test_split_sentence_speaks_of_the_value_taken_and_shows_its_reach(tmp_path: Path) -> None:
    """Where hardly any may split chance, cause and place are those at the values taken, in one word."""
    path = tmp_path / "sorrel.toml"
    hardly_any = "\n[limits]\nsplit_chance = 1e-9\n"
    path.write_text(GOOD.format(tilt=5.5, friction="0.4") + hardly_any, "utf8")
    answer = json.loads(run("fit", str(path), "--json").stdout)
    jsonschema.Draft202012Validator(json.loads(schema_text())).validate(answer)
    assert answer["verdict_told"] == "SPLIT RISK"
    assert answer["verdict_depends_on"] == []
    assert answer["test_that_settles"] == ""
    assert f"({plain_words(answer['worst_place']['cause'])})" in answer["why"]
    assert f"likeliest on turn {answer['worst_place']['turn']}," in answer["why"]
    assert answer["margins"]["split_risk"]["value"] == answer["split_chance"]


def test_the_hand_formula_is_no_second_verdict(tmp_path: Path) -> None:
    """Nothing pressed, nothing said of splitting, and the headline names the formula it rests on."""
    path = tmp_path / "starter.toml"
    run("new", str(path))
    # A base this small falls through when pressed: by the hand formula its bevels would hold.
    path.write_text(path.read_text("utf8").replace('base = "3 1/4 in"', 'base = "1 in"'), "utf8")
    answer = answer_of(path)
    assert answer["verdict_told"] == "BY THE HAND FORMULA ALONE: LOCKS"
    assert set(answer["margins"]) == {"will_not_open", "falls_through", "springs_back"}  # type: ignore[call-overload]
    text = run("fit", str(path), "--rigid").stdout
    assert "split" not in text.split("For the saw")[0].replace("nothing of splitting", "")
    assert run("fit", str(path)).stdout.splitlines()[1] == "FALLS THROUGH"


def test_check_holds_with_the_least_friction(tmp_path: Path) -> None:
    """The holding test uses the low end of the friction range, where the verdict is judged."""
    path = tmp_path / "b.toml"
    text = GOOD.format(tilt=5.5, friction="0.05 to 0.5")
    path.write_text(text.replace('"150 mm"', '"82 mm"'), "utf8")
    answer = answer_of(path, "--check")
    assert answer["verdict"] == "springs back"  # tan 5.5 deg = 0.096 is more than 0.05
    assert answer["rigid_body_check"]["held"]["let_go"] is False  # type: ignore[index]


def test_rise_is_given_over_the_ranges(tmp_path: Path) -> None:
    """With the kerf known as a range the rise is worked out at both ends: M k/sin(theta)."""
    path = tmp_path / "b.toml"
    text = GOOD.format(tilt=5.5, friction="0.4").replace('"0.7 mm"', '"0.6 to 0.8 mm"')
    path.write_text(text, "utf8")
    low, high = answer_of(path)["rise_rigid_over_ranges_mm"]  # type: ignore[misc]
    for kerf, rise in ((0.6, low), (0.8, high)):
        slot = kerf / 0.995396  # cos 5.5 deg
        assert rise == pytest.approx((47 / 6.5 - 0.5 - slot / 13) * kerf / 0.0958458, rel=1e-5)


def test_uneven_moisture_is_said_to_ride_on_two_sides(tmp_path: Path) -> None:
    """Rings drier than the base close across the grain only: the answer says that the turn rocks."""
    path = tmp_path / "b.toml"
    path.write_text(GOOD.format(tilt=5.5, friction="0.4") + 'turn_moisture = "6 %"\n', "utf8")
    notes = answer_of(path)["notes"]
    assert any("two opposite sides" in str(n) for n in notes)  # type: ignore[attr-defined]


def test_the_first_press_on_a_machine_says_that_it_is_longer(monkeypatch: pytest.MonkeyPatch) -> None:
    """Said once on standard error where the press has to be prepared, and not where nothing is pressed."""
    said = "first use here: preparing the press"
    for ready, words, told in (
        (False, ("fit", "--rigid"), 0),
        (False, ("fit", "missing.toml"), 0),
        (False, ("fit", "--json"), 1),
        (False, ("fit", "--help"), 0),
        (False, ("woods",), 0),
        (True, ("fit", "--json"), 0),
    ):
        monkeypatch.setattr("fitsim.strip.kernels.prepared", lambda ready=ready: ready)
        assert run(*words).stderr.count(said) == told, words


def test_a_press_that_cannot_be_kept_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where no folder takes what was prepared, what would is named, in the one line before the press."""
    monkeypatch.setattr("fitsim.strip.kernels.prepared", lambda: False)
    for kept, told in ((False, "NUMBA_CACHE_DIR"), (True, "first use here")):
        monkeypatch.setattr("fitsim.strip.compiled.can_be_kept", lambda _loop, kept=kept: kept)
        (line,) = run("fit", "--json").stderr.splitlines()
        assert line.startswith(("first use here: " if kept else "") + "preparing the press")
        assert told in line
        assert ("at every command" in line) == (not kept)


def test_a_stop_by_the_keyboard_is_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every command that is stopped ends with the status of a stop, 128 and the signal's number, 2."""

    def stopped(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    for name, words in (
        ("fitsim.cli.woods", ("woods",)),
        ("fitsim.cli.read_bowl", ("fit", "b.toml", "--rigid")),
        ("fitsim.cli.guide_pages", ("guide",)),
    ):
        monkeypatch.setattr(name, stopped)
        result = run(*words)
        assert (result.exit_code, result.stdout, result.stderr) == (130, "", "\nstopped\n")


def test_processes_that_press_and_the_page_say_it_as_well(monkeypatch: pytest.MonkeyPatch) -> None:
    """It is said with the first work given to a process, and before the page's address."""
    told: list[str] = []
    with before_first_press(lambda: told.append("first")):
        pool = worker_pool(1)
        assert told == []
        waiting = [pool.submit(abs, -3), pool.submit(abs, 4)]
        assert [one.result() for one in waiting] == [3, 4]
        pool.shutdown()
    assert told == ["first"]
    press_begins()
    assert told == ["first"]
    opened = pytest.importorskip("fitsim.page.open_page")
    monkeypatch.setattr("fitsim.strip.kernels.prepared", lambda: False)
    monkeypatch.setattr(opened, "serve_page", lambda _file, *, say, **_options: say("The page is at"))
    assert [line.split(":")[0] for line in run("page").stderr.splitlines()] == [
        "first use here", "The page is at",
    ]  # fmt: skip


@pytest.mark.parametrize(
    "words",
    [
        ("fit",),
        ("sheet", "-o", "sheet.pdf"),
        ("tilt",),
        ("seasons",),
        ("explain", "--seen", "fell through"),
        ("plan", "--want", "rise=40 mm"),
        ("map", "--across", "tilt=2..14", "--up", "kerf=0.4..1.6 mm"),
    ],
    ids=lambda words: words[0],
)
def test_bad_input_is_told_without_the_first_press(
    words: tuple[str, ...], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file that cannot be read is answered by its own lines alone, also before anything was prepared."""
    monkeypatch.setattr("fitsim.strip.kernels.prepared", lambda: False)
    path = tmp_path / "spoilt.toml"
    path.write_text('[board]\nthickness = "thick"\n', "utf8")
    name, *rest = words
    answer = run(name, str(path), *rest)
    assert answer.exit_code == 2
    assert "board.thickness = 'thick'" in answer.stderr
    assert all(line.startswith("fitsim: ") for line in answer.stderr.splitlines())
