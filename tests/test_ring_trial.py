"""The rings tried in the rigid-body model, asked on the page as on the command line."""

import base64
import io
import json
import math
import re
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlencode

import pytest
from click.testing import CliRunner
from PIL import Image
from starlette.testclient import TestClient

from fitsim.bowlfile.defaults import demo_tables
from fitsim.bowlfile.text import bowl_text
from fitsim.cli import main
from fitsim.page.server import page_app
from fitsim.page.state import pairs_of_tables

HOST = "127.0.0.1:7250"
BOWL: dict[str, Any] = {
    "name": "Two turns",
    "board": {"thickness": "18 mm", "across": "110 mm", "wood": "walnut"},
    "cut": {"tilt": "6.5 deg", "kerf": "0.72 mm", "pitch": "12 mm", "base": "66 mm"},
    "use": {"friction": "0.2 to 0.4", "press": "60 N", "film": "0 mm"},
}


def asked(tables: dict[str, Any], **page: str) -> dict[str, Any]:
    """What the page's server answers to a typed request for the rings, told lines before it."""
    app = page_app(hosts=(HOST,), start=demo_tables())
    client = TestClient(app, base_url=f"http://{HOST}")
    reply = client.get(f"/rings?{urlencode([*pairs_of_tables(tables), *page.items()], quote_via=quote)}")
    *told, last = (json.loads(line) for line in reply.text.splitlines())
    assert len([line for line in told if "told" in line]) >= 3 or last["answer"]["gif"] is None
    return dict(last["answer"])


def test_the_page_tries_the_rings_as_the_command_does(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Drops are k/sin(tilt) though the engine knows no formula; words and picture are the command's."""
    found = asked(BOWL, units="mm")
    monkeypatch.chdir(tmp_path)
    Path("two.toml").write_text(bowl_text(BOWL), encoding="utf-8")
    words = ["fit", "two.toml", "--check", "--moving-picture", "two.gif", "--units", "mm"]
    result = CliRunner().invoke(main, words)
    assert result.exit_code == 0, result.output
    drop_mm = 0.72 / math.sin(math.radians(6.5))  # 6.36 mm
    rows = found["table"]["rows"]
    assert found["table"]["heads"][-1] == "drop in the rigid-body check"
    assert len(rows) > 0
    for row in rows:
        assert float(row[-1].split()[0]) == pytest.approx(drop_mm, rel=0.02)
    assert " ".join(found["told"].split()) in " ".join(result.output.split())
    assert "friction 0.2" in found["told"]
    picture = base64.b64decode(found["gif"])
    assert picture == Path("two.gif").read_bytes()
    moving, still = (
        Image.open(io.BytesIO(picture)),
        Image.open(io.BytesIO(base64.b64decode(found["still"]))),
    )
    assert moving.n_frames >= 10
    assert moving.size == still.size
    assert not re.search(r"fitsim|--", json.dumps({**found, "gif": "", "still": ""}))


def test_a_closed_slot_has_nothing_to_press() -> None:
    """A film of 0.4 mm on each face shuts a slot of 0.72 mm: it is said, and there is no picture."""
    found = asked({**BOWL, "use": {**BOWL["use"], "film": "0.4 mm"}})
    assert "nothing to press" in found["told"]
    assert found["gif"] is None
    assert found["table"] is None
