"""Every study can be loaded: what it takes from the package is there."""

import runpy
import sys
from pathlib import Path

import pytest

STUDIES = Path(__file__).parents[1] / "studies"


@pytest.mark.parametrize("name", sorted(path.name for path in STUDIES.glob("*.py")))
def test_a_study_loads(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Loading runs every import of a study and none of its work."""
    monkeypatch.setattr(sys, "path", [str(STUDIES), str(STUDIES.parent / "tests"), *sys.path])
    loaded = runpy.run_path(str(STUDIES / name), run_name="loaded")
    assert loaded["__doc__"]
