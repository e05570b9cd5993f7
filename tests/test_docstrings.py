"""What is public is described: every argument named, every unit given."""

import ast
import dataclasses
import importlib
import inspect
import re
from collections.abc import Callable
from functools import cache
from typing import Any

import pytest
from package_order import modules

import fitsim

UNITS = ("mm", "mm2", "mm3", "MPa2", "ml", "min", "s", "N", "Nmm2", "MPa", "rad", "deg", "percent",
         "points", "C", "F", "Nmm", "days", "g",
         "point", "m3", "h", "px", "kPa", "bytes", "mW", "s2", "Hz", "kg", "pt")  # fmt: skip
"""Last word of a name that carries a unit: kerf_mm, feed_mm_per_min, swell_T_per_point."""

PUBLIC = [
    pytest.param(
        getattr(module, name),
        id=f"{short}.{name}",
    )
    for short in modules()
    for module in [importlib.import_module(f"fitsim.{short}")]
    for name in getattr(module, "__all__", ())
    if getattr(getattr(module, name), "__module__", "") == module.__name__
    and (inspect.isfunction(getattr(module, name)) or inspect.isclass(getattr(module, name)))
]


def section(text: str, title: str) -> str:
    """Lines of one numpydoc section, without its title."""
    found = re.search(rf"^{title}\n-+\n(.*?)(?=^\w[^\n]*\n-{{3,}}|\Z)", text, re.M | re.S)
    return found.group(1) if found else ""


def entries(block: str) -> dict[str, str]:
    """Text of the entry of every name; names that share an entry share its text."""
    found: dict[str, str] = {}
    for part in re.split(r"\n(?=\S)", block.strip("\n")):
        head, _, _ = part.partition("\n")
        for name in head.split(" : ")[0].split(","):
            found[name.strip().lstrip("*")] = part
    return found


def carries_unit(name: str) -> bool:
    """Whether the name's last word is a unit."""
    return "_" in name and name.rsplit("_", 1)[1] in UNITS


@pytest.mark.parametrize("thing", PUBLIC)
def test_public_things_are_described(thing: Any) -> None:
    """Functions name every argument, dataclasses every field or its unit; names with units give them."""
    text = inspect.getdoc(thing) or ""
    assert text
    if inspect.isclass(thing):
        if not dataclasses.is_dataclass(thing):
            return
        names = [field.name for field in dataclasses.fields(thing)]
        block = section(text, "Attributes")
    else:
        names = list(inspect.signature(thing).parameters)
        block = section(text, "Parameters")
        assert block or not names
    described = entries(block) if block else dict.fromkeys(names, text)
    for name in names:
        assert name in described, f"{name} is not described"
        if carries_unit(name):
            assert re.search(r"\[[^\]]+\]", described[name]), f"{name} has no unit in brackets"


@cache
def written_types(module: str) -> dict[str, dict[str, str]]:
    """Annotations of every class of a module as they stand in its source, by the class's name.

    There an array says of what it is one.
    """
    tree = ast.parse(inspect.getsource(importlib.import_module(module)))
    return {
        made.name: {
            part.target.id: ast.unparse(part.annotation)
            for part in made.body
            if isinstance(part, ast.AnnAssign) and isinstance(part.target, ast.Name)
        }
        for made in tree.body
        if isinstance(made, ast.ClassDef)
    }


@pytest.mark.parametrize("thing", PUBLIC)
def test_every_measured_field_has_its_unit(thing: Any) -> None:
    """A field that is not a count has a unit in brackets: one of its name's, or "-", or whose it is.

    A plain unit in the brackets belongs into the name as well, but where a name is a key of a file.
    """
    if not (inspect.isclass(thing) and dataclasses.is_dataclass(thing)):
        return
    described = entries(section(inspect.getdoc(thing) or "", "Attributes"))
    assert described or not dataclasses.fields(thing), "no section Attributes"
    for name, kind in written_types(thing.__module__)[thing.__name__].items():
        if "Callable" in kind or not re.search(r"\b(float|Array|Fraction|Ends)\b", kind):
            continue
        _, _, meaning = described[name].partition("\n")
        units = re.findall(r"\[([^\]]+)\]", meaning)
        assert units, f"{name} has no unit in brackets"
        if not carries_unit(name) and not re.search(r"Fraction|Ends", kind):
            assert units[-1] not in UNITS, f"{name} should carry {units[-1]} in its name"


def is_there(name: str) -> bool:
    """Whether a dotted name leads to a module, or to something in one."""
    parts = name.split(".")
    for count in range(len(parts), 0, -1):
        try:
            found: Any = importlib.import_module(".".join(parts[:count]))
        except ModuleNotFoundError:
            continue
        for part in parts[count:]:
            if part in getattr(found, "__dataclass_fields__", {}):
                return part == parts[-1]
            found = getattr(found, part, None)
        return found is not None
    return False


@pytest.mark.parametrize("name", modules())
def test_what_a_docstring_refers_to_is_there(name: str) -> None:
    """A name in a role such as :func: leads to something that exists, here or in its own module."""
    module = importlib.import_module(f"fitsim.{name}")
    text = inspect.getsource(module)
    for _, target in re.findall(r":(mod|func|data|class|meth):`~?([\w.]+)`", text):
        own = [
            target,
            *(f"{kind}.{target}" for kind in vars(module) if inspect.isclass(vars(module)[kind])),
        ]
        assert is_there(target) or any(is_there(f"{module.__name__}.{one}") for one in own), target


def test_errors_are_told_apart() -> None:
    """Every error raised on purpose is of the package's own family and still a usual Python error."""
    kinds: list[Callable[..., Exception]] = [
        fitsim.InputError,
        fitsim.OutsideModelError,
        fitsim.NoConvergenceError,
    ]
    for kind, usual in zip(kinds, (ValueError, ValueError, RuntimeError), strict=True):
        assert issubclass(kind, fitsim.FitsimError)  # type: ignore[arg-type]
        assert issubclass(kind, usual)  # type: ignore[arg-type]
