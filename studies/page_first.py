"""How long from ``fitsim page`` to the first verdict, and where that time goes apart from the press?

Question: what does a maker wait for, beside the press of the strip, between starting the page and reading
its first verdict? Method: the page is served as a process of its own, opened in a browser as soon as it
listens, and what the browser asked and got is written down with its time; beside it one press of the same
bowl in a fresh process, its imports apart. All in one run, several times; medians are printed. Times are
those of a clock, so other work on the machine is in them: read them as shares of each other.

Answer (two cores, four to five others at work on them, one start each, twice): of the 9.8 and 8.3 s between
opening the page and the first part of its verdict the press took 3. The rest were three workers starting at
once on two processors (1.6 s of imports each), the server loading what draws (0.7 s of its processor, for
the place of its letters), and the wait for the controls to rest. With one worker started with the server,
which opens the bowl meanwhile, the others later, and the verdict asked for at once: 5.4 and 6.3 s, the
section after 0.9 s in place of 1.6 and 2.1. A browser that has to start itself hides more of it: here it
was there before. What is left beside the press: a second of imports before the server listens, half of it
numpy and scipy, and again in the worker beside it.

Run it with ``python studies/page_first.py`` (``--times 5``); a browser is needed.
"""

import argparse
import http.client
import os
import shutil
import socket
import statistics
import subprocess
import sys
import time

PRESS = """
import time
a = time.perf_counter()
from fitsim.page.jobs import open_bowl
from fitsim.bowlfile.defaults import demo_tables, make_bowl
b = time.perf_counter()
open_bowl(make_bowl(demo_tables()), lowering=False)
print(b - a, time.perf_counter() - b)
"""

WATCH = """() => {
  window.seen = {};
  const part = jobs.get("verdict").part.bind(jobs.get("verdict"));
  const mark = (name) => { seen[name] ??= performance.now() / 1000; };
  jobs.get("verdict").part = (found, ...more) => {
    for (const name of Object.keys(found)) mark(name);
    part(found, ...more);
  };
  const whole = showWhole;
  showWhole = (...all) => { whole(...all); mark("whole"); };
}"""

ASKED = """() => Object.fromEntries(performance.getEntriesByType("resource").map((r) =>
  [new URL(r.name).pathname.slice(1), [r.startTime / 1000, r.responseStart / 1000]]))"""


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _once(driver: object, browser_path: str) -> dict[str, float]:
    """One start of the page, to its whole verdict. [s]"""
    port, began = _free_port(), time.perf_counter()
    command = [sys.executable, "-m", "fitsim", "page", "--no-browser", "--port", str(port)]
    process = subprocess.Popen(
        command, stderr=subprocess.DEVNULL, env={**os.environ, "OPENBLAS_NUM_THREADS": "1"}
    )
    try:
        browser = driver.chromium.launch(executable_path=browser_path, args=["--no-sandbox"])  # type: ignore[attr-defined]
        page = browser.new_page(viewport={"width": 1280, "height": 900})
        while True:
            with socket.socket() as probe:
                if probe.connect_ex(("127.0.0.1", port)) == 0:
                    break
            time.sleep(0.01)
        listens = time.perf_counter() - began
        link = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
        link.request("GET", "/page.css")
        link.getresponse().read()
        serves = time.perf_counter() - began
        page.add_init_script(f"addEventListener('DOMContentLoaded', {WATCH})")
        opened = time.perf_counter() - began
        page.goto(f"http://127.0.0.1:{port}/")
        while not page.evaluate("window.seen?.whole"):
            page.wait_for_timeout(50)
        seen, asked = page.evaluate("seen"), page.evaluate(ASKED)
        browser.close()
    finally:
        process.terminate()
        process.wait(20)
    return {
        "the port is taken": listens,
        "the server answers": serves,
        "the browser asks for the page": opened,
        "after that: the words for the fields are there": asked["words"][1],
        "after that: the verdict is asked for": asked["verdict"][0],
        "after that: the section is there": asked["now"][1],
        "after that: the verdict's first part is there": seen["middle"],
        "after that: the bowl in space is there": seen["space"],
        "after that: the whole verdict is there": seen["whole"],
    }


def main(times: int = 3) -> dict[str, float]:
    """Start the page several times and press its bowl beside it.

    Parameters
    ----------
    times : int
        How often.

    Returns
    -------
    dict[str, float]
        Medians in s.
    """
    from playwright.sync_api import sync_playwright

    path = os.environ.get("FITSIM_BROWSER") or shutil.which("chromium") or shutil.which("google-chrome")
    if path is None:
        raise SystemExit("no browser here; name one in FITSIM_BROWSER")
    runs: list[dict[str, float]] = []
    with sync_playwright() as driver:
        for _ in range(times):
            found = _once(driver, path)
            done = subprocess.run([sys.executable, "-c", PRESS], capture_output=True, text=True, check=True)
            imports, press = map(float, done.stdout.split())
            runs.append(
                {**found, "a fresh process: its imports": imports, "a fresh process: one press": press}
            )
    return {name: statistics.median(run[name] for run in runs) for name in runs[0]}


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--times", type=int, default=3)
    for name, value in main(**vars(parser.parse_args())).items():
        print(f"{name:50} {value:6.2f} s")
