"""Signature and help of ``jobs``."""

from __future__ import annotations

from typing import Annotated

import typer

from gaugelink.cli.options import Journal, Json


def jobs(
    job: Annotated[int | None, typer.Argument(help="Show this job; list all if not given.")] = None,
    search: Annotated[str, typer.Option(help="List only jobs whose title holds this text.")] = "",
    events: Annotated[
        bool,
        typer.Option("--events", help="With a job: every event, byte for byte, as JSON lines."),
    ] = False,
    journal: Journal = None,
    json: Json = False,
) -> None:
    """List the jobs, or show one with its readings and what was rejected and why."""
    from gaugelink.cli.jobs import run

    run(job, search=search, events=events, journal=journal, as_json=json)
