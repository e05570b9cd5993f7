"""Sentences of the commands as the page says them."""

import ast
import re
from dataclasses import replace
from pathlib import Path

import pytest

import fitsim
from fitsim.bowl.fit import fit
from fitsim.bowlfile.defaults import make_bowl
from fitsim.bowlfile.keys import READERS
from fitsim.errors import InputError, Problem
from fitsim.manual import guide_page
from fitsim.page.answers import details_object, table_object
from fitsim.page.page_words import EXPLAINED, on_page, paragraphs, problem_object
from fitsim.quantities import lengths_in
from fitsim.report.advised_test import SETTLE_IT
from fitsim.report.press_tables import press_table, rows_of
from fitsim.report.terminal import fit_report, turn_table
from fitsim.tables import packaged_file


@pytest.mark.parametrize("sentence", SETTLE_IT.values())
def test_no_advice_names_a_command(sentence: str) -> None:
    """What a maker may do to settle a verdict is said without a command line, its words else unchanged."""
    told = on_page(sentence)
    assert not re.search(r"fitsim|--", told)
    assert told.split(",")[0].split(":")[0] == sentence.split(",")[0].split(":")[0]


TERMINALS_OWN = {
    "answer_json.py", "failure_json.py", "failure_report.py", "plan_json.py", "seasons_json.py", "files.py",
    "__main__.py", "cli.py", "manual.py", "saw_file.py", "learned_file.py", "row_store.py", "open_page.py",
    "terminal.py", "page_words.py", "paper.py",
}  # fmt: skip
"""Modules that write for a terminal or into a file; the page shows their tables and no sentence."""


def said_in(module: Path) -> list[str]:
    """Every text of a module that is no docstring, what is put into it as 7."""
    tree = ast.parse(module.read_text("utf8"))
    passed = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            passed |= {id(value) for value in node.values}
            parts = (v.value if isinstance(v, ast.Constant) else "7" for v in node.values)
            found.append("".join(map(str, parts)))
    found += [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in passed
    ]
    return found


def test_no_sentence_of_the_program_names_a_command_on_the_page() -> None:
    """Whatever text of any module reaches the page, no command, option or placeholder is left in it."""
    folder = Path(fitsim.__file__).parent
    left, tried = [], 0
    for module in sorted(folder.rglob("*.py")):
        if module.name in TERMINALS_OWN or module.parent.name == "commands":
            continue
        for text in said_in(module):
            # A command alone is put behind "write one with:", which is tried below.
            if not re.search(r"fitsim [a-z]|--[a-z]|\bFILE\b", text) or text.startswith("fitsim "):
                continue
            tried += 1
            told = on_page(text)
            if re.search(r"fitsim|--[a-z]|\bFILE\b|command line|\b(?:with|by|in|and|or)[.,;]?$", told):
                left.append((module.name, told))
    assert tried > 20
    assert left == []


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ('add a line, along the grain: length = "300 mm"', "write it like 300 mm, along the grain"),
        ("add a line: sides = 6", "write it like 6"),
        ("Before you saw: fitsim fit for the verdict over all, fitsim tilt for the chance.",
         "Before you saw, ask Will it lock? for the verdict over all, and Which tilt? for the chance."),
        ("alone; fit has the film in the slot.", "alone; Will it lock? has the film in the slot."),
        ("check the name, or write one with: fitsim testcut --new FILE", "check the name, or open it here"),
        ("pressed open as fit presses it, at 1.25", "pressed open as under Will it lock?, at 1.25"),
        ("limits.overlap 0.15, ESTIMATE: our limit", "limit of the overlap 0.15, ESTIMATE: our limit"),
        ("cut.feed 200 mm/min", "feed 200 mm/min"),
    ],
)  # fmt: skip
def test_what_a_file_or_a_command_would_say_is_said_for_the_page(said: str, told: str) -> None:
    """Lines of a file become how a field is written, keys their names, and commands their places."""
    assert on_page(said) == told


def test_lengths_turn_into_inches_and_nothing_else_does() -> None:
    """A rule's marks for what a rule measures, thousandths for what is small; forces and areas stay."""
    said = "0.05 mm, 12.7 mm or 76.2 to 50.8 mm; 2 N/mm, 200 mm/min, 30 mm2"
    assert lengths_in(said, "in") == "0.002 in, 1/2 in or 3 in to 2 in; 2 N/mm, 200 mm/min, 30 mm2"
    assert lengths_in(said, "mm") == said


