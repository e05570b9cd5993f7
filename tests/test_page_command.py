"""What ``fitsim page`` binds to and says, and the workers behind its slow questions."""

import asyncio
import importlib
import multiprocessing
import os
import socket
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
from collections.abc import AsyncIterator, Iterator
from contextlib import contextmanager
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlencode

import pytest
import uvicorn
from click.testing import CliRunner
from package_order import modules
from page_browser import free_port, served

from fitsim.bowlfile.defaults import demo_tables
from fitsim.cli import main
from fitsim.page.open_page import WORKSHOP_WARNING, _Patient, own_addresses
from fitsim.page.server import page_app
from fitsim.page.state import pairs_of_tables
from fitsim.page.workers import Workers, _Worker
from fitsim.saw.learned import Learned
from fitsim.saw.learned_file import learned_text
from fitsim.saw.slide_test import Friction

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


BOWL = '# mine\n[board]\nthickness = "17 mm"\nacross = "160 mm"\n[cut]\ntilt = "7 deg"\n'
OPENED = "/?board.thickness=17%20mm&board.across=160%20mm&cut.tilt=7%20deg"
"""A bowl file, and the address at which its page opens."""


@pytest.fixture(scope="module")
def page_of_a_file(
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[tuple[str, subprocess.Popen[str], Path]]:
    """A page of a bowl file, served for several tests: its address, its process and the file."""
    path = tmp_path_factory.mktemp("bowls") / "mine.toml"
    path.write_text(BOWL, "utf8")
    with served(str(path)) as (base, process):
        yield base, process, path


@pytest.fixture
def page_address(page_of_a_file: tuple[str, subprocess.Popen[str], Path]) -> str:
    """Its address."""
    return page_of_a_file[0]


def test_the_page_opens_with_the_file_and_leaves_it_alone(
    page_of_a_file: tuple[str, subprocess.Popen[str], Path],
) -> None:
    """The bowl of the file stands in the address; the file and its folder stay as they were."""
    base, _, path = page_of_a_file
    with urllib.request.urlopen(base) as page:
        assert page.url == base + OPENED
    assert path.read_text("utf8") == BOWL
    assert [p.name for p in path.parent.iterdir()] == ["mine.toml"]


def test_the_page_opens_with_what_was_learned(tmp_path: Path) -> None:
    """A file of what tests taught stands in the address behind the bowl; a bad one is answered at once."""
    bowl, kept = tmp_path / "mine.toml", tmp_path / "kept.toml"
    bowl.write_text(BOWL, "utf8")
    learned = Learned(frictions=(Friction("Shed", "", "oil", "", 0.37, 0.33, 0.42, 6),))
    kept.write_text(learned_text(learned, name="Shed"), "utf8")
    before = kept.read_bytes()
    with served(str(bowl), "--learned", str(kept)) as (base, process):
        page = urllib.request.urlopen(base)
        assert page.url.startswith(base + OPENED)
        assert "cut.tilt=7%20deg&saw.name=Shed&friction.finish=oil&friction.friction=0.37" in page.url
        page.close()
        process.terminate()
        said = process.communicate(timeout=20)[1]
    assert base in said
    assert (bowl.read_text("utf8"), kept.read_bytes()) == (BOWL, before)
    assert {p.name for p in tmp_path.iterdir()} == {"mine.toml", "kept.toml"}
    run = CliRunner().invoke(main, ["page", str(bowl), "--learned", str(bowl), "--no-browser"])
    assert run.exit_code == 2
    assert "mine.toml: file: expected what tests have taught" in run.stderr


def test_without_its_extra_packages_the_page_says_how_to_get_them(monkeypatch: pytest.MonkeyPatch) -> None:
    """A missing package is answered with the line that installs it; other commands do not need it."""
    monkeypatch.setitem(sys.modules, "uvicorn", None)
    monkeypatch.delitem(sys.modules, "fitsim.page.open_page")
    monkeypatch.delattr(sys.modules["fitsim.page"], "open_page")
    run = CliRunner().invoke(main, ["page", "--no-browser"])
    assert run.exit_code == 2
    assert "pip install 'fitsim[page]'" in run.stderr


@pytest.mark.parametrize(
    "raw",
    [b"GARBAGE\r\n\r\n", b"GET /now HTTP/1.1\r\n\r\n", b"GET / HTTP/1.1\r\nHost: a\r\nHost: b\r\n\r\n",
     b"GET / HTTP/1.1\r\nHost: x\r\nX: " + b"a" * 100_000 + b"\r\n\r\n",
     b"POST /open HTTP/1.1\r\nHost: x\r\nContent-Length: many\r\n\r\n"],
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


KEPT_WHOLE = {
    *("read_table", "woods", "variability", "splitting", "causes", "film_mm_per_h", "_rows"),
    "_controller",
}
"""Remembered without limit, because they hang on packaged tables alone, or on the libraries loaded."""


def test_nothing_remembered_grows_without_end() -> None:
    """A server runs for days: what is remembered of bowls has a limit, so that memory stays flat."""
    endless = set()
    for name in modules():
        for thing in vars(importlib.import_module(f"fitsim.{name}")).values():
            if hasattr(thing, "cache_parameters") and thing.cache_parameters()["maxsize"] is None:
                endless.add(thing.__name__)
    assert endless <= KEPT_WHOLE


def _own() -> set[BaseProcess]:
    """Processes that this one has started and that run."""
    return set(multiprocessing.active_children())


async def _gather(news: AsyncIterator[dict[str, Any]]) -> list[dict[str, Any]]:
    return [part async for part in news]


def test_a_question_given_up_ends_its_process() -> None:
    """Closing a question in the middle ends its process; the next question is answered by another."""

    async def give_up() -> tuple[bool, list[dict[str, Any]]]:
        before = _own()
        workers = Workers(most=1)
        news = workers.ask("verdict", DEMO)
        assert "told" in await anext(news)
        (busy,) = _own() - before
        await news.aclose()
        again = await _gather(workers.ask("sheets", [("cut.tilt", "6 N")]))
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
def test_hanging_up_ends_the_process_at_work(
    page_of_a_file: tuple[str, subprocess.Popen[str], Path],
) -> None:
    """When the asking window is gone its process is ended, and others wait for the next question."""
    base, process, _ = page_of_a_file
    port = int(base.rpartition(":")[2])
    with socket.create_connection(("127.0.0.1", port), timeout=60) as link:
        address = urlencode(DEMO, quote_via=quote)
        link.sendall(f"GET /verdict?{address} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n".encode())
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
        bad = [("cut.tilt", "6 N")]
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
        before = _own()
        workers = Workers(most=1)
        news = workers.ask("verdict", DEMO)
        assert "told" in await anext(news)
        (busy,) = _own() - before
        busy.kill()
        last = [part async for part in news][-1]
        after = (await _gather(workers.ask("map", [("cut.tilt", "6 N")])))[-1]
        workers.end()
        return last, after

    last, after = asyncio.run(lose())
    assert "ended unexpectedly" in last["failed"]
    assert "problems" in after


BAD = [("cut.tilt", "6 N")]
"""A question that a worker answers as soon as it is up."""


def test_a_worker_killed_while_idle_is_replaced() -> None:
    """Processes that died while nobody asked are no failure of the next question."""

    async def ask_again() -> dict[str, Any]:
        before = _own()
        workers = Workers(most=2)
        await _gather(workers.ask("map", BAD))
        workers.warm()
        while len(_own() - before) < 2:
            await asyncio.sleep(0.02)
        for process in _own() - before:
            process.kill()
            process.join(10)
        answer = (await _gather(workers.ask("map", BAD)))[-1]
        workers.end()
        return answer

    assert "problems" in asyncio.run(ask_again())


def test_a_worker_that_dies_as_it_is_asked_is_replaced(monkeypatch: pytest.MonkeyPatch) -> None:
    """A process whose end is only noticed when its pipe breaks is no failure either, but three are told."""

    async def ask() -> dict[str, Any]:
        workers = Workers(most=1)
        answer = (await _gather(workers.ask("map", BAD)))[-1]
        workers.end()
        return answer

    dying = iter([True, True, False])

    class Dying(_Worker):
        def send(self, question: Any) -> bool:
            if next(dying):
                self.kill()
                self.process.join(10)
            return super().send(question)

    monkeypatch.setattr("fitsim.page.workers._Worker", Dying)
    assert "problems" in asyncio.run(ask())
    dying = iter([True] * 3)
    assert "ended unexpectedly" in asyncio.run(ask())["failed"]


class Beats:
    """How often the loop came round."""

    count = 0

    @classmethod
    async def go_on(cls) -> None:
        """Count, for as long as the loop goes on."""
        while True:
            cls.count += 1
            await asyncio.sleep(0.01)

    @classmethod
    def are_heard(cls, doing: str) -> None:
        """Wait for the next ones; they never come if this very thread is the loop's."""
        seen, until = cls.count, time.monotonic() + 30
        while cls.count < seen + 2:
            assert threading.current_thread() is not threading.main_thread(), (
                f"the loop stood still: {doing}"
            )
            assert time.monotonic() < until, f"the loop stood still: {doing}"
            time.sleep(0.01)


def test_nothing_waits_while_a_process_starts(monkeypatch: pytest.MonkeyPatch) -> None:
    """While a worker comes up, takes a long upload or is cleared away, the loop that asked goes on."""
    done = []

    class Slow(_Worker):
        def __init__(self) -> None:
            Beats.are_heard("a process started")
            super().__init__()
            done.append("started")

        def send(self, question: Any) -> bool:
            Beats.are_heard("a question was sent")
            done.append("asked")
            return super().send(question)

        def clear(self) -> None:
            Beats.are_heard("a process was cleared away")
            super().clear()
            done.append("cleared away")

    monkeypatch.setattr("fitsim.page.workers._Worker", Slow)

    async def ask() -> dict[str, Any]:
        beating = asyncio.create_task(Beats.go_on())
        workers = Workers(most=1)
        last = (await _gather(workers.ask("year", BAD, upload=b"#" * 4_000_000)))[-1]
        news = workers.ask("verdict", DEMO)
        await anext(news)
        await news.aclose()
        while done.count("cleared away") < 1 or done.count("started") < 2:
            await asyncio.sleep(0.01)
        await asyncio.to_thread(workers.end)
        beating.cancel()
        return last

    assert "problems" in asyncio.run(ask())
    assert sorted(done[:5]) == ["asked", "asked", "cleared away", "started", "started"]


def test_who_reads_slowly_keeps_no_worker() -> None:
    """An answer that is not taken off does not keep the only worker from the next question."""

    async def two() -> list[dict[str, Any]]:
        workers = Workers(most=1)
        slow = workers.ask("map", BAD)
        assert "problems" in await anext(slow)  # and then nothing more is read
        other = await _gather(workers.ask("map", BAD))
        await slow.aclose()
        workers.end()
        return other

    assert [next(iter(part)) for part in asyncio.run(two())] == ["problems"]


def test_the_line_has_an_end() -> None:
    """Places are as many as may work and wait; one given back is one to be had."""
    workers = Workers(most=2, waiting=1)
    assert [workers.reserve() for _ in range(4)] == [True, True, True, False]
    workers.release()
    assert [workers.reserve() for _ in range(2)] == [True, False]
    workers.end()


AT_WORK = """
import time
from fitsim.page import workers as pagework

def endless(state, tell):
    tell("at work")
    time.sleep(600)

pagework.JOBS["map"] = endless  # here and, because it is imported there, in the worker

if __name__ == "__main__":
    worker = pagework._Worker()
    worker.send(("map", (), b""))
    while worker.look() is None:
        pass
    print(worker.process.pid, flush=True)
    time.sleep(600)
"""


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="looks at processes under /proc")
def test_workers_end_with_a_killed_server(tmp_path: Path) -> None:
    """When the process that serves is killed outright its worker, in the middle of its work, ends too."""
    script = tmp_path / "server.py"
    script.write_text(AT_WORK, "utf8")
    here = {**os.environ, "PYTHONPATH": str(Path(__file__).parent.parent)}
    with subprocess.Popen(
        [sys.executable, str(script)], env=here, stdout=subprocess.PIPE, text=True
    ) as server:
        assert server.stdout is not None
        worker = server.stdout.readline().strip()
        assert _runs(worker)
        server.kill()
    until = time.monotonic() + 20
    while _runs(worker):
        assert time.monotonic() < until, "it went on working for a server that is gone"
        time.sleep(0.05)


def _runs(process_id: str) -> bool:
    """Whether a process is there and is no corpse that nobody buried."""
    try:
        state = Path(f"/proc/{process_id}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return False
    return state != "Z"


@contextmanager
def patient_server() -> Iterator[int]:
    """A server in this process whose connections may be silent for a moment only: its port."""
    app = page_app(hosts=("127.0.0.1",), start=demo_tables())
    config = uvicorn.Config(app, http=_Patient, log_level="critical", lifespan="on")
    server, port = uvicorn.Server(config), free_port()
    config.host, config.port = "127.0.0.1", port
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.02)
    yield port
    server.should_exit = True
    thread.join(20)


@pytest.mark.parametrize(
    ("sent", "answers"),
    [(b"", 0), (b"GET /page.css HTTP/1.1\r\nHost: 127.0.0.1\r\n", 0), (b"GET", 0),
     (b"GET /page.css HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\nGET /page.css HT", 1),
     (b"GET /page.css HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 99\r\n\r\n", 1)],
    ids=["nothing", "half a header", "a word", "half a second request", "no body"],
)  # fmt: skip
def test_a_silent_connection_is_closed(monkeypatch: pytest.MonkeyPatch, sent: bytes, answers: int) -> None:
    """A connection over which no whole request comes any more is closed, each whole one answered before."""
    monkeypatch.setattr("fitsim.page.open_page.LONGEST_SILENCE_s", 0.2)
    with patient_server() as port, socket.create_connection(("127.0.0.1", port), timeout=20) as link:
        link.sendall(sent)
        got = b""
        while part := link.recv(65536):  # a timeout here is a connection that stays open
            got += part
    assert got.count(b"HTTP/1.1 ") == answers


def _reply_from(port: int, *, source: str, target: str, host: str) -> bytes:
    """First line of what the server says to one address at another; empty if nobody listens there."""
    try:
        with socket.create_connection((target, port), timeout=10, source_address=(source, 0)) as link:
            link.sendall(f"GET /page.css HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n".encode())
            return link.recv(4000).partition(b"\r\n")[0]
    except ConnectionRefusedError:
        return b""


def _loopback_has_more() -> bool:
    try:
        with socket.socket() as probe:
            probe.bind(("127.0.0.2", 0))
    except OSError:
        return False
    return True


@pytest.mark.skipif(
    not (own_addresses() or _loopback_has_more()), reason="this machine has no other address"
)
@pytest.mark.parametrize("workshop", [False, True])
def test_who_gets_in_from_another_address(workshop: bool, tmp_path: Path) -> None:
    """At another address somebody listens for the workshop only, lets in who asks by it, and tells.

    That is so at the network's address and at another of this machine's own. Nothing is written, whoever
    comes.
    """
    bowl = tmp_path / "bowl.toml"
    bowl.write_text(BOWL, "utf8")
    with served(str(bowl), *(["--workshop"] if workshop else [])) as (base, process):
        port = int(base.rpartition(":")[2])
        replies = {
            host: _reply_from(port, source="127.0.0.2", target="127.0.0.2", host=f"{host}:{port}")
            for host in ("127.0.0.1", "bowl.example", "127.0.0.3", "127.0.0.2")
            if _loopback_has_more()
        }
        got_in = {address: _opens(f"http://{address}:{port}/page.css") for address in own_addresses()[:1]}
        process.terminate()
        said = process.communicate(timeout=20)[1]
    assert set(got_in.values()) <= {workshop}
    refused = b"HTTP/1.1 403 Forbidden"
    expected = {"127.0.0.1": b"HTTP/1.1 200 OK", "bowl.example": refused, "127.0.0.3": refused,
                "127.0.0.2": b"HTTP/1.1 200 OK"}  # fmt: skip
    for host, reply in replies.items():
        assert reply == (expected[host] if workshop else b"")
    assert said.count("Another machine came in: 127.0.0.2") == int(workshop and bool(replies))
    assert (WORKSHOP_WARNING in said) is workshop
    assert bowl.read_text("utf8") == BOWL
    assert [path.name for path in tmp_path.iterdir()] == ["bowl.toml"]


def _opens(address: str) -> bool:
    try:
        with urllib.request.urlopen(address, timeout=5) as reply:
            return bool(reply.status == 200)
    except urllib.error.URLError:
        return False
