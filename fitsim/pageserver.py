"""The page's server: reads an address, calls, answers. It keeps nothing, and writes nothing anywhere.

Only the machine it runs on may ask, under the names it was given, and only from its own page: a foreign
page open in the same browser is refused, and so is a foreign name that points here.
"""

import json
from collections.abc import AsyncIterator, Callable, Mapping
from contextlib import asynccontextmanager
from functools import partial
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlencode

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response, StreamingResponse
from starlette.routing import Route
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from fitsim.errors import FitsimError, InputError, Problem
from fitsim.finish import FINISHES
from fitsim.fit import fit
from fitsim.linefile import line_svg
from fitsim.pageanswer import closed_object, problems_object
from fitsim.pagefailed import words_object
from fitsim.pagejobs import JOBS, sheet_request
from fitsim.pagestate import (
    LONGEST_ADDRESS,
    PageState,
    Pairs,
    bowl_of,
    bowl_text,
    in_units,
    opened_bowl,
    opened_saw,
    pairs_of_tables,
    read_address,
    read_state,
)
from fitsim.pagework import Workers
from fitsim.sheetcommand import follow_line_of
from fitsim.tomlfile import LARGEST_FILE_BYTES
from fitsim.wood import woods

__all__ = ["page_app"]

FILES = {"page.css": "text/css", "page.js": "text/javascript", "more.js": "text/javascript"}
FOLDER = Path(__file__).parent / "data" / "page"

LARGEST_WEATHER_BYTES = 4_000_000
"""A year of hourly weather takes about 1.6 MB."""

