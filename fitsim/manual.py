"""The guide: pages written for a maker, which ``fitsim guide`` prints and the page at the bench serves.

One markdown file in ``fitsim/guide/`` is one page; its file name is what is typed, its first line its
title. Comments in a page are for the tests and are not shown.
"""

import re
from dataclasses import dataclass
from pathlib import Path

from fitsim.errors import InputError, Problem

__all__ = ["GuidePage", "guide_page", "guide_pages"]

GUIDE = Path(__file__).parent / "guide"

FIRST = (
    "start", "words", "fit", "sheet", "saw", "testcut", "tilt", "plan", "outlines", "explain", "seasons",
    "map", "sweep", "page", "trust", "files", "python",
)  # fmt: skip
"""Pages in the order in which a maker meets them; the others follow by name."""


@dataclass(frozen=True)
class GuidePage:
    """One page of the guide.

    Attributes
    ----------
    name : str
        What is typed after ``fitsim guide``.
    title : str
        Its first line.
    text : str
        Markdown, title included, comments left out.
    """

    name: str
    title: str
    text: str


def _read(path: Path) -> GuidePage:
    text = re.sub(r"<!--.*?-->\n?", "", path.read_text(encoding="utf8"), flags=re.DOTALL).strip() + "\n"
    return GuidePage(path.stem, text.partition("\n")[0].lstrip("# "), text)


def guide_pages() -> tuple[GuidePage, ...]:
    """Every page, in reading order.

    Returns
    -------
    tuple[GuidePage, ...]
        The pages.
    """
    places = {name: place for place, name in enumerate(FIRST)}
    pages = [_read(path) for path in GUIDE.glob("*.md")]
    return tuple(sorted(pages, key=lambda page: (places.get(page.name, len(FIRST)), page.name)))


def guide_page(name: str) -> GuidePage:
    """Return the page of a name.

    Parameters
    ----------
    name : str
        A page's name, for example ``"tilt"``.

    Returns
    -------
    GuidePage
        The page.

    Raises
    ------
    InputError
        If there is no page of that name; the names there are stand in it.
    """
    pages = {page.name: page for page in guide_pages()}
    if name not in pages:
        expected = f"a page of the guide: {', '.join(pages)}"
        raise InputError(Problem("", "guide", name, expected, "list them with: fitsim guide"))
    return pages[name]
