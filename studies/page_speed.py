"""How long from a moved control to the redrawn section, and does the server's memory stay flat?

Question: may a maker drag the tilt and see the bowl follow? Method: a page of its own is served, and one
client asks it in turn for nothing but a file of the page (the empty round trip) and for the closed form of
the demonstration bowl at a tilt not asked for before, so that nothing is remembered. Both are taken in the
same run, one after the other, and the difference of the medians is quoted; beside it how long the server
itself was at work for both, which other work on the machine does not stretch by waiting. Where a browser is
at hand the time from the slider's event to the new section in the document is taken there too. Memory:
what the server holds after 200 and after all changes. The elastic answer is compared with single presses of
the same bowl. Goals: the closed form adds at most 60 ms, the elastic answer at most 10 single presses,
memory flat over 2,000 changes.

Answer (two cores, other work on both): the closed form adds 39 ms to an empty round trip of 1.5 ms, the
quickest twentieth 34 ms; 84 ms from slider to section in a browser; the elastic answer takes 6.5 single
presses; 64.1 MB after 200 changes and 64.7 MB after 2,000. With five jobs on the two cores the same round
trip took 141 ms, of which the server was at work for 58.

Run it with ``python studies/page_speed.py`` (``--changes 300`` for a quick look).
"""

import argparse
import http.client
import json
import os
import shutil
import socket
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from urllib.parse import quote, urlencode

from fitsim.assume import demo_tables, make_bowl
from fitsim.bowl import with_input
from fitsim.judged import elastic_numbers
from fitsim.pagestate import pairs_of_tables

CLOSED_GOAL_ms, ELASTIC_GOAL = 60.0, 10.0

MOVED = """(tilt) => new Promise((done) => {
  const slider = document.querySelector('[data-key="cut.tilt"] [type=range]');
  const drawing = document.querySelector('#drawing');
  const began = performance.now();
  new MutationObserver((_, o) => { o.disconnect(); done(performance.now() - began); })
    .observe(drawing, { childList: true });
  slider.value = tilt;
  slider.dispatchEvent(new Event('input', { bubbles: true }));
})"""


def _address(tilt_deg: float) -> str:
    """The demonstration bowl at another tilt, as the page's address has it. [deg]"""
    kept = [pair for pair in pairs_of_tables(demo_tables()) if pair[0] != "cut.tilt"]
    return urlencode([*kept, ("cut.tilt", f"{tilt_deg:.4f} deg"), ("wide_px", "760")], quote_via=quote)


class _Client:
    """One open connection, as a browser keeps it."""

    def __init__(self, port: int) -> None:
        self.link = http.client.HTTPConnection("127.0.0.1", port, timeout=300)

    def ask(self, path: str) -> tuple[float, bytes]:
        """Time and body of one reply. [ms]"""
        began = time.perf_counter()
        self.link.request("GET", path)
        reply = self.link.getresponse()
        body = reply.read()
        if reply.status != 200:
            raise RuntimeError(f"{path}: {reply.status} {body[:200]!r}")
        return 1e3 * (time.perf_counter() - began), body


def _quick(taken_ms: list[float]) -> float:
    """Time that one in twenty stays under: how it is when nothing else wants the processor. [ms]"""
    return statistics.quantiles(taken_ms, n=20)[0]


def _memory_MB(process_id: int) -> float:
    """Resident memory of one process, where the system tells it (Linux), else nan. [MB]"""
    status = Path(f"/proc/{process_id}/status")
    if not status.exists():
        return float("nan")
    line = next(line for line in status.read_text("ascii").splitlines() if line.startswith("VmRSS"))
    return int(line.split()[1]) / 1024


def _busy_s(process_id: int) -> float:
    """Time a process has been at work itself, whoever else kept the machine busy (Linux), else nan. [s]"""
    status = Path(f"/proc/{process_id}/stat")
    if not status.exists():
        return float("nan")
    user, system = status.read_text("ascii").rpartition(")")[2].split()[11:13]
    return (int(user) + int(system)) / os.sysconf("SC_CLK_TCK")