SAFE_HEADERS = {
    "content-security-policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; "
        "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
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


class _Guard:
    """Stands before everything: names, origins, lengths, and the headers of every reply."""

    def __init__(self, app: ASGIApp, *, hosts: tuple[str, ...]) -> None:
        self.app, self.hosts = app, hosts

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
        await (refused or self.app)(scope, receive, send_safe)

    def _refused(self, scope: Scope) -> Response | None:
        headers: dict[str, list[str]] = {}
        for name, value in scope["headers"]:
            headers.setdefault(name.decode("latin-1"), []).append(value.decode("latin-1"))
        names = [name.lower() for name in headers.get("host", [])]
        if len(names) != 1 or names[0] not in self.hosts:
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
            return _refusal(414, "address", "", expected, "shorten it")
        return None


def _state_of(request: Request) -> tuple[PageState, Pairs]:
    pairs = read_address(request.scope["query_string"])
    return read_state(pairs), pairs


def _now(request: Request) -> Response:
    return JSONResponse(closed_object(_state_of(request)[0]))


def _page(request: Request, start: Pairs) -> Response:
    """The page itself; without a bowl in the address, the one it was started with."""
    pairs = read_address(request.scope["query_string"])
    if not pairs:
        return RedirectResponse(f"/?{urlencode(start, quote_via=quote)}", status_code=307)
    return Response((FOLDER / "page.html").read_bytes(), media_type="text/html; charset=utf-8")


def _file(request: Request, name: str) -> Response:
    return Response((FOLDER / name).read_bytes(), media_type=f"{FILES[name]}; charset=utf-8")


def _words(request: Request, workers: Workers) -> Response:
    """What the fields offer to choose from; a page has opened, and will ask slow questions soon."""
    workers.warm()
    return JSONResponse(
        {"woods": [wood.name for wood in woods()], "finishes": list(FINISHES), **words_object()}
    )


def _units(request: Request) -> Response:
    state, pairs = _state_of(request)
    return JSONResponse({"pairs": in_units(pairs, units=state.page.get("units", "mm"))})


def _bowl_file(request: Request) -> Response:
    """The bowl file as a download; a bowl with problems is saved too, to be mended later."""
    state, _ = _state_of(request)
    return _download(bowl_text(state.tables).encode("utf8"), "bowl.toml", "application/toml")


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


async def _uploaded(request: Request, most_bytes: int) -> bytes:
    """The body, read no further than a file may be long."""
    body = b""
    async for piece in request.stream():
        body += piece
        if len(body) > most_bytes:
            raise _TooLargeError(most_bytes)
    return body


async def _open(request: Request) -> Response:
    """An opened file goes back to the page as keys and values; nothing of it stays here."""
    kind = request.path_params["kind"]
    if kind not in ("bowl", "saw"):
        return _refusal(404, "address", repr(kind[:40]), "open/bowl or open/saw", "open the page anew")
    raw = await _uploaded(request, LARGEST_FILE_BYTES)
    where = f"the {kind} file"
    if kind == "saw":
        return JSONResponse({"pairs": opened_saw(raw, where=where), "problems": []})
    pairs, problems = await run_in_threadpool(partial(opened_bowl, raw, where=where))
    return JSONResponse({"pairs": pairs, **problems_object(problems)})


async def _slow(request: Request, kind: str, workers: Workers) -> Response:
    """Stream a slow answer, one JSON object a line; who hangs up ends the work."""
    state, pairs = _state_of(request)
    bowl_of(state)
    upload = await _uploaded(request, LARGEST_WEATHER_BYTES)

    async def lines() -> AsyncIterator[bytes]:
        news = workers.ask(kind, pairs, upload=upload)
        try:
            async for part in news:
                yield json.dumps(part, allow_nan=False).encode("utf8") + b"\n"
        finally:
            await news.aclose()  # type: ignore[attr-defined]

    return StreamingResponse(lines(), media_type="application/x-ndjson")


def _wrong_input(request: Request, error: Exception) -> Response:
    problems = error.problems if isinstance(error, InputError) else ()
    told: Mapping[str, Any] = problems_object(problems) if problems else {"failed": str(error)}
    return JSONResponse(told, status_code=422)


def _too_large(request: Request, error: Exception) -> Response:
    expected = f"at most {error.args[0] // 1000} kB"
    return _refusal(413, "file", "", expected, "check that it is the right file")


def _not_there(request: Request, error: Exception) -> Response:
    return _refusal(404, "address", repr(request.url.path[:80]), "a part of the page", "open the page anew")


def _not_so(request: Request, error: Exception) -> Response:
    return _refusal(405, "method", request.method[:20], "GET, or POST to open a file", "open the page anew")


def page_app(*, hosts: tuple[str, ...], start: Mapping[str, Any]) -> ASGIApp:
    """The page as an ASGI application.

    Parameters
    ----------
    hosts : tuple[str, ...]
        What may stand in the Host header, port included.
    start : Mapping
        Tables of the bowl the page opens with.

    Returns
    -------
    ASGIApp
        Ready to be served.
    """
    workers = Workers()

    @asynccontextmanager
    async def lifespan(_app: Starlette) -> AsyncIterator[None]:
        yield
        workers.end()

    plain: dict[str, Callable[..., Response]] = {
        "/now": _now, "/units": _units, "/bowl.toml": _bowl_file, "/line.svg": _line,
    }  # fmt: skip
    routes = [
        Route("/", _bound(_page, start=pairs_of_tables(start))),
        *(Route(f"/{name}", _bound(_file, name=name)) for name in FILES),
        Route("/words", _bound(_words, workers=workers)),
        *(Route(path, endpoint) for path, endpoint in plain.items()),
        *(Route(f"/{kind}", _bound_slow(kind, workers), methods=["GET", "POST"]) for kind in JOBS),
        Route("/open/{kind}", _open, methods=["POST"]),
    ]
    handlers: dict[Any, Any] = {
        FitsimError: _wrong_input,
        _TooLargeError: _too_large,
        404: _not_there,
        405: _not_so,
    }
    app = Starlette(routes=routes, exception_handlers=handlers, lifespan=lifespan)
    app.router.redirect_slashes = False
    return _Guard(app, hosts=tuple(host.lower() for host in hosts))


def _bound(endpoint: Callable[..., Response], **known: Any) -> Callable[[Request], Response]:
    return lambda request: endpoint(request, **known)


def _bound_slow(kind: str, workers: Workers) -> Callable[[Request], Any]:
    async def endpoint(request: Request) -> Response:
        return await _slow(request, kind, workers)

    return endpoint
