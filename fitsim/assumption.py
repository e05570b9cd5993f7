"""A value that nobody gave or measured, with its reach and where it comes from."""

from dataclasses import dataclass

__all__ = ["Assumption"]


@dataclass(frozen=True)
class Assumption:
    """A value nobody measured on this bowl, shown with every answer that uses it.

    Attributes
    ----------
    key : str
        Key of the bowl file that would replace it, or the wood's property.
    value, low, high : str
        As shown to a reader, with unit; low and high equal value where no range is stated.
    mark : str
        "published", "from memory", "estimated", or "measured" for what test cuts on this saw gave.
    source : str
        Where it comes from.
    """

    key: str
    value: str
    low: str
    high: str
    mark: str
    source: str
