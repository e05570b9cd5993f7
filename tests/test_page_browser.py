"""The page in a real browser without a screen: by mouse, by keyboard alone, and by a reader's rules."""

import math
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
from fitsim.bowl.elastic import open_bowl
from fitsim.bowlfile.defaults import demo_tables, make_bowl
from fitsim.bowlfile.text import bowl_text
from fitsim.page.answers import middle_object
from fitsim.page.space import flat_space
from fitsim.page.state import pairs_of_tables
from fitsim.pattern.layout import Handling, line_to_follow
from fitsim.report.verdict_words import verdict_line
from fitsim.saw.kerf_and_scale import Saw
from fitsim.saw.saw_file import saw_text

sync_api = pytest.importorskip(
    "playwright.sync_api", reason="playwright is not installed: pip install '.[test]'"
)
axe = pytest.importorskip("axe_playwright_python.sync_playwright")

pytestmark = pytest.mark.skipif(
    browser_path() is None,
    reason="no browser: apt-get install chromium-headless-shell (Debian), or name one in FITSIM_BROWSER",
)

SMALL: dict[str, Any] = {
    "name": "A turn and a half",
    "board": {"thickness": "12 mm", "across": "150 mm", "wood": "walnut"},
    "cut": {"tilt": "6 deg", "kerf": "0.6 mm", "pitch": "10 mm", "base": "110 mm"},
    "use": {"friction": "0.45", "press": "40 N", "film": "0 mm"},
}
"""Its strip is pressed within a second."""

THICK: dict[str, Any] = {
    "name": "Two turns",
    "board": {"thickness": "17 mm", "across": "96 mm", "wood": "cherry"},
    "cut": {"tilt": "5 deg", "kerf": "0.7 mm", "pitch": "8 mm", "base": "64 mm"},
    "use": {"friction": "0.4", "press": "95 N", "film": "0 mm"},
}
"""Dozens like it are pressed in a third of the time, which a conversation about a failed bowl asks for."""

BARE_WAIT_ms = 20_000


def at(base: str, tables: dict[str, Any] = SMALL, *, quiet: bool = True, **page: str) -> str:
    """The page's address with a bowl in it; quiet: slow answers only when asked for."""
    pairs = [*pairs_of_tables(tables), *page.items(), *([("slow", "asked")] if quiet else [])]
    return f"{base}/?{urlencode(pairs, quote_via=quote)}"


