"""What may be typed after the commands that need no barrel, in the order of the work.

Each passes on to the module of its name, which is imported only then: help loads this one alone.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from gaugelink.cli.options import Formats, Journal, Json


def listen(
    address: Annotated[
        str, typer.Argument(help="Such as serial:PORT, serial:PORT?format=NAME, or sim:caliper")
    ],
    seconds: Annotated[
        float | None, typer.Option(help="Stop after so many seconds; else with Ctrl-C.")
    ] = None,
    record: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Also write the exchange to FILE, for replay:FILE."),
    ] = None,
    shows: Annotated[
        str | None,
        typer.Option(metavar="TEXT", help='What the display shows now, such as "12.34 mm".'),
    ] = None,
    identify: Annotated[
        bool, typer.Option("--identify", help="Find the format out, though one is remembered.")
    ] = False,
    journal: Journal = None,
    json: Json = False,
    formats: Formats = None,
) -> None:
    """Show what a gauge sends, byte for byte, and what it means.

    Without a format, find out which one the gauge sends, and remember it: exit code 0 when it is
    certain, 3 when nothing was heard or a question is left. Only read requests are ever sent.
    """
    from gaugelink.cli.listen import ListenOptions, run

    run(
        address,
        ListenOptions(
            seconds=seconds,
            record=record,
            shows=shows,
            identify=identify,
            journal=journal,
            folders=tuple(formats or ()),
        ),
        as_json=json,
    )


def check(
    address: Annotated[
        str | None, typer.Argument(help="The gauge; only --show does without one.")
    ] = None,
    length: Annotated[
        list[str] | None,
        typer.Option(
            metavar="LENGTH", help='A block or pin, such as "5.000 +- 0.0002 mm". Repeatable.'
        ),
    ] = None,
    readings: Annotated[int, typer.Option(help="Readings of each length.")] = 10,
    zeros: Annotated[int, typer.Option(help="Zero readings before them.")] = 5,
    tolerance: Annotated[
        str | None, typer.Option(metavar="MM", help="Tolerance for Cg and Cgk, from end to end.")
    ] = None,
    set_: Annotated[
        list[str] | None,
        typer.Option(
            "--set",
            metavar="NAME=VALUE",
            help="Put into its record: mpe_mm, shift_mpe_mm, mpe_source, resolution_mm, "
            "jaw_flats_mm, anvils, interval_days, certificate. Repeatable.",
        ),
    ] = None,
    point: Annotated[
        list[str] | None,
        typer.Option(
            metavar='"SIZE CORR U K"', help="A point of its certificate, in mm. Repeatable."
        ),
    ] = None,
    show: Annotated[bool, typer.Option("--show", help="Show its record; all without ADDRESS.")] = (
        False
    ),
    quiet: Annotated[bool, typer.Option("--quiet", help="No bell.")] = False,
    journal: Journal = None,
    json: Json = False,
    formats: Formats = None,
) -> None:
    """Check a gauge on known lengths, and keep its record: limits, certificate, jaw flats.

    Zero and lengths are read hands-free, as in a job. A correction is what to add to the
    reading, U what the certificate states with K. A gauge that fails ends with exit code 3.
    """
    from gaugelink.cli.check import CheckOptions, run

    run(
        CheckOptions(
            address=address,
            lengths=tuple(length or ()),
            readings=readings,
            zeros=zeros,
            tolerance_mm=tolerance,
            settings=tuple(set_ or ()),
            points=tuple(point or ()),
            show=show,
            quiet=quiet,
            journal=journal,
            folders=tuple(formats or ()),
        ),
        as_json=json,
    )


def jobs(
    job: Annotated[
        list[int] | None,
        typer.Argument(help="Show this job; several for --export; list all if not given."),
    ] = None,
    search: Annotated[
        str, typer.Option(metavar="TEXT", help="List jobs with TEXT in title, date or notes.")
    ] = "",
    bore: Annotated[str | None, typer.Option(help="List jobs with this bore.")] = None,
    height: Annotated[
        str | None, typer.Option(help="List jobs with this height, available or of a spring.")
    ] = None,
    size: Annotated[
        str | None, typer.Option(metavar="HxTxL", help="List jobs with this spring.")
    ] = None,
    first: Annotated[
        str, typer.Option("--from", metavar="DATE", help="List jobs begun then or later, UTC.")
    ] = "",
    last: Annotated[
        str, typer.Option("--to", metavar="DATE", help="List jobs begun then or before, UTC.")
    ] = "",
    like: Annotated[
        str | None,
        typer.Option(
            metavar="JOB", help='Barrels most like that of JOB, or like "bore=11.02 arbor=3.67".'
        ),
    ] = None,
    movement: Annotated[str | None, typer.Option(help="Keep what the movement is.")] = None,
    reference: Annotated[
        str | None, typer.Option(help="Keep whose it is, or its number on the bench.")
    ] = None,
    train: Annotated[
        str | None,
        typer.Option(help='Keep the train: "90/12 hours_per_turn=7.5".'),
    ] = None,
    photo: Annotated[
        list[str] | None, typer.Option(metavar="FILE", help="Keep where a picture is. Repeatable.")
    ] = None,
    note: Annotated[list[str] | None, typer.Option(help="Keep a note. Repeatable.")] = None,
    chosen: Annotated[
        str | None,
        typer.Option(
            metavar="ITEM",
            help="Keep which spring is fitted; what is foreseen comes from the latest ranking, or "
            'is typed: "A17 size=1.20x0.12x380 turns=6.1 hours=38..44 torque_ratio=1".',
        ),
    ] = None,
    after: Annotated[
        str | None,
        typer.Option(
            metavar="FIGURES",
            help='Keep what is seen: "crown_turns=28 hours=41 amplitude=265@vertical,wound '
            'amplitude=240@vertical,24h noise=none".',
        ),
    ] = None,
    predictions: Annotated[
        bool, typer.Option("--predictions", help="How what was seen compares with the foreseen.")
    ] = False,
    events: Annotated[
        bool, typer.Option("--events", help="Every event of the job, byte for byte, in JSON lines.")
    ] = False,
    export: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write to FILE.json, or FILE.csv.")
    ] = None,
    import_: Annotated[
        Path | None, typer.Option("--import", metavar="FILE", help="Add jobs of FILE.json.")
    ] = None,
    backup: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Copy the journal to FILE, checked.")
    ] = None,
    restore: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Put a backup in its place; what is there is kept."),
    ] = None,
    rescue: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Copy what can be read of a damaged journal to FILE."),
    ] = None,
    reindex: Annotated[
        bool, typer.Option("--reindex", help="Make the sizes jobs are found by afresh.")
    ] = False,
    journal: Journal = None,
    json: Json = False,
) -> None:
    """List and find jobs, show or complete one, and move jobs in and out of files.

    A job is shown with its readings, what was rejected and why, and what was written down.
    An amplitude may say how the movement lay and how far it was wound, such as @dial-up,24h.
    """
    from gaugelink.cli.jobs import JobsOptions, run
    from gaugelink.cli.jobs_facts import FactOptions
    from gaugelink.cli.jobs_files import FileOptions
    from gaugelink.cli.jobs_search import SearchOptions

    run(
        JobsOptions(
            jobs=tuple(job or ()),
            search=SearchOptions(
                text=search, bore=bore, height=height, size=size, first=first, last=last
            ),
            facts=FactOptions(
                movement=movement,
                reference=reference,
                train=train,
                photographs=tuple(photo or ()),
                notes=tuple(note or ()),
                chosen=chosen,
                after=after,
            ),
            files=FileOptions(
                export=export, import_=import_, backup=backup, restore=restore, rescue=rescue
            ),
            like=like,
            events=events,
            predictions=predictions,
            reindex=reindex,
            journal=journal,
        ),
        as_json=json,
    )
