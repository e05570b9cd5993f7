"""The drawn map: regions told apart without colour, each named, the bowl marked."""

import itertools
from typing import Any

import numpy as np
import pytest
from sweep_bowls import TABLES, rigid_rings

from fitsim.drawing.map_drawing import LOOKS, map_figure
from fitsim.sweeps.lock_map import BowlMap, bowl_map
from fitsim.sweeps.varied_quantities import read_varied


def drawn(across: str, up: str, *, points: int = 24, units: str = "mm", tables: Any = TABLES) -> Any:
    """A map of the Fennel dish, and its picture."""
    found = bowl_map(
        tables, across=read_varied(across), up=read_varied(up), points=points, judge_one=rigid_rings
    )
    return found, map_figure(found, units=units)


@pytest.fixture(scope="module")
def page() -> Any:
    """Four regions on one page."""
    return drawn("tilt=2..26", "kerf=0.4..1.8 mm")


def words_on(figure: Any) -> list[str]:
    """Every text on the page."""
    inside = [text.get_text() for axes in figure.axes for text in axes.texts]
    return [text.get_text() for text in figure.texts] + inside


def grey(color: str) -> float:
    """Brightness of a colour as a copier sees it (ITU-R BT.709 weights)."""
    from matplotlib.colors import to_rgb

    return float(np.dot(to_rgb(color), (0.2126, 0.7152, 0.0722)))


def test_regions_differ_without_colour() -> None:
    """Any two regions differ by hatch, and those with wood in them in grey as well."""
    states = ("locks", "split risk", "springs back", "falls through", "will not open")
    assert len({LOOKS[state][1] for state in states}) == len(states)
    tones = sorted(grey(LOOKS[state][0]) for state in states)
    assert all(b - a > 0.015 for a, b in itertools.pairwise(tones))
    assert all(grey(LOOKS[s][2]) < 0.4 for s in states)  # hatches dark on light


def test_every_region_is_named_where_it_lies(page: Any) -> None:
    """Each region's name stands once on the map, inside it, or beside it with an arrow that ends in it."""
    found, figure = page
    axes = figure.axes[0]
    steps = found.regions.steps
    for index in np.unique(found.regions.state_at).tolist():
        from fitsim.sweeps.lock_map import MAP_STATES

        named = [text for text in axes.texts if text.get_text() == MAP_STATES[index].upper()]
        assert len(named) == 1
        x, y = named[0].get_position()
        inside = found.regions.state_at[round(y * steps), round(x * steps)] == index
        arrows = [t.xy for t in axes.texts if getattr(t, "arrow_patch", None) is not None]
        pointed = any(
            found.regions.state_at[round(b * steps), round(a * steps)] == index for a, b in arrows
        )
        assert inside or pointed


def test_words_do_not_cover_one_another(page: Any) -> None:
    """Names of regions, rises and the bowl stand clear of one another."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    _, figure = page
    renderer = FigureCanvasAgg(figure).get_renderer()
    boxes = [
        (text.get_text(), text.get_window_extent(renderer) if not text.get_text() else
         type(text).get_window_extent(text, renderer))
        for text in figure.axes[0].texts if text.get_text() and getattr(text, "arrow_patch", None) is None
    ]  # fmt: skip
    assert len(boxes) > 5
    for (one, first), (other, second) in itertools.combinations(boxes, 2):
        assert not first.overlaps(second), f"{one} on {other}"


def test_axes_carry_key_and_unit(page: Any) -> None:
    """Axes are labelled by key and unit, and their ticks are values in that unit."""
    found, figure = page
    axes = figure.axes[0]
    assert (axes.get_xlabel(), axes.get_ylabel()) == ("tilt [deg]", "kerf [mm]")
    for tick, label in zip(axes.get_xticks(), axes.get_xticklabels(), strict=True):
        assert 2 + 24 * tick == pytest.approx(float(label.get_text()), abs=1e-9)
    title = words_on(figure)[0]
    assert title == "Fennel dish: at which tilt and kerf does it lock?"
    assert isinstance(found, BowlMap)


def test_the_bowl_is_marked_at_its_place(page: Any) -> None:
    """The mark stands at the bowl's own tilt and kerf."""
    _, figure = page
    marks = [line for line in figure.axes[0].lines if line.get_marker() == "P"]
    assert len(marks) == 1
    assert marks[0].get_xdata()[0] == pytest.approx((5.5 - 2) / 24)
    assert marks[0].get_ydata()[0] == pytest.approx((0.7 - 0.4) / 1.4)
    assert "your bowl" in words_on(figure)


def test_a_ranged_value_is_a_bar() -> None:
    """Where the bowl's own value is a range the mark has a bar over it."""
    _, figure = drawn("tilt=3..14", "friction=0.1..0.6", points=8)
    bars = [line for line in figure.axes[0].lines if line.get_marker() == "_"]
    assert bars[0].get_ydata() == pytest.approx([(0.2 - 0.1) / 0.5, (0.5 - 0.1) / 0.5])


def test_rise_lines_carry_their_rise() -> None:
    """A line marked with a rise runs where the closed form M k/sin(theta) has that rise."""
    from fitsim.sweeps.lock_map import share_on

    found, figure = drawn("tilt=3..14", "kerf=0.5..1.2 mm", points=24)
    axes = figure.axes[0]
    marked = [text for text in axes.texts if text.get_text().endswith(" mm")]
    assert len(marked) >= 3
    for text in marked:
        x, y = text.get_position()
        tilt, kerf = np.radians(3 + 11 * x), 0.5 + 0.7 * y
        turns = 47 / 6.5 - 0.5 - kerf / np.cos(tilt) / 13
        assert turns * kerf / np.sin(tilt) == pytest.approx(float(text.get_text()[:-3]), rel=0.01)
    assert share_on(found.across, 3.0) == 0


def test_what_was_held_is_said() -> None:
    """The page names the ranges held at their middle, and none that is an axis."""
    _, figure = drawn("tilt=3..14", "pitch=5..8 mm", points=8)
    page = " ".join(words_on(figure))
    assert "friction 0.2 to 0.5" in page
    _, other = drawn("tilt=3..14", "friction=0.1..0.6", points=8)
    assert "friction 0.2 to 0.5" not in " ".join(words_on(other))


def test_what_was_held_is_in_the_reader_s_units() -> None:
    """A film of 0.0127 mm is half a thousandth of an inch, and the unit stands once."""
    tables = {**TABLES, "use": {**TABLES["use"], "film": "0 to 0.0127 mm"}}
    _, inches = drawn("tilt=3..14", "pitch=5..8 mm", points=8, units="in", tables=tables)
    assert "film 0 to 0.0005 in" in " ".join(words_on(inches))
    _, metric = drawn("tilt=3..14", "pitch=5..8 mm", points=8, tables=tables)
    assert "film 0 to 0.0127 mm" in " ".join(words_on(metric))


def test_the_foot_tells_how_far_a_line_may_be_off() -> None:
    """A line lies anywhere within a step of the map: of 8 steps 11/8 degrees and 3/8 mm."""
    _, figure = drawn("tilt=3..14", "pitch=5..8 mm", points=8)
    page = " ".join(words_on(figure))
    assert (
        "A line may lie up to a step of the map from where it is drawn: tilt 1.4 deg and pitch 0.38 mm."
        in page
    )


def test_a_bowl_off_the_map_is_not_marked() -> None:
    """A bowl that lies off the map is not marked, and the page says so."""
    _, figure = drawn("tilt=8..14", "kerf=0.9..1.6 mm", points=8)
    assert "your bowl" not in words_on(figure)
    assert "it lies off" in " ".join(words_on(figure))
