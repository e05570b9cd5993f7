"""Sentences of the commands as the page says them: no command line, problems short beside their field."""

import re
from collections.abc import Callable
from typing import Any

from fitsim.errors import Problem, escaped, shortened

__all__ = ["EXPLAINED", "on_page", "paragraphs", "problem_object", "problems_object"]

LONGEST_BESIDE = 220
LONG_LIST = re.compile(r'(?:one of )?(?:"[^"]+", ){5,}"[^"]+"')
"""So long a list of what would be allowed is left to the field, which offers it."""

PLACES = {
    "fit": "Will it lock?",
    "tilt": "Which tilt?",
    "sheet": "What goes to the saw?",
    "map": "What else would lock?",
    "sweep": "What else would lock?",
    "seasons": "Through the year",
    "explain": "Why did it fail?",
    "plan": "What I want",
    "testcut": "Test cuts",
    "guide": "The guide",
    "woods": "the wood list",
}
"""Where on the page stands what a command answers."""

EXPLAINED: dict[str, str] = {
    "tilt": (
        "How far the saw table leans from square to the blade. So the cut has sloping faces, the bevels."
    ),
    "kerf": (
        "The width of the slot the blade leaves, square to its faces. A feeler gauge in a short test cut "
        "tells it."
    ),
    "pitch": (
        "How far the cut moves inward in one turn: the width of the strip and one slot together. Turns are "
        "counted from the innermost, turn 1."
    ),
    "base": (
        "The disc that stays whole in the middle, measured across to the slot's middle where the cut ends."
    ),
    "root": (
        "Where the strip leaves the base, at the inner end of the cut. It is one piece with the base "
        "there, and is placed by its angle from the grain, seen from the middle."
    ),
    "nail": "Where the cut began at the rim: it holds the strip's free end to the turn inside it.",
    "grain": "The way the fibres run. Wood pulled across them splits most easily.",
    "worst place": (
        "Where the strip is likeliest to split: not always where one point works hardest, as a small place "
        "bears more than a large one."
    ),
    "bevel": "The sloping face of a turn. Two of them wedge together when the bowl is pressed open.",
    "press": "How hard your hands can push straight down on the middle. A bathroom scale tells it.",
    "friction": (
        "How well one bevel grips the other: the push at which it slides along, over the push that holds "
        "the two together. Bare wood grips more, waxed wood less."
    ),
    "overlap": (
        "The share of the thickness that still faces its neighbour once the bevels wedge. With none left "
        "the turn drops through."
    ),
    "friction used": (
        "The least friction that would still hold the bowl open, over the friction there is. Beyond 100 % "
        "it slides back."
    ),
    "press asked": (
        "The press the bowl ought to be given, over the press there is. Above 100 % it springs back for "
        "want of press."
    ),
    "slot left": (
        "What is still open of the slot when finish and swelling have taken their share. With none left "
        "nothing moves."
    ),
    "split chance": "How many of a hundred bowls like this one would crack when pressed open.",
    "rise": "How high the rim stands above the flat board.",
}
"""Words of the trade and of this program, each in a sentence or two, said where the word stands."""


KEY_NAMES: dict[str, str] = {
    "board.across": "across",
    "board.outline": "outline of the board",
    "board.moisture": "moisture when sawn",
    "board.grain": "grain of the board",
    "board.pith": "pith, from the base",
    "cut.base": "base, across",
    "cut.root": "root, from the grain",
    "cut.base_corner": "least radius of the corners round the base",
    "cut.blade": "width of the blade",
    "cut.blade_body": "thickness of the blade",
    "cut.blade_set": "set of the teeth",
    "use.film": "film of finish on one face",
    "use.friction": "friction between bevels",
    "use.press": "press there is",
    "use.base_moisture": "moisture of the base now",
    "use.turn_moisture": "moisture of the turns now",
    "limits.overlap": "limit of the overlap",
    "limits.friction_used": "limit of the friction used",
    "limits.split_chance": "limit of the chance of splitting",
    "limits.press_spare": "press, times the least that holds",
    "limits.slot_left": "limit of the slot left",
    "scatter.kerf": "how far the kerf strays along the cut",
    "scatter.kerf_length": "length over which the kerf changes",
    "scatter.tilt": "how far the setting of the table strays",
    "scatter.thickness": "how far the thickness strays",
}
"""How the page names a key of the bowl file; one that is not here is named by its own word."""

_KEY = re.compile(r"\b(?:board|cut|use|limits|scatter|room|want)\.([a-z][a-z_]+)\b(?!\()")


def _written_like(where: str | None, value: str) -> str:
    """How a value that is missing is written, and along what it is measured."""
    return f"write it like {value}{f', {where}' if where else ''}"


