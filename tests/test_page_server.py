"""The page's server: who may ask, what comes back, and that nothing breaks it."""

import asyncio
import html
import json
import re
import subprocess
import sys
import tomllib
import xml.etree.ElementTree as ET
from collections.abc import AsyncIterator, MutableMapping
from functools import cache
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlencode

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from starlette.testclient import TestClient

import fitsim
from fitsim.bowl.cross_section import section_pieces
from fitsim.bowl.elastic import open_bowl
from fitsim.bowlfile.defaults import demo_tables, make_bowl
from fitsim.bowlfile.keys import READERS
from fitsim.bowlfile.text import bowl_text
from fitsim.climate.place import Place, read_place
from fitsim.drawing.map_drawing import LOOKS
from fitsim.drawing.strip_drawing import TONES
from fitsim.failure.failed_samples import plan_of
from fitsim.failure.observations import Observed, read_observed
from fitsim.failure.why_failed import WhyFailed, why_failed
from fitsim.manual import guide_pages
from fitsim.page import jobs
from fitsim.page.jobs import sheet_request
from fitsim.page.server import _TooSlowError, _uploaded, page_app
from fitsim.page.space import flat_space, opening_space
from fitsim.page.state import PAGE_WORDS, opened_tests, pairs_of_tables, read_state
from fitsim.page.workers import MOST_AT_ONCE, MOST_WAITING, Workers, answer_of
from fitsim.page.workshop_tests import GRANTED
from fitsim.report.common_words import plain_words
from fitsim.report.learned_report import learned_report
from fitsim.report.seasons_report import seasons_report
from fitsim.report.terminal import fit_report
from fitsim.saw.learned import learn
from fitsim.saw.tests_file import make_tests
from fitsim.seasons.year import Asked, SeasonAnswer, seasons
from fitsim.strip.state import mean_rise_mm
from fitsim.toml_files import LARGEST_FILE_BYTES

HOST = "127.0.0.1:7250"
SMALL: dict[str, Any] = {
    "name": "Two turns",
    "board": {"thickness": "18 mm", "across": "110 mm"},
    "cut": {"tilt": "6 deg", "kerf": "0.7 mm", "pitch": "12 mm", "base": "66 mm"},
    "use": {"friction": "0.35", "press": "120 N", "film": "0 mm"},
}
"""Springs back on the strip; a press takes about a second."""


def address(tables: dict[str, Any], **page: str) -> str:
    """Keys and values of an address, the page's own words behind them."""
    return urlencode([*pairs_of_tables(tables), *page.items()], quote_via=quote)


@pytest.fixture(scope="module")
def client() -> TestClient:
    """A client of a page that only the loopback address may ask; its workers are not started."""
    app = page_app(hosts=(HOST, "localhost:7250"), start=demo_tables())
    return TestClient(app, base_url=f"http://{HOST}", follow_redirects=False)


def test_the_page_opens_with_a_bowl_in_its_address(client: TestClient) -> None:
    """Without a bowl in the address the page goes to the one it was started with."""
    reply = client.get("/")
    assert reply.status_code == 307
    assert reply.headers["location"] == f"/?{address(demo_tables())}"
    page = client.get(reply.headers["location"])
    assert page.status_code == 200
    assert page.headers["content-type"] == "text/html; charset=utf-8"


UNFIT = {
    "no key": ({}, "this one has none"),
    "tables without keys": ({"board": {}, "cut": {"tilt": []}}, "this one has none"),
    "too many keys": (
        {**SMALL, "cut": {**SMALL["cut"], "kerf": ["0.7 mm"] * 300}}, "at most 300 keys and values",
    ),
    "too long": ({**SMALL, "name": "\N{SNOWMAN}" * 1400}, "at most 12000 characters"),
}  # fmt: skip


@pytest.mark.parametrize(("tables", "said"), UNFIT.values(), ids=UNFIT)
def test_a_file_that_fits_no_address_opens_a_page_that_says_so(tables: dict[str, Any], said: str) -> None:
    """An empty or overlong start file opens a page in words, and its link opens a bowl to start from."""
    app = page_app(hosts=(HOST,), start=tables, where="my <bowl>.toml")
    client = TestClient(app, base_url=f"http://{HOST}", follow_redirects=False)
    page = client.get("/")
    assert page.status_code == 200
    assert page.headers["content-type"] == "text/html; charset=utf-8"
    assert said in page.text
    assert "my &lt;bowl&gt;.toml" in page.text
    (link,) = re.findall(r'<p><a href="([^"]+)">', page.text)
    assert 'id="controls"' in client.get(html.unescape(link)).text


@pytest.mark.parametrize(("query", "status"), [("a=%ff", 422), ("a=1&" * 301, 422), ("a" * 12_001, 414)])
def test_a_person_with_a_bad_address_reads_words(client: TestClient, query: str, status: int) -> None:
    """The page's own address with something in it that cannot be read answers with words, not data."""
    page = client.get(f"/?{query}")
    assert page.status_code == status
    assert page.headers["content-type"] == "text/html; charset=utf-8"
    assert "expected" in page.text