@pytest.fixture(scope="module")
def base(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Address of a page served for these tests."""
    path = tmp_path_factory.mktemp("page") / "small.toml"
    path.write_text(bowl_text(SMALL), "utf8")
    with served(str(path)) as (address, _):
        yield address


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """A browser without a screen."""
    with sync_api.sync_playwright() as driver:
        opened = driver.chromium.launch(
            executable_path=browser_path(), args=["--no-sandbox", "--renderer-process-limit=1"]
        )
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
    """Open an address and wait until its fields are read."""
    page.goto(address)
    wait(page, "typeof places === 'object' && Object.keys(places).length > 0")


def settle(page: Any, address: str) -> None:
    """Open an address and wait for its verdict on the strip."""
    show(page, address)
    wait(page, VERDICT_THERE, timeout_s=60)


VERDICT_THERE = """!document.body.classList.contains('old') && !document.body.classList.contains('middle')
    && document.querySelector('#why').textContent !== '' && space.bowl !== null"""


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


def put(page: Any, field: str, text: str) -> None:
    """Write into a field as a maker would, in place of what stands there."""
    page.fill(field, text)


def go(page: Any, place: str) -> None:
    """Go to a place, in one step."""
    page.click(f"#places a[data-place={place}]")
    assert page.is_visible(f"#place-{place}")


def middle_of(page: Any, css: str) -> tuple[float, float]:
    """Middle of a part on the screen. [px]"""
    box = page.locator(css).bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def drag(page: Any, css: str, across: float, up: float = 0.0) -> None:
    """Drag a part by the mouse. [px]"""
    x, y = middle_of(page, css)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + across / 2, y - up / 2)
    page.mouse.move(x + across, y - up)
    page.mouse.up()


def test_the_verdict_is_the_strips_and_old_while_a_control_moves(page: Any, base: str) -> None:
    """A moved control makes the verdict visibly old at once; at rest the strip's follows by itself."""
    settle(page, at(base, quiet=False))
    before = page.inner_text("#verdict")
    answer = fitsim.fit(make_bowl(SMALL))
    assert before == verdict_line(answer).split(": ")[0]
    put(page, "#f-tilt", "1.5")
    assert page.evaluate("document.body.classList.contains('old')")
    assert "before your last change" in page.inner_text("#age")
    wait(page, VERDICT_THERE, timeout_s=60)
    steep = {**SMALL, "cut": {**SMALL["cut"], "tilt": "1.5 deg"}}
    line = verdict_line(fitsim.fit(make_bowl(steep)))
    assert page.inner_text("#verdict") == line.split(": ")[0]
    assert page.get_attribute("#plate", "data-state") == "falls through"
    assert page.inner_text("#age") == ""
    assert page.evaluate("space.bowl.states.at(-1).name") == "falls through"


def test_the_bowl_turns_under_mouse_and_keys(page: Any, base: str) -> None:
    """Dragging turns the bowl as far as the hand goes, arrow keys turn it too, and the picture changes."""
    settle(page, at(base, quiet=False))
    picture = "document.querySelector('#space canvas').toDataURL()"
    first, yaw = page.evaluate(picture), page.evaluate("space.yaw")
    drag(page, "#space canvas", 60, 20)
    page.wait_for_timeout(100)
    assert page.evaluate("space.yaw") > yaw
    assert page.evaluate(picture) != first
    page.focus("#space canvas")
    lift = page.evaluate("space.lift")
    page.keyboard.press("ArrowDown")
    assert page.evaluate("space.lift") > lift
    page.keyboard.press("Home")
    assert page.evaluate("[space.yaw, space.lift]") == page.evaluate(
        "(() => { const s = new Space(document.createElement('canvas')); return [s.yaw, s.lift]; })()"
    )


RECTANGLE: dict[str, Any] = {
    **SMALL,
    "board": {"thickness": "12 mm", "outline": "rectangle", "length": "203 mm", "width": "117 mm"},
    "cut": {**SMALL["cut"], "base": "83 mm", "pitch": "9 mm"},
}
"""Nearly twice as long as wide."""


@pytest.mark.parametrize("tables", [SMALL, RECTANGLE], ids=["round", "rectangle"])
def test_the_bowl_lies_within_its_canvas_with_the_one_before(
    page: Any, base: str, tables: dict[str, Any]
) -> None:
    """From every side, from straight above and beside a far taller bowl before, no corner is cut off."""
    settle(page, at(base, tables, quiet=False))
    outermost = """([yaw, lift]) => { Object.assign(space, { yaw, lift }); space.paint();
        const all = [space.bowl, space.ghost].filter(Boolean).flatMap((bowl) => bowl.states)
            .flatMap(({ corners: c }) => Array.from({ length: c.length / 3 }, (_, i) =>
                space.seen(c[3 * i], c[3 * i + 1], c[3 * i + 2])));
        const ends = (k) => [Math.min(...all.map((p) => p[k])), Math.max(...all.map((p) => p[k]))];
        return [...ends(0), ...ends(1), space.canvas.clientWidth, space.canvas.clientHeight]; }"""
    taller = """() => { space.ghost = Space.made({ ...space.bowl, thickness_mm: 5 * space.bowl.thickness_mm,
        states: space.bowl.states.map((state) => ({ ...state, rise_mm: 5 * state.rise_mm,
            corners: state.corners.map((v, i) => (i % 3 === 2 ? 5 * v : v)) })) }); }"""
    for before in (False, True):
        if before:
            page.evaluate(taller)
        for yaw in (0.0, 0.7, 1.9, 2.6):
            for lift in (-1.52, -0.4, 0.0, 0.62, 1.1, 1.52):
                left, right, top, low, wide, high = page.evaluate(outermost, [yaw, lift])
                assert left > 0, (before, yaw, lift)
                assert right < wide, (before, yaw, lift)
                assert top > 0, (before, yaw, lift)
                assert low < high, (before, yaw, lift)
                assert max((right - left) / wide, (low - top) / high) > 0.4  # and is well seen


MARKS = """([yaw, lift, share]) => { Object.assign(space, { yaw, lift });
    space.bowl.worst.element = Math.floor(share * (space.bowl.states[0].corners.length / 12 - 2));
    const words = [], lines = [];
    let from = null;
    space.marks = (pen, ...more) => Space.prototype.marks.call(space, new Proxy(pen, {
        set: (real, name, value) => { real[name] = value; return true; },
        get: (real, name) => typeof real[name] !== 'function' ? real[name] : (...given) => {
            const [x, y] = given;
            if (name === 'moveTo') from = [x, y];
            if (name === 'lineTo') lines.push([words.length, ...from, x, y]);
            if (name === 'fillText') {
                const [word, at, low] = given, wide = real.measureText(word).width;
                words.push([real.textAlign === 'right' ? at - wide : at, low - 10, wide, 12]);
            }
            return real[name](...given); } }), ...more);
    space.paint();
    delete space.marks;
    return { words, lines }; }"""


def within(line: list[float], box: list[float]) -> bool:
    """Whether a line (x0, y0, x1, y1) runs through a box (left, top, width, height), by clipping it."""
    (x0, y0, x1, y1), (left, top, wide, high) = line, box
    first, last = 0.0, 1.0
    for step, low, up in ((x1 - x0, left - x0, left + wide - x0), (y1 - y0, top - y0, top + high - y0)):
        if step == 0 and not low < 0 < up:
            return False
        if step:
            first, last = max(first, min(low / step, up / step)), min(last, max(low / step, up / step))
    return first < last


@pytest.mark.parametrize(("width", "height"), [(390, 844), (1280, 900)])
def test_no_mark_s_line_runs_through_another_s_word(
    browser: Any, base: str, width: int, height: int
) -> None:
    """However it is turned and wherever it is worst, words stand apart and lines pass all others by."""
    opened = browser.new_page(viewport={"width": width, "height": height})
    settle(opened, at(base, quiet=False))
    for rank, lift in enumerate((-0.5, 0.35, 0.62, 1.0, 1.5)):
        for step in range(60):
            seen = [step * math.tau / 23 + rank, lift, step / 60]
            found = opened.evaluate(MARKS, seen)
            assert len(found["words"]) == len(found["lines"]) + 1 == 4  # root, nail, worst place; grain
            for own, word in enumerate(found["words"]):
                across = [line for of, *line in found["lines"] if of != own and within(line, word)]
                assert across == [], seen
                level = [word[0], word[1] + 6, word[0] + word[2], word[1] + 6]
                others = [*found["words"][:own], *found["words"][own + 1 :]]
                assert not any(within(level, other) for other in others), seen
    opened.close()


def test_the_slider_goes_along_the_calculated_path(page: Any, base: str) -> None:
    """At its ends and stops the picture is a calculated state; between two it says so."""
    settle(page, at(base, quiet=False))
    assert page.evaluate("space.between()[2]") == 1
    knots = page.evaluate("space.bowl.knots")
    rises = page.evaluate("space.bowl.states.map((s) => s.rise_mm)")
    pressing = [k for k in knots if k < 1000.001]
    top = max(rises[: len(pressing)])
    assert pressing == pytest.approx([1000 * r / top for r in rises[: len(pressing)]], abs=2)
    page.evaluate("moveTo(0)")
    assert page.inner_text("#path-words").startswith("Flat, as sawn")
    page.evaluate(f"moveTo({(knots[1] + knots[2]) / 2})")
    assert "between two calculated states" in page.inner_text("#path-words")
    page.focus("#path")
    page.keyboard.press("End")
    assert page.inner_text("#path-words").startswith("Let go")
    assert page.get_attribute("#path", "aria-valuetext") == page.inner_text("#path-words")


def test_the_slider_s_end_reads_as_the_verdict_does(page: Any, base: str) -> None:
    """At its end the slider tells the verdict's rise, even short of half a 64th: 2.6953 x 64 = 172.4992."""
    settle(page, at(base, quiet=False, units="in"))
    rise = page.inner_text("#rise")
    assert page.inner_text("#path-words").endswith(f"; rim up {rise}.")
    for rise_in, read in ((2.6953, "2 11/16 in"), (0.492182, "31/64 in"), (2.69532, "2 45/64 in")):
        page.evaluate("(mm) => { space.bowl.states.at(-1).rise_mm = mm; pathWords(); }", rise_in * 25.4)
        assert page.inner_text("#path-words").endswith(f"; rim up {read}.")


@pytest.mark.parametrize("end", ["let go", "springs back"])
def test_the_slider_s_words_stand_apart_at_every_width(page: Any, base: str, end: str) -> None:
    """The words for pressed and for the end are half a letter apart at least, pressed near 1000 of 1150."""
    settle(page, at(base, quiet=False))
    page.evaluate("(end) => { document.querySelector('#stop-end').textContent = end; }", end)
    for width in (1280, 1000, 820, 641, 390, 320):
        page.set_viewport_size({"width": width, "height": 900})
        written = """(css) => { const words = document.createRange();
            words.selectNodeContents(document.querySelector(css));
            const { left, right } = words.getBoundingClientRect(); return [left, right]; }"""
        words = (".stops span", "#stop-pressed", "#stop-end")
        flat, pressed, last = (page.evaluate(written, css) for css in words)
        slider = page.locator("#path").bounding_box()
        assert flat[1] + 6 < pressed[0]
        assert pressed[1] + 6 < last[0], width
        assert last[1] <= slider["x"] + slider["width"]
        place = slider["x"] + slider["width"] * 1000 / 1150
        assert pressed[0] < place + 1
        assert place - pressed[1] < last[1] - last[0]


def test_the_bowl_in_space_winds_as_the_usual_pattern_does(page: Any, base: str) -> None:
    """Flat, from straight above, its strip runs from the pattern's stop to its nail, its top faces seen."""
    settle(page, at(base, quiet=False))
    bowl = make_bowl(SMALL)
    rigid = fitsim.fit(bowl, rigid=True).rigid
    line = line_to_follow(
        rigid.slot,
        rigid.strip,
        thickness_mm=bowl.board.thickness_mm,
        across_mm=bowl.board.across_mm,
        outline=bowl.board.outline,
        handling=Handling(),
        height_share=0.0,
    )
    page.evaluate("space.yaw = 0; space.lift = Math.PI / 2; moveTo(0)")
    wait(page, "space.view && Math.abs(space.view.sl - 1) < 1e-9 && space.view.sy === 0")
    places = page.evaluate(
        """() => { const c = space.bowl.states[0].corners, v = space.view, n = c.length / 12;
            const seen = (i) => space.seen(c[i], c[i + 1], c[i + 2]);
            const on = ([x, y]) => [(x - v.x) / v.scale, (v.y - y) / v.scale];
            const drawn = [], shape = space.shape.bind(space);
            space.shape = (pen, quad, ...look) => { drawn.push(quad); shape(pen, quad, ...look); };
            space.paint();
            delete space.shape;
            const near = ([x, y], [u, v]) => Math.hypot(x - u, y - v) < 0.01;
            const is = (quad, a, b) =>
                quad.length === 4 && near(quad[0], seen(a)) && near(quad[1], seen(b));
            const faces = (i, j) => Array.from({ length: n - 1 }, (_, e) => 12 * e).map((at) =>
                drawn.some((quad) => is(quad, at + i, at + j)));
            return { ends: [0, n - 1].map((k) => on(seen(12 * k + 9))),
                     tops: faces(6, 9), bottoms: faces(0, 3),
                     rim: on(space.seen(...space.bowl.base.slice(0, 3))) }; }"""
    )
    for shown, place in zip(places["ends"], (line.stop_mm, line.nail_mm), strict=True):
        assert math.hypot(*(shown - place)) < 6  # of a bowl 150 mm across with its root across the grain
        assert math.hypot(*(shown - place * (1, -1))) > 20
    assert math.hypot(*(places["rim"] - line.stop_mm)) < 12
    assert all(places["tops"])
    assert not any(places["bottoms"])


@pytest.mark.parametrize(
    ("handle", "field", "across"),
    [("board.across", "#f-across", 20), ("cut.base", "#f-base", -14), ("cut.pitch", "#f-pitch", 9),
     ("cut.tilt", "#f-tilt", 6)],
)  # fmt: skip
def test_the_section_is_dragged_by_its_handles(
    page: Any, base: str, handle: str, field: str, across: float
) -> None:
    """Dragging a handle outward makes the quantity larger, and arrow keys step it back."""
    show(page, at(base))
    before = float(page.input_value(field).split()[0])
    drag(page, f'[data-handle="{handle}"] .knob', across)
    wait(page, "([f, b]) => parseFloat(document.querySelector(f).value) !== b", [field, before])
    after = float(page.input_value(field).split()[0])
    assert (after > before) is (across > 0)
    wait(
        page,
        "(v) => document.querySelector('[data-handle=\""
        + handle
        + "\"]').getAttribute('aria-valuetext') === v",
        page.input_value(field),
    )
    page.focus(f'[data-handle="{handle}"]')
    page.keyboard.press("ArrowLeft" if across > 0 else "ArrowRight")
    stepped = float(page.input_value(field).split()[0])
    assert abs(stepped - before) < abs(after - before)


def test_the_drawing_s_title_tells_the_measure_it_shows(page: Any, base: str) -> None:
    """An oval of 280 by 200 mm is drawn the long way, and its title has that measure alone."""
    oval = {
        "wood": "cherry",
        "thickness": "18 mm",
        "outline": "oval",
        "length": "280 mm",
        "width": "200 mm",
    }
    cut = {"tilt": "5 deg", "kerf": "0.7 mm", "pitch": "7 mm", "base": "90 mm", "root": "90 deg"}
    show(page, at(base, {"board": oval, "cut": cut}))
    title = page.evaluate("document.querySelector('#drawing svg title').textContent")
    assert re.match(r"Section: a board that measures 280(\.0)? mm in it, sawn at 5", title)
    assert "200" not in title


def test_undo_redo_and_the_browsers_back_restore(page: Any, base: str) -> None:
    """Every settled change is a step back; undo, redo and the browser's own buttons go along them."""
    show(page, at(base))
    put(page, "#f-tilt", "7")
    wait(page, "location.search.includes('7%20deg') || location.search.includes('tilt=7')")
    put(page, "#f-kerf", "0.8")
    wait(page, "location.search.includes('kerf=0.8')")
    page.click("#undo")
    wait(page, "document.querySelector('#f-kerf').value === '0.6 mm'")
    assert page.input_value("#f-tilt").startswith("7")
    page.go_back()
    wait(page, "document.querySelector('#f-tilt').value === '6 deg'")
    page.click("#redo")
    wait(page, "document.querySelector('#f-tilt').value.startsWith('7')")
    page.go_forward()
    wait(page, "document.querySelector('#f-kerf').value.startsWith('0.8')")
    assert page.is_disabled("#redo")


def test_going_back_shows_the_verdict_at_once(page: Any, base: str) -> None:
    """Undone, the verdict of the bowl before is there without another press."""
    settle(page, at(base, quiet=False))
    first = page.inner_text("#verdict"), page.inner_text("#rise")
    put(page, "#f-tilt", "1.5")
    page.keyboard.press("Tab")
    page.wait_for_timeout(400)
    wait(page, VERDICT_THERE, timeout_s=60)
    assert page.evaluate("ghostOf !== null")
    page.click("#undo")
    wait(page, "document.querySelector('#f-tilt').value === '6 deg'")
    page.wait_for_timeout(50)
    assert (page.inner_text("#verdict"), page.inner_text("#rise")) == first
    assert not page.evaluate("document.body.classList.contains('old')")


def test_two_bowls_stand_side_by_side(page: Any, base: str) -> None:
    """A bowl set beside stays while the other changes, turns with it, and can be gone back to."""
    settle(page, at(base, quiet=False))
    page.click("#set-beside")
    put(page, "#f-pitch", "11")
    page.keyboard.press("Tab")
    page.wait_for_timeout(400)
    wait(page, VERDICT_THERE, timeout_s=60)
    assert page.is_visible("#other canvas")
    assert page.evaluate("beside.bowl !== space.bowl")
    drag(page, "#space canvas", 30)
    assert page.evaluate("beside.yaw === space.yaw")
    page.click("#other-back")
    wait(page, "document.querySelector('#f-pitch').value === '10 mm'")


def test_only_a_bowl_with_its_own_verdict_is_set_beside(page: Any, base: str) -> None:
    """From the touch of a control until its verdict is whole no bowl can be set beside; then its own."""
    unnamed = {key: value for key, value in SMALL.items() if key != "name"}
    settle(page, at(base, unnamed, quiet=False))
    assert page.is_enabled("#set-beside")
    put(page, "#f-tilt", "1.5")
    assert page.is_disabled("#set-beside")
    page.evaluate("setBeside()")
    assert not page.is_visible("#other")
    wait(page, VERDICT_THERE, timeout_s=60)
    page.click("#set-beside")
    assert page.inner_text("#other-verdict") == "FALLS THROUGH"
    # The words are those of the plate, whichever they are, and no name leads to no semicolon.
    assert page.inner_text("#other-words").startswith(f"{page.inner_text('#rise-of')}: none. ")
    page.evaluate("document.querySelector('#rise-of').textContent = 'Rise elsewhere'; setBeside();")
    assert page.inner_text("#other-words").startswith("Rise elsewhere: none. ")
    assert "tilt 1.5 deg" in page.inner_text("#other-words")
    page.uncheck("#by-itself")
    put(page, "#f-tilt", "2,5 deg")
    page.wait_for_selector("#f-tilt[aria-invalid=true]")
    assert page.is_disabled("#set-beside")


def steep_at_middle() -> tuple[str, dict[str, Any]]:
    """A tilt at which the small bowl falls through, and what is told of it before the ends are tried."""
    bowl = make_bowl({**SMALL, "cut": {**SMALL["cut"], "tilt": "1.5 deg"}})
    return "1.5 deg", {"middle": middle_object(bowl, open_bowl(bowl, lowering=False), "mm")}


def test_what_is_still_of_the_bowl_before_says_so_while_the_ends_are_tried(page: Any, base: str) -> None:
    """Under a verdict at its middle, a bowl in space that is still the old one is marked as that."""
    settle(page, at(base, quiet=False))
    page.uncheck("#by-itself")
    tilt, middle = steep_at_middle()
    put(page, "#f-tilt", tilt)
    page.wait_for_timeout(400)
    assert page.title() == "Not worked out yet: A turn and a half"
    page.evaluate("(found) => takePart(found, verdictKey())", middle)
    assert page.inner_text("#verdict") == "FALLS THROUGH"
    assert page.title().startswith("FALLS THROUGH")
    assert "bowl in space is still the one before" in page.inner_text("#age")
    line = "getComputedStyle(document.querySelector('#path-words')).textDecorationLine"
    assert page.evaluate(line) == "line-through"
    assert "grayscale" in page.evaluate("getComputedStyle(document.querySelector('#space canvas')).filter")
    assert page.is_disabled("#set-beside")
    bowl = make_bowl({**SMALL, "cut": {**SMALL["cut"], "tilt": tilt}})
    page.evaluate("(found) => takePart(found, verdictKey())", {"space": flat_space(bowl)})
    assert page.inner_text("#age") == ""
    assert page.evaluate(line) == "none"
    assert page.is_disabled("#set-beside")  # the ends are still being tried


def test_a_verdict_given_up_before_its_ends_is_taken_up_again(page: Any, base: str) -> None:
    """Left at the middle it says that the ends were not tried, and can be asked for."""
    show(page, at(base))
    tilt, middle = steep_at_middle()
    put(page, "#f-tilt", tilt)
    page.wait_for_timeout(400)
    page.evaluate("(found) => { takePart(found, verdictKey()); leftOff(); }", middle)
    assert (
        page.evaluate("getComputedStyle(document.querySelector('.answer'), '::before').content") == "none"
    )
    assert page.inner_text("#depends").endswith("the ends were not tried")
    page.click("[data-job=verdict] .start")
    wait(page, VERDICT_THERE, timeout_s=60)
    assert page.inner_text("#verdict") == "FALLS THROUGH"


def test_places_are_one_step_away_and_remember(page: Any, base: str) -> None:
    """Each place is reached by one click, shows itself alone, is in the address, and keeps where it was."""
    show(page, at(base))
    page.evaluate("scrollTo(0, 400); document.querySelector('#places a[data-place=tilt]').click()")
    for place in ("saw", "map", "year", "failed", "want", "tests", "guide"):
        go(page, place)
        assert page.locator(".place:visible").count() == 1
        assert f"place={place}" in page.evaluate("location.search")
        assert page.is_visible("#verdict")
    go(page, "map")
    put(page, "#across-high", "12")
    go(page, "lock")
    assert page.evaluate("scrollY") == 400
    go(page, "map")
    assert page.input_value("#across-high") == "12"
    page.go_back()
    wait(page, "!document.querySelector('#place-lock').hidden")


def test_the_verdict_stays_in_sight_on_a_desk(page: Any, base: str) -> None:
    """However far the controls are read down, verdict and bowl stay on the screen."""
    show(page, at(base))
    page.evaluate("document.querySelector('#f-turn-moisture').scrollIntoView()")
    for css in ("#verdict", "#space canvas"):
        box = page.locator(css).bounding_box()
        assert box["y"] >= 0
        assert box["y"] + box["height"] <= 900


def test_a_bare_number_takes_the_fields_unit(page: Any, base: str) -> None:
    """5 in Tilt is 5 deg and 1/2 in Thickness half an inch; left, the fields show it whole."""
    show(page, at(base, units="in"))
    put(page, "#f-tilt", "5")
    wait(page, "document.querySelector('#f-tilt-reads').textContent === 'that is 5 deg'")
    page.focus("#f-thickness")
    wait(page, "document.querySelector('#f-tilt').value === '5 deg'")
    put(page, "#f-thickness", "1/2")
    page.keyboard.press("Tab")
    wait(page, "document.querySelector('#f-thickness').value === '1/2 in'")
    assert not page.locator("[aria-invalid=true]").count()


def typed(page: Any, field: str, text: str) -> None:
    """Type over what stands in a field, sign by sign."""
    page.click(field)
    page.keyboard.press("Control+a")
    page.keyboard.type(text)


def stands(page: Any, field: str, text: str) -> None:
    """Left, and with everything read, a field holds this."""
    page.keyboard.press("Tab")
    wait(page, "([field, text]) => document.querySelector(field).value === text", [field, text])
    page.wait_for_timeout(400)  # an answer that comes late must not write another
    assert page.input_value(field) == text


@pytest.mark.parametrize(
    ("field", "key", "text", "each"),
    [
        ("#f-kerf", "cut.kerf", "0.7 mm; 0.8", ["0.7 mm", "0.8 mm"]),
        ("#f-kerf", "cut.kerf", "0.72; 0.031 in", ["0.72 mm", "0.031 in"]),
        ("#f-tilt", "cut.tilt", "5 deg; 6 1/2", ["5 deg", "6 1/2 deg"]),
        ("#f-turn-moisture", "use.turn_moisture", "7.5; 9 %", ["7.5 %", "9 %"]),
    ],
)
def test_a_list_is_completed_value_by_value(
    page: Any, base: str, field: str, key: str, text: str, each: list[str]
) -> None:
    """Of one value for each turn those without a unit get it, and none is lost, in field and address."""
    show(page, at(base, units="mm"))
    page.evaluate("for (const more of document.querySelectorAll('details')) more.open = true")
    for pause_ms in (600, 0):  # read before its end is typed, which the second time is known already
        first, second = text.split(";")
        typed(page, field, first)
        page.wait_for_timeout(pause_ms)
        page.keyboard.type(f";{second}")
        stands(page, field, "; ".join(each))
        wait(
            page,
            "(at) => location.search.includes(at)",
            "&".join(f"{key}={quote(t, safe='')}" for t in each),
        )
        typed(page, field, each[0])
        stands(page, field, each[0])


def test_what_a_text_was_taken_for_is_written_over_no_other(page: Any, base: str) -> None:
    """A bare number that was read, and another text in its place: left at once, the other text stands."""
    show(page, at(base, units="mm"))
    for field, first, second, whole in (
        ("#f-thickness", "11.5", "13", "13 mm"),
        ("#f-kerf", "0.9", "0.032 in", "0.032 in"),
        ("#f-press", "77", "20 lbf", "20 lbf"),
    ):
        typed(page, field, first)
        wait(
            page,
            "(f) => /^that is [0-9.]+ (mm|N)$/.test(document.querySelector(`${f}-reads`).textContent)",
            field,
        )
        typed(page, field, second)
        stands(page, field, whole)


def test_an_answer_that_comes_late_completes_nothing_else(page: Any, base: str) -> None:
    """What is on its way when a field is written anew is learned for the text that was sent alone."""
    show(page, at(base, units="mm"))
    page.evaluate("""() => { const ask = fetch; fetch = async (...asked) => {
        const reply = await ask(...asked);
        await new Promise((go) => setTimeout(go, 500));
        return reply; }; }""")
    typed(page, "#f-thickness", "11.5")
    page.wait_for_timeout(200)
    typed(page, "#f-thickness", "13")
    stands(page, "#f-thickness", "13 mm")
    assert (
        page.evaluate(
            "[...wholes].filter(([from, to]) => parseFloat(from.split(' ')[2]) !== parseFloat(to))"
        )
        == []
    )


def test_a_bare_number_gets_its_unit_each_time(page: Any, base: str) -> None:
    """Typed again, and again in other units, a bare number is read and written out as the first time."""
    show(page, at(base, units="mm"))
    for text, whole in (("13", "13 mm"), ("12.5 mm", "12.5 mm"), ("13", "13 mm")):
        typed(page, "#f-thickness", text)
        stands(page, "#f-thickness", whole)
    typed(page, "#f-thickness", "13")
    wait(page, "document.querySelector('#f-thickness-reads').textContent === 'that is 13 mm'")
    page.check("#units input[value=in]")
    typed(page, "#f-across", "7")
    stands(page, "#f-across", "7 in")
    page.check("#units input[value=mm]")
    typed(page, "#f-across", "7")
    wait(page, "document.querySelector('#f-across').getAttribute('aria-invalid') === 'true'")
    assert page.inner_text("#f-across-reads") == "that is 7 mm"


def test_a_bad_value_shows_its_error_beside_the_field(page: Any, base: str) -> None:
    """What was expected stands under the field meant and is tied to it; mended, it is gone."""
    show(page, at(base))
    put(page, "#f-kerf", "0,7 mm")
    page.wait_for_selector("#f-kerf[aria-invalid=true]")
    told = page.inner_text("#f-kerf-wrong")
    with pytest.raises(fitsim.InputError) as caught:
        make_bowl({**SMALL, "cut": {**SMALL["cut"], "kerf": "0,7 mm"}})
    assert caught.value.problems[0].expected in told
    assert "f-kerf-wrong" in page.get_attribute("#f-kerf", "aria-describedby")
    assert "Kerf cannot be read" in page.inner_text("#age")
    wait(page, "t => document.querySelector('#said').textContent.includes(t)", told)
    put(page, "#f-kerf", "0.7 mm")
    page.wait_for_selector("#f-kerf:not([aria-invalid])")
    assert page.inner_text("#f-kerf-wrong") == ""


def test_no_command_line_stands_on_the_page(page: Any, base: str) -> None:
    """No place, field or message names a command or an option; the guide may."""
    settle(page, at(base, quiet=False))
    for place in ("lock", "tilt", "saw", "map", "year", "failed", "want", "tests"):
        go(page, place)
        assert not re.findall(r"fitsim|--[a-z]", page.inner_text("body")), place


def test_the_main_job_by_keyboard_alone(page: Any, base: str) -> None:
    """From the top: skip to the controls, change the tilt with the arrows, undo and save with the keys."""
    show(page, at(base))
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.keyboard.press("Enter")
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.getAttribute('aria-label')") == "Tilt, slider":
            break
    assert page.evaluate("document.activeElement.getAttribute('aria-label')") == "Tilt, slider"
    for _ in range(3):
        page.keyboard.press("ArrowRight")
    assert page.input_value("#f-tilt") == "6.3 deg"
    assert page.evaluate("document.activeElement.getAttribute('aria-valuetext')") == "6.3 deg"
    wait(page, "location.search.includes('6.3')")
    page.focus("#save")
    with page.expect_download() as saved:
        page.keyboard.press("Enter")
    assert 'tilt = "6.3 deg"' in Path(saved.value.path()).read_text("utf8")


def test_files_are_known_by_what_they_hold(page: Any, base: str, tmp_path: Path) -> None:
    """Bowl, tests and weather go through one door; a bowl file opened can be undone."""
    show(page, at(base))
    bowl, tests = tmp_path / "a.toml", tmp_path / "b.toml"
    bowl.write_text(bowl_text(demo_tables()), "utf8")
    tests.write_text('[board]\nthickness = "19 mm"\n[[ring]]\ntilt = "4 deg"\ndrop = "9.1 mm"\n', "utf8")
    page.set_input_files("#open-file", bowl)
    wait(page, "document.querySelector('#file-told').textContent.includes('is a bowl file')")
    wait(page, "(v) => document.querySelector('#f-across').value === v", demo_tables()["board"]["across"])
    page.wait_for_timeout(400)
    page.click("#undo")
    wait(page, "document.querySelector('#f-across').value === '150 mm'")
    page.set_input_files("#open-file", tests)
    wait(page, "document.querySelectorAll('#tests-list li').length === 2")
    assert page.is_visible("#place-tests")
    page.set_input_files("#open-file", written(tmp_path, invented_rows()))
    wait(page, "document.querySelector('#weather-name').textContent.startsWith('Weather:')")
    for kerf_mm in (0.73, 0.91):  # the second saw takes the place of the first
        saw = Saw(
            name="Loft", date="", kerf_mm=kerf_mm, kerf_sd_mm=0.02, tilt_offset_rad=0.004,
            tilt_offset_sd_rad=0.002, correlation=-0.6, kerf_varies_sd_mm=0.03, tilt_repeats_sd_rad=0.003,
            rings=2, slots=1, gauges=0,
        )  # fmt: skip
        kept = tmp_path / f"{kerf_mm}.toml"
        kept.write_text(saw_text(saw), "utf8")
        page.set_input_files("#open-file", kept)
        wait(page, "(v) => document.querySelector('#f-kerf-reads').textContent.includes(v)", str(kerf_mm))
    assert page.evaluate("carried.filter(([key]) => key === 'saw.kerf').length") == 1


def test_test_cuts_teach_the_bowl_and_its_fields_say_so(page: Any, base: str) -> None:
    """Readings typed lead to what they teach; used on the bowl, the kerf is the saw's and says so."""
    show(page, at(base, place="tests"))
    for tilt, drop in (("4", "9.1"), ("9", "4.3")):
        put(page, "#test-form [data-key=tilt]", tilt)
        put(page, "#test-form [data-key=drop]", drop)
        page.keyboard.press("Enter")
    assert page.locator("#tests-list li").count() == 2
    page.click("[data-job=tests] .start")
    page.click("#tests >> text=Use this on the bowl")
    go(page, "lock")
    wait(page, "document.querySelector('#f-kerf').disabled")
    assert page.inner_text("#f-kerf-reads").startswith("not used: 0.")
    page.click("#no-saw")
    wait(page, "!document.querySelector('#f-kerf').disabled")


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
    other.set_input_files("#open-file", path)
    wait(other, "t => location.search === t", first)


def test_every_state_has_its_address(page: Any, base: str) -> None:
    """An address opened anew shows the same fields, units, options and place."""
    show(page, at(base, units="in"))
    put(page, "#f-tilt", "6 deg; 6.5 deg")
    go(page, "saw")
    page.select_option("#middle", "raised")
    wait(page, "location.search.includes('middle=raised') && location.search.includes('6.5')")
    address = page.url
    other = page.context.new_page()
    show_place = "!document.querySelector('#place-saw').hidden"
    other.goto(address)
    wait(other, show_place)
    assert other.input_value("#f-tilt") == "6 deg; 6.5 deg"
    assert other.input_value("#middle") == "raised"
    assert other.is_checked("#units input[value=in]")


def test_units_switch_and_leave_the_bowl_alone(page: Any, base: str) -> None:
    """Switching to inches rewrites what has a mark on the rule, and says how the rest reads."""
    tables = {**SMALL, "board": {**SMALL["board"], "across": "152.4 mm"}}
    settle(page, at(base, tables, quiet=False))
    page.check("#units input[value=in]")
    wait(page, "document.querySelector('#f-across').value === '6 in'")
    assert page.input_value("#f-thickness") == "12 mm"
    wait(page, "document.querySelector('#f-thickness-reads').textContent === 'that is about 15/32 in'")
    wait(page, VERDICT_THERE, timeout_s=60)
    assert page.inner_text("#rise").endswith(" in")


def test_two_pages_do_not_disturb_each_other(page: Any, base: str) -> None:
    """Two windows with two bowls each keep and answer their own."""
    other = page.context.new_page()
    show(page, at(base))
    show(other, at(base, {**SMALL, "name": "The other", "cut": {**SMALL["cut"], "tilt": "1.5 deg"}}))
    put(page, "#f-press", "90 N")
    wait(page, "location.search.includes('90%20N')")
    assert "1.5%20deg" in other.evaluate("location.search")
    assert other.input_value("#f-press") == "40 N"


def test_the_sheets_open_as_pdf(page: Any, base: str, tmp_path: Path) -> None:
    """The download is a PDF with bench sheet and pattern at the paper's own size."""
    show(page, at(base, place="saw"))
    page.select_option("#paper", "a4")
    with page.expect_download(timeout=60_000) as sheets:
        page.click("[data-job=sheets] .start")
    path = tmp_path / "sheet.pdf"
    sheets.value.save_as(path)
    opened = pypdfium2.PdfDocument(path)
    assert len(opened) >= 2
    assert opened[0].get_size() == pytest.approx((595.3, 841.9), abs=0.5)  # ISO 216: 210 x 297 mm
    opened.close()
    assert any("Unplug the saw" in line for line in page.locator("#cautions li").all_inner_texts())


def test_what_was_told_of_the_sheets_goes_with_the_bowl(page: Any, base: str) -> None:
    """The verdict told with a PDF is of that bowl: changed, it is marked; an error goes once mended."""
    show(page, at(base, place="saw"))
    put(page, "#copies", "0")
    page.click("[data-job=sheets] .start")
    page.wait_for_selector("#copies[aria-invalid=true]")
    assert "1 to 50" in page.inner_text("#copies-wrong")
    put(page, "#copies", "1")
    assert page.inner_text("#place-saw [data-job=sheets] .told") == ""
    assert page.inner_text("#copies-wrong") == ""
    with page.expect_download(timeout=60_000):
        page.click("[data-job=sheets] .start")
    wait(page, "document.querySelector('#sheets').textContent.includes('LOCKS')")
    stale = "document.querySelector('#sheets').classList.contains('stale')"
    assert not page.evaluate(stale)
    page.evaluate("setField(fields.get('cut.tilt'), 1.5)")
    assert page.evaluate(stale)
    page.evaluate("setField(fields.get('cut.tilt'), 6)")
    assert not page.evaluate(stale)
    page.select_option("#middle", "raised")
    assert page.evaluate(stale)


def test_what_is_wrong_with_the_map_is_marked_on_the_map(page: Any, base: str) -> None:
    """A bad end stands beside its axis, once, and not at the bowl's tilt; what is elsewhere says where."""
    show(page, at(base, place="map"))
    told = "#place-map .told"
    put(page, "#across-low", "x")
    for _ in range(2):
        page.click("[data-job=map] .start")
        wait(page, "jobs.get('map').control === null")
        assert page.inner_text("#across-wrong").count("xpected an angle") == 1
    assert page.get_attribute("#across-low", "aria-invalid") == "true"
    assert page.inner_text(told) == "See the marked field."
    assert page.evaluate("fields.get('cut.tilt').wrong.textContent") == ""
    put(page, "#across-low", "2")
    assert page.inner_text("#across-wrong") + page.inner_text(told) == ""
    page.evaluate("fields.get('cut.kerf').input.value = '0,7 mm'; changed();")
    wait(page, "document.querySelector('#f-kerf').getAttribute('aria-invalid') === 'true'")
    page.click("[data-job=map] .start")
    wait(page, "jobs.get('map').control === null")
    assert page.inner_text(told).startswith("Kerf, under Will it lock?: Expected a length")


def test_long_work_goes_on_while_what_it_reads_stays(page: Any, base: str) -> None:
    """Name, units, a finding, what is kept and the bowl's own tilt leave the search for a tilt alone."""
    show(page, at(base, units="mm", place="tilt"))
    told = "document.querySelector('[data-job=tilt] .told').textContent"
    page.click("[data-job=tilt] .start")
    wait(page, f"{told} !== ''")
    put(page, "#f-name", "Renamed")
    page.evaluate("setField(fields.get('cut.tilt'), 7)")
    go(page, "want")
    page.check("#keep input[value=tilt]")
    go(page, "failed")
    page.select_option("#seen-what", "fell through")
    page.click("#seen-add")
    page.check("#units input[value=in]")
    wait(page, "document.querySelector('#f-thickness-reads').textContent.includes(' in')")
    page.wait_for_timeout(500)
    assert page.evaluate("jobs.get('tilt').control !== null")
    seconds = f"+/\\((\\d+) s\\)/.exec({told})[1]"
    first = page.evaluate(seconds)
    wait(page, f"{seconds} > {first}")  # it counts though nothing new is told
    page.evaluate("setField(fields.get('cut.kerf'), 0.03)")
    assert page.evaluate("jobs.get('tilt').control === null")
    assert page.evaluate(told).startswith("Stopped")


def test_answers_grow_old_by_what_they_read_alone(page: Any, base: str) -> None:
    """Sources do not hang on the name; in other units they say so; what tests taught hangs on the tests."""
    show(page, at(base, units="mm"))
    page.click("[data-job=details] .start")
    wait(page, "document.querySelector('#details').childElementCount > 0", timeout_s=60)
    look = "document.querySelector('#details').className.replace('result sources', '').trim()"
    put(page, "#f-name", "Renamed")
    assert page.evaluate(look) == ""
    page.check("#units input[value=in]")
    wait(page, f"{look} === 'other-units'")
    assert "told in mm" in page.get_attribute("#details", "data-age")
    page.check("#units input[value=mm]")
    wait(page, f"{look} === ''")
    go(page, "tests")
    for tilt, drop in (("4", "9.1"), ("9", "4.3")):
        put(page, "#test-form [data-key=tilt]", tilt)
        put(page, "#test-form [data-key=drop]", drop)
        page.keyboard.press("Enter")
    page.click("[data-job=tests] .start")
    page.click("#tests >> text=Use this on the bowl")
    assert not page.evaluate("document.querySelector('#tests').classList.contains('stale')")
    go(page, "lock")
    page.click("#save")
    assert "what was learned is not in it" in page.inner_text("#file-told")
    assert page.is_visible("#save-learned")
    tilts = page.evaluate("jobs.get('tilt').key()")
    put(page, "#f-tilt", "7")
    assert page.evaluate(look) == "stale"
    assert page.evaluate("jobs.get('tilt').key()") == tilts  # every tilt is tried whatever is set
    put(page, "#f-pitch", "12 mm")
    assert page.evaluate("jobs.get('tilt').key()") != tilts


def test_below_a_refused_value_stands_what_it_was_taken_for(page: Any, base: str) -> None:
    """0.7 typed where 0.7 mm stood is read as 0.7 in and refused as that; the value before is not there."""
    show(page, at(base, {**SMALL, "cut": {**SMALL["cut"], "kerf": "0.7 mm"}}, units="in"))
    wait(page, "document.querySelector('#f-kerf-reads').textContent === 'that is about 0.028 in'")
    put(page, "#f-kerf", "0.7")
    wait(page, "document.querySelector('#f-kerf').getAttribute('aria-invalid') === 'true'")
    assert page.inner_text("#f-kerf-reads") == "that is 0.7 in"
    assert "Kerf does not fit" in page.inner_text("#age")
    put(page, "#f-kerf", "wide")
    wait(page, "document.querySelector('#age').textContent.includes('Kerf cannot be read')")
    assert page.inner_text("#f-kerf-reads") == ""


def test_a_key_of_no_field_can_be_left_out(page: Any, base: str, tmp_path: Path) -> None:
    """A slip that no field holds is named with a way to drop it; an empty file takes nothing."""
    show(page, at(base))
    slip = {**SMALL, "board": {**SMALL["board"], "wod": "oak"}}
    bad, empty = tmp_path / "slip.toml", tmp_path / "empty.toml"
    bad.write_text("\n".join(f"[{t}]\n" + "\n".join(f'{k} = "{v}"' for k, v in slip[t].items())
                             for t in ("board", "cut", "use")), "utf8")  # fmt: skip
    empty.write_text("# nothing\n", "utf8")
    page.set_input_files("#open-file", bad)
    page.click("#problems button")
    wait(page, "!document.body.classList.contains('unread')")
    assert "wod" not in page.evaluate("location.search")
    page.set_input_files("#open-file", empty)
    wait(page, "document.querySelector('#file-told').textContent.includes('stays as it is')")
    assert page.input_value("#f-thickness") == "12 mm"


def test_a_bare_reading_has_the_unit_beside_it(page: Any, base: str) -> None:
    """What is measured is taken in the unit shown, with or without how well it is known."""
    show(page, at(base, place="failed", units="mm"))
    assert page.inner_text("#measured-unit") == "mm"
    for typed, taken in (
        ("0.7", "kerf 0.7 mm"),
        ("0.7 +- 0.05", "kerf 0.7 +- 0.05 mm"),
        ("0.03 in", "kerf 0.03 in"),
    ):
        put(page, "#measured-value", typed)
        page.click("#measured-add")
        assert page.inner_text("#findings li").startswith(f"Measured: {taken}\n")
    page.check("#units input[value=in]")
    wait(page, "document.querySelector('#measured-unit').textContent === 'in'")
    assert "; a bare number is in inches, and how well" in page.inner_text("#measured-how")


def test_your_bowl_is_dragged_on_the_map(page: Any, base: str) -> None:
    """The fields follow the mark, and the map stays current: it hangs on neither of the two."""
    show(page, at(base, place="map", across="press=35..60", up="friction=0.4..0.6"))
    page.click("[data-job=map] .start")
    wait(page, "document.querySelector('#map img')?.naturalWidth > 0", timeout_s=300)
    x, y = middle_of(page, "#map .own")
    drag(page, "#map .own", 40, 30)
    assert middle_of(page, "#map .own") == pytest.approx((x + 40, y - 30), abs=1.5)  # where it was let go
    assert float(page.input_value("#f-press").split()[0]) > 40
    assert float(page.input_value("#f-friction")) > 0.45
    page.wait_for_timeout(500)
    assert not page.evaluate("document.querySelector('#map').classList.contains('stale')")
    page.evaluate("setField(fields.get('cut.tilt'), 7)")
    wait(page, "document.querySelector('#map').classList.contains('stale')")


MAP = {
    "svg": "<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 90 70'/>",
    "words": "Two axes.",
    "box": [0.1, 0.1, 0.6, 0.8],
}


def test_the_mark_on_the_map_goes_back_with_the_bowl(page: Any, base: str) -> None:
    """Stepped by keys and gone back on, the mark is where the fields are, though it still has the focus."""
    show(page, at(base, units="mm", place="map"))
    axes = [
        {"key": "cut.tilt", "name": "tilt", "unit": "deg", "low": 2, "high": 12, "own": 0.4},
        {"key": "cut.kerf", "name": "kerf", "unit": "mm", "low": 0.4, "high": 0.9, "own": 0.4},
    ]
    page.evaluate("(found) => showMap(found)", {**MAP, "axes": axes})
    page.focus("#map .own")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowUp")
    assert "tilt 6.1 deg, kerf 0.605 mm" in page.get_attribute("#map .own", "aria-label")
    wait(page, "location.search.includes('6.1%20deg') && location.search.includes('0.605%20mm')")
    page.go_back()
    told = "document.querySelector('#map .own').getAttribute('aria-label')"
    wait(page, f"{told}.includes('tilt 6 deg, kerf 0.6 mm')")


def test_steps_less_than_a_mark_on_the_rule_add_up(page: Any, base: str) -> None:
    """Four steps of a hundredth of half an inch are 1.28/64 in: the mark goes on from where it was put."""
    tables = {**SMALL, "board": {**SMALL["board"], "thickness": "1/2 in"}}
    show(page, at(base, tables, units="in", place="map"))
    axes = [
        {
            "key": "board.thickness",
            "name": "thickness",
            "unit": "in",
            "low": 0.25,
            "high": 0.75,
            "own": 0.5,
        },
        {"key": "cut.tilt", "name": "tilt", "unit": "deg", "low": 2, "high": 12, "own": 0.4},
    ]
    page.evaluate("(found) => showMap(found)", {**MAP, "axes": axes})
    page.focus("#map .own")
    for _ in range(4):
        page.keyboard.press("ArrowRight")
        page.wait_for_timeout(300)
        wait(page, "!asking")
    assert page.input_value("#f-thickness") == "33/64 in"


def test_the_rings_move_on_the_page_and_can_be_held(page: Any, base: str) -> None:
    """Asked for, the check tells drops and shows the bowl opening; it can be stopped, held and saved."""
    show(page, at(base))
    page.click("[data-job=rings] .start")
    assert page.is_visible("[data-job=rings] .stop")
    page.click("[data-job=rings] .stop")
    assert page.inner_text("[data-job=rings] .told") == "Stopped."
    page.click("[data-job=rings] .start")
    wait(page, "document.querySelector('#rings img')?.naturalWidth > 0", timeout_s=120)
    assert "drop in the rigid-body check" in page.inner_text("#rings table")
    first = page.get_attribute("#rings img", "src")
    page.click("#rings button:has-text('Hold the picture')")
    assert page.get_attribute("#rings img", "src") != first
    page.click("#rings button:has-text('Let it move')")
    assert page.get_attribute("#rings img", "src") == first
    with page.expect_download() as saved:
        page.click("#rings a:has-text('Save the moving picture')")
    assert saved.value.suggested_filename == "bowl-opening.gif"
    put(page, "#f-kerf", "0.7")
    wait(page, "document.querySelector('#rings').classList.contains('stale')")


def test_the_year_with_a_dropped_in_weather_file(page: Any, base: str, tmp_path: Path) -> None:
    """A room that cannot be read is marked at its field; a weather file of this window is used."""
    show(page, at(base, place="year"))
    put(page, "#f-heated", "twenty")
    page.set_input_files("#open-file", written(tmp_path, invented_rows()))
    wait(page, "document.querySelector('#weather-name').textContent.startsWith('Weather:')")
    with page.expect_request("**/year?*") as asked:
        page.click("[data-job=year] .start")
    assert asked.value.method == "POST"  # with the file behind it
    page.wait_for_selector("#f-heated[aria-invalid=true]")
    assert "xpected" in page.inner_text("#f-heated-wrong")


def test_the_failed_bowl_is_a_conversation(page: Any, base: str) -> None:
    """What was seen leads to a question; its answer stands in the address and leads to the next."""
    show(page, at(base, THICK, place="failed"))
    page.select_option("#seen-what", "fell through")
    put(page, "#seen-turn", "2")
    page.click("#seen-add")
    page.click("[data-job=failed] .start")
    wait(page, "document.querySelector('#failed .ask')", timeout_s=300)
    assert page.evaluate("document.activeElement === document.querySelector('#failed h3')")
    assert serious_findings(page) == []
    asked = page.inner_text("#failed .ask label")
    assert asked.startswith("Measure next: ")
    first = page.query_selector("#failed .ask input")
    first.fill("3.1")
    page.keyboard.press("Enter")
    wait(page, "document.querySelectorAll('#findings li').length === 2")
    wait(
        page,
        "q => !document.querySelector('#failed .ask label')?.textContent.startsWith(q)",
        asked,
        timeout_s=300,
    )
    page.click("#findings button >> nth=0")
    wait(page, "document.querySelector('#failed').classList.contains('stale')")
    assert "seen.what" not in page.evaluate("location.search")


def test_killing_the_server_loses_nothing(browser: Any) -> None:
    """The page says that it is gone; the bowl stands in the address, and another server takes it up."""
    with served() as (base, process):
        opened = browser.new_page()
        show(opened, at(base))
        process.kill()
        process.wait()
        put(opened, "#f-tilt", "6.4 deg")
        wait(opened, "document.querySelector('#problems').textContent.includes('does not answer')")
        wait(opened, "location.search.includes('6.4')")
        kept = opened.evaluate("location.search")
    with served() as (again, _):
        show(opened, f"{again}/{kept}")
        assert opened.input_value("#f-tilt") == "6.4 deg"
        opened.close()


PLACES = ("lock", "tilt", "saw", "map", "year", "failed", "want", "tests", "guide")


@pytest.mark.parametrize(("scheme", "width"), [("dark", 390), ("light", 1280)])
def test_no_serious_finding_of_the_accessibility_rules(
    browser: Any, base: str, scheme: str, width: int
) -> None:
    """Names, roles, contrast and structure of every place: nothing serious, a field in error included."""
    opened = browser.new_page(viewport={"width": width, "height": 844}, color_scheme=scheme)
    settle(opened, at(base, {**SMALL, "cut": {**SMALL["cut"], "tilt": "1.5 deg"}}, quiet=False))
    for place in PLACES:
        go(opened, place)
        assert (place, serious_findings(opened)) == (place, [])
    go(opened, "lock")
    opened.evaluate("document.querySelector('details').open = true")
    put(opened, "#f-kerf", "0,7 mm")
    opened.wait_for_selector("#f-kerf[aria-invalid=true]")
    assert serious_findings(opened) == []
    opened.close()


@pytest.mark.parametrize(
    ("width", "height"),
    [(320, 700), (390, 844), (844, 390), (640, 450), (820, 1180), (1180, 820), (1280, 900)],
)
def test_nothing_sticks_out_at_any_size(browser: Any, base: str, width: int, height: int) -> None:
    """No place is wider than the window (640 px: a desk at 200 percent), no target less than 24 px high."""
    opened = browser.new_page(viewport={"width": width, "height": height})
    show(opened, at(base))
    for place in PLACES:
        go(opened, place)
        assert opened.evaluate("document.documentElement.scrollWidth") <= width, place
        low = opened.evaluate("""() => [...document.querySelectorAll('input, button, select, .button')]
            .filter((e) => !['range', 'radio', 'checkbox', 'file'].includes(e.type))
            .filter((e) => e.offsetParent && e.getBoundingClientRect().height < 24).map((e) => e.id)""")
        assert low == []
    opened.close()


@pytest.mark.parametrize(("width", "height"), [(390, 844), (844, 390), (820, 1180), (1180, 820)])
def test_no_sticky_part_hides_the_focused_control(browser: Any, base: str, width: int, height: int) -> None:
    """Tabbed to, every control lies clear of what stays at the top of a phone's screen."""
    opened = browser.new_page(viewport={"width": width, "height": height}, has_touch=True)
    show(opened, at(base))
    opened.focus("#f-tilt")
    for _ in range(18):
        opened.keyboard.press("Tab")
        hidden = opened.evaluate("""() => { const e = document.activeElement, b = e.getBoundingClientRect();
            const top = document.elementFromPoint(b.x + b.width / 2, b.y + Math.min(b.height / 2, 12));
            const clear = top && (e === top || e.contains(top) || top.contains(e));
            return clear ? '' : (e.id || e.outerHTML.slice(0, 80)); }""")
        assert hidden == ""
    opened.close()


@pytest.mark.parametrize("width", [390, 1280])
def test_a_slider_s_ring_covers_nothing_beside_it(browser: Any, base: str, width: int) -> None:
    """Focused by key, a slider is ringed within its own place: not over its field or the words below it."""
    opened = browser.new_page(viewport={"width": width, "height": 844})
    show(opened, at(base))
    opened.focus("#f-tilt")
    opened.keyboard.press("Tab")
    for css in ('[data-key="cut.tilt"] [type=range]', "#path"):
        if css == "#path":
            opened.evaluate("document.querySelector('#path').disabled = false")
            opened.focus(css)
            opened.keyboard.press("ArrowLeft")
        above, below, ring = opened.evaluate(
            """(css) => { const slider = document.querySelector(css), style = getComputedStyle(slider);
                const beyond = parseFloat(style.outlineOffset) + parseFloat(style.outlineWidth);
                const { top, bottom } = slider.getBoundingClientRect();
                const near = (part) => part.getBoundingClientRect();
                return [near(slider.previousElementSibling).bottom - (top - beyond),
                        near(slider.nextElementSibling).top - (bottom + beyond),
                        slider.matches(':focus-visible') && style.outlineStyle === 'solid']; }""",
            css,
        )
        assert ring
        assert above <= 0, css
        assert below >= 0, css
    opened.close()


@pytest.mark.parametrize(
    ("width", "height", "units"),
    [(820, 1180, "mm"), (820, 1180, "in"), (1180, 820, "in"), (390, 844, "mm")],
)
def test_a_place_is_in_sight_where_one_went(
    browser: Any, base: str, width: int, height: int, units: str
) -> None:
    """On tablet and phone a place begins on the first screen, in the units chosen."""
    opened = browser.new_page(viewport={"width": width, "height": height}, has_touch=True)
    settle(opened, at(base, quiet=False, units=units))
    assert opened.is_visible("#space canvas")
    for place in PLACES[1:]:
        go(opened, place)
        for css in ("#verdict", f"#place-{place} h2"):
            box = opened.locator(css).bounding_box()
            assert 0 <= box["y"] < height / 2 - box["height"], (place, css)
        links = [link.bounding_box() for link in opened.locator("#places a").all()]
        shown = sum(link["x"] >= 0 and link["x"] + link["width"] <= width for link in links)
        assert shown == len(PLACES) or width < 400
    go(opened, "map")
    other = {"mm": "in", "in": "mm"}[units]
    assert opened.inner_text("#up-unit") == units
    go(opened, "tests")
    lengths = [t for t in opened.locator("#test-form .unit").all_inner_texts() if t.strip() in ("in", "mm")]
    assert {t.strip() for t in lengths} == {units}
    opened.check(f"#units input[value={other}]")
    wait(opened, f"document.querySelector('#up-unit').textContent === '{other}'")
    assert other in [t.strip() for t in opened.locator("#test-form .unit").all_inner_texts()]
    opened.close()


def test_the_bowl_turns_under_a_finger(browser: Any, base: str) -> None:
    """On a phone a finger turns the bowl and drags a handle."""
    opened = browser.new_page(viewport={"width": 390, "height": 844}, has_touch=True)
    settle(opened, at(base, quiet=False))
    session = opened.context.new_cdp_session(opened)

    def finger(css: str, across: float) -> None:
        opened.locator(css).scroll_into_view_if_needed()
        x, y = middle_of(opened, css)
        for kind, shift in (("touchStart", 0.0), ("touchMove", across / 2), ("touchMove", across)):
            point = {"type": kind, "touchPoints": [{"x": x + shift, "y": y}]}
            session.send("Input.dispatchTouchEvent", point)
        session.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})

    yaw = opened.evaluate("space.yaw")
    finger("#space canvas", 50)
    assert opened.evaluate("space.yaw") > yaw
    finger('[data-handle="cut.tilt"] .knob', 12)
    wait(opened, "parseFloat(document.querySelector('#f-tilt').value) > 6")
    opened.close()


