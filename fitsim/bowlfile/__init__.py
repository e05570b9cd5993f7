"""The TOML file of a bowl: keys, cuts that cannot be made, and what is assumed where a key is left out.

A file or its tables go in; a ``Bowl`` comes out, or one line for every problem. Every default has its
source and its range, and is shown with the answer.
"""

__all__ = ["MODULES"]

MODULES = (
    "keys",
    "contradictions",
    "defaults",
    "text",
)
"""In reading order: each imports only those before it."""
