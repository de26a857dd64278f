"""Options that several commands share.

What every sizing command can be told of a barrel, its spring and its watch, stated once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from functools import wraps
from inspect import Parameter, Signature, signature
from pathlib import Path
from typing import Annotated, Any, Literal

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
Material = Annotated[
    str | None,
    typer.Option(
        metavar="NAME",
        help="What the springs are of: white, an alloy by name; open where nobody knows.",
    ),
]
End = Annotated[
    str | None,
    typer.Option(
        metavar="NAME",
        help="Outer end: hole, hook, tongue, t-end, brace or slipping-bridle.",
    ),
]
LengthWithoutEnd = Annotated[
    bool,
    typer.Option(
        "--length-without-end", help="Given lengths do not count what the outer end takes."
    ),
]
Barrel = Annotated[
    Literal["going", "motor", "fusee", "twin"] | None,
    typer.Option(help="Kind of barrel; going if not given."),
]
Winding = Annotated[
    Literal["hand", "automatic"] | None,
    typer.Option(help="How the watch is wound; by hand if not given."),
]
Stopwork = Annotated[
    str | None,
    typer.Option(metavar='"TURNS SET_UP"', help='Turns it allows, and of set-up: "4 1".'),
]
Train = Annotated[
    str | None,
    typer.Option(
        metavar='"WHEEL/PINION ..."', help='Teeth from the barrel to the centre: "90/12".'
    ),
]
TrainFrom = Annotated[
    Literal["barrel", "arbor"] | None,
    typer.Option(help="Where the first wheel of --train sits; on the barrel if not given."),
]
LastTurnH = Annotated[
    str | None,
    typer.Option(help="Hours in which the last pinion of --train turns once; 1 for the centre."),
]
WindingTrain = Annotated[
    str | None,
    typer.Option(
        metavar='"WHEEL/PINION ..."',
        help='Teeth from the ratchet back to the winding pinion: "54/36 36/16".',
    ),
]
Amplitude = Annotated[
    str | None, typer.Option(help="Degrees of swing measured with the found spring.")
]
Position = Annotated[
    Literal["horizontal", "vertical"] | None,
    typer.Option(help="How the watch lay; horizontal if not given."),
]
Wind = Annotated[
    Literal["full", "24h"] | None,
    typer.Option(help="How long after full wind it was measured; full if not given."),
]
WishedAmplitude = Annotated[
    str | None, typer.Option(help="Degrees of swing wished for, in the same state.")
]
FoundMass = Annotated[str | None, typer.Option(help='Of the bare spring: "497 +- 1 mg".')]
FoundCoils = Annotated[str | None, typer.Option(help="Coils that lie on the barrel wall.")]
FoundBandInside = Annotated[
    str | None, typer.Option(help="Clear diameter inside the coils on the wall.")
]
FoundCore = Annotated[str | None, typer.Option(help="Diameter of the core of a winder.")]
FoundWoundOutside = Annotated[
    str | None, typer.Option(help="Outside diameter of the coils on that core.")
]
FoundCoreCoils = Annotated[str | None, typer.Option(help="Coils on that core.")]
FoundFreeDiameter = Annotated[
    str | None, typer.Option(help="Of the found spring laid flat and free.")
]
FoundLooseCoils = Annotated[
    str | None, typer.Option(help="Inner coils that were loose in the opened barrel.")
]
FoundThicknessSpread = Annotated[
    str | None, typer.Option(help="Largest less smallest thickness along the found spring.")
]
Draw = Annotated[
    bool, typer.Option("--draw", help="Draw barrel and torque below the text; usual at a terminal.")
]
NoDraw = Annotated[bool, typer.Option("--no-draw", help="Draw nothing, not at a terminal either.")]
SvgFile = Annotated[
    Path | None,
    typer.Option("--svg", metavar="FILE", help="Draw barrel and torque into FILE."),
]
Outliers = Annotated[
    Literal["grubbs", "dixon", "esd", "none"],
    typer.Option(help="Test for outlying readings of a job; none rejects nothing."),
]
Typed = Mapping[str, Any]  # all parameters of a command by name


def _shared(
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
    found_mass: FoundMass = None,
    found_coils: FoundCoils = None,
    found_band_inside: FoundBandInside = None,
    found_core: FoundCore = None,
    found_wound_outside: FoundWoundOutside = None,
    found_core_coils: FoundCoreCoils = None,
    found_free_diameter: FoundFreeDiameter = None,
    found_loose_coils: FoundLooseCoils = None,
    found_thickness_spread: FoundThicknessSpread = None,
    documented: Documented = None,
    material: Material = None,
    end: End = None,
    length_without_end: LengthWithoutEnd = False,
    barrel: Barrel = None,
    winding: Winding = None,
    stopwork: Stopwork = None,
    hours_per_turn: HoursPerTurn = None,
    train: Train = None,
    train_from: TrainFrom = None,
    last_turn_h: LastTurnH = None,
    winding_train: WindingTrain = None,
    amplitude: Amplitude = None,
    position: Position = None,
    wind: Wind = None,
    wished_amplitude: WishedAmplitude = None,
    outliers: Outliers = "grubbs",
    journal: Journal = None,
) -> None:
    """Hold the parameters; it is never called."""


def told_of_barrel(command: Callable[..., None]) -> Callable[..., None]:
    """Put the shared parameters where a command has its parameter ``typed``.

    The command gets all of its parameters, by name, as ``typed``, and its own ones as they stand.
    """
    own = _parameters(command)
    merged = list(_merged(own))

    @wraps(command)
    def told(**typed: Any) -> None:
        command(**{name: typed[name] for name in own if name != "typed"}, typed=typed)

    told.__annotations__ = {each.name: each.annotation for each in merged}
    told.__signature__ = Signature(merged)  # type: ignore[attr-defined]  # what typer reads
    return told


def _merged(own: Mapping[str, Parameter]) -> Iterator[Parameter]:
    for name, parameter in own.items():
        each = _parameters(_shared).values() if name == "typed" else (parameter,)
        yield from (one.replace(kind=Parameter.KEYWORD_ONLY) for one in each)


def _parameters(function: Callable[..., None]) -> Mapping[str, Parameter]:
    return signature(function, eval_str=True).parameters
