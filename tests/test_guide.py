"""The pages of the guide: what they show can be typed, and answers as printed.

A fenced block whose lines begin with ``fitsim`` holds commands. Each is read by the command line as a
maker's would be, options and all; a block after the comment ``run`` is run, and must answer with the lines
printed below the command, where ``...`` stands for what is left out. A block after the comment
``answer of`` and a command holds what that command answers.
"""

import ast
import importlib
import json
import re
import shlex
import tomllib
from operator import attrgetter
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from fitsim.bowlfile.defaults import make_bowl, read_bowl
from fitsim.bowlfile.keys import FAILED_BOWL, PLACE_TABLES, PLANNED, READERS
from fitsim.cli import main
from fitsim.climate.place import ROOM_KEYS, read_place
from fitsim.errors import InputError
from fitsim.failure.causes import COLUMNS, LAWS, QUANTITIES, causes_of_bytes
from fitsim.manual import GUIDE, guide_page, guide_pages
from fitsim.plan.wishes import WISHES, read_wishes
from fitsim.report.press_tables import TRIED_IN_THE_MIDDLE
from fitsim.saw.tests_file import read_tests
from fitsim.sweeps.varied_quantities import read_varied

ROOT = Path(__file__).parent.parent
SOURCES = {path.stem: path.read_text("utf8") for path in sorted(GUIDE.glob("*.md"))}
SOURCES["README"] = (ROOT / "README.md").read_text("utf8")
BOWL_TABLES = {"name", "board", "cut", "use", "limits", "scatter", "room", "weather", "seen", "measured"}
ANSWER = re.compile(r"^<!-- answer of fitsim (?P<words>.*) -->\n```\n(?P<told>.*?)^```$", re.M | re.S)
BLOCK = re.compile(r"(?P<run><!-- run -->\n)?^```(?P<kind>\w*)\n(?P<body>.*?)^```$", re.M | re.S)


def blocks(page: str, kind: str) -> list[re.Match[str]]:
    """Fenced blocks of one kind."""
    return [block for block in BLOCK.finditer(SOURCES[page]) if block["kind"] == kind]


def commands(body: str) -> list[tuple[list[str], str]]:
    """Words of every ``fitsim`` line of a block, and the lines printed below it."""
    found: list[tuple[list[str], str]] = []
    for line in body.splitlines():
        if line.startswith("fitsim "):
            found.append((shlex.split(line, comments=True)[1:], ""))
        elif found:
            words, told = found.pop()
            found.append((words, f"{told}{line}\n"))
    return found


TYPED = [
    pytest.param(words, id=f"{page}: {' '.join(words)}"[:90])
    for page in SOURCES
    for block in blocks(page, "")
    for words, _ in commands(block["body"])
]


@pytest.fixture
def workshop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Make a folder that holds the files which the pages speak of."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "bowl.toml").write_text(blocks("start", "toml")[0]["body"], "utf8")
    (tmp_path / "cuts.toml").write_text(blocks("testcut", "toml")[0]["body"], "utf8")
    (tmp_path / "mine.csv").write_text(blocks("explain", "csv")[0]["body"], "utf8")
    kept = CliRunner().invoke(main, ["testcut", "cuts.toml", "--keep", "saw.toml"])
    assert kept.exit_code == 0, kept.output
    return tmp_path


@pytest.mark.parametrize("words", TYPED)
def test_what_a_page_shows_can_be_typed(workshop: Path, words: list[str]) -> None:
    """Command, arguments and options of every example are those of the command line."""
    assert workshop.is_dir()
    command = main.get_command(click.Context(main), words[0])
    assert command is not None
    command.make_context(words[0], words[1:]).close()


RUN = [
    pytest.param(words, told, id=f"{page}: {' '.join(words)}"[:90])
    for page in SOURCES
    for block in blocks(page, "")
    if block["run"]
    for words, told in commands(block["body"])
]


@pytest.mark.parametrize(("words", "told"), RUN)
def test_an_example_answers_as_printed(workshop: Path, words: list[str], told: str) -> None:
    """An example marked to be run answers with the printed lines, in their order."""
    if words[:2] == ["testcut", "cuts.toml"]:
        (workshop / "saw.toml").unlink()
    assert_answered(words, told)


ANSWERS = [
    pytest.param(found["words"].split(), found["told"], id=f"{page}: {found['words']}"[:90])
    for page, text in SOURCES.items()
    for found in ANSWER.finditer(text)
]


def test_the_picture_that_is_shown_is_the_commands(workshop: Path) -> None:
    """The words on README's picture are those on the one that the command draws today."""
    drawn = CliRunner().invoke(main, ["fit", "bowl.toml", "--picture", "bowl.svg"])
    assert drawn.exit_code == 0, drawn.output
    shown = GUIDE / "bowl.svg"
    words = [re.findall(r">([^<>\n]+)<", path.read_text("utf8")) for path in (shown, workshop / "bowl.svg")]
    assert words[0] == words[1]