@pytest.mark.parametrize("touch", [False, True])
def test_a_word_is_explained_where_it_stands(browser: Any, base: str, touch: bool) -> None:
    """The ? beside a field opens a sentence below it by key or finger, says so, and closes it again."""
    opened = browser.new_page(viewport={"width": 390, "height": 844}, has_touch=touch)
    show(opened, at(base))
    button = '[data-key="cut.pitch"] .what'
    assert opened.get_attribute(button, "aria-label") == "What is meant by pitch?"
    for expanded in ("true", "false"):
        if touch:
            opened.tap(button)
        else:
            opened.focus(button)
            opened.keyboard.press("Enter")
        assert opened.get_attribute(button, "aria-expanded") == expanded
        shown = opened.is_visible(f"#{opened.get_attribute(button, 'aria-controls')}")
        assert shown is (expanded == "true")
    opened.click("#stage details summary")
    marked = opened.locator("#marks dt").all_inner_texts()
    assert {"root", "nail", "grain"} <= set(marked)
    assert all(opened.locator("#marks dd").all_inner_texts())
    assert opened.locator("#change-words dt").all_inner_texts() == ["root", "pitch"]
    opened.close()


def test_limits_say_what_is_limited(page: Any, base: str) -> None:
    """Overlap and friction used are explained in the list of margins itself."""
    settle(page, at(base, quiet=False))
    margins = page.locator("#margins li")
    told = {m.locator(".state").inner_text(): m.locator(".means").inner_text() for m in margins.all()}
    assert told["falls through"].startswith("The share of the thickness")
    assert told["springs back"].startswith("The least friction")
    assert all(told.values())


