"""Files are read within bounds or not at all, written whole or not at all, and never over another."""

import io
import os
import socket
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from hostile_files import BOWL, CUTS, SHUT_BOWL, kinds

from fitsim.cli import main
from fitsim.errors import InputError
from fitsim.files import check_target, read_whole, refuse_shared_names, write_whole

EXAMPLES = {kind.name: kind.good for kind in kinds()}
READERS = {
    "bowl file": ["fit", "FILE", "--rigid"],
    "bowl file, tilt": ["tilt", "FILE"],
    "bowl file, sheet": ["sheet", "FILE", "-o", "t.pdf"],
    "bowl file, map": ["map", "FILE", "--across", "tilt=2..14", "--up", "kerf=0.4..1"],
    "bowl file, sweep": ["sweep", "FILE", "tilt=2..14", "--csv", "t.csv"],
    "bowl file, seasons": ["seasons", "FILE", "--indoor", "30 to 60 %"],
    "bowl file, explain": ["explain", "FILE", "--seen", "rocks"],
    "bowl file, page": ["page", "FILE", "--no-browser"],
    "saw file": ["fit", "--saw", "FILE", "--rigid"],
    "file of test cuts": ["testcut", "FILE"],
    "table of causes": ["explain", "--list", "--causes", "FILE"],
    "weather file": ["seasons", "--weather", "FILE"],
    "store": ["sweep", "tilt=2..14", "--store", "FILE"],
    "store, join": ["sweep", "--join", "FILE", "--store", "t.sqlite"],
}
"""Every way in which a command reads a file that somebody names."""

WHOLE = {name: words for name, words in READERS.items() if not name.startswith("store")}
"""All but stores, which are not read into memory."""


def run(*words: object, sent: Any = None) -> Result:
    """One command in this process, on a terminal too wide to break a line."""
    return CliRunner(env={"COLUMNS": "400"}).invoke(main, [str(word) for word in words], input=sent)


def refused(result: Result, said: str) -> None:
    """Exit status 2 and one line that says why."""
    assert result.exit_code == 2, result.output
    assert len(result.stderr.splitlines()) == 1
    assert said in result.stderr


def pipe(path: Path) -> None:
    """A pipe into which nobody writes."""
    os.mkfifo(path)


def device(path: Path) -> None:
    """A name that leads to a device without an end."""
    path.symlink_to("/dev/zero")


def plug(path: Path) -> None:
    """A socket's name."""
    with socket.socket(socket.AF_UNIX) as end:
        end.bind(str(path))


ODD: dict[str, tuple[Callable[[Path], object], str]] = {
    "folder": (Path.mkdir, "this is a folder"),
    "pipe": (pipe, "this is a pipe"),
    "device": (device, "this is a device"),
    "socket": (plug, "this is a socket"),
    "link to nowhere": (lambda path: path.symlink_to("nowhere"), "none of that name"),
    "link to itself": (lambda path: path.symlink_to(path.name), "levels of symbolic links"),
}


@pytest.mark.skipif(sys.platform == "win32", reason="these things are made in another way there")
@pytest.mark.parametrize("odd", ODD)
@pytest.mark.parametrize("name", READERS)
def test_only_plain_files_are_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str, odd: str
) -> None:
    """A folder, a pipe, a device or a socket in place of a file is named as such and never opened."""
    monkeypatch.chdir(tmp_path)
    make, said = ODD[odd]
    make(Path("it"))
    if name == "store" and odd.startswith("link"):
        said = "this is a link"  # it would be written there
    refused(run(*["it" if word == "FILE" else word for word in READERS[name]]), said)
    assert [path.name for path in tmp_path.iterdir()] == ["it"]


