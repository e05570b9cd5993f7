"""What a terminal's code page cannot show must not cost the answer.

Sent to a file, a pipe or an editor's window, an answer is written in the code page of the machine. That of
a Western Windows has no rule to set under a heading, and hardly any has every letter a name may hold.
Started by a scheduler, a program may have no output at all.
"""

import codecs
import io
import os
import sys

__all__ = ["prepare_output"]

HANDLER = "fitsim.shown"

ASCII = "fitsim_ascii"
"""ASCII by another name: a stream of that of ASCII is taken by click for one nobody set, and not obeyed."""

_PLAIN = str.maketrans({"\N{BOX DRAWINGS LIGHT HORIZONTAL}": "-", "\N{SUPERSCRIPT THREE}": "3"})
"""Signs of our own that have a plain one in every code page."""


def prepare_output() -> None:
    r"""See to it that whatever is printed from now on arrives, as far as it can be shown.

    A rule becomes a row of hyphens, another character that is missing its number, like ``\u2615``: in JSON
    that is the same character. Output that is not there takes everything and keeps nothing.
    """
    codecs.register_error(HANDLER, _shown)
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:
            setattr(sys, name, open(os.devnull, "w", encoding="utf8"))  # noqa: SIM115 - until the program ends
        elif isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(encoding=_taken_as_set(stream.encoding), errors=HANDLER)


def _taken_as_set(encoding: str) -> str | None:
    """Another name for ASCII; None of any other encoding, which keeps its own."""
    if codecs.lookup(encoding).name != "ascii":
        return None
    codecs.register(_ascii)
    return ASCII


def _ascii(name: str) -> codecs.CodecInfo | None:
    if name != ASCII:
        return None
    known = codecs.lookup("ascii")
    return codecs.CodecInfo(
        known.encode, known.decode, known.streamreader, known.streamwriter,
        known.incrementalencoder, known.incrementaldecoder, name=ASCII,
    )  # fmt: skip


def _shown(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    missing = error.object[error.start : error.end].translate(_PLAIN)
    return missing.encode("ascii", "backslashreplace").decode("ascii"), error.end