def test_the_verdict_is_asked_for_only_where_it_does_not_come_by_itself(page: Any, base: str) -> None:
    """While the verdict comes by itself no button asks for it; unticked, or stopped by hand, one does."""
    start, stop = "[data-job=verdict] .start", "[data-job=verdict] .stop"
    settle(page, at(base, quiet=False))
    assert page.is_checked("#by-itself")
    assert not page.is_visible(start)
    put(page, "#f-tilt", "7")
    page.wait_for_selector(stop)
    page.click(stop)
    page.wait_for_selector(start)
    page.click(start)
    wait(page, VERDICT_THERE, timeout_s=60)
    assert not page.is_visible(start)
    page.uncheck("#by-itself")
    assert not page.is_visible(start)
    put(page, "#f-tilt", "7.5")
    page.wait_for_selector(start)


def test_inches_are_read_as_on_a_rule(page: Any, base: str) -> None:
    """The rise, sliders and a file's decimals are whole and sixty-fourths of an inch; ½ is taken too."""
    thin = {**SMALL, "board": {**SMALL["board"], "thickness": "0.5 in", "across": "6 in"}}
    settle(page, at(base, thin, quiet=False, units="in"))
    for place in (0, 300, 1000):
        page.evaluate(f"moveTo({place})")
        assert re.search(r"rim up (?:\d+(?: \d+/\d+)?|\d+/\d+) in", page.inner_text("#path-words"))
    wait(page, "document.querySelector('#f-thickness-reads').textContent === 'that is 1/2 in'")
    page.evaluate("setField(fields.get('board.thickness'), 0.25)")
    assert page.input_value("#f-thickness") == "1/4 in"
    assert page.get_attribute('[data-key="board.thickness"] [type=range]', "aria-valuetext") == "1/4 in"
    put(page, "#f-across", "6½")
    page.keyboard.press("Tab")
    wait(page, "document.querySelector('#f-across').value === '6½ in'")
    wait(page, "Math.abs(places['board.across'] - 165.1) < 1e-6")  # 6.5 x 25.4