@pytest.mark.parametrize(("words", "told"), ANSWERS)
def test_an_answer_that_is_shown_is_the_commands(workshop: Path, words: list[str], told: str) -> None:
    """What a page shows of an answer is what the command says today."""
    assert workshop.is_dir()
    assert_answered(words, told)


def assert_answered(words: list[str], told: str) -> None:
    """Run a command: the lines are in its answer, in their order."""
    result = CliRunner().invoke(main, words)
    assert result.exit_code == 0, result.output
    answer, place = " ".join(result.stdout.split()), 0
    for part in told.split("...\n"):
        wanted = " ".join(part.split())
        place = answer.find(wanted, place)
        assert place >= 0, f"not in the answer: {wanted}"


@pytest.mark.parametrize("page", SOURCES)
def test_the_files_of_a_page_are_read(page: str, workshop: Path) -> None:
    """A TOML block is a file of tests, a bowl file, or a part of one that can stand in a bowl file."""
    whole = tomllib.loads(blocks("start", "toml")[0]["body"])
    for block in blocks(page, "toml"):
        tables = tomllib.loads(block["body"])
        if {"ring", "slot", "bevel", "slide", "break", "oven"} & set(tables):
            path = workshop / "tests.toml"
            path.write_text(block["body"], "utf8")
            assert read_tests(path)
        elif set(tables) <= BOWL_TABLES:
            make_bowl({**whole, **tables}, where=page)


@pytest.mark.parametrize("page", SOURCES)
def test_what_a_page_imports_is_there(page: str) -> None:
    """Every name that a Python example takes from the package is there."""
    for block in blocks(page, "python"):
        for node in ast.walk(ast.parse(block["body"])):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("fitsim"):
                module = importlib.import_module(node.module or "")
                assert all(hasattr(module, alias.name) for alias in node.names)
            elif isinstance(node, ast.Attribute) and re.fullmatch(r"fitsim[\w.]*", ast.unparse(node)):
                attrgetter(ast.unparse(node).removeprefix("fitsim."))(importlib.import_module("fitsim"))


def test_every_command_has_a_page_or_is_named_in_one() -> None:
    """No command stands in the guide nowhere."""
    guide = "\n".join(SOURCES.values())
    for name in main.commands:
        assert re.search(rf"fitsim {name}\b", guide), name


ELSEWHERE = {"new", "sheet", "guide", "schema"}
"""Commands that README shows outside its table of questions."""


def questions() -> list[list[str]]:
    """Words of every command in README's table of questions."""
    rows = re.findall(r"^\| .*\? \| (.*) \|$", SOURCES["README"], re.MULTILINE)
    return [shlex.split(typed)[1:] for row in rows for typed in re.findall(r"`(fitsim [^`]+)`", row)]


def test_every_command_stands_in_readme() -> None:
    """The table of questions has every command but those that the text round it shows."""
    table = {words[0] for words in questions()}
    assert table == set(main.commands) - ELSEWHERE
    rest = SOURCES["README"].replace("| `fitsim", "")
    assert {name for name in ELSEWHERE if f"fitsim {name}" in rest} == ELSEWHERE


@pytest.mark.parametrize("words", questions(), ids=" ".join)
def test_what_readme_s_table_shows_can_be_typed(workshop: Path, words: list[str]) -> None:
    """Command, arguments and options of every question are those of the command line."""
    assert workshop.is_dir()
    command = main.get_command(click.Context(main), words[0])
    assert command is not None
    command.make_context(words[0], words[1:]).close()


@pytest.mark.parametrize("page", sorted(set(SOURCES) - {"README"}))
def test_a_page_is_printed_without_its_comments(page: str) -> None:
    """`fitsim guide PAGE` prints the page from its title on, and no comment of ours."""
    told = CliRunner().invoke(main, ["guide", page]).stdout
    assert told == guide_page(page).text
    assert told.startswith("# ")
    assert "<!--" not in told
    assert max(len(line) for line in told.splitlines() if not line.startswith("|")) <= 124


def test_the_guide_lists_its_pages() -> None:
    """`fitsim guide` names every page once, with its title; another name is refused with the list."""
    told = CliRunner().invoke(main, ["guide"]).stdout
    for page in guide_pages():
        assert told.count(f"{page.name} ") >= 1
        assert page.title in told
    refused = CliRunner().invoke(main, ["guide", "tlit"])
    assert refused.exit_code == 2
    assert "tilt" in refused.stderr


