"""The version of the program, which every answer names."""

__all__ = ["VERSION"]

VERSION = "0.1.0"
"""Of the package; the build reads it here."""
