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
