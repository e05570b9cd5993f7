"""What is wanted: the table [want] and --want."""

import math

import pytest

from fitsim.errors import InputError
from fitsim.plan.wishes import read_wishes, typed_wishes


def test_every_wish_is_read_in_its_units() -> None:
    """Lengths, volumes, times and slopes are read exactly into mm, ml, minutes and tangents."""
    wishes = read_wishes(
        {
            "rise": "3 in", "mouth": "20 cm", "base": "4 1/4 in", "volume": "25 US fl oz", "turns": "7.5",
            "time": "1 h 5 min", "wall": "60 deg", "keep": ["tilt"], "first": ["volume", "rise"],
        }
    )  # fmt: skip
    assert wishes.rise_mm == pytest.approx(76.2)
    assert wishes.mouth_mm == 200
    assert wishes.base_mm == pytest.approx(107.95)
    # 1 US fl oz is 231/128 cubic inches of 16.387064 ml.
    assert wishes.volume_ml == pytest.approx(25 * 231 / 128 * 16.387064)
    assert (wishes.turns, wishes.time_min) == (7.5, 65)
    assert wishes.slope == pytest.approx(math.sqrt(3))
    assert (wishes.keep, wishes.first) == (("tilt",), ("volume", "rise"))


@pytest.mark.parametrize(
    ("text", "cubic_inches"),
    [
        ("2 gal", 2 * 231),
        ("1 gallon", 231),
        ("60 cubic inches", 60),
        ("60 cu in", 60),
        ("60 cu. in.", 60),
        ("2 US gallons", 2 * 231),
        ("16 US fl oz", 28.875),
        ("7 in3", 7),
        ("3 quarts", 173.25),
    ],
)
def test_gallons_and_cubic_inches_are_volumes(text: str, cubic_inches: float) -> None:
    """A US gallon is 231 cubic inches, a quart the fourth part of it; a cubic inch 16.387064 ml."""
    assert read_wishes({"volume": text}).volume_ml == pytest.approx(cubic_inches * 16.387064)


def test_nothing_needs_no_unit_in_a_wall() -> None:
    """A foot at height 0 is at height 0 in every unit."""
    wall = read_wishes({"wall": "45 mm, 0; 65 mm, 30 mm"}).wall
    assert wall is not None
    assert (wall.foot_mm, wall.rise_mm) == (45, 30)


def test_a_wall_may_be_points_as_a_list_or_as_text() -> None:
    """Points in a list and points in text give the same wall."""
    listed = read_wishes({"wall": [["40 mm", "0 mm"], ["60 mm", "30 mm"]]}).wall
    typed = read_wishes({"wall": "40 mm, 0 mm; 60 mm, 30 mm"}).wall
    assert listed is not None
    assert typed is not None
    assert (listed.foot_mm, listed.rim_mm, listed.rise_mm) == (40, 60, 30)
    assert (typed.foot_mm, typed.rim_mm, typed.rise_mm) == (40, 60, 30)


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ({"rise": "3"}, "want.rise = '3': expected a length with its unit"),
        ({"rise": "0 mm"}, "more than nothing"),
        ({"rise": "3 km"}, "want.rise"),
        ({"rise": "5 m"}, "at most 1000.0 mm; check the unit"),
        ({"rise": "50 in"}, "at most 39 3/8 in; check the unit"),
        ({"wall": [["2 in", "0 in"], ["1 1/2 in", "1 in"]]}, "radius 2 in, then 1 1/2 in"),
        ({"base": "3 1/4 in", "rise": "2 in", "keep": ["base"]}, "want.base = '3 1/4 in'"),
        ({"volume": "1 bucket"}, "a volume with its unit"),
        ({"raise": "3 in"}, "did you mean 'rise'?"),
        ({"keep": ["tillt"], "rise": "3 in"}, "did you mean 'tilt'?"),
        ({"keep": [3], "rise": "3 in"}, "a list of"),
        ({"first": ["mouth"], "rise": "3 in"}, "wishes that are made"),
        ({"rise": "3 in", "height": "4 in"}, "either rise or height"),
        ({"base": "3 in", "keep": ["base"]}, "either a wish or something kept"),
        ({"wall": "50 deg", "keep": ["pitch"]}, "a pitch that may change"),
        ({"wall": "90 deg"}, "less than 90 deg"),
        ({"wall": "steep"}, "a slope, the points of a curve, a drawing, or the path of an SVG"),
        ({"wall": [["40 mm", "0 mm"]]}, "2 to 2000 points"),
        ({"wall": [["40 mm"], ["50 mm", "3 mm"]]}, "a radius and a height"),
        ({"wall": "45 mm, 0 mm; 65 mm, 3"}, "want.wall = '3': expected the height of point 2, a length"),
        ({"wall": "45, 0 mm; 65 mm, 3 mm"}, "want.wall = '45': expected the radius of point 1, a length"),
        ({"turns": "200", "rise": "2 in"}, "at most 100 turns; check the number"),
        ({"volume": "2 gel"}, "'gel' is not a unit known here"),
        ({"volume": "60 cubic feet"}, "'cubic' is not a unit known here"),
        ({"wall": [["50 mm", "0 mm"], ["40 mm", "30 mm"]]}, "farther from the middle"),
        ({"mouth": "90 mm", "along": "lenght"}, "did you mean 'length'?"),
        (
            {"mouth": "90 mm", "along": 3},
            'want.along = 3: expected "length" or "width"; write one of the two',
        ),
        (
            {"mouth": "90 mm", "along": "foo"},
            'expected "length" or "width"; write one of the two, or leave',
        ),
        ({"rise": "3 in", "along": "width"}, "a wall's curve or a mouth"),
        ({"time": "10 min"}, "base, volume, turns, wall; add a wish, like"),
        ({"keep": ["tilt"]}, "at least one of"),
        ("deep", "a table of wishes"),
    ],
)
def test_a_bad_wish_is_answered_in_one_line(table: object, said: str) -> None:
    """A wish that cannot be read, or contradicts another, names file, key and remedy."""
    with pytest.raises(InputError) as refused:
        read_wishes(table, where="bowl.toml")
    assert said in str(refused.value)
    assert all(line.startswith("bowl.toml: want") for line in str(refused.value).splitlines())


def test_wishes_on_the_command_line() -> None:
    """Each --want is key=value; a key twice or without a value is refused."""
    assert typed_wishes(["rise=3 in", "wall = 50 deg"]) == {"rise": "3 in", "wall": "50 deg"}
    for words in (["rise"], ["rise="], ["rise=3 in", "rise=4 in"]):
        with pytest.raises(InputError):
            typed_wishes(words)
