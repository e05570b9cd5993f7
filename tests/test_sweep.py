"""Many bowls in one store: the same table whoever works, however often it is stopped."""

import csv
import math
import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
import tomllib
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor
from contextlib import contextmanager
from fractions import Fraction
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from sweep_bowls import TABLES, asked, rigid_rings, slow_rings

from fitsim.bowl.fit import fit
from fitsim.bowl.inputs import Bowl, with_input
from fitsim.bowl.judgement import Judgement
from fitsim.bowlfile.defaults import make_bowl
from fitsim.cli import main
from fitsim.errors import InputError, NoConvergenceError
from fitsim.processes import worker_pool
from fitsim.progress import CountLine, ProgressLine
from fitsim.report.answer_json import answer_object
from fitsim.sweeps.row_answer import NUMBER_COLUMNS, as_fit, over_ranges, work_out
from fitsim.sweeps.row_store import join_stores, open_store
from fitsim.sweeps.run_rows import Question, Swept, ask, header_for, run_sweep, setting, sweep_columns
from fitsim.sweeps.varied_quantities import bowl_with_keys, read_varied

SMALL = """
name = "Sorrel saucer"
[board]
wood = "black walnut"
thickness = "12 mm"
across = "88 mm"
moisture = "9 %"
[cut]
tilt = "6 deg"
kerf = "0.7 mm"
pitch = "5 mm"
base = "56 mm"
[use]
finish = "none"
friction = "0.4"
press = "150 N"
"""
"""Of three turns and a half, pressed in half a second."""

SMALLER = SMALL.replace("88 mm", "76 mm")
"""Of two turns."""


def table(question: Question, path: Path | None = None, **how: Any) -> list[tuple[Any, ...]]:
    """Rows of a sweep."""
    rows: list[tuple[Any, ...]] = []
    run_sweep(question, path, finish=lambda store: rows.extend(store.rows()), **how)
    return rows


def test_rows_are_the_bowls_they_say() -> None:
    """Drop, overlap and hold of every grid row are the closed forms of its own tilt and kerf."""
    rows = table(asked("tilt=3..9:3", "kerf=0.5,0.8,1.1"))
    assert [row[1:3] for row in rows[:4]] == [(3.0, 0.5), (3.0, 0.8), (3.0, 1.1), (6.0, 0.5)]
    for _, tilt, kerf, _, slot, overlap, hold, _, _, rise, *_, reason in rows:
        drop = kerf / math.sin(math.radians(tilt))  # k/sin(theta), and tan(theta)/mu at the middle, 0.35
        assert overlap == pytest.approx(1 - drop / 18)
        assert slot == pytest.approx(kerf / math.cos(math.radians(tilt)))
        assert hold == pytest.approx(math.tan(math.radians(tilt)) / 0.35)
        slot_share = slot / (2 * 6.5)
        assert reason == ""
        if drop < 18:
            assert rise == pytest.approx((47 / 6.5 - 0.5 - slot_share) * drop)  # M h, M = N - 1/2 - k_h/2p
        else:
            assert rise is None


def test_states_at_the_worst_end() -> None:
    """With ranges a row also tells the unfavourable end: friction 0.2 lets 13 degrees spring back."""
    rows = table(asked("tilt=9,13", ranges=True))
    assert [row[2:4] for row in rows] == [("locks", "locks"), ("locks", "springs back")]


def test_an_end_at_which_a_slot_is_shut_tells_nothing_but_that() -> None:
    """A kerf of 0.18 mm under two films of 0.1 is shut: worst and best are those of the ends pressed."""
    tables: dict[str, Any] = {
        "board": {"wood": "maple, sugar", "thickness": "12 mm", "across": "120 mm"},
        "cut": {"tilt": "9 deg", "kerf": "0.18 to 0.7 mm", "turns": "3.3", "base": "60 mm"},
        "use": {"finish": "varnish", "film": "0.1 mm", "friction": "0.5", "press": "200 N"},
    }
    bowl = make_bowl(tables)
    middle = as_fit(bowl).numbers
    wide = as_fit(with_input(bowl, "cut.kerf_mm", 0.7)).numbers
    ends = over_ranges(bowl, middle, as_fit)
    assert (ends.state, ends.state_at_best) == ("will not open", "locks")
    assert ends.worst.slot_left_mm < 0 < ends.best.slot_left_mm
    assert ends.worst.overlap == pytest.approx(min(middle.overlap, wide.overlap), rel=1e-9)
    assert ends.best.overlap == pytest.approx(max(middle.overlap, wide.overlap), rel=1e-9)
    low, high = sorted((middle.friction_used, wide.friction_used))
    assert ends.best.friction_used == pytest.approx(low, rel=0.05)
    assert ends.worst.friction_used == pytest.approx(high, rel=0.05)
    told = fit(bowl, beyond=False).verdict
    assert (ends.worst, ends.best) == (told.worst, told.best)


