"""Signature and help of ``measure``."""

from __future__ import annotations

from typing import Annotated, Literal

import typer

from gaugelink.cli.options import Formats, Journal, Json


def measure(
    addresses: Annotated[
        list[str] | None,
        typer.Argument(
            help="One gauge, or a caliper and a micrometer; if none is named, those that are "
            "remembered and plugged in."
        ),
    ] = None,
    title: Annotated[
        str, typer.Option(help="What the job is, such as the number on its bag.")
    ] = "",
    depth_from: Annotated[
        Literal["rim", "seat"] | None,
        typer.Option(help="What the depth is measured up to: rim of the barrel, or lid seat."),
    ] = None,
    with_: Annotated[
        list[str] | None,
        typer.Option("--with", metavar="NAME", help="Also measure NAME: recess. Repeatable."),
    ] = None,
    without: Annotated[
        list[str] | None,
        typer.Option(
            metavar="NAME", help="Leave NAME out: arbor, lid, found_height ... Repeatable."
        ),
    ] = None,
    resume: Annotated[
        int | None,
        typer.Option(metavar="JOB", help="Continue job JOB; 0 is the latest open one."),
    ] = None,
    quiet: Annotated[bool, typer.Option("--quiet", help="No bell.")] = False,
    journal: Journal = None,
    json: Json = False,
    formats: Formats = None,
) -> None:
    """Walk through the measurements hands-free and keep every reading in a job.

    Close the jaws to begin. Close them twice to take the last reading back. Keys: u takes back,
    s skips, q stops; the job can be continued later with --resume.
    """
    from gaugelink.cli.measure import MeasureOptions, run
    from gaugelink.model import DepthReference

    run(
        addresses or [],
        MeasureOptions(
            title=title,
            depth_reference=DepthReference(depth_from) if depth_from else None,
            with_=tuple(with_ or ()),
            without=tuple(without or ()),
            resume=resume,
            quiet=quiet,
            journal=journal,
            folders=tuple(formats or ()),
        ),
        as_json=json,
    )