def test_the_guide_bowl_is_the_demonstration_bowl() -> None:
    """The bowl of the guide is the one whose verdict the README prints."""
    demo = read_bowl(ROOT / "fitsim" / "data" / "demo.toml")
    guide = make_bowl(tomllib.loads(blocks("start", "toml")[0]["body"]), where="guide")
    assert guide.cut == demo.cut
    assert guide.board == demo.board


ROW = re.compile(r"^\| `(?P<key>\w+)` \| `(?P<example>[^`]+)` \| (?P<said>.+) \((?P<page>\w+)\) \|$", re.M)
HEADED = re.compile(r"^## (?P<tables>\[[^\n]*\])\n(?P<body>.*?)(?=^## |\Z)", re.M | re.S)
SECTIONS = {found["tables"]: ROW.findall(found["body"]) for found in HEADED.finditer(SOURCES["keys"])}
"""Of the page on keys: (key, example, what it is, page) by the heading they stand under."""


def value_of(example: str) -> object:
    """An example as a bowl file has it."""
    return tomllib.loads(f"key = {example}")["key"]


@pytest.mark.parametrize("table", READERS)
def test_every_key_of_the_bowl_file_stands_on_the_page_of_keys(table: str) -> None:
    """Each key of a table has one row under its name, with an example that the key's reader takes."""
    rows = SECTIONS[f"[{table}]"]
    assert sorted(key for key, *_ in rows) == sorted(READERS[table])
    for key, example, _, page in rows:
        READERS[table][key](value_of(example))
        assert page in SOURCES, page


def test_the_tables_that_one_command_reads_stand_on_the_page_of_keys() -> None:
    """Room, weather and wishes: every key, with examples that are read; and no table is forgotten."""
    place = {key: value_of(example) for key, example, *_ in SECTIONS["[room] and [weather]"]}
    weather = {key: place.pop(key) for key in ("temperature_C", "humidity_percent")}
    assert sorted(place) == sorted(ROOM_KEYS)
    for tables in ({"room": place, "weather": weather}, {"room": place}):
        read_place(tables, where="keys", typed={})
    wishes = {key: value_of(example) for key, example, *_ in SECTIONS["[want]"]}
    assert sorted(wishes) == sorted({*WISHES, "wall", "along", "keep", "first"})
    for key, value in wishes.items():  # one by one: some say the same in another way
        beside = {"rise": "60 mm", "mouth": "200 mm"} if key in ("along", "keep", "first", "time") else {}
        read_wishes({**beside, key: value})
    named = {name for heading in SECTIONS for name in re.findall(r"\w+", heading)} - {"and"}
    assert named == {*READERS, *PLACE_TABLES, *FAILED_BOWL, *PLANNED}


def test_an_unknown_key_is_sent_to_the_page_of_keys() -> None:
    """A quantity that no bowl file has is answered with the page that has them all."""
    with pytest.raises(InputError, match="fitsim guide keys"):
        read_varied("zebra=2..14")
    assert guide_page("keys").title.startswith("keys")


def test_what_the_room_may_be_told_is_in_the_table_of_the_seasons() -> None:
    """Options and keys of the table are those of command and bowl file, and its files are read."""
    rows = re.findall(r"^\| (`--.*|-) \| (`.*`|-) \| .* \|$", SOURCES["seasons"], re.M)
    typed = {option for cell, _ in rows for option in re.findall(r"--[\w-]+", cell)}
    command = main.get_command(click.Context(main), "seasons")
    assert command is not None
    there = {option for parameter in command.params for option in parameter.opts}
    assert typed == {f"--{key.replace('_', '-')}" for key in ROOM_KEYS if key != "humidity"} | {
        "--indoor", "--weather",
    }  # fmt: skip
    assert typed <= there
    keys = {key for _, cell in rows for key in re.findall(r"`(\w+)`", cell)}
    assert keys == {*ROOM_KEYS, "temperature_C", "humidity_percent"}
    for cell, key in rows:
        option = re.fullmatch(r'`--([\w-]+) "?([^"`]+)"?`', cell)
        if option is not None and option[1] != "weather":  # what is typed there is read
            name = "humidity" if option[1] == "indoor" else option[1].replace("-", "_")
            assert key == f"`[room]` `{name}`"
            file = {} if name in ("humidity", "driest_month") else {"weather": means()}
            other = {"humidity": "30 to 60 %"} if name == "driest_month" else {}
            read_place(file, where="", typed={name: option[2], **other})
    files = [tomllib.loads(block["body"]) for block in blocks("seasons", "toml")]
    assert [read_place(tables, where="", typed={}).kind for tables in files] == [
        "monthly means", "indoor range",
    ]  # fmt: skip