def test_cells_without_an_answer_are_rows() -> None:
    """Impossible cuts, values outside the model and solvers that fail become rows with their reason."""
    rows = table(asked("pitch=0.5,6.5,60 mm", judge_one=awkward))
    assert [row[2] for row in rows] == ["outside the model", "locks", "outside the model"]
    assert "a pitch wider than the slot" in rows[0][-1]
    rows = table(asked("press=20,30", judge_one=awkward))
    assert [row[2] for row in rows] == ["not decided", "locks"]
    assert rows[0][-1] == "no equilibrium"
    assert rows[0][3:13] == (None,) * 10


def awkward(bowl: Bowl) -> Judgement:
    """Rigid rings that fail at some presses."""
    if bowl.use.press_N == 20:
        raise NoConvergenceError("no equilibrium")
    return rigid_rings(bowl)


SAMPLED = ("tilt=2..14", "friction=0.15..0.6", "wood=cherry,walnut,white oak", "kerf=0.02..0.05 in")


def test_samples_hang_on_the_seed_alone() -> None:
    """A seed gives its samples again, another seed others; all lie inside their ranges, evenly."""
    first, again, other = (asked(*SAMPLED, samples=64, seed=seed) for seed in (7, 7, 8))
    drawn = [setting(first, row) for row in range(64)]
    assert drawn == [setting(again, row) for row in range(64)]
    assert drawn != [setting(other, row) for row in range(64)]
    tilts = sorted(float(value[0]) for value in drawn)
    # A (t, m, s)-net in base 2 has one point in each of 64 equal boxes of every coordinate (Sobol, 1967).
    assert [int((tilt - 2) / 12 * 64) for tilt in tilts] == list(range(64))
    assert all(Fraction(2, 100) <= value[3] <= Fraction(5, 100) for value in drawn)  # type: ignore[operator]
    assert {value[2] for value in drawn} == {"cherry", "walnut", "white oak"}


@contextmanager
def dask_executor() -> Iterator[Executor]:
    """A real distributed engine on this machine."""
    distributed = pytest.importorskip("distributed")
    cluster = distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=False, dashboard_address=None, protocol="inproc://"
    )
    with cluster, distributed.Client(cluster) as client, client.get_executor(pure=False) as executor:
        yield executor


@pytest.mark.filterwarnings("ignore")  # the engine's own warnings are not ours
@pytest.mark.parametrize(
    "executor",
    [lambda: ThreadPoolExecutor(3), lambda: ProcessPoolExecutor(2), lambda: worker_pool(2), dask_executor],
    ids=["threads", "processes", "worker pool", "distributed"],
)
def test_whoever_works_the_table_is_the_same(executor: Any) -> None:
    """Threads, processes and a distributed engine give the table of a single process, row for row."""
    question = asked(*SAMPLED, samples=40, seed=5)
    with executor() as pool:
        rows = table(question, executor=pool, rows_per_task=3)
    assert rows == table(question)
    assert len(rows) == 40


def test_parts_join_to_the_whole(tmp_path: Path) -> None:
    """Three parts in stores of their own, joined, are the sweep done at once; a missing part is counted."""
    question = asked("tilt=2..14:5", "kerf=0.4..1.6:4")
    parts = [tmp_path / f"{k}.sqlite" for k in (1, 2, 3)]
    for k, path in enumerate(parts, start=1):
        swept = run_sweep(question, path, part=(k, 3))
        assert swept.rows == swept.wanted == [7, 7, 6][k - 1]
    whole = tmp_path / "whole.sqlite"
    assert join_stores(parts[:2], whole)[:2] == (14, 20)
    assert join_stores(parts[2:], whole)[:2] == (20, 20)
    asked_again: list[int] = []
    assert table(question, whole, progress=lambda done, _: asked_again.append(done)) == table(question)
    assert asked_again == [20]  # nothing was left to work out


