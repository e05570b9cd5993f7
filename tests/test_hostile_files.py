"""Whatever stands in a file, the program takes it or says in one printable line what is wrong with it."""

import random
from pathlib import Path

import hostile_files
import pytest
from click.testing import CliRunner, Result

from fitsim.cli import main

KINDS = {kind.name: kind for kind in hostile_files.kinds()}
FEW = {"weather file": 12, "weather file, bytes": 20, "store": 30}
"""Tries of what takes longest to read; the others have sixty. The study of spoilt files tries more."""


@pytest.mark.parametrize("name", KINDS)
def test_a_spoilt_file_is_taken_or_refused(name: str) -> None:
    """A file spoilt by the rules of its own grammar ends in an answer or in printable lines."""
    kind = KINDS[name]
    assert hostile_files.outcome(kind, kind.good) == ("taken", 0)
    for number in range(FEW.get(name, 60)):
        raw = kind.spoil(random.Random(f"{name} {number}"), kind.good)
        told, _ = hostile_files.outcome(kind, raw)
        assert told in ("taken", "refused"), f"{told}; number {number}"


def run(*words: object) -> Result:
    """One command in this process, on a terminal too wide to break a line."""
    return CliRunner(env={"COLUMNS": "400"}).invoke(main, [str(word) for word in words])


def refused(result: Result, said: str) -> None:
    """Exit status 2, nothing on standard output, and every line printable and under 500 characters."""
    assert result.exit_code == 2, result.exception
    assert isinstance(result.exception, SystemExit)
    assert result.stdout == ""
    lines = result.stderr.removesuffix("\n").split("\n")
    assert all(len(line) < 500 and line.isprintable() for line in lines), lines
    assert said in result.stderr


CAUSE = "cause,words,chance,quantity,law,middle,spread,next_time,mark,source,cure\n"
ROW = "wide,the kerf was wide,0.1,kerf_mm,more,0.1,0.5,stays,estimated,nobody counted"
DIGITS = "9" * 5000
FILES = {
    "seen is a number": (
        "fit.toml",
        "[seen]\nwhat = 5\n",
        ["explain", "FILE", "--seen", "rocks"],
        "seen.what = 5",
    ),
    "seen is no table": (
        "fit.toml",
        None,
        ["explain", "FILE", "--seen", "rocks"],
        "a table with the one key what",
    ),
    "a turn of many digits": (
        "fit.toml",
        f'[seen]\nwhat = "fell through at turn {DIGITS}"\n',
        ["explain", "FILE"],
        "seen.what",
    ),
    "many things seen": (
        "fit.toml",
        f"[seen]\nwhat = {['rocks'] * 51}\n",
        ["explain", "FILE"],
        "at most 50",
    ),
    "a number of many digits": (
        "fit.toml",
        f"[limits]\noverlap = {DIGITS}\n",
        ["fit", "FILE"],
        "a TOML file",
    ),
    "a hexadecimal one": (
        "fit.toml",
        f"[limits]\noverlap = 0x{'f' * 5000}\n",
        ["fit", "FILE"],
        "longer than 19 digits",
    ),
    "an unknown hexadecimal key": (
        "fit.toml",
        f"[use]\nhue = 0x{'f' * 5000}\n",
        ["fit", "FILE"],
        "19 digits",
    ),
    "lists in lists": (
        "fit.toml",
        f"[use]\nhue = {'[' * 50}{']' * 50}\n",
        ["fit", "FILE"],
        "nested far too deep",
    ),
    "a row cut short": (
        "c.csv",
        CAUSE + ROW + "\n",
        ["explain", "--list", "--causes", "FILE"],
        "cure missing",
    ),
    "a row too long": (
        "c.csv",
        CAUSE + ROW + ",cure,more,more\n",
        ["explain", "--list", "--causes", "FILE"],
        "2 more",
    ),
    "a long cell": (
        "c.csv",
        CAUSE + ROW + "," + "x" * 140_000,
        ["explain", "--list", "--causes", "FILE"],
        "field larger than",
    ),
    "a longish cell": (
        "c.csv",
        CAUSE + ROW + "," + "x" * 401,
        ["explain", "--list", "--causes", "FILE"],
        "at most 400 characters",
    ),
    "no UTF-8": ("c.csv", "\udcff", ["explain", "--list", "--causes", "FILE"], "plain text in UTF-8"),
    "weather of empty lines": (
        "w.epw",
        "\n" * 30_000,
        ["seasons", "--weather", "FILE"],
        "over 20000 lines",
    ),
}


