"""Files are written whole or not at all, and never silently over another."""

from pathlib import Path

import pytest

from fitsim.errors import InputError
from fitsim.files import check_target, write_whole


def test_a_full_disk_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """If the last step fails the old file stands, no passing file is left, and the answer is one line."""
    target = tmp_path / "kept.svg"
    target.write_text("mine")

    def full(self: Path, other: Path) -> Path:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(InputError, match="no space left"):
        write_whole(target, b"new", replace=True)
    assert [p.name for p in tmp_path.iterdir()] == ["kept.svg"]
    assert target.read_text() == "mine"


def test_whole_file_is_written(tmp_path: Path) -> None:
    """What was given is what stands in the file, with the permissions of an ordinary file."""
    target = tmp_path / "a.bin"
    write_whole(target, b"\x00\x01", replace=False)
    assert target.read_bytes() == b"\x00\x01"
    assert target.stat().st_mode & 0o400


@pytest.mark.parametrize(
    ("name", "message"),
    [("taken.svg", "not yet taken"), ("none/a.svg", "folder that exists"), ("a.bmp", r"ending in \.svg")],
)
def test_targets_are_refused_before_work(tmp_path: Path, name: str, message: str) -> None:
    """A name that is taken, a missing folder and a strange ending are each refused."""
    (tmp_path / "taken.svg").touch()
    with pytest.raises(InputError, match=message):
        check_target(tmp_path / name, replace=False, endings=(".svg",))
