"""The file that keeps what tests have taught: a saw, a friction, a board's strength and moisture.

TOML in the manner of the bowl file: every quantity in quotes with its unit. It holds any of the four; a
saw file is one that holds a saw alone. Several files may be taken together; a saw belongs to a blade,
friction to a finish, strength and moisture to a board, so each may have its own.
"""

import math
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from fitsim.bowlfile.keys import READERS
from fitsim.errors import InputError, Problem
from fitsim.files import file_name
from fitsim.quantities import MOISTURE, RATIO, STRESS
from fitsim.saw.break_test import BoardStrength
from fitsim.saw.learned import Learned
from fitsim.saw.oven_test import BoardMoisture
from fitsim.saw.saw_file import SAW_READERS, make_saw, saw_text
from fitsim.saw.slide_test import Friction
from fitsim.table_keys import KeyedFile, Reader, count, positive
from fitsim.toml_files import tables_of_file
from fitsim.wood.across_grain import SHAPES, BoardAcross

__all__ = ["LEARNED_TABLES", "joined", "learned_text", "make_learned", "read_learned", "read_learned_files"]

_MEANS = {f"mean_at_{m:g}": m for m in SHAPES}
_SDS = {f"sd_at_{m:g}": m for m in SHAPES}

LEARNED_READERS: dict[str, dict[str, Reader]] = {
    **SAW_READERS,
    "friction": {
        "finish": READERS["use"]["finish"], "wood": READERS["board"]["wood"],
        "friction": positive(RATIO, "", 5), "low": positive(RATIO, "", 5), "high": positive(RATIO, "", 5),
        "slides": count,
    },
    "strength": {
        "wood": READERS["board"]["wood"], "grain": READERS["board"]["grain"],
        **{key: positive(STRESS, "MPa", 200) for key in (*_MEANS, *_SDS, "usual")}, "strips": count,
    },
    "moisture": {
        "wood": READERS["board"]["wood"], "moisture": positive(MOISTURE, "%", 30),
        "sd": positive(MOISTURE, "%"), "pieces": count, "meters": count,
    },
}  # fmt: skip
"""Reader of every key, by table; all are needed, but for the wood of friction and moisture."""

LEARNED_TABLES = tuple(LEARNED_READERS)
_OPTIONAL = {"friction": ("wood",), "moisture": ("wood",)}


def _quoted(name: str) -> str:
    # A JSON-like escape serves TOML's basic strings too: backslash and quote are all a name can hold.
    escaped = name.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'


def learned_text(learned: Learned, *, name: str, date: str = "") -> str:
    """The file's text, which :func:`read_learned` reads back.

    Parameters
    ----------
    learned : Learned
        What the tests of one file taught: at most one of each kind.
    name, date : str
        Of the tests; the day may be "".

    Returns
    -------
    str
        TOML; with a saw alone it is the saw file of :func:`fitsim.saw.saw_file.saw_text`.
    """
    saw = learned.saw
    rest = [*learned.frictions[:1], *learned.strengths[:1], *learned.moistures[:1]]
    if saw is not None and not rest:
        return saw_text(saw)
    lines = [
        "# What tests in the workshop have taught, worked out by: fitsim testcut",
        "# Use it with: fitsim fit FILE --learned THIS_FILE. A saw's part holds for its blade, friction",
        "# for its finish, strength and moisture for their board, moisture while the board is kept so.",
        f"name = {_quoted(name)}",
        *([f'date = "{date}"'] if date else []),
    ]
    if saw is not None:
        lines += ["", saw_text(saw).partition("\n\n")[2].rstrip("\n")]
    for f in learned.frictions[:1]:
        lines += ["", "[friction]", f'finish = "{f.finish}"', *_wood_line(f.wood),
                  f'friction = "{f.friction:.6f}"     # as likely more as less', f'low = "{f.low:.6f}"',
                  f'high = "{f.high:.6f}"         # nine times in ten between low and high',
                  f"slides = {f.slides}"]  # fmt: skip
    for s in learned.strengths[:1]:
        rings = math.degrees(s.across.ring_angle_rad)
        lines += ["", "[strength]      # across the grain, at 12 % moisture and the handbooks' volume",
                  *_wood_line(s.wood), f'grain = "{rings:.6f} deg"']  # fmt: skip
        for m, mean, cov in zip(SHAPES, s.across.mean_MPa, s.across.cov, strict=True):
            lines += [f'mean_at_{m:g} = "{mean:.6f} MPa"', f'sd_at_{m:g} = "{mean * cov:.6f} MPa"']
        lines += [f'usual = "{s.across.usual_MPa:.6f} MPa"     # by the handbook, sawn this way',
                  f"strips = {s.strips}"]  # fmt: skip
    for w in learned.moistures[:1]:
        lines += ["", "[moisture]", *_wood_line(w.wood), f'moisture = "{w.moisture_percent:.6f} %"',
                  f'sd = "{w.sd_percent:.6f} %"          # standard deviation of what is known',
                  f"pieces = {w.pieces}", f"meters = {w.meters}"]  # fmt: skip
    return "\n".join(lines) + "\n"


