"""Small bowls for the tests of seasons: three turns, so that a press takes a part of a second."""

from typing import Any

TABLES: dict[str, dict[str, Any]] = {
    "board": {
        "wood": "cherry",
        "thickness": "18.3 mm",
        "across": "131 mm",
        "moisture": "8 %",
        "grain": "20 deg",
    },
    "cut": {"tilt": "5.2 deg", "kerf": "0.72 mm", "pitch": "8.4 mm", "base": "76 mm"},
    "use": {"finish": "none"},
}
"""An invented cherry bowl, its rings leaning: swelling through the thickness and in the plane differ."""


def tables(**changes: dict[str, Any]) -> dict[str, dict[str, Any]]:
    """The bowl with some of its keys changed, table by table."""
    return {name: table | changes.get(name, {}) for name, table in TABLES.items()}
