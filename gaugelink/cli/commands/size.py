"""Signature and help of ``size``."""

from __future__ import annotations

from typing import Annotated

import typer

from gaugelink.cli.options import (
    Arbor,
    Bore,
    Clearance,
    Coverage,
    Depth,
    DepthFrom,
    Documented,
    Draws,
    FoundHeight,
    FoundLength,
    FoundThickness,
    HoursPerTurn,
    Job,
    Journal,
    Json,
    Lid,
    Recess,
    Seed,
)


def size(
    job: Job = None,
    bore: Bore = None,
    depth: Depth = None,
    depth_from: DepthFrom = None,
    lid: Lid = None,
    recess: Recess = None,
    arbor: Arbor = None,
    clearance: Clearance = "0.1",
    found_thickness: FoundThickness = None,
    found_height: FoundHeight = None,
    found_length: FoundLength = None,
    documented: Documented = None,
    hours_per_turn: HoursPerTurn = None,
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
    from gaugelink.cli.barrel import BarrelOptions
    from gaugelink.cli.size import SizeOptions, run
    from gaugelink.model import DepthReference

    run(
        SizeOptions(
            barrel=BarrelOptions(
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
                journal=journal,
            ),
            coverage=coverage,
            seed=seed,
            draws=draws,
        ),
        as_json=json,
    )
