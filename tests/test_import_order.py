"""The package reads in one order, and importing it is light."""

import ast
import importlib
import subprocess
import sys

import pytest
from package_order import FOLDER, modules

import fitsim

FILES = sorted(
    ".".join(path.relative_to(FOLDER).with_suffix("").parts)
    for path in FOLDER.rglob("*.py")
    if not path.stem.startswith("__")
)
ALLOWED_INSIDE = {
    "matplotlib": "drawing is not wanted in every run, and it takes half a second to load",
    "pymunk": "only the rigid-body check needs it",
    "fontTools": "only a wall drawn as an SVG path needs it",
    "PIL": "only moving pictures need it",
    "rich": "only the terminal needs it",
    "scipy": "slow to load; only solvers need it",
    "tomllib": "only reading a file needs it",
    "shutil": "only the terminal's width needs it",
}
"""What may be imported inside a function, with the reason."""


def source(name: str) -> ast.Module:
    """Syntax of a module, named from below the package."""
    path = FOLDER.joinpath(*name.split(".")).with_suffix(".py")
    return ast.parse(path.read_text(encoding="utf8"))


def imported(node: ast.AST) -> list[tuple[str, str]]:
    """Modules that one import statement names, and what it takes from each."""
    if isinstance(node, ast.Import):
        return [(alias.name, "") for alias in node.names]
    if isinstance(node, ast.ImportFrom):
        base = f"fitsim.{node.module}" if node.level else node.module or ""
        package = base.removeprefix("fitsim.")
        below: set[str] = set(fitsim.MODULES) if base == "fitsim" else set()
        if package in fitsim.PACKAGES:
            below = set(importlib.import_module(base).MODULES)
        return [(f"{base}.{a.name}", "") if a.name in below else (base, a.name) for a in node.names]
    return []


def test_every_module_has_its_place() -> None:
    """The lists of the package and of its sub-packages hold every module once and nothing else."""
    assert sorted(modules()) == FILES


@pytest.mark.parametrize("name", FILES)
def test_a_module_imports_only_what_comes_before_it(name: str) -> None:
    """Imports run one way: to the top, to packages before this one, to earlier modules of its own."""
    order = modules()
    before, own = set(order[: order.index(name)]), name.rpartition(".")[0]
    for node in ast.walk(source(name)):
        for target, part in imported(node):
            package, _, module = target.partition(".")
            if package != "fitsim":
                continue
            assert module in before, f"{name} imports {target} {part}"
            elsewhere = module.rpartition(".")[0] != own
            assert not (elsewhere and part.startswith("_")), f"{name} takes {part}, private to {target}"


@pytest.mark.parametrize("name", FILES)
def test_imports_stand_at_the_top_but_for_the_listed(name: str) -> None:
    """Inside a function only slow or rarely needed packages may be imported."""
    tree = source(name)
    at_top = {id(node) for node in tree.body}
    for part in tree.body:  # "if TYPE_CHECKING:" and "try:" at the top are still the top
        if isinstance(part, ast.If | ast.Try):
            at_top |= {id(node) for node in part.body}
    # The command line loads only what the command asked for: drawings and reports are slow to load.
    commands = name == "cli" or name.startswith("commands.")
    allowed = {*ALLOWED_INSIDE, "fitsim"} if commands else set(ALLOWED_INSIDE)
    for node in ast.walk(tree):
        if id(node) not in at_top:
            for target, _ in imported(node):
                assert target.split(".")[0] in allowed, f"{name} imports {target} late"


def test_no_two_modules_are_a_letter_apart() -> None:
    """Names of modules differ by more than an ending, so that none is taken for another."""
    names = sorted({name.rpartition(".")[2] for name in FILES} - {"cli"})
    for one in names:
        for other in names:
            alike = other in (f"{one}s", f"{one}ed", f"{one}al", f"{one}ing", f"{one}_")
            assert not alike, f"{one} and {other}"


def test_importing_the_package_is_light() -> None:
    """In a fresh interpreter `import fitsim` loads no drawing, no solver and no rigid-body engine."""
    code = "import sys, fitsim; print(*sys.modules, sep='\\n')"
    run = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        cwd=FOLDER.parent,
    )
    loaded = set(run.stdout.split())
    assert "fitsim.bowl.fit" in loaded
    assert loaded.isdisjoint({"matplotlib", "scipy.optimize", "pymunk", "PIL", "rich"})