def test_a_full_line_is_told_and_places_are_given_back(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What ends, well or not, gives its place back; with no place left nothing of an upload is read."""
    for _ in range(MOST_AT_ONCE + MOST_WAITING + 2):
        assert client.post(f"/year?{address(SMALL)}", content=b"#" * 4_000_001).status_code == 413
    reply = client.get(f"/map?{address(SMALL, across='colour=1..2')}")
    assert "a key of the bowl file" in json.loads(reply.text.splitlines()[-1])["problems"][0]["text"]
    monkeypatch.setattr(Workers, "reserve", lambda self: False)

    async def unread(*_: object) -> bytes:
        raise AssertionError("an upload was read that nobody can answer")

    monkeypatch.setattr("fitsim.page.server._uploaded", unread)
    reply = client.post(f"/year?{address(SMALL)}", content=b"#")
    assert reply.status_code == 503
    assert "try again" in reply.json()["problems"][0]["text"]


def test_an_upload_that_never_ends_is_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    """A file that stops arriving is told so, and its bytes are let go."""
    monkeypatch.setattr("fitsim.page.server.LONGEST_UPLOAD_s", 0.02)

    class Stalled:
        async def stream(self) -> AsyncIterator[bytes]:
            yield b"[board]"
            await asyncio.Event().wait()

    with pytest.raises(_TooSlowError):
        asyncio.run(asyncio.wait_for(_uploaded(Stalled(), 100), 20))  # type: ignore[arg-type]


def test_requests_at_once_are_limited(monkeypatch: pytest.MonkeyPatch) -> None:
    """One request more than the server takes is told to come back; the others are answered."""
    monkeypatch.setattr("fitsim.page.server.MOST_REQUESTS", 2)
    app = page_app(hosts=(HOST,), start=SMALL)
    statuses: list[int] = []

    async def one(scope: dict[str, Any], body: asyncio.Event) -> None:
        async def receive() -> dict[str, Any]:
            await body.wait()
            return {"type": "http.request", "body": b"name = 'x'", "more_body": False}

        async def send(message: MutableMapping[str, Any]) -> None:
            if message["type"] == "http.response.start":
                statuses.append(message["status"])

        await app(scope, receive, send)

    async def three() -> None:
        scope = {
            "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": "POST",
            "path": "/open", "raw_path": b"/open", "query_string": b"", "scheme": "http",
            "root_path": "", "headers": [(b"host", HOST.encode())], "client": ("127.0.0.1", 5),
            "server": None,
        }  # fmt: skip
        body = asyncio.Event()
        waiting = [asyncio.create_task(one(dict(scope), body)) for _ in range(2)]
        await asyncio.sleep(0)
        await one(dict(scope), body)
        assert statuses == [503]
        body.set()
        await asyncio.gather(*waiting)

    asyncio.run(three())
    assert statuses == [503, 200, 200]


def test_what_follows_at_once_holds_no_verdict(client: TestClient) -> None:
    """The closed form's state is nowhere in the quick answer: a verdict rests on the strip alone."""
    found = client.get(f"/now?{address(SMALL, units='mm')}").text
    assert not [state for state in fitsim.STATES if state in found.lower()]
    assert json.loads(found)["places"]["cut.base"] == 66


def test_the_outlines_are_those_of_the_section(client: TestClient) -> None:
    """Every piece of wood comes twice, flat and with its bevels met, in millimetres."""
    found = client.get(f"/now?{address(SMALL)}").json()["section"]
    answer = fitsim.fit(make_bowl(SMALL), rigid=True)
    for name, standing in (("met", answer.standing), ("flat", None)):
        pieces = section_pieces(answer.rigid, standing)
        assert len(found[name]) == len(pieces)
        for got, piece in zip(found[name], pieces, strict=True):
            assert np.reshape(got["corners"], (4, 2)) == pytest.approx(piece.outline_mm, abs=6e-4)


@pytest.mark.parametrize(
    ("key", "typed", "units", "whole"),
    [
        ("cut.tilt", "6", "mm", "6 deg"),
        ("board.thickness", "3/4", "in", "3/4 in"),
        ("cut.base", "2 3/4", "in", "2 3/4 in"),
        ("cut.kerf", "0.65 to 0.8", "mm", "0.65 to 0.8 mm"),
        ("use.press", "80", "in", "80 N"),
        ("board.moisture", "8.5", "mm", "8.5 %"),
        ("cut.feed", "8", "in", "8 in/min"),
    ],
)
def test_a_bare_number_has_the_unit_of_its_field(
    client: TestClient, key: str, typed: str, units: str, whole: str
) -> None:
    """A number without a unit is the same bowl as with its field's unit, shown and saved alike."""
    table, name = key.split(".")
    bare, written = ({**SMALL, table: {**SMALL.get(table, {}), name: value}} for value in (typed, whole))
    assert client.get(f"/now?{address(bare, units=units)}").json()["typed"] == {key: whole}
    saved = client.get(f"/bowl.toml?{address(bare, units=units)}").text
    assert make_bowl(tomllib.loads(saved)) == make_bowl(tomllib.loads(bowl_text(written)))


def test_a_saw_file_overrules_the_kerf_and_says_so(client: TestClient) -> None:
    """With a saw in the address the fields it stands in for are named, each with what counts instead."""
    saw = {
        "saw.name": "Lean-to band saw", "saw.kerf": "0.71 mm", "saw.kerf_sd": "0.02 mm",
        "saw.tilt_offset": "0.44 deg", "saw.tilt_offset_sd": "0.1 deg", "saw.correlation": "-0.6",
        "saw.kerf_varies_sd": "0.03 mm", "saw.tilt_repeats_sd": "0.15 deg", "saw.rings": "2",
        "saw.slots": "1", "saw.bevels": "0",
    }  # fmt: skip
    reply = client.get(f"/now?{address(SMALL, units='mm', **saw)}")
    assert reply.status_code == 200, reply.text
    overruled = reply.json()["overruled"]
    assert overruled["cut.kerf"] == "0.71 mm, by Lean-to band saw"
    assert "cut.tilt" not in overruled
    assert client.get(f"/now?{address(SMALL)}").json()["overruled"] == {}


@pytest.mark.parametrize(
    ("key", "value", "expected"),
    [
        ("cut.tilt", "6 N", "angle"),
        ("board.wood", "chery", "id you mean"),
        ("cut.titl", "6 deg", "id you mean 'tilt'?"),
        ("use.finish", "XXL", "write one of those"),
        ("cut.pitch", "1 ft", "xpected"),
        ("units", "furlong", "in or mm"),
    ],
)
def test_a_bad_value_is_answered_with_its_key(
    client: TestClient, key: str, value: str, expected: str
) -> None:
    """Each problem names its key, and says what was expected and what to do."""
    pairs = [pair for pair in pairs_of_tables(demo_tables()) if pair[0] != key]
    reply = client.get(f"/now?{urlencode([*pairs, (key, value)], quote_via=quote)}")
    assert reply.status_code == 422
    (problem,) = reply.json()["problems"]
    assert problem["key"] == key
    assert expected in problem["text"]


def test_problems_say_what_the_command_says_and_no_command(client: TestClient) -> None:
    """Beside a field stand expectation and remedy of the command; key, value and command line do not."""
    tables = {"board": {"thickness": "-18 mm", "across": "2 in"}, "cut": {"tilt": "-3 deg"}}
    with pytest.raises(fitsim.InputError) as caught:
        make_bowl(tables)
    told = client.get(f"/now?{address(tables)}").json()["problems"]
    for found, problem in zip(told, caught.value.problems, strict=True):
        assert found["key"] == problem.key
        assert problem.expected in found["text"]
        assert problem.remedy in found["text"]
        assert "=" not in found["text"]


@pytest.mark.parametrize(
    "headers",
    [
        {"host": "bowl.example:7250"},
        {"host": "127.0.0.1:7251"},
        {"origin": "http://bowl.example"},
        {"origin": "null"},
        {"origin": "https://127.0.0.1:7250"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
)
def test_foreign_names_and_pages_are_refused(client: TestClient, headers: dict[str, str]) -> None:
    """A foreign Host (a name bent to point here) and a foreign Origin get nothing but a refusal."""
    reply = client.get(f"/now?{address(SMALL)}", headers=headers)
    assert reply.status_code == 403
    assert "problems" in reply.json()


def test_its_own_origin_and_a_link_from_elsewhere_are_served(client: TestClient) -> None:
    """The page's own requests pass, and a bookmark or link to the page itself opens it."""
    own = {"origin": f"http://{HOST}", "sec-fetch-site": "same-origin"}
    assert client.get(f"/now?{address(SMALL)}", headers=own).status_code == 200
    assert client.get(f"/?{address(SMALL)}", headers={"sec-fetch-site": "cross-site"}).status_code == 200


@pytest.mark.parametrize(
    "path", ["/", "/now", "/page.js", "/nowhere", "/open", "/now/", "/sans.ttf", "/../cli.py"]
)
def test_every_reply_keeps_the_browser_at_home(client: TestClient, path: str) -> None:
    """Every reply, a refusal too, forbids loading from elsewhere, framing, keeping; and sets no cookie."""
    headers = client.get(path).headers
    assert "default-src 'none'" in headers["content-security-policy"]
    assert "frame-ancestors 'none'" in headers["content-security-policy"]
    assert headers["cache-control"] == "no-store"
    assert "set-cookie" not in headers


def test_the_files_of_the_page_name_no_other_place(client: TestClient) -> None:
    """Page, style and script hold no address of another machine; the SVG name space is a name, no place."""
    for path in (f"/?{address(SMALL)}", "/page.css", "/page.js", "/bowl.js", "/places.js"):
        text = client.get(path).text
        assert not re.findall(
            r"(?:https?:)?//[a-z0-9.-]+\.[a-z]{2,}", text.replace("http://www.w3.org/2000/svg", "")
        )


@pytest.mark.parametrize(
    ("method", "path", "status"),
    [("POST", "/now", 405), ("GET", "/open", 405), ("PUT", "/", 405), ("GET", "/nowhere", 404),
     ("POST", "/open/else", 404), ("GET", "/now?a=%ff", 422), ("GET", "/verdict?cut.tilt=6", 422)],
)  # fmt: skip
def test_malformed_requests_get_a_clear_refusal(
    client: TestClient, method: str, path: str, status: int
) -> None:
    """Wrong method, place or address: a 4xx that says what was expected."""
    reply = client.request(method, path)
    assert reply.status_code == status
    assert "xpected" in reply.json()["problems"][0]["text"]


def test_a_long_address_is_refused(client: TestClient) -> None:
    """An address beyond the limit is 414, before anything is read of it."""
    assert client.get("/now?" + "a" * 12_001).status_code == 414


def test_an_upload_has_a_limit(client: TestClient) -> None:
    """A file one byte too long is refused, one that just fits is read."""
    reply = client.post("/open", content=b"#" * (LARGEST_FILE_BYTES + 1))
    assert reply.status_code == 413
    assert "at most 100 kB" in reply.json()["problems"][0]["text"]
    assert client.post("/open", content=b"#" * (LARGEST_FILE_BYTES - 1) + b"\n").status_code == 200


def test_save_and_open_give_the_same_bowl(client: TestClient) -> None:
    """The saved file, opened again, leads to the address it was saved from."""
    saved = client.get(f"/bowl.toml?{address(SMALL, units='mm')}")
    assert saved.headers["content-disposition"] == 'attachment; filename="bowl.toml"'
    assert saved.text == bowl_text(read_state(pairs_of_tables(SMALL)).tables)
    opened = client.post("/open", content=saved.content).json()
    assert not opened["problems"]
    assert {tuple(pair) for pair in opened["pairs"]} == set(pairs_of_tables(SMALL))


def test_the_line_comes_as_svg_in_millimetres(client: TestClient) -> None:
    """The line is the one the command writes, for the side asked for."""
    reply = client.get(f"/line.svg?{address(SMALL, middle='raised')}")
    assert reply.headers["content-type"] == "image/svg+xml"
    assert ET.fromstring(reply.text).attrib["width"].endswith("mm")
    other = client.get(f"/line.svg?{address(SMALL, middle='lowered')}")
    assert reply.text != other.text


def test_the_verdict_comes_in_parts(client: TestClient) -> None:
    """The middle of the ranges and the bowl in space come before the verdict, from a process of its own."""
    reply = client.get(f"/verdict?{address(SMALL, units='mm')}")
    lines = [json.loads(line) for line in reply.text.splitlines()]
    kinds = [next(iter(line)) for line in lines]
    assert kinds[-1] == "answer"
    assert set(kinds[:-1]) == {"told", "part"}
    parts = {key: value for line in lines for key, value in line.get("part", {}).items()}
    answer = fitsim.fit(make_bowl(SMALL))
    assert lines[-1]["answer"]["state"] == answer.verdict.state
    assert lines[-1]["answer"]["rests_on"] == "elastic strip"
    assert ["press there is", "120 N"] in lines[-1]["answer"]["pressing"]
    assert parts["middle"]["state"] == answer.verdict.state_in_middle
    assert len(parts["space"]["states"]) > 2


def _numbers(told: Any) -> set[str]:
    """Every number in whatever the page was told, as it is written."""
    return set(re.findall(r"\d+(?:\.\d+)?", json.dumps(told, ensure_ascii=False)))


SPLITS = {
    "name": "Seventeen", "board": {"thickness": "17 mm", "across": "150 mm", "wood": "walnut"},
    "cut": {"tilt": "6.5 deg", "kerf": "0.72 mm", "pitch": "9 mm", "base": "96 mm"},
    "use": {"friction": "0.41", "press": "170 N", "film": "0.02 mm"},
}  # fmt: skip


@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize("tables", [SMALL, SPLITS])
def test_every_number_of_the_verdict_is_the_commands(tables: dict[str, Any], units: str) -> None:
    """Reasons, tables and measures on the page hold no number that the command's report does not hold."""
    pairs = [*pairs_of_tables(tables), ("units", units)]
    found = answer_of("verdict", pairs, lambda _line: None)["answer"]
    report = fit_report(fitsim.fit(make_bowl(tables)), units=units, width=10_000)
    shown = {k: found[k] for k in ("line", "why", "rise", "settle", "pressing", "bowl", "turns", "saw")}
    assert _numbers([*shown.values(), found["margin_rows"]]) - _numbers(report) == set()
    assert found["line"] in report


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ('[board]\nthickness = "18 mm"\nacross = "110 mm"\n[cut]\ntilt = "6 deg"\n', "bowl"),
        ('[[ring]]\ntilt = "4 deg"\ndrop = "9.1 mm"\n[board]\nthickness = "18 mm"\n', "tests"),
    ],
)
def test_a_file_is_known_by_what_it_holds(client: TestClient, text: str, kind: str) -> None:
    """A bowl file and a file of tests are told apart by their keys, whatever their names."""
    found = client.post("/open", content=text.encode()).json()
    assert found["kind"] == kind
    assert found["pairs"]


def test_readings_typed_and_opened_teach_the_same() -> None:
    """Tests go through the address: what they teach is what the command says of the same file."""
    rings = (f'[[ring]]\ntilt = "{t} deg"\ndrop = "{d} mm"\n' for t, d in ((4, 9.1), (9, 4.3)))
    text = '[board]\nthickness = "19 mm"\n' + "".join(rings)
    pairs = [*pairs_of_tables(SMALL), *opened_tests(text.encode(), where="t.toml"), ("units", "mm")]
    found = answer_of("tests", pairs, lambda _line: None)["answer"]
    results = learn(make_tests(tomllib.loads(text)))
    report = learned_report(results, units="mm", width=10_000)
    assert _numbers(found["told"]) <= _numbers(report)
    kept = dict(found["pairs"])
    assert float(kept["saw.kerf"].split()[0]) == pytest.approx(results.learned.saw.kerf_mm, abs=1e-3)


def test_the_map_is_drawn_and_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """The map comes as SVG with how far the bowl's own state reaches."""
    monkeypatch.setattr("fitsim.page.jobs.MAP_POINTS", 4)
    soft = {**SMALL, "use": {**SMALL["use"], "press": "40 N"}}  # a gentle press is soon worked out
    state = [*pairs_of_tables(soft), ("across", "tilt=4..8"), ("up", "press=20..60")]
    found = answer_of("map", state, lambda _line: None)["answer"]
    assert ET.fromstring(found["svg"]).tag.endswith("svg")
    assert "tilt:" in found["words"]


def test_the_year_takes_the_room_from_the_bowl_and_the_weather_from_a_file(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The sentences are those of the command; a weather file that is none is answered by its line."""
    room = [
        *pairs_of_tables(SMALL),
        ("room.humidity", "30 to 55 %"),
        ("opened", "left open"),
        ("since", "3"),
    ]
    kept: list[tuple[Any, ...]] = []

    def kept_seasons(bowl: fitsim.Bowl, place: Place, asked: Asked, **how: Any) -> SeasonAnswer:
        answer = seasons(bowl, place, asked, **how)
        kept.append((bowl, place, asked, answer))
        return answer

    monkeypatch.setattr("fitsim.page.year.seasons", kept_seasons)
    found = answer_of("year", room, lambda _line: None)["answer"]
    tables = {**SMALL, "room": {"humidity": "30 to 55 %"}}
    # What the command works out is worked out once: of this very bowl, air and question.
    ((bowl, place, asked, answer),) = kept
    assert bowl == make_bowl(tables)
    assert asked == Asked(opened="left open", since_month=3)
    air = read_place(tables, where="", typed={}).air_percent
    assert place.air_percent.tolist() == air.tolist()
    told = " ".join(seasons_report(answer, units="mm").split())
    assert [text for text in found["sentences"] if " ".join(text.split()).rstrip(".") not in told] == []
    assert found["lists"][1][0] == "Left open since March"
    assert len(found["tables"][1]["rows"]) == 12
    # Nothing is assumed silently: what the room, the pith and the board were taken for stands there too.
    granted = found["lists"][-1][1]
    assert [a.key for a in answer.assumptions if not any(a.value in line for line in granted)] == []
    assert [line for line in granted if line.startswith("pith, from the base ") and "ESTIMATE" in line]
    assert [line for line in granted if line.startswith("moisture when sawn ")]
    assert not re.search(r"--|board\.|room\.", " ".join(granted))
    wrong = answer_of("year", pairs_of_tables(SMALL), lambda _line: None, upload=b"no weather\n")
    assert "LOCATION" in wrong["problems"][0]["text"]
    none = answer_of("year", pairs_of_tables(SMALL), lambda _line: None)
    assert none["problems"][0]["key"] == "weather"


def test_a_failed_bowl_is_explained_as_by_the_command(monkeypatch: pytest.MonkeyPatch) -> None:
    """Causes, their chances and the next measurement are those of the command; nothing seen is told."""
    monkeypatch.setattr("fitsim.failure.bowl_emulator.SAMPLES", 16)  # few bowls like it pressed
    seen = {**SMALL, "seen": {"what": ["fell through at turn 2"]}, "measured": {"kerf": "0.8 mm"}}
    kept: list[tuple[Any, ...]] = []

    def kept_why(bowl: fitsim.Bowl, observed: Observed, **how: Any) -> WhyFailed:
        answer = why_failed(bowl, observed, **how)
        kept.append((bowl, observed, {name: of for name, of in how.items() if name != "progress"}, answer))
        return answer

    monkeypatch.setattr("fitsim.page.failed_bowl.why_failed", kept_why)
    found = answer_of("failed", pairs_of_tables(seen), lambda _line: None)["answer"]
    # What the command works out is worked out once: of this very bowl, what was seen, and every cause.
    ((bowl, observed, how, answer),) = kept
    assert bowl == make_bowl(seen)
    assert observed == read_observed(seen, plan_of(bowl))
    assert how == {"table": None}
    assert [c["chance"].split()[0] for c in found["causes"]] == [
        f"{100 * told.chance.chance:.0f}" for told in answer.told
    ]
    assert [n["key"] for n in found["next"]] == [f"measured.{n.measure.key}" for n in answer.next_readings]
    assert found["seen"] == ["fell through at turn 2"]
    assert found["planned"] == "6.0 deg on the scale, pressed with 120 N of the 120 N there is"
    share, count = found["others"]
    told = [float(c["chance"].split()[0]) for c in found["causes"]]
    assert sum(told) + float(share.split()[0]) == pytest.approx(100, abs=(len(told) + 1) / 2)
    assert count == f"{len(answer.every) - len(told)} others together"
    wrong = answer_of(
        "failed", pairs_of_tables({**SMALL, "seen": {"what": "exploded"}}), lambda _line: None
    )
    assert wrong["problems"][0]["key"] == "seen.what"
    nothing = answer_of("failed", pairs_of_tables(SMALL), lambda _line: None)
    assert "problems" in nothing


def test_a_quantity_no_map_has_is_answered() -> None:
    """What the map cannot vary is a problem, no failure."""
    found = answer_of("map", [*pairs_of_tables(SMALL), ("across", "colour=1..2")], lambda _line: None)
    assert "a key of the bowl file" in found["problems"][0]["text"]


@pytest.mark.parametrize(
    ("axes", "key", "said"),
    [
        ({"across": "tilt=x..14"}, "across", "an angle"),
        ({"up": "tilt=9..3"}, "up", "smaller first"),
        ({"across": "tilt=5..5"}, "across", "two values that differ"),
        ({"across": "tilt=2..9", "up": "tilt=3..4"}, "up", "another quantity than tilt"),
    ],
)
def test_what_is_wrong_with_a_map_stands_at_its_axis(axes: dict[str, str], key: str, said: str) -> None:
    """A bad end of an axis belongs to that axis, not to the bowl's field of that name."""
    found = answer_of("map", [*pairs_of_tables(SMALL), *axes.items()], lambda _line: None)
    (problem,) = found["problems"]
    assert problem["key"] == key
    assert said in problem["text"]
    assert not re.search(r"--|=", problem["text"])


@pytest.mark.parametrize(
    ("key", "typed", "whole"),
    [
        ("limits.overlap", "20 %", "0.2"),
        ("limits.friction_used", "87.5%", "0.875"),
        ("limits.split_chance", "1/2 %", "0.005"),
        ("use.friction", "30 %", "0.3"),
        ("use.friction", "30 to 42.5 %", "0.3 to 0.425"),
    ],
)
def test_a_share_is_taken_in_percent_as_it_is_shown(
    client: TestClient, key: str, typed: str, whole: str
) -> None:
    """A hundredth is a percent: the saved bowl is that of the plain number."""
    table, name = key.split(".")
    given, plain = ({**SMALL, table: {**SMALL.get(table, {}), name: value}} for value in (typed, whole))
    assert client.get(f"/now?{address(given, units='mm')}").status_code == 200
    saved = tomllib.loads(client.get(f"/bowl.toml?{address(given, units='mm')}").text)
    assert make_bowl(saved) == make_bowl(plain)


def test_a_refused_value_says_what_it_was_taken_for(client: TestClient) -> None:
    """0.7 under inches is 0.7 in also where that is too wide; what is no length is told apart from that."""
    inches = {**SMALL, "cut": {**SMALL["cut"], "kerf": "0.7", "base": "2,5 in"}}
    reply = client.get(f"/now?{address(inches, units='in')}")
    assert reply.status_code == 422
    assert reply.json()["typed"] == {"cut.kerf": "0.7 in"}
    assert reply.json()["unreadable"] == ["cut.base"]
    wide = {**SMALL, "cut": {**SMALL["cut"], "kerf": "0.7"}}
    found = client.get(f"/now?{address(wide, units='in')}").json()
    (problem,) = found["problems"]
    assert problem["key"] == "cut.kerf"  # 17.8 mm: no pitch is to blame
    assert "unit" in problem["text"]
    assert found["unreadable"] == []


@pytest.mark.parametrize(
    ("key", "written", "units", "reads"),
    [
        ("cut.kerf", "0.7 mm", "in", "about 0.028 in"),  # 0.02756
        ("cut.base", "76.2 mm", "in", "3 in"),
        ("cut.pitch", "0.45 in", "in", "about 29/64 in"),  # 0.453
        ("cut.pitch", "0.5 in", "in", "1/2 in"),
        ("use.press", "120 N", "in", "about 27 lbf"),  # 120 / 4.4482 = 26.98
        ("use.press", "27 lbf", "mm", "about 120 N"),  # 120.1
        ("use.press", "10 kgf", "mm", "about 98.1 N"),  # 98.0665
        ("use.press", "224.7 lbf", "mm", "about 1000 N"),  # 999.5
        ("use.press", "27 lbf", "in", None),
    ],
)
def test_a_value_reads_in_the_units_chosen(
    client: TestClient, key: str, written: str, units: str, reads: str | None
) -> None:
    """Beside a value in other units stands what it is in these, with "about" where that is rounded."""
    table, name = key.split(".")
    tables = {**SMALL, table: {**SMALL[table], name: written}}
    assert client.get(f"/now?{address(tables, units=units)}").json()["reads"].get(key) == reads


def test_what_was_learned_is_saved_as_a_file_of_its_own(client: TestClient) -> None:
    """Saved from the page, what tests taught is what it was, number by number; of nothing there is none."""
    text = "[[ring]]\ntilt = '4 deg'\ndrop = '9.1 mm'\n[[ring]]\ntilt = '9 deg'\ndrop = '4.3 mm'\n"
    tests = opened_tests(text.encode(), where="the file")
    found = answer_of("tests", [*pairs_of_tables(SMALL), *tests], lambda _line: None)["answer"]
    query = urlencode([*pairs_of_tables(SMALL), *found["pairs"]], quote_via=quote)
    saved = client.get(f"/learned.toml?{query}")
    assert saved.status_code == 200
    assert tomllib.loads(saved.text) == tomllib.loads(found["file"])
    assert client.get(f"/learned.toml?{address(SMALL)}").status_code == 422


def test_the_unit_of_a_reading_is_known(client: TestClient) -> None:
    """Whatever is measured on a bowl that failed has the unit in which a bare number is taken."""
    units = {key: unit for key, _what, unit in client.get("/words").json()["measures"]}
    assert (units["kerf"], units["tilt"], units["press"], units["nail"]) == ("mm", "deg", "N", "")
    assert units["base_moisture"] == "%"


def test_the_sheet_is_asked_for_as_on_the_command_line() -> None:
    """Paper follows the units, sides and copies the page's words; too many copies are refused."""
    asked = sheet_request(read_state([("units", "in"), ("copies", "3"), ("middle", "raised")]))
    assert (asked.paper, asked.copies, asked.handling.middle, asked.handling.lowered) == (
        "letter",
        3,
        "raised",
        "right",
    )
    with pytest.raises(fitsim.InputError, match="a number from 1 to 50"):
        sheet_request(read_state([("copies", "51")]))


PATHS = ["/now", "/line.svg", "/bowl.toml", "/units", "/"]

# Every key with values sensible, senseless and hostile.
keys = st.sampled_from(
    [f"{table}.{key}" for table in READERS for key in READERS[table]]
    + [*PAGE_WORDS, "name", "saw.kerf", "tests.ring", "tests.board", "a", ".", ""]
)
values = st.sampled_from(
    ["", "5 deg", "0.7 mm", "3/4 in", "1/0 in", "9e999 mm", "-1", "nan", "inf deg", "1 to 2 mm",
     "2 to 1 mm",
     "0", "90 deg", "1e-300", "0.0001 mm", "1000000 N", "yes", "\x00", "\ud7ff", "../../etc",
     "<svg onload=1>",
     "1" * 60]
) | st.text(max_size=20)  # fmt: skip


@settings(max_examples=60)
@given(
    st.lists(st.tuples(keys, values), max_size=8),
    st.sampled_from(PATHS),
)
def test_no_address_breaks_the_server(
    client: TestClient, changed: list[tuple[str, str]], path: str
) -> None:
    """Whatever stands in an address, the reply is an answer or a 4xx without a traceback."""
    given_keys = {key for key, _ in changed}
    kept = [pair for pair in pairs_of_tables(SMALL) if pair[0] not in given_keys]
    query = urlencode([*kept, *changed], quote_via=quote, errors="surrogatepass")
    reply = client.get(f"{path}?{query}")
    assert reply.status_code < 500
    assert "Traceback" not in reply.text
    if reply.headers["content-type"] == "application/json":
        json.loads(reply.text, parse_constant=pytest.fail)  # no NaN, no Infinity


@given(st.binary(max_size=200) | st.text(max_size=200).map(str.encode))
def test_no_file_breaks_the_server(client: TestClient, raw: bytes) -> None:
    """Whatever is opened, the reply is keys and values or a 4xx without a traceback."""
    reply = client.post("/open", content=raw)
    assert reply.status_code < 500
    assert "Traceback" not in reply.text


plain = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8)
nested = st.recursive(
    plain,
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.sampled_from(["tilt", "kerf", "wood", "x"]), inner, max_size=3)
    ),
    max_leaves=6,
)