def means() -> dict[str, list[int]]:
    """Twelve monthly means, the guide's own."""
    found: dict[str, list[int]] = tomllib.loads(blocks("seasons", "toml")[0]["body"])["weather"]
    return found


@pytest.mark.parametrize(
    "typed", [{"cooled": "26 C"}, {"humidifier": "30 %"}, {"dehumidifier": "60 %"}, {"added": "3 g/m3"}]
)
def test_what_the_guide_says_is_refused_with_an_indoor_range_is(typed: dict[str, str]) -> None:
    """What a house does to the air outdoors is refused beside a range of the room's own air."""
    with pytest.raises(InputError, match="weather outdoors"):
        read_place({}, where="", typed={"humidity": "30 to 60 %", **typed})


def test_the_table_of_causes_in_the_guide_is_one() -> None:
    """Columns, laws and quantities that the guide names are those read, and its table is read."""
    page = SOURCES["explain"]
    _, _, own = page.partition("## A table of causes of your own")
    cells = re.findall(r"^\| (`.*?`) \|", own, re.M)
    assert [name for cell in cells for name in re.findall(r"`(\w+)`", cell)] == [
        *[c for c in COLUMNS if c not in ("mark", "source", "cure")], "mark", "source", "cure",
    ]  # fmt: skip
    (law,) = re.findall(r"^\| `law` \| (.*) \|$", own, re.M)
    assert set(re.findall(r"`([\w ]+)`", law)) == set(LAWS)
    (listed,) = re.findall(r"The quantities are (.*?)\. This is", own, re.S)
    assert set(re.findall(r"`(\w+)`", listed)) == set(QUANTITIES)
    table = causes_of_bytes(blocks("explain", "csv")[0]["body"].encode(), where="mine.csv")
    assert [cause.name for cause in table] == ["kerf wide", "friction low"]
    assert table[0].stays
    assert table[1].changes[0].middle == 0.5


def undescribed(schema: object, root: dict[str, object], path: str = "") -> list[str]:
    """Properties of a schema without a word on what they are, by their place in it."""
    if isinstance(schema, list):
        return [name for part in schema for name in undescribed(part, root, path)]
    if not isinstance(schema, dict):
        return []
    found = []
    for key, value in schema.items():
        if key != "properties":
            found += undescribed(value, root, path)
            continue
        for name, part in value.items():
            target = part
            if "$ref" in part and "description" not in part:
                target = root
                for step in part["$ref"].removeprefix("#/").split("/"):
                    target = target[step]
            if not str(target.get("description", "")).strip():
                found.append(f"{path}.{name}")
            found += undescribed(part, root, f"{path}.{name}")
    return found


@pytest.mark.parametrize("of", ["fit", "plan", "seasons"])
def test_a_schema_describes_every_key(of: str) -> None:
    """As the guide says: no property of any answer is without a description of its own."""
    schema = json.loads(CliRunner().invoke(main, ["schema", of]).stdout)
    assert undescribed(schema, schema) == []
    if of == "fit":  # where a change is tried, as the terminal says it beside the table
        assert "in the middle of the ranges" in schema["properties"]["changes"]["description"]
        assert "at the middle of what is known only as a range" in TRIED_IN_THE_MIDDLE
    assert undescribed({"properties": {"a": {"items": {"properties": {"b": {}}}}}}, {}) == [".a", ".a.b"]


def test_the_words_of_the_tables_are_those_of_the_answer(workshop: Path) -> None:
    """What the page on ``fit`` explains of its tables stands in them."""
    assert workshop.is_dir()
    _, _, words = SOURCES["fit"].partition("## Words of the tables")
    named = re.findall(r"(?:^- |, )\*\*(.+?)\*\*", words.partition("Among the numbers")[0], re.M)
    assert len(named) == 5
    result = CliRunner().invoke(main, ["fit", "bowl.toml"], env={"COLUMNS": "110"})
    thin = workshop / "thin.toml"
    thin.write_text(
        '[board]\nwood = "beech"\nthickness = "6 mm"\nacross = "110 mm"\n[cut]\ntilt = "9 deg"\n'
        'kerf = "0.5 mm"\npitch = "5 mm"\nbase = "70 mm"\n[use]\nfriction = 0.35\npress = "200 N"\n',
        "utf8",
    )
    other = CliRunner().invoke(main, ["fit", str(thin)], env={"COLUMNS": "110"})
    answer = " ".join((result.stdout + other.stdout).split())
    for word in named:
        if word != "friction used at rest":  # a heading on two lines
            assert word in answer, word
    two = [line for line in result.stdout.splitlines() if "friction used" in line or "at rest" in line]
    assert any(line.rstrip().endswith("at rest") and "drop pressed" in line for line in two)
