"""The commands, in the order of the work; their signatures stand in ``commands``."""

from __future__ import annotations

import typer

from gaugelink.cli.menu import Menu

# Name, the module that defines it in ``commands``, what the first page says of it.
COMMANDS = (
    ("gauges", "gauge", "List what is plugged in, and the known formats."),
    ("listen", "gauge", "Show what a gauge sends, byte for byte, and what it means."),
    ("measure", "measure", "Measure hands-free and keep every reading in a job."),
    ("check", "gauge", "Check a gauge on known lengths, and keep its record."),
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
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    epilog="Exit codes: 0 done, 1 other error, 2 something typed is wrong, 3 gauge or port, "
    "4 a file, 5 readings, 6 dimensions, 7 journal, 130 stopped with Ctrl-C.",
)


@app.callback()
def gaugelink() -> None:
    """Measure a watch barrel hands-free and size its mainspring, with stated uncertainty."""
