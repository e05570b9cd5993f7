"""The guide: pages written for a maker, which ``fitsim guide`` prints and the page at the bench serves.

One markdown file in ``fitsim/guide/`` is one page; its file name is what is typed, its first line its
title. Comments in a page are for the tests and are not shown.
"""

import re
import textwrap
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from fitsim.errors import InputError, Problem

__all__ = ["GuidePage", "guide_page", "guide_pages", "wrapped_page"]

GUIDE = Path(__file__).parent / "guide"

FIRST = (
    "start", "words", "fit", "sheet", "saw", "testcut", "tilt", "plan", "outlines", "explain", "seasons",
    "map", "sweep", "page", "trust", "keys", "files", "python",
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


_ITEM = re.compile(r"(\s*)([-*]|[0-9]+\.) +")
_CODE = re.compile(r"`[^`]+`")
_UNBROKEN = "\x00"
"""Stands for a blank within a command while lines are broken."""

LEAST_CELL = 12
"""Columns below which a cell of a table is not squeezed."""


def wrapped_page(text: str, width: int) -> str:
    """A page for a terminal that is narrower than its lines.

    Parameters
    ----------
    text : str
        Markdown of a page.
    width : int
        Columns of the terminal.

    Returns
    -------
    str
        Paragraphs, items of lists and tables with a line too long are set anew; code stands as it stood.
    """
    return "".join(f"{line}\n" for block in _blocks(text) for line in _set(block, width))


def _blocks(text: str) -> Iterator[list[str]]:
    """Lines that belong together: a fenced block, a table, an item of a list, a paragraph."""
    block: list[str] = []
    fenced = False
    for line in text.splitlines():
        fence = line.lstrip().startswith("```")
        table, before = line.startswith("|"), bool(block) and block[-1].startswith("|")
        begins = not line.strip() or line.startswith("#") or _ITEM.match(line) or table != before
        if not fenced and block and (fence or begins or not block[-1].strip() or block[-1].startswith("#")):
            yield block
            block = []
        block.append(line)
        if fence and fenced:
            yield block
            block = []
        fenced ^= fence
    if block:
        yield block


def _set(block: list[str], width: int) -> list[str]:
    if block[0].lstrip().startswith("```") or all(len(line) <= width for line in block):
        return block
    if block[0].startswith("|"):
        return _set_table(block, width)
    item = _ITEM.match(block[0])
    hang = " " * (item.end() if item else len(block[0]) - len(block[0].lstrip()))
    first = item[0] if item else hang
    words = " ".join(line.strip() for line in block)
    return _lines(words[len(first.strip()) :].strip(), width, first, hang)


def _lines(words: str, width: int, first: str = "", hang: str = "") -> list[str]:
    """Lines of at most that width, no command broken that fits a line."""

    def together(code: re.Match[str]) -> str:
        room = width - max(len(first), len(hang))
        return code[0].replace(" ", _UNBROKEN) if len(code[0]) <= room else code[0]

    lines = textwrap.wrap(
        _CODE.sub(together, words), width, initial_indent=first, subsequent_indent=hang,
        break_long_words=False, break_on_hyphens=False,
    )  # fmt: skip
    return [line.replace(_UNBROKEN, " ") for line in lines]


def _set_table(block: list[str], width: int) -> list[str]:
    """A table with its cells broken into lines, the widest columns first."""
    rows = [[cell.strip() for cell in line.strip().strip("|").split("|")] for line in block]
    rows = [row for row in rows if not set("".join(row)) <= set("-: ")]
    widths = [max(len(cell) for cell in column) for column in zip(*rows, strict=True)]
    room = width - 3 * len(widths) + 3
    while sum(widths) > room and max(widths) > LEAST_CELL:
        widths[widths.index(max(widths))] -= 1
    lines = []
    for number, row in enumerate(rows):
        cells = [_lines(cell, wide) or [""] for cell, wide in zip(row, widths, strict=True)]
        for at in range(max(len(cell) for cell in cells)):
            parts = (cell[at] if at < len(cell) else "" for cell in cells)
            lines.append(
                " | ".join(f"{part:{wide}}" for part, wide in zip(parts, widths, strict=True)).rstrip()
            )
        lines.append("-|-".join("-" * wide for wide in widths) if number == 0 else "")
    return lines[:-1]
