"""The package as a list: modules at the top first, then every sub-package, the command line last."""

import importlib
from pathlib import Path

import fitsim

FOLDER = Path(fitsim.__file__).parent


def modules() -> list[str]:
    """Every module in reading order, named from below the package."""
    found = list(fitsim.MODULES)
    for package in fitsim.PACKAGES:
        found += [f"{package}.{name}" for name in importlib.import_module(f"fitsim.{package}").MODULES]
    return [*(name for name in found if name != "cli"), "cli"]
