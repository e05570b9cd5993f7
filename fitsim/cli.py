"""The command line: ``fitsim fit``, ``sheet``, ``sweep``, ``map``, ``tilt``, ``testcut``, ``page``...

Commands only read, call and print; every number comes from :mod:`fitsim.bowl.fit`. Bad input ends with
one line for each problem on standard error and exit status 2.
"""

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from fitsim.bowl.inputs import Bowl
from fitsim.bowlfile.defaults import demo_tables, make_bowl, read_bowl
from fitsim.commands.command_group import LEARNED_FILES, CommandGroup
from fitsim.errors import InputError, Problem, escaped
from fitsim.files import file_name, write_whole
from fitsim.manual import guide_page, guide_pages, wrapped_page
from fitsim.one_thread import keep_one_thread
from fitsim.progress import press_begins
from fitsim.report.answer_json import schema_text
from fitsim.saw.learned import Learned, with_learned
from fitsim.tables import packaged_text
from fitsim.version import VERSION
from fitsim.wood.species import find_wood, woods

__all__ = ["demo_bowl", "learned_option", "main"]

# Drawing, tables and the rigid-body engine are imported by the commands that use them: a cold start of
# ``fit --json`` must not pay for them.

UNDECIDED_STATUS = 3
"""Exit status of ``fit`` where the strip could not be followed and nothing is decided."""


