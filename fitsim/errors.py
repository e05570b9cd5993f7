"""What can go wrong, one class per kind of trouble, so that callers can tell them apart."""

from dataclasses import dataclass

__all__ = [
    "LONGEST_LINE",
    "FitsimError",
    "InputError",
    "NoConvergenceError",
    "OutsideModelError",
    "Problem",
    "escaped",
    "hidden_remedy",
    "shortened",
]

LONGEST_LINE = 480
"""Characters of one line that says what is wrong; a terminal puts the program's name before it."""

LEAST_PART = 60
"""No part of such a line is cut below this: five parts of it still fit."""


def escaped(text: str) -> str:
    r"""Show what a terminal would obey, or not show at all, as an escape.

    Newlines, control characters, marks that turn the direction of writing and the stray bytes of a file's
    name: all may stand in what a stranger wrote.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    str
        One line that can be printed; text without such characters is given back as it is.

    Examples
    --------
    >>> print(escaped("ti\tlt\x1b[31m"))
    ti\tlt\x1b[31m
    """
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in text)


_UNSEEN = frozenset(
    [*map(chr, (0x034F, 0x115F, 0x1160, 0x17B4, 0x17B5, 0x180F, 0x2800, 0x3164, 0xFFA0))]
    + [chr(c) for low, high in ((0x180B, 0x180D), (0xFE00, 0xFE0F), (0xE0100, 0xE01EF))
       for c in range(low, high + 1)]
)  # fmt: skip
"""Joiners, fillers, blanks and marks of a style: printed, but as nothing (Unicode: default ignorable)."""


def hidden_remedy(text: str, *, spaces: bool = True) -> str:
    r"""What to do about a character that neither an editor shows nor a maker typed on purpose.

    Pasted text brings them: spaces that do not break, marks of the direction of writing, soft hyphens.

    Parameters
    ----------
    text : str
        What was written.
    spaces : bool
        Whether spaces may stand in what is asked for; in a key they may not.

    Returns
    -------
    str
        The remedy for the first of them; "" where there is none.

    Examples
    --------
    >>> hidden_remedy("0.7 mm\u200b")
    'delete the character U+200B in it, which many editors do not show'
    >>> hidden_remedy("black\u00a0walnut")
    'write a plain space in place of the character U+00A0 in it'
    >>> hidden_remedy("ti\u00a0lt", spaces=False)
    'delete the character U+00A0 in it, which many editors do not show'
    """
    hidden = next((c for c in text if not (c.isascii() or c.isprintable()) or c in _UNSEEN), "")
    if not hidden:
        return ""
    if spaces and hidden.isspace() and text.strip(hidden).count(hidden):
        return f"write a plain space in place of the character U+{ord(hidden):04X} in it"
    return f"delete the character U+{ord(hidden):04X} in it, which many editors do not show"


def shortened(text: str, most: int) -> str:
    """Take out the middle of a text that is too long.

    Parameters
    ----------
    text : str
        Any text.
    most : int
        Characters at most, ten or more.

    Returns
    -------
    str
        The text, or its beginning and its end.

    Examples
    --------
    >>> shortened("a kerf, a tilt and a pitch", 16)
    'a kerf, a...itch'
    """
    if len(text) <= most:
        return text
    end = (most - 3) // 3
    return f"{text[: most - 3 - end]}...{text[len(text) - end :]}"


class FitsimError(Exception):
    """Base of every error this package raises on purpose."""


@dataclass(frozen=True)
class Problem:
    """One thing wrong with what the maker wrote, and how to put it right.

    Attributes
    ----------
    where : str
        The file, or "" when the value came from a program or the command line.
    key : str
        Key as written in the bowl file, for example ``geometry.cut.kerf``.
    value : str
        The value as written, or "" when it is missing.
    expected : str
        What would have been understood.
    remedy : str
        What to write or do instead, as an instruction.
    """

    where: str
    key: str
    value: str
    expected: str
    remedy: str

    def __str__(self) -> str:
        """Return the problem as one line that can be printed, at most :data:`LONGEST_LINE` long."""
        parts = [escaped(p) for p in (self.where, self.key, self.value, self.expected, self.remedy)]
        while (over := len(_joined(*parts)) - LONGEST_LINE) > 0:
            longest = max(range(len(parts)), key=lambda i: len(parts[i]))
            parts[longest] = shortened(parts[longest], max(len(parts[longest]) - over, LEAST_PART))
        return _joined(*parts)


def _joined(where: str, key: str, value: str, expected: str, remedy: str) -> str:
    place = f"{where}: {key}" if where else key
    given = f" = {value}" if value else ""
    return f"{place}{given}: expected {expected}; {remedy}"


class InputError(FitsimError, ValueError):
    """One or several problems in what was asked, each answered in one line."""

    def __init__(self, problems: "tuple[Problem, ...] | Problem") -> None:
        """Keep the problems; the message is one line for each."""
        self.problems = (problems,) if isinstance(problems, Problem) else tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


class OutsideModelError(FitsimError, ValueError):
    """A value lies outside the range in which a formula is known to serve."""


class NoConvergenceError(FitsimError, RuntimeError):
    """A solver did not reach its stated accuracy; its numbers must not be shown as a result.

    Attributes
    ----------
    reached_N : float
        Press up to which a strip was followed, where one was pressed. [N]
    """

    def __init__(self, message: str, reached_N: float = 0.0) -> None:
        super().__init__(message)
        self.reached_N = reached_N
