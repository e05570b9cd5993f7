"""The contributor's page and the package say the same."""

import ast
import re
from pathlib import Path

import fitsim

ROOT = Path(__file__).parent.parent
PAGE = (ROOT / "DEVELOPERS.md").read_text("utf8")


def test_the_map_lists_the_packages_in_order() -> None:
    """The table of the house has every package in its order."""
    house = PAGE.split("## The house")[1].split("## ")[0]
    assert tuple(re.findall(r"^\| `(\w+)` \|", house, re.MULTILINE)) == fitsim.PACKAGES


def test_the_map_lists_the_modules_at_the_top_in_order() -> None:
    """What everything may use is named with its modules in their order, the command line last."""
    top = PAGE.split("At the top of the package")[1].split("What flows through")[0]
    named = [name for name in re.findall(r"`(\w+)`", top) if (ROOT / "fitsim" / f"{name}.py").is_file()]
    assert tuple(named) == fitsim.MODULES


def used_in(tree: ast.AST) -> set[str]:
    """Names that a file uses: read off an object, given by name in a call, or read where not handed in.

    A definition is no use, nor is what a function reads of its own parameters: somebody must hand them in.
    """
    found: set[str] = set()

    def look(node: ast.AST, handed_in: frozenset[str]) -> None:
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda):
            parameters = (*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs)
            handed_in |= {parameter.arg for parameter in parameters}
        elif isinstance(node, ast.Attribute):
            found.add(node.attr)
        elif isinstance(node, ast.keyword) and node.arg is not None:
            found.add(node.arg)
        elif isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load) and node.id not in handed_in:
            found.add(node.id)
        for child in ast.iter_child_nodes(node):
            look(child, handed_in)

    look(tree, frozenset())
    return found


def test_a_definition_is_no_use() -> None:
    """A function that nothing calls uses neither itself nor its parameters; a call by name uses both."""
    alone = "def bend(*, arc_mm): return arc_mm**2\n__all__ = ['bend']"
    assert not {"bend", "arc_mm"} & used_in(ast.parse(alone))
    assert {"bend", "arc_mm"} <= used_in(ast.parse(f"{alone}\nlong = bend(arc_mm=3)"))
    assert "arc_mm" in used_in(ast.parse("def bend(strip): return strip.arc_mm"))


def test_names_of_the_nomenclature_are_used() -> None:
    """Every code name of the nomenclature is used in the package, outside its own definition."""
    used = set().union(
        *(used_in(ast.parse(path.read_text("utf8"))) for path in (ROOT / "fitsim").rglob("*.py"))
    )
    rows = PAGE.split("## Nomenclature")[1].split("## ")[0].splitlines()
    names = [
        name for row in rows if row.startswith("| ") for name in re.findall(r"`(\w+)`", row.split("|")[2])
    ]
    assert len(names) > 20
    assert not [name for name in names if name not in used]


PRESSING = {"open_bowl", "press", "fit", "rigid_fit", "laid_out", "elastic_bowl", "try_changes",
            "tilt_answer", "seasons", "why_failed", "plan"}  # fmt: skip
"""Functions that press a bowl or work one out."""


def test_no_bowl_is_pressed_in_the_report() -> None:
    """Modules of the report take no function that presses a bowl, and none of the drawings."""
    for path in (ROOT / "fitsim" / "report").glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf8"))):
            if isinstance(node, ast.ImportFrom):
                assert not {alias.name for alias in node.names} & PRESSING, path.name
                assert not (node.module or "").startswith(("fitsim.drawing", "matplotlib")), path.name


def test_tests_and_faults_go_by_subject() -> None:
    """Every package has a fault, whose tests are there, and is looked into by a test file."""
    faults = (ROOT / "studies" / "faults.py").read_text("utf8")
    listed = next(
        node.value for node in ast.parse(faults).body
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "FAULTS"
    )  # fmt: skip
    assert isinstance(listed, ast.Tuple)
    broken = [[ast.literal_eval(value) for value in call.args] for call in listed.elts
              if isinstance(call, ast.Call)]  # fmt: skip
    assert len(broken) == len(listed.elts)
    tests = "\n".join(path.read_text("utf8") for path in (ROOT / "tests").rglob("*.py"))
    for package in fitsim.PACKAGES:
        assert any(module.startswith(f"fitsim.{package}.") for _, module, *_ in broken), package
        assert re.search(rf"^from fitsim\.{package}\.", tests, re.MULTILINE), package
    for name, _, right, wrong, tried in broken:
        assert right != wrong, name
        for part in tried.split():
            assert (ROOT / "tests" / part.partition("::")[0]).exists(), name


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