@given(
    st.dictionaries(
        st.sampled_from(["board", "cut", "use", "saw", "ring", "slide", "friction", "name", "x"]), nested
    )
)
def test_no_toml_breaks_the_server(client: TestClient, tables: dict[str, Any]) -> None:
    """TOML with values of every kind in every place is opened or answered."""
    lines = [f"{key} = {_inline(value)}" for key, value in tables.items() if value is not None]
    reply = client.post("/open", content="\n".join(lines).encode("utf8", "replace"))
    assert reply.status_code < 500


def _inline(value: Any) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{k} = {_inline(v)}" for k, v in value.items() if v is not None) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(_inline(v) for v in value if v is not None) + "]"
    return json.dumps(value) if isinstance(value, bool | str) else repr(value)


def test_page_and_printed_pages_have_one_look(client: TestClient) -> None:
    """Tones and inks of the states, tones of the strip and the letters are those of the printed pages."""
    style, script = client.get("/page.css").text, client.get("/bowl.js").text
    for state in fitsim.STATES:
        tone, _, ink = LOOKS[state]
        rule = re.search(rf'\[data-state="{state}"\] {{(.*)}}', style)
        assert rule is not None, state
        assert tone in rule[1]
        assert ink in rule[1] or state == "locks"  # which has no hatch
    for tone in TONES:
        assert tone in style
        assert str([int(tone[i : i + 2], 16) for i in (1, 3, 5)]) in script
    letters = client.get("/sans.ttf")
    assert letters.headers["content-type"] == "font/ttf"
    assert letters.content[:4] == b"\x00\x01\x00\x00"  # the mark of a TrueType file, OpenType 1.9, "otff"


