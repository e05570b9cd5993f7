"""A store tells what was written into it, or refuses, whatever a disk or another program did to it."""

import random
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from click.testing import CliRunner
from sweep_bowls import asked, rigid_rings

from fitsim.bowl.closed_form import rigid_fit
from fitsim.bowlfile.defaults import read_bowl
from fitsim.cli import main
from fitsim.errors import InputError
from fitsim.sweeps.row_store import Row, header_of, join_stores, open_store
from fitsim.sweeps.run_rows import Question, ask, header_for, run_sweep, sweep_columns
from fitsim.sweeps.varied_quantities import read_varied

QUESTION = asked("tilt=2..14:5", "kerf=0.5,0.9,1.3")


@pytest.fixture
def kept(tmp_path: Path) -> Path:
    """A whole store of fifteen rows."""
    path = tmp_path / "kept.sqlite"
    run_sweep(QUESTION, path)
    return path


def rows_of(path: Path) -> list[Row]:
    """Rows of a store of the question, without working any out."""
    with open_store(path, header_for(QUESTION), sweep_columns(QUESTION)) as store:
        return store.rows()


def outcome(read: Callable[[], list[Row]]) -> list[Row] | None:
    """Rows, or None for a refusal in one line."""
    try:
        return read()
    except InputError as error:
        lines = str(error).splitlines()
    assert len(lines) == 1
    return None


def test_a_flipped_bit_never_gives_a_wrong_table(kept: Path, tmp_path: Path) -> None:
    """Whichever bit of a store is turned over, its rows are the old ones, some of them, or refused."""
    whole, right = kept.read_bytes(), rows_of(kept)
    dice, broken, refused = random.Random(5), tmp_path / "broken.sqlite", 0
    used = [at for at, byte in enumerate(whole) if byte]  # most of a page is empty, and says nothing
    for _ in range(250):
        at = dice.choice(used)
        raw = bytearray(whole)
        raw[at] ^= 1 << dice.randrange(8)
        broken.write_bytes(raw)
        found = outcome(lambda: rows_of(broken))
        refused += found is None
        assert found is None or set(found) <= set(right)
    assert refused > 100


def test_a_store_cut_short_is_refused(kept: Path, tmp_path: Path) -> None:
    """A store cut off anywhere is refused by sweep and by --join; of nothing a new one is made."""
    whole, cut = kept.read_bytes(), tmp_path / "cut.sqlite"
    for length in (1, 15, 100, 511, 4096, 8192, len(whole) - 4096, len(whole) - 1):
        for read in (lambda: rows_of(cut), lambda: [join_stores([cut], tmp_path / "joined.sqlite")]):
            cut.write_bytes(whole[:length])
            assert outcome(read) is None
            assert not (tmp_path / "joined.sqlite").exists()
    cut.write_bytes(b"")
    assert rows_of(cut) == []


EDITS = {
    "a key taken out": "DELETE FROM header WHERE key = 'rows'",
    "all keys taken out": "DELETE FROM header",
    "a value changed": "UPDATE header SET value = '16' WHERE key = 'rows'",
    "a value that is none": "UPDATE header SET value = x'ff00' WHERE key = 'seed'",
    "columns that are none": "UPDATE header SET value = '[[[' WHERE key = 'columns'",
    "no checksum": "DELETE FROM header WHERE key = 'checksum'",
    "another table": "CREATE TABLE hens (name TEXT)",
    "a trigger": "CREATE TRIGGER t AFTER INSERT ON rows BEGIN DELETE FROM rows; END",
    "rows that never end": "DROP TABLE rows; CREATE VIEW rows AS WITH RECURSIVE n(row) AS "
    "(SELECT 0 UNION ALL SELECT row + 1 FROM n) SELECT row FROM n",
    "another column": "ALTER TABLE rows ADD COLUMN colour",
    "a row changed": "UPDATE rows SET overlap = 0.5 WHERE row = 2",
    "a row under another number": "UPDATE rows SET row = 77 WHERE row = 2",
    "a checksum taken away": "UPDATE rows SET checksum = NULL WHERE row = 2",
    "words for a number": "UPDATE rows SET overlap = 'much' WHERE row = 2",
    "a long value": "UPDATE rows SET reason = hex(zeroblob(600000)) WHERE row = 2",
}


@pytest.mark.parametrize("edit", EDITS.values(), ids=EDITS)
def test_an_edited_store_is_refused(kept: Path, tmp_path: Path, edit: str) -> None:
    """Header, tables and rows changed by another program are each refused in one line, in --join too."""
    with closing(sqlite3.connect(kept)) as other:
        other.executescript(edit)
    assert outcome(lambda: rows_of(kept)) is None
    assert outcome(lambda: [join_stores([kept], tmp_path / "joined.sqlite")]) is None
    assert not (tmp_path / "joined.sqlite").exists()


def test_a_row_belongs_to_its_own_question(kept: Path, tmp_path: Path) -> None:
    """A row carried over from the store of another bowl is refused, checksum and all."""
    other = tmp_path / "other.sqlite"
    run_sweep(asked("tilt=2..14:5", "kerf=0.5,0.9,1.2"), other)
    with closing(sqlite3.connect(kept)) as store:
        store.execute("ATTACH ? AS other", (str(other),))
        store.executescript(
            "DELETE FROM rows WHERE row = 2; INSERT INTO rows SELECT * FROM other.rows WHERE row = 2"
        )
    with pytest.raises(InputError, match="row = 2: expected the row as it was written"):
        rows_of(kept)


