"""Sentences of the commands as the page says them."""

import re
from dataclasses import replace

import pytest

from fitsim.bowl.fit import fit
from fitsim.bowlfile.defaults import make_bowl
from fitsim.errors import InputError, Problem
from fitsim.manual import guide_page
from fitsim.page.answers import details_object
from fitsim.page.page_words import on_page, paragraphs, problem_object
from fitsim.report.press_tables import press_table, rows_of
from fitsim.report.terminal import fit_report
from fitsim.report.wording import SETTLE_IT


@pytest.mark.parametrize("sentence", SETTLE_IT.values())
def test_no_advice_names_a_command(sentence: str) -> None:
    """What a maker may do to settle a verdict is said without a command line, its words else unchanged."""
    told = on_page(sentence)
    assert not re.search(r"fitsim|--", told)
    assert told.split(",")[0].split(":")[0] == sentence.split(",")[0].split(":")[0]


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