@pytest.mark.parametrize(("name", "text", "words", "said"), FILES.values(), ids=FILES)
def test_files_that_once_broke_it(
    tmp_path: Path, name: str, text: str | None, words: list[str], said: str
) -> None:
    """Each file that once ended in a traceback, or took the machine's memory, is refused in words."""
    path, good = tmp_path / name, hostile_files.BOWL.decode("utf8")
    if name == "fit.toml":
        text = (
            f"seen = 5\n{good}"
            if text is None
            else good.replace("[limits]\noverlap", "[limits]\nfriction_used") + text
        )
        if "[limits]\noverlap" in text:
            text = text.replace('[limits]\nfriction_used = "0.2"\n', "")
        if "[use]\nhue" in text:
            text = text.replace("[use]\nhue", "[room]\nhue")
    path.write_bytes((text or "").encode("utf8", "surrogateescape"))
    refused(run(*[path if word == "FILE" else word for word in words]), said)


@pytest.mark.parametrize("count", ["0" * 5000 + "4", DIGITS, "\N{ARABIC-INDIC DIGIT FOUR}", "4 4"])
def test_a_count_of_many_digits_is_refused(count: str) -> None:
    """The number of values behind a range has six digits at most, ours, and no more before them."""
    refused(run("sweep", f"tilt=2..14:{count}", "--csv", "t.csv"), "2 to 999999 values")


OPTIONS = [
    ["sweep", "tilt=2..3", "--csv", "t.csv", "--part", "TEXT"],
    ["sheet", "-o", "t.pdf", "--string", "TEXT"],
    ["testcut", "none.toml", "--tilt", "TEXT"],
    ["seasons", "--indoor", "TEXT"],
    ["seasons", "--indoor", "30 to 60 %", "--heated", "TEXT"],
    ["seasons", "--indoor", "30 to 60 %", "--driest-month", "TEXT"],
    ["map", "--across", "TEXT", "--up", "kerf=0.4..1.6"],
    ["explain", "--seen", "TEXT"],
    ["explain", "--measured", "TEXT"],
    ["explain", "--measured", "kerf=TEXT"],
    ["fit", "--units", "TEXT"],
    ["fit", "--TEXT"],
    ["fit", "one.toml", "TEXT"],
    ["TEXT"],
    ["woods", "TEXT"],
    ["fit", "TEXT"],
    ["fit", "--saw", "TEXT"],
    ["fit", "--picture", "TEXT"],
    ["sweep", "tilt=2..3", "--store", "TEXT/s.sqlite"],
]
TEXTS = ["\x1b[31mred\x07", "a\nb\r", "\u202edeg 5", "x" * 6000, DIGITS, "\x85\u2028", "\udcff"]


@pytest.mark.parametrize("words", OPTIONS, ids=" ".join)
def test_hostile_words_on_the_command_line(
    words: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Control signs, stray bytes and endless numbers in a word end in exit status 2, in printable lines."""
    monkeypatch.chdir(tmp_path)
    for text in TEXTS:
        refused(run(*[word.replace("TEXT", text) for word in words]), "")
    assert list(tmp_path.iterdir()) == []


def test_what_is_shown_of_a_file_obeys_nobody(tmp_path: Path) -> None:
    """Keys, cells and headers with control signs are shown escaped where an answer repeats them."""
    keys = tmp_path / "a\x1b[1m\n.toml"
    keys.write_bytes(hostile_files.BOWL + b'[room]\n"he\\u001b[31mated" = "\\u001b[2J"\n')
    refused(run("seasons", keys, "--indoor", "30 to 60 %"), r"a\x1b[1m\n.toml: room.he\x1b[31mated")
    causes = tmp_path / "c.csv"
    causes.write_text(
        CAUSE + ROW.replace("the kerf was wide", "the \x1b[5mkerf\x85") + ",cure it\n", "utf8"
    )
    listed = run("explain", "--list", "--causes", causes)
    assert listed.exit_code == 0, listed.stderr
    assert r"the \x1b[5mkerf\x85" in listed.stdout
    assert all(line.isprintable() for line in listed.stdout.split("\n"))
    weather = KINDS["weather file"].good.replace(b"Sallow Bridge", b"Sallow\x1b[2J Bridge" + b"x" * 500)
    path = tmp_path / "w.epw"
    path.write_bytes(weather)
    bowl = tmp_path / "b.toml"
    bowl.write_text(hostile_files.SHUT_BOWL, "utf8")
    told = run("seasons", bowl, "--weather", path)
    assert told.exit_code == 0, told.stderr
    assert r"Sallow\x1b[2J Bridge" in told.stdout
    assert all(line.isprintable() for line in told.stdout.split("\n"))


def test_many_problems_are_not_all_told(tmp_path: Path) -> None:
    """A file wrong in a thousand places is answered with some lines and the number of the rest."""
    path = tmp_path / "b.toml"
    path.write_bytes(hostile_files.BOWL + b"[use2]\n" + b"".join(b"[k%d]\n" % i for i in range(1000)))
    result = run("fit", path)
    refused(result, "961 more like these")
    assert len(result.stderr.splitlines()) == 41
