"""Signatures and help of all commands; the work is done in the module each one loads."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

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

Json = Annotated[bool, typer.Option("--json", help="Write JSON to stdout.")]
Journal = Annotated[
    Path | None,
    typer.Option("--journal", metavar="FILE", help="Keep jobs in FILE, not in the user folder."),
]
Formats = Annotated[
    list[Path] | None,
    typer.Option("--formats", metavar="FOLDER", help="A folder with more format profiles."),
]
Coverage = Annotated[float, typer.Option(help="Coverage probability of the intervals.")]
Seed = Annotated[int, typer.Option(help="Seed of the Monte Carlo draws.")]
Draws = Annotated[int, typer.Option(help="Number of Monte Carlo draws.")]


@app.command(short_help="List what is plugged in, and the known formats.")
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


@app.command()
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


@app.command(short_help="Measure hands-free and keep every reading in a job.")
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


@app.command(short_help="Check a gauge on known lengths, and keep its record.")
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


@app.command(short_help="Turn a job, or typed values, into spring dimensions.")
def size(
    job: Annotated[int | None, typer.Argument(help="Number of a measured job.")] = None,
    bore: Annotated[str | None, typer.Option(help="Inside diameter of the barrel.")] = None,
    depth: Annotated[str | None, typer.Option(help="Depth from the floor.")] = None,
    depth_from: Annotated[
        Literal["rim", "seat"] | None,
        typer.Option(help="What the depth goes up to; rim if not given."),
    ] = None,
    lid: Annotated[str | None, typer.Option(help="Lid thickness.")] = None,
    recess: Annotated[str | None, typer.Option(help="Hollow inside the lid.")] = None,
    arbor: Annotated[
        str | None, typer.Option(help="Arbor; a third of the bore if not given.")
    ] = None,
    clearance: Annotated[str, typer.Option(help="Play to leave above the spring.")] = "0.1",
    found_thickness: Annotated[
        str | None, typer.Option(help="Of the spring that was found.")
    ] = None,
    found_height: Annotated[str | None, typer.Option(help="Of the spring that was found.")] = None,
    found_length: Annotated[str | None, typer.Option(help="Of the spring that was found.")] = None,
    documented: Annotated[
        str | None, typer.Option(metavar="HxTxL", help='Documented size: "1.50 x 0.12 x 360".')
    ] = None,
    hours_per_turn: Annotated[
        str | None, typer.Option(help="Hours the watch runs on one turn of the barrel.")
    ] = None,
    wanted_turns: Annotated[
        str | None, typer.Option(help="Also give the thickness for so many turns.")
    ] = None,
    coverage: Coverage = 0.95,
    seed: Seed = 1,
    draws: Draws = 200_000,
    journal: Journal = None,
    json: Json = False,
) -> None:
    """Turn a job, or typed values, into spring dimensions with their uncertainty.

    A value is 11.02, "11.02 +- 0.03", "0.433 in" or "11.02 +- 0.03 mm"; what follows +- is a
    standard uncertainty. A typed value takes the place of a measured one.
    """
    from gaugelink.cli.size import SizeOptions, run
    from gaugelink.model import DepthReference

    run(
        SizeOptions(
            job=job,
            lengths={
                "bore": bore,
                "depth": depth,
                "lid": lid,
                "recess": recess,
                "arbor": arbor,
                "clearance": clearance,
                "found_thickness": found_thickness,
                "found_height": found_height,
                "found_length": found_length,
            },
            depth_reference=DepthReference(depth_from) if depth_from else None,
            documented=documented,
            hours_per_turn=hours_per_turn,
            wanted_turns=wanted_turns,
            coverage=coverage,
            seed=seed,
            draws=draws,
            journal=journal,
        ),
        as_json=json,
    )


@app.command(short_help="List the jobs, or show one with all its readings.")
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


@app.command(short_help="Run the whole job on recorded bytes: no gauge needed.")
def demo(
    pace: Annotated[float, typer.Option(help="How many times faster than the bench.")] = 20.0,
    journal: Journal = None,
    json: Json = False,
) -> None:
    """Run the whole main job on recorded bytes of an invented bench: no gauge needed."""
    from gaugelink.cli.demo import run

    run(pace=pace, journal=journal, as_json=json)
