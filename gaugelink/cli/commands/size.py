"""Signature and help of ``size``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from gaugelink.cli import options as o


def size(
    job: o.Job = None,
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
    wanted_turns: Annotated[
        str | None, typer.Option(help="Also give the thickness for so many turns.")
    ] = None,
    outliers: o.Outliers = "grubbs",
    coverage: o.Coverage = 0.95,
    seed: o.Seed = 1,
    draws: o.Draws = 200_000,
    journal: o.Journal = None,
    draw: o.Draw = False,
    no_draw: o.NoDraw = False,
    svg: o.SvgFile = None,
    dsi: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Write the result to FILE as D-SI XML, too."),
    ] = None,
    json: o.Json = False,
) -> None:
    """Turn a job, or typed values, into spring dimensions with their uncertainty.

    A value is 11.02, "11.02 +- 0.03", "0.433 in" or "11.02 +- 0.03 mm"; what follows +- is a
    standard uncertainty. A typed value takes the place of a measured one.
    """
    typed = locals()  # before anything else is bound: the parameters, and only they
    from gaugelink.cli.size import SizeOptions, run
    from gaugelink.cli.typed import barrel_typed

    options = SizeOptions(
        barrel=barrel_typed(typed),
        coverage=coverage,
        seed=seed,
        draws=draws,
        draw=False if no_draw else draw or None,
        svg=svg,
        dsi=dsi,
    )
    run(options, as_json=json)