def _wood_line(wood: str) -> list[str]:
    return [f"wood = {_quoted(wood)}"] if wood else []


def read_learned(path: str | Path) -> Learned:
    """Read a file of what was learned.

    Parameters
    ----------
    path : str or pathlib.Path
        Written by ``fitsim testcut FILE --keep PATH``.

    Returns
    -------
    Learned
        Whatever it holds.

    Raises
    ------
    InputError
        One line for every problem.
    """
    tables = tables_of_file(
        path, kind="file of what was learned", made_by="fitsim testcut FILE --keep KEPT"
    )
    return make_learned(tables, where=file_name(path))


def read_learned_files(paths: Sequence[str | Path]) -> Learned | None:
    """Read several files of what was learned, to be taken together.

    Parameters
    ----------
    paths : sequence of str or pathlib.Path
        Written by ``fitsim testcut FILE --keep PATH``.

    Returns
    -------
    Learned or None
        Everything they hold; None where no file is named.

    Raises
    ------
    InputError
        One line for every problem, and for two files that speak of the same thing.
    """
    return joined([(file_name(path), read_learned(path)) for path in paths]) if paths else None


def joined(parts: Sequence[tuple[str, Learned]]) -> Learned:
    """Put together what several files hold.

    Parameters
    ----------
    parts : sequence of tuple[str, Learned]
        Name of the file and what it holds.

    Returns
    -------
    Learned
        Everything.

    Raises
    ------
    InputError
        If two of them hold a saw, or a friction of the same wood and finish, or a strength or a moisture of
        the same wood.
    """
    problems: list[Problem] = []
    held: dict[tuple[str, str], str] = {}
    for where, part in parts:
        things = [("saw", "")] if part.saw is not None else []
        things += [("friction", f"{f.finish} on {f.wood or 'any wood'}") for f in part.frictions]
        things += [("strength", s.wood) for s in part.strengths]
        things += [("moisture", m.wood or "any wood") for m in part.moistures]
        for thing in things:
            first = held.setdefault(thing, where)
            if first != where or things.count(thing) > 1:
                kind, of = thing
                expected = f"one {kind}{f' of {of}' if of else ''}; {first} holds another"
                problems.append(Problem(where, kind, "", expected, "give one of the two files"))
    if problems:
        raise InputError(tuple(problems))
    every = [part for _, part in parts]
    return Learned(
        saw=next((p.saw for p in every if p.saw is not None), None),
        frictions=tuple(f for p in every for f in p.frictions),
        strengths=tuple(s for p in every for s in p.strengths),
        moistures=tuple(m for p in every for m in p.moistures),
    )


