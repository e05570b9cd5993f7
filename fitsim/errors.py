"""What can go wrong, one class per kind of trouble, so that callers can tell them apart."""

from dataclasses import dataclass

__all__ = [
    "FitsimError",
    "InputError",
    "NoConvergenceError",
    "OutsideModelError",
    "Problem",
]


class FitsimError(Exception):
    """Base of every error this package raises on purpose."""


@dataclass(frozen=True)
class Problem:
    """One thing wrong with what the maker wrote, and how to mend it.

    Attributes
    ----------
    where : str
        The file, or "" when the value came from a program or the command line.
    key : str
        Key as written in the bowl file, for example ``cut.kerf``.
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
        """Return the problem as one line."""
        place = f"{self.where}: {self.key}" if self.where else self.key
        given = f" = {self.value}" if self.value else ""
        return f"{place}{given}: expected {self.expected}; {self.remedy}"


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
