"""Options that several commands share."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

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

Job = Annotated[int | None, typer.Argument(help="Number of a measured job.")]
Bore = Annotated[str | None, typer.Option(help="Inside diameter of the barrel.")]
Depth = Annotated[str | None, typer.Option(help="Depth from the floor.")]
DepthFrom = Annotated[
    Literal["rim", "seat"] | None,
    typer.Option(help="What the depth goes up to; rim if not given."),
]
Lid = Annotated[str | None, typer.Option(help="Lid thickness.")]
Recess = Annotated[str | None, typer.Option(help="Hollow inside the lid.")]
Arbor = Annotated[str | None, typer.Option(help="Arbor; a third of the bore if not given.")]
Clearance = Annotated[str, typer.Option(help="Play to leave above the spring.")]
FoundThickness = Annotated[str | None, typer.Option(help="Of the spring that was found.")]
FoundHeight = Annotated[str | None, typer.Option(help="Of the spring that was found.")]
FoundLength = Annotated[str | None, typer.Option(help="Of the spring that was found.")]
Documented = Annotated[
    str | None, typer.Option(metavar="HxTxL", help='Documented size: "1.50 x 0.12 x 360".')
]
HoursPerTurn = Annotated[
    str | None, typer.Option(help="Hours the watch runs on one turn of the barrel.")
]
