"""The package reads in one order, and importing it is light."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import fitsim

PACKAGE = Path(fitsim.__file__).parent
MODULES = sorted(path.stem for path in PACKAGE.glob("*.py") if not path.stem.startswith("__"))
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


def imported(node: ast.AST) -> list[str]:
    """Full names of the modules one import statement names."""
    if isinstance(node, ast.Import):
        return [alias.name for alias in node.names]
    if isinstance(node, ast.ImportFrom):
        if node.level:
            return [f"fitsim.{node.module}"]
        if node.module == "fitsim":  # from fitsim import blade: each may be a module
            return [f"fitsim.{alias.name}" for alias in node.names]
        return [node.module or ""]
    return []


def test_every_module_stands_in_the_chain_once() -> None:
    """CHAIN lists every module of the package and nothing else."""
    assert sorted(fitsim.CHAIN) == MODULES


@pytest.mark.parametrize("name", MODULES)
def test_a_module_imports_only_what_comes_before_it(name: str) -> None:
    """Imports inside the package run down the chain, wherever in the file they stand."""
    tree = ast.parse((PACKAGE / f"{name}.py").read_text(encoding="utf8"))
    before = set(fitsim.CHAIN[: fitsim.CHAIN.index(name)])
    for node in ast.walk(tree):
        for target in imported(node):
            package, _, module = target.partition(".")
            if package == "fitsim" and module.split(".")[0] in fitsim.CHAIN:
                assert module.split(".")[0] in before, f"{name} imports {target}"


@pytest.mark.parametrize("name", MODULES)
def test_imports_stand_at_the_top_but_for_the_listed(name: str) -> None:
    """Inside a function only slow or rarely needed packages may be imported."""
    tree = ast.parse((PACKAGE / f"{name}.py").read_text(encoding="utf8"))
    at_top = {id(node) for node in tree.body}
    for part in tree.body:  # "if TYPE_CHECKING:" and "try:" at the top are still the top
        if isinstance(part, ast.If | ast.Try):
            at_top |= {id(node) for node in part.body}
    # The command line loads only what the command asked for: drawings and reports are slow to load.
    commands = name == "cli" or name.endswith("command")
    allowed = {*ALLOWED_INSIDE, "fitsim"} if commands else set(ALLOWED_INSIDE)
    for node in ast.walk(tree):
        if id(node) not in at_top:
            for target in imported(node):
                assert target.split(".")[0] in allowed, f"{name} imports {target} late"


def test_importing_the_package_is_light() -> None:
    """In a fresh interpreter `import fitsim` loads no drawing, no solver and no rigid-body engine."""
    code = "import sys, fitsim; print(*sys.modules, sep='\\n')"
    run = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        cwd=PACKAGE.parent,
    )
    loaded = set(run.stdout.split())
    assert "fitsim.fit" in loaded
    assert loaded.isdisjoint({"matplotlib", "scipy.optimize", "pymunk", "PIL", "rich"})