def _in_browser(port: int, moves: int) -> float:
    """Median time from the slider's event to the new section in a browser; nan without one. [ms]"""
    path = os.environ.get("FITSIM_BROWSER") or shutil.which("chromium") or shutil.which("google-chrome")
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        return float("nan")
    if path is None:
        return float("nan")
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=path, args=["--no-sandbox"])
        page = browser.new_page(viewport={"width": 1280, "height": 900})
        page.goto(f"http://127.0.0.1:{port}/?{_address(5)}&slow=asked")
        page.wait_for_selector("#drawing svg")
        page.wait_for_timeout(500)
        taken = [page.evaluate(MOVED, 4 + 0.1 * i) for i in range(moves)]
        browser.close()
    return statistics.median(taken)


def _elastic(port: int, tell: Callable[[str], None]) -> tuple[float, float]:
    """Time of the page's elastic answer and of one press, one after the other. [s]"""
    tell("elastic answer")
    bowl = make_bowl(demo_tables())
    single = []
    for i in range(2):
        began = time.perf_counter()
        elastic_numbers(with_input(bowl, "cut.tilt_rad", 0.0873 + 0.0005 * i))
        single.append(time.perf_counter() - began)
    taken, body = _Client(port).ask(f"/pressed?{_address(5.01)}")
    if "answer" not in json.loads(body.splitlines()[-1]):
        raise RuntimeError(body[-300:].decode())
    return taken / 1e3, statistics.median(single)


def main(changes: int = 2000, elastic: bool = True) -> dict[str, float]:
    """Serve a page, move its tilt, and return what was measured.

    Parameters
    ----------
    changes : int
        Moves of the tilt, each to a new value.
    elastic : bool
        False to leave out the springy strip.

    Returns
    -------
    dict[str, float]
        Medians in ms, memory in MB, the elastic answer in single presses.
    """
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = int(probe.getsockname()[1])
    command = [sys.executable, "-m", "fitsim", "page", "--no-browser", "--port", str(port)]
    process = subprocess.Popen(command, stderr=subprocess.PIPE)
    try:
        process.stderr.readline()  # type: ignore[union-attr]  # it says where it is once it listens
        client = _Client(port)
        empty, closed, memory = [], [], []
        client.ask(f"/now?{_address(2.9)}")
        busy_s = _busy_s(process.pid)
        for i in range(changes):
            empty.append(client.ask("/page.css")[0])
            closed.append(client.ask(f"/now?{_address(3 + 8 * i / changes)}")[0])
            if i + 1 in (min(200, changes), changes):
                memory.append(_memory_MB(process.pid))
        busy_s = _busy_s(process.pid) - busy_s
        found = {
            "empty round trip, ms": statistics.median(empty),
            "closed form, ms": statistics.median(closed),
            "closed form adds, ms": statistics.median(closed) - statistics.median(empty),
            "the same, quickest twentieth, ms": _quick(closed) - _quick(empty),
            "server at work, ms a change": 1e3 * busy_s / changes,
            "closed form, slowest of 20, ms": statistics.quantiles(closed, n=20)[-1],
            "slider to section in a browser, ms": _in_browser(port, 40),
            "memory after 200 changes, MB": memory[0],
            f"memory after {changes} changes, MB": memory[-1],
        }
        if elastic:
            answer_s, single_s = _elastic(port, lambda line: print(line, file=sys.stderr))
            found["elastic answer, single presses"] = answer_s / single_s
        return found
    finally:
        process.terminate()
        process.wait(10)
        process.stderr.close()  # type: ignore[union-attr]


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--changes", type=int, default=2000)
    parser.add_argument("--no-elastic", dest="elastic", action="store_false")
    for name, value in main(**vars(parser.parse_args())).items():
        print(f"{name:40} {value:8.2f}")
    print(
        f"goals: closed form adds at most {CLOSED_GOAL_ms:g} ms, elastic at most {ELASTIC_GOAL:g} presses"
    )
