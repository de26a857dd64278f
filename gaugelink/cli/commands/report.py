"""Signature and help of ``report``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from gaugelink.cli import options as o


def report(
    job: Annotated[int, typer.Argument(help="Number of a measured job.")],
    out: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE", help="Where to write the page; here, by its number, if not given."
        ),
    ] = None,
    force: Annotated[
        bool, typer.Option("--force", help="Replace a file that is not an earlier page.")
    ] = False,
    pdf: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Also print it to a PDF, with a browser installed here."),
    ] = None,
    paper: Annotated[
        Literal["a4", "letter"] | None, typer.Option(help="Paper of the PDF; A4 if not given.")
    ] = None,
    text: Annotated[
        bool, typer.Option("--text", help="Write it as text to stdout, and no file.")
    ] = False,
    stock: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="A list of springs, instead of the stock that is kept."),
    ] = None,
    sheet: Annotated[
        str | None, typer.Option(metavar="NAME", help="Sheet of the .xlsx file; else the first.")
    ] = None,
    found_healthy: Annotated[
        bool,
        typer.Option(
            "--found-healthy", help="The found spring is the right one: compare torque with it."
        ),
    ] = False,
    bore: o.Bore = None,
    depth: o.Depth = None,
    depth_from: o.DepthFrom = None,
    lid: o.Lid = None,
    recess: o.Recess = None,
    arbor: o.Arbor = None,
    clearance: o.Clearance = "0.1",
    found_thickness: o.FoundThickness = None,
    found_height: o.FoundHeight = None,
    found_length: o.FoundLength = None,
    found_mass: o.FoundMass = None,
    found_coils: o.FoundCoils = None,
    found_band_inside: o.FoundBandInside = None,
    found_core: o.FoundCore = None,
    found_wound_outside: o.FoundWoundOutside = None,
    found_core_coils: o.FoundCoreCoils = None,
    found_free_diameter: o.FoundFreeDiameter = None,
    found_loose_coils: o.FoundLooseCoils = None,
    found_thickness_spread: o.FoundThicknessSpread = None,
    documented: o.Documented = None,
    material: o.Material = None,
    end: o.End = None,
    length_without_end: o.LengthWithoutEnd = False,
    barrel: o.Barrel = None,
    winding: o.Winding = None,
    stopwork: o.Stopwork = None,
    hours_per_turn: o.HoursPerTurn = None,
    train: o.Train = None,
    train_from: o.TrainFrom = None,
    last_turn_h: o.LastTurnH = None,
    winding_train: o.WindingTrain = None,
    amplitude: o.Amplitude = None,
    position: o.Position = None,
    wind: o.Wind = None,
    wished_amplitude: o.WishedAmplitude = None,
    outliers: o.Outliers = "grubbs",
    coverage: o.Coverage = 0.95,
    seed: o.Seed = 1,
    draws: o.Draws = 200_000,
    journal: o.Journal = None,
    json: o.Json = False,
) -> None:
    """Write the page of a job: one file of HTML that needs no network, prints and reads anywhere.

    It holds the recommendation and how sure it is, the barrel and its spring to scale, every
    reading, the rules, the torque, the stock choices, and what to check after fitting.
    """
    typed = locals()  # before anything else is bound: the parameters, and only they
    from gaugelink.cli.report import ReportOptions, run
    from gaugelink.cli.report_content import ContentOptions
    from gaugelink.cli.typed import barrel_typed

    content = ContentOptions(
        job=job,
        barrel=barrel_typed(typed),
        stock=stock,
        sheet=sheet,
        found_healthy=found_healthy,
        coverage=coverage,
        seed=seed,
        draws=draws,
    )
    options = ReportOptions(
        content=content,
        out=out,
        force=force,
        pdf=pdf,
        paper=paper,
        text=text,
    )
    run(options, as_json=json)
