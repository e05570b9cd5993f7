"""The page's server: reads an address, calls, answers. It keeps nothing, and writes nothing anywhere.

Only the machine it runs on may ask, under the names it was given, and only from its own page: a foreign
page open in the same browser is refused, and so is a foreign name that points here. What visitors can hold
of its memory and time is limited: length and time of an upload, questions that wait, requests at once.
"""

import asyncio
import html
import json
from collections.abc import AsyncIterator, Callable, Mapping
from contextlib import asynccontextmanager
from dataclasses import asdict
from functools import partial
from importlib.util import find_spec
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlencode

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response, StreamingResponse
from starlette.routing import Route
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from fitsim.bowl.fit import fit
from fitsim.bowlfile.defaults import demo_tables
from fitsim.bowlfile.text import bowl_text
from fitsim.commands.sheet import follow_line_of
from fitsim.errors import FitsimError, InputError, Problem
from fitsim.manual import guide_pages
from fitsim.page.answers import now_object, refused_object
from fitsim.page.failed_bowl import words_object
from fitsim.page.jobs import JOBS, sheet_request
from fitsim.page.page_words import EXPLAINED, on_page, problems_object
from fitsim.page.state import (
    LONGEST_ADDRESS,
    MOST_PAIRS,
    PageState,
    Pairs,
    bowl_of,
    in_units,
    learned_of,
    opened_bowl,
    opened_saw,
    opened_tests,
    pairs_of_learned,
    pairs_of_tables,
    read_address,
    read_state,
)
from fitsim.page.workers import Workers
from fitsim.page.workshop_tests import TEST_KINDS
from fitsim.pattern.line_file import line_svg
from fitsim.report.common_words import CAUTIONS
from fitsim.saw.learned import Learned
from fitsim.saw.learned_file import learned_text
from fitsim.toml_files import LARGEST_FILE_BYTES, tables_of_bytes
from fitsim.wood.finishes import FINISHES
from fitsim.wood.species import woods

__all__ = ["page_app"]

FILES = {
    "page.css": "text/css",
    "page.js": "text/javascript",
    "bowl.js": "text/javascript",
    "places.js": "text/javascript",
}
TYPE = {"sans.ttf": "DejaVuSans.ttf", "sans-bold.ttf": "DejaVuSans-Bold.ttf"}
"""The page's letters: those of every printed page and picture; matplotlib brings them and their licence."""

FOLDER = Path(__file__).parents[1] / "data" / "page"

LEARNED = {"saw", "friction", "strength", "moisture"}
"""Tables of a file of what was learned; a bowl file has none of them."""

LARGEST_WEATHER_BYTES = 4_000_000
"""A year of hourly weather takes about 1.6 MB."""

LONGEST_UPLOAD_s = 30.0
"""A file that takes longer to arrive is given up: it may be meant to hold the line."""

MOST_REQUESTS = 64
"""Requests in hand at once; a window has six at most."""

MOST_VISITORS = 50
"""Other machines whose first visit is told; after that it is told no more."""

SAFE_HEADERS = {
    "content-security-policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; "
        "font-src 'self'; connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    ),
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-resource-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cache-control": "no-store",
}
"""On every reply: nothing is loaded from elsewhere, nothing is framed, nothing is kept."""


def _refusal(status: int, key: str, value: str, expected: str, remedy: str) -> JSONResponse:
    problem = Problem("", key, value, expected, remedy)
    return JSONResponse(problems_object((problem,)), status_code=status)


def _busy(expected: str) -> JSONResponse:
    return _refusal(503, "page", "", expected, "wait a moment and try again")


SPEAKING_PAGE = """<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<title>One-cut ring bowl: not opened</title>
<link rel="icon" href="data:,">
<link rel="stylesheet" href="/page.css">
</head>
<body>
<main>
<h1>{what} cannot be shown</h1>
<ul class="wrong">{problems}</ul>
<p><a href="{other}">Open a bowl to start from</a></p>
</main>
</body>
</html>
"""


def _in_words(status: int, what: str, problems: tuple[Problem, ...], other: str = "/") -> Response:
    """A page for a person who opened an address that shows no bowl: what is wrong, and a way on."""
    told = "".join(f"<li>{html.escape(str(problem))}</li>" for problem in problems)
    page = SPEAKING_PAGE.format(what=html.escape(what), problems=told, other=html.escape(other))
    return Response(page, status_code=status, media_type="text/html; charset=utf-8")


def _met_at(scope: Scope) -> tuple[str, ...]:
    """The address at which this connection was taken: by it the page may be asked, on whichever network.

    A machine has several, and cannot list them all; a foreign name that was bent to point here is none.
    """
    address, port = scope.get("server") or ("", None)
    return (f"{address}:{port}", *([str(address)] if port == 80 else [])) if address else ()