def test_every_word_that_is_explained_is_short() -> None:
    """Root, pitch, overlap and friction used are among them, each in a sentence or two."""
    assert {"root", "pitch", "overlap", "friction used"} <= set(EXPLAINED)
    assert all(20 < len(text) < 200 and text.endswith(".") for text in EXPLAINED.values())


def test_a_command_in_a_sentence_becomes_its_place() -> None:
    """Where a command would answer, the page names its place; numbers stay."""
    told = on_page("After 12.5 mm ask `fitsim tilt` and then fitsim seasons FILE.")
    assert told == "After 12.5 mm ask Which tilt? and then Through the year."


def test_a_long_list_of_words_is_left_to_the_field() -> None:
    """A wood that is none is answered without the forty names that its field offers."""
    with pytest.raises(InputError) as caught:
        make_bowl(
            {
                "board": {"wood": "xyzzy", "thickness": "18 mm", "across": "240 mm"},
                "cut": {"tilt": "5 deg"},
            }
        )
    text = problem_object(caught.value.problems[0])["text"]
    assert len(text) < 200
    assert "basswood" not in text


def test_a_problem_shows_neither_key_nor_value() -> None:
    """Beside its field stands what was expected and what to do; key and value are there already."""
    problem = Problem("mine.toml", "cut.kerf", "'0,7'", "a length", "write 0.7 mm")
    assert problem_object(problem) == {"key": "cut.kerf", "text": "Expected a length; write 0.7 mm."}


def test_a_table_among_paragraphs_keeps_its_rows() -> None:
    """Columns of a terminal's table become cells, a heading without its first word set right."""
    report = "A name\n\n  wanted       1      2\nrise    2 in   3 in   4 in\n\nThe end.\n"
    assert paragraphs(report) == [
        "A name",
        [["", "wanted", "1", "2"], ["rise", "2 in", "3 in", "4 in"]],
        "The end.",
    ]


def test_every_key_of_the_bowl_file_has_a_field() -> None:
    """No key need be written into the file by hand; that of a base's corners shows where there are any."""
    html = packaged_file("page/page.html").read_text("utf8")
    fields = dict(re.findall(r'data-key="([\w.]+)"(?: data-only="([\w ]+)" hidden)?', html))
    assert {f"{table}.{key}" for table, keys in READERS.items() for key in keys} <= set(fields)
    assert fields["cut.base_corner"] == fields["cut.base_outline"] == "oval rectangle polygon"
    assert on_page("write cut.base_corner") == "write least radius of the corners round the base"


TEXTBOOK = r"[Rr]olling[ _]shear|Weibull|weakest link|G_[LR][RT]|E_L_|[a-z]_MPa|_per_|nu_|shear along"
"""Terms a maker is not asked to know."""


def test_a_maker_reads_no_textbook_terms() -> None:
    """Names in the lists of terminal and page are a maker's; the guide has the term beside the words."""
    answer = fit(
        make_bowl(
            {
                "board": {"wood": "pine, loblolly", "thickness": "16 mm", "across": "170 mm"},
                "cut": {"tilt": "7 deg", "kerf": "0.8 mm", "pitch": "9 mm", "base": "110 mm"},
            }
        )
    )
    found = details_object(answer)
    names = [row[0] for table in found["tables"] for row in table["rows"]]
    # What the turns take at rest is told apart from the friction used that decides.
    assert table_object(turn_table(answer, "mm"))["heads"][-1] == "friction used at rest"
    told = [
        line for line in fit_report(answer, units="mm", width=300).splitlines() if "MPa along" not in line
    ]
    assert len(names) > 20
    for text in (*names, found["model"], *told):
        assert not re.search(TEXTBOOK, text), text
    assert answer.elastic is not None
    most = replace(answer.elastic.split_range, decides="strength in rolling shear")
    pressed = rows_of(press_table(answer, replace(answer.elastic, split_range=most), units="mm"))
    assert any("most by the strength of fibres against rolling" in row[0] for row in pressed)
    assert any("fibres" in name and "rolling" in name for name in names)
    page = guide_page("words").text
    for plain, term in (("fibres rolling", "rolling shear"), ("bent along the grain", "bending")):
        assert re.search(rf"\| {plain}[^|]*\| {term}", page)
