"""Signature and help of ``choose``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from gaugelink.cli import options as o
from gaugelink.cli.options import Typed, told_of_barrel


@told_of_barrel
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
    *,
    typed: Typed,
    coverage: o.Coverage = 0.95,
    seed: o.Seed = 1,
    draws: o.Draws = 8_000,
    json: o.Json = False,
) -> None:
    """Rank the springs on hand for a job, or typed values, and say how sure the first place is.

    Torque is compared with the documented size, or with the found spring where that is healthy,
    or with the half-area rule. What cannot be fitted is refused with its reason. An amplitude
    that is wished for is compared with what each spring gives, and moves none of them.
    """
    from gaugelink.choosing.springs import Grade
    from gaugelink.cli.barrel import barrel_typed
    from gaugelink.cli.choose import ChooseOptions, run

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
