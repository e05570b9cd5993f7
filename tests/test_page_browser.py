"""The page in a real browser without a screen: by mouse, by keyboard alone, and by a reader's rules."""

import re
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlencode

import pypdfium2
import pytest
from page_browser import browser_path, served
from test_weather import invented_rows, written

import fitsim
from fitsim.assume import demo_tables, make_bowl
from fitsim.pagestate import pairs_of_tables
from fitsim.weather import read_epw

sync_api = pytest.importorskip(
    "playwright.sync_api", reason="playwright is not installed: pip install '.[test]'"
)
axe = pytest.importorskip("axe_playwright_python.sync_playwright")

pytestmark = pytest.mark.skipif(
    browser_path() is None,
    reason="no browser here; on Debian: apt-get install chromium, or name one in FITSIM_BROWSER",
)

SMALL: dict[str, Any] = {
    "name": "A turn and a half",
    "board": {"thickness": "12 mm", "across": "150 mm", "wood": "walnut"},
    "cut": {"tilt": "6 deg", "kerf": "0.6 mm", "pitch": "10 mm", "base": "110 mm"},
    "use": {"friction": "0.45", "press": "40 N", "film": "0 mm"},
}
"""Locks by both models; a press of its strip takes about a second."""

BARE_WAIT_ms = 20_000


def at(base: str, tables: dict[str, Any] = SMALL, *, quiet: bool = True, **page: str) -> str:
    """The page's address with a bowl in it; quiet: slow answers only when asked for."""
    pairs = [*pairs_of_tables(tables), *page.items(), *([("slow", "asked")] if quiet else [])]
    return f"{base}/?{urlencode(pairs, quote_via=quote)}"


@pytest.fixture(scope="module")
def base() -> Iterator[str]:
    """Address of a page served for these tests."""
    with served() as (address, _):
        yield address


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """A browser without a screen."""
    with sync_api.sync_playwright() as driver:
        opened = driver.chromium.launch(executable_path=browser_path(), args=["--no-sandbox"])
        yield opened
        opened.close()


@pytest.fixture
def page(browser: Any, base: str) -> Iterator[Any]:
    """A new window of a desk's width, with everything it asks of any machine written down."""
    context = browser.new_context(viewport={"width": 1280, "height": 900}, accept_downloads=True)
    opened = context.new_page()
    opened.set_default_timeout(BARE_WAIT_ms)
    opened.asked, opened.errors, opened.given_up = [], [], []
    opened.on("requestfailed", lambda request: opened.given_up.append(request.url))
    opened.on("request", lambda request: opened.asked.append(request.url))
    opened.on("pageerror", lambda error: opened.errors.append(str(error)))
    yield opened
    assert not opened.errors
    assert {
        url.split("?")[0] for url in opened.asked if not url.startswith((base, "blob:", "data:"))
    } == set()
    assert context.cookies() == []
    context.close()


def show(page: Any, address: str) -> None:
    """Open an address and wait for its first verdict."""
    page.goto(address)
    wait(page, "document.querySelector('#drawing svg')")


def wait(page: Any, script: str, *given: Any, timeout_s: float = 20) -> None:
    """Wait until a script says yes; the page's own rules forbid the driver's way of doing this."""
    until = time.monotonic() + timeout_s
    while not page.evaluate(script, *given):
        assert time.monotonic() < until, script
        page.wait_for_timeout(50)


def serious_findings(page: Any) -> list[tuple[str, str]]:
    """What the accessibility rules find serious or critical: the rule and the first place."""
    found = axe.Axe().run(page).response["violations"]
    return [(v["id"], v["nodes"][0]["html"][:200]) for v in found if v["impact"] in ("serious", "critical")]


def verdict_is(page: Any, words: str) -> None:
    """Wait for a verdict."""
    wait(page, "w => document.querySelector('#verdict').textContent === w", words)


def put(page: Any, field: str, text: str) -> None:
    """Write into a field as a maker would, in place of what stands there."""
    page.fill(field, text)