class _Guard:
    """Stands before everything: names, origins, lengths, and the headers of every reply."""

    def __init__(self, app: ASGIApp, *, hosts: tuple[str, ...], visited: Callable[[str], None]) -> None:
        self.app, self.hosts = app, hosts
        self._visited, self._visitors = visited, {"127.0.0.1", "::1"}
        self._in_hand = 0

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def send_safe(message: Message) -> None:
            if message["type"] == "http.response.start":
                extra = [(k.encode(), v.encode()) for k, v in SAFE_HEADERS.items()]
                message["headers"] = [*message["headers"], *extra]
            await send(message)

        refused = self._refused(scope)
        if refused is None:
            self._tell_visit(scope)
        self._in_hand += 1
        try:
            await (refused or self.app)(scope, receive, send_safe)
        finally:
            self._in_hand -= 1

    def _tell_visit(self, scope: Scope) -> None:
        """Tell the owner of the page that another machine came in, once for each."""
        address = str((scope.get("client") or ("",))[0])
        if address and address not in self._visitors and len(self._visitors) < MOST_VISITORS:
            self._visitors.add(address)
            self._visited(address)

    def _refused(self, scope: Scope) -> Response | None:
        headers: dict[str, list[str]] = {}
        for name, value in scope["headers"]:
            headers.setdefault(name.decode("latin-1"), []).append(value.decode("latin-1"))
        names = [name.lower() for name in headers.get("host", [])]
        if len(names) != 1 or names[0] not in (*self.hosts, *_met_at(scope)):
            expected = f"one of {', '.join(self.hosts)}"
            return _refusal(
                403, "Host", repr(", ".join(names)[:80]), expected, "open the page by its own address"
            )
        origins = headers.get("origin", [])
        site = headers.get("sec-fetch-site", ["none"])[0]
        foreign = any(origin.lower() != f"http://{names[0]}" for origin in origins)
        if foreign or (scope["path"] != "/" and site not in ("none", "same-origin")):
            shown = repr(", ".join(origins)[:80])
            return _refusal(
                403, "Origin", shown, "the page's own origin", "open the page by its own address"
            )
        if len(scope.get("query_string", b"")) > LONGEST_ADDRESS:
            expected = f"at most {LONGEST_ADDRESS} characters behind the question mark"
            if scope["path"] == "/":
                return _in_words(414, "This address", (Problem("", "address", "", expected, "shorten it"),))
            return _refusal(414, "address", "", expected, "shorten it")
        if self._in_hand >= MOST_REQUESTS:
            return _busy(f"at most {MOST_REQUESTS} requests at once")
        return None


def _state_of(request: Request) -> tuple[PageState, Pairs]:
    pairs = read_address(request.scope["query_string"])
    return read_state(pairs), pairs


def _now(request: Request) -> Response:
    state, _ = _state_of(request)
    try:
        return JSONResponse(now_object(state))
    except InputError as error:
        return JSONResponse(refused_object(state, error.problems), status_code=422)


def _page(request: Request, start: str, wrong: tuple[Problem, ...]) -> Response:
    """The page itself; without a bowl in the address, the one it was started with."""
    try:
        pairs = read_address(request.scope["query_string"])
    except InputError as error:
        return _in_words(422, "This address", error.problems)
    if not pairs and wrong:
        demo = urlencode(pairs_of_tables(demo_tables()), quote_via=quote)
        return _in_words(200, "The bowl file", wrong, f"/?{demo}")
    if not pairs:
        return RedirectResponse(f"/?{start}", status_code=307)
    return Response((FOLDER / "page.html").read_bytes(), media_type="text/html; charset=utf-8")


def _file(request: Request, name: str) -> Response:
    return Response((FOLDER / name).read_bytes(), media_type=f"{FILES[name]}; charset=utf-8")


def _type(request: Request, name: str) -> Response:
    """A file of the page's letters; they are found without loading what draws with them."""
    found = find_spec("matplotlib")
    if found is None or found.origin is None:  # not reached: it is needed for the pictures
        return _not_there(request, FileNotFoundError(name))
    data = (Path(found.origin).parent / "mpl-data" / "fonts" / "ttf" / TYPE[name]).read_bytes()
    return Response(data, media_type="font/ttf")


def _guide(_request: Request) -> Response:
    """Every page of the guide, in reading order."""
    return JSONResponse({"pages": [asdict(page) for page in guide_pages()]})


