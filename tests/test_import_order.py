"""The package reads in one order, and importing it is light."""

import ast
import importlib
import re
import subprocess
import sys
import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

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

PRIVATE_OF_OTHERS = {
    "os._exit": "its documented name: a worker whose parent is gone ends without clearing up",
}
"""Private names that a module or a study may take from elsewhere, with the reason."""

PRIVATE_IN_TESTS = {
    "_with_options": "a hostile file must meet the reader that comes after what was typed",
    "_least_change": "a choice among settings made up for it, which no bowl gives in that order",
    "_each_once": "the wording of turns that are read together, for turns of no particular bowl",
    "_typed": "the wording of a key without a unit, which few bowls are asked for",
    "_Patient": "a connection is kept silent for longer than a browser ever is",
    "_Worker": "a worker is made to die, and to be slow, at a moment of the test's choosing",
    "_uploaded": "a file that stops arriving in the middle, which no client of the tests can send",
    "_TooSlowError": "what that file is answered with",
    "_tight_words": "the words of one limit for one wish, without a whole plan",
    "_most_used": "friction used along the way let go, against its maximum over the turns",
    "_step": "the steps of a strip that slides, which no answer tells",
    "_grip_N": "the seats' forces in them",
    "_law_from": "the law of a step under a damping that no bowl asks for",
    "_between": "a state settled as loosely as the search for the press has it",
    "_connection": "the file of rows is made to run full",
    "_sections": "the share of a section that a closed form integrates, without a bowl",
    "_warping_constant_mm6": "its integral against a quadrature",
    "_peg": "where the string starts, beside the pattern's own start, without a printed page",
    "_table_block": "the table's sentences for neighbours made up for them",
    "_motion": "the movement of one strip under one force against a closed form",
}
"""Private names that the tests look at, because what they hold shows in no command alone."""


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


def private(name: str) -> bool:
    """Whether a name is private to its module."""
    return name.startswith("_") and not name.startswith("__")


def private_names_taken(tree: ast.Module) -> set[str]:
    """Private names that a file takes from another module: imported, or read off what it did not make."""
    made: set[str] = {"_", "_fields", "_replace", "_asdict"}  # a blank, and what a NamedTuple offers
    from_elsewhere: set[str] = set()
    taken: set[str] = set()
    nodes = list(ast.walk(tree))
    for node in nodes:
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            made.add(node.name)
        elif isinstance(node, ast.Name | ast.Attribute) and isinstance(node.ctx, ast.Store):
            made.add(node.id if isinstance(node, ast.Name) else node.attr)
        elif isinstance(node, ast.Import | ast.ImportFrom):
            from_elsewhere |= {(alias.asname or alias.name).partition(".")[0] for alias in node.names}
            if isinstance(node, ast.ImportFrom):
                taken |= {alias.name for alias in node.names if private(alias.name)}
    for node in nodes:
        if isinstance(node, ast.Attribute) and private(node.attr):
            root = node.value
            while isinstance(root, ast.Attribute):
                root = root.value
            of_import = isinstance(root, ast.Name) and root.id in from_elsewhere
            if of_import or node.attr not in made:
                taken.add(ast.unparse(node))
    return taken


@dataclass(frozen=True)
class Read:
    """What a file imports, anywhere and elsewhere than at its top, and the private names it takes."""

    anywhere: tuple[tuple[str, str], ...]
    late: tuple[tuple[str, str], ...]
    private: frozenset[str]


@cache
def read(path: Path) -> Read:
    """A file read once for all that is asked of it; its syntax is not kept, which is large."""
    tree = ast.parse(path.read_text(encoding="utf8"))
    at_top = {id(node) for node in tree.body}
    for part in tree.body:  # "if TYPE_CHECKING:" and "try:" at the top are still the top
        if isinstance(part, ast.If | ast.Try):
            at_top |= {id(node) for node in part.body}
    found = [(id(node) in at_top, imported(node)) for node in ast.walk(tree)]
    return Read(
        tuple(one for _, named in found for one in named),
        tuple(one for top, named in found if not top for one in named),
        frozenset(private_names_taken(tree)),
    )


def file_of(name: str) -> Path:
    """Where a module stands, named from below the package."""
    return FOLDER.joinpath(*name.split(".")).with_suffix(".py")


def test_every_module_has_its_place() -> None:
    """The lists of the package and of its sub-packages hold every module once and nothing else."""
    assert sorted(modules()) == FILES


