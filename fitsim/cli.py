"""The command line: ``fitsim fit``, ``sweep``, ``map``, ``new``, ``woods``, ``schema``.

Commands only read, call and print; every number comes from :mod:`fitsim.fit`. Bad input ends with
one line for each problem on standard error and exit status 2.
"""

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

# The solves are small: more than one thread in the linear algebra library only slows them down.
# It must be set before numpy is first imported.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import click

from fitsim.answer import VERSION, answer_text, schema_text
from fitsim.assume import demo_tables, make_bowl, read_bowl
from fitsim.bowl import Bowl
from fitsim.errors import FitsimError
from fitsim.files import MOVING_ENDINGS, PICTURE_ENDINGS, check_target, write_whole
from fitsim.fit import BowlFit, fit
from fitsim.tables import packaged_text
from fitsim.wood import find_wood, woods

if TYPE_CHECKING:
    from fitsim.witness import RigidBodyCheck

__all__ = ["demo_bowl", "main"]

# Drawing, tables and the rigid-body engine are imported by the commands that use them: a cold start of
# ``fit --json`` must not pay for them.


class _Commands(click.Group):
    """Turns our errors into one line each and exit status 2."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command; an error of ours becomes lines on standard error."""
        try:
            return super().invoke(ctx)
        except FitsimError as error:
            for line in str(error).splitlines():
                click.echo(f"fitsim: {line}", err=True)
        except OSError as error:
            click.echo(f"fitsim: output: {(error.strerror or 'refused').lower()}", err=True)
        return ctx.exit(2)


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(VERSION, prog_name="fitsim")
def main() -> None:
    """Will a one-cut ring bowl lock, and how deep will it be? Find out before the first cut."""


