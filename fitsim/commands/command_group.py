"""How every command behaves: names of files that must differ, and what a maker sees of an error.

The declarations of the commands stand in ``cli``; here is what is done round each of them.
"""

import os
from pathlib import Path
from typing import Any

import click

from fitsim.errors import LONGEST_LINE, FitsimError, escaped, shortened
from fitsim.files import refuse_shared_names
from fitsim.output_streams import prepare_output
from fitsim.progress import before_first_press

__all__ = ["LEARNED_FILES", "STOPPED_STATUS", "Command", "CommandGroup"]

READ_FILES = ("file", "words", "weather", "causes_file")
"""Parameters that name what is read; every other file that a command takes is written."""

LEARNED_FILES = "fitsim.learned_files"
"""Where a command's context keeps the names behind ``--learned``, which are files already read."""

PRESSING = ("fit", "sheet", "sweep", "map", "tilt", "seasons", "explain", "plan", "page")
"""Commands that press the elastic strip."""

STOPPED_STATUS = 130
"""Exit status of a command that the keyboard stopped, as a shell has it."""

MOST_LINES = 40
"""Lines of what is wrong that are shown at once."""


def _say_if_first_use() -> None:
    from fitsim.strip.compiled import can_be_kept
    from fitsim.strip.kernels import own_stiffness, prepared

    if prepared():
        return
    said = "first use here: preparing the press for this machine, about half a minute"
    if not can_be_kept(own_stiffness):
        said = (
            "preparing the press, about half a minute, at every command: no folder here can be written to "
            "keep it; set NUMBA_CACHE_DIR to one that can, and it is done once"
        )
    click.echo(said, err=True)


class Command(click.Command):
    """A command whose files are all different ones."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run it, once no output has the name of another file of the same command."""
        read: list[str | Path] = []
        written: list[str | Path] = []
        for param in self.params:
            given = ctx.params.get(param.name or "")
            every = given if isinstance(given, tuple) else (given,)
            if param.name in READ_FILES:
                read += [path for path in every if isinstance(path, Path | str) and "=" not in str(path)]
            else:
                written += [path for path in every if isinstance(path, Path)]
        read += ctx.meta.get(LEARNED_FILES, ())
        refuse_shared_names(written, read)
        if self.name not in PRESSING or ctx.params.get("rigid"):
            return super().invoke(ctx)
        # Said before the first press and not before: bad input is answered with its own lines alone.
        with before_first_press(_say_if_first_use):
            return super().invoke(ctx)


def _one_line(text: str) -> str:
    return shortened(escaped(text), LONGEST_LINE)


class CommandGroup(click.Group):
    """Turns our errors into one line each and exit status 2; nothing in them is obeyed by a terminal."""

    command_class = Command

    def main(self, *args: Any, **extra: Any) -> Any:
        """Begin the program, whatever the output can show and whoever started it."""
        # Nothing is drawn into a window. A notebook names one of its own to all that it starts, and where
        # matplotlib does not know it, it cannot even be loaded; workers have what is set here.
        os.environ["MPLBACKEND"] = "agg"
        prepare_output()
        return super().main(*args, **extra)

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command; an error of ours becomes lines on standard error."""
        try:
            return super().invoke(ctx)
        except click.exceptions.NoArgsIsHelpError:
            raise
        except click.UsageError as error:
            raise click.UsageError(_one_line(error.format_message()), error.ctx) from None
        except FitsimError as error:
            lines = str(error).splitlines()
            for line in lines[:MOST_LINES]:
                click.echo(f"fitsim: {_one_line(line)}", err=True)
            if len(lines) > MOST_LINES:
                click.echo(f"fitsim: {len(lines) - MOST_LINES} more like these", err=True)
        except KeyboardInterrupt:
            click.echo("\nstopped", err=True)  # below what the terminal shows of the key
            return ctx.exit(STOPPED_STATUS)
        except OSError as error:
            click.echo(f"fitsim: output: {(error.strerror or 'refused').lower()}", err=True)
        return ctx.exit(2)

    def make_context(
        self, info_name: str | None, args: list[str], parent: click.Context | None = None, **extra: Any
    ) -> click.Context:
        """Read the words before the command, as :meth:`invoke` reads those behind it."""
        try:
            return super().make_context(info_name, args, parent, **extra)
        except click.exceptions.NoArgsIsHelpError:
            raise
        except click.UsageError as error:
            raise click.UsageError(_one_line(error.format_message()), error.ctx) from None