def _words() -> Response:
    """What the fields offer to choose from."""
    return JSONResponse(
        {
            "woods": [wood.name for wood in woods()],
            "finishes": list(FINISHES),
            "cautions": list(CAUTIONS),
            "tests": TEST_KINDS,
            "explained": EXPLAINED,
            "plans": "want" in JOBS,
            **words_object(),
        }
    )


def _bound_words(workers: Workers) -> Callable[[Request], Any]:
    async def endpoint(_request: Request) -> Response:
        workers.warm(1)  # a page has opened, and will ask for its verdict soon
        return await run_in_threadpool(_words)

    return endpoint


def _units(request: Request) -> Response:
    state, pairs = _state_of(request)
    to = state.page.get("to", state.page.get("units", "mm"))
    kept = tuple((key, value) for key, value in pairs if key != "to")
    return JSONResponse({"pairs": in_units(kept, units=to)})


def _bowl_file(request: Request) -> Response:
    """The bowl file as a download; a bowl with problems is saved too, to be mended later."""
    state, _ = _state_of(request)
    return _download(bowl_text(state.tables).encode("utf8"), "bowl.toml", "application/toml")


def _learned_file(request: Request) -> Response:
    """What was learned, as the file of its own that it is: a bowl file has no place for it."""
    state, _ = _state_of(request)
    learned = learned_of(state)
    if learned is None:
        return _refusal(422, "saw", "", "something learned", "open a file of what was learned, or do tests")
    text = learned_text(learned, name=state.saw.get("name", "tests"), date=state.saw.get("date", ""))
    return _download(text.encode("utf8"), "learned.toml", "application/toml")


def _line(request: Request) -> Response:
    state, _ = _state_of(request)
    bowl = bowl_of(state)
    line = follow_line_of(fit(bowl, rigid=True), sheet_request(state).handling)
    return _download(line_svg(line, bowl.name).encode("utf8"), "line.svg", "image/svg+xml")


def _download(data: bytes, name: str, kind: str) -> Response:
    return Response(
        data, media_type=kind, headers={"content-disposition": f'attachment; filename="{name}"'}
    )


class _TooLargeError(Exception):
    """An upload is longer than any file of ours."""


class _TooSlowError(Exception):
    """An upload does not come to its end."""


async def _uploaded(request: Request, most_bytes: int) -> bytes:
    """The body, read no further than a file may be long, and no longer than one may take."""
    body = bytearray()
    try:
        async with asyncio.timeout(LONGEST_UPLOAD_s):
            async for piece in request.stream():
                body += piece
                if len(body) > most_bytes:
                    raise _TooLargeError(most_bytes)
    except TimeoutError:
        raise _TooSlowError from None
    return bytes(body)


async def _open(request: Request) -> Response:
    """An opened file goes back to the page as keys and values; what it is, its own keys tell."""
    raw = await _uploaded(request, LARGEST_FILE_BYTES)
    return JSONResponse(await run_in_threadpool(partial(_opened, raw)))


def _opened(raw: bytes) -> dict[str, Any]:
    where = "the file"
    tables = tables_of_bytes(raw, where=where, kind="bowl file")
    if any(isinstance(tables.get(kind), list) for kind in TEST_KINDS):
        return {"kind": "tests", "pairs": opened_tests(raw, where=where), "problems": []}
    if LEARNED & set(tables) and "cut" not in tables:
        return {"kind": "saw", "pairs": opened_saw(raw, where=where), "problems": []}
    pairs, problems = opened_bowl(raw, where=where)
    return {"kind": "bowl", "pairs": pairs, **problems_object(problems)}


async def _slow(request: Request, kind: str, workers: Workers) -> Response:
    """Stream a slow answer, one JSON object a line; who hangs up ends the work."""
    state, pairs = _state_of(request)
    await run_in_threadpool(bowl_of, state)
    # A place in the line comes before the upload: what waits, and the bytes it holds, is limited.
    if not workers.reserve():
        return _busy("fewer questions waiting than there are now")
    try:
        upload = await _uploaded(request, LARGEST_WEATHER_BYTES)
    except BaseException:
        workers.release()
        raise
    news = workers.ask(kind, pairs, upload=upload)
    del upload

    async def lines() -> AsyncIterator[bytes]:
        try:
            async for part in news:
                yield json.dumps(part, allow_nan=False).encode("utf8") + b"\n"
        finally:
            await news.aclose()  # type: ignore[attr-defined]

    return _Streamed(lines(), workers.release)


class _Streamed(StreamingResponse):
    """Lines of JSON; when they have ended, or were given up before the first, something is told."""

    def __init__(self, lines: AsyncIterator[bytes], ended: Callable[[], None]) -> None:
        super().__init__(lines, media_type="application/x-ndjson")
        self._ended = ended

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        try:
            await super().__call__(scope, receive, send)
        finally:
            self._ended()


