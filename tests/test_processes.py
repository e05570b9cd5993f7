"""Worker processes: what they still work on ends with who gave it to them."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from fitsim.processes import worker_pool

STOPPED = """
import os, signal, sys, threading, time
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path
from fitsim import processes


def work_for_ever(begun):
    Path(begun).touch()
    while True:
        time.sleep(0.1)


def stop_here(begun):
    while not Path(begun).exists():
        time.sleep(0.01)
    os.kill(os.getpid(), signal.SIGINT)
    time.sleep(60)


if __name__ == "__main__":
    begun, way = sys.argv[1:]
    calls = [partial(work_for_ever, begun)] * 7
    try:
        if way == "at once":
            processes.worker_count = lambda: 2
            processes.as_completed = lambda _waiting: stop_here(begun)
            processes.at_once(calls)
        pool = processes.worker_pool(2)
        try:
            if way == "while it waits":
                # Nobody waits for this one, as for the first call by which a process is started.
                ProcessPoolExecutor.submit(pool, time.sleep, 3)
                threading.Timer(0.5, os.kill, (os.getpid(), signal.SIGINT)).start()
            elif way == "one by one":
                each = [pool.submit(call) for call in calls]
                each[-1].cancel()
                stop_here(begun)
            else:
                answers = pool.map(work_for_ever, [begun] * 7)
                try:
                    stop_here(begun)
                finally:
                    answers.close()
        finally:
            pool.shutdown(cancel_futures=True)
    except KeyboardInterrupt:
        print("stopped")
"""


@pytest.mark.skipif(os.name == "nt", reason="stops itself by a signal")
@pytest.mark.parametrize("way", ["one by one", "mapped", "at once", "while it waits"])
def test_a_stop_ends_what_is_being_worked_on(way: str, tmp_path: Path) -> None:
    """Stopped by the keyboard while others work, the program ends without waiting, or a word of theirs."""
    script, begun = tmp_path / "run.py", tmp_path / "begun"
    script.write_text(STOPPED, "utf8")
    here = {**os.environ, "PYTHONPATH": str(Path(__file__).parent.parent)}
    run = subprocess.run(
        [sys.executable, str(script), str(begun), way],
        env=here, capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert (run.returncode, run.stdout, run.stderr) == (0, "stopped\n", "")


STARTING = """
import signal, sys, time
from fitsim import processes

if __name__ == "__main__":
    try:
        pool = processes.worker_pool(2)
        print("starting", flush=True)
        try:
            pool.submit(time.sleep, 60).result()
        finally:
            pool.shutdown(cancel_futures=True)
    except KeyboardInterrupt:
        print("stopped")
"""


@pytest.mark.skipif(os.name == "nt", reason="stops a group of processes by a signal")
def test_a_stop_while_others_start_ends_without_a_word_of_theirs(tmp_path: Path) -> None:
    """As a terminal does it: the signal goes to all of the group, also to those that still load."""
    script = tmp_path / "run.py"
    script.write_text(STARTING, "utf8")
    here = {**os.environ, "PYTHONPATH": str(Path(__file__).parent.parent)}
    run = subprocess.Popen(
        [sys.executable, str(script)],
        env=here, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True,
    )  # fmt: skip
    assert run.stdout is not None
    assert run.stdout.readline() == "starting\n"
    time.sleep(0.05)
    os.killpg(run.pid, signal.SIGINT)
    said, trouble = run.communicate(timeout=60)
    assert (run.returncode, said, trouble) == (0, "stopped\n", "")


def test_what_is_finished_is_kept_and_what_nobody_stops_is_waited_for() -> None:
    """Shut down without a word of cancelling, work that still runs is waited for, as of any executor."""
    pool = worker_pool(2)
    first, second = pool.submit(divmod, 17, 5), pool.submit(time.sleep, 0.5)
    pool.shutdown()
    assert first.result() == (3, 2)
    assert second.done()
    done = worker_pool(1)
    answer = done.submit(divmod, 23, 7)
    assert answer.result() == (3, 2)
    done.shutdown(cancel_futures=True)
    assert answer.result() == (3, 2)
