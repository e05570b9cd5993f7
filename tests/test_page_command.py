"""What ``fitsim page`` binds to and says, and the workers behind its slow questions."""

import asyncio
import importlib
import os
import socket
import sys
import time
import urllib.error
import urllib.request
from collections.abc import AsyncIterator, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlencode

import pytest
from click.testing import CliRunner
from page_browser import free_port, served

import fitsim
from fitsim.assume import demo_tables
from fitsim.cli import main
from fitsim.pagecommand import WORKSHOP_WARNING, own_addresses
from fitsim.pagestate import pairs_of_tables
from fitsim.pagework import Workers

DEMO = pairs_of_tables(demo_tables())


def test_a_taken_port_is_answered_in_one_line() -> None:
    """A second page on the same port is refused before it opens anything."""
    with socket.socket() as holder:
        holder.bind(("127.0.0.1", 0))
        holder.listen()
        port = holder.getsockname()[1]
        run = CliRunner().invoke(main, ["page", "--no-browser", "--port", str(port)])
    assert run.exit_code == 2
    assert run.stderr.startswith(f"fitsim: --port = {port}: expected a port that is free")


def test_a_file_that_is_no_bowl_file_is_answered(tmp_path: Path) -> None:
    """What cannot be opened at all is told before a page is served."""
    path = tmp_path / "bowl.toml"
    path.write_text("thickness = 18 mm", "utf8")
    run = CliRunner().invoke(main, ["page", str(path), "--no-browser", "--port", str(free_port())])
    assert run.exit_code == 2
    assert "expected a TOML file" in run.stderr


def test_the_page_opens_with_the_file_and_leaves_it_alone(tmp_path: Path) -> None:
    """The bowl of the file stands in the address; the file and its folder stay as they were."""
    path = tmp_path / "mine.toml"
    text = '# mine\n[board]\nthickness = "17 mm"\nacross = "160 mm"\n[cut]\ntilt = "7 deg"\n'
    path.write_text(text, "utf8")
    with served(str(path)) as (base, process):
        page = urllib.request.urlopen(base)
        assert page.url.endswith("/?board.thickness=17%20mm&board.across=160%20mm&cut.tilt=7%20deg")
        page.close()
        process.terminate()
        said = process.communicate(timeout=20)[1]
    assert base in said
    assert path.read_text("utf8") == text
    assert [p.name for p in tmp_path.iterdir()] == ["mine.toml"]


@pytest.mark.skipif(not own_addresses(), reason="this machine has no address on a network")
@pytest.mark.parametrize("workshop", [False, True])
def test_other_machines_get_in_only_when_asked_for(workshop: bool) -> None:
    """The network's address answers with --workshop and its warning; without, nobody listens there."""
    with served(*(["--workshop"] if workshop else [])) as (base, process):
        port = int(base.rpartition(":")[2])
        try:
            with urllib.request.urlopen(f"http://{own_addresses()[0]}:{port}/page.css", timeout=5) as reply:
                got_in = reply.status == 200
        except urllib.error.URLError:
            got_in = False
        process.terminate()
        said = process.communicate(timeout=20)[1]
    assert got_in is workshop
    assert (WORKSHOP_WARNING in said) is workshop


def test_without_its_extra_packages_the_page_says_how_to_get_them(monkeypatch: pytest.MonkeyPatch) -> None:
    """A missing package is answered with the line that installs it; other commands do not need it."""
    monkeypatch.setitem(sys.modules, "uvicorn", None)
    monkeypatch.delitem(sys.modules, "fitsim.pagecommand")
    monkeypatch.delattr(fitsim, "pagecommand")
    run = CliRunner().invoke(main, ["page", "--no-browser"])
    assert run.exit_code == 2
    assert "pip install 'fitsim[page]'" in run.stderr


@pytest.mark.parametrize(
    "raw",
    [b"GARBAGE\r\n\r\n", b"GET /now HTTP/1.1\r\n\r\n", b"GET / HTTP/1.1\r\nHost: a\r\nHost: b\r\n\r\n",
     b"GET / HTTP/1.1\r\nHost: x\r\nX: " + b"a" * 100_000 + b"\r\n\r\n",
     b"POST /open/bowl HTTP/1.1\r\nHost: x\r\nContent-Length: many\r\n\r\n"],
)  # fmt: skip
def test_what_is_no_request_is_refused(page_address: str, raw: bytes) -> None:
    """Bytes that are no well-formed request, or name no host, get a 4xx and the server goes on."""
    port = int(page_address.rpartition(":")[2])
    with socket.create_connection(("127.0.0.1", port), timeout=10) as link:
        link.sendall(raw)
        reply = link.recv(4000)
    assert reply.startswith(b"HTTP/1.1 4")
    with urllib.request.urlopen(f"{page_address}/page.css", timeout=10) as words:
        assert words.status == 200


