"""An answer arrives whatever the terminal's code page can show, and whether there is an output or not."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

BOWL = """
name = "K\u00fcche \u2615"
[board]
wood = "cherry"
thickness = "16 mm"
across = "110 mm"
[cut]
tilt = "5 deg"
kerf = "0.7 mm"
pitch = "8 mm"
base = "62 mm"
[use]
press = "60 N"
"""


def typed(
    folder: Path, *words: str, encoding: str = "utf-8", closed: str = ""
) -> subprocess.CompletedProcess[bytes]:
    """The program as it is started, with its output in one encoding, or with streams closed."""
    (folder / "b.toml").write_text(BOWL, encoding="utf8")
    command = [sys.executable, "-m", "fitsim", *words]
    if closed:
        command = ["sh", "-c", f'exec "$@" {closed}', "sh", *command]
    env = os.environ | {"PYTHONIOENCODING": encoding}
    return subprocess.run(command, capture_output=True, cwd=folder, env=env, check=False)


ALL = (("fit", "b.toml", "--rigid"), ("woods",), ("woods", "cherry"), ("guide", "plan"), ("schema",))


@pytest.mark.parametrize("encoding", ["cp1252", "iso8859-1", "cp437", "ascii"])
def test_every_answer_arrives_in_a_narrow_code_page(tmp_path: Path, encoding: str) -> None:
    """What the page can show is the same text as in UTF-8; a rule is a row of hyphens, the rest numbers."""
    for words in ALL:
        done = typed(tmp_path, *words, encoding=encoding)
        assert (done.returncode, done.stderr) == (0, b""), done.stderr
        wide = typed(tmp_path, *words).stdout.decode("utf8")
        expected = wide
        plain = {"\u2500": "-", "\u00b3": "3", "\u2615": "\\u2615", "\u00fc": "\\xfc"}
        for missing, shown in plain.items():
            try:
                missing.encode(encoding)
            except UnicodeEncodeError:
                expected = expected.replace(missing, shown)
        assert done.stdout.decode(encoding) == expected
        assert len(expected) > 200


@pytest.mark.parametrize("encoding", ["cp1252", "ascii"])
def test_a_refusal_and_a_picture_arrive_in_a_narrow_code_page(tmp_path: Path, encoding: str) -> None:
    """A name outside the page is refused in one line; a picture is drawn; nothing is a traceback."""
    done = typed(tmp_path, "fit", "caf\u00e9 \u2615.toml", encoding=encoding)
    assert done.returncode == 2
    assert done.stderr.startswith(b"fitsim: caf")
    assert b"\n" not in done.stderr.strip()
    done = typed(tmp_path, "fit", "b.toml", "--rigid", "--picture", "\u2615.svg", encoding=encoding)
    assert done.returncode == 0
    assert b"LOCKS" in done.stdout
    assert b"Traceback" not in done.stderr
    assert (tmp_path / "\u2615.svg").stat().st_size > 10_000
    done = typed(tmp_path, "fit", "b.toml", "--bogus\u2615", encoding=encoding)
    assert (done.returncode, b"Traceback" in done.stderr) == (2, False)


def test_json_is_the_same_in_every_code_page(tmp_path: Path) -> None:
    """An object for other programs is written in ASCII, so its name comes back letter by letter."""
    for words in (("fit", "b.toml", "--rigid", "--json"),):
        texts = {typed(tmp_path, *words, encoding=e).stdout for e in ("cp1252", "utf-8", "ascii")}
        assert len(texts) == 1
        assert json.loads(texts.pop().decode("ascii"))["name"] == "K\u00fcche \u2615"


@pytest.mark.skipif(sys.platform == "win32", reason="streams are closed by a shell here")
@pytest.mark.parametrize("closed", [">&-", "2>&-", ">&- 2>&-", "<&- >&- 2>&-"])
def test_a_picture_is_drawn_without_an_output(tmp_path: Path, closed: str) -> None:
    """Started by a scheduler a program may have no output: what it writes into files is written."""
    done = typed(tmp_path, "fit", "b.toml", "--rigid", "--picture", "b.svg", closed=closed)
    assert done.returncode == 0, done.stderr
    assert b"Traceback" not in done.stderr
    assert (tmp_path / "b.svg").stat().st_size > 10_000
    assert typed(tmp_path, "fit", "none.toml", closed=closed).returncode == 2


@pytest.mark.parametrize("named", ["module://matplotlib_inline.backend_inline", "nonsense"])
def test_a_picture_is_drawn_whatever_window_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, named: str
) -> None:
    """A notebook names a window to all it starts that only itself may know; a picture file needs none."""
    monkeypatch.setenv("MPLBACKEND", named)
    done = typed(tmp_path, "fit", "b.toml", "--rigid", "--picture", "b.svg")
    assert (done.returncode, done.stderr) == (0, b"drawn: b.svg\n")
    assert b"LOCKS" in done.stdout
    assert (tmp_path / "b.svg").stat().st_size > 10_000