@main.command("fit")
@click.argument("file", required=False, type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object and nothing else.")
@click.option("--units", type=click.Choice(["in", "mm"]), help="Default: as in the file.")
@click.option(
    "--picture", "pictures", multiple=True, type=click.Path(path_type=Path), metavar="FILE",
    help="Draw the bowl into FILE (.svg, .png or .pdf); may be repeated.",
)  # fmt: skip
@click.option(
    "--moving-picture", type=click.Path(path_type=Path), metavar="FILE.gif",
    help="Show the bowl opening, as the rigid-body check saw it.",
)  # fmt: skip
@click.option(
    "--check/--no-check", default=False,
    help="Set an independent rigid-body check beside the closed form (some seconds).",
)  # fmt: skip
@click.option("--replace", is_flag=True, help="Allow pictures to overwrite files.")
def fit_command(
    file: Path | None,
    as_json: bool,
    units: str | None,
    pictures: tuple[Path, ...],
    moving_picture: Path | None,
    check: bool,
    replace: bool,
) -> None:
    """Say whether the bowl in FILE locks. Without FILE, a demonstration bowl is used."""
    bowl = demo_bowl() if file is None else read_bowl(file)
    answer = fit(bowl)
    shown = units or bowl.units
    for picture in pictures:
        check_target(picture, replace=replace, endings=PICTURE_ENDINGS)
    if moving_picture is not None:
        check_target(moving_picture, replace=replace, endings=MOVING_ENDINGS)
    checked: RigidBodyCheck | None = None
    extra: dict[str, Any] = {}
    if answer.rigid.numbers.slot_left_mm <= 0 and (check or moving_picture is not None):
        click.echo("A slot is closed when flat: the rigid-body check has nothing to press.", err=True)
        extra = {"rigid_body_check": None}
    elif check or moving_picture is not None:
        from fitsim.witness import check_object, rigid_body_check

        checked = rigid_body_check(
            answer.rigid,
            friction=least_friction(bowl),
            press_N=bowl.use.press_N,
            record=moving_picture is not None,
        )
        extra = {"rigid_body_check": check_object(checked)}
    _draw(answer, pictures, moving_picture, checked, units=shown, replace=replace)
    if as_json:
        click.echo(answer_text(answer, extra, units=shown))
        return
    from fitsim.report import fit_report

    width = min(max(_terminal_width(), 60), 110)
    tty = sys.stdout.isatty()
    click.echo(fit_report(answer, units=shown, check=checked, width=width, color=tty), nl=False)
    if file is None:
        click.echo("This was the demonstration bowl. For your own: fitsim new bowl.toml")


def least_friction(bowl: Bowl) -> float:
    """Friction at the low end of its range: what a bowl must hold with.

    Parameters
    ----------
    bowl : Bowl
        The bowl.

    Returns
    -------
    float
        Coefficient of friction. [-]
    """
    low = [u.low for u in bowl.uncertain if u.path == "use.friction"]
    return low[0] if low else bowl.use.friction


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


def _draw(
    answer: BowlFit,
    pictures: tuple[Path, ...],
    moving_picture: Path | None,
    checked: "RigidBodyCheck | None",
    *,
    units: str,
    replace: bool,
) -> None:
    if not pictures and moving_picture is None:
        return
    from fitsim.drawing import bowl_figure
    from fitsim.picture import moving_picture as write_moving_picture
    from fitsim.picture import write_picture

    for path in pictures:
        write_picture(bowl_figure(answer, units=units), path, replace=replace)
        click.echo(f"drawn: {path}", err=True)
    if moving_picture is not None and checked is not None:
        write_moving_picture(checked.seats.frames, moving_picture, replace=replace, units=units)
        click.echo(f"drawn: {moving_picture}", err=True)


@main.command("sweep")
@click.argument("words", nargs=-1, required=True, metavar="FILE QUANTITY...")
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
@click.option("--elastic", "springy", is_flag=True, help="Use the elastic strip (seconds a row).")
@click.option("--processes", type=click.IntRange(1, 256), default=1, show_default=True)
@click.option("--part", default="1/1", metavar="K/N", help="Only part K of N, each in a store of its own.")
@click.option("--join", is_flag=True, help="Put the given stores of the parts together into --store.")
@click.option("--replace", is_flag=True, help="Allow the table to overwrite a file.")
def sweep_command(words: tuple[str, ...], join: bool, **options: Any) -> None:
    """Work out many bowls: FILE with every QUANTITY varied, each over a range or a list.

    For example: fitsim sweep bowl.toml tilt=2..14:25 wood=cherry,walnut --csv table.csv
    """
    from fitsim import sweepcommand

    told = sweepcommand.join(words, **options) if join else sweepcommand.sweep(words, **options)
    click.echo(told)


@main.command("map")
@click.argument("file", required=False, type=click.Path(path_type=Path))
@click.option("--across", required=True, metavar="KEY=LOW..HIGH", help="For example tilt=2..14.")
@click.option("--up", required=True, metavar="KEY=LOW..HIGH", help="For example kerf=0.4..1.6 mm.")
@click.option(
    "--picture", "pictures", multiple=True, type=click.Path(path_type=Path), metavar="FILE",
    help="Draw the map into FILE (.svg, .png or .pdf); may be repeated.",
)  # fmt: skip
@click.option("--csv", "table", type=click.Path(path_type=Path), help="Write places and boundaries.")
@click.option("--points", type=click.IntRange(4, 400), help="Fineness of the boundaries: 100, elastic 24.")
@click.option("--ranges", is_flag=True, help="Take every number at the unfavourable end of its ranges.")
@click.option("--elastic", "springy", is_flag=True, help="Use the elastic strip (seconds a place).")
@click.option("--units", type=click.Choice(["in", "mm"]), help="For the rise. Default: as in the file.")
@click.option("--replace", is_flag=True, help="Allow pictures and the table to overwrite files.")
def map_command(file: Path | None, **options: Any) -> None:
    """Show at which values of two quantities the bowl in FILE locks, and what goes wrong beyond."""
    from fitsim import sweepcommand

    click.echo(sweepcommand.map_over(file, **options))


@main.command("new")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--replace", is_flag=True, help="Overwrite FILE if it exists.")
def new_command(file: Path, replace: bool) -> None:
    """Write a commented bowl file to start from."""
    text = packaged_text("starter.toml")
    write_whole(file, text.encode("utf8"), replace=replace)
    click.echo(f"Written: {file}. Change it, then: fitsim fit {file}")


@main.command("woods")
@click.argument("name", required=False)
def woods_command(name: str | None) -> None:
    """List the woods, or every value of the wood called NAME with its source."""
    from fitsim.report import wood_report, woods_report

    if name is None:
        click.echo(woods_report(woods()), nl=False)
        return
    click.echo(wood_report(find_wood(name)), nl=False)


@main.command("schema")
def schema_command() -> None:
    """Print the JSON schema of `fitsim fit --json`."""
    click.echo(schema_text())