def test_parts_that_disagree_are_refused(tmp_path: Path) -> None:
    """Stores of different questions, or with unlike answers to one row, do not join."""
    one, two = tmp_path / "1.sqlite", tmp_path / "2.sqlite"
    run_sweep(asked("tilt=2..14:4"), one, part=(1, 2))
    run_sweep(asked("tilt=2..13:4"), two, part=(2, 2))
    with pytest.raises(
        InputError, match=r"varied cut\.tilt = 2 deg\.\.13 deg: 4: expected 2 deg\.\.14 deg"
    ):
        join_stores([one, two], tmp_path / "whole.sqlite")
    question, three = asked("tilt=2..14:4"), tmp_path / "3.sqlite"
    rows = [(*row[:3], 0.5, *row[4:]) if row[0] == 2 else row for row in table(question)]
    with open_store(three, header_for(question), sweep_columns(question)) as store:
        store.add(rows)
    with pytest.raises(InputError, match="row = 2: expected the same answer"):
        join_stores([one, three], tmp_path / "other.sqlite")
    assert not (tmp_path / "other.sqlite").exists()


@pytest.mark.parametrize(
    ("texts", "how", "key"),
    [
        (("tilt=2..15:4",), {}, r"varied cut\.tilt = 2 deg\.\.14 deg: 4"),
        (("tilt=2..14:5",), {}, r"varied cut\.tilt = 2 deg\.\.14 deg: 4"),
        (("tilt=2..14",), {"samples": 4, "seed": 3}, r"seed = 0: expected 3, as asked now"),
        (("tilt=2..14:4",), {"ranges": True}, r"ranges = at the middle: expected at both ends"),
        (("tilt=2..14:4",), {"judge_one": awkward}, r"model = sweep_bowls\.rigid_rings"),
        (("tilt=2..14:4", "kerf=1"), {}, r"varied cut\.kerf = not in the store: expected 1 mm"),
    ],
)
def test_another_question_is_refused(tmp_path: Path, texts: tuple[str, ...], how: Any, key: str) -> None:
    """A store opened with another question says in one line which key differs, and keeps its rows."""
    path = tmp_path / "s.sqlite"
    before = table(asked("tilt=2..14:4"), path)
    with pytest.raises(InputError, match=key) as error:
        run_sweep(asked(*texts, **how), path)
    assert "\n" not in str(error.value)
    assert table(asked("tilt=2..14:4"), path) == before


def test_another_bowl_is_refused(tmp_path: Path) -> None:
    """A store holds its bowl: one value changed in the bowl file is named."""
    path = tmp_path / "s.sqlite"
    run_sweep(asked("tilt=2..14:3"), path)
    changed = {**TABLES, "cut": {**TABLES["cut"], "pitch": "7 mm"}}
    with pytest.raises(InputError, match=r'bowl cut\.pitch = "6\.5 mm": expected "7 mm"'):
        run_sweep(ask(changed, [read_varied("tilt=2..14:3")], judge_one=rigid_rings), path)


def test_a_file_that_is_no_store_is_left_alone(tmp_path: Path) -> None:
    """Neither a text file nor somebody else's database is written to."""
    text, other = tmp_path / "notes.txt", tmp_path / "other.sqlite"
    text.write_text("feed the cat\n" * 50, "utf8")
    with sqlite3.connect(other) as store:
        store.execute("CREATE TABLE hens (name TEXT)")
    store.close()
    for path in (text, other):
        before = path.read_bytes()
        with pytest.raises(InputError, match="expected a store"):
            run_sweep(asked("tilt=2..14:3"), path)
        assert path.read_bytes() == before


def test_a_batch_is_whole_or_not_there(tmp_path: Path) -> None:
    """If one row of a batch cannot be written, none of the batch is."""
    question, path = asked("tilt=2..14:4"), tmp_path / "s.sqlite"
    with open_store(path, header_for(question), sweep_columns(question)) as store:
        with pytest.raises(InputError, match="expected a store"):
            store.add([(0, *[None] * 14), (1, None)])
        assert store.done() == set()
        for state in ("locks", "falls through"):  # a row that is there already stays as it is
            store.add([(2, 6.0, state, *[None] * 12)])
        assert store.rows() == [(2, 6.0, "locks", *[None] * 12)]


