"""Signature and help of ``stock``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from gaugelink.cli.options import Journal, Json


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
