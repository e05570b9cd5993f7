"""The contributor's page and the package say the same."""

import re
from pathlib import Path

import fitsim

ROOT = Path(__file__).parent.parent


def test_chain_on_the_page_is_the_chain() -> None:
    """The table of modules in DEVELOPERS.md lists CHAIN in its order."""
    page = (ROOT / "DEVELOPERS.md").read_text("utf8").split("What flows through it")[0]
    assert tuple(re.findall(r"^\| `(\w+)` \|", page, re.MULTILINE)) == fitsim.CHAIN


def test_readme_example_is_the_demonstration_bowl(tmp_path: Path) -> None:
    """The bowl file printed in the README reads, and gives the verdict printed below it."""
    page = (ROOT / "README.md").read_text("utf8")
    path = tmp_path / "b.toml"
    path.write_text(page.split("```toml\n")[1].split("```")[0], "utf8")
    answer = fitsim.fit(fitsim.read_bowl(path))
    printed = page.split("The answer begins like this:\n\n```\n")[1]
    assert printed.startswith(answer.verdict.state.upper())