def test_a_bare_number_and_a_press_of_the_button_are_one_step(page: Any, base: str) -> None:
    """The button pressed right after a bare number was typed is not missed, and what was typed counts."""
    show(page, at(base, place="want", units="mm"))
    put(page, "#w-rise", "6")
    wait(page, "document.querySelector('#w-rise-reads').textContent === 'that is 6 mm'")
    page.click("[data-job=want] .start")
    page.wait_for_selector("[data-job=want] .stop")
    assert page.input_value("#w-rise") == "6 mm"
    page.wait_for_timeout(700)
    assert page.is_visible("[data-job=want] .stop")
    assert "busy" in page.get_attribute("#places a[data-place=want]", "class")
    page.click("[data-job=want] .stop")
    assert "busy" not in page.get_attribute("#places a[data-place=want]", "class")


def test_what_takes_long_says_so_before(page: Any, base: str) -> None:
    """Beside the button of every question of a minute stands how long it takes, the tilt's in minutes."""
    show(page, at(base))
    for place in ("tilt", "map", "year", "failed", "want"):
        go(page, place)
        assert "Takes" in page.inner_text(f"#place-{place} .long")
    go(page, "tilt")
    assert "minutes" in page.inner_text("#place-tilt .long")
    page.click("[data-job=tilt] .start")
    page.wait_for_selector("[data-job=tilt] .stop")
    assert page.is_visible("[data-job=tilt] progress")
    page.click("[data-job=tilt] .stop")


