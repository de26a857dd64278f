"""The commands of a program, each built when it is called: building all takes longer than most."""

from __future__ import annotations

from collections.abc import Iterable
from importlib import import_module
from typing import Any, ClassVar, Self

import typer
from typer.core import TyperGroup

DEFINITIONS = "gaugelink.cli.commands"


class Menu(TyperGroup):
    """A group whose first page stands in a table; ``of`` makes one.

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
        definition = getattr(import_module(f"{DEFINITIONS}.{module}"), cmd_name)
        alone = typer.Typer(add_completion=False, rich_markup_mode=None)
        alone.command(cmd_name, short_help=line)(definition)
        return typer.main.get_command(alone)

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """Write the table."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, line) for name, (_, line) in self.table.items()])