def test_moving_the_tilt_changes_verdict_and_drawing(page: Any, base: str) -> None:
    """The slider of the tilt moves verdict, rise and section at once, and the words are the command's."""
    show(page, at(base))
    verdict_is(page, "LOCKS")
    before, rise = page.inner_html("#drawing"), page.inner_text("#rise")
    page.evaluate("""() => { const s = document.querySelector('[data-key="cut.tilt"] [type=range]');
        s.value = 1.5; s.dispatchEvent(new Event('input', {bubbles: true})); }""")
    verdict_is(page, "FALLS THROUGH")
    assert page.input_value("#f-tilt") == "1.5 deg"
    assert page.inner_html("#drawing") != before
    assert page.inner_text("#rise") != rise
    steep = {**SMALL, "cut": {**SMALL["cut"], "tilt": "1.5 deg"}}
    answer = fitsim.fit(make_bowl(steep), rigid=True)
    assert answer.verdict.state == "falls through"
    assert "falls through" in page.text_content("#drawing desc") or "falls through" in page.inner_html(
        "#drawing"
    )


def test_the_slow_answers_follow_by_themselves(page: Any, base: str) -> None:
    """At rest the strip is pressed and the safe tilts drawn under the slider, where the words say."""
    show(page, at(base, quiet=False))
    wait(page, "document.querySelector('#pressing tr')", timeout_s=60)
    assert "press it needs to hold" in page.locator("#pressing th").all_inner_texts()
    assert "rests on the springy strip" in page.inner_text("#rests-on")
    wait(page, "document.querySelector('.spans .safe')", timeout_s=60)
    words = page.inner_text("#tilts")
    low, high = (float(v) for v in words.split("from ")[1].split(" deg")[0].split(" to "))
    left, width = page.evaluate("""() => { const s = document.querySelector('.spans .safe');
        return [parseFloat(s.style.left), parseFloat(s.style.width)]; }""")
    assert left / 100 * 20 == pytest.approx(low, abs=0.06)
    assert (left + width) / 100 * 20 == pytest.approx(min(high, 20), abs=0.06)
    assert serious_findings(page) == []


def test_a_slow_answer_can_be_stopped(page: Any, base: str) -> None:
    """Stop ends the work, and it can be asked for again; the demonstration takes many seconds."""
    show(page, at(base, demo_tables()))
    page.click("#pressed .start")
    wait(page, "/Pressing/.test(document.querySelector('#pressed .told').textContent)")
    page.click("#pressed .stop")
    assert page.inner_text("#pressed .told") == "Stopped."
    page.wait_for_timeout(200)
    assert [url for url in page.given_up if url.startswith(f"{base}/pressed?")]
    assert page.evaluate("document.activeElement.className") == "start"
    assert not page.is_visible("#pressed progress")


def test_a_bad_value_shows_its_error_beside_the_field(page: Any, base: str) -> None:
    """The command line's words stand under the field and are tied to it; mended, they are gone."""
    show(page, at(base))
    put(page, "#f-kerf", "0,7 mm")
    page.wait_for_selector("#f-kerf[aria-invalid=true]")
    told = page.inner_text("#f-kerf-wrong")
    with pytest.raises(fitsim.InputError) as caught:
        make_bowl({**SMALL, "cut": {**SMALL["cut"], "kerf": "0,7 mm"}})
    assert told == str(caught.value)
    assert "f-kerf-wrong" in page.get_attribute("#f-kerf", "aria-describedby")
    wait(page, "t => document.querySelector('#said').textContent.includes(t)", told)
    put(page, "#f-kerf", "0.7 mm")
    page.wait_for_selector("#f-kerf:not([aria-invalid])")
    assert page.inner_text("#f-kerf-wrong") == ""


def test_the_main_job_by_keyboard_alone(page: Any, base: str) -> None:
    """From the top: skip to the controls, change the tilt with the arrows, save with Enter."""
    show(page, at(base))
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.keyboard.press("Enter")
    for _ in range(40):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.getAttribute('aria-label')") == "Tilt, slider":
            break
    assert page.evaluate("document.activeElement.getAttribute('aria-label')") == "Tilt, slider"
    for _ in range(3):
        page.keyboard.press("ArrowRight")
    assert page.input_value("#f-tilt") == "6.3 deg"
    assert page.evaluate("document.activeElement.getAttribute('aria-valuetext')") == "6.3 deg"
    wait(page, "location.search.includes('6.3')")
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.id") == "save":
            break
    with page.expect_download() as saved:
        page.keyboard.press("Enter")
    assert 'tilt = "6.3 deg"' in Path(saved.value.path()).read_text("utf8")


def test_save_and_reopen_give_the_same_bowl(page: Any, base: str, tmp_path: Path) -> None:
    """A saved file opened in another page gives the same bowl, and the command reads it."""
    show(page, at(base))
    put(page, "#f-pitch", "3/8 in")
    wait(page, "location.search.includes('3%2F8%20in')")
    with page.expect_download() as saved:
        page.click("#save")
    path = tmp_path / "bowl.toml"
    saved.value.save_as(path)
    bowl = fitsim.read_bowl(path)
    assert bowl == make_bowl({**SMALL, "cut": {**SMALL["cut"], "pitch": "3/8 in"}})
    first = page.evaluate("location.search")
    other = page.context.new_page()
    show(other, at(base, demo_tables()))
    other.set_input_files("#open-bowl", path)
    wait(other, "t => location.search === t", first)


