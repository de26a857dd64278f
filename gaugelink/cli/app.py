"""The commands, in the order of the work; their signatures stand in ``commands``."""

from __future__ import annotations

import typer

from gaugelink.cli.commands import demo, gauge, jobs, measure, size

app = typer.Typer(
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help="Measure a watch barrel hands-free with a digital caliper and micrometer, and size its "
    "mainspring with stated uncertainty.",
    epilog="Exit codes: 0 done, 1 other error, 2 something typed is wrong, 3 gauge or port, "
    "4 a file, 5 readings, 6 dimensions, 7 journal.",
)

app.command(short_help="List what is plugged in, and the known formats.")(gauge.gauges)
app.command()(gauge.listen)
app.command(short_help="Measure hands-free and keep every reading in a job.")(measure.measure)
app.command(short_help="Check a gauge on known lengths, and keep its record.")(gauge.check)
app.command(short_help="Turn a job, or typed values, into spring dimensions.")(size.size)
app.command(short_help="List the jobs, or show one with all its readings.")(jobs.jobs)
app.command(short_help="Run the whole job on recorded bytes: no gauge needed.")(demo.demo)
