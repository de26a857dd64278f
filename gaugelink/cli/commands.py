"""What may be typed after the commands that need no barrel, in the order of the work.

Each passes on to the module of its name, which is imported only then: help loads this one alone.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from gaugelink.cli.options import Formats, Journal, Json


def gauges(
    udev: Annotated[
        bool,
        typer.Option("--udev", help="Print the Linux rule file that permits the HID gauges."),
    ] = False,
    forget: Annotated[
        str | None,
        typer.Option(metavar="IDENTITY", help="Forget how the gauge IDENTITY is read."),
    ] = None,
    journal: Journal = None,
    json: Json = False,
    formats: Formats = None,
) -> None:
    """List what is plugged in, the addresses to use, the remembered gauges and the formats."""
    from gaugelink.cli.gauges import run, run_forget, run_udev

    if udev:
        run_udev()
    elif forget is not None:
        run_forget(forget, journal=journal)
    else:
        run(as_json=json, folders=formats or [], journal=journal)


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


def stock(
    file: Annotated[
        Path | None,
        typer.Argument(help="A list of springs, CSV or .xlsx, that takes the place of the stock."),
    ] = None,
    add: Annotated[
        bool, typer.Option("--add", help="Add the list to the stock, as a delivery.")
    ] = False,
    skip_faulty: Annotated[
        bool, typer.Option("--skip-faulty", help="Leave out rows that cannot be used.")
    ] = False,
    sheet: Annotated[
        str | None, typer.Option(metavar="NAME", help="Sheet of the .xlsx file; else the first.")
    ] = None,
    demo: Annotated[
        bool, typer.Option("--demo", help="Read an invented list instead of FILE.")
    ] = False,
    use: Annotated[str | None, typer.Option(metavar="ITEM", help="Take one of ITEM out.")] = None,
    return_: Annotated[
        str | None, typer.Option("--return", metavar="ITEM", help="Bring one of ITEM back.")
    ] = None,
    job: Annotated[int | None, typer.Option(help="The job that it is taken out for.")] = None,
    count: Annotated[int | None, typer.Option(help="How many of ITEM; 1 if not given.")] = None,
    height: Annotated[
        str | None, typer.Option(metavar="SIZE", help="List only about this height, or LOW..HIGH.")
    ] = None,
    thickness: Annotated[
        str | None,
        typer.Option(metavar="SIZE", help="List only about this thickness, or LOW..HIGH."),
    ] = None,
    length: Annotated[
        str | None, typer.Option(metavar="SIZE", help="List only about this length, or LOW..HIGH.")
    ] = None,
    low: Annotated[bool, typer.Option("--low", help="List only what is running out.")] = False,
    find: Annotated[
        str, typer.Option(metavar="TEXT", help="List only what holds TEXT in item, end or note.")
    ] = "",
    export: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write the stock to a new CSV file.")
    ] = None,
    journal: Journal = None,
    json: Json = False,
) -> None:
    """List the springs on hand, read a list of them, or take one out.

    Columns: item, height, thickness, length; and if you like height tolerance, thickness
    tolerance, length tolerance, end, material, on hand, reorder at, note. A unit stands in the
    heading, "thickness (1/100 mm)", or in the cell, "0.047 in"; without one it is mm.
    """
    from gaugelink.cli.stock import StockOptions, run

    run(
        StockOptions(
            file=file,
            add=add,
            skip_faulty=skip_faulty,
            sheet=sheet,
            demo=demo,
            use=use,
            give_back=return_,
            job=job,
            count=count,
            sizes={"height": height, "thickness": thickness, "length": length},
            low=low,
            find=find,
            export=export,
            journal=journal,
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


def demo(
    pace: Annotated[float, typer.Option(help="How many times faster than the bench.")] = 20.0,
    journal: Journal = None,
    json: Json = False,
) -> None:
    """Run the whole main job on recorded bytes of an invented bench: no gauge needed."""
    from gaugelink.cli.demo import run

    run(pace=pace, journal=journal, as_json=json)