def _wrong_input(request: Request, error: Exception) -> Response:
    problems = error.problems if isinstance(error, InputError) else ()
    told: Mapping[str, Any] = problems_object(problems) if problems else {"failed": on_page(str(error))}
    return JSONResponse(told, status_code=422)


def _too_large(request: Request, error: Exception) -> Response:
    expected = f"at most {error.args[0] // 1000} kB"
    return _refusal(413, "file", "", expected, "check that it is the right file")


def _too_slow(request: Request, error: Exception) -> Response:
    expected = f"a file that arrives within {LONGEST_UPLOAD_s:.0f} s"
    return _refusal(408, "file", "", expected, "send it again")


def _not_there(request: Request, error: Exception) -> Response:
    return _refusal(404, "address", repr(request.url.path[:80]), "a part of the page", "open the page anew")


def _not_so(request: Request, error: Exception) -> Response:
    return _refusal(405, "method", request.method[:20], "GET, or POST to open a file", "open the page anew")


def _unfit(pairs: Pairs, address: str, where: str) -> tuple[Problem, ...]:
    """Why a bowl file does not fit into the page's address."""
    remedy = "open a smaller one"
    if not pairs:
        remedy = "open one with a board and a cut in it"
        return (Problem(where, "file", "", "a bowl file with keys in it; this one has none", remedy),)
    if len(pairs) > MOST_PAIRS:
        expected = f"at most {MOST_PAIRS} keys and values, which is what the page's address holds"
        return (Problem(where, "file", f"{len(pairs)} of them", expected, remedy),)
    if len(address) > LONGEST_ADDRESS:
        expected = f"at most {LONGEST_ADDRESS} characters, which is what the page's address holds"
        return (Problem(where, "file", f"{len(address)} characters", expected, remedy),)
    return ()


def _unheard(_address: str) -> None:
    """Nobody is told who came."""


def page_app(
    *,
    hosts: tuple[str, ...],
    start: Mapping[str, Any],
    where: str = "",
    learned: Learned | None = None,
    visited: Callable[[str], None] = _unheard,
    workers: Workers | None = None,
) -> ASGIApp:
    """The page as an ASGI application.

    Parameters
    ----------
    hosts : tuple[str, ...]
        What may stand in the Host header, port included.
    start : Mapping
        Tables of the bowl the page opens with; if they do not fit into an address, the page says so.
    where : str
        Name of their file.
    learned : Learned or None
        What tests have taught, with which it opens.
    visited : callable
        Told the address of every other machine at its first visit.
    workers : Workers or None
        Processes for the slow questions, started before; None: of its own. They end with the server.

    Returns
    -------
    ASGIApp
        Ready to be served.

    Raises
    ------
    InputError
        If two of a kind were learned.
    """
    workers = workers or Workers()
    pairs = (*pairs_of_tables(start), *pairs_of_learned(learned))
    address = urlencode(pairs, quote_via=quote)
    wrong = _unfit(pairs, address, where)

    @asynccontextmanager
    async def lifespan(_app: Starlette) -> AsyncIterator[None]:
        yield
        workers.end()

    plain: dict[str, Callable[..., Response]] = {
        "/now": _now, "/units": _units, "/bowl.toml": _bowl_file, "/learned.toml": _learned_file,
        "/line.svg": _line, "/guide": _guide,
    }  # fmt: skip
    routes = [
        Route("/", lambda request: _page(request, address, wrong)),
        *(Route(f"/{name}", _named(_file, name)) for name in FILES),
        *(Route(f"/{name}", _named(_type, name)) for name in TYPE),
        Route("/words", _bound_words(workers)),
        *(Route(path, endpoint) for path, endpoint in plain.items()),
        *(Route(f"/{kind}", _bound_slow(kind, workers), methods=["GET", "POST"]) for kind in JOBS),
        Route("/open", _open, methods=["POST"]),
    ]
    handlers: dict[Any, Any] = {
        FitsimError: _wrong_input,
        _TooLargeError: _too_large,
        _TooSlowError: _too_slow,
        404: _not_there,
        405: _not_so,
    }
    app = Starlette(routes=routes, exception_handlers=handlers, lifespan=lifespan)
    app.router.redirect_slashes = False
    return _Guard(app, hosts=tuple(host.lower() for host in hosts), visited=visited)


def _named(endpoint: Callable[[Request, str], Response], name: str) -> Callable[[Request], Response]:
    return lambda request: endpoint(request, name)


def _bound_slow(kind: str, workers: Workers) -> Callable[[Request], Any]:
    async def endpoint(request: Request) -> Response:
        return await _slow(request, kind, workers)

    return endpoint