def make_learned(tables: Mapping[str, Any], *, where: str = "") -> Learned:
    """What was learned, from tables written as in the file.

    Parameters
    ----------
    tables : Mapping
        As :func:`learned_text` writes them.
    where : str
        File name for the error messages.

    Returns
    -------
    Learned
        Whatever it holds.

    Raises
    ------
    InputError
        One line for every problem.
    """
    _refuse_other_file(tables, where)
    file = KeyedFile(LEARNED_READERS, where)
    top = file.top(tables)
    name = {"name": top.get("name", Path(where).stem or "tests"), "date": top.get("date", "")}
    learned = Learned(
        saw=_saw(file, tables, where),
        frictions=_frictions(file, tables, name),
        strengths=_strengths(file, tables, name),
        moistures=_moistures(file, tables, name),
    )
    file.done()
    return learned


def _refuse_other_file(tables: Mapping[str, Any], where: str) -> None:
    tests = ("ring", "slot", "bevel", "slide", "break", "oven", "meter")
    expected = ""
    if any(kind in tables for kind in tests):
        expected = "what tests have taught, such as a saw file; this is a file of test cuts"
    elif "cut" in tables:
        expected = "what tests have taught, such as a saw file, not a bowl file"
    elif not any(kind in tables for kind in LEARNED_READERS):
        expected = f"one of the tables {', '.join(f'[{kind}]' for kind in LEARNED_READERS)}"
    if expected:
        remedy = "write one with: fitsim testcut FILE --keep KEPT"
        raise InputError(Problem(where, "file", "", expected, remedy))


def _saw(file: KeyedFile, tables: Mapping[str, Any], where: str) -> Any:
    if "saw" not in tables:
        return None
    try:
        return make_saw({key: tables[key] for key in ("name", "date", "saw") if key in tables}, where=where)
    except InputError as error:
        known = {(p.key, p.value) for p in file.problems}  # name and date were read already
        file.problems += [p for p in error.problems if (p.key, p.value) not in known]
        return None


def _table(file: KeyedFile, tables: Mapping[str, Any], kind: str) -> dict[str, Any] | None:
    """All values of one table, or None where it is not there or not right."""
    if kind not in tables:
        return None
    before = len(file.problems)
    read = file.table(kind, kind, tables[kind])
    if isinstance(tables[kind], Mapping):
        for key in LEARNED_READERS[kind]:
            if key not in tables[kind] and key not in _OPTIONAL.get(kind, ()):
                expected = f"all keys of [{kind}]"
                file.add(f"{kind}.{key}", "", expected, "write it anew: fitsim testcut FILE --keep KEPT")
    return read if len(file.problems) == before else None


def _frictions(file: KeyedFile, tables: Mapping[str, Any], name: dict[str, str]) -> tuple[Friction, ...]:
    read = _table(file, tables, "friction")
    if read is None:
        return ()
    if not read["low"] < read["friction"] < read["high"]:
        file.add(
            "friction.friction", f"{read['friction']:g}", "between low and high", "write the file anew"
        )
    fields: dict[str, Any] = {**name, "wood": "", **read}
    return (Friction(**fields),)


def _strengths(
    file: KeyedFile, tables: Mapping[str, Any], name: dict[str, str]
) -> tuple[BoardStrength, ...]:
    read = _table(file, tables, "strength")
    if read is None:
        return ()
    means = tuple(read[key] for key in _MEANS)
    covs = tuple(read[key] / mean for key, mean in zip(_SDS, means, strict=True))
    for key, cov in zip(_SDS, covs, strict=True):
        if cov >= 0.5:
            file.add(
                f"strength.{key}", f"{read[key]:g} MPa", "less than half its mean", "write the file anew"
            )
    across = BoardAcross(means, covs, math.radians(read["grain"]), read["usual"])
    return (BoardStrength(**name, wood=read["wood"], across=across, strips=read["strips"]),)


def _moistures(
    file: KeyedFile, tables: Mapping[str, Any], name: dict[str, str]
) -> tuple[BoardMoisture, ...]:
    read = _table(file, tables, "moisture")
    if read is None:
        return ()
    fields: dict[str, Any] = {**name, **read}
    percent, sd = fields.pop("moisture"), fields.pop("sd")
    return (BoardMoisture(moisture_percent=percent, sd_percent=sd, **fields),)
