"""Every study can be loaded: what it takes from the package is there."""

import ast
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


STARTED = sorted(path.name for path in STUDIES.glob("*.py") if "__main__" in path.read_text("utf8"))


@pytest.mark.parametrize("name", STARTED)
def test_a_study_says_what_it_is(
    name: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Asked for --help a study prints its question and ends, with none of its work done."""
    assert ".parse_args()" in (STUDIES / name).read_text("utf8")  # else it would begin here
    monkeypatch.setattr(sys, "path", [str(STUDIES), str(STUDIES.parent / "tests"), *sys.path])
    monkeypatch.setattr(sys, "argv", [name, "--help"])
    with pytest.raises(SystemExit) as ended:
        runpy.run_path(str(STUDIES / name), run_name="__main__")
    assert ended.value.code == 0
    first = ast.get_docstring(ast.parse((STUDIES / name).read_text("utf8"))).splitlines()[0]
    assert first in " ".join(capsys.readouterr().out.split())