NO_RANGE = {
    "headline": "NO TILT locks with the bowl cut as planned; it comes nearest at 3.0 deg (springs back).",
    "told": ["What would open a range is still being looked for.", "Least bad tilt: 3.0 deg."],
    "lists": [["What else was assumed", ["friction 0.3"]]], "low_deg": None, "high_deg": None,
    "best_deg": None, "svg": "<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 9 9'/>",
}  # fmt: skip


def test_where_no_tilt_locks_none_is_offered_and_the_picture_comes_first(page: Any, base: str) -> None:
    """Headline and picture stand while the rest is looked for; no tilt is offered to be set."""
    show(page, at(base, place="tilt"))
    page.evaluate("(found) => { const job = jobs.get('tilt'); job.part(found, job.key(), job); }", NO_RANGE)
    assert page.inner_text("#tilt .first").startswith("NO TILT locks")
    assert page.locator("#tilt button").count() == 0
    assert page.locator("#tilt img").count() == 1
    assert not page.evaluate("document.querySelector('#tilt').classList.contains('stale')")
    page.evaluate("(found) => showTilt({ ...found, best_deg: 5.2513, best_shown: '5.25' })", NO_RANGE)
    assert page.inner_text("#tilt button") == "Set the tilt to 5.25 deg"


def test_wide_results_are_drawn_sideways_on_a_phone(browser: Any, base: str) -> None:
    """A picture keeps its letters legible, sources stand below what they are for, the page stays narrow."""
    opened = browser.new_page(viewport={"width": 390, "height": 844})
    show(opened, at(base, place="tests"))
    put(opened, "#test-form [data-key=tilt]", "4")
    put(opened, "#test-form [data-key=drop]", "9.1")
    opened.keyboard.press("Enter")
    opened.click("[data-job=tests] .start")
    wait(opened, "document.querySelector('#tests .sources td') !== null", timeout_s=60)
    opened.click("[data-job=testing] .start")
    wait(opened, "document.querySelector('#testing img')?.naturalWidth > 0", timeout_s=60)
    assert opened.locator("#testing img").bounding_box()["width"] > 650
    assert opened.evaluate("document.documentElement.scrollWidth") <= 390
    cells = opened.locator("#tests .sources tr >> nth=1").locator("th, td").all()
    assert len({round(cell.bounding_box()["x"]) for cell in cells}) == 1
    assert opened.locator("#testing ol").count() == 3
    assert not re.search(r"\[\[|ring\.within|chi-square", opened.inner_text("#place-tests"))
    assert serious_findings(opened) == []
    opened.close()