def test_the_bowl_in_space_has_the_slots_of_the_bowl() -> None:
    """Flat, wood of neighbouring turns is a slot apart at every height, and the faces lean by the tilt."""
    bowl = make_bowl(SPLITS)
    corners = np.reshape(flat_space(bowl)["states"][0]["corners"], (-1, 4, 3))
    radius = np.hypot(corners[:, :, 0], corners[:, :, 1])
    across = 0.72 / np.cos(np.radians(6.5)) - 2 * 0.02  # kerf in the plane of the board, less the film
    turn = flat_space(bowl)["nodes_per_turn"]
    gaps = radius[turn:, [0, 3]] - radius[:-turn, [1, 2]]
    assert gaps == pytest.approx(np.full(gaps.shape, across), abs=0.06)
    lean = radius[:, 3] - radius[:, 0]
    assert lean == pytest.approx(np.full(lean.shape, 17 * np.tan(np.radians(6.5))), abs=0.03)
    assert np.ptp(corners[:, :, 2]) == pytest.approx(17, abs=0.01)


def test_the_guide_is_that_of_the_command(client: TestClient) -> None:
    """Every page of the guide is served whole, in the order in which the command lists them."""
    pages = client.get("/guide").json()["pages"]
    assert [page["name"] for page in pages] == [page.name for page in guide_pages()]
    assert all(page["text"].startswith("# ") for page in pages)


