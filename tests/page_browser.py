"""A page of its own and a headless browser for the tests that drive it."""

import os
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).parent.parent
BROWSERS = (
    "chromium-headless-shell",
    "chromium",
    "chromium-browser",
    "google-chrome",
    "google-chrome-stable",
    "chrome",
)
"""In this order: the first has no window to draw and takes half the processor time."""


def browser_path() -> str | None:
    """Where a browser is that the driver can use, or None; FITSIM_BROWSER names another."""
    named = os.environ.get("FITSIM_BROWSER")
    return named or next((found for name in BROWSERS if (found := shutil.which(name))), None)


def free_port() -> int:
    """A port nobody listens on just now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def served(*more: str) -> Iterator[tuple[str, subprocess.Popen[str]]]:
    """``fitsim page`` as a process of its own: its address and the process."""
    port = free_port()
    command = [sys.executable, "-m", "fitsim", "page", "--no-browser", "--port", str(port), *more]
    process = subprocess.Popen(
        command, cwd=ROOT, text=True, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE,
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
    )  # fmt: skip
    try:
        _wait_for(port, process)
        yield f"http://127.0.0.1:{port}", process
    finally:
        process.terminate()
        try:
            process.communicate(timeout=10)
        except subprocess.TimeoutExpired:
            process.kill()
            process.communicate()


def _wait_for(port: int, process: subprocess.Popen[str]) -> None:
    for _ in range(200):
        if process.poll() is not None:
            raise RuntimeError(f"the page did not start: {process.communicate()[1]}")
        with socket.socket() as probe:
            probe.settimeout(0.2)
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.1)
    raise RuntimeError("the page did not start in 20 s")