def test_what_was_typed_and_not_added_counts(page: Any, base: str) -> None:
    """Asked at once, the reading in the form and what was chosen as seen are added first; none is lost."""
    show(page, at(base, place="tests"))
    put(page, "#test-form [data-key=tilt]", "4")
    put(page, "#test-form [data-key=drop]", "9.1")
    page.click("[data-job=tests] .start")
    wait(page, "document.querySelector('#tests .first') !== null", timeout_s=60)
    assert page.locator("#tests-list li").count() == 1
    assert "drop 9.1 mm" in page.inner_text("#tests-list")
    go(page, "failed")
    assert page.input_value("#seen-what") == ""
    page.select_option("#seen-what", "fell through")
    put(page, "#measured-value", "0.8 mm")
    page.click("[data-job=failed] .start")
    page.wait_for_selector("[data-job=failed] .stop")
    assert page.locator("#findings li").count() == 2
    page.click("[data-job=failed] .stop")
    assert page.input_value("#seen-what") == ""


def test_a_place_reached_by_key_is_where_the_next_stop_lies(page: Any, base: str) -> None:
    """Enter on a place's link goes to its heading, so that the next stop is the place's first control."""
    show(page, at(base))
    page.focus("#places a[data-place=want]")
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "t-want"
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.closest('#place-want') !== null")