def test_no_address_opens_a_file(client: TestClient, tmp_path: Path) -> None:
    """A bowl whose outline or wall is the name of a drawing is refused before the drawing is looked for."""
    drawing = tmp_path / "leaf.svg"
    drawing.write_text('<svg><path d="M 0 0 L 90 0 L 90 60 z"/></svg>', "utf8")
    for name in (str(drawing), str(tmp_path / "none.SVG "), "//host/share/a.svg"):
        for key, job in (("board.outline", "map"), ("want.wall", "want")):
            table, _, field = key.partition(".")
            tables = {**SMALL, table: {**SMALL.get(table, {}), field: name}}
            told = [
                client.get(f"/now?{address(tables)}").json(),
                client.post("/open", content=bowl_text(tables).encode()).json(),
                answer_of(job, pairs_of_tables(tables), lambda _line: None),
            ]
            for found in told:
                (problem,) = found["problems"]
                assert problem["key"] == key
                assert "opens no drawing" in problem["text"]


@pytest.mark.parametrize("outline", [{"outline": "oval", "length": "160 mm", "width": "120 mm"}])
def test_a_bowl_that_is_not_round_is_shown(client: TestClient, outline: dict[str, str]) -> None:
    """An oval board has its section as long as its plane cuts it, and its strip in space lies on it."""
    board = {"thickness": "18 mm", **outline}
    tables = {**SMALL, "board": board, "cut": {**SMALL["cut"], "base": "70 mm"}}
    found = client.get(f"/now?{address(tables, units='mm')}").json()["section"]
    assert 60 <= found["half_mm"] <= 80
    corners = np.reshape(flat_space(make_bowl(tables))["states"][0]["corners"], (-1, 3))
    assert np.abs(corners[:, 0]).max() == pytest.approx(80, abs=2)
    assert np.abs(corners[:, 1]).max() == pytest.approx(60, abs=2)