@pytest.mark.parametrize("name", WHOLE)
def test_a_huge_file_is_never_opened(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    """A file of some gigabytes is refused by its size, before it is opened."""
    path = tmp_path / "it"
    with path.open("wb") as file:
        file.truncate(6_000_000_000)
    opened = []
    really = os.open
    monkeypatch.setattr(os, "open", lambda it, *more: opened.append(str(it)) or really(it, *more))
    monkeypatch.setattr(Path, "read_bytes", lambda self: opened.append(str(self)))
    refused(run(*[path if word == "FILE" else word for word in WHOLE[name]]), "= 6 GB: expected a")
    assert opened == []


class Endless(io.RawIOBase):
    """What never ends, and how much of it was taken."""

    taken = 0

    def readable(self) -> bool:
        """Say that it can be read."""
        return True

    def readinto(self, buffer: Any) -> int:
        """Give whatever is asked for."""
        self.taken += len(buffer)
        buffer[:] = b"#" * len(buffer)
        return len(buffer)


@pytest.mark.parametrize("size", ["says it is empty", "grows meanwhile"])
def test_a_file_that_lies_about_its_size(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, size: str
) -> None:
    """However long a file turns out to be once it is open, no more than its limit is read."""
    path = tmp_path / "it"
    path.write_bytes(b"" if size == "says it is empty" else b"#" * 50)
    monkeypatch.setattr("fitsim.files._refuse_size", lambda *_: path.write_bytes(b"#" * 5000))
    assert len(read_whole(path, kind="bowl file", most_bytes=100)) <= 101


@pytest.mark.parametrize("name", [name for name in WHOLE if "," not in name])
def test_standard_input_is_a_file_too(name: str, tmp_path: Path) -> None:
    """What another program sends is read as the file would be, and named in messages."""
    words = ["-" if word == "FILE" else word for word in WHOLE[name]]
    if name == "weather file":  # through a year of a bowl of which nothing is pressed
        (tmp_path / "shut.toml").write_text(SHUT_BOWL, "utf8")
        words.append(str(tmp_path / "shut.toml"))
    result = run(*words, sent=EXAMPLES[name])
    assert result.exit_code == 0, result.output
    refused(run(*words, sent=b"\xff"), "standard input: ")
    refused(run(*words, sent=b""), "and nothing came; send it behind the command, like: - < FILE")


@pytest.mark.parametrize("name", WHOLE)
def test_standard_input_has_a_limit(monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    """Of input that never ends no more is taken than a file of its kind may hold."""
    endless = Endless()
    runner = CliRunner()
    words = ["-" if word == "FILE" else word for word in WHOLE[name]]
    result = runner.invoke(main, words, input=io.BufferedReader(endless, 1000))  # type: ignore[arg-type]
    refused(result, "of at most")
    assert endless.taken < 20_100_000


def test_a_store_and_an_output_are_no_standard_input(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What must be a file says so where - is given for it."""
    monkeypatch.chdir(tmp_path)
    for words in (
        ["sweep", "tilt=2..9", "--store", "-"],
        ["new", "-"],
        ["testcut", "c.toml", "--keep", "-"],
    ):
        Path("c.toml").write_bytes(CUTS)
        refused(run(*words), "- is standard input")


OUTPUTS = {
    "fit": ["fit", "--rigid", "--picture", "OUT.svg"],
    "fit, moving": ["fit", "--rigid", "--moving-picture", "OUT.gif"],
    "sheet": ["sheet", "--rigid", "-o", "OUT.pdf"],
    "sheet, line": ["sheet", "--rigid", "-o", "other.pdf", "--line", "OUT.svg"],
    "sweep": ["sweep", "tilt=2..9:2", "--csv", "OUT.csv"],
    "map": [
        "map",
        "--across",
        "tilt=2..14",
        "--up",
        "kerf=0.4..1",
        "--points",
        "4",
        "--picture",
        "OUT.svg",
    ],
    "map, table": [
        "map",
        "--across",
        "tilt=2..14",
        "--up",
        "kerf=0.4..1",
        "--points",
        "4",
        "--csv",
        "OUT.csv",
    ],
    "tilt": ["tilt", "--picture", "OUT.svg"],
    "seasons": ["seasons", "--indoor", "30 to 60 %", "--picture", "OUT.svg"],
    "explain": ["explain", "--seen", "rocks", "--picture", "OUT.svg"],
    "new": ["new", "OUT.toml"],
    "testcut, new": ["testcut", "--new", "OUT.toml"],
    "testcut": ["testcut", "c.toml", "--keep", "OUT.toml"],
}
"""Every way in which a command writes a file."""


@pytest.mark.skipif(sys.platform == "win32", reason="these things are made in another way there")
@pytest.mark.parametrize("odd", ["folder", "pipe", "device", "socket", "link to nowhere", "link to a file"])
@pytest.mark.parametrize("name", OUTPUTS)
def test_replace_replaces_plain_files_only(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str, odd: str
) -> None:
    """A link, a folder, a device, a pipe or a socket is never replaced; what it leads to stays as it is."""
    monkeypatch.chdir(tmp_path)
    for file in ("c.toml", "other.toml"):
        Path(file).write_bytes(CUTS)
    (out,) = (word for word in OUTPUTS[name] if word.startswith("OUT"))
    if odd == "link to a file":
        Path(out).symlink_to("other.toml")
    else:
        ODD[odd][0](Path(out))
    before = os.lstat(out)
    refused(run(*OUTPUTS[name], "--replace"), "or with --replace a plain file; this is a ")
    after = os.lstat(out)
    assert (after.st_mode, after.st_ino) == (before.st_mode, before.st_ino)
    assert Path("other.toml").read_bytes() == CUTS
    assert {path.name for path in tmp_path.iterdir()} == {"c.toml", "other.toml", out}


SHARED = {
    "two pictures": ["fit", "--rigid", "--picture", "a.svg", "--picture", "./a.svg"],
    "picture and strip": ["fit", "--picture", "a.svg", "--strip-picture", "sub/../a.svg"],
    "sheet and line": ["sheet", "-o", "a.pdf", "--line", "a.pdf"],
    "store and table": ["sweep", "tilt=2..9:2", "--store", "a.csv", "--csv", "a.csv"],
    "bowl and table": ["sweep", "b.toml", "tilt=2..9:2", "--csv", "b.toml", "--replace"],
    "bowl and table, linked": ["sweep", "b.toml", "tilt=2..9:2", "--csv", "linked.csv", "--replace"],
    "causes and picture": [
        "explain",
        "--seen",
        "rocks",
        "--causes",
        "c.svg",
        "--picture",
        "c.svg",
        "--replace",
    ],
    "part and whole": ["sweep", "--join", "p.csv", "--store", "w.sqlite", "--csv", "p.csv", "--replace"],
    "map and table": [
        "map",
        "--across",
        "tilt=2..9",
        "--up",
        "kerf=0.5..1",
        "--picture",
        "a.svg",
        "--csv",
        "a.svg",
    ],
    "cuts and saw": ["testcut", "b.toml", "--keep", "b.toml", "--replace"],
}


@pytest.mark.parametrize("name", SHARED)
def test_no_two_files_of_a_command_are_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    """Two outputs of one name, or an output that is also read, are refused before any work."""
    monkeypatch.chdir(tmp_path)
    Path("sub").mkdir()
    for file in ("b.toml", "c.svg", "p.csv"):
        Path(file).write_bytes(BOWL)
    os.link("b.toml", "linked.csv")
    before = {path.name: path.lstat().st_mtime_ns for path in tmp_path.iterdir()}
    refused(run(*SHARED[name]), "a name of its own")
    assert {path.name: path.lstat().st_mtime_ns for path in tmp_path.iterdir()} == before


def test_names_that_differ_are_let_pass(tmp_path: Path) -> None:
    """Different files pass, whether they are there or not, and standard input is no file."""
    (tmp_path / "a.svg").touch()
    written, read = [tmp_path / "a.svg", tmp_path / "b.svg"], [tmp_path / "c.toml", "-", "-"]
    refuse_shared_names(written, read)
    for one in written:  # of the same names, one more that is not different is told by its name
        with pytest.raises(InputError, match=one.name):
            refuse_shared_names(written, [*read, one])


@pytest.mark.parametrize("step", ["write", "replace"])
def test_a_full_disk_leaves_the_old_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    """If a step of writing fails the old file stands, nothing else is left, and a full disk is named."""
    target = tmp_path / "kept.svg"
    target.write_text("mine")

    def full(*_: object) -> Path:
        raise OSError(28, "No space left on device")

    def pieces() -> Any:
        yield b"new"
        full()

    if step == "replace":
        monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(InputError, match=r"\(no space left on device\); the disk is full: make room on it"):
        write_whole(target, b"new" if step == "replace" else pieces(), replace=True)
    assert [p.name for p in tmp_path.iterdir()] == ["kept.svg"]
    assert target.read_text() == "mine"


def test_whole_file_is_written(tmp_path: Path) -> None:
    """What was given is what stands in the file, with the permissions of an ordinary file."""
    target = tmp_path / "a.bin"
    write_whole(target, b"\x00\x01", replace=False)
    assert target.read_bytes() == b"\x00\x01"
    assert target.stat().st_mode & 0o400
    write_whole(target, iter([b"\x02", b"", b"\x03"]), replace=True)
    assert target.read_bytes() == b"\x02\x03"


@pytest.mark.parametrize(
    ("name", "message"),
    [("taken.svg", "not yet taken"), ("none/a.svg", "folder that exists"), ("a.bmp", r"ending in \.svg"),
     ("x" * 400 + ".svg", "file name too long")],
)  # fmt: skip
def test_targets_are_refused_before_work(tmp_path: Path, name: str, message: str) -> None:
    """A name that is taken, a missing folder, a strange ending and an endless name are each refused."""
    (tmp_path / "taken.svg").touch()
    with pytest.raises(InputError, match=message):
        check_target(tmp_path / name, replace=False, endings=(".svg",))


ASKED = """
import os
from pathlib import Path
from fitsim.errors import InputError
from fitsim.files import check_target
if os.geteuid() == 0:  # who may write everywhere
    os.setuid(65534)
for name in ("open/a.svg", "closed/a.svg"):
    try:
        check_target(Path(name), replace=False)
        print("can be written")
    except InputError as error:
        print(error)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="folders are closed in another way there")
def test_a_closed_folder_is_noticed_before_any_work(tmp_path: Path) -> None:
    """A folder in which nobody may make a file is told as the system would tell it at the end."""
    tmp_path.chmod(0o755)
    for name, mode in (("open", 0o777), ("closed", 0o555)):
        (tmp_path / name).mkdir()
        (tmp_path / name).chmod(mode)
    here = {**os.environ, "PYTHONPATH": str(Path(__file__).parent.parent)}
    done = subprocess.run(
        [sys.executable, "-c", ASKED], cwd=tmp_path, env=here, capture_output=True, text=True, check=True
    )
    assert done.stdout.splitlines() == [
        "can be written",
        "closed/a.svg: file: expected a place that can be written (permission denied); "
        "choose another name or folder",
    ]


@pytest.mark.parametrize("name", OUTPUTS)
def test_every_command_asks_for_the_folder_first(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    """Nothing is pressed for a file that cannot be written, or that would be said on a line."""
    monkeypatch.chdir(tmp_path)
    Path("c.toml").write_bytes(CUTS)
    Path("closed").mkdir()
    real = os.access
    monkeypatch.setattr(os, "access", lambda path, mode: path != Path("closed") and real(path, mode))
    monkeypatch.setattr("fitsim.strip.kernels.prepared", lambda: False)
    words = [word.replace("OUT", "closed/OUT") for word in OUTPUTS[name]]
    refused(run(*words), "a place that can be written (permission denied); choose another name or folder")
    assert list(Path("closed").iterdir()) == []
