"""The commands, in the order of the work, each built when it is called: that takes longest.

A module that defines a command imports what it works with inside its functions.
"""

from __future__ import annotations

from collections.abc import Iterable
from importlib import import_module
from itertools import pairwise
from typing import Annotated, Any, ClassVar, Self

import typer
from typer.core import TyperCommand, TyperGroup

_WIDEST = 28  # columns of an option; the help of a wider one goes to a line of its own


class Sorted(TyperCommand):
    """A command whose help lists options under the headings that they name (``rich_help_panel``).

    What is typed after an option says something, but where nothing is what it says by itself.

    The headings come in the order of the parameters; what names none comes last.
    """

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Refuse an option with nothing after it; a path of nothing would be this folder."""
        options = [each for each in self.get_params(ctx) if each.param_type_name == "option"]
        takes: dict[str, Any] = {name: each for each in options for name in each.opts}
        for before, word in pairwise(("", *args)):
            option = takes.get(word[:-1] if word.endswith("=") else "" if word else before)
            if option is not None and option.default != "" and not option.is_flag:
                from gaugelink.errors import InputError

                raise InputError(
                    f"Nothing was typed after {option.opts[0]}.", hint="Say it, or leave it out."
                )
        return list(super().parse_args(ctx, args))

    def format_options(self, ctx: Any, formatter: Any) -> None:
        """Write the sections, the help of all options in one column."""
        parameters: list[Any] = self.get_params(ctx)
        options = [each for each in parameters if each.param_type_name == "option"]
        if not any(each.rich_help_panel for each in options):
            super().format_options(ctx, formatter)
            return
        with formatter.section("Arguments"):
            arguments = (each for each in parameters if each not in options)
            formatter.write_dl([each.get_help_record(ctx) for each in arguments])
        sections: dict[str, list[tuple[str, str]]] = {}
        for each in options:
            typed, says = each.get_help_record(ctx)
            rows = sections.setdefault(each.rich_help_panel or "Output", [])
            rows.append((typed if rows else typed.ljust(_WIDEST), says))
        for heading, rows in sections.items():
            with formatter.section(heading):
                formatter.write_dl(rows, col_max=_WIDEST)


class Menu(TyperGroup):
    """A group whose first page is in a table; ``of`` makes one.

    The types of typer's own parts are private to it, so they are ``Any`` here.
    """

    table: ClassVar[dict[str, tuple[str, str]]] = {}  # module and first-page line, by name

    @classmethod
    def of(cls, rows: Iterable[tuple[str, str, str]]) -> type[Self]:
        """Return the group of commands given by name, module and first-page line, in order."""
        table = {name: (module, line) for name, module, line in rows}
        return type(cls.__name__, (cls,), {"table": table})

    def list_commands(self, ctx: Any) -> list[str]:
        """Return the names, in the order of the table."""
        return list(self.table)

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        """Build one command; None when there is none of that name."""
        if cmd_name not in self.table:
            return None
        module, line = self.table[cmd_name]
        definition = getattr(import_module(f"gaugelink.cli.{module}"), cmd_name)
        alone = typer.Typer(add_completion=False, rich_markup_mode=None)
        alone.command(cmd_name, short_help=line, cls=Sorted)(definition)
        return typer.main.get_command(alone)

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """Write the table."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, line) for name, (_, line) in self.table.items()])


# Name, the module that defines it, what the first page says of it.
COMMANDS = (
    ("gauges", "gauges", "List what is plugged in, and the known formats."),
    ("listen", "listen", "Show what a gauge sends, byte for byte, and what it means."),
    ("measure", "measure", "Measure hands-free and keep every reading in a job."),
    ("check", "check", "Check a gauge on known lengths, and record the result."),
    ("size", "size", "Turn a job, or typed values, into spring dimensions."),
    ("stock", "stock", "List the springs on hand, read a list, or take one out."),
    ("choose", "choose", "Rank the springs on hand for a job, or typed values."),
    ("jobs", "jobs", "List the jobs, or show one with all its readings."),
    ("report", "report", "Write the page of a job, to read, print and keep."),
    ("demo", "demo", "Run the whole job on recorded bytes: no gauge needed."),
)
app = typer.Typer(
    cls=Menu.of(COMMANDS),
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    epilog="Exit codes: 0 done, 1 other error, 2 something typed is wrong, 3 gauge or port, "
    "4 a file, 5 readings, 6 dimensions, 7 journal, 130 stopped with Ctrl-C.",
)


def _show_version(wanted: bool) -> None:
    if wanted:
        from gaugelink import __version__
        from gaugelink.cli.output import emit

        emit(f"gaugelink {__version__}")
        raise typer.Exit


@app.callback()
def gaugelink(
    version: Annotated[
        bool,
        typer.Option(
            "--version", help="Show the version and exit.", callback=_show_version, is_eager=True
        ),
    ] = False,
) -> None:
    """Measure a watch barrel hands-free and size its mainspring, with stated uncertainty."""