@cache
def planned() -> dict[str, Any]:
    """Cuts for a bowl wanted 14 mm high of the same board and pitch, told in inches."""
    wanted = [
        *pairs_of_tables(SMALL),
        ("want.rise", "14 mm"),
        ("want.keep", "board, pitch"),
        ("units", "in"),
    ]
    found: dict[str, Any] = answer_of("want", wanted, lambda _line: None)["answer"]
    return found


def test_a_cut_that_is_taken_is_the_one_told() -> None:
    """What is wanted leads to cuts; each comes as a whole bowl whose tilt is the one its sentence names."""
    found = planned()
    assert found["answers"]
    for answer in found["answers"]:
        tables = read_state(answer["pairs"]).tables
        (tilt,) = re.findall(r"Tilt the table ([\d.]+) deg", answer["sentence"])
        assert tables["cut"]["tilt"] == f"{tilt} deg"
        assert make_bowl(tables).board.across_mm == 110
        assert tables["want"]["rise"] == "14 mm"
    bare = [*pairs_of_tables(SMALL), ("want.rise", "14"), ("units", "mm")]
    assert read_state(bare).tables["want"]["rise"] == "14 mm"
    nothing = answer_of("want", pairs_of_tables(SMALL), lambda _line: None)
    assert nothing["problems"][0]["key"] == "want"


