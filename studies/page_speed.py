"""How long from a moved control to the redrawn section, and does the server's memory stay flat?

Question: may a maker drag the tilt and see the section follow, turn the bowl in space at 30 pictures a
second, and have the verdict within a second of letting go? Method: a page of its own is served, and one
client asks it in turn for nothing but a file of the page (the empty round trip) and for what follows from
the fields of the demonstration bowl (nine turns) at a tilt not asked for before, so that nothing is
remembered. Both are taken in the same run, one after the other, and the difference of the medians is
quoted; beside it how long the server itself was at work for both, which other work on the machine does
not stretch by waiting. Where a browser is at hand: the time from the slider's event to the new section in
the document, and how long one picture of the bowl in space takes to draw while it is turned. Memory: what
the server holds after 200 and after all changes. The verdict: time to its first part (everything known as
a range at its middle) and to the whole, in seconds and in single presses of the same bowl taken in the
same run. Goals: the section adds at most 60 ms, a picture takes at most 33 ms, the first verdict a
second, memory flat over 2,000 changes.

Answer (a busy machine of two cores): the section adds 19 ms to an empty round trip of 4, the
quickest twentieth 12, for 6 of which the server is at work; 41 ms from slider to section in a browser,
2.6 for a picture in space. With thirteen jobs on the two cores the first part of the verdict came after
7.4 s and the whole after 19, which is 3.5 single presses: about a second and three on a machine of one's
own. 84 MB after 200 changes. With the press compiled, on two quiet cores: the section adds 5 ms, 28 ms from
slider to section, first part of the verdict 0.9 s, the whole 2.8, 167 MB.

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

from fitsim.bowl.inputs import with_input
from fitsim.bowl.judgement import elastic_numbers
from fitsim.bowlfile.defaults import demo_tables, make_bowl
from fitsim.page.state import pairs_of_tables

SECTION_GOAL_ms, PICTURE_GOAL_ms, VERDICT_GOAL_s = 60.0, 33.0, 1.0

MOVED = """(tilt) => new Promise((done) => {
  const slider = document.querySelector('[data-key="cut.tilt"] [type=range]');
  const drawing = document.querySelector('#drawing');
  const began = performance.now();
  new MutationObserver((_, o) => { o.disconnect(); done(performance.now() - began); })
    .observe(drawing, { childList: true });
  slider.value = tilt;
  slider.dispatchEvent(new Event('input', { bubbles: true }));
})"""

TURNED = """(moves) => new Promise((done) => {
  const taken = [];
  const turn = () => {
    space.turn(0.05, 0.01);
    requestAnimationFrame(() => {
      taken.push(space.spent_ms);
      if (taken.length < moves) turn(); else done(taken);
    });
  };
  turn();
})"""


def _address(tilt_deg: float) -> str:
    """The demonstration bowl at another tilt, as the page's address has it. [deg]"""
    kept = [pair for pair in pairs_of_tables(demo_tables()) if pair[0] != "cut.tilt"]
    return urlencode([*kept, ("cut.tilt", f"{tilt_deg:.4f} deg")], quote_via=quote)


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


def _in_browser(port: int, moves: int) -> tuple[float, float]:
    """Median time from the slider's event to the new section, and of one picture in space. [ms]"""
    path = os.environ.get("FITSIM_BROWSER") or shutil.which("chromium") or shutil.which("google-chrome")
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        return float("nan"), float("nan")
    if path is None:
        return float("nan"), float("nan")
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=path, args=["--no-sandbox"])
        page = browser.new_page(viewport={"width": 1280, "height": 900})
        page.goto(f"http://127.0.0.1:{port}/?{_address(5)}")
        page.wait_for_selector("#drawing svg")
        while not page.evaluate("space.bowl !== null"):
            page.wait_for_timeout(200)
        page.uncheck("#by-itself")
        turned = page.evaluate(TURNED, moves)
        taken = [page.evaluate(MOVED, 4 + 0.1 * i) for i in range(moves)]
        browser.close()
    return statistics.median(taken), statistics.median(turned)


def _verdict(port: int, progress: Callable[[str], None]) -> tuple[float, float, float]:
    """Time to the verdict's first part and to the whole, and of one press, one after the other. [s]"""
    progress("the verdict on the strip")
    bowl = make_bowl(demo_tables())
    single = []
    for i in range(2):
        began = time.perf_counter()
        elastic_numbers(with_input(bowl, "cut.tilt_rad", 0.0873 + 0.0005 * i))
        single.append(time.perf_counter() - began)
    link = http.client.HTTPConnection("127.0.0.1", port, timeout=300)
    began = time.perf_counter()
    link.request("GET", f"/verdict?{_address(5.01)}")
    reply, first, news = link.getresponse(), float("nan"), {}
    while line := reply.readline():
        news = json.loads(line)
        if "middle" in news.get("part", {}):
            first = time.perf_counter() - began
    if "answer" not in news:
        raise RuntimeError(str(news)[-300:])
    return first, time.perf_counter() - began, statistics.median(single)


def main(changes: int = 2000, elastic: bool = True) -> dict[str, float]:
    """Serve a page, move its tilt, and return what was measured.

    Parameters
    ----------
    changes : int
        Moves of the tilt, each to a new value.
    elastic : bool
        False to leave out the verdict on the strip.

    Returns
    -------
    dict[str, float]
        Medians in ms, memory in MB, the verdict in s and in single presses.
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
        moved, turned = _in_browser(port, 40)
        found = {
            "empty round trip, ms": statistics.median(empty),
            "section and fields, ms": statistics.median(closed),
            "they add, ms": statistics.median(closed) - statistics.median(empty),
            "the same, quickest twentieth, ms": _quick(closed) - _quick(empty),
            "server at work, ms a change": 1e3 * busy_s / changes,
            "the slowest of 20, ms": statistics.quantiles(closed, n=20)[-1],
            "slider to section in a browser, ms": moved,
            "one picture of the bowl in space, ms": turned,
            "memory after 200 changes, MB": memory[0],
            f"memory after {changes} changes, MB": memory[-1],
        }
        if elastic:
            first_s, whole_s, single_s = _verdict(port, lambda line: print(line, file=sys.stderr))
            found["verdict, first part, s"] = first_s
            found["verdict, whole, s"] = whole_s
            found["verdict, whole, single presses"] = whole_s / single_s
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
        f"goals: section {SECTION_GOAL_ms:g} ms, picture {PICTURE_GOAL_ms:g} ms, "
        f"first verdict {VERDICT_GOAL_s:g} s"
    )
