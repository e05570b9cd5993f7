"""Sentences of the commands as the page says them: no command line, problems short beside their field."""

import re
from typing import Any

from fitsim.errors import Problem, escaped, shortened

__all__ = ["on_page", "paragraphs", "problem_object", "problems_object"]

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

_SAID_OTHERWISE: tuple[tuple[str, str], ...] = (
    (r": fitsim testcut --new \S*[^\s.,;]", ", see Test cuts"),
    (r" Raise --elastic-solves\.", ""),
    (r" Before you saw, press the strip at that tilt: fitsim fit\.", ""),
    (r"; another --seed may move them", ""),
    (r" \(fitsim explain --list\)", ""),
    (r"the list: fitsim explain --list", "choose one from the list"),
    (r" \(--list shows them, --causes FILE takes your own\)", ""),
    (
        r"give --weather FILE\.epw, or --indoor (\"[^\"]*\"), or write \[weather\] into the bowl file",
        r"open a weather file, or write how dry and how damp the room gets, like \1",
    ),
    (r"leave out --weather or --indoor", "put the weather file away, or empty the field"),
    (r"leave it out, or give --weather in place of the range", "leave it out, or open a weather file"),
    (r"leave it out, or give --indoor", "leave it out, or write how dry and how damp the room gets"),
    (r"; --points says how fine", ""),
    (r",? ?or ask fitsim fit on the command line", ""),
    (
        r"(?:use it|write one|write it anew|write test cuts) with: fitsim [^,;.]*(?:\.toml)?[^,;.]*",
        "open it here",
    ),
    (r"add a line: \w+ = \"([^\"]*)\"", r"write it like \1"),
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
        Every number in it as it was.

    Examples
    --------
    >>> on_page("Break strips cut across the grain: fitsim testcut --new FILE.")
    'Break strips cut across the grain, see Test cuts.'
    """
    for pattern, otherwise in _SAID_OTHERWISE:
        text = re.sub(pattern, otherwise, text)
    return re.sub(
        r"`*fitsim ([a-z]+)(?: FILE)?`*", lambda found: PLACES.get(found[1], "the command line"), text
    )


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
