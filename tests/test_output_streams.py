"""An answer arrives whatever the terminal's code page can show, and whether there is an output or not."""

import json
import os
import subprocess
import sys
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

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


IN_TURN = """
import json, runpy, sys

for words in json.loads(sys.argv[1]):
    sys.argv = ["fitsim", *words]
    code = None
    try:
        runpy.run_module("fitsim", run_name="__main__", alter_sys=True)
    except SystemExit as end:
        code = end.code
    for stream in (sys.stdout, sys.stderr):
        stream.flush()
        stream.buffer.write(b"\\0%d\\0" % code)
        stream.flush()
"""
"""The program run as ``python -m`` does, command after command in one process, each answer ended by its
exit status between noughts: most of what a start takes is loading the same again."""


def typed_in_turn(
    folder: Path, *commands: tuple[str, ...], encoding: str
) -> list[tuple[int, bytes, bytes]]:
    """Exit status, output and remarks of several commands, with the streams of one process."""
    (folder / "b.toml").write_text(BOWL, encoding="utf8")
    done = subprocess.run(
        [sys.executable, "-c", IN_TURN, json.dumps(commands)],
        capture_output=True, cwd=folder, env=os.environ | {"PYTHONIOENCODING": encoding}, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    printed, remarked = done.stdout.split(b"\0"), done.stderr.split(b"\0")
    assert len(printed) == len(remarked) == 2 * len(commands) + 1
    assert printed[1::2] == remarked[1::2]
    return list(zip(map(int, printed[1::2]), printed[::2], remarked[::2], strict=False))


ALL = (("fit", "b.toml", "--rigid"), ("woods",), ("woods", "cherry"), ("guide", "plan"), ("schema",))


@cache
def in_utf8() -> list[bytes]:
    """The answers in UTF-8, which every other encoding is held against."""
    with TemporaryDirectory() as folder:
        return [answer for _, answer, _ in typed_in_turn(Path(folder), *ALL, encoding="utf-8")]


@pytest.mark.parametrize("encoding", ["cp1252", "iso8859-1", "cp437", "ascii"])
def test_every_answer_arrives_in_a_narrow_code_page(tmp_path: Path, encoding: str) -> None:
    """What the page can show is the same text as in UTF-8; a rule is a row of hyphens, the rest numbers."""
    narrow = typed_in_turn(tmp_path, *ALL, encoding=encoding)
    for (code, answer, remarked), wide in zip(narrow, in_utf8(), strict=True):
        assert (code, remarked) == (0, b""), remarked
        expected = wide.decode("utf8")
        plain = {"\u2500": "-", "\u00b3": "3", "\u2615": "\\u2615", "\u00fc": "\\xfc"}
        for missing, shown in plain.items():
            try:
                missing.encode(encoding)
            except UnicodeEncodeError:
                expected = expected.replace(missing, shown)
        assert answer.decode(encoding) == expected
        assert len(expected) > 200


@pytest.mark.parametrize("encoding", ["cp1252", "ascii"])
def test_a_refusal_and_a_picture_arrive_in_a_narrow_code_page(tmp_path: Path, encoding: str) -> None:
    """A name outside the page is refused in one line; a picture is drawn; nothing is a traceback."""
    refused, drawn, misspelt = typed_in_turn(
        tmp_path,
        ("fit", "caf\u00e9 \u2615.toml"),
        ("fit", "b.toml", "--rigid", "--picture", "\u2615.svg"),
        ("fit", "b.toml", "--bogus\u2615"),
        encoding=encoding,
    )
    code, _, remarked = refused
    assert code == 2
    assert remarked.startswith(b"fitsim: caf")
    assert b"\n" not in remarked.strip()
    code, printed, remarked = drawn
    assert code == 0
    assert b"LOCKS" in printed
    assert b"Traceback" not in remarked
    assert (tmp_path / "\u2615.svg").stat().st_size > 10_000
    code, _, remarked = misspelt
    assert (code, b"Traceback" in remarked) == (2, False)


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
