"""The contributor's page and the package say the same."""

import re
from pathlib import Path

import fitsim

ROOT = Path(__file__).parent.parent
PAGE = (ROOT / "DEVELOPERS.md").read_text("utf8")


def test_the_map_lists_the_packages_in_order() -> None:
    """The table of the house has every package in its order."""
    house = PAGE.split("## The house")[1].split("## ")[0]
    assert tuple(re.findall(r"^\| `(\w+)` \|", house, re.MULTILINE)) == fitsim.PACKAGES


def test_names_of_the_nomenclature_are_used() -> None:
    """Every code name of the nomenclature stands in the package."""
    source = "\n".join(path.read_text("utf8") for path in (ROOT / "fitsim").rglob("*.py"))
    rows = PAGE.split("## Nomenclature")[1].split("## ")[0].splitlines()
    names = [
        name for row in rows if row.startswith("| ") for name in re.findall(r"`(\w+)`", row.split("|")[2])
    ]
    assert len(names) > 20
    assert not [name for name in names if not re.search(rf"\b{name}\b", source)]


def test_files_and_modules_that_the_page_names_are_there() -> None:
    """Modules, data and studies named on the page exist."""
    for name in re.findall(r"`((?:fitsim|tests|studies)/[\w/.]+)`", PAGE):
        assert (ROOT / name).exists(), name
    for package, name in re.findall(r"`(\w+)/(\w+)\.py`", PAGE):
        if package in fitsim.PACKAGES:
            assert (ROOT / "fitsim" / package / f"{name}.py").is_file(), f"{package}/{name}"
    for package, name in re.findall(r"`(\w+)\.(\w+)\.\w+`", PAGE):
        if package in fitsim.PACKAGES:
            assert (ROOT / "fitsim" / package / f"{name}.py").is_file(), f"{package}.{name}"


def test_readme_example_is_the_demonstration_bowl(tmp_path: Path) -> None:
    """The bowl file printed in the README reads, and gives the verdict printed below it."""
    page = (ROOT / "README.md").read_text("utf8")
    path = tmp_path / "b.toml"
    path.write_text(page.split("```toml\n")[1].split("```")[0], "utf8")
    answer = fitsim.fit(fitsim.read_bowl(path), beyond=False)
    printed = page.split("<!-- answer of fitsim fit bowl.toml -->\n```\n")[1]
    assert printed.startswith(answer.verdict.state.upper())