def test_every_state_has_its_address(page: Any, base: str) -> None:
    """An address opened anew shows the same fields, units and options."""
    show(page, at(base, units="in"))
    put(page, "#f-tilt", "6 deg; 6.5 deg")
    page.select_option("#middle", "raised")
    wait(page, "location.search.includes('middle=raised') && location.search.includes('6.5')")
    address = page.url
    other = page.context.new_page()
    show(other, address)
    assert other.input_value("#f-tilt") == "6 deg; 6.5 deg"
    assert other.input_value("#middle") == "raised"
    assert other.is_checked("#units input[value=in]")


def test_units_switch_and_leave_the_bowl_alone(page: Any, base: str) -> None:
    """Switching to inches rewrites what has a mark on the rule, and says how the rest reads."""
    tables = {**SMALL, "board": {**SMALL["board"], "across": "152.4 mm"}}
    show(page, at(base, tables))
    page.check("#units input[value=in]")
    wait(page, "document.querySelector('#f-across').value === '6 in'")
    assert page.input_value("#f-thickness") == "12 mm"
    wait(page, "document.querySelector('#f-thickness-reads').textContent === 'that is 15/32 in'")
    assert page.inner_text("#rise").endswith(" in")


def test_two_pages_do_not_disturb_each_other(page: Any, base: str) -> None:
    """Two windows with two bowls each keep and answer their own."""
    other = page.context.new_page()
    show(page, at(base))
    show(other, at(base, {**SMALL, "name": "The other", "cut": {**SMALL["cut"], "tilt": "1.5 deg"}}))
    verdict_is(page, "LOCKS")
    verdict_is(other, "FALLS THROUGH")
    put(page, "#f-press", "90 N")
    wait(page, "location.search.includes('90%20N')")
    assert "1.5%20deg" in other.evaluate("location.search")
    assert other.input_value("#f-press") == "40 N"


def test_the_sheets_open_as_pdf(page: Any, base: str, tmp_path: Path) -> None:
    """The download is a PDF with bench sheet and pattern at the paper's own size."""
    show(page, at(base, rigid="yes"))
    page.select_option("#paper", "a4")
    with page.expect_download(timeout=60_000) as sheets:
        page.click("[data-job=sheets] .start")
    path = tmp_path / "sheet.pdf"
    sheets.value.save_as(path)
    opened = pypdfium2.PdfDocument(path)
    assert len(opened) >= 2
    assert opened[0].get_size() == pytest.approx((595.3, 841.9), abs=0.5)  # ISO 216: 210 x 297 mm
    opened.close()


def test_the_map_is_drawn(page: Any, base: str) -> None:
    """The map appears with its words, over the quantities asked for."""
    show(page, at(base))
    put(page, "#across", "tilt=4..8")
    page.click("[data-job=map] .start")
    wait(page, "document.querySelector('#map img').naturalWidth > 0", timeout_s=60)
    assert "tilt:" in page.inner_text("#map figcaption")


def test_the_year_with_a_dropped_in_weather_file(page: Any, base: str, tmp_path: Path) -> None:
    """A weather file of this window is followed; a room that cannot be read is marked at its field."""
    show(page, at(base))
    put(page, "#f-heated", "20")
    page.click("[data-job=year] .start")
    page.wait_for_selector("#f-heated[aria-invalid=true]")
    assert "room.heated" in page.inner_text("#f-heated-wrong")
    put(page, "#f-heated", "20 C")
    path = written(tmp_path, invented_rows())
    page.set_input_files("#weather", path)
    page.click("[data-job=year] .start")
    wait(page, "document.querySelector('#year img')?.naturalWidth > 0", timeout_s=60)
    assert page.inner_text("#year figcaption") == read_epw(path).place
    assert "room.heated=20%20C" in page.evaluate("location.search")
    assert serious_findings(page) == []