SLOW = """
import sys
sys.path.insert(0, {tests!r})
from fitsim.processes import worker_pool
from fitsim.sweeps.run_rows import run_sweep
from sweep_bowls import asked, slow_rings
if __name__ == "__main__":
    question = asked("tilt=2..14:12", "kerf=0.4..1.6:10", judge_one=slow_rings)
    pool = worker_pool(2) if sys.argv[2] == "pool" else None
    run_sweep(question, sys.argv[1], executor=pool, rows_per_task=2)
"""


def rows_in(path: Path) -> int:
    """Rows a store holds; none while it is being made."""
    try:
        connection = sqlite3.connect(path, timeout=5)
        try:
            return int(connection.execute("SELECT count(*) FROM rows").fetchone()[0])
        finally:
            connection.close()
    except sqlite3.OperationalError:
        return 0


def parent_of(number: str) -> int:
    """Parent of a running process, 0 if it has gone."""
    try:
        return int((Path("/proc") / number / "stat").read_text().rpartition(")")[2].split()[1])
    except OSError:
        return 0


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="looks at processes under /proc")
def test_killed_three_times_and_resumed(tmp_path: Path) -> None:
    """Killed at random three times and resumed, a sweep is the uninterrupted one; no worker lives on."""
    path, script = tmp_path / "s.sqlite", tmp_path / "run.py"
    script.write_text(SLOW.format(tests=str(Path(__file__).parent)), "utf8")
    here = {**os.environ, "PYTHONPATH": str(Path(__file__).parent.parent)}
    dice, kept = random.Random(11), [0]
    for who in ("alone", "alone", "pool"):
        run = subprocess.Popen([sys.executable, str(script), str(path), who], env=here)
        while rows_in(path) <= kept[-1] and run.poll() is None:
            time.sleep(0.02)
        time.sleep(dice.uniform(0.0, 0.25))
        names = [entry.name for entry in Path("/proc").iterdir() if entry.name.isdigit()]
        workers = [name for name in names if parent_of(name) == run.pid]
        run.send_signal(signal.SIGKILL)
        assert run.wait() == -signal.SIGKILL
        kept.append(rows_in(path))
        until = time.monotonic() + 10
        while any(parent_of(name) for name in workers) and time.monotonic() < until:
            time.sleep(0.05)
        assert bool(workers) == (who == "pool")
        assert not any(parent_of(name) for name in workers)
    assert 0 < kept[1] < kept[2] < kept[3] < 120
    question = asked("tilt=2..14:12", "kerf=0.4..1.6:10", judge_one=slow_rings)
    plain = asked("tilt=2..14:12", "kerf=0.4..1.6:10")
    finish = table(question, path, executor=None)
    assert finish == table(plain)