def test_a_store_of_another_version_says_so(tmp_path: Path) -> None:
    """A store without checksums, as earlier versions wrote them, is named as such."""
    old = tmp_path / "old.sqlite"
    with closing(sqlite3.connect(old)) as store:
        store.executescript(
            "CREATE TABLE header (key TEXT PRIMARY KEY, value TEXT NOT NULL);"
            'CREATE TABLE rows ("row" INTEGER PRIMARY KEY, "state");'
            "INSERT INTO header VALUES ('schema', '2')"
        )
    with pytest.raises(InputError, match="schema = 2: expected 4; it was written by another version"):
        header_of(old)


def test_a_full_disk_is_said_to_be_full(tmp_path: Path) -> None:
    """When no page can be added the answer says that the disk is full, and the rows before it are kept."""
    path, row = tmp_path / "s.sqlite", (6.0, 0.7, "locks", *[None] * 11, "x" * 900)
    with open_store(path, header_for(QUESTION), sweep_columns(QUESTION)) as store:
        store.add([(0, *row)])
        store._connection.execute("PRAGMA max_page_count = 6")
        with pytest.raises(InputError, match="the disk is full: make room on it"):
            store.add((number, *row) for number in range(1, 400))
        assert store.done() == {0}


@pytest.mark.parametrize("words", ["--csv", "--csv --replace"])
def test_the_store_is_no_table(tmp_path: Path, words: str) -> None:
    """The store named again as the table is refused before any work, and keeps its rows."""
    store = tmp_path / "s.csv"
    run_sweep(asked("tilt=2..14:5"), store)
    before = store.read_bytes()
    for name in (str(store), f"{tmp_path}/../{tmp_path.name}/s.csv"):
        option, *more = words.split()
        result = CliRunner().invoke(
            main, ["sweep", "tilt=3..9:4", "--store", str(store), option, name, *more]
        )
        assert result.exit_code == 2
        assert "a name of its own" in result.stderr
        assert store.read_bytes() == before


LEAF = '<svg xmlns="http://www.w3.org/2000/svg" width="240mm" height="200mm" viewBox="0 0 240 200">{}</svg>'
ONE = (
    '<path d="M 10 100 C 10 20 90 10 140 15 C 200 20 225 60 225 95 '
    'C 225 140 180 180 120 178 C 60 176 10 160 10 100 Z"/>'
)
OTHER = ONE.replace("225 140 180 180", "225 140 180 150")


def test_a_store_is_that_of_the_curve_and_not_of_the_drawing_s_name(tmp_path: Path) -> None:
    """Another curve under the same name is another question; the same curve under another name is the same.

    Also where the outline is what is varied.
    """
    for name, drawn in (("leaf.svg", ONE), ("again.svg", ONE), ("other.svg", OTHER)):
        (tmp_path / name).write_text(LEAF.format(drawn), "utf8")
    board = {"wood": "white oak", "thickness": "16 mm"}
    cut = {"tilt": "5.5 deg", "kerf": "0.7 mm", "pitch": "7 mm", "base": "60 mm"}

    def question(name: str) -> Question:
        tables = {"board": {**board, "outline": str(tmp_path / name)}, "cut": cut}
        return ask(tables, [read_varied("tilt=5..6:2")], judge_one=rigid_rings)

    store = tmp_path / "s.db"
    run_sweep(question("leaf.svg"), store)
    held = store.read_bytes()
    run_sweep(question("again.svg"), store)
    assert store.read_bytes() == held
    (tmp_path / "leaf.svg").write_text(LEAF.format(OTHER), "utf8")
    with pytest.raises(InputError, match=r"bowl board\.outline") as refused:
        run_sweep(question("leaf.svg"), store)
    assert "\n" not in str(refused.value)

    tables = {"board": {**board, "outline": str(tmp_path / "leaf.svg")}, "cut": cut}
    name = str(tmp_path / "leaf.svg")
    varied = [read_varied(f"outline={tmp_path / 'again.svg'},{name}")]
    first = header_for(ask(tables, varied, judge_one=rigid_rings))
    (tmp_path / "leaf.svg").write_text(LEAF.format(ONE), "utf8")
    second = header_for(ask(tables, varied, judge_one=rigid_rings))
    assert first["varied board.outline"] != second["varied board.outline"]


def test_two_drawings_of_one_name_are_two_bowls_in_one_run(tmp_path: Path) -> None:
    """What is kept of a bowl from one question to the next goes by its curve: each has its own cut.

    The other drawing is the mirror image, so that every size of it is the same.
    """
    mirrored = f'<g transform="translate(235 0) scale(-1 1)">{ONE}</g>'
    file = tmp_path / "bowl.toml"
    file.write_text(
        '[board]\nthickness = "16 mm"\noutline = "leaf.svg"\n'
        '[cut]\ntilt = "5.5 deg"\nkerf = "0.7 mm"\npitch = "7 mm"\nbase = "60 mm"\n'
    )
    reach = []
    for drawn in (ONE, mirrored, ONE):
        (tmp_path / "leaf.svg").write_text(LEAF.format(drawn), "utf8")
        x, y = rigid_fit(read_bowl(file)).slot.position_mm.T
        reach.append(float(x[y > 30].max() + x[y > 30].min()))
    assert reach[0] == reach[2]
    assert abs(reach[0] - reach[1]) > 1
