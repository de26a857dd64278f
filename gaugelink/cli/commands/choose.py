"""Signature and help of ``choose``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from gaugelink.cli import options as o


def choose(
    job: o.Job = None,
    stock: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="A list of springs, instead of the stock that is kept."),
    ] = None,
    sheet: Annotated[
        str | None, typer.Option(metavar="NAME", help="Sheet of the .xlsx file; else the first.")
    ] = None,
    show: Annotated[int, typer.Option(metavar="N", help="How many springs to list.")] = 8,
    found_healthy: Annotated[
        bool,
        typer.Option(
            "--found-healthy", help="The found spring is the right one: compare torque with it."
        ),
    ] = False,
    strip: Annotated[
        Literal["normal", "fine", "precision", "watch"],
        typer.Option(help="How closely strip is rolled where the stock states no tolerance."),
    ] = "precision",
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
    amplitude: o.Amplitude = None,
    position: o.Position = None,
    wind: o.Wind = None,
    outliers: o.Outliers = "grubbs",
    coverage: o.Coverage = 0.95,
    seed: o.Seed = 1,
    draws: o.Draws = 8_000,
    journal: o.Journal = None,
    json: o.Json = False,
) -> None:
    """Rank the springs on hand for a job, or typed values, and say how sure the first place is.

    Torque is compared with the documented size, or with the found spring where that is healthy,
    or with the half-area rule. What cannot be fitted is refused with its reason.
    """
    typed = locals()  # before anything else is bound: the parameters, and only they
    from gaugelink.choosing.strip import Grade
    from gaugelink.cli.choose import ChooseOptions, run
    from gaugelink.cli.typed import barrel_typed

    options = ChooseOptions(
        barrel=barrel_typed(typed),
        stock=stock,
        sheet=sheet,
        found_healthy=found_healthy,
        strip=Grade(strip),
        show=show,
        coverage=coverage,
        seed=seed,
        draws=draws,
    )
    run(options, as_json=json)