@click.group(cls=CommandGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(VERSION, prog_name="fitsim")
def main() -> None:
    """Will a one-cut ring bowl lock, and how deep will it be? Find out before the first cut."""
    keep_one_thread()


def _learned_of_option(
    ctx: click.Context, _option: click.Parameter, paths: tuple[Path, ...]
) -> Learned | None:
    from fitsim.saw.learned_file import read_learned_files

    ctx.meta[LEARNED_FILES] = paths
    return read_learned_files(paths)


def learned_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """Give a command the option ``--learned FILE``; it arrives as ``learned``, a Learned or None.

    ``--saw`` is another name of it, for files that hold a saw.

    Parameters
    ----------
    command : callable
        The command's function; it lays what was learned on its bowl with
        :func:`fitsim.saw.learned.with_learned`.

    Returns
    -------
    callable
        The same with the option.
    """
    return click.option(
        "--learned", "--saw", "learned", multiple=True, type=click.Path(path_type=Path), metavar="FILE",
        callback=_learned_of_option,
        help="Take what tests have taught (see testcut): kerf and true tilt of a saw, the bowl's tilt then "
        "being the scale's; friction, strength, moisture. May be repeated.",
    )(command)  # fmt: skip


json_option = click.option(
    "--json", "as_json", is_flag=True, help="Print one JSON object and nothing else."
)
units_option = click.option("--units", type=click.Choice(["in", "mm"]), help="Default: as in the file.")
replace_pictures_option = click.option("--replace", is_flag=True, help="Allow pictures to overwrite files.")
"""Options that several commands have, word for word."""


def picture_option(words: str) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Give a command the option ``--picture FILE``; it arrives as ``pictures``, a tuple of paths.

    Parameters
    ----------
    words : str
        What is drawn, for the help.

    Returns
    -------
    callable
        Gives the option to the command's function.
    """
    return click.option(
        "--picture", "pictures", multiple=True, type=click.Path(path_type=Path), metavar="FILE", help=words
    )


@main.command("fit")
@click.argument("file", required=False, type=click.Path(path_type=Path))
@learned_option
@json_option
@units_option
@picture_option("Draw the bowl into FILE (.svg, .png or .pdf); may be repeated.")
@click.option(
    "--strip-picture", "strip_pictures", multiple=True, type=click.Path(path_type=Path), metavar="FILE",
    help="Draw the stress along the strip and the press into FILE; may be repeated.",
)  # fmt: skip
@click.option(
    "--moving-picture", type=click.Path(path_type=Path), metavar="FILE.gif",
    help="Show the bowl opening, as the rigid-body check saw it.",
)  # fmt: skip
@click.option(
    "--check/--no-check", default=False,
    help="Set an independent rigid-body check beside the drop of stiff turns (some seconds).",
)  # fmt: skip
@click.option(
    "--rigid", is_flag=True,
    help="Stiff turns only, nothing pressed: the hand formula, quick.",
)  # fmt: skip
@click.option(
    "--changes", is_flag=True,
    help="Try another root, pitch and tilt on the elastic strip (some presses more).",
)  # fmt: skip
@click.option("--sources", is_flag=True, help="Say where every assumed value comes from.")
@replace_pictures_option
def fit_command(
    *,
    file: Path | None,
    learned: Learned | None,
    as_json: bool,
    units: str | None,
    pictures: tuple[Path, ...],
    strip_pictures: tuple[Path, ...],
    moving_picture: Path | None,
    check: bool,
    rigid: bool,
    changes: bool,
    sources: bool,
    replace: bool,
) -> None:
    """Say whether the bowl in FILE locks. Without FILE, a demonstration bowl is used."""
    from fitsim.bowl.verdict import NOT_DECIDED
    from fitsim.commands.fit import FitRequest, answer_fit

    bowl = demo_bowl() if file is None else read_bowl(file)
    if learned is not None:
        bowl = with_learned(bowl, learned, units=units)
    asked = FitRequest(
        units=units or bowl.units,
        as_json=as_json,
        pictures=pictures,
        strip_pictures=strip_pictures,
        moving_picture=moving_picture,
        check=check,
        rigid=rigid,
        sources=sources,
        changes=changes,
        replace=replace,
    )
    tty = sys.stdout.isatty()
    progress = _progress if sys.stderr.isatty() else None
    answer, told = answer_fit(
        bowl, asked, width=_report_width(), color=tty, progress=progress, remark=_remark
    )
    click.echo(told, nl=False)
    if file is None and not asked.as_json:
        click.echo("This was the demonstration bowl. For your own: fitsim new bowl.toml")
    if answer.verdict.state == NOT_DECIDED:
        click.get_current_context().exit(UNDECIDED_STATUS)


def _progress(line: str) -> None:
    """Say on a terminal what is being worked on; the answer itself goes to standard output."""
    click.echo(f"fitsim: {line} ...", err=True)


def _remark(line: str) -> None:
    click.echo(escaped(line), err=True)


def demo_bowl() -> Bowl:
    """Return the built-in demonstration bowl, an invented one.

    Returns
    -------
    Bowl
        The bowl.
    """
    return make_bowl(demo_tables(), where="demonstration bowl")


def _terminal_width() -> int:
    import shutil

    return shutil.get_terminal_size((88, 24)).columns


def _report_width() -> int:
    return min(max(_terminal_width(), 60), 110)


@main.command("sweep", short_help="Work out many bowls, each quantity over a range or a list.")
@click.argument("words", nargs=-1, required=True, metavar="FILE QUANTITY...")
@learned_option
@click.option(
    "--store", type=click.Path(path_type=Path), metavar="FILE",
    help="Keep the rows in FILE; the same command goes on where it was stopped.",
)  # fmt: skip
@click.option(
    "--csv", "table", type=click.Path(path_type=Path), help="Write the table, units in its heading."
)
@click.option(
    "--samples", type=click.IntRange(1), help="Spread this many samples over the ranges: no grid."
)
@click.option("--seed", type=click.IntRange(0), default=1, show_default=True, help="Of the samples.")
@click.option("--ranges", is_flag=True, help="Judge the unfavourable end of every other range as well.")
@click.option(
    "--processes", type=click.IntRange(1, 256), help="How many work at it. Default: as many as processors."
)
@click.option("--part", default="1/1", metavar="K/N", help="Only part K of N, each in a store of its own.")
@click.option("--join", is_flag=True, help="Put the given stores of the parts together into --store.")
@click.option("--replace", is_flag=True, help="Allow the table to overwrite a file.")
def sweep_command(
    *,
    words: tuple[str, ...],
    learned: Learned | None,
    store: Path | None,
    table: Path | None,
    samples: int | None,
    seed: int,
    ranges: bool,
    processes: int | None,
    part: str,
    join: bool,
    replace: bool,
) -> None:
    """Work out many bowls: FILE with every QUANTITY varied, each over a range or a list.

    For example: fitsim sweep bowl.toml tilt=2..14:25 wood=cherry,walnut --csv table.csv
    """
    from fitsim.commands import sweep_and_map

    asked = sweep_and_map.SweepRequest(
        learned=learned,
        store=store,
        table=table,
        samples=samples,
        seed=seed,
        ranges=ranges,
        processes=processes,
        part=part,
        replace=replace,
    )
    click.echo((sweep_and_map.join if join else sweep_and_map.sweep)(words, asked=asked))


@main.command("map", short_help="Show where a bowl locks over two of its quantities.")
@click.argument("file", required=False, type=click.Path(path_type=Path))
@learned_option
@click.option("--across", required=True, metavar="KEY=LOW..HIGH", help="For example tilt=2..14.")
@click.option("--up", required=True, metavar="KEY=LOW..HIGH", help="For example kerf=0.4..1.6 mm.")
@picture_option("Draw the map into FILE (.svg, .png or .pdf); may be repeated.")
@click.option("--csv", "table", type=click.Path(path_type=Path), help="Write places and boundaries.")
@click.option(
    "--points", type=click.IntRange(4, 400), help="Fineness of the boundaries. Default: 24 along a side."
)
@click.option(
    "--ranges", is_flag=True,
    help="Take every number at the unfavourable end of its ranges (many presses a place).",
)  # fmt: skip
@click.option(
    "--every", is_flag=True, help="Press every place, also where those about it tell its verdict."
)
@click.option(
    "--processes", type=click.IntRange(1, 256), help="How many work at it. Default: as many as processors."
)
@click.option("--units", type=click.Choice(["in", "mm"]), help="For the rise. Default: as in the file.")
@click.option("--replace", is_flag=True, help="Allow pictures and the table to overwrite files.")
def map_command(
    *,
    file: Path | None,
    learned: Learned | None,
    across: str,
    up: str,
    pictures: tuple[Path, ...],
    table: Path | None,
    points: int | None,
    ranges: bool,
    every: bool,
    processes: int | None,
    units: str | None,
    replace: bool,
) -> None:
    """Show at which values of two quantities the bowl in FILE locks, and what goes wrong beyond."""
    from fitsim.commands import sweep_and_map

    asked = sweep_and_map.MapRequest(
        learned=learned,
        across=across,
        up=up,
        pictures=pictures,
        table=table,
        points=points,
        ranges=ranges,
        every=every,
        processes=processes,
        units=units,
        replace=replace,
    )
    click.echo(sweep_and_map.map_over(file, asked=asked))


@main.command("sheet", short_help="Write the pages for the saw as one PDF.")
@click.argument("file", required=False, type=click.Path(path_type=Path))
@learned_option
@click.option(
    "-o", "out", required=True, type=click.Path(path_type=Path), metavar="OUT.pdf", help="The PDF to write."
)
@click.option(
    "--paper",
    type=click.Choice(["a4", "letter", "a3", "tabloid"]),
    help="Default: letter for inches, else a4.",
)
@click.option("--copies", type=click.IntRange(1, 50), default=1, show_default=True, help="Of the pattern.")
@click.option(
    "--line", type=click.Path(path_type=Path), metavar="OUT.svg",
    help="Write the line alone as SVG in mm, for other machines.",
)  # fmt: skip
@click.option(
    "--middle", type=click.Choice(["lowered", "raised"]), default="lowered", show_default=True,
    help="Side of the blade, on the tilted table, where the board's middle lies.",
)  # fmt: skip
@click.option(
    "--lowered", type=click.Choice(["right", "left"]), default="right", show_default=True,
    help="Side of the table that goes down, seen by the sawyer.",
)  # fmt: skip
@click.option(
    "--string", metavar="LENGTH",
    help='Thickness of the string for peg and string, like "0.8 mm". Default: 0.5 mm.',
)  # fmt: skip
@click.option("--rigid", is_flag=True, help="Stiff turns only, nothing pressed: the hand formula.")
@units_option
@click.option("--replace", is_flag=True, help="Allow files to be overwritten.")
def sheet_command(
    *,
    file: Path | None,
    learned: Learned | None,
    out: Path,
    paper: str | None,
    copies: int,
    line: Path | None,
    middle: str,
    lowered: str,
    string: str | None,
    rigid: bool,
    units: str | None,
    replace: bool,
) -> None:
    """Write the pages for the saw as one PDF: the true-scale pattern of FILE's bowl, and a bench sheet."""
    from fitsim.commands.sheet import SheetRequest, write_sheets
    from fitsim.pattern.layout import Handling

    bowl = demo_bowl() if file is None else read_bowl(file)
    if learned is not None:
        bowl = with_learned(bowl, learned, units=units)
    shown = units or bowl.units
    asked = SheetRequest(
        out=out,
        line=line,
        paper=paper or ("letter" if shown == "in" else "a4"),
        copies=copies,
        handling=Handling(middle=middle, lowered=lowered),
        string=string,
        rigid=rigid,
        replace=replace,
    )
    for told in write_sheets(bowl, asked, units=shown, progress=_progress if sys.stderr.isatty() else None):
        click.echo(told)


@main.command("new")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--replace", is_flag=True, help="Overwrite FILE if it exists.")
def new_command(file: Path, replace: bool) -> None:
    """Write a commented bowl file to start from."""
    text = packaged_text("starter.toml")
    write_whole(file, text.encode("utf8"), replace=replace)
    click.echo(f"Written: {file_name(file)}. Change it, then: fitsim fit {file_name(file)}")


def _tilts_rad(_ctx: click.Context, _option: click.Parameter, texts: tuple[str, ...]) -> tuple[float, ...]:
    from fitsim.saw.tests_file import tilt_of_option_rad

    return tuple(tilt_of_option_rad(text) for text in texts)


@main.command("testcut", short_help="Learn from tests: kerf, true tilt, friction, strength, moisture.")
@click.argument("file", required=False, type=click.Path(path_type=Path))
@click.option("--new", is_flag=True, help="Write a commented file of tests to start from.")
@click.option(
    "--drawing", "drawings", multiple=True, type=click.Path(path_type=Path), metavar="FILE",
    help="Draw how to slide, break and weigh off-cuts into FILE (.svg, .png or .pdf); may be repeated.",
)  # fmt: skip
@click.option(
    "--keep", type=click.Path(path_type=Path), metavar="KEPT",
    help="Keep what was learned in KEPT, for --learned.",
)  # fmt: skip
@click.option(
    "--tilt", "tilts_rad", multiple=True, metavar="ANGLE", callback=_tilts_rad,
    help='Predict the drop at this setting of the scale, like "6 deg"; may be repeated.',
)  # fmt: skip
@json_option
@units_option
@click.option("--replace", is_flag=True, help="Allow a file to be overwritten.")
def testcut_command(
    *,
    file: Path | None,
    new: bool,
    drawings: tuple[Path, ...],
    keep: Path | None,
    tilts_rad: tuple[float, ...],
    as_json: bool,
    units: str | None,
    replace: bool,
) -> None:
    """Learn from the tests in FILE: a saw's kerf and tilt, friction, a board's strength and moisture."""
    from fitsim.commands.testcut import TestcutRequest, answer_testcut

    asked = TestcutRequest(
        new=new,
        drawings=drawings,
        keep=keep,
        tilts_rad=tilts_rad,
        as_json=as_json,
        units=units,
        replace=replace,
    )
    click.echo(answer_testcut(file, asked, width=_report_width(), remark=_remark), nl=False)


@main.command("plan", short_help="Find the cut that makes the bowl you want.")
@click.argument("file", required=False, type=click.Path(path_type=Path))
@learned_option
@click.option(
    "--want", "wanted", multiple=True, metavar="KEY=VALUE",
    help='A wish, like "rise=3 in", "volume=1 l", "wall=50 deg", "keep=tilt"; may be repeated.',
)  # fmt: skip
@click.option(
    "--save", type=click.Path(path_type=Path), metavar="NAME.toml",
    help="Write the bowl file of an answer, ready for fit and sheet; never over another file. Without "
    "--answer only a cut that gives all that is wanted is written.",
)  # fmt: skip
@click.option(
    "--answer", "number", type=click.IntRange(1),
    help="Which answer to save and to draw. Default: the first.",
)  # fmt: skip
@json_option
@units_option
@picture_option("Draw the wall wanted and got into FILE (.svg, .png or .pdf); may be repeated.")
@click.option("--replace", "replace_files", is_flag=True, help="Allow pictures to overwrite files.")
def plan_command(
    *,
    file: Path | None,
    learned: Learned | None,
    wanted: tuple[str, ...],
    save: Path | None,
    number: int | None,
    as_json: bool,
    units: str | None,
    pictures: tuple[Path, ...],
    replace_files: bool,
) -> None:
    """Find the cut that makes the bowl you want, from FILE's board and its table [want]."""
    from fitsim.commands.plan import PlanRequest, answer_plan

    asked = PlanRequest(
        learned=learned,
        wanted=wanted,
        save=save,
        number=number,
        as_json=as_json,
        units=units,
        pictures=pictures,
        replace=replace_files,
    )
    told = answer_plan(
        file,
        asked,
        width=_report_width(),
        color=sys.stdout.isatty(),
        progress=_progress if sys.stderr.isatty() else None,
        remark=_remark,
    )
    click.echo(told, nl=False)


@main.command("tilt", short_help="Say at which tilts a bowl locks, and which is best.")
@click.argument("file", required=False, type=click.Path(path_type=Path))
@learned_option
@json_option
@units_option
@click.option("--seed", type=click.IntRange(0), default=0, show_default=True, help="Of the samples.")
@click.option(
    "--samples", type=click.IntRange(16, 1024), default=48, show_default=True,
    help="Samples of the bowl pressed along the tilt.",
)  # fmt: skip
@click.option(
    "--most-presses", type=click.IntRange(16, 4096), default=96, show_default=True,
    help="Samples pressed at the best tilt, and at each end, at most.",
)  # fmt: skip
@picture_option("Draw the chance of each state against the tilt into FILE; may be repeated.")
@replace_pictures_option
def tilt_command(
    *,
    file: Path | None,
    learned: Learned | None,
    as_json: bool,
    units: str | None,
    seed: int,
    samples: int,
    most_presses: int,
    pictures: tuple[Path, ...],
    replace: bool,
) -> None:
    """Say at which tilts the bowl in FILE locks, which is best, and how likely it locks there."""
    from fitsim.commands.tilt import TiltRequest, answer_tilt

    progress = _progress if sys.stderr.isatty() else None
    bowl = demo_bowl() if file is None else read_bowl(file)
    asked = TiltRequest(
        learned=learned,
        as_json=as_json,
        units=units,
        seed=seed,
        samples=samples,
        most_presses=most_presses,
        pictures=pictures,
        replace=replace,
    )
    click.echo(answer_tilt(bowl, asked, progress=progress, width=_report_width()), nl=False)


@main.command("seasons", short_help="Follow a bowl through a year where it is kept.")
@click.argument("file", required=False, type=click.Path(path_type=Path))
@learned_option
@click.option("--weather", type=click.Path(path_type=Path), metavar="FILE.epw", help="A year of weather.")
@click.option(
    "--indoor", metavar="RANGE", help='Instead of weather: how dry and damp a room gets, "30 to 60 %".'
)
@click.option("--heated", metavar="T", help='Heated to, "20 C" or "68 F". Default: 20 C.')
@click.option("--cooled", metavar="T", help="Cooled to. Default: not cooled.")
@click.option("--humidifier", metavar="H", help='Humidity is kept above, "35 %".')
@click.option("--dehumidifier", metavar="H", help="Humidity is kept below.")
@click.option("--added", metavar="V", help='Vapour people add to the room, "3 g/m3". Default: none.')
@click.option("--driest-month", metavar="1-12", help="Of the --indoor range. Default: 1, January.")
@click.option("--stored", type=click.Choice(["open", "flat"]), default="open", show_default=True)
@click.option(
    "--opened", type=click.Choice(["afresh", "left open"]), default="afresh", show_default=True,
    help="Pressed open each time, or left standing open.",
)  # fmt: skip
@click.option(
    "--since", "since_month", type=click.IntRange(1, 12), help="Month in which it was left open: 1-12."
)
@json_option
@units_option
@picture_option("Draw the year into FILE (.svg, .png or .pdf); may be repeated.")
@replace_pictures_option
def seasons_command(
    *,
    file: Path | None,
    learned: Learned | None,
    weather: Path | None,
    indoor: str | None,
    heated: str | None,
    cooled: str | None,
    humidifier: str | None,
    dehumidifier: str | None,
    added: str | None,
    driest_month: str | None,
    stored: str,
    opened: str,
    since_month: int | None,
    as_json: bool,
    units: str | None,
    pictures: tuple[Path, ...],
    replace: bool,
) -> None:
    """Follow the bowl in FILE through a year where it is kept: wobble and splitting, week by week."""
    from fitsim.commands.seasons import SeasonsRequest, answer_seasons
    from fitsim.progress import ProgressLine

    asked = SeasonsRequest(
        learned=learned,
        weather=weather,
        indoor=indoor,
        heated=heated,
        cooled=cooled,
        humidifier=humidifier,
        dehumidifier=dehumidifier,
        added=added,
        driest_month=driest_month,
        stored=stored,
        opened=opened,
        since_month=since_month,
        as_json=as_json,
        units=units,
        pictures=pictures,
        replace=replace,
    )
    progress = ProgressLine("steps of the year")
    click.echo(answer_seasons(file, progress=progress, width=_report_width(), asked=asked), nl=False)


@main.command("explain", short_help="Say why a bowl failed, what to change, what to measure next.")
@click.argument("file", required=False, type=click.Path(path_type=Path))
@learned_option
@click.option(
    "--seen", multiple=True, metavar="WORDS",
    help='What was seen, like "fell through at turn 3" (see --list); may be repeated.',
)  # fmt: skip
@click.option(
    "--measured", multiple=True, metavar="KEY=VALUE",
    help='What was measured, like kerf="0.65 +- 0.05 mm" (see --list); may be repeated.',
)  # fmt: skip
@click.option("--list", "as_list", is_flag=True, help="List the words, the keys and the causes.")
@click.option(
    "--causes", "causes_file", type=click.Path(path_type=Path), metavar="FILE.csv",
    help="Take causes and their chances from a table of your own.",
)  # fmt: skip
@json_option
@units_option
@picture_option("Draw expected against seen into FILE (.svg, .png or .pdf); may be repeated.")
@click.option("--seed", type=click.IntRange(0), default=0, show_default=True, help="Of the samples.")
@replace_pictures_option
def explain_command(
    *,
    file: Path | None,
    learned: Learned | None,
    seen: tuple[str, ...],
    measured: tuple[str, ...],
    as_list: bool,
    causes_file: Path | None,
    as_json: bool,
    units: str | None,
    pictures: tuple[Path, ...],
    seed: int,
    replace: bool,
) -> None:
    """Say why the bowl in FILE failed, what to change, and what to measure next."""
    from fitsim.commands.explain import ExplainRequest, answer_explain

    asked = ExplainRequest(
        learned=learned,
        learned_files=tuple(click.get_current_context().meta.get(LEARNED_FILES, ())),
        seen=seen,
        measured=measured,
        as_list=as_list,
        causes_file=causes_file,
        as_json=as_json,
        units=units,
        pictures=pictures,
        seed=seed,
        replace=replace,
    )
    click.echo(answer_explain(file, width=_report_width(), asked=asked), nl=False)


@main.command("page", short_help="Serve a page for a bowl on this machine, in the browser.")
@click.argument("file", required=False, type=click.Path(path_type=Path))
@learned_option
@click.option(
    "--port", type=click.IntRange(1024, 65535), default=7250, show_default=True, help="Of this machine."
)
@click.option(
    "--workshop", is_flag=True,
    help="Let the other machines and phones of this network in: no password, see the warning.",
)  # fmt: skip
@click.option("--browser/--no-browser", default=True, help="Open the page in the browser.")
def page_command(
    *, file: Path | None, learned: Learned | None, port: int, workshop: bool, browser: bool
) -> None:
    """Serve a page on this machine for the bowl in FILE: controls, section, verdict, sheets."""
    try:
        from fitsim.page import open_page
    except ModuleNotFoundError as missing:
        expected = f"the extra packages of the page ({missing.name} is missing)"
        remedy = "install them with: python -m pip install 'fitsim[page]'"
        raise InputError(Problem("", "page", "", expected, remedy)) from None

    def say(line: str) -> None:
        press_begins()  # the page's own processes begin when its address is told
        click.echo(line, err=True)

    open_page.serve_page(file, learned=learned, port=port, workshop=workshop, browser=browser, say=say)


@main.command("woods", short_help="List the woods, or every value of one with its source.")
@click.argument("name", required=False)
def woods_command(name: str | None) -> None:
    """List the woods, or every value of the wood called NAME with its source."""
    from fitsim.report.terminal import wood_report, woods_report

    if name is None:
        click.echo(woods_report(woods(), width=_report_width()), nl=False)
        return
    click.echo(wood_report(find_wood(name), width=_report_width()), nl=False)


@main.command("guide", short_help="List the pages of the guide, or print one.")
@click.argument("page", required=False)
def guide_command(page: str | None) -> None:
    """List the pages of the guide, or print the one called PAGE."""
    if page is not None:
        text = guide_page(page).text
        # A pipe or a file gets the Markdown as it is; a terminal would break its lines within words.
        click.echo(wrapped_page(text, _terminal_width()) if sys.stdout.isatty() else text, nl=False)
        return
    for one in guide_pages():
        click.echo(f"{one.name:<10} {one.title}")
    click.echo("\nPrint one with, for example: fitsim guide fit")


@main.command("schema", short_help="Print the JSON schema of what a command prints with --json.")
@click.argument("command", type=click.Choice(["fit", "plan", "seasons"]), default="fit")
def schema_command(command: str) -> None:
    """Print the JSON schema of what COMMAND --json prints: fit (the default), plan or seasons."""
    click.echo(schema_text() if command == "fit" else packaged_text(f"{command}.schema.json"))