def test_varied_quantities_read_as_makers_write() -> None:
    """Units, fractions and lists read as in a bowl file, exactly; bare numbers have the first unit."""
    pitch = read_varied("cut.pitch=1/4..3/8 in:3")
    assert pitch.column == "cut.pitch_in"
    assert [pitch.nth(i, 9) for i in range(3)] == [Fraction(1, 4), Fraction(5, 16), Fraction(3, 8)]
    assert pitch.written(pitch.nth(1, 9)) == "5/16 in"
    assert bowl_with_keys(TABLES, {"cut.pitch": "5/16 in"}).cut.pitch_mm == 7.9375
    assert read_varied("moisture=6..12").column == "board.moisture_percent"
    assert read_varied("press=10..40 lbf").column == "use.press_lbf"
    assert read_varied("feed=100,200").column == "cut.feed_mm_per_min"
    thirds = read_varied("tilt=2..3:4")
    exact = bowl_with_keys(TABLES, {"cut.tilt": thirds.written(thirds.nth(1, 9))}).cut.tilt_rad[0]
    assert exact == pytest.approx(math.radians(7 / 3), rel=1e-15)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("tilt", "expected a quantity and its values; write it like tilt=2..14:25"),
        ("tlt=2..3", "did you mean 'tilt'"),
        ("tilt=3..2", "write the smaller first"),
        ("tilt=3..3", "for one value"),
        ("tilt=2..3:1", "expected 2 to 999999 values"),
        ("tilt=2..14:100000000", "expected 2 to 999999 values"),
        ("tilt=2 mm..3 mm", "'mm' belongs to a length"),
        ("wood=2..3", "expected a list of words"),
        ("wood=chery", "cherry"),
        ("finish=oyl", "did you mean 'oil'"),
        ("tilt=2,2", "leave out the one written twice"),
        ("tilt=2..", "cut.tilt = '2..': expected a range with its two ends; write it like 2..14"),
        ("tilt=..3", "cut.tilt = '..3': expected a range with its two ends; write it like 2..14"),
        ("tilt=2..3..4", "cut.tilt = '2..3..4': expected a range with its two ends"),
        (
            "tilt=3,,4",
            "cut.tilt = '3,,4': expected a value on each side of every comma; write it like 3,4,5",
        ),
        ("tilt=3;4", "cut.tilt = '3;4': expected an angle"),
        ("kerf=0.7..x9", "cut.kerf = 'x9': expected a length"),
        ("kerf=0,5..0,9", "write the decimal with a point"),
        ("pith=10..30", "board.pith: expected a quantity that a verdict rests on; this one cannot be v"),
        ("scatter.kerf=0.1..0.2", "scatter.kerf: expected a quantity that a verdict rests on; this one"),
        ("kerf_length=10,20", "scatter.kerf_length: expected a quantity that a verdict rests on"),
        ("pitsh=5..6", "did you mean 'pitch'"),
        ("grain=flat-sawn,0", "leave out the one written twice"),
        ("tilt=flat-sawn,5", "cut.tilt = 'flat-sawn': expected an angle in degrees"),
    ],
)
def test_slips_in_a_quantity_are_answered(text: str, said: str) -> None:
    """A quantity that cannot be read is answered in one line that says what to write."""
    with pytest.raises(InputError) as error:
        read_varied(text)
    assert said in str(error.value)
    assert "\n" not in str(error.value)


def test_the_words_for_grain_are_its_angles() -> None:
    """Flat, rift and quarter-sawn lie at 0, 45 and 90 deg, in a list and at the ends of a range."""
    sawn = read_varied("grain=quarter-sawn, Flat-sawn ,30")
    assert (sawn.column, sawn.items) == ("board.grain_deg", (90, 0, 30))
    assert read_varied("board.grain=rift-sawn..quarter-sawn:4").ends == (45, 90)
    rings = [
        bowl_with_keys(TABLES, {sawn.key: sawn.written(each)}).board.ring_angle_rad for each in sawn.items
    ]
    assert rings == pytest.approx([math.pi / 2, 0, math.pi / 6])


def test_a_slip_in_the_bowl_file_is_told_with_its_name(tmp_path: Path) -> None:
    """The line that stops a sweep names the file; one about what was typed beside it names none."""
    path, table = tmp_path / "bad.toml", tmp_path / "rows.csv"
    for text, varied, line in (
        (SMALL.replace("0.7 mm", "0,7 mm"), "tilt=3,4", f"fitsim: {path}: cut.kerf = '0,7 mm': expected"),
        (SMALL, "tilt=50,60", "fitsim: cut.tilt = 50 deg: expected 0.1 to 45 deg"),
    ):
        path.write_text(text, "utf8")
        told = CliRunner().invoke(main, ["sweep", str(path), varied, "--csv", str(table)])
        assert (told.exit_code, table.exists()) == (2, False)
        assert told.stderr.startswith(line)
        assert len(told.stderr.splitlines()) == 1


def test_keys_that_say_the_same_give_way() -> None:
    """A varied pitch takes the place of turns, a varied kerf that of the blade's body and set."""
    cut = {"tilt": "5 deg", "turns": "6", "blade_body": "0.5 mm", "blade_set": "0.1 mm", "base": "56 mm"}
    tables = {**TABLES, "cut": cut}
    bowl = bowl_with_keys(tables, {"cut.pitch": "6 mm", "cut.kerf": "0.9 mm"})
    assert (bowl.cut.pitch_mm, bowl.cut.kerf_mm) == (6.0, (0.9,))
    assert cut["turns"] == "6"  # the maker's own tables stay as they are