def test_a_page_of_the_guide_is_in_sight_when_chosen_on_a_phone(browser: Any, base: str) -> None:
    """Below a long list of pages the one that was chosen is brought into sight."""
    opened = browser.new_page(viewport={"width": 390, "height": 844}, has_touch=True)
    show(opened, at(base, place="guide"))
    opened.wait_for_selector("#guide-list button")
    opened.tap("#guide-list li:nth-child(3) button")
    top = "document.querySelector('#guide-page').getBoundingClientRect().top"
    wait(opened, f"{top} < innerHeight / 2")
    assert opened.evaluate(top) < 844 / 2
    opened.close()


def test_what_is_kept_is_named_on_a_phone(browser: Any, base: str) -> None:
    """The row of boxes under What I want says what they are for at a phone's width as well."""
    opened = browser.new_page(viewport={"width": 390, "height": 844})
    show(opened, at(base, place="want"))
    assert opened.evaluate("getComputedStyle(document.querySelector('#keep legend')).clipPath") == "none"
    assert opened.locator("#keep legend").bounding_box()["width"] > 60
    opened.close()


def test_printed_it_holds_bowl_and_verdict(page: Any, base: str) -> None:
    """Printed, the page holds verdict, bowl, section and the values of the bowl, and no buttons."""
    settle(page, at(base, quiet=False))
    page.emulate_media(media="print")
    for css in ("#verdict", "#space canvas", "#drawing svg", "#f-tilt"):
        assert page.is_visible(css)
    for css in ("#places", "#undo", '[data-key="cut.tilt"] [type=range]', "[data-job=changes]"):
        assert not page.is_visible(css)
    for css in ("#f-turns", ".what", "#line"):  # nothing is filled in; nothing can be pressed
        assert not page.locator(css).locator("visible=true").count()
