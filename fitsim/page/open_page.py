"""What ``fitsim page`` does: serve the page on this machine and open it in the browser."""

import asyncio
import contextlib
import os
import socket
import webbrowser
from collections.abc import Callable, Mapping
from pathlib import Path
from threading import Timer
from typing import Any

import uvicorn
from starlette.types import ASGIApp
from uvicorn.protocols.http.h11_impl import H11Protocol

from fitsim.bowlfile.defaults import demo_tables
from fitsim.errors import InputError, Problem
from fitsim.files import file_name
from fitsim.page.server import page_app
from fitsim.page.state import pairs_of_learned, pairs_of_tables
from fitsim.page.workers import Workers
from fitsim.saw.learned import Learned
from fitsim.toml_files import tables_of_file

__all__ = ["PORT_DEFAULT", "WORKSHOP_WARNING", "own_addresses", "serve_page"]

PORT_DEFAULT = 7250
LONGEST_SILENCE_s = 15.0
"""A connection over which nothing is asked, or whose request never ends, is closed after this."""

MOST_CONNECTIONS = 256
"""Beyond these a request is answered with 503 before anything of it is read."""

LOOPBACK = ("127.0.0.1", "localhost", "[::1]")
WORKSHOP_WARNING = (
    "WARNING: every machine and phone on this network can now open the page and keep this machine busy. "
    "There is no password, and nothing is encrypted. Use it only on a network you trust, and stop it with "
    "Ctrl+C when you are done."
)


def own_addresses() -> tuple[str, ...]:
    """Addresses by which other machines of the network reach this one.

    Returns
    -------
    tuple[str, ...]
        IPv4 addresses and this machine's name, loopback left out.
    """
    name = socket.gethostname()
    found = [name.lower(), f"{name.lower()}.local"] if name else []
    # A datagram socket that is only "connected" sends nothing; the system says by which address it would.
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # an address kept for documentation, RFC 5737
            found.insert(0, probe.getsockname()[0])
        except OSError:
            pass
    with contextlib.suppress(OSError):
        found += socket.gethostbyname_ex(name)[2]
    return tuple(a for a in dict.fromkeys(found) if not a.startswith("127."))


def serve_page(
    file: Path | None,
    *,
    learned: Learned | None = None,
    port: int = PORT_DEFAULT,
    workshop: bool = False,
    browser: bool = True,
    say: Callable[[str], None] = print,
) -> None:
    """Serve the page until it is stopped.

    Parameters
    ----------
    file : pathlib.Path or None
        Bowl file to open with; None: the demonstration bowl.
    learned : Learned or None
        What tests have taught, to open with.
    port : int
        Port of this machine.
    workshop : bool
        True to let other machines of the network in.
    browser : bool
        True to open the browser.
    say : callable
        Told what the maker should know.

    Raises
    ------
    InputError
        If the file cannot be read, two of a kind were learned, or the port is taken.
    """
    tables: Mapping[str, Any] = demo_tables() if file is None else tables_of_file(file)
    pairs = (*pairs_of_tables(tables), *pairs_of_learned(learned))
    names = (*LOOPBACK, *(own_addresses() if workshop else ()))
    bound = _bound_socket("0.0.0.0" if workshop else "127.0.0.1", port)
    workers = Workers()
    try:
        # It starts, and presses the bowl, while the browser and the page load.
        workers.warm(1, pairs)
        address = f"http://127.0.0.1:{port}/"
        say(f"The page is at {address}  (stop it with Ctrl+C)")
        if workshop:
            say(WORKSHOP_WARNING)
            for name in own_addresses():
                say(f"From the workshop's network: http://{name}:{port}/")
        if browser:
            opening = Timer(0.5, webbrowser.open, (address,))
            opening.daemon = True
            opening.start()
        hosts = tuple(f"{name}:{port}" for name in names) + (names if port == 80 else ())
        app = page_app(
            hosts=hosts,
            start=tables,
            where="" if file is None else file_name(file),
            learned=learned,
            visited=lambda machine: say(f"Another machine came in: {machine}"),
            workers=workers,
        )
        _run(bound, app)
    finally:
        workers.end()


def _run(bound: socket.socket, app: ASGIApp) -> None:
    """Serve until it is stopped."""
    config = uvicorn.Config(
        app,
        http=_Patient,
        limit_concurrency=MOST_CONNECTIONS,
        log_level="warning",
        access_log=False,
        server_header=False,
        timeout_graceful_shutdown=1,
        h11_max_incomplete_event_size=64_000,
    )
    uvicorn.Server(config).run(sockets=[bound])


class _Patient(H11Protocol):
    """A connection that is closed when nothing is asked over it, at its beginning too."""

    _idle_until: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Start the clock."""
        super().connection_made(transport)
        self._watch()

    def data_received(self, data: bytes) -> None:
        """Stop it while a whole request is in hand, however slowly it came."""
        super().data_received(data)
        self._watch()

    def on_response_complete(self) -> None:
        """Start it again."""
        super().on_response_complete()
        self._watch()

    def connection_lost(self, exc: Exception | None) -> None:
        """Stop it for good."""
        super().connection_lost(exc)
        self._stop()

    def _watch(self) -> None:
        at_work = self.cycle is not None and not self.cycle.response_complete
        if at_work or self.transport.is_closing():
            self._stop()
        elif self._idle_until is None:
            self._idle_until = self.loop.call_later(LONGEST_SILENCE_s, self.transport.close)

    def _stop(self) -> None:
        if self._idle_until is not None:
            self._idle_until.cancel()
            self._idle_until = None


def _bound_socket(host: str, port: int) -> socket.socket:
    """A socket bound before anything is said, so that a taken port is answered at once."""
    # Named as TCP, because only then replies go out without waiting for the other side's nod (some 40 ms).
    bound = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    if os.name == "posix":  # elsewhere this option would let two pages share one port
        bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        bound.bind((host, port))
        bound.listen(128)  # who comes before the server is ready waits, and is not refused
    except OSError as error:
        bound.close()
        expected = f"a port that is free ({(error.strerror or 'refused').lower()})"
        remedy = "another page may be open; close it, or choose another port, like --port 7251"
        raise InputError(Problem("", "--port", str(port), expected, remedy)) from None
    return bound
