"""Signature and help of ``report``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from gaugelink.cli import options as o


@o.told_of_barrel
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
    found_healthy: o.FoundHealthy = False,
    stock: o.StockList = None,
    sheet: o.Sheet = None,
    *,
    typed: o.Typed,
    outliers: o.Outliers = "grubbs",
    coverage: o.Coverage = 0.95,
    seed: o.Seed = 1,
    draws: o.Draws = 200_000,
    journal: o.Journal = None,
    json: o.Json = False,
) -> None:
    """Write the page of a job: one file of HTML that needs no network, prints and reads anywhere.

    It holds the recommendation and how sure it is, the barrel and its spring to scale, every
    reading, the rules, the torque, the stock choices, and what to check after fitting. Where
    nothing of the barrel is typed, it is what was typed when the job was last sized or chosen for.
    """
    from gaugelink.cli.report import ContentOptions, ReportOptions, run
    from gaugelink.statistics.outlier_method import OutlierMethod

    content = ContentOptions(
        job=job,
        typed=typed,
        outliers=OutlierMethod(outliers),
        journal=journal,
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
