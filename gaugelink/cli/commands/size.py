"""Signature and help of ``size``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from gaugelink.cli import options as o
from gaugelink.cli.options import Typed, told_of_barrel


@told_of_barrel
def size(
    job: o.Job = None,
    *,
    typed: Typed,
    wanted_turns: Annotated[
        str | None, typer.Option(help="Also give the thickness for so many turns.")
    ] = None,
    coverage: o.Coverage = 0.95,
    seed: o.Seed = 1,
    draws: o.Draws = 200_000,
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
    from gaugelink.cli.barrel import barrel_typed
    from gaugelink.cli.size import SizeOptions, run

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