def test_every_name_has_one_address() -> None:
    """A package says in its first lines what flows through it and hands on no name of its modules.

    What those lines name stands in the package itself or comes from an earlier one.
    """
    seen = set(fitsim.MODULES)
    for package in fitsim.PACKAGES:
        tree = ast.parse((FOLDER / package / "__init__.py").read_text("utf8"))
        first, *rest = tree.body
        there = [ast.unparse(part) for part in rest if not isinstance(part, ast.Expr)]
        assert isinstance(first, ast.Expr), package
        assert [line.partition(" = ")[0] for line in there] == ["__all__", "MODULES"], package
        assert there[0] == "__all__ = ['MODULES']", package
        order = importlib.import_module(f"fitsim.{package}").MODULES
        for module in order:
            seen |= {module, *importlib.import_module(f"fitsim.{package}.{module}").__all__}
        named = set(re.findall(r"``(\w+)``", ast.get_docstring(tree) or ""))
        assert named <= seen, f"{package}: {named - seen}"


@pytest.mark.parametrize("name", FILES)
def test_a_module_imports_only_what_comes_before_it(name: str) -> None:
    """Imports run one way: to the top, to packages before this one, to earlier modules of its own."""
    order = modules()
    before = set(order[: order.index(name)])
    for target, part in read(file_of(name)).anywhere:
        package, _, module = target.partition(".")
        if package != "fitsim":
            continue
        assert module in before, f"{name} imports {target} {part}"


STUDIES = sorted(path.name for path in FOLDER.parent.joinpath("studies").glob("*.py"))


@pytest.mark.parametrize("name", [*FILES, *(f"studies/{name}" for name in STUDIES)])
def test_a_private_name_is_private_to_its_module(name: str) -> None:
    """No module and no study takes a name that begins with an underscore from another module."""
    path = file_of(name) if "/" not in name else FOLDER.parent / name
    assert read(path).private - set(PRIVATE_OF_OTHERS) == set()


def test_the_tests_look_only_at_the_listed_private_names() -> None:
    """A test goes through what is public but for the listed names, and every listed name is still used."""
    used = set()
    for path in FOLDER.parent.joinpath("tests").rglob("*.py"):
        used |= {n.rpartition(".")[2] for n in read(path).private}
    assert used == set(PRIVATE_IN_TESTS)


@pytest.mark.parametrize("name", FILES)
def test_imports_stand_at_the_top_but_for_the_listed(name: str) -> None:
    """Inside a function only slow or rarely needed packages may be imported."""
    # The command line loads only what the command asked for: drawings and reports are slow to load.
    commands = name == "cli" or name.startswith("commands.")
    allowed = {*ALLOWED_INSIDE, "fitsim"} if commands else set(ALLOWED_INSIDE)
    for target, _ in read(file_of(name)).late:
        assert target.split(".")[0] in allowed, f"{name} imports {target} late"


def apart(one: str, other: str) -> int:
    """Letters to put in, take out or exchange that make one word of another (Levenshtein)."""
    row = list(range(len(other) + 1))
    for done, letter in enumerate(one, 1):
        above, row = row, [done]
        for at, beside in enumerate(other):
            row.append(min(above[at + 1] + 1, row[at] + 1, above[at] + (letter != beside)))
    return row[-1]


def test_letters_apart() -> None:
    """Put in, taken out, exchanged; and the textbook's pair, three apart."""
    pairs = (("curve", "curves"), ("slope", "lope"), ("paper", "taper"), ("kitten", "sitting"))
    assert [apart(*pair) for pair in pairs] == [1, 1, 1, 3]


def test_no_two_modules_are_a_letter_apart() -> None:
    """Names of modules and packages differ by more than one letter or an ending; none is mistaken."""
    names = sorted({name.rpartition(".")[2] for name in FILES} | set(fitsim.PACKAGES))
    for one in names:
        for other in names:
            near = (
                abs(len(one) - len(other)) <= 1 and apart(one, other) == 1
            )  # no nearer than their lengths
            alike = other in (f"{one}ed", f"{one}al", f"{one}ing") or near
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


def test_the_package_says_that_it_is_typed() -> None:
    """The mark of PEP 561 lies in the package, and the wheel takes the package whole."""
    assert (FOLDER / "py.typed").read_bytes() == b""
    project = tomllib.loads(FOLDER.parent.joinpath("pyproject.toml").read_text("utf8"))
    assert project["tool"]["hatch"]["build"]["targets"] == {"wheel": {"packages": ["fitsim"]}}