def test_nothing_to_cut_is_said_at_once() -> None:
    """A bowl file that cannot be cut at all stops the sweep with its own line instead of filling rows."""
    with pytest.raises(InputError, match=r"0\.1 to 45 deg"):
        asked("tilt=50..60:3")
    assert work_out(TABLES, {"cut.tilt": "50 deg"}, judge_one=rigid_rings).state == "outside the model"


def test_progress_tells_the_time_left() -> None:
    """In a log lines come now and then, with the time left at the pace of this run."""
    at, out = [0.0], StringIO()
    line = ProgressLine("rows", out, clock=lambda: at[0])
    line(100, 400)  # 100 rows stood in the store before this run
    for seconds, done in ((20, 150), (21, 152), (40, 200), (90, 400)):
        at[0] = seconds
        line(done, 400)
    assert out.getvalue().splitlines() == [
        "100 of 400 rows, 25 %",
        "150 of 400 rows, 38 %, 2 min left",  # 250 rows at 2.5 a second: 100 s
        "200 of 400 rows, 50 %, 80 s left",
        "400 of 400 rows, 100 %",
    ]


def test_an_end_is_told_once() -> None:
    """Asked for more after the end it goes on; told the same end again it says nothing."""
    out = StringIO()
    line = ProgressLine("rows", out, clock=lambda: 0.0)
    for done, wanted in ((3, 3), (3, 3), (3, 5), (5, 5), (5, 5)):
        line(done, wanted)
    assert out.getvalue().splitlines() == ["3 of 3 rows, 100 %", "5 of 5 rows, 100 %"]


def test_a_count_tells_the_time_taken() -> None:
    """Where nobody knows how many it will be, a line tells how many are done, and since when."""
    at, out = [0.0], StringIO()
    line = CountLine("places pressed", out, clock=lambda: at[0])
    for seconds, done in ((1, 3), (20, 41), (25, 50), (130, 88)):
        at[0] = seconds
        line(done)
    line.end()
    single = StringIO()
    one = CountLine("places pressed", single, clock=lambda: at[0], one="place pressed")
    at[0] = 160
    one(1)
    assert single.getvalue() == "1 place pressed, 30 s so far\n"
    assert out.getvalue().splitlines() == [
        "41 places pressed, 20 s so far",
        "88 places pressed, 2 min so far",
    ]


def command(*words: str) -> Any:
    """One command in this process."""
    return CliRunner().invoke(main, list(words))


def test_the_command_goes_on_and_writes_the_table(tmp_path: Path) -> None:
    """The command keeps rows in a store, and they are what ``fit`` says of each bowl."""
    file, store, out = tmp_path / "f.toml", tmp_path / "s.sqlite", tmp_path / "t.csv"
    file.write_text(SMALLER, "utf8")
    words = ("sweep", str(file), "tilt=1.5,7", "wood=cherry,white oak", "--store", str(store))
    result = command(*words, "--csv", str(out), "--processes", "1")
    assert result.exit_code == 0, result.stderr
    assert "4 of 4 rows" in result.stdout
    assert "every other range at its middle" in result.stdout
    rows = list(csv.DictReader(StringIO(out.read_text("utf8"))))
    assert list(rows[0])[:3] == ["row", "cut.tilt_deg", "board.wood"]
    assert [row["state"] for row in rows[:2]] == ["falls through", "falls through"]
    assert rows[0]["rise_at_rest_mm"] == ""
    assert rows[0]["press_needed_over_frictions_N"] == "inf"
    _is_what_fit_says(rows[3], {"tilt": "7 deg"}, "white oak")
    again = command(*words, "--csv", str(out))
    assert again.exit_code == 2
    assert "add --replace" in again.stderr
    other = command(*words[:2], "tilt=1.5,8", "wood=cherry,white oak", "--store", str(store))
    assert other.exit_code == 2
    assert "varied cut.tilt = 1.5 deg, 7 deg: 2" in other.stderr