def test_the_opened_bowl_in_space_is_the_opening() -> None:
    """Round or oval, the states in space rise as the opening's own, and the worst place is its own."""
    oval = {"thickness": "18 mm", "outline": "oval", "length": "140 mm", "width": "112 mm"}
    for board in ({**SPLITS["board"], "across": "112 mm"}, oval):
        bowl = make_bowl({**SPLITS, "board": board, "cut": {**SPLITS["cut"], "base": "76 mm"}})
        opening = open_bowl(bowl, lowering=False)
        space = opening_space(bowl, opening)
        rises = [mean_rise_mm(opening.elastic, state) for state in opening.path]
        # To more figures than can move what is read on a rule: the verdict beside it is rounded once.
        assert [s["rise_mm"] for s in space["states"]][: len(rises)] == pytest.approx(rises, abs=1e-9)
        presses = [state.press_N for state in opening.path]
        assert [s["press_N"] for s in space["states"]][: len(rises)] == pytest.approx(presses, abs=1e-9)
        if space["end"] == "let go":
            assert space["states"][-1]["rise_mm"] == pytest.approx(opening.rise_at_rest_mm, rel=1e-9)
        worst = opening.stress.worst
        assert space["worst"]["element"] == opening.stress.element[worst.section]
        assert plain_words(worst.cause) in space["worst"]["words"]