@pytest.fixture(scope="module")
def page_address() -> Iterator[str]:
    """A page served for these tests."""
    with served() as (base, _):
        yield base


KEPT_WHOLE = {"read_table", "woods", "variability", "splitting", "causes", "film_mm_per_h"}
"""Remembered without limit, because they hang on packaged tables alone."""


def test_nothing_remembered_grows_without_end() -> None:
    """A server runs for days: what is remembered of bowls has a limit, so that memory stays flat."""
    endless = set()
    for name in fitsim.CHAIN:
        for thing in vars(importlib.import_module(f"fitsim.{name}")).values():
            if hasattr(thing, "cache_parameters") and thing.cache_parameters()["maxsize"] is None:
                endless.add(thing.__name__)
    assert endless <= KEPT_WHOLE


async def _gather(news: AsyncIterator[dict[str, Any]]) -> list[dict[str, Any]]:
    return [part async for part in news]


def test_a_question_given_up_ends_its_process() -> None:
    """Closing a question in the middle ends its process; the next question is answered by another."""

    async def give_up() -> tuple[bool, list[dict[str, Any]]]:
        workers = Workers(most=1)
        news = workers.ask("pressed", DEMO)
        assert "told" in await anext(news)
        (busy,) = workers.busy
        await news.aclose()
        again = await _gather(workers.ask("sheets", [("cut.tilt", "6")]))
        workers.end()
        return busy.is_alive(), again

    alive, again = asyncio.run(give_up())
    assert not alive
    assert {p["key"] for p in again[-1]["problems"]} == {"board.thickness", "board.across", "cut.tilt"}


def _children(process_id: int) -> set[str]:
    """Process numbers of the worker processes, whichever thread started them."""
    tasks = Path(f"/proc/{process_id}/task").iterdir()
    every = {child for task in tasks for child in (task / "children").read_text("ascii").split()}
    return {child for child in every if "spawn_main" in Path(f"/proc/{child}/cmdline").read_text()}


@pytest.mark.skipif(
    not Path(f"/proc/self/task/{os.getpid()}/children").exists(),
    reason="this system does not list children",
)
def test_hanging_up_ends_the_process_at_work() -> None:
    """When the asking window is gone its process is ended, and others wait for the next question."""
    with served() as (base, process):
        port = int(base.rpartition(":")[2])
        with socket.create_connection(("127.0.0.1", port), timeout=60) as link:
            address = urlencode(DEMO, quote_via=quote)
            link.sendall(f"GET /pressed?{address} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n".encode())
            received = b""
            while b"pressing the strip open" not in received:
                received += link.recv(4000)
            at_work = _children(process.pid)
        assert at_work
        until = time.monotonic() + 10
        while at_work <= _children(process.pid):
            assert time.monotonic() < until, "it went on working for nobody"
            time.sleep(0.05)


def test_more_questions_than_workers_wait_and_say_so() -> None:
    """With one worker the second question is told that it waits, and both are answered."""

    async def two() -> list[list[dict[str, Any]]]:
        workers = Workers(most=1)
        bad = [("cut.tilt", "6")]
        found = await asyncio.gather(*(_gather(workers.ask("map", bad)) for _ in range(2)))
        workers.end()
        return found

    first, second = asyncio.run(two())
    assert [next(iter(part)) for part in first] == ["problems"]
    assert second[0]["told"].startswith("waiting")
    assert "problems" in second[-1]


def test_a_lost_process_is_told() -> None:
    """If a process dies at work, its question says that it failed, and the next one is answered."""

    async def lose() -> tuple[dict[str, Any], dict[str, Any]]:
        workers = Workers(most=1)
        news = workers.ask("pressed", DEMO)
        assert "told" in await anext(news)
        workers.busy[0].kill()
        last = [part async for part in news][-1]
        after = (await _gather(workers.ask("map", [("cut.tilt", "6")])))[-1]
        workers.end()
        return last, after

    last, after = asyncio.run(lose())
    assert "ended unexpectedly" in last["failed"]
    assert "problems" in after