_SAID_OTHERWISE: tuple[tuple[str, str | Callable[[re.Match[str]], str]], ...] = (
    (r",? or write test cuts with: fitsim testcut --new FILE", ""),
    (
        r"(?:use it|write one|write it anew|write test cuts) with: fitsim [^,;.]*(?:\.toml)?[^,;.]*",
        "open it here",
    ),
    (r": fitsim testcut --new \S*[^\s.,;]", ", see Test cuts"),
    (r"measure more test cuts: fitsim testcut", "measure more test cuts, see Test cuts"),
    (r"Before you saw: fitsim fit for the verdict", "Before you saw, ask Will it lock? for the verdict"),
    (r", fitsim tilt for the chance", ", and Which tilt? for the chance"),
    (r"\bfit has the film\b", "Will it lock? has the film"),
    (r"\bas fit presses it\b", "as under Will it lock?"),
    (
        r"add --seen \"fell through\", or a table \[seen\]; the words: fitsim explain --list",
        "choose what you saw, or what you measured, and add it",
    ),
    (
        r"write your readings: \[\[ring\]\] with tilt and drop, or \[\[slot\]\] with width"
        r"(?:, and no # before)?(?:; for other tests \[\[slide\]\], \[\[break\]\], \[\[oven\]\] or "
        r"\[\[meter\]\])?",
        "choose a reading above, type it and add it",
    ),
    (r"use one of those in: fitsim guide keys", "choose one from the list"),
    (
        r"; fit with --changes tries some",
        ": Which tilt? and What else would lock? show what would help",
    ),
    (
        r"add a table \[want\] with rise = \"3 in\", or type --want \"rise=3 in\"",
        "fill in what you mind, such as the rise of the rim",
    ),
    (r"leave the key out", "leave the field empty"),
    (r"write [\w.]+=\S* for one value", "write two values that differ"),
    (
        r"write it like (?:--\w+ )?tilt=2\.\.14(?::25)?(?:; --points says how fine)?",
        "write it from low to high, like 2 to 14",
    ),
    (r"All values of (?:the wood|one wood with their sources): fitsim woods (?:\"[^\"]*\"|NAME)\.?", ""),
    (r"Where each value comes from: add --sources\.", ""),
    (r" Raise --elastic-solves\.", ""),
    (r" Before you saw, press the strip at that tilt: fitsim fit\.", ""),
    (r"; another --seed may move them", ""),
    (r" \(fitsim explain --list\)", ""),
    (r"the list: fitsim explain --list", "choose one from the list"),
    (r" \(--list shows the first two, --causes FILE takes your own\)", ""),
    (
        r"give --weather FILE\.epw, or --indoor (\"[^\"]*\"), or write \[weather\] into the bowl file",
        r"open a weather file, or write how dry and how damp the room gets, like \1",
    ),
    (r"leave out --weather or --indoor", "put the weather file away, or empty the field"),
    (r"leave it out, or give --weather in place of the range", "leave it out, or open a weather file"),
    (r"leave it out, or give --indoor", "leave it out, or write how dry and how damp the room gets"),
    (r"; --points says how fine", ""),
    (r",? ?or ask fitsim fit on the command line", ""),
    (r"add a line(?:, ([a-z ]+))?: \w+ = \"?([^\",;]*)\"?", lambda m: _written_like(m[1], m[2])),
    (r"add \[(?:board|cut)\] with ([a-z ]+)", r"fill in \1"),
    (r"the \[(board|cut)\] table", r"the fields of the \1"),
    (r"the table \[weather\] of the bowl file", "the weather of the bowl file"),
    (r" under \[room\] set aside", " set aside"),
    (r"because the file does not say", "because it was not read"),
    (r" ?\(--[a-z-]+(?: lists them)?\)", ""),
    (r": fitsim [a-z]+(?: [A-Z_]+)?(?: --[a-z-]+(?: [A-Z_]+)?)*", ""),
    (r"--([a-z]+(?:-[a-z]+)*)", r"\1"),
)


def on_page(text: str) -> str:
    """A sentence without the words of the command line.

    Parameters
    ----------
    text : str
        As a command says it.

    Returns
    -------
    str
        Every number in it as it was, but for a textbook's measure of how readings agree.

    Examples
    --------
    >>> on_page("Break strips cut across the grain: fitsim testcut --new FILE.")
    'Break strips cut across the grain, see Test cuts.'
    """
    for pattern, otherwise in _SAID_OTHERWISE:
        text = re.sub(pattern, otherwise, text)
    text = _KEY.sub(lambda key: KEY_NAMES.get(key[0], key[1].replace("_", " ")), text)
    return re.sub(r"`*fitsim ([a-z]+)(?: FILE)?`*", lambda found: PLACES.get(found[1], "the guide"), text)


def paragraphs(report: str) -> list[Any]:
    """A report of a terminal as its paragraphs, rows of cells where it has a table.

    Parameters
    ----------
    report : str
        With no line broken within a paragraph.

    Returns
    -------
    list of str or list of list of str
        In their order.
    """
    found: list[Any] = []
    for line in report.splitlines():
        cells = re.split(r"\s{2,}", line.strip())
        if len(cells) > 2 and not set(line) <= set(" ─"):
            rows = found[-1] if found and isinstance(found[-1], list) else []
            if not rows:
                found.append(rows)
            rows.append([on_page(cell) for cell in cells])
            wide = max(map(len, rows))
            rows[0] = [""] * (wide - len(rows[0])) + rows[0]
        elif line.strip(" ─"):
            found.append(on_page(line.strip()))
    return found


def problem_object(problem: Problem) -> dict[str, Any]:
    """One thing that is wrong, as it stands beside its field.

    Parameters
    ----------
    problem : Problem
        The problem.

    Returns
    -------
    dict
        "key", and "text": what was expected and what to do; the field itself shows key and value.
    """
    expected, remedy = (
        LONG_LIST.sub("one from the list", on_page(escaped(part)))
        for part in (problem.expected, problem.remedy)
    )
    expected, remedy = (shortened(part, LONGEST_BESIDE).rstrip(".") for part in (expected, remedy))
    if "did you mean" in remedy.lower():
        text = f"{remedy}{'' if remedy.endswith('?') else '.'} Expected {expected}."
    else:
        text = f"Expected {expected}; {remedy}."
    return {"key": problem.key, "text": f"{text[:1].upper()}{text[1:]}"}


def problems_object(problems: tuple[Problem, ...]) -> dict[str, Any]:
    """What is wrong, each with the key it stands beside.

    Parameters
    ----------
    problems : tuple[Problem, ...]
        The problems.

    Returns
    -------
    dict
        ``{"problems": [{"key": ..., "text": ...}, ...]}``.
    """
    return {"problems": [problem_object(p) for p in problems]}