def test_the_failed_bowl_is_a_conversation(page: Any, base: str) -> None:
    """What was seen leads to a question; its answer stands in the address and leads to the next."""
    show(page, at(base))
    page.select_option("#seen-what", "fell through")
    put(page, "#seen-turn", "2")
    page.click("#seen-add")
    page.click("[data-job=failed] .start")
    wait(page, "document.querySelector('#failed .ask')", timeout_s=60)
    assert page.evaluate("document.activeElement === document.querySelector('#failed h3')")
    assert serious_findings(page) == []
    asked = page.inner_text("#failed .ask label")
    assert asked.startswith("Measure next: bevel gauge")
    first, second = page.query_selector_all("#failed .ask input")
    first.fill("3.1")
    second.fill("2.9")
    page.keyboard.press("Enter")
    wait(page, "document.querySelectorAll('#findings li').length === 3")
    address = page.evaluate("location.search")
    assert sorted(re.findall(r"measured\.(tilt|tilt_inner)=([\d.]+)%20deg", address)) in (
        [("tilt", "3.1"), ("tilt_inner", "2.9")],
        [("tilt", "2.9"), ("tilt_inner", "3.1")],
    )
    wait(
        page,
        "q => !document.querySelector('#failed .ask label')?.textContent.startsWith(q)",
        asked,
        timeout_s=60,
    )
    page.click("#findings button >> nth=0")
    assert "seen.what" not in page.evaluate("location.search")


def test_killing_the_server_loses_nothing(browser: Any) -> None:
    """The page says that it is gone; the bowl stands in the address, and another server takes it up."""
    with served() as (base, process):
        opened = browser.new_page()
        opened.goto(at(base))
        verdict_is(opened, "LOCKS")
        process.kill()
        process.wait()
        put(opened, "#f-tilt", "6.4 deg")
        wait(opened, "document.querySelector('#problems').textContent.includes('does not answer')")
        wait(opened, "location.search.includes('6.4')")
        kept = opened.evaluate("location.search")
    with served() as (again, _):
        opened.goto(f"{again}/{kept}")
        verdict_is(opened, "LOCKS")
        assert opened.input_value("#f-tilt") == "6.4 deg"
        opened.close()


@pytest.mark.parametrize(("scheme", "width"), [("dark", 390), ("light", 1280)])
def test_no_serious_finding_of_the_accessibility_rules(
    browser: Any, base: str, scheme: str, width: int
) -> None:
    """Names, roles, contrast and structure: nothing serious by the rules, a field in error included."""
    opened = browser.new_page(viewport={"width": width, "height": 844}, color_scheme=scheme)
    show(opened, at(base, {**SMALL, "cut": {**SMALL["cut"], "tilt": "1.5 deg"}}))
    opened.evaluate("document.querySelector('details').open = true")
    for _ in range(2):
        assert serious_findings(opened) == []
        put(opened, "#f-kerf", "0,7 mm")
        opened.wait_for_selector("#f-kerf[aria-invalid=true]")
    opened.close()


@pytest.mark.parametrize("width", [320, 390, 1280])
def test_nothing_sticks_out_at_any_width(browser: Any, base: str, width: int) -> None:
    """No part of the page is wider than the window, nor is one control's target less than 24 px high."""
    opened = browser.new_page(viewport={"width": width, "height": 844})
    show(opened, at(base))
    wait(opened, "document.querySelector('#saw-table td')")
    assert opened.evaluate("document.documentElement.scrollWidth") <= width
    low = opened.evaluate("""() => [...document.querySelectorAll('input, button, select, .button')]
        .filter((e) => !['range', 'radio', 'checkbox'].includes(e.type))
        .filter((e) => e.offsetParent && e.getBoundingClientRect().height < 24).map((e) => e.id)""")
    assert low == []
    opened.close()


def test_the_stage_leaves_room_on_a_phone(browser: Any, base: str) -> None:
    """On a phone verdict and section stay in view and leave the lower half to the controls."""
    opened = browser.new_page(viewport={"width": 390, "height": 844})
    show(opened, at(base))
    opened.evaluate("document.querySelector('#f-tilt').scrollIntoView({block: 'end'})")
    box = opened.locator(".stage").bounding_box()
    assert box["y"] >= -1
    assert box["height"] < 0.5 * 844
    opened.close()


def test_printed_it_holds_bowl_and_verdict(page: Any, base: str, tmp_path: Path) -> None:
    """Printed, the page holds verdict, section and the values of the bowl, and no buttons."""
    show(page, at(base))
    page.emulate_media(media="print")
    assert page.is_visible("#verdict")
    assert page.is_visible("#drawing svg")
    assert page.is_visible("#f-tilt")
    assert not page.is_visible("#sheet-options")
    assert not page.is_visible('[data-key="cut.tilt"] [type=range]')