def _is_what_fit_says(row: dict[str, str], cut: dict[str, str], wood: str) -> None:
    """Every number of a row is that of ``fit`` for the same bowl, to the last bit."""
    tables = tomllib.loads(SMALLER)
    tables["cut"].update(cut)
    tables["board"]["wood"] = wood
    said = answer_object(fit(make_bowl(tables), beyond=False))
    assert row["state"] == said["verdict_in_middle"]
    for column in NUMBER_COLUMNS[2:]:  # named as in the answer
        assert float(row[column]) == said[column], column
    assert float(row["slot_left_mm"]) == said["margins"]["will_not_open"]["value"]
    assert float(row["overlap"]) == said["margins"]["falls_through"]["value"]


def test_parts_on_the_command_line(tmp_path: Path) -> None:
    """--part and --join make the table that one run makes, by one process or two."""
    file = tmp_path / "f.toml"
    file.write_text(SMALLER, "utf8")
    stores = [str(tmp_path / f"{k}.sqlite") for k in (1, 2)]
    for k, store in enumerate(stores, start=1):
        command(
            "sweep", str(file), "tilt=1.5,3,7", "--store", store, "--part", f"{k}/2", "--processes", "1"
        )
    joined, whole = tmp_path / "joined.csv", tmp_path / "whole.csv"
    result = command(
        "sweep", "--join", *stores, "--store", str(tmp_path / "all.sqlite"), "--csv", str(joined)
    )
    assert result.exit_code == 0, result.stderr
    command("sweep", str(file), "tilt=1.5,3,7", "--csv", str(whole), "--processes", "2")
    assert joined.read_bytes() == whole.read_bytes()


@pytest.mark.skipif(os.name != "posix", reason="sends an interrupt as a terminal does")
def test_stopped_from_the_keyboard_and_resumed(tmp_path: Path) -> None:
    """Ctrl+C ends in one line that says the rows are kept; the same command then goes on from them."""
    file, store, out = tmp_path / "f.toml", tmp_path / "s.sqlite", tmp_path / "t.csv"
    file.write_text(SMALL, "utf8")
    words = ["sweep", str(file), "tilt=1..3.2:12", "--store", str(store), "--processes", "2"]
    run = subprocess.Popen(
        [sys.executable, "-m", "fitsim", *words], start_new_session=True, stderr=subprocess.PIPE, text=True
    )
    while rows_in(store) < 1 and run.poll() is None:
        time.sleep(0.02)
    os.killpg(run.pid, signal.SIGINT)  # as a terminal does: the whole group
    _, said = run.communicate(timeout=60)
    assert run.returncode == 130
    last = f"stopped: rows so far are kept in {store}; the same command goes on"
    assert said.strip().splitlines()[-1] == last
    assert "Traceback" not in said
    kept = rows_in(store)
    assert 0 < kept < 12
    result = command(*words[:-2], "--csv", str(out), "--processes", "1")
    assert result.exit_code == 0, result.stderr
    assert "12 of 12 rows" in result.stdout
    question = ask(tomllib.loads(SMALL), [read_varied("tilt=1..3.2:12")])
    assert len(table(question, store)) == 12  # nothing left to work out: it is answered at once


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("tilt=2..3",), "add --csv table.csv, or --store"),
        (("tilt=2..3", "--part", "4/3", "--csv", "t.csv"), "write it like 3/8"),
        (("tilt=2..3", "tilt=4..5", "--csv", "t.csv"), "every quantity once"),
        (
            ("turns=2,3", "pitch=6,7", "--csv", "t.csv"),
            "cut.pitch: expected another quantity than cut.turns",
        ),
        (("nowhere.toml", "tilt=2..3", "--csv", "t.csv"), "none of that name"),
        (("tilt=2..3", "--csv", "t.txt"), "a name ending in .csv"),
        (("tilt=2..3:4", "--samples", "8", "--csv", "t.csv"), "leave the count out, or the samples"),
    ],
)
def test_slips_on_the_command_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...], said: str
) -> None:
    """A slip is answered in one line with exit status 2, and nothing is written."""
    monkeypatch.chdir(tmp_path)
    result = command("sweep", *words)
    assert result.exit_code == 2
    assert said in result.stderr
    assert list(tmp_path.iterdir()) == []


def test_counts_of_states() -> None:
    """The summary counts the rows of every state."""
    swept = run_sweep(asked("tilt=1,5,6,40"), None)
    assert swept == Swept(4, 4, (("locks", 2), ("falls through", 1), ("springs back", 1)))