def test_a_cut_stands_under_its_own_number() -> None:
    """Every row of the table has a cell for what is wanted, empty where nothing was, and for each cut."""
    found = planned()
    table = found["table"]
    assert table["heads"] == ["", "wanted", *(str(n + 1) for n in range(len(found["answers"])))]
    assert {len(row) for row in table["rows"]} == {len(table["heads"])}
    rows = {row[0]: row[1:] for row in table["rows"]}
    assert rows["rise"][0] == "35/64 in"  # 14 mm / 25.4 = 0.551, nearest sixty-fourth 35
    assert rows["tilt on the scale"][0] == ""
    tilts = [dict(answer["pairs"])["cut.tilt"].split()[0] for answer in found["answers"]]
    shown = [float(cell.split()[0]) for cell in rows["tilt on the scale"][1:]]
    assert shown == pytest.approx([float(tilt) for tilt in tilts], abs=0.006)
    assert not re.search(r"e-\d\d", json.dumps(rows))


def test_what_was_taken_for_granted_is_said_in_words_and_units() -> None:
    """Each assumption has a name and not its key, and its lengths are in the page's units."""
    pairs = [
        *pairs_of_tables(SMALL), ("units", "in"), ("tests.ring", "tilt=4 deg; drop=9.1 mm"),
        ("tests.slide", "angle=21 deg"),
    ]  # fmt: skip
    found = answer_of("tests", pairs, lambda _line: None)["answer"]
    rows = {name: taken for name, taken, _source in found["granted"]["rows"]}
    assert rows["how well a drop is read"] == "0.016 in (0.008 in to 0.039 in)"  # 0.4, 0.2, 1 mm
    assert rows["how well the angle of sliding is read"] == "1.5 deg (0.5 deg to 3 deg)"
    text = json.dumps(found["told"])
    assert not re.search(r"ring\.|saw\.|chi-square|Taken for granted|At the saw|Tests at the bench", text)
    steps = answer_of("testing", pairs, lambda _line: None)["answer"]["steps"]
    every = " ".join(line for _title, lines in steps for line in lines)
    assert "[[" not in every
    assert "add each angle" in every
    assert len(found["cautions"]) > 6


def test_every_kind_of_test_has_names_for_what_it_takes_for_granted() -> None:
    """No key of a file of tests is shown for want of a name."""
    tables: dict[str, Any] = {
        "board": {"thickness": "19 mm", "wood": "cherry", "finish": "oil"},
        "ring": [{"tilt": "4 deg", "drop": "9 mm"}], "slot": [{"width": "0.7 mm"}],
        "bevel": [{"tilt": "4 deg", "gauge": "4.2 deg"}], "slide": [{"angle": "20 deg"}],
        "break": [{"load": "4.2 kg", "width": "10 mm", "thickness": "6 mm", "span": "60 mm"}],
        "oven": [{"wet": "41 g", "dry": "38 g"}], "meter": [{"reading": "8 %"}],
    }  # fmt: skip
    made = make_tests(tables)
    assert made.cuts is not None
    assert {a.key for a in (*made.assumptions, *made.cuts.assumptions)} <= set(GRANTED)


def test_the_letters_are_served_without_what_draws_with_them() -> None:
    """Serving its letters the server loads no matplotlib, which would hold up everything else."""
    code = (
        "import sys, fitsim.page.server as s; from starlette.testclient import TestClient as T; "
        "a = s.page_app(hosts=('x',), start={'board': {}}); "
        "print(T(a, base_url='http://x').get('/sans.ttf').status_code, "
        "'matplotlib' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["200", "False"]


def test_a_bowl_pressed_ahead_is_not_pressed_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """The worker's first press is that of the page's first verdict, whatever the page adds to it."""
    pressed: list[Any] = []
    real = jobs.open_bowl

    def counted(bowl: Any, **words: Any) -> Any:
        pressed.append((bowl, words))
        return real(bowl, **words)

    monkeypatch.setattr(jobs, "open_bowl", counted)
    jobs.open_ahead(pairs_of_tables(SMALL))
    jobs.verdict_job(read_state([*pairs_of_tables(SMALL), ("units", "in")]), lambda _news: None)
    assert len(pressed) == 2
    assert pressed[0] == pressed[1]  # the same bowl and words: the strip's own memory answers the second
    jobs.open_ahead([("cut.tilt", "6 N")])  # what is wrong is told when it is asked about
    assert len(pressed) == 2
